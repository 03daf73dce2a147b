"""The second look at a layout: it has to find every kind of mistake that is planted."""

import math
from dataclasses import replace

import pytest

from scalegen.model import Side
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.sheet.verify import verify

LEFT = Ring.from_rows([[0, -5, 0], [40, -5, 0.3], [40, 8, 0], [0, 5, 0]])
RIGHT = Ring.from_rows([[0, -5, 0], [40, -8, 0.3], [40, 5, 0], [0, 5, 0]])
SHAPES: dict[Side, Ring] = {"left": LEFT, "right": RIGHT}


def at(label: str, x_mm: float, y_mm: float, angle_rad: float = 0.0) -> Placement:
    """A scale of the side its label says."""
    side: Side = "left" if label.endswith("L") else "right"
    return Placement(label=label, pattern="wren", side=side, x_mm=x_mm, y_mm=y_mm, angle_rad=angle_rad)


GOOD = SheetLayout(
    name="sheet-1",
    length_mm=120.0,
    width_mm=60.0,
    margin_mm=3.0,
    spacing_mm=4.0,
    pad=PadBox(x_mm=3.0, y_mm=3.0, w_mm=20.0, h_mm=20.0),
    origin="lower-left",
    placements=(at("1L", 27.0, 8.0), at("1R", 27.0, 28.0)),
)


def look(layout: SheetLayout, shapes: dict[Side, Ring] = SHAPES, pairs: int | None = 1) -> str:
    """All faults of one blank."""
    return "\n".join(verify([layout], shapes, spacing_mm=4.0, margin_mm=3.0, pairs=pairs))


def test_a_good_layout_has_no_faults() -> None:
    """Nothing is reported where spacing, pad and margin are kept to the last micron."""
    assert look(GOOD) == ""


@pytest.mark.parametrize(
    ("placements", "words"),
    [
        ((at("1L", 27.0, 8.0), at("1R", 27.0, 27.998)), "1L and 1R are 3.9980 mm apart, 4.0000 mm are due"),
        ((at("1L", 27.0, 8.0), at("1R", 27.0, 12.0)), "1L and 1R overlap"),
        ((at("1L", 27.0, 8.0), at("1R", 27.0, 8.0)), "1L and 1R overlap"),
        ((at("1L", 26.99, 8.0), at("1R", 27.0, 28.0)), "1L is 3.9900 mm from the pad"),
        ((at("1L", 10.0, 14.0), at("1R", 60.0, 28.0)), "1L is 0.0000 mm from the pad"),
        ((at("1L", 27.0, 7.99), at("1R", 27.0, 28.0)), "1L reaches into the margin"),
        ((at("1L", 2.99, 40.0), at("1R", 60.0, 28.0)), "1L reaches into the margin"),
        ((at("1L", 27.0, 8.0), at("1R", 27.0, 53.0)), "1R reaches into the margin"),
        ((at("1L", math.nan, 8.0), at("1R", 27.0, 28.0)), "1L stands at a place that is not a number"),
        ((at("1L", 27.0, 8.0), at("2R", 27.0, 28.0)), "1L has no 1R beside it"),
        ((at("1L", 27.0, 8.0), at("1L", 27.0, 28.0)), "label 1L is used 2 times"),
        ((at("1L", 27.0, 8.0), at("xR", 27.0, 28.0)), "label 'xR' is not a number and L or R"),
        ((at("1L", 27.0, 8.0), replace(at("1R", 27.0, 28.0), side="left")), "1R is a left scale"),
        ((), "0 scales are placed, 2 are due"),
    ],
)
def test_a_planted_fault_is_found(placements: tuple[Placement, ...], words: str) -> None:
    """Each mistake in a placement is named."""
    assert words in look(replace(GOOD, placements=placements))


def test_a_turn_is_taken_into_account() -> None:
    """A scale turned half round about its origin lies on the other side of it."""
    turned = replace(GOOD, placements=(at("1L", 67.0, 8.0, math.pi), at("1R", 27.0, 28.0)))
    # Half round, the bulge points to the pad and the wide end reaches 8 mm down, into the margin.
    assert "1L reaches into the margin" in look(turned)
    assert "from the pad" in look(turned)


def test_a_pad_in_the_margin_is_found() -> None:
    """The pad itself must stay inside the margin."""
    assert "the pad reaches into the margin" in look(replace(GOOD, pad=replace(GOOD.pad, x_mm=2.9)))


def test_two_scales_for_the_same_hand_are_found() -> None:
    """A right footprint that is a copy of the left one, not its mirror image, is reported."""
    assert "not the left one mirrored" in look(GOOD, {"left": LEFT, "right": LEFT})


def test_a_pair_split_over_two_blanks_is_found() -> None:
    """Partners on different blanks are both reported."""
    one = replace(GOOD, placements=(at("1L", 27.0, 8.0),))
    two = replace(GOOD, name="sheet-2", placements=(at("1R", 27.0, 28.0),))
    faults = verify([one, two], SHAPES, spacing_mm=4.0, margin_mm=3.0)
    assert faults == ("sheet-1: 1L has no 1R beside it", "sheet-2: 1R has no 1L beside it")


def test_arcs_that_face_each_other_are_measured_to_the_micron() -> None:
    """Two discs of 10 mm radius with their centres 24 mm apart pass at 4 mm; 3 microns nearer they do not."""
    disc = Ring.from_rows([[-10, 0, 1], [10, 0, 1]])
    shapes: dict[Side, Ring] = {"left": disc, "right": disc}
    # Along a slant, where no point of the flattened circle lies on the line between the centres.
    across, up = 24 * math.cos(0.123), 24 * math.sin(0.123)
    nearer = (24 - 0.003) / 24
    good = replace(GOOD, placements=(at("1L", 45.0, 30.0), at("1R", 45.0 + across, 30.0 + up)))
    bad = replace(
        GOOD, placements=(at("1L", 45.0, 30.0), at("1R", 45.0 + nearer * across, 30.0 + nearer * up))
    )
    assert look(good, shapes) == ""
    assert "1L and 1R are 3.9970 mm apart" in look(bad, shapes)


@pytest.mark.parametrize(("gap_mm", "fault"), [(4.0, False), (7.9, False), (8.1, True), (15.0, True)])
def test_partners_that_lie_apart_are_found(gap_mm: float, fault: bool) -> None:
    """Partners one above the other: with 4 mm of spacing up to 8 mm count as side by side (flat edges)."""
    layout = replace(GOOD, placements=(at("1L", 27.0, 8.0), at("1R", 27.0, 24.0 + gap_mm)))
    found = verify([layout], SHAPES, spacing_mm=4.0, margin_mm=0.0, adjacent=True)
    assert any("not side by side" in line for line in found) == fault
    assert not any("side by side" in line for line in verify([layout], SHAPES, spacing_mm=4.0, margin_mm=0.0))
