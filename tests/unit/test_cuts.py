"""The stages of a job over a grid."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.machining.cuts import grown, plan_cuts, rehearse, with_allowance
from scalegen.machining.cutter_shape import ball, flat, point_mm
from scalegen.machining.dry_run import DryRun, pad_untouched, rest_mm
from scalegen.machining.hold import holds
from scalegen.machining.stages import plan_stages
from scalegen.machining.tabs import placed_tab, plan_tabs
from scalegen.machining.target import target_of
from scalegen.model import Crown, Edge, Face, Front, JobSpec, Liner, OutlineSource, Pattern, PinSpec, Relief
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


def job(pattern: Pattern = PLAIN, *, tabs: int = 0) -> tuple[Scale, DryRun]:
    """A pair cut with a flat cutter of 3 mm."""
    scale = scale_of(pattern)
    target = target_of(scale, LAYOUT, cell_mm=0.2)
    bridges = [placed_tab(tab, place) for place in LAYOUT.placements for tab in plan_tabs(scale, tabs)]
    cuts = plan_cuts(scale, LAYOUT, target, flat(3.0), tabs=bridges)
    return scale, rehearse(target, cuts, scale.stack.layers)


@pytest.mark.parametrize("pattern", ALL, ids=NAMES)
def test_the_stages_are_those_that_the_papers_name(pattern: Pattern) -> None:
    """Same names in the same order, and the same depth wherever no drill's point is in it."""
    scale, run = job(pattern)
    planned = plan_stages(scale, JobSpec(cutter="flat 3mm"))
    assert [shot.name for shot in run.shots] == [stage.name for stage in planned]
    # Between cells the true lowest place may be missed, on a slope by as much as that rises over a cell.
    for shot, stage in zip(run.shots, planned, strict=True):
        assert shot.deepest_mm + point_mm(shot.shape) == pytest.approx(stage.deepest_mm, abs=0.2)


@pytest.mark.parametrize("pattern", ALL, ids=NAMES)
def test_every_job_spares_pad_and_parts_and_frees_them(pattern: Pattern) -> None:
    """No part is cut into, the pad stays whole, and in the end each part is loose."""
    _, run = job(pattern)
    assert all(pad_untouched(shot, 6.9) for shot in run.shots)
    off = (run.last.heights_mm - run.target.field.heights_mm)[run.target.solid]
    assert off.min() > -1e-5
    found = holds(run)
    assert all(part.in_blank for part in found[-2].parts) if len(found) > 1 else True
    assert found[-1].loosened == ("1L", "1R")


def test_tabs_keep_the_parts_in_the_blank() -> None:
    """With two each, no part comes loose, and the cut is still open elsewhere."""
    _, run = job(tabs=2)
    last = holds(run)[-1]
    assert all(part.in_blank for part in last.parts)
    assert last.loosened == ()
    # The rest of the tabs stands as high as they were asked for.
    low = run.last.heights_mm[(run.target.parts < 0) & (run.last.heights_mm > 0)]
    assert low.min() == pytest.approx(0.8, abs=1e-5)


def test_a_large_ball_leaves_the_foot_of_the_edge() -> None:
    """A ball does not get into the square foot between edge and flange, where a flat cutter does."""
    scale = scale_of(replace(PLAIN, pins=()))
    target = target_of(scale, LAYOUT, cell_mm=0.2)
    left = []
    for shape in (flat(3.0), ball(6.0)):
        cuts = plan_cuts(scale, LAYOUT, target, flat(3.0), face_shape=shape)
        run = rehearse(target, cuts, scale.stack.layers)
        left.append(float(rest_mm(run.last, target.field.heights_mm, target.solid).max()))
    assert left[0] < 1e-5
    assert left[1] > 0.2


def test_an_allowance_is_left_everywhere() -> None:
    """A stage with 0.3 mm of allowance leaves 0.3 mm more; plunges have none."""
    scale = scale_of(PLAIN)
    target = target_of(scale, LAYOUT, cell_mm=0.5)
    cuts = plan_cuts(scale, LAYOUT, target, flat(3.0))
    plain = rehearse(target, cuts[:1], scale.stack.layers).last.heights_mm
    rough = rehearse(target, [with_allowance(cuts[0], 0.3)], scale.stack.layers).last.heights_mm
    worked = (plain > 0) & (plain < 6.5)
    assert np.allclose((rough - plain)[worked], 0.3, atol=1e-5)
    drilled = next(cut for cut in cuts if cut.plunges)
    assert with_allowance(drilled, 0.3) is drilled


def test_growing_goes_as_far_as_it_says() -> None:
    """One cell grown by two cells is a disc of 13, counted on squared paper."""
    mask = np.zeros((9, 9), dtype=np.bool_)
    mask[4, 4] = True
    assert grown(mask, 1.0, 0.5).sum() == 13
