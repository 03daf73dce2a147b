"""Cutters that do not fit a scale, and that the remedy makes the finding go away."""

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.machining.fit import SANDING_MM, fit_findings
from scalegen.machining.stages import Stage, plan_stages
from scalegen.model import (
    Crown,
    Cutter,
    Edge,
    Face,
    Finding,
    Front,
    JobSpec,
    OutlineSource,
    OwnStage,
    Pattern,
    PinSpec,
    Relief,
    Shop,
)
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
SPEC = JobSpec(cutter="flat 3mm")
TANG = Ring.from_rows([[0, -12], [110, -12], [110, 12], [0, 12]])
PATTERN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=14.0, angle_rad=math.pi / 2, treatment="round", radius_mm=2.0),
    thickness_mm=6.2,
    edge=Edge(treatment="round", size_mm=2.0),
    trim_mm=0.8,
    back_allowance_mm=0.0,
    pins=(PinSpec(at_mm=(45.0, 0.0), hardware="pin 3mm"),),
)


def scale_of(pattern: Pattern = PATTERN) -> Scale:
    """A scale from the bundled six-millimetre stack, 6.9 mm thick."""
    return design(pattern, TANG, resolve_stack(SHOP, "paper-six", (6.9,)), SHOP)


def findings(
    scale: Scale, shop: Shop = SHOP, stages: Sequence[Stage] | None = None, gap_mm: float = 4.0
) -> list[Finding]:
    """What there is to say about a plan."""
    plan = plan_stages(scale, SPEC, shop) if stages is None else stages
    return list(fit_findings(scale, plan, shop.abrasives.values(), gap_mm=gap_mm))


def codes(scale: Scale, shop: Shop = SHOP, gap_mm: float = 4.0) -> list[str]:
    """Codes of the findings, each of which says what, and what to do."""
    found = findings(scale, shop, gap_mm=gap_mm)
    assert all(each.about and each.message and each.remedy for each in found)
    return [each.code for each in found]


def with_cutter(name: str, **changes: object) -> Shop:
    """The bundled shop with one cutter changed."""
    cutter: Cutter = replace(SHOP.cutters[name], **changes)  # type: ignore[arg-type] - any field of the record
    return replace(SHOP, cutters={**SHOP.cutters, name: cutter})


def own(*stages: OwnStage) -> Shop:
    """The bundled shop with stages of its own."""
    return replace(SHOP, stages=stages)


def test_the_bundled_cutters_fit_a_plain_scale() -> None:
    """Nothing to say."""
    assert codes(scale_of()) == []


def test_a_place_that_is_too_tight_is_named() -> None:
    """A sharp inside corner is told with its place on the outline."""
    notch = np.array([[20, -12], [60, -12], [60, 12], [45, 12], [40, 4], [35, 12], [20, 12]], dtype=float)
    ring = Ring(np.column_stack([notch, np.zeros(len(notch))]))
    plan = plan_stages(scale_of(), SPEC, SHOP)
    found = findings(replace(scale_of(), as_cut=ring), stages=plan)
    (tight,) = [each for each in found if "sharp inside corner" in each.message]
    assert (tight.about, tight.where) == ("outline as cut", "x = 40.00 mm, y = 4.00 mm")


def test_a_hole_that_nothing_enters_is_named() -> None:
    """Without a drill a hole of 2 mm can't be made with cutters of 3 mm and more; with one of 1 mm it can."""
    plain = scale_of()
    holes = tuple(replace(hole, drill=None, hole_mm=2.0) for hole in plain.holes)
    scale = replace(plain, holes=holes)
    thin = replace(SHOP.cutters["flat 3mm"], name="thin", diameter_mm=1.0)
    assert codes(scale) == ["hole-no-cutter"]
    assert codes(scale, replace(SHOP, cutters={**SHOP.cutters, "thin": thin})) == []


def test_grooves_want_their_own_width() -> None:
    """No cutter of 2 mm is at hand; once there is one, nothing is said."""
    relief = Relief(lines="straight", angle_rad=0.8, pitch_mm=6, depth_mm=0.4, width_mm=2.0, margin_mm=1.5)
    scale = scale_of(replace(PATTERN, relief=relief))
    thin = replace(SHOP.cutters["flat 3mm"], name="flat 2mm", diameter_mm=2.0)
    assert codes(scale) == ["groove-no-cutter"]
    assert codes(scale, replace(SHOP, cutters={**SHOP.cutters, "flat 2mm": thin})) == []


@pytest.mark.parametrize(("flute_mm", "said"), [(6.3, True), (6.4, False)])
def test_flutes_reach_down_the_walls(flute_mm: float, said: bool) -> None:
    """From the faced 6.2 mm down to 0.2 mm below the blank a wall is 6.4 mm high: hand arithmetic."""
    assert ("flutes-short" in codes(scale_of(), with_cutter("flat 3mm", flute_mm=flute_mm))) is said


@pytest.mark.parametrize(("stickout_mm", "said"), [(7.0, True), (7.1, False)])
def test_the_holder_stays_above_the_pad(stickout_mm: float, said: bool) -> None:
    """The tip comes 6.9 + 0.2 mm below the top of the pad, so 7.0 mm of stick-out is too little."""
    found = codes(scale_of(), with_cutter("flat 3mm", flute_mm=6.5, stickout_mm=stickout_mm))
    assert ("holder-low" in found) is said


def test_a_cutter_wider_than_the_gap_between_parts_is_told() -> None:
    """A shop's own stage goes round with 6 mm where parts lie 4 mm apart; 6 mm apart it passes."""
    shop = own(
        OwnStage(name="a", does="face off"),
        OwnStage(name="b", does="shape", cutter="ball 3mm"),
        OwnStage(name="c", does="feet"),
        OwnStage(name="d", does="pin holes"),
        OwnStage(name="e", does="outlines", cutter="flat 6mm"),
    )
    assert codes(scale_of(), shop) == ["cutter-wider-than-gap"]
    assert codes(scale_of(), shop, gap_mm=6.0) == []


def test_a_ball_round_the_parts_leaves_a_foot() -> None:
    """Walls cut with a ball are not upright at the bottom."""
    shop = own(OwnStage(name="free", does="outlines", cutter="ball 3mm"))
    assert "outline-not-upright" in codes(scale_of(), shop)


def test_a_rounded_edge_without_its_foot_is_told() -> None:
    """A ball alone leaves the foot; with a stage for feet, or a flat cutter, nothing is left."""
    shape = OwnStage(name="shape", does="shape", cutter="ball 3mm")
    feet = OwnStage(name="feet", does="feet")
    assert "foot-left" in codes(scale_of(), own(shape))
    assert "foot-left" not in codes(scale_of(), own(shape, feet))


def test_a_flat_cutter_alone_leaves_stairs() -> None:
    """With no ball at hand the finish is told to come in stairs, and in how many passes."""
    shop = replace(SHOP, cutters={"flat 3mm": SHOP.cutters["flat 3mm"]})
    (stairs,) = [each for each in findings(scale_of(), shop) if each.code == "finish-in-stairs"]
    passes = math.ceil(2.0 / SHOP.rules.ridge_mm)
    assert f"{passes} passes" in stairs.message


def test_ridges_that_cannot_be_sanded_off_are_told() -> None:
    """Ridges and the scratches of P1200, 0.0153 mm, must go into 0.1 mm: 0.085 does not, 0.084 does.

    Source: mean grain of P1200 by ISO 6344-3.
    """
    finest = min(each.grain_um for each in SHOP.abrasives.values()) / 1000
    for ridge, said in ((SANDING_MM - finest + 0.0005, True), (SANDING_MM - finest - 0.0005, False)):
        shop = own(OwnStage(name="shape", does="shape", cutter="ball 3mm", scallop_mm=ridge))
        assert ("ridges-high" in codes(scale_of(), shop)) is said


def test_a_pin_in_a_drilled_blind_hole_meets_the_point() -> None:
    """A pin of 3 mm rests 1.5 / tan 59 degrees = 0.901 mm short of both tips: a right triangle."""
    pins = (PinSpec(at_mm=(45.0, 0.0), hardware="pin 3mm", cover_mm=1.5),)
    (told,) = [
        each for each in findings(scale_of(replace(PATTERN, pins=pins))) if each.code == "blind-hole-point"
    ]
    assert "0.901 mm short" in told.message
    assert "1.803 mm shorter" in told.remedy


@pytest.mark.parametrize(("radius_mm", "said"), [(60.0, True), (0.0, False)])
def test_a_crowned_scale_rocks_when_turned_over(radius_mm: float, said: bool) -> None:
    """A blind hole drilled from the back wants the back level: told for a crown, not for a flat face."""
    pins = (PinSpec(at_mm=(45.0, 0.0), hardware="pin 3mm", cover_mm=1.5),)
    crown = Crown(radius_mm=radius_mm) if radius_mm else None
    found = codes(scale_of(replace(PATTERN, pins=pins, face=Face(crown=crown))))
    assert ("turned-over-rocks" in found) is said
