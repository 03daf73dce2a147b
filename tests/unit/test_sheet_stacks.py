"""Rows of stacked pairs: what lies where, measured with shapely, and how partners lie."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from scalegen.sheet.grid import Field, Shape, Spot, grid_spots, lengthwise, stacked_spots

POINTS = np.array([[2, -7], [60, -9], [81, -4], [81, 5], [40, 11], [2, 8]], dtype=float)
LEFT = Shape(side="left", bounds_mm=(2, -9, 81, 11), points_mm=POINTS)
RIGHT = Shape(side="right", bounds_mm=(2, -11, 81, 9), points_mm=POINTS * [1.0, -1.0])
SHAPES = {"left": LEFT, "right": RIGHT}


def _field(width_mm: float, *, pad_right: bool = False) -> Field:
    return Field(
        length_mm=290.0,
        width_mm=width_mm,
        spacing_mm=4.5,
        pad_length_mm=20.0,
        pad_width_mm=20.0,
        pad_gap_mm=5.0,
        pad_right=pad_right,
    )


def _laid(spot: Spot) -> shapely.Polygon:
    shape = shapely.Polygon(SHAPES[spot.side].points_mm)
    return affinity.translate(shape, spot.x_mm, spot.y_mm)


@pytest.mark.parametrize("width", [60.0, 75.0, 100.0, 142.0])
@pytest.mark.parametrize("pad_right", [False, True])
def test_stacks_keep_their_distances(width: float, pad_right: bool) -> None:
    """All scales are on the field, the gap off the pad, the spacing off one another, by shapely's measure."""
    field = _field(width, pad_right=pad_right)
    pad = shapely.box(270, 0, 290, 20) if pad_right else shapely.box(0, 0, 20, 20)
    room = shapely.box(0, 0, field.length_mm, field.width_mm).buffer(1e-9)
    for spots in stacked_spots(LEFT, RIGHT, field):
        laid = [_laid(spot) for spot in spots]
        assert len(laid) >= 2
        assert [spot.side for spot in spots] == ["left", "right"] * (len(spots) // 2)
        assert all(room.covers(shape) and shape.distance(pad) >= 5.0 - 1e-9 for shape in laid)
        assert all(a.distance(b) >= 4.5 - 1e-9 for k, a in enumerate(laid) for b in laid[:k])


def test_partners_of_stacks_lie_beside_one_another() -> None:
    """Five rows of 20 at 24.5: two double rows of three pairs, and one pair lengthwise in the fifth."""
    _, top = stacked_spots(LEFT, RIGHT, _field(5 * 24.5 - 4.5))
    assert len(top) == 2 * 7
    assert lengthwise(top, LEFT, RIGHT) == 1
    beside = [
        shapely.box(*_laid(one).bounds).buffer(2.3).intersects(shapely.box(*_laid(other).bounds).buffer(2.3))
        and _laid(one).bounds[0] == pytest.approx(_laid(other).bounds[0])
        for one, other in zip(top[::2], top[1::2], strict=True)
    ]
    assert beside == [True] * 6 + [False]


def test_plain_rows_lie_lengthwise() -> None:
    """In rows to and fro partners follow one another, but at a turn, where one lies above the other."""
    field = _field(2 * 24.5 - 4.5)
    rows = grid_spots(LEFT, RIGHT, field)
    behind = sum(
        abs(_laid(one).centroid.x - _laid(other).centroid.x) > 40
        for one, other in zip(rows[::2], rows[1::2], strict=True)
    )
    assert lengthwise(rows, LEFT, RIGHT) == behind > 0
