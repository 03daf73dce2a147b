"""The smallest board: sound, short, and among several widths the one of least area."""

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from scalegen.errors import SheetError, UsageError
from scalegen.nest.records import Body, Part, Shape
from scalegen.nest.smallest import smallest_board

OUTLINE = np.array([[0, -5], [30, -8], [44, -9], [50, 0], [44, 8], [20, 6], [0, 5]], dtype=float)
SHAPE = Shape(key="L", points_mm=OUTLINE)


def _bodies(count: int | None = 4) -> list[Body]:
    return [Body(key="L", parts=(Part(shape="L"),), group="one", angles_rad=(0.0, math.pi), count=count)]


def test_everything_lies_on_the_board_that_is_found() -> None:
    """All parts are inside the rectangle and the spacing apart, and no proven limit is undercut."""
    best = smallest_board(
        _bodies(), shapes=[SHAPE], spacing_mm=3.0, width_mm=45.0, effort="quick", budget=400
    )
    parts = [
        affinity.translate(
            affinity.rotate(shapely.Polygon(OUTLINE), spot.angle_rad, origin=(0, 0), use_radians=True),
            spot.x_mm,
            spot.y_mm,
        )
        for spot in best.spots
    ]
    assert len(parts) == best.found == 4
    board = shapely.box(0, 0, best.length_mm, best.width_mm).buffer(1e-6)
    for k, part in enumerate(parts):
        assert board.covers(part)
        assert all(part.distance(other) >= 3.0 - 1e-6 for other in parts[:k])
    assert best.least_mm <= best.length_mm <= 2 * 50 + 3 + 1e-6  # two rows of two boxes


def test_of_several_widths_the_least_area_is_chosen() -> None:
    """A width that fits two rows beats one that leaves most of a row empty."""
    best = smallest_board(
        _bodies(), shapes=[SHAPE], spacing_mm=3.0, width_mm=[30.0, 37.1], effort="quick", budget=400
    )
    assert best.width_mm == 37.1


def test_a_body_wider_than_every_width_is_refused() -> None:
    """The error names the widest board that was tried."""
    with pytest.raises(SheetError, match=r"12\.0 mm wide"):
        smallest_board(_bodies(), shapes=[SHAPE], spacing_mm=3.0, width_mm=12.0)


def test_a_count_is_needed() -> None:
    """As many as go makes no sense without a board."""
    with pytest.raises(UsageError, match="how many"):
        smallest_board(_bodies(None), shapes=[SHAPE], spacing_mm=3.0, width_mm=40.0)
