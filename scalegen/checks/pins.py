"""Findings about pins and their holes."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from scalegen.checks.common import DUST_MM, Spot, finding, hole_at, place_of, shown
from scalegen.design import MOST_PRESS_MM, Hole, Scale, edge_distance_mm
from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan
from scalegen.form.draped import DrapedPlan
from scalegen.form.plans import Plan
from scalegen.model import Finding, Shop
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import Ring

EDGE_WARN = 2.5
"""Edge distance in hole diameters below which a hole is warned of. Source: airframe practice for
composites, 2.5 d + 0.05 in, as quoted by engineers; NDS and MIL-HDBK-17 give 1.5 d to 3 d."""

EDGE_STOP = 1.5
"""Edge distance in hole diameters below which the job stops. Source: NDS for wood, from memory."""

PITCH_WARN = 3.0
"""Hole spacing in diameters below which it is warned of. Source: NDS, between rows, from memory."""

_ROUND = 48

LEAST_UNDER_HEAD_MM = 1.5
LEAST_COVER_MM = 1.0
"""What is left under a head, and over a blind pin, below which it is warned of. Our choice; common practice,
no source."""

LOOSE_PIN_MM = 0.25
"""Slip of a pin above which it is warned of. Our choice; common practice, no source."""


def check_tang_holes(scale: Scale, drawn: Sequence[tuple[float, float, float]]) -> tuple[Finding, ...]:
    """Findings about pins that miss the holes drawn in the tang; none when the drawing has no holes.

    Args:
        scale: As designed.
        drawn: Circles inside the tang outline: x, y, diameter in mm.
    """
    fine = shown(scale, 2)
    found = []
    for number, hole in enumerate(scale.holes, start=1):
        if not drawn:
            break
        x, y, d = min(drawn, key=lambda circle: math.dist(circle[:2], hole.at_mm))
        gap, pin = math.dist((x, y), hole.at_mm), hole.hardware.diameter_mm
        if gap <= (d - pin) / 2 + DUST_MM:
            continue
        near = (
            f"the nearest hole in the drawing, {fine(d)} wide at {place_of(scale, x, y)}, is {fine(gap)} off"
        )
        text = f"the pin of {fine(pin)} does not go through the tang: {near}"
        remedy = "correct the pin's place or the drawing, or drill the tang to suit"
        found.append(
            finding("warning", "pin-off-tang-hole", (f"pin {number}", hole_at(scale, hole)), text, remedy)
        )
    return tuple(found)


def pins(scale: Scale, plan: Plan | None, shop: Shop) -> Iterator[Finding]:
    """Findings about each pin."""
    top = _top_face(plan) if isinstance(plan, BodyPlan) else None
    draped = plan if isinstance(plan, DrapedPlan) else None
    for number, hole in enumerate(scale.holes, start=1):
        spot = (f"pin {number}", hole_at(scale, hole))
        yield from _pin_edge(scale, hole, spot)
        yield from _pin_depth(scale, hole, spot)
        if top is not None and not hole.is_blind:
            yield from _pin_in_slope(top, hole, spot)
        if draped is not None and not hole.is_blind:
            yield from _pin_in_treatment(draped, hole, spot)
        yield from _pin_fit(scale, hole, spot, shop)
        yield from _pin_stock(scale, hole, spot)


def _pin_edge(scale: Scale, hole: Hole, spot: Spot) -> Iterator[Finding]:
    size, d = shown(scale, 2), hole.hole_mm
    gap = edge_distance_mm(scale, hole)
    told = f"its centre is {size(gap)} from the finished outline, {gap / d:.2f} times its hole"
    least = shown(scale, 2, up=True)(EDGE_WARN * d)
    remedy = f"move it to {least} from the outline or more ({EDGE_WARN:g} times its hole)"
    if gap <= d / 2:
        text = "its centre lies outside the finished outline" if gap < 0 else f"{told}: the hole breaks out"
        yield finding("stop", "pin-breaks-out", spot, text, remedy)
    elif gap < EDGE_STOP * d - DUST_MM:
        yield finding("stop", "pin-edge-distance", spot, f"{told}: it would split out", remedy)
    elif gap < EDGE_WARN * d - DUST_MM:
        yield finding("warning", "pin-edge-distance", spot, told, remedy)


def _pin_depth(scale: Scale, hole: Hole, spot: Spot) -> Iterator[Finding]:
    """Recesses that go too deep, and blind holes that go too far or not far enough."""
    size = shown(scale, 2)
    if hole.head_hole_mm:
        gap = edge_distance_mm(scale, hole)
        if gap <= hole.head_hole_mm / 2:
            text = f"the recess for its head, {size(hole.head_hole_mm)} wide, breaks out of the outline"
            yield finding("stop", "head-breaks-out", spot, text, "move it inwards or take a smaller head")
        if hole.hole_mm >= hole.hardware.head_mm - DUST_MM:
            text = f"its head of {size(hole.hardware.head_mm)} falls through the hole of {size(hole.hole_mm)}"
            yield finding("stop", "head-falls-through", spot, text, "use a smaller drill or a larger head")
        proud = hole.hardware.head_height_mm - (hole.thickness_mm - hole.seat_mm)
        if proud > DUST_MM:
            text = f"its head stands {size(proud)} above the face"
            remedy = "sink it deeper if it is not meant to be sanded off"
            yield finding("note", "head-stands-proud", spot, text, remedy)
        liner = scale.spans[0].top_mm if len(scale.spans) > 1 else 0.0
        if hole.seat_mm <= liner + DUST_MM:
            text = f"its head sits {size(hole.seat_mm)} above the back, down in the liner or through it"
            yield finding("stop", "head-too-deep", spot, text, "sink it less deep or make the scale thicker")
        elif hole.seat_mm < LEAST_UNDER_HEAD_MM - DUST_MM:
            text = f"only {size(hole.seat_mm)} is left under its head to hold the scale"
            yield finding(
                "warning", "head-too-deep", spot, text, "sink it less deep or make the scale thicker"
            )
    if hole.is_blind:
        cover = hole.thickness_mm - hole.end_mm
        if hole.end_mm <= DUST_MM:
            text = f"with {size(cover)} of cover nothing is left of a hole in {size(hole.thickness_mm)}"
            yield finding("stop", "blind-no-hole", spot, text, "leave less cover")
            return
        if cover < LEAST_COVER_MM - DUST_MM:
            text = f"only {size(cover)} of face is left over it, and the point of a drill goes deeper"
            yield finding("warning", "blind-cover-thin", spot, text, f"leave {size(LEAST_COVER_MM)} or more")
        if hole.end_mm < hole.hardware.diameter_mm - DUST_MM:
            text = f"it holds in {size(hole.end_mm)} of the scale, less than its own diameter"
            yield finding("warning", "blind-shallow", spot, text, "leave less cover or take a thinner pin")


def _top_face(plan: BodyPlan) -> Ring | None:
    """The flat of the face, inside front and edge treatments; None when there is none to speak of."""
    try:
        parts = plan.section_at(plan.top_mm - 1e-9)
    except GeometryError:
        return None
    return parts[0] if parts else None


def _pin_in_slope(top: Ring, hole: Hole, spot: Spot) -> Iterator[Finding]:
    center = np.array([hole.at_mm])
    if not inside(top, center)[0] or float(distances_mm(top, center)[0]) < hole.widest_mm / 2 - DUST_MM:
        text = "its hole comes out in the shaped front or edge, so its end will not lie flush in a flat"
        remedy = "move the pin, or make the front or edge treatment smaller"
        yield finding("warning", "pin-in-slope", spot, text, remedy)


def _pin_in_treatment(plan: DrapedPlan, hole: Hole, spot: Spot) -> Iterator[Finding]:
    """As :func:`_pin_in_slope`, on a face that is not flat: round about the hole there must be face alone."""
    turn = np.linspace(0.0, 2 * math.pi, _ROUND, endpoint=False)
    around = np.array(hole.at_mm) + hole.widest_mm / 2 * np.column_stack([np.cos(turn), np.sin(turn)])
    low = plan.face.height_mm(around) - plan.top_at_mm(around)
    if low.max() > DUST_MM:
        text = "its hole comes out in the shaped front or edge, so its end will not lie flush with the face"
        remedy = "move the pin, or make the front or edge treatment smaller"
        yield finding("warning", "pin-in-slope", spot, text, remedy)


def _pin_fit(scale: Scale, hole: Hole, spot: Spot, shop: Shop) -> Iterator[Finding]:
    size, pin = shown(scale, 3), hole.hardware
    if hole.is_pressed:
        yield from _pin_pressed(scale, hole, spot)
        return
    least = hole.slip_mm if hole.slip_mm is not None else shop.rules.slip_fit_mm
    # The thickest piece must go in; only what the tightest has over is loose.
    slip = hole.hole_mm - pin.diameter_mm - pin.tolerance_mm
    remedy = f"leave {size(least)} between pin and hole, or let the tool choose the drill"
    if slip < 0:
        text = f"its hole of {size(hole.hole_mm)} is smaller than the pin of {size(pin.diameter_mm)}"
        yield finding("stop", "pin-too-tight", spot, text, remedy)
    elif slip < least - DUST_MM:
        text = f"its hole is only {size(slip)} larger than the pin; a tight pin scrapes the glue off"
        yield finding("warning", "pin-too-tight", spot, text, remedy)
    elif slip > max(LOOSE_PIN_MM, least) + DUST_MM:
        text = f"its hole is {size(slip)} larger than the pin: a ring of glue shows, and it may stand askew"
        yield finding("warning", "pin-loose", spot, text, "use a smaller drill or a thicker pin")
    yield from _pin_drill(scale, hole, spot)


def _pin_pressed(scale: Scale, hole: Hole, spot: Spot) -> Iterator[Finding]:
    """A pin that is driven in: held at all, not wedged, and never in anything brittle."""
    size, pin, least = shown(scale, 3), hole.hardware, -(hole.slip_mm or 0.0)
    press = pin.diameter_mm - hole.hole_mm
    most = press + pin.tolerance_mm
    if press < least - DUST_MM or press <= DUST_MM:
        text = f"its hole of {size(hole.hole_mm)} does not hold a pin of {size(pin.diameter_mm)} by itself"
        remedy = f"make the hole {size(least)} smaller than the pin, or leave the press fit out and glue it"
        yield finding("warning", "pin-not-pressed", spot, text, remedy)
    elif most > MOST_PRESS_MM + DUST_MM:
        text = f"it is up to {size(most)} thicker than its hole: driven in, it would split the scale"
        remedy = f"make the hole no more than {size(MOST_PRESS_MM)} smaller than the thickest pin"
        yield finding("stop", "pin-too-tight", spot, text, remedy)
    else:
        text = f"it is driven into a hole {size(press)} smaller than itself, and brittle material can split"
        remedy = 'try it on an offcut of the same stack first, or use fit = "slip" and glue'
        yield finding("warning", "pin-pressed", spot, text, remedy)
    yield from _pin_drill(scale, hole, spot)


def _pin_drill(scale: Scale, hole: Hole, spot: Spot) -> Iterator[Finding]:
    if hole.drill is None:
        text = f"no drill in the shop's sets makes its hole of {shown(scale, 3)(hole.hole_mm)}"
        remedy = "mill it, give it the size of a drill, or add a set to drill_series in shop.toml"
        yield finding("note", "pin-no-drill", spot, text, remedy)


def _pin_stock(scale: Scale, hole: Hole, spot: Spot) -> Iterator[Finding]:
    size, pin = shown(scale, 2), hole.hardware
    if 0 < pin.length_mm < hole.cut_length_mm - DUST_MM:
        text = f'it must be {size(hole.cut_length_mm)} long, and "{pin.name}" is {size(pin.length_mm)}'
        yield finding("stop", "pin-too-short", spot, text, "use longer stock or thinner scales")
    if pin.kind == "stepped" and pin.grip_mm is not None:
        least, most = pin.grip_mm
        grip = scale.pattern.tang_mm + 2 * hole.seat_mm
        if not least - DUST_MM <= grip <= most + DUST_MM:
            span = f"{size(least)} to {size(most)}"
            text = f'its heads sit {size(grip)} apart, and "{pin.name}" closes from {span}'
            remedy = "sink the heads deeper or less deep, or take another length"
            yield finding("stop", "fastener-grip", spot, text, remedy)


def pitch(scale: Scale) -> Iterator[Finding]:
    """Findings about pins that stand too near each other."""
    size, limit = shown(scale, 2), shown(scale, 2, up=True)
    for i, one in enumerate(scale.holes):
        for j in range(i + 1, len(scale.holes)):
            other = scale.holes[j]
            pitch = math.dist(one.at_mm, other.at_mm)
            d = max(one.widest_mm, other.widest_mm)
            if pitch >= PITCH_WARN * d - DUST_MM:
                continue
            wall = pitch - (one.widest_mm + other.widest_mm) / 2
            stands = f"{size(wall)} stands between the holes" if wall > 0 else "the holes run into each other"
            yield finding(
                "stop" if wall < d / 2 else "warning",
                "pins-too-close",
                (f"pins {i + 1} and {j + 1}", hole_at(scale, one)),
                f"their centres are {size(pitch)} apart, {pitch / d:.2f} times the larger hole; {stands}",
                f"move them {limit(PITCH_WARN * d)} apart or more ({PITCH_WARN:g} times the hole)",
            )
