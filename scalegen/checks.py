"""Everything known about a scale becomes findings. Never raises for a finding; never loads the kernel.

Limits and where they come from are stated here, one by one.
"""

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from scalegen.design import Hole, Scale, edge_distance_mm
from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan, edge_name
from scalegen.form.plans import Plan, plan_of
from scalegen.model import Finding, Level, Shop
from scalegen.outline.front import clip_behind, front_curve, setback_mm
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import Ring
from scalegen.units import format_length

EDGE_WARN = 2.5
"""Edge distance in hole diameters below which a hole is warned of. Source: airframe practice for
composites, 2.5 d + 0.05 in, as quoted by engineers; NDS and MIL-HDBK-17 give 1.5 d to 3 d."""

EDGE_STOP = 1.5
"""Edge distance in hole diameters below which the job stops. Source: NDS for wood, from memory."""

PITCH_WARN = 3.0
"""Hole spacing in diameters below which it is warned of. Source: NDS, between rows, from memory."""

SPREAD_WARN_MM = 0.1
SPREAD_STOP = 0.2
MISREAD = 2.0
BOND_RANGE_MM = 0.15
"""Readings of a stack: range that is warned of; range, as a share of the nominal thickness, and factor from
the nominal thickness that can only be a slip; what one bond line may add or lack (published films go from
0.05 to 0.25 mm). Otherwise our choice; common practice, no source."""

THIN_FACE_MM = 1.0
THIN_LINER_MM = 0.3
FEATHER_MM = 0.5
THIN_TRIM_MM = 0.3
LOOSE_PIN_MM = 0.25
"""Face, liner, front land and trim allowance below which, and slip above which, they are warned of. Our
choice; common practice, no source."""

GRIP_MM = (31.75, 50.8)
"""Power-grip diameter of single-handled tools, 1 1/4 to 2 in. Source: NIOSH publication 2004-164."""

_DUST_MM = 1e-6


def check_scale(scale: Scale, shop: Shop) -> tuple[Finding, ...]:
    """All findings about one scale, stops first, then warnings, then notes.

    Args:
        scale: As designed.
        shop: For the slip fit.
    """
    plan, misfit = _finished_plan(scale)
    return by_level(
        [
            *_readings(scale),
            *_stack(scale),
            *_layers(scale),
            *_trim(scale),
            *_front(scale),
            *misfit,
            *_edge_layers(scale, plan),
            *_pins(scale, plan, shop),
            *_pitch(scale),
            *_grip(scale),
        ]
    )


def check_tang_holes(scale: Scale, drawn: Sequence[tuple[float, float, float]]) -> tuple[Finding, ...]:
    """Findings about pins that miss the holes drawn in the tang; none when the drawing has no holes.

    Args:
        scale: As designed.
        drawn: Circles inside the tang outline: x, y, diameter in mm.
    """
    fine = _shown(scale, 2)
    found = []
    for number, hole in enumerate(scale.holes, start=1):
        if not drawn:
            break
        x, y, d = min(drawn, key=lambda circle: math.dist(circle[:2], hole.at_mm))
        gap, pin = math.dist((x, y), hole.at_mm), hole.hardware.diameter_mm
        if gap <= (d - pin) / 2 + _DUST_MM:
            continue
        near = f"the nearest hole in the drawing, {fine(d)} wide at {_place(scale, x, y)}, is {fine(gap)} off"
        text = f"the pin of {fine(pin)} does not go through the tang: {near}"
        remedy = "correct the pin's place or the drawing, or drill the tang to suit"
        found.append(
            _finding("warning", "pin-off-tang-hole", (f"pin {number}", _at(scale, hole)), text, remedy)
        )
    return tuple(found)


def by_level(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings with stops first, then warnings, then notes; those of one level keep their order."""
    order: dict[Level, int] = {"stop": 0, "warning": 1, "note": 2}
    return tuple(sorted(findings, key=lambda finding: order[finding.level]))


Spot = tuple[str, str]


def _finding(level: Level, code: str, spot: Spot, message: str, remedy: str) -> Finding:
    """A finding; ``spot`` is what it concerns and where."""
    about, where = spot
    return Finding(code=code, level=level, about=about, where=where, message=message, remedy=remedy)


def _shown(scale: Scale, digits: int, *, up: bool = False) -> Callable[[float], str]:
    """How lengths are shown: with so many decimals in mm, one more in inches; limits rounded ``up``."""
    units = scale.pattern.units
    places = digits + (units == "in")
    step_mm = (25.4 if units == "in" else 1.0) / 10**places
    return lambda mm: format_length(math.ceil(mm / step_mm - 1e-6) * step_mm if up else mm, units, places)


def _place(scale: Scale, x: float, y: float) -> str:
    size = _shown(scale, 2)
    return f"x = {size(x)}, y = {size(y)}"


def _at(scale: Scale, hole: Hole) -> str:
    return _place(scale, *hole.at_mm)


# ------------------------------------------------------------------------------------ stack and layers


def _readings(scale: Scale) -> Iterator[Finding]:
    stack, size = scale.stack, _shown(scale, 3)
    if not stack.measured_mm:
        text = (
            f"its thickness is only added up from the tables: {size(stack.nominal_mm)}"
            f" ± {size(stack.tolerance_mm)}, and the glue besides"
        )
        remedy = "measure the bonded blank in several places and give the readings with --measured"
        yield _finding("note", "stack-not-measured", ("stack", stack.name), text, remedy)
        return
    odd = [r for r in stack.measured_mm if not 1 / MISREAD <= r / stack.nominal_mm <= MISREAD]
    bonds = sum(layer.kind == "bond" for layer in stack.layers)
    if odd:
        text = (
            f"a reading of {size(odd[0])} can't be right where the tables add up to {size(stack.nominal_mm)}"
        )
        remedy = "check the readings, their unit and the stock"
        yield _finding("stop", "stack-misread", ("stack", stack.name), text, remedy)
    elif abs(stack.used_mm - stack.nominal_mm) > stack.tolerance_mm + BOND_RANGE_MM * bonds + _DUST_MM:
        text = f"it measures {size(stack.used_mm)} where sheets and glue add up to {size(stack.nominal_mm)}"
        remedy = "check that the readings are of this stack; the difference is put down to the face sheet"
        yield _finding("warning", "stack-unlike-tables", ("stack", stack.name), text, remedy)
    if stack.spread_mm > SPREAD_WARN_MM + _DUST_MM and not odd:
        used = size(stack.used_mm)
        text = f"the readings differ by {size(stack.spread_mm)}; the smallest, {used}, is counted on"
        wild = stack.spread_mm > SPREAD_STOP * stack.nominal_mm
        remedy = "check the readings; flatten the blank or use it where it is even"
        yield _finding("stop" if wild else "warning", "stack-uneven", ("stack", stack.name), text, remedy)


def _stack(scale: Scale) -> Iterator[Finding]:
    stack, size = scale.stack, _shown(scale, 3)
    if scale.faced_off_mm < -_DUST_MM:
        need = size(scale.thickness_mm + scale.back_allowance_mm)
        short = size(-scale.faced_off_mm)
        text = f"the scale needs {need} and the stack has {size(stack.used_mm)}: {short} short"
        remedy = "make the scale thinner, the back allowance smaller, or take a thicker stack"
        yield _finding("stop", "stack-too-thin", ("stack", stack.name), text, remedy)


def _layers(scale: Scale) -> Iterator[Finding]:
    size = _shown(scale, 3)
    back, cut = scale.stack.layers[0], scale.back_allowance_mm
    left, about = back.thickness_mm - cut, f'layer "{back.name}"'
    remedy = "use a smaller back allowance or a thicker liner"
    if left <= _DUST_MM:
        text = f"flattening the back takes {size(cut)} off, which is all {size(back.thickness_mm)} of it"
        yield _finding("stop", "liner-cut-away", (about, "back"), text, remedy)
    elif cut > 0 and left < THIN_LINER_MM - _DUST_MM:
        text = f"only {size(left)} of it is left when the back is flattened"
        yield _finding("warning", "liner-thin", (about, "back"), text, remedy)
    if len(scale.stack.layers) == 1:
        return
    face = scale.stack.layers[-1]
    below = scale.stack.used_mm - face.thickness_mm - cut
    left, about = scale.thickness_mm - below, f'layer "{face.name}"'
    remedy = "make the scale thicker, or use thinner layers under the face"
    if left <= _DUST_MM:
        text = (
            f"none of it is left at {size(scale.thickness_mm)}: the layers under it reach up to {size(below)}"
        )
        yield _finding("stop", "face-cut-away", (about, "face"), text, remedy)
    elif left < THIN_FACE_MM - _DUST_MM:
        text = f"only {size(left)} of it is left after facing"
        yield _finding("warning", "face-thin", (about, "face"), text, remedy)


def _trim(scale: Scale) -> Iterator[Finding]:
    trim, size = scale.pattern.trim_mm, _shown(scale, 2)
    if trim < THIN_TRIM_MM - _DUST_MM:
        text = f"{size(trim)} is left outside the outline: glued a little off, a scale leaves tang bare"
        yield _finding(
            "warning", "trim-thin", ("trim allowance", ""), text, f"leave {size(THIN_TRIM_MM)} or more"
        )


# ------------------------------------------------------------------------------------- front and edge


def _front(scale: Scale) -> Iterator[Finding]:
    front, top, size = scale.pattern.front, scale.thickness_mm, _shown(scale, 2)
    where = f"x = {size(front.at_mm)}"
    if front.treatment == "round" and front.radius_mm > top + _DUST_MM:
        text = f"a radius of {size(front.radius_mm)} does not go on a scale {size(top)} thick"
        remedy = (
            f"use a radius up to {size(top - FEATHER_MM)}" if top > FEATHER_MM else "make the scale thicker"
        )
        yield _finding("stop", "front-too-round", ("front", where), text, remedy)
        return
    if front.treatment == "bevel" and front.land_mm >= top - _DUST_MM:
        text = f"a land of {size(front.land_mm)} leaves nothing of a scale {size(top)} thick to bevel"
        yield _finding("stop", "front-no-bevel", ("front", where), text, "use a smaller land")
        return
    upright = {"bevel": front.land_mm, "round": top - front.radius_mm, "square": top}[front.treatment]
    if front.treatment != "square" and upright < FEATHER_MM - _DUST_MM:
        text = (
            f"under the {front.treatment} only {size(upright)} stands upright at the tang, and chips easily"
        )
        least = size(FEATHER_MM)
        remedy = (
            f"give it a land of {least} or more" if front.treatment == "bevel" else f"leave {least} under it"
        )
        yield _finding("warning", "front-feather", ("front", where), text, remedy)
    run = setback_mm(front, top, top)
    if not _reaches(scale, run):
        text = f"the {front.treatment} runs back {size(run)} and leaves nothing of the face"
        yield _finding("stop", "front-too-long", ("front", where), text, "make it steeper or shorter")


def _reaches(scale: Scale, run_mm: float) -> bool:
    """Whether anything of the outline lies behind the front's treatment."""
    try:
        return bool(clip_behind(scale.finished, front_curve(scale.pattern.front), run_mm))
    except GeometryError:
        return False


def _finished_plan(scale: Scale) -> tuple[Plan | None, tuple[Finding, ...]]:
    """The plan of the finished scale, and what is said when it or the as-cut one can't be made."""
    name = edge_name(scale.pattern.edge)
    try:
        plan_of(scale, finished=False)
        return plan_of(scale, finished=True), ()
    except GeometryError as error:
        about = name if error.where.startswith("scale.edge") else error.where.rpartition(".")[2]
        return None, (_finding("stop", "edge-does-not-fit", (about, ""), error.message, error.remedy),)


def _edge_layers(scale: Scale, plan: Plan | None) -> Iterator[Finding]:
    if not isinstance(plan, BodyPlan):
        return
    for span in scale.spans[:-1]:
        if plan.seat_mm < span.top_mm - _DUST_MM and span.kind != "bond":
            text = (
                f'it starts {_shown(scale, 2)(plan.seat_mm)} above the back and cuts into layer "{span.name}"'
            )
            remedy = "make it smaller if that layer is not meant to show on the edge"
            yield _finding("note", "edge-shows-layer", (edge_name(scale.pattern.edge), ""), text, remedy)


# ----------------------------------------------------------------------------------------------- pins


def _pins(scale: Scale, plan: Plan | None, shop: Shop) -> Iterator[Finding]:
    top = _top_face(plan) if isinstance(plan, BodyPlan) else None
    for number, hole in enumerate(scale.holes, start=1):
        spot = (f"pin {number}", _at(scale, hole))
        yield from _pin_edge(scale, hole, spot)
        if top is not None:
            yield from _pin_in_slope(top, hole, spot)
        yield from _pin_fit(scale, hole, spot, shop)
        yield from _pin_stock(scale, hole, spot)


def _pin_edge(scale: Scale, hole: Hole, spot: Spot) -> Iterator[Finding]:
    size, d = _shown(scale, 2), hole.hole_mm
    gap = edge_distance_mm(scale, hole)
    shown = f"its centre is {size(gap)} from the finished outline, {gap / d:.2f} times its hole"
    least = _shown(scale, 2, up=True)(EDGE_WARN * d)
    remedy = f"move it to {least} from the outline or more ({EDGE_WARN:g} times its hole)"
    if gap <= d / 2:
        text = "its centre lies outside the finished outline" if gap < 0 else f"{shown}: the hole breaks out"
        yield _finding("stop", "pin-breaks-out", spot, text, remedy)
    elif gap < EDGE_STOP * d - _DUST_MM:
        yield _finding("stop", "pin-edge-distance", spot, f"{shown}: it would split out", remedy)
    elif gap < EDGE_WARN * d - _DUST_MM:
        yield _finding("warning", "pin-edge-distance", spot, shown, remedy)


def _top_face(plan: BodyPlan) -> Ring | None:
    """The flat of the face, inside front and edge treatments; None when there is none to speak of."""
    try:
        parts = plan.section_at(plan.top_mm - 1e-9)
    except GeometryError:
        return None
    return parts[0] if parts else None


def _pin_in_slope(top: Ring, hole: Hole, spot: Spot) -> Iterator[Finding]:
    center = np.array([hole.at_mm])
    if not inside(top, center)[0] or float(distances_mm(top, center)[0]) < hole.hole_mm / 2 - _DUST_MM:
        text = "its hole comes out in the shaped front or edge, so its end will not lie flush in a flat"
        remedy = "move the pin, or make the front or edge treatment smaller"
        yield _finding("warning", "pin-in-slope", spot, text, remedy)


def _pin_fit(scale: Scale, hole: Hole, spot: Spot, shop: Shop) -> Iterator[Finding]:
    size, pin, least = _shown(scale, 3), hole.hardware, shop.rules.slip_fit_mm
    slip = hole.hole_mm - pin.diameter_mm
    remedy = f"leave {size(least)} between pin and hole, or let the tool choose the drill"
    if slip < 0:
        text = f"its hole of {size(hole.hole_mm)} is smaller than the pin of {size(pin.diameter_mm)}"
        yield _finding("stop", "pin-too-tight", spot, text, remedy)
    elif slip < least - _DUST_MM:
        text = f"its hole is only {size(slip)} larger than the pin; a tight pin scrapes the glue off"
        yield _finding("warning", "pin-too-tight", spot, text, remedy)
    elif slip > max(LOOSE_PIN_MM, least) + _DUST_MM:
        text = f"its hole is {size(slip)} larger than the pin: a ring of glue shows, and it may stand askew"
        yield _finding("warning", "pin-loose", spot, text, "use a smaller drill or a thicker pin")
    if hole.drill is None:
        text = f"no drill in the shop's sets makes its hole of {size(hole.hole_mm)}"
        remedy = "mill it, give it the size of a drill, or add a set to drill_series in shop.toml"
        yield _finding("note", "pin-no-drill", spot, text, remedy)


def _pin_stock(scale: Scale, hole: Hole, spot: Spot) -> Iterator[Finding]:
    size, pin = _shown(scale, 2), hole.hardware
    if 0 < pin.length_mm < hole.cut_length_mm - _DUST_MM:
        text = f'it must be {size(hole.cut_length_mm)} long, and "{pin.name}" is {size(pin.length_mm)}'
        yield _finding("stop", "pin-too-short", spot, text, "use longer stock or thinner scales")
    if pin.kind == "stepped":
        text = f'"{pin.name}" has a head, and the recess for it is not among what is cut here'
        remedy = "sink it by hand or in your CAM, from the face"
        yield _finding("warning", "pin-needs-recess", spot, text, remedy)


def _pitch(scale: Scale) -> Iterator[Finding]:
    size, limit = _shown(scale, 2), _shown(scale, 2, up=True)
    for i, one in enumerate(scale.holes):
        for j in range(i + 1, len(scale.holes)):
            other = scale.holes[j]
            pitch = math.dist(one.at_mm, other.at_mm)
            d = max(one.hole_mm, other.hole_mm)
            if pitch >= PITCH_WARN * d - _DUST_MM:
                continue
            wall = pitch - (one.hole_mm + other.hole_mm) / 2
            stands = f"{size(wall)} stands between the holes" if wall > 0 else "the holes run into each other"
            yield _finding(
                "stop" if wall < d / 2 else "warning",
                "pins-too-close",
                (f"pins {i + 1} and {j + 1}", _at(scale, one)),
                f"their centres are {size(pitch)} apart, {pitch / d:.2f} times the larger hole; {stands}",
                f"move them {limit(PITCH_WARN * d)} apart or more ({PITCH_WARN:g} times the hole)",
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
    grip, (low, high) = grip_diameter_mm(scale), GRIP_MM
    if low <= grip <= high:
        return
    thick = _shown(scale, 1)(scale.pattern.tang_mm + 2 * scale.thickness_mm)
    text = (
        f"{thick} thick in all, it is as far round as a round handle of {_shown(scale, 1)(grip)};"
        f" {'slimmer' if grip < low else 'fuller'} than the {format_length(low, units)} to"
        f" {format_length(high, units)} published for a firm grip (NIOSH 2004-164)"
    )
    remedy = "advice only: many good knives are slimmer, and hands differ"
    yield _finding("note", "grip-size", ("handle", ""), text, remedy)
