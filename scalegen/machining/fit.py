"""Whether the cutters of a plan fit the scale: inside radii, holes, flutes, stick-out, spacing, ridges."""

import math
from collections.abc import Iterable, Iterator, Sequence

from scalegen.design import Hole, Scale
from scalegen.machining.corners import TightPlace, tight_places
from scalegen.machining.cutter_shape import point_mm
from scalegen.machining.places import found, place_words
from scalegen.machining.scallop import first_grit, flute_shortage_mm
from scalegen.machining.stages import Stage
from scalegen.machining.thin import SEEN_MM
from scalegen.model import Abrasive, Finding, Units
from scalegen.outline.ring import Ring
from scalegen.units import format_length

SANDING_MM = 0.1
"""The most that sanding may take from a surface without an allowance. Our choice; common practice, no
source."""

_AROUND = {"outlines", "liner"}


def fit_findings(
    scale: Scale,
    stages: Sequence[Stage],
    abrasives: Iterable[Abrasive] = (),
    *,
    gap_mm: float = math.inf,
) -> Iterator[Finding]:
    """Everything about a plan's cutters that does not fit, in the order of the plan.

    Args:
        scale: What is cut.
        stages: The plan.
        abrasives: Grades at hand for what is sanded afterwards.
        gap_mm: Kept between two parts.
    """
    units = scale.pattern.units
    yield from _tight(scale, stages, units)
    yield from _not_at_hand(scale, stages, units)
    yield from _round(stages, gap_mm, units)
    yield from _reach(stages, units)
    yield from _finish(scale, stages, units)
    yield from _ridges(stages, tuple(abrasives), units)
    yield from _blind(scale, stages, units)


def _tight(scale: Scale, stages: Sequence[Stage], units: Units) -> Iterator[Finding]:
    """Places of the outlines that cutters do not get into, each once, by the thinnest cutter that passes."""
    rings: dict[str, tuple[Ring, str]] = {
        "outlines": (scale.footprint, "outline as cut"),
        "liner": (scale.as_cut, "outline of the face as cut"),
        "shape": (scale.finished, "finished outline"),
    }
    for does, (ring, about) in rings.items():
        own = [stage for stage in stages if stage.does == does]
        if not own:
            continue
        thin = min(own, key=lambda stage: stage.shape.radius_mm)
        for place in tight_places(ring, thin.shape.radius_mm):
            rest = f", and stays {format_length(place.rest_mm, units)} off" if place.rest_mm else ""
            yield found(
                "cutter-too-wide",
                "warning",
                about,
                place_words(place.at_mm, units),
                f"{_what(place, units)}: {thin.cutter} does not get in{rest}",
                "take a thinner cutter, or finish the place by hand",
            )


def _what(place: TightPlace, units: Units) -> str:
    if place.kind == "slot":
        return f"a slot {format_length(2 * place.radius_mm, units)} wide"
    if place.kind == "bend":
        return f"an inside radius of {format_length(place.radius_mm, units)}"
    return "a sharp inside corner"


def _not_at_hand(scale: Scale, stages: Sequence[Stage], units: Units) -> Iterator[Finding]:
    for stage in stages:
        if stage.is_at_hand:
            continue
        if stage.does == "grooves":
            yield found(
                "groove-no-cutter",
                "warning",
                "grooves",
                "",
                f"they ask for a {stage.cutter}, and none at hand is as wide",
                "add it to cutters.toml, or give relief the width of one that you have",
            )
        for number, hole in enumerate(scale.holes, 1):
            size = _milled_mm(hole, stage)
            if size is not None:
                wide = format_length(size, units)
                yield found(
                    "hole-no-cutter",
                    "warning",
                    f"pin {number}",
                    place_words(hole.at_mm, units),
                    f"a hole of {wide} must be milled, and no flat cutter at hand enters it",
                    f"add a flat cutter of less than {wide} to cutters.toml",
                )


def _milled_mm(hole: Hole, stage: Stage) -> float | None:
    """Diameter of what a stage mills of a hole, or None where it has no part in it."""
    if stage.does == "recesses":
        return hole.head_hole_mm if hole.head_hole_mm == stage.size_mm else None
    makes = hole.is_blind == (stage.does == "blind holes") and stage.size_mm == hole.hole_mm
    return hole.hole_mm if makes and hole.drill is None else None


def _round(stages: Sequence[Stage], gap_mm: float, units: Units) -> Iterator[Finding]:
    """Cutters that go round the parts: between them, and with upright sides."""
    for stage in _once(stages):
        if stage.does not in _AROUND:
            continue
        wide = 2 * stage.shape.radius_mm
        if wide > gap_mm + 1e-9:
            gap = format_length(gap_mm, units)
            yield found(
                "cutter-wider-than-gap",
                "warning",
                _stage(stage, stages),
                "",
                f"{stage.cutter} is {format_length(wide, units)} wide and parts lie {gap} apart: where they"
                " face each other it does not pass",
                f"take a cutter of {gap} at most, or give --spacing {format_length(wide, units, 2)} or more",
            )
        if stage.kind != "flat":
            yield found(
                "outline-not-upright",
                "warning",
                _stage(stage, stages),
                "",
                f"{stage.cutter} is no flat cutter: it leaves a foot at the bottom of the walls",
                "take a flat cutter round the parts",
            )


def _reach(stages: Sequence[Stage], units: Units) -> Iterator[Finding]:
    """Flutes against walls, and stick-out against depth: the holder's own shape is not in the tables."""
    face = max((stage.z_zero_mm for stage in stages), default=0.0)
    for stage in stages:
        if stage.does == "face off":
            face = stage.to_mm
        if stage.tool is None:
            continue
        name, place = f"cutter {stage.cutter}", _stage(stage, stages)
        wall = (stage.from_mm if not stage.is_from_blank else face) - stage.deepest_mm
        short = flute_shortage_mm(stage.tool, wall)
        if short > SEEN_MM:
            yield found(
                "flutes-short",
                "warning",
                name,
                place,
                f"the walls are {format_length(short, units)} deeper than its flutes of"
                f" {format_length(stage.tool.flute_mm, units)}: its shank rubs",
                "take a cutter with longer flutes",
            )
        under = stage.z_zero_mm - stage.deepest_mm
        if under > stage.tool.stickout_mm + SEEN_MM:
            yield found(
                "holder-low",
                "warning",
                name,
                place,
                f"it comes {format_length(under, units)} below the top of the pad and sticks out of its"
                f" holder by {format_length(stage.tool.stickout_mm, units)}: the holder can hit pad,"
                " neighbours and frame. Its shape is not in the tables, so only this is looked at",
                "let it stick out further, or take a longer cutter",
            )


def _finish(scale: Scale, stages: Sequence[Stage], units: Units) -> Iterator[Finding]:
    """What the finish leaves on fronts and edges by the shape of its cutter."""
    shaping = [stage for stage in stages if stage.does == "shape"]
    if not shaping:
        return
    last = shaping[-1]
    if last.kind == "flat":
        yield found(
            "finish-in-stairs",
            "note",
            _stage(last, stages),
            "",
            f"{last.cutter} leaves stairs on what is curved or slopes: {last.passes} passes of"
            f" {format_length(last.depth_per_pass_mm, units, 3)} for stairs no higher",
            "add a ball or tapered cutter that passes between the parts, or sand more",
        )
    rounded = scale.pattern.edge.treatment == "round"
    tips = [stage.shape.tip_radius_mm for stage in shaping]
    if rounded and min(tips) > 0 and not any(stage.does == "feet" for stage in stages):
        yield found(
            "foot-left",
            "warning",
            _stage(last, stages),
            "",
            f"a tip of {format_length(min(tips), units)} radius does not reach the foot of the rounded edge",
            'add a stage that does = "feet" with a flat cutter, or finish the foot by hand',
        )


def _ridges(stages: Sequence[Stage], abrasives: tuple[Abrasive, ...], units: Units) -> Iterator[Finding]:
    """Ridges that no grade at hand sands off within what there is to take."""
    shaping = [stage for stage in stages if stage.does == "shape" and stage.scallop_mm is not None]
    if not shaping or not abrasives:
        return
    last = shaping[-1]
    ridge, room = last.scallop_mm or 0.0, last.allowance_mm + SANDING_MM
    if first_grit(abrasives, ridge, room) is None:
        side = last.stepover_mm if last.stepover_mm is not None else last.depth_per_pass_mm
        yield found(
            "ridges-high",
            "warning",
            _stage(last, stages),
            "",
            f"it leaves ridges of {format_length(ridge, units)}: with the scratches of the finest grade at"
            f" hand that is more than the {format_length(room, units)} that sanding may take",
            f"take less than {format_length(side, units)} from pass to pass, or leave an allowance",
        )


def _blind(scale: Scale, stages: Sequence[Stage], units: Units) -> Iterator[Finding]:
    """Scales that rock when turned over; pins that meet the cone which a drill leaves in a blind hole."""
    turned = [stage for stage in stages if stage.does == "blind holes"]
    if turned and not scale.face.is_flat:
        yield found(
            "turned-over-rocks",
            "warning",
            _stage(turned[0], stages),
            "",
            "turned over, the scale lies on a face that is not flat: it rocks, and the hole comes out askew",
            "lay it into a cradle with its back level, and zero on the back beside the hole",
        )
    drilled = {stage.size_mm: stage for stage in turned if stage.kind == "drill"}
    for number, hole in enumerate(scale.holes, 1):
        stage = drilled.get(hole.hole_mm)
        if stage is None or not hole.is_blind:
            continue
        # The flat end of the pin rests on the cone where that is as wide as the pin.
        short = point_mm(stage.shape) * min(1.0, hole.hardware.diameter_mm / hole.hole_mm)
        yield found(
            "blind-hole-point",
            "warning",
            f"pin {number}",
            place_words(hole.at_mm, units),
            f"{stage.cutter} ends in a point, and the pin rests {format_length(short, units)} short of its"
            " tip in both scales",
            f"cut this pin {format_length(2 * short, units)} shorter, or mill the ends of its holes flat",
        )


def _once(stages: Sequence[Stage]) -> Iterator[Stage]:
    """Stages without those that repeat the cutter and the work of an earlier one."""
    seen = set()
    for stage in stages:
        if (stage.cutter, stage.does) not in seen:
            seen.add((stage.cutter, stage.does))
            yield stage


def _stage(stage: Stage, stages: Sequence[Stage]) -> str:
    number = next(k for k, each in enumerate(stages, 1) if each is stage)
    return f"stage {number}, {stage.name}"
