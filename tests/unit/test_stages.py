"""Stages: heights above the bed, and what a wrong touch-off would do."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.design import Scale, design
from scalegen.machining.stages import THROUGH_MM, Stage, plan_stages
from scalegen.model import Crown, Edge, Face, Front, JobSpec, Liner, OutlineSource, Pattern, PinSpec
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
RECTANGLE = Ring.from_rows([[0, -15], [120, -15], [120, 15], [0, 15]])
BEVEL = Front(at_mm=20.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(40), land_mm=1.2)
PATTERN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=BEVEL,
    thickness_mm=6.2,
    edge=Edge(treatment="round", size_mm=2.5),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(
        PinSpec(at_mm=(95.0, 0.0), hardware="tube 6mm"),
        PinSpec(at_mm=(45.0, 0.0), hardware="pin 3mm"),
        PinSpec(at_mm=(70.0, 0.0), hardware="pin 3mm"),
    ),
)


def scale_of(pattern: Pattern = PATTERN, reading: float = 6.9) -> Scale:
    """A scale from the bundled six-millimetre stack."""
    return design(pattern, RECTANGLE, resolve_stack(SHOP, "paper-six", (reading,)), SHOP)


def stages(pattern: Pattern = PATTERN, reading: float = 6.9) -> tuple[Stage, ...]:
    """Stages of a scale, outlines cut with a 3 mm cutter."""
    return plan_stages(scale_of(pattern, reading), JobSpec(cutter="flat 3mm"))


def test_stages_go_from_the_face_down_to_the_bed() -> None:
    """Face first, loose parts last, drills from small to large, each size once."""
    found = [(stage.name, stage.cutter) for stage in stages()]
    assert found == [
        ("face off", "flat 3mm"),
        ("fronts and edges", "flat 3mm"),
        ("pin holes", "drill 3.1 mm"),
        ("pin holes", "drill 6.1 mm"),
        ("outlines", "flat 3mm"),
    ]


@pytest.mark.parametrize("reading", [6.4, 6.9, 7.4])
def test_every_stage_is_zeroed_on_the_pad_at_the_height_measured(reading: float) -> None:
    """The pad keeps the blank's full height, so Z zero is the same for all."""
    for stage in stages(reading=reading):
        assert stage.touch_off == "reference pad"
        assert stage.z_zero_mm == reading


def test_depths() -> None:
    """Facing ends on the scale, the bevel on its land, and what goes through 0.2 mm in the bed."""
    depths = [stage.deepest_mm for stage in stages()]
    assert depths == pytest.approx([0.1 + 6.2, 0.1 + 1.2, -0.2, -0.2, -0.2])
    assert THROUGH_MM == 0.2


def test_zeroing_on_the_faced_surface_cuts_too_deep_by_what_was_faced_off() -> None:
    """The classic mishap, a changed cutter zeroed on the wrong face, is told with its size."""
    facing, *later = stages()
    assert facing.surface_error_if_zeroed_elsewhere_mm == 0.0
    assert [stage.surface_error_if_zeroed_elsewhere_mm for stage in later] == pytest.approx([0.6] * 4)


def test_without_facing_there_is_no_wrong_face() -> None:
    """A scale that uses the whole stack has no facing stage and no error to warn of."""
    found = stages(replace(PATTERN, thickness_mm=None))
    assert found[0].name == "fronts and edges"
    assert {stage.surface_error_if_zeroed_elsewhere_mm for stage in found} == {0.0}


def test_square_everything_has_no_shaping() -> None:
    """With a square front and edge only facing, holes and outlines are left."""
    plain = replace(PATTERN, front=Front(at_mm=20.0, angle_rad=math.pi / 2), edge=Edge(), pins=())
    assert [stage.name for stage in stages(plain)] == ["face off", "outlines"]


@pytest.mark.parametrize(
    ("front", "edge", "lowest_mm"),
    [
        (Front(at_mm=20.0, angle_rad=1.5, treatment="round", radius_mm=2.0), Edge(), 6.2 - 2.0),
        (Front(at_mm=20.0, angle_rad=1.5), Edge(treatment="round", size_mm=1.5), 6.2 - 1.5),
        # A chamfer's plane goes on down through the trim flange outside the finished outline.
        (Front(at_mm=20.0, angle_rad=1.5), Edge(treatment="chamfer", size_mm=1.0), 6.2 - 1.0 - 0.8),
    ],
)
def test_the_lowest_place_of_fronts_and_edges(front: Front, edge: Edge, lowest_mm: float) -> None:
    """The shaping stage goes as deep as the deeper of front and edge."""
    shaping = next(
        s for s in stages(replace(PATTERN, front=front, edge=edge)) if s.name == "fronts and edges"
    )
    assert shaping.deepest_mm == pytest.approx(0.1 + lowest_mm)


def test_a_hole_without_a_drill_asks_for_a_cutter_that_fits_in() -> None:
    """The cutter of the outlines may be wider than a hole, so the stage says what it takes."""
    pins = (PinSpec(at_mm=(70.0, 0.0), diameter_mm=2.6, hole_mm=2.83),)
    names = [stage.cutter for stage in stages(replace(PATTERN, pins=pins)) if stage.name == "pin holes"]
    assert names == ["flat cutter under 2.83 mm"]


def test_recesses_go_to_their_seat_and_blind_holes_from_the_back() -> None:
    """A head is sunk from the face to its seat; a blind hole is drilled last, with the scale turned over.

    Heights by hand: back allowance 0.1 and seat 4.2 above the back; turned over, the back is 6.3 up and the
    hole, which ends 4.7 above the finished back, comes down to 6.2 - 4.7 = 1.5 over the face on the bed.
    """
    bolt = replace(SHOP.hardware["pin 3mm"], name="bolt", kind="stepped", head_mm=8.0, head_height_mm=2.0)
    shop = replace(SHOP, hardware={**SHOP.hardware, "bolt": bolt})
    pins = (
        PinSpec(at_mm=(45.0, 0.0), hardware="bolt"),
        PinSpec(at_mm=(95.0, 0.0), hardware="pin 3mm", cover_mm=1.5),
    )
    scale = design(replace(PATTERN, pins=pins), RECTANGLE, resolve_stack(shop, "paper-six", (6.9,)), shop)
    found = {stage.name: stage for stage in plan_stages(scale, JobSpec())}
    assert list(found)[2:] == ["head recesses", "pin holes", "outlines", "blind holes, scale turned over"]
    assert found["head recesses"].cutter == "flat cutter up to 8.05 mm"
    assert found["head recesses"].deepest_mm == pytest.approx(0.1 + 4.2)
    blind = found["blind holes, scale turned over"]
    assert (blind.touch_off, blind.cutter) == ("back of the scale", "drill 3.1 mm")
    assert (blind.z_zero_mm, blind.deepest_mm) == pytest.approx((6.3, 1.5))


def test_a_crowned_face_is_shaped_down_to_its_lowest_flange() -> None:
    """The stage that shapes must say so, and reach the flange where the crown is lowest.

    Source: circle; half a handle of 15 mm and the trim of 0.8 mm beside the crown line of a 60 mm crown, a
    round-over of 2.5 mm below that.
    """
    pattern = replace(PATTERN, face=Face(crown=Crown(radius_mm=60.0)), front=replace(BEVEL, land_mm=3.0))
    shaping = next(stage for stage in stages(pattern) if "edges" in stage.name)
    assert shaping.name == "faces, fronts and edges"
    drop = 60 - math.sqrt(60**2 - 15.8**2)
    assert shaping.deepest_mm == pytest.approx(0.1 + 6.2 - drop - 2.5, abs=1e-6)


@pytest.mark.parametrize(("step_mm", "extra"), [(0.5, [0.1 + 0.7]), (-0.5, [])])
def test_a_proud_liner_has_the_face_cut_down_to_it_first(step_mm: float, extra: list[float]) -> None:
    """The face's outline must end on a proud liner, 0.8 mm above the bed; one set in is cut elsewhere."""
    found = stages(replace(PATTERN, liner=Liner(step_mm=step_mm)))
    depths = [stage.deepest_mm for stage in found if stage.name == "face outlines, down to the liner"]
    assert depths == pytest.approx(extra)
    assert found[-1].name == "outlines"
