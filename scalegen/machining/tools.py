"""Which of the cutters at hand does what, and why."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scalegen.design import Hole
from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.form.grooves import Grooves
from scalegen.machining.corners import smallest_inside
from scalegen.machining.cutter_shape import CutterShape, ball, drill, flat, shape_of
from scalegen.model import Cutter, Units
from scalegen.outline.ring import Ring
from scalegen.units import format_length

SAME_WIDTH_MM = 0.02
"""A cutter is as wide as a groove asks for when it is no more off than this. Common practice, no source."""

_WORTH_A_CHANGE = 2.0
"""How much wider a cutter must be to be worth a change and a touch-off. Common practice, no source."""

_SLACK_MM = 1e-9


@dataclass(frozen=True, kw_only=True)
class Tool:
    """What a stage is cut with.

    Attributes:
        name: Of the cutter or drill; of a cutter that is not at hand what it must be.
        shape: Its envelope.
        reason: Why it.
        cutter: Its row in the shop tables; None for a drill, and for what is not at hand.
        is_at_hand: Whether the shop has it; drills are taken to be in the drawer.
    """

    name: str
    shape: CutterShape
    reason: str
    cutter: Cutter | None = None
    is_at_hand: bool = True

    @property
    def diameter_mm(self) -> float:
        """Largest cutting diameter."""
        return 2 * self.shape.radius_mm


def tool_of(cutter: Cutter, reason: str) -> Tool:
    """A cutter of the tables."""
    return Tool(name=cutter.name, shape=shape_of(cutter), reason=reason, cutter=cutter)


def named(name: str, cutters: Mapping[str, Cutter]) -> Cutter:
    """A cutter by its name.

    Raises:
        UsageError: It is not in the tables; lists those that are.
    """
    cutter = cutters.get(name)
    if cutter is None:
        hint = suggest(name, cutters)
        raise UsageError(
            f'there is no cutter "{name}" in the shop tables',
            where="cutter",
            remedy=f"{hint} the cutters are: {', '.join(sorted(cutters))}".strip(),
        )
    return cutter


def facing_tool(cutters: Iterable[Cutter], round_cutter: Cutter) -> Tool:
    """A flat cutter for a level face: the one that goes round, unless another is much wider."""
    flats = [each for each in cutters if each.kind == "flat"]
    widest = max(flats, key=lambda each: (each.diameter_mm, each.name), default=round_cutter)
    if round_cutter.kind == "flat" and widest.diameter_mm < _WORTH_A_CHANGE * round_cutter.diameter_mm:
        return tool_of(round_cutter, "flat for a level face; it goes round the parts too, so no change")
    return tool_of(widest, "flat for a level face; the widest at hand, for the fewest passes")


def finishing_tool(
    cutters: Iterable[Cutter], ring: Ring, *, gap_mm: float, depth_mm: float, units: Units
) -> Tool | None:
    """A ball or tapered cutter for curved and sloping places, or None where none at hand serves.

    Args:
        cutters: At hand.
        ring: Outline that it goes along, for its inside radii.
        gap_mm: Between two parts, where it must pass.
        depth_mm: How deep it goes below the top of the blank.
        units: For the reason.
    """
    bend = smallest_inside(ring)
    inside_mm = bend.radius_mm if bend is not None and bend.kind == "bend" else math.inf
    fits = [
        each
        for each in cutters
        if each.kind in {"ball", "tapered"}
        and each.tip_radius_mm > 0
        and each.diameter_mm <= gap_mm + _SLACK_MM
        and each.diameter_mm / 2 <= inside_mm + _SLACK_MM
        and each.flute_mm >= depth_mm - _SLACK_MM
    ]
    if not fits:
        return None
    best = max(fits, key=lambda each: (each.tip_radius_mm, each.kind == "ball", each.name))
    word = "ball" if best.kind == "ball" else "rounded tip"
    gap, depth = format_length(gap_mm, units, 2), format_length(depth_mm, units, 2)
    return tool_of(
        best,
        f"{word} for curved and sloping places; the largest tip that passes between parts {gap} apart and"
        f" has flutes for {depth}",
    )


def foot_tool(cutters: Iterable[Cutter], round_cutter: Cutter) -> Tool | None:
    """A flat cutter for what a ball leaves at the foot of a rounded edge, or None where there is none."""
    words = "flat, for the square foot between edge and flange that a rounded tip does not reach"
    if round_cutter.kind == "flat":
        return tool_of(round_cutter, words)
    flats = [each for each in cutters if each.kind == "flat"]
    thin = min(flats, key=lambda each: (each.diameter_mm, each.name), default=None)
    return None if thin is None else tool_of(thin, words)


def groove_tool(cutters: Iterable[Cutter], grooves: Grooves, units: Units) -> Tool:
    """The cutter whose width makes the grooves."""
    kind = "ball" if grooves.ball else "flat"
    for each in cutters:
        if each.kind == kind and abs(each.diameter_mm - grooves.width_mm) <= SAME_WIDTH_MM:
            return tool_of(each, "as wide as the pattern's grooves")
    width = format_length(grooves.width_mm, units, 2)
    make = ball if grooves.ball else flat
    name = f"{kind} cutter of {width}"
    words = "the pattern asks for this width, and none at hand has it"
    return Tool(name=name, shape=make(grooves.width_mm, name), reason=words, is_at_hand=False)


def pocket_tool(cutters: Iterable[Cutter], size_mm: float, depth_mm: float, units: Units) -> Tool:
    """The widest flat cutter that enters a round recess or hole and has flutes for its depth."""
    wide = format_length(size_mm, units, 2)
    enter = [each for each in cutters if each.kind == "flat" and each.diameter_mm <= size_mm + _SLACK_MM]
    long = [each for each in enter if each.flute_mm >= depth_mm - _SLACK_MM]
    best = max(long or enter, key=lambda each: (each.diameter_mm, each.name), default=None)
    if best is not None:
        return tool_of(best, f"flat; the widest at hand that enters {wide}")
    name = f"flat cutter up to {wide}"
    words = f"no flat cutter at hand enters {wide}"
    return Tool(name=name, shape=flat(size_mm, name), reason=words, is_at_hand=False)


def drill_tool(hole: Hole, point_rad: float) -> Tool | None:
    """The drill that a hole is made with, or None where it is to be milled."""
    if hole.drill is None:
        return None
    name = f"drill {hole.drill.designation}"
    reason = "the drill that gives the pin its fit"
    return Tool(name=name, shape=drill(hole.hole_mm, point_rad, name=name), reason=reason)
