"""The blank as it is to be: parts where they stand, holes, the pad."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.form.draped import draped_plan
from scalegen.form.plans import plan_of, volumes_of
from scalegen.machining.field import volume_mm3
from scalegen.machining.target import own_points, pad_sides, placed_point, target_of
from scalegen.model import Crown, Edge, Face, Front, OutlineSource, Pattern, PinSpec, Relief
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
TANG = Ring.from_rows([[0, -9, 0], [50, -8, 0.5], [50, 8, 0], [0, 9, 0]])
PLAIN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=8.0, angle_rad=1.5, treatment="bevel", slope_rad=math.radians(40), land_mm=1.2),
    thickness_mm=6.2,
    edge=Edge(treatment="round", size_mm=2.0),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(PinSpec(at_mm=(24.0, 1.0), hardware="pin 3mm"), PinSpec(at_mm=(44.0, 0.0), hardware="bolt 5mm")),
)
_HAIR = 0.003
PLACES = (
    Placement(label="1L", pattern="plain", side="left", x_mm=13.03, y_mm=36.07, angle_rad=0.0),
    Placement(label="1R", pattern="plain", side="right", x_mm=84.0, y_mm=12.2, angle_rad=math.pi),
)
PATTERNS = {
    "bevel, round edge": PLAIN,
    "square": replace(PLAIN, edge=Edge(), front=Front(at_mm=8.0, angle_rad=math.pi / 2)),
    "chamfer, round front": replace(
        PLAIN,
        edge=Edge(treatment="chamfer", size_mm=1.0),
        front=Front(at_mm=8.0, angle_rad=1.5, treatment="round", radius_mm=2.0),
    ),
    "crown": replace(PLAIN, face=Face(crown=Crown(radius_mm=40.0)), pins=()),
    "growing edge": replace(
        PLAIN, edge=Edge.along("round", ((5.0, 1.0), (50.0, 2.0)), ((5.0, 1.0), (50.0, 2.0))), pins=()
    ),
    "grooves": replace(
        PLAIN,
        relief=Relief(lines="straight", angle_rad=0.8, pitch_mm=4, depth_mm=0.5, width_mm=1.5, margin_mm=2),
    ),
}


def scale_of(pattern: Pattern) -> Scale:
    """A scale from the bundled six-millimetre stack."""
    return design(pattern, TANG, resolve_stack(SHOP, "paper-six", (6.9,)), SHOP)


def layout() -> SheetLayout:
    """A pair on a small blank, the right one turned half round."""
    return SheetLayout(
        name="sheet-1",
        length_mm=95.0,
        width_mm=50.0,
        margin_mm=1.0,
        spacing_mm=4.0,
        pad=PadBox(x_mm=1.0, y_mm=1.0, w_mm=10.0, h_mm=8.0),
        origin="lower-left",
        placements=PLACES,
    )


@pytest.mark.parametrize("name", sorted(PATTERNS))
def test_heights_are_those_of_the_plan(name: str) -> None:
    """Over every part the surface is what the plan says at the cell's middle, holes apart."""
    scale = scale_of(PATTERNS[name])
    target = target_of(scale, layout(), cell_mm=0.5)
    plan = draped_plan(scale, finished=False)
    for number, placement in enumerate(PLACES):
        rows, cols = np.nonzero((target.parts == number) & target.solid)
        points = np.column_stack([target.field.xs_mm[cols], target.field.ys_mm[rows]])
        near = [
            plan.top_at_mm(own_points(points + np.array(step), placement)) - plan.bottom_mm
            for step in ((0, 0), (_HAIR, _HAIR), (-_HAIR, _HAIR), (_HAIR, -_HAIR), (-_HAIR, -_HAIR))
        ]
        # On the very line of a wall either side is right; elsewhere these are as good as one.
        found = target.field.heights_mm[rows, cols]
        assert (found >= np.min(near, axis=0) - 1e-5).all()
        assert (found <= np.max(near, axis=0) + 1e-5).all()


@pytest.mark.parametrize("name", ["bevel, round edge", "square", "chamfer, round front"])
def test_parts_have_their_volume(name: str) -> None:
    """Both come to the volume that was worked out from sections, without a grid."""
    scale = scale_of(PATTERNS[name])
    plan = plan_of(scale, finished=False)
    (exact,) = volumes_of(plan, (plan.bottom_mm, plan.top_mm))
    target = target_of(scale, layout(), cell_mm=0.2)
    for number in range(len(PLACES)):
        assert volume_mm3(target.field, target.parts == number) == pytest.approx(exact, rel=3e-3)


def test_holes_go_through_and_recesses_to_their_seat() -> None:
    """A hole ends where the cut does, a recess at its seat above the bed; in the whole both are filled."""
    scale = scale_of(PLAIN)
    target = target_of(scale, layout(), cell_mm=0.1, floor_mm=0.3)
    pin, bolt = scale.holes
    beside = bolt.at_mm[0] + (bolt.hole_mm + bolt.head_hole_mm) / 4, bolt.at_mm[1]
    for placement in PLACES:
        for at, height in ((pin.at_mm, -0.3), (bolt.at_mm, -0.3), (beside, bolt.seat_mm + 0.1)):
            place = placed_point(at, placement)
            assert target.field.at_mm(place) == pytest.approx(height, abs=1e-5)
            assert not target.solid[target.field.cell_at(place)]
            assert target.whole_mm[target.field.cell_at(place)] == pytest.approx(6.3, abs=1e-5)


def test_pad_waste_and_apron_have_their_heights() -> None:
    """The pad keeps the blank's, the waste is gone, and beside the blank there is only bed."""
    target = target_of(scale_of(PLAIN), layout(), cell_mm=0.5)
    assert target.pad == pad_sides(layout().pad)
    assert (target.field.heights_mm[target.pad_mask] == np.float32(6.9)).all()
    assert target.pad_mask.sum() == 20 * 16
    assert target.field.at_mm((14.0, 3.0)) == pytest.approx(-0.2)
    assert target.blank.at_mm((-1.0, 3.0)) == 0
    assert volume_mm3(target.blank) == pytest.approx(95 * 50 * 6.9, rel=1e-6)


def test_points_go_to_the_part_and_back() -> None:
    """Placing and looking from the part are inverse, on both sides."""
    for placement in PLACES:
        there = placed_point((24.0, 1.0), placement)
        assert own_points(np.array([there]), placement)[0].tolist() == pytest.approx([24.0, 1.0])


@pytest.mark.parametrize("hair", [-1e-4, 0.0, 1e-4])
def test_cells_on_the_line_of_the_edge_do_not_stand_out(hair: float) -> None:
    """Where cells lie on the line that a round-over starts on, none keeps the height of the face."""
    straight = Ring.from_rows([[0, -9], [60, -9], [60, 9], [0, 9]])
    scale = design(replace(PLAIN, pins=()), straight, resolve_stack(SHOP, "paper-six", (6.9,)), SHOP)
    place = Placement(label="1L", pattern="plain", side="left", x_mm=13.0, y_mm=30.25 + hair, angle_rad=0.0)
    target = target_of(scale, replace(layout(), placements=(place,)), cell_mm=0.5)
    row, _ = target.field.cell_at((50.0, 39.25))
    on_line = target.field.heights_mm[row, (target.parts[row] == 0)]
    # The flange lies at 6.2 + 0.1 - 2; a hair d inside, a round-over stands the root of 2 r d above it.
    assert on_line.max() < 4.3 + math.sqrt(2 * 2.0 * 1e-4) + 1e-3
