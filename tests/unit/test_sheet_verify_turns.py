"""The second look at turns and mirror images finds what is planted."""

import math
from dataclasses import replace

import pytest

from scalegen.model import Side
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.sheet.verify_turns import mirror_faults, turn_faults

BLANK = SheetLayout(
    name="sheet-1",
    length_mm=300.0,
    width_mm=150.0,
    margin_mm=3.0,
    spacing_mm=4.0,
    pad=PadBox(x_mm=3.0, y_mm=3.0, w_mm=20.0, h_mm=20.0),
    origin="lower-left",
    placements=(),
)


def pair(left: tuple[float, float, float], right: tuple[float, float, float]) -> SheetLayout:
    """A blank with one pair: x, y and turn in degrees of each."""
    sides: tuple[tuple[Side, tuple[float, float, float]], ...] = (("left", left), ("right", right))
    places = tuple(
        Placement(
            label=f"1{side[0].upper()}",
            pattern="wren",
            side=side,
            x_mm=x,
            y_mm=y,
            angle_rad=math.radians(turn),
        )
        for side, (x, y, turn) in sides
    )
    return replace(BLANK, placements=places)


@pytest.mark.parametrize("turn", [0.0, 180.0, -180.0, 360.0, 540.0])
def test_allowed_turns_pass_however_they_are_counted(turn: float) -> None:
    """Full turns more or less are the same turn."""
    assert list(turn_faults([pair((50, 50, turn), (50, 80, 0))], (0.0, math.pi))) == []


def test_another_turn_is_named() -> None:
    """A scale off the grain by a thousandth of a degree is reported."""
    (fault,) = turn_faults([pair((50, 50, 0.001), (50, 80, 0))], (0.0, math.pi))
    assert "1L is turned by 0.001 degrees" in fault


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ((50, 50, 0), (50, 80, 0)),
        ((50, 50, 0), (200, 50, 180)),
        ((50, 50, 90), (20, 50, 90)),
        # Facing across a line at 30 degrees: the step between them is square to it.
        ((50, 50, 30), (50 - 30 * math.sin(math.radians(30)), 50 + 30 * math.cos(math.radians(30)), 30)),
    ],
)
def test_mirror_images_pass(left: tuple[float, float, float], right: tuple[float, float, float]) -> None:
    """Partners that face each other across a line along or across them are mirror images, by hand."""
    assert list(mirror_faults([pair(left, right)])) == []


@pytest.mark.parametrize(
    ("left", "right"),
    [((50, 50, 0), (50.001, 80, 0)), ((50, 50, 0), (200, 50.001, 180)), ((50, 50, 0), (50, 80, 90))],
)
def test_what_does_not_mirror_is_named(
    left: tuple[float, float, float], right: tuple[float, float, float]
) -> None:
    """A slide of a micron along the line, or a line askew, is reported."""
    assert list(mirror_faults([pair(left, right)])) == [
        "sheet-1: 1L and 1R are not mirror images of each other"
    ]
