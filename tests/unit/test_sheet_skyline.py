"""Letting true shapes down onto each other."""

from dataclasses import replace

import numpy as np
import pytest

from scalegen.model import Side
from scalegen.sheet.grid import Field, Shape
from scalegen.sheet.skyline import column_ends, skyline_spots


def shape(side: Side, points: list[list[float]]) -> Shape:
    """A polygon ready to be placed."""
    table = np.array(points)
    low, high = table.min(axis=0), table.max(axis=0)
    return Shape(side=side, bounds_mm=(low[0], low[1], high[0], high[1]), points_mm=table)


def field(length_mm: float, width_mm: float) -> Field:
    """A field without a pad."""
    return Field(
        length_mm=length_mm,
        width_mm=width_mm,
        spacing_mm=2.0,
        pad_length_mm=0.0,
        pad_width_mm=0.0,
        pad_gap_mm=0.0,
        pad_right=False,
    )


def test_columns_hold_the_ends_of_a_triangle() -> None:
    """In each column of a right triangle the highest point is at the column's higher border."""
    triangle = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 8.0], [0.0, 0.0]])
    low, high = column_ends(triangle, 0.0, 1.0, 4)
    assert low == pytest.approx([0.0, 0.0, 0.0, 0.0])
    assert high == pytest.approx([2.0, 4.0, 6.0, 8.0])


def test_columns_beside_the_shape_are_empty() -> None:
    """A column the outline does not reach has nothing lowest or highest."""
    square = np.array([[1.1, 0.0], [1.9, 0.0], [1.9, 1.0], [1.1, 1.0], [1.1, 0.0]])
    low, high = column_ends(square, -1.0, 1.0, 4)
    assert list(np.isfinite(low)) == [False, False, True, False]
    assert list(np.isfinite(high)) == [False, False, True, False]


def test_two_wedges_nest() -> None:
    """Two wedges 100 x 20 mm, one turned half round, go into the height of a parallelogram."""
    left = shape("left", [[0, 0], [100, -10], [100, 10]])
    right = shape("right", [[0, 0], [100, -10], [100, 10]])
    # Parallel long sides, 2 mm apart: 30 + 2 / cos(slope) = 32.01 mm, and up to 0.1 mm lost to the columns.
    (spots,) = skyline_spots(left, right, field(100.0, 32.2), most=5)
    assert [spot.side for spot in spots] == ["left", "right"]
    assert skyline_spots(left, right, field(100.0, 32.0), most=5) == ()


@pytest.mark.parametrize(("pad_right", "low_mm", "high_mm"), [(False, 13.0, 13.6), (True, 0.0, 0.6)])
def test_the_pad_pushes_scales_to_the_other_end(pad_right: bool, low_mm: float, high_mm: float) -> None:
    """Beside a pad 10 mm long and as high as the field, kept 3 mm free, boxes start where they must."""
    left = shape("left", [[0, 0], [100, 0], [100, 20], [0, 20]])
    right = shape("right", [[0, 0], [100, 0], [100, 20], [0, 20]])
    padded = replace(
        field(113.6, 42.0), pad_length_mm=10.0, pad_width_mm=42.0, pad_gap_mm=3.0, pad_right=pad_right
    )
    (spots,) = skyline_spots(left, right, padded, most=1)
    assert all(low_mm - 1e-9 <= spot.x_mm - 100.0 * spot.turned <= high_mm + 1e-9 for spot in spots)
    assert skyline_spots(left, right, replace(padded, length_mm=112.9), most=1) == ()


def test_too_small_a_field_holds_nothing() -> None:
    """Neither a field too short nor one too narrow takes a pair."""
    left = shape("left", [[0, 0], [100, 0], [100, 20]])
    right = shape("right", [[0, 0], [100, 0], [100, -20]])
    assert skyline_spots(left, right, field(99.0, 100.0), most=5) == ()
    assert skyline_spots(left, right, field(100.0, 21.0), most=5) == ()
