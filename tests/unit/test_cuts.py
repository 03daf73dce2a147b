"""The stages of a job over a grid."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.machining.cuts import grown, plan_cuts, rehearse, with_allowance
from scalegen.machining.cutter_shape import flat, point_mm
from scalegen.machining.dry_run import Cut, DryRun, pad_untouched, rest_mm
from scalegen.machining.hold import holds
from scalegen.machining.stages import plan_stages
from scalegen.machining.tabs import placed_tab, plan_tabs
from scalegen.machining.target import target_of
from scalegen.model import (
    Crown,
    Edge,
    Face,
    Front,
    JobSpec,
    Liner,
    OutlineSource,
    Pattern,
    PinSpec,
    Relief,
    Shop,
)
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
FLAT = replace(SHOP, cutters={"flat 3mm": SHOP.cutters["flat 3mm"]})
SPEC = JobSpec(cutter="flat 3mm")
TANG = Ring.from_rows([[0, -9, 0], [50, -8, 0.5], [50, 8, 0], [0, 9, 0]])
PLAIN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=8.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(40), land_mm=1.2),
    thickness_mm=6.2,
    edge=Edge(treatment="round", size_mm=2.0),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(PinSpec(at_mm=(24.0, 1.0), hardware="pin 3mm"), PinSpec(at_mm=(44.0, 0.0), hardware="bolt 5mm")),
)
RELIEF = Relief(lines="straight", angle_rad=0.8, pitch_mm=6, depth_mm=0.5, width_mm=2.0, margin_mm=2)
GROOVED = replace(PLAIN, face=Face(crown=Crown(radius_mm=60.0)), pins=(), relief=RELIEF)
HOLLOWED = replace(GROOVED, relief=replace(RELIEF, cutter="ball"))
SQUARE = replace(PLAIN, edge=Edge(), front=Front(at_mm=8.0, angle_rad=math.pi / 2), thickness_mm=None)
PROUD = replace(PLAIN, liner=Liner(step_mm=0.6))
NAMES = ("plain", "grooved", "hollowed", "square", "proud liner")
ALL = (PLAIN, GROOVED, HOLLOWED, SQUARE, PROUD)
LAYOUT = SheetLayout(
    name="sheet-1",
    length_mm=95.0,
    width_mm=58.0,
    margin_mm=2.0,
    spacing_mm=4.2,
    pad=PadBox(x_mm=2.0, y_mm=2.0, w_mm=10.0, h_mm=8.0),
    origin="lower-left",
    placements=(
        Placement(label="1L", pattern="plain", side="left", x_mm=13.0, y_mm=42.0, angle_rad=0.0),
        Placement(label="1R", pattern="plain", side="right", x_mm=84.0, y_mm=15.5, angle_rad=math.pi),
    ),
)


def scale_of(pattern: Pattern) -> Scale:
    """A scale from the bundled six-millimetre stack."""
    return design(pattern, TANG, resolve_stack(SHOP, "paper-six", (6.9,)), SHOP)


def job(pattern: Pattern = PLAIN, shop: Shop = SHOP, *, tabs: int = 0) -> tuple[Scale, DryRun]:
    """A pair cut with the cutters at hand, a flat one of 3 mm going round."""
    scale = scale_of(pattern)
    target = target_of(scale, LAYOUT, cell_mm=0.2)
    bridges = [placed_tab(tab, place) for place in LAYOUT.placements for tab in plan_tabs(scale, tabs)]
    plan = plan_stages(scale, SPEC, shop)
    cuts = plan_cuts(scale, LAYOUT, target, plan, tabs=bridges)
    return scale, rehearse(target, cuts, scale.stack.layers)


@pytest.mark.parametrize("shop", [SHOP, FLAT], ids=["all cutters", "one flat cutter"])
@pytest.mark.parametrize("pattern", ALL, ids=NAMES)
def test_the_stages_are_those_that_the_papers_name(pattern: Pattern, shop: Shop) -> None:
    """Same names in the same order with the same cutters, and the tips come as deep."""
    scale, run = job(pattern, shop)
    planned = plan_stages(scale, SPEC, shop)
    assert [(shot.name, shot.shape.name) for shot in run.shots] == [
        (each.name, each.cutter) for each in planned
    ]
    # Between cells the true lowest place may be missed, on a slope by as much as that rises over a cell.
    for shot, stage in zip(run.shots, planned, strict=True):
        assert shot.deepest_mm == pytest.approx(stage.deepest_mm, abs=0.2)
        assert stage.deepest_mm + point_mm(stage.shape) == pytest.approx(stage.to_mm)


@pytest.mark.parametrize("shop", [SHOP, FLAT], ids=["all cutters", "one flat cutter"])
@pytest.mark.parametrize("pattern", ALL, ids=NAMES)
def test_every_job_spares_pad_and_parts_and_frees_them(pattern: Pattern, shop: Shop) -> None:
    """No part is cut into, the pad stays whole, and in the end each part is loose."""
    _, run = job(pattern, shop)
    assert all(pad_untouched(shot, 6.9) for shot in run.shots)
    off = (run.last.heights_mm - run.target.field.heights_mm)[run.target.solid]
    assert off.min() > -1e-5
    found = holds(run)
    assert all(part.in_blank for part in found[-2].parts) if len(found) > 1 else True
    assert found[-1].loosened == ("1L", "1R")


def facing(turn_rad: float, gap_mm: float, shift_mm: float) -> SheetLayout:
    """Two left scales, their straight lower sides parallel and a gap apart, turned together."""
    down = np.array([1.0, -50.0]) / math.hypot(1.0, 50.0)
    middle = np.array([25.0, -8.5]) + (PLAIN.trim_mm + gap_mm / 2) * down
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    at = np.array([60.0 + shift_mm, 60.0]) - np.array(
        [c * middle[0] - s * middle[1], s * middle[0] + c * middle[1]]
    )
    other = 2 * np.array([60.0 + shift_mm, 60.0]) - at
    places = ((at, turn_rad), (other, turn_rad + math.pi))
    return replace(
        LAYOUT,
        length_mm=120.0,
        width_mm=120.0,
        spacing_mm=gap_mm,
        placements=tuple(
            Placement(label=f"{k}L", pattern="plain", side="left", x_mm=x, y_mm=y, angle_rad=angle)
            for k, ((x, y), angle) in enumerate(((spot.tolist(), turn) for spot, turn in places), 1)
        ),
    )


@pytest.mark.parametrize("turn_rad", [0.0, -math.atan(0.02), 0.1, 0.5, math.pi / 4, 1.2])
@pytest.mark.parametrize("gap_mm", [3.0, 3.02, 3.15])
@pytest.mark.parametrize("shift_mm", [0.0, 0.07])
def test_a_cutter_that_just_passes_frees_the_parts_on_either_side(
    turn_rad: float, gap_mm: float, shift_mm: float
) -> None:
    """Parts as far apart as a cutter is wide or hardly more: one pass frees both and cuts into neither."""
    scale, layout = scale_of(SQUARE), facing(turn_rad, gap_mm, shift_mm)
    target = target_of(scale, layout, cell_mm=0.25)
    cuts = plan_cuts(scale, layout, target, plan_stages(scale, SPEC, FLAT))
    run = rehearse(target, cuts, scale.stack.layers)
    assert (run.last.heights_mm - run.target.field.heights_mm)[run.target.solid].min() > -1e-5
    assert [part.label for part in holds(run)[-1].parts if part.is_loose] == ["1L", "2L"]


def test_a_cutter_wider_than_the_gap_does_not_part_what_lies_beside_it() -> None:
    """3 mm do not go through 2.6 mm: the parts hang together."""
    scale, layout = scale_of(SQUARE), facing(-math.atan(0.02), 2.6, 0.0)
    target = target_of(scale, layout, cell_mm=0.25)
    cuts = plan_cuts(scale, layout, target, plan_stages(scale, SPEC, FLAT))
    parts = holds(rehearse(target, cuts, scale.stack.layers))[-1].parts
    assert [part.joined for part in parts] == [("2L",), ("1L",)]


def test_tabs_keep_the_parts_in_the_blank() -> None:
    """With two each, no part comes loose, and the cut is still open elsewhere."""
    _, run = job(tabs=2)
    last = holds(run)[-1]
    assert all(part.in_blank for part in last.parts)
    assert last.loosened == ()
    # The rest of the tabs stands as high as they were asked for.
    low = run.last.heights_mm[(run.target.parts < 0) & (run.last.heights_mm > 0)]
    assert low.min() == pytest.approx(0.8, abs=1e-5)


def test_a_ball_leaves_the_foot_of_the_edge_and_a_flat_cutter_takes_it() -> None:
    """A ball does not get into the square foot between edge and flange; the stage after it does."""
    _, run = job(replace(PLAIN, pins=()))
    rests = {
        shot.name: float(rest_mm(shot.field, run.target.field.heights_mm, run.target.solid).max())
        for shot in run.shots
    }
    assert rests["fronts and edges"] > 0.2
    # What stays is at the corner of front and edge, less than a cell wide.
    solid = run.target.solid
    left = rest_mm(run.last, run.target.field.heights_mm, solid)
    assert (left > 0.02).sum() * run.blank.cell_mm2 < 0.5
    with_flat = job(replace(PLAIN, pins=()), FLAT)[1]
    assert rest_mm(with_flat.last, run.target.field.heights_mm, solid).max() < 1e-5


def test_a_bevel_is_finished_down_to_its_land_by_a_ball() -> None:
    """The tip runs below the land beside the part, so nothing stays in the corner ahead of the bevel.

    Source: a ball touches a slope of 40 degrees 1 - cos 40 of its radius above its tip.
    """
    _, run = job(replace(PLAIN, edge=Edge(), pins=()))
    shot = next(each for each in run.shots if each.name == "fronts and edges")
    assert rest_mm(shot.field, run.target.field.heights_mm, run.target.solid).max() < 0.02
    assert shot.deepest_mm == pytest.approx(0.1 + 1.2 - 1.5 * (1 - math.cos(math.radians(40))), abs=1e-4)


def test_an_allowance_is_left_above_and_beside() -> None:
    """A stage with 0.4 mm of allowance leaves a box 0.4 mm higher and wider; plunges have none."""
    field = np.zeros((80, 80), dtype=np.float32)
    field[30:50, 30:50] = 3.0
    cut = Cut(name="box", shape=flat(2.0), surface_mm=field, where=np.ones_like(field, dtype=bool))
    left = with_allowance(cut, 0.4, 0.2).surface_mm
    assert left is not None
    assert np.allclose(left[40], np.where(abs(np.arange(80) - 39.5) < 12, 3.4, 0.4))
    drilled = Cut(name="holes", shape=flat(2.0))
    assert with_allowance(drilled, 0.3, 0.2) is drilled


def test_growing_goes_as_far_as_it_says() -> None:
    """One cell grown by two cells is a disc of 13, counted on squared paper."""
    mask = np.zeros((9, 9), dtype=np.bool_)
    mask[4, 4] = True
    assert grown(mask, 1.0, 0.5).sum() == 13
