"""Everything known about a scale becomes findings. Never raises for a finding; never loads the kernel.

Limits and where they come from are stated beside each check. A finding says what is the matter, where, and
what to do about it.
"""

import math
from collections.abc import Iterator

import numpy as np

from scalegen.design import Hole, Scale
from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan, body_plan, edge_name
from scalegen.form.front import clip_behind, front_curve, setback_mm
from scalegen.model import Finding, Level, Shop
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import Ring
from scalegen.units import format_length

EDGE_WARN = 2.5
"""Edge distance in hole diameters below which a hole is warned of. Source: airframe practice for
composites, 2.5 d + 0.05 in, as quoted by engineers; NDS and MIL-HDBK-17 give 1.5 d to 3 d."""

EDGE_STOP = 1.5
"""Edge distance in hole diameters below which the job stops. Source: NDS for wood, from memory."""

PITCH_WARN = 3.0
"""Hole spacing in diameters below which it is warned of. Source: NDS spacing between rows, 3 d, from memory."""

SPREAD_WARN_MM = 0.1
"""Range of readings above which a stack is warned of. Our choice; common practice, no source."""

THIN_FACE_MM = 1.0
THIN_LINER_MM = 0.3
FEATHER_MM = 0.5
"""Face, liner and front land below which they are warned of. Our choice; common practice, no source."""

GRIP_MM = (31.75, 50.8)
"""Power-grip diameter of single-handled tools, 1 1/4 to 2 in. Source: NIOSH publication 2004-164."""


def check_scale(scale: Scale, shop: Shop) -> tuple[Finding, ...]:
    """All findings about one scale, stops first, then warnings, then notes.

    Args:
        scale: As designed.
        shop: For the slip fit.
    """
    order: dict[Level, int] = {"stop": 0, "warning": 1, "note": 2}
    plan, misfit = _finished_plan(scale)
    found = [
        *_stack(scale),
        *_layers(scale),
        *_front(scale),
        *misfit,
        *_edge_layers(scale, plan),
        *_pins(scale, plan, shop),
        *_pitch(scale),
        *_grip(scale),
    ]
    return tuple(sorted(found, key=lambda finding: order[finding.level]))


def _finding(level: Level, code: str, about: str, where: str, message: str, remedy: str) -> Finding:
    return Finding(code=code, level=level, about=about, where=where, message=message, remedy=remedy)


def _place(scale: Scale, x: float, y: float) -> str:
    units = scale.pattern.units
    return f"x = {format_length(x, units, 2)}, y = {format_length(y, units, 2)}"


# ------------------------------------------------------------------------------------ stack and layers


def _stack(scale: Scale) -> Iterator[Finding]:
    stack, units = scale.stack, scale.pattern.units
    if not stack.measured_mm:
        yield _finding(
            "note",
            "stack-not-measured",
            "stack",
            stack.name,
            f"the bonded thickness is only reckoned: {format_length(stack.nominal_mm, units, 3)}"
            f" ± {format_length(stack.tolerance_mm, units, 3)} by the sheets' tolerances",
            "measure the bonded blank in several places and give the readings with --measured",
        )
    elif stack.spread_mm > SPREAD_WARN_MM:
        yield _finding(
            "warning",
            "stack-uneven",
            "stack",
            stack.name,
            f"the readings differ by {format_length(stack.spread_mm, units, 3)};"
            f" the smallest, {format_length(stack.used_mm, units, 3)}, is counted on",
            "check the readings; flatten the blank or use it where it is even",
        )
    if scale.faced_off_mm < -1e-6:
        need = scale.thickness_mm + scale.back_allowance_mm
        yield _finding(
            "stop",
            "stack-too-thin",
            "stack",
            stack.name,
            f"the scale needs {format_length(need, units, 3)} and the stack has"
            f" {format_length(stack.used_mm, units, 3)}: {format_length(-scale.faced_off_mm, units, 3)} short",
            "make the scale thinner, use a smaller back allowance, or a thicker stack",
        )


def _layers(scale: Scale) -> Iterator[Finding]:
    units = scale.pattern.units
    back, cut = scale.stack.layers[0], scale.back_allowance_mm
    left = back.thickness_mm - cut
    if left <= 0:
        yield _finding(
            "stop",
            "liner-cut-away",
            f'layer "{back.name}"',
            "back",
            f"the back allowance of {format_length(cut, units, 3)} takes away all"
            f" {format_length(back.thickness_mm, units, 3)} of it",
            "use a smaller back allowance or a thicker liner",
        )
    elif cut > 0 and left < THIN_LINER_MM:
        yield _finding(
            "warning",
            "liner-thin",
            f'layer "{back.name}"',
            "back",
            f"only {format_length(left, units, 3)} of it is left when the back is flattened",
            "use a smaller back allowance or a thicker liner",
        )
    face = scale.stack.layers[-1]
    below = scale.stack.used_mm - face.thickness_mm - cut
    face_left = scale.thickness_mm - below
    if len(scale.stack.layers) > 1 and face_left <= 1e-6:
        yield _finding(
            "stop",
            "face-cut-away",
            f'layer "{face.name}"',
            "face",
            f"at a thickness of {format_length(scale.thickness_mm, units, 3)} the whole face sheet is faced off;"
            f" the layers under it reach {format_length(below, units, 3)}",
            "make the scale thicker or use thinner layers under the face",
        )
    elif len(scale.stack.layers) > 1 and face_left < THIN_FACE_MM:
        yield _finding(
            "warning",
            "face-thin",
            f'layer "{face.name}"',
            "face",
            f"only {format_length(face_left, units, 3)} of it is left after facing",
            "make the scale thicker or use thinner layers under the face",
        )


# ------------------------------------------------------------------------------------- front and edge


def _front(scale: Scale) -> Iterator[Finding]:
    front, top, units = scale.pattern.front, scale.thickness_mm, scale.pattern.units
    if front.treatment == "round" and front.radius_mm > top + 1e-9:
        yield _finding(
            "stop",
            "front-too-round",
            "front",
            "front",
            f"a radius of {format_length(front.radius_mm, units)} does not fit a scale"
            f" {format_length(top, units, 3)} thick",
            "use a radius up to the thickness",
        )
        return
    if front.treatment == "bevel" and front.land_mm >= top:
        yield _finding(
            "stop",
            "front-no-bevel",
            "front",
            "front",
            f"a land of {format_length(front.land_mm, units)} leaves nothing of a scale"
            f" {format_length(top, units, 3)} thick to bevel",
            "use a smaller land",
        )
        return
    if front.treatment == "bevel" and front.land_mm < FEATHER_MM:
        yield _finding(
            "warning",
            "front-feather",
            "front",
            "front",
            f"under the bevel only {format_length(front.land_mm, units, 2)} stands at the tang: it chips easily",
            f"give the bevel a land of {format_length(FEATHER_MM, units, 2)} or more",
        )
    if front.treatment == "round" and top - front.radius_mm < FEATHER_MM:
        yield _finding(
            "warning",
            "front-feather",
            "front",
            "front",
            f"under the rounded front only {format_length(top - front.radius_mm, units, 2)} stands at the tang:"
            " it chips easily",
            f"use a radius up to {format_length(top - FEATHER_MM, units, 2)}",
        )
    run = setback_mm(front, top, top)
    left = _left_behind(scale, run)
    if left is None:
        yield _finding(
            "stop",
            "front-too-long",
            "front",
            "front",
            f"the {front.treatment} runs {format_length(run, units, 2)} back and leaves no face",
            "make it steeper or shorter",
        )


def _left_behind(scale: Scale, run_mm: float) -> float | None:
    try:
        parts = clip_behind(scale.finished, front_curve(scale.pattern.front), run_mm)
    except GeometryError:
        return None
    return parts[0].area_mm2 if parts else None


def _finished_plan(scale: Scale) -> tuple[BodyPlan | None, tuple[Finding, ...]]:
    """The plan of the finished scale, and what is said when it or the as-cut one can't be made."""
    name = edge_name(scale.pattern.edge)
    try:
        body_plan(scale, finished=False)
        return body_plan(scale, finished=True), ()
    except GeometryError as error:
        return None, (_finding("stop", "edge-does-not-fit", name, error.where, error.message, error.remedy),)


def _edge_layers(scale: Scale, plan: BodyPlan | None) -> Iterator[Finding]:
    if plan is None:
        return
    for span in scale.spans[:-1]:
        if plan.seat_mm < span.top_mm - 1e-9 and span.kind != "bond":
            start = format_length(plan.seat_mm, scale.pattern.units, 2)
            yield _finding(
                "note",
                "edge-shows-layer",
                edge_name(scale.pattern.edge),
                "edge",
                f'it starts {start} above the back and cuts into layer "{span.name}"',
                "make it smaller if the layer is not meant to show on the edge",
            )


# ----------------------------------------------------------------------------------------------- pins


def _pins(scale: Scale, plan: BodyPlan | None, shop: Shop) -> Iterator[Finding]:
    top = _top_face(plan)
    for number, hole in enumerate(scale.holes, start=1):
        about = f"pin {number}"
        where = _place(scale, *hole.at_mm)
        yield from _pin_edge(scale, hole, about, where)
        if top is not None:
            yield from _pin_in_slope(top, hole, about, where)
        yield from _pin_fit(scale, hole, about, where, shop)


def edge_distance_mm(scale: Scale, hole: Hole) -> float:
    """From a hole's centre to the finished outline; negative when the centre lies outside it."""
    center = np.array([hole.at_mm])
    gap = float(distances_mm(scale.finished, center)[0])
    return gap if inside(scale.finished, center)[0] else -gap


def _pin_edge(scale: Scale, hole: Hole, about: str, where: str) -> Iterator[Finding]:
    units, d = scale.pattern.units, hole.hole_mm
    gap = edge_distance_mm(scale, hole)
    shown = f"its centre is {format_length(gap, units, 2)} from the finished outline, {gap / d:.2f} hole diameters"
    if gap <= d / 2:
        text = "it lies outside the finished outline" if gap < 0 else f"{shown}: the hole breaks out"
        yield _finding("stop", "pin-breaks-out", about, where, text, "move the pin inwards")
        return
    if gap < EDGE_STOP * d:
        remedy = f"move it inwards to {EDGE_STOP:g} diameters at least, {EDGE_WARN:g} for good practice"
        yield _finding("stop", "pin-edge-distance", about, where, shown, remedy)
    elif gap < EDGE_WARN * d:
        yield _finding(
            "warning", "pin-edge-distance", about, where, shown, f"move it inwards to {EDGE_WARN:g} diameters"
        )


def _top_face(plan: BodyPlan | None) -> Ring | None:
    """The flat of the face, inside front and edge treatments; None when there is none to speak of."""
    if plan is None:
        return None
    try:
        parts = plan.section_at(plan.top_mm - 1e-9)
    except GeometryError:
        return None
    return parts[0] if parts else None


def _pin_in_slope(top: Ring, hole: Hole, about: str, where: str) -> Iterator[Finding]:
    center = np.array([hole.at_mm])
    if not inside(top, center)[0] or float(distances_mm(top, center)[0]) < hole.hole_mm / 2:
        yield _finding(
            "warning",
            "pin-in-slope",
            about,
            where,
            "the hole comes out in the front or edge treatment, so the pin's end is not flush with a flat",
            "move the pin, or make the treatment smaller",
        )


def _pin_fit(scale: Scale, hole: Hole, about: str, where: str, shop: Shop) -> Iterator[Finding]:
    units, pin = scale.pattern.units, hole.hardware
    slip = hole.hole_mm - pin.diameter_mm
    if slip < 0:
        text = (
            f"the hole of {format_length(hole.hole_mm, units, 3)} is smaller than the pin"
            f" of {format_length(pin.diameter_mm, units, 3)}"
        )
        yield _finding("stop", "pin-too-tight", about, where, text, "use a larger hole")
    elif slip < shop.rules.slip_fit_mm - 1e-9:
        yield _finding(
            "warning",
            "pin-too-tight",
            about,
            where,
            f"the hole is only {format_length(slip, units, 3)} larger than the pin; a tight pin scrapes the glue off",
            f"leave {format_length(shop.rules.slip_fit_mm, units, 3)} or more",
        )
    if hole.drill is None:
        yield _finding(
            "note",
            "pin-no-drill",
            about,
            where,
            f"no drill in the shop's sets makes a hole of {format_length(hole.hole_mm, units, 3)}",
            "mill the hole, or let the tool choose its size",
        )
    if 0 < pin.length_mm < hole.cut_length_mm:
        yield _finding(
            "stop",
            "pin-too-short",
            about,
            where,
            f'it must be {format_length(hole.cut_length_mm, units, 2)} long; "{pin.name}" comes in'
            f" {format_length(pin.length_mm, units, 2)}",
            "use longer stock or thinner scales",
        )


def _pitch(scale: Scale) -> Iterator[Finding]:
    units = scale.pattern.units
    for i, one in enumerate(scale.holes):
        for j in range(i + 1, len(scale.holes)):
            other = scale.holes[j]
            pitch = math.dist(one.at_mm, other.at_mm)
            d = max(one.hole_mm, other.hole_mm)
            wall = pitch - (one.hole_mm + other.hole_mm) / 2
            level: Level = "stop" if wall < d / 2 else "warning"
            if pitch < PITCH_WARN * d:
                yield _finding(
                    level,
                    "pins-too-close",
                    f"pins {i + 1} and {j + 1}",
                    _place(scale, *one.at_mm),
                    f"their centres are {format_length(pitch, units, 2)} apart, {pitch / d:.2f} hole diameters;"
                    f" {format_length(max(wall, 0.0), units, 2)} stands between the holes",
                    f"move them {PITCH_WARN:g} diameters apart or more",
                )


# ----------------------------------------------------------------------------------------------- grip


def grip_diameter_mm(scale: Scale) -> float:
    """Diameter of the round handle with the same girth as this one at its highest place.

    The section is taken as a rectangle with corners of the edge treatment's size.
    """
    _, y0, _, y1 = scale.finished.bounds_mm
    high, thick = y1 - y0, scale.pattern.tang_mm + 2 * scale.thickness_mm
    edge = scale.pattern.edge
    saved = {"square": 0.0, "round": 8 - 2 * math.pi, "chamfer": 8 - 4 * math.sqrt(2)}[edge.treatment]
    return (2 * (high + thick) - saved * edge.size_mm) / math.pi


def _grip(scale: Scale) -> Iterator[Finding]:
    units = scale.pattern.units
    grip = grip_diameter_mm(scale)
    low, high = GRIP_MM
    total = scale.pattern.tang_mm + 2 * scale.thickness_mm
    if low <= grip <= high:
        return
    kind = "slimmer" if grip < low else "fuller"
    yield _finding(
        "note",
        "grip-size",
        "handle",
        "whole handle",
        f"{format_length(total, units, 2)} thick in all, it has the girth of a round handle of"
        f" {format_length(grip, units, 1 if units == 'mm' else 2)}: {kind} than the"
        f" {format_length(low, units)} to {format_length(high, units)} published for a power grip (NIOSH 2004-164)",
        "advice only: many good knives are slimmer, and hands differ",
    )
