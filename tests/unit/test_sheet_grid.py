"""Rows of boxes."""

from dataclasses import replace

import numpy as np
import pytest

from scalegen.model import Side
from scalegen.sheet.grid import Field, Shape, grid_spots

FIELD = Field(
    length_mm=100.0,
    width_mm=50.0,
    spacing_mm=2.0,
    pad_length_mm=10.0,
    pad_width_mm=5.0,
    pad_gap_mm=2.0,
    pad_right=False,
)


def shape(side: Side, length_mm: float, width_mm: float) -> Shape:
    """A box ready to be placed."""
    corners = np.array([[0.0, 0.0], [length_mm, 0.0], [length_mm, width_mm], [0.0, width_mm]])
    return Shape(side=side, bounds_mm=(0.0, 0.0, length_mm, width_mm), points_mm=corners)


def test_rows_run_to_and_fro() -> None:
    """The last box of a row and the first of the next stand one above the other."""
    spots = grid_spots(shape("left", 30.0, 10.0), shape("right", 30.0, 10.0), FIELD)
    assert [(spot.x_mm, spot.y_mm) for spot in spots[:4]] == [
        (32.0, 0.0),
        (64.0, 0.0),
        (64.0, 12.0),
        (32.0, 12.0),
    ]


def test_pad_at_the_right_leaves_the_left_alone() -> None:
    """The row beside the pad begins at the left edge and ends short of the pad."""
    spots = grid_spots(shape("left", 30.0, 10.0), shape("right", 30.0, 10.0), replace(FIELD, pad_right=True))
    assert [spot.x_mm for spot in spots if spot.y_mm == 0.0] == [0.0, 32.0]


def test_a_scale_without_a_partner_is_left_out() -> None:
    """Three slots hold one pair."""
    narrow = replace(FIELD, length_mm=30.0, width_mm=7.0 + 3 * 12.0, pad_length_mm=30.0)
    spots = grid_spots(shape("left", 30.0, 10.0), shape("right", 30.0, 10.0), narrow)
    assert [spot.side for spot in spots] == ["left", "right"]


@pytest.mark.parametrize(("length_mm", "width_mm"), [(101.0, 10.0), (30.0, 51.0)])
def test_no_room_is_no_spots(length_mm: float, width_mm: float) -> None:
    """A box longer or wider than the field finds no place."""
    assert grid_spots(shape("left", length_mm, width_mm), shape("right", length_mm, width_mm), FIELD) == ()
