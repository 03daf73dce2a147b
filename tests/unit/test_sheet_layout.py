"""Records of a laid-out blank."""

import math

import numpy as np
import pytest

from scalegen.model import Corner
from scalegen.sheet.layout import PadBox, Placement, SheetLayout, pair_count


def placement(label: str = "1L", angle_rad: float = 0.0) -> Placement:
    """A scale at (10, 20)."""
    return Placement(
        label=label,
        pattern="wren",
        side="left" if label.endswith("L") else "right",
        x_mm=10.0,
        y_mm=20.0,
        angle_rad=angle_rad,
    )


def layout(origin: Corner = "lower-left", *placements: Placement) -> SheetLayout:
    """A blank of 300 x 100 mm."""
    return SheetLayout(
        name="sheet-1",
        length_mm=300.0,
        width_mm=100.0,
        margin_mm=3.0,
        spacing_mm=4.5,
        pad=PadBox(x_mm=3.0, y_mm=3.0, w_mm=20.0, h_mm=20.0),
        origin=origin,
        placements=placements,
    )


@pytest.mark.parametrize(
    ("angle_deg", "expected"), [(0.0, (13.0, 21.0)), (90.0, (9.0, 23.0)), (180.0, (7.0, 19.0))]
)
def test_place_turns_counter_clockwise_then_moves(angle_deg: float, expected: tuple[float, float]) -> None:
    """The point (3, 1) lands where turning it on squared paper and moving by (10, 20) puts it."""
    placed = placement(angle_rad=math.radians(angle_deg)).place(np.array([[3.0, 1.0]]))
    assert placed[0] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("origin", "expected"),
    [
        ("lower-left", (50.0, 30.0)),
        ("lower-right", (-250.0, 30.0)),
        ("upper-left", (50.0, -70.0)),
        ("upper-right", (-250.0, -70.0)),
    ],
)
def test_origin_moves_the_zero_only(origin: Corner, expected: tuple[float, float]) -> None:
    """Another origin corner shifts coordinates and never mirrors them."""
    assert layout(origin).to_origin_frame(50.0, 30.0) == expected


def test_utilisation_is_footprints_over_blank() -> None:
    """Two scales of 1350 mm2 each on 300 x 100 mm use nine hundredths."""
    filled = layout("lower-left", placement("1L"), placement("1R"))
    assert filled.utilisation({filled.placements[0].pattern: 1350.0}) == pytest.approx(0.09)


def test_pairs_are_counted_over_all_blanks() -> None:
    """Two blanks with one pair each hold two pairs."""
    one = layout("lower-left", placement("1L"), placement("1R"))
    two = layout("lower-left", placement("2L"), placement("2R"))
    assert pair_count([one, two]) == 2
