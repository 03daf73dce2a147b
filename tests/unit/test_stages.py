"""Stages: heights above the bed, and what a wrong touch-off would do."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.design import Scale, design
from scalegen.machining.stages import THROUGH_MM, Stage, missing_works, plan_stages
from scalegen.model import (
    Crown,
    Edge,
    Face,
    Front,
    JobSpec,
    Liner,
    OutlineSource,
    OwnStage,
    Pattern,
    PinSpec,
    Shop,
)
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
FLATS = replace(SHOP, cutters={name: SHOP.cutters[name] for name in ("flat 3mm", "flat 1/8in")})
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


def stages(pattern: Pattern = PATTERN, reading: float = 6.9, shop: Shop = FLATS) -> tuple[Stage, ...]:
    """Stages of a scale, outlines cut with a 3 mm cutter."""
    return plan_stages(scale_of(pattern, reading), JobSpec(cutter="flat 3mm"), shop)


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
    depths = [stage.to_mm for stage in stages()]
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
    assert names == ["flat cutter up to 2.83 mm"]


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
    found = {stage.name: stage for stage in plan_stages(scale, JobSpec(), shop)}
    assert list(found)[4:] == ["head recesses", "pin holes", "outlines", "blind holes, scale turned over"]
    assert (found["head recesses"].cutter, found["head recesses"].size_mm) == ("flat 6mm", 8.05)
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


# ------------------------------------------------------------------------------------- all cutters at hand


def planned(pattern: Pattern = PATTERN, **rules: object) -> dict[str, Stage]:
    """Stages by name, with every cutter of the bundled tables and some rules changed."""
    shop = replace(SHOP, rules=replace(SHOP.rules, **rules))  # type: ignore[arg-type] - any field of the record
    return {stage.name: stage for stage in stages(pattern, shop=shop)}


def test_a_ball_finishes_what_flat_cutters_rough_out() -> None:
    """Curved places get a ball that passes between the parts, with flat cutters before and after it.

    Parts are 3 mm and the clearance of 1 mm apart, so the ball of 6.35 mm does not pass and that of 3 mm
    does; a facing cutter of 6 mm is twice as wide as the one of 3 mm.
    """
    found = planned()
    assert [(stage.name, stage.cutter) for stage in found.values()] == [
        ("face off", "flat 6mm"),
        ("rough fronts and edges", "flat 3mm"),
        ("fronts and edges", "ball 3mm"),
        ("feet of the edges", "flat 3mm"),
        ("pin holes", "drill 6.1 mm"),
        ("outlines", "flat 3mm"),
    ]
    assert all(stage.reason and stage.is_at_hand for stage in found.values())


def test_heights_follow_from_stage_to_stage() -> None:
    """Each begins where those before it ended: faced to 6.3, roughed as low as the ball must come.

    The ball is 1.5 mm in radius and must run 1.5 (1 - cos 40 degrees) below the bevel's end; a round-over of
    2.5 mm is touched 2.5 x 1.5 / (2.5 + 1.5) above its flange: similar triangles.
    """
    found = planned()
    assert (found["face off"].from_mm, found["face off"].to_mm) == pytest.approx((6.9, 6.3))
    rough = found["rough fronts and edges"]
    low = 1.3 - 1.5 * (1 - math.cos(math.radians(40)))
    assert (rough.from_mm, rough.to_mm, rough.allowance_mm) == pytest.approx((6.3, low + 0.3, 0.3))
    assert found["fronts and edges"].to_mm == pytest.approx(low)
    feet = found["feet of the edges"]
    assert (feet.from_mm, feet.to_mm) == pytest.approx((3.8 + 2.5 * 1.5 / 4.0, 3.8))
    assert found["outlines"].from_mm == pytest.approx(found["fronts and edges"].to_mm)


def test_stepover_gives_the_ridges_wanted() -> None:
    """A ball of 3 mm radius leaves ridges of 0.005 mm at a stepover of 0.3463 mm.

    Source: h = R - sqrt(R^2 - (s/2)^2), the height of a circular segment; here R = 1.5.
    """
    stage = planned(ridge_mm=0.005)["fronts and edges"]
    assert stage.scallop_mm == pytest.approx(0.005)
    assert stage.stepover_mm is not None
    assert 1.5 - math.sqrt(1.5**2 - (stage.stepover_mm / 2) ** 2) == pytest.approx(0.005)


def test_passes_are_enough_and_no_more() -> None:
    """Passes of half a diameter reach the depth, and one fewer would not: counted by brute force."""
    for stage in planned().values():
        if stage.does == "shape":
            assert stage.passes == 1
            continue
        count, depth = 0, stage.from_mm - stage.to_mm
        while count * stage.depth_per_pass_mm < depth - 1e-9:
            count += 1
        assert stage.passes == count


def test_drills_go_deeper_than_their_full_width() -> None:
    """A point of 118 degrees is r / tan 59 degrees long: a right triangle."""
    stage = planned()["pin holes"]
    assert stage.to_mm - stage.deepest_mm == pytest.approx(3.05 / math.tan(math.radians(59)))


def test_the_point_of_a_drill_spares_the_cover_of_a_blind_hole() -> None:
    """The tip ends under the cover of 1.5 mm, the full width a point's length before."""
    pins = (PinSpec(at_mm=(95.0, 0.0), hardware="pin 3mm", cover_mm=1.5),)
    stage = planned(replace(PATTERN, pins=pins))["blind holes, scale turned over"]
    assert stage.deepest_mm == pytest.approx(1.5)
    assert stage.to_mm - stage.deepest_mm == pytest.approx(1.55 / math.tan(math.radians(59)))
    assert not stage.is_from_blank


# -------------------------------------------------------------------------------- stages of the shop's own

OWN = (
    OwnStage(name="skim", does="face off", cutter="flat 1/8in", stepover_mm=2.0),
    OwnStage(name="shape all", does="shape", cutter="ball 3mm", depth_per_pass_mm=0.8, scallop_mm=0.02),
    OwnStage(name="drill", does="pin holes"),
    OwnStage(name="near", does="outlines", allowance_mm=0.3, depth_per_pass_mm=1.0),
    OwnStage(name="free", does="outlines"),
    OwnStage(name="texture", does="grooves"),
)


def test_stages_of_the_shops_own_replace_the_plan() -> None:
    """Names, cutters, depths and order are the shop's; grooves that the pattern has not are left out."""
    found = stages(shop=replace(SHOP, stages=OWN))
    assert [stage.name for stage in found] == ["skim", "shape all", "drill", "drill", "near", "free"]
    skim, shape, _, _, near, free = found
    assert (skim.cutter, skim.stepover_mm) == ("flat 1/8in", 2.0)
    assert (shape.scallop_mm, shape.depth_per_pass_mm) == pytest.approx((0.02, 0.8))
    assert shape.passes == math.ceil((shape.from_mm - shape.to_mm) / 0.8)
    assert (near.to_mm, near.allowance_mm, near.depth_per_pass_mm) == pytest.approx((0.1, 0.3, 1.0))
    assert (free.cutter, free.to_mm, free.from_mm) == ("flat 3mm", pytest.approx(-0.2), pytest.approx(0.1))


def test_what_the_shops_own_stages_leave_out_is_known() -> None:
    """Without holes and outlines both are missing; roughing and feet may be left out."""
    shop = replace(SHOP, stages=OWN[:2])
    assert missing_works(scale_of(), JobSpec(), shop) == ("pin holes", "outlines")
    assert missing_works(scale_of(), JobSpec(), SHOP) == ()
