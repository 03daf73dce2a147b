"""A pattern and a measured stack become a Scale: every number resolved, nothing left to choose."""

import math
from dataclasses import dataclass

import numpy as np

from scalegen.errors import Fault, GeometryError, PatternError
from scalegen.face import FaceShape, face_shape
from scalegen.fields.words import suggest
from scalegen.layers import Span, Stepped, spans_of, stepped_of
from scalegen.model import Drill, Hardware, Pattern, PinSpec, Shop, Stack
from scalegen.outline.carry import behind_front, carried_on
from scalegen.outline.crossing import self_crossings
from scalegen.outline.front import clip_behind, front_curve
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.offset import grow
from scalegen.outline.ring import Ring
from scalegen.shop import choose_drill, find_drill
from scalegen.shop.drills import largest_drill
from scalegen.shop.match import least_hole_mm, pressed_hole_mm

__all__ = [
    "BLIND_PLAY_MM",
    "MOST_PRESS_MM",
    "Bore",
    "Hole",
    "Scale",
    "Span",
    "Stepped",
    "design",
    "edge_distance_mm",
]

BLIND_PLAY_MM = 0.5
"""How much shorter than its two holes a blind pin is cut, for glue and for the points of the drill. Our
choice; common practice, no source."""

MOST_PRESS_MM = 0.06
"""How much thicker than its hole a pressed pin may be. Our choice; common practice, no source."""

_STEEL_G_CM3 = 7.85


@dataclass(frozen=True, kw_only=True)
class Bore:
    """One diameter of a hole, between two heights above the finished back; infinite where it is open."""

    diameter_mm: float
    bottom_mm: float = -math.inf
    top_mm: float = math.inf


@dataclass(frozen=True, kw_only=True)
class Hole:
    """One hole with everything about it settled.

    Attributes:
        at_mm: Centre (x, y) in the pattern's frame.
        hole_mm: Diameter of the hole.
        drill: Drill that makes it, or None when it is to be milled.
        hardware: What goes through it; made up from the pattern's diameter when it is not in the tables.
        thickness_mm: Finished thickness of the scale at its centre.
        cut_length_mm: Length to cut the pin to: both scales, the tang and the allowance at both ends; for a
            blind pin what lies between the ends of its holes, less some play; 0 for a stepped fastener.
        head_hole_mm: Diameter of the recess for a head, 0 without one.
        seat_mm: Height of that recess's floor above the finished back.
        end_mm: Height at which a blind hole ends; infinite for one that goes through.
        slip_mm: What the hole is to be larger than its hardware, at least; None for the shop's slip fit;
            below 0 for a pressed pin, which it is to be smaller than by as much at least.
        is_pressed: Whether its hardware is driven into a hole smaller than itself.
    """

    at_mm: tuple[float, float]
    hole_mm: float
    drill: Drill | None
    hardware: Hardware
    thickness_mm: float
    cut_length_mm: float
    head_hole_mm: float = 0.0
    seat_mm: float = 0.0
    end_mm: float = math.inf
    slip_mm: float | None = None
    is_pressed: bool = False

    @property
    def is_blind(self) -> bool:
        """Whether it stops under the face."""
        return self.end_mm < math.inf

    @property
    def bores(self) -> tuple[Bore, ...]:
        """What it takes away, widest last."""
        shank = Bore(diameter_mm=self.hole_mm, top_mm=self.end_mm)
        if not self.head_hole_mm:
            return (shank,)
        return (shank, Bore(diameter_mm=self.head_hole_mm, bottom_mm=self.seat_mm))

    @property
    def widest_mm(self) -> float:
        """Diameter of what shows in the face."""
        return max(self.hole_mm, self.head_hole_mm)


@dataclass(frozen=True, kw_only=True, eq=False)
class Scale:
    """One handle scale, as the left one lies on the bed: back at z = 0, x to the butt, y to the spine.

    Attributes:
        pattern: What it was made from.
        stack: Blank it is cut from.
        tang: Tang outline as read.
        carried: Tang outline behind the front, carried on straight ahead of it; everything grows from it.
        finished: Tang outline behind the front line.
        as_cut: Grown by the trim allowance, behind the front line moved ahead by the front allowance.
        face: Shape of the outer side.
        thickness_mm: Finished thickness where it is thickest.
        back_allowance_mm: Extra at the back; the as-cut solid starts at minus this.
        spans: Layers from back to face as cut (the first starts at minus the back allowance, the last
            ends at the thickness).
        holes: Holes in the pattern's order.
        faced_off_mm: What is taken off the blank's face to come to the thickness.
        stepped: Layers at the back with an outline of their own, or None. The outlines above are those of
            the layers over them.
    """

    pattern: Pattern
    stack: Stack
    tang: Ring
    carried: Ring
    finished: Ring
    as_cut: Ring
    face: FaceShape
    thickness_mm: float
    back_allowance_mm: float
    spans: tuple[Span, ...]
    holes: tuple[Hole, ...]
    faced_off_mm: float
    stepped: Stepped | None = None

    @property
    def footprint(self) -> Ring:
        """What the scale as cut covers of the blank: the outline of its widest layers."""
        proud = self.stepped is not None and self.stepped.step_mm > 0
        return self.stepped.as_cut if self.stepped and proud else self.as_cut

    @property
    def glued(self) -> Ring:
        """What of the finished scale lies on the tang: no more than the tang has."""
        inset = self.stepped is not None and self.stepped.step_mm < 0
        return self.stepped.finished if self.stepped and inset else self.finished

    def step_mm(self, span: int) -> float:
        """How far a span, counted from 0 at the back, stands beyond the finished outline."""
        return self.stepped.step_mm if self.stepped and span < self.stepped.count else 0.0


def design(pattern: Pattern, tang: Ring, stack: Stack, shop: Shop) -> Scale:
    """Resolve a pattern, its outline and a stack into one scale.

    Args:
        pattern: As read.
        tang: Its outline in mm.
        stack: Blank it is to be cut from.
        shop: Tables for hardware, drills and fits.

    Returns:
        The scale. Whether it should be cut is for ``checks`` to say.

    Raises:
        GeometryError: Outline and front don't make a scale, or the stack has no thickness left.
        PatternError: Hardware that the tables don't have; names every pin that asks for it.
    """
    _require_plain(tang)
    curve = front_curve(pattern.front)
    finished = behind_front(tang, curve)
    edge = pattern.edge.size_mm
    step = abs(pattern.liner.step_mm) if pattern.liner else 0.0
    ahead = pattern.front.allowance_mm + pattern.trim_mm + 2 * edge + step + 4.0
    carried = carried_on(finished, curve, ahead, 2 * max(edge, step) + 1.0)
    grown = grow(carried, pattern.trim_mm) if pattern.trim_mm else carried
    as_cut = clip_behind(grown, curve, -pattern.front.allowance_mm)
    if len(as_cut) != 1:
        raise GeometryError(
            f"with its trim allowance the outline is in {len(as_cut)} pieces behind the front line",
            where="front.at",
            remedy="check the outline near the front line",
        )
    available = stack.used_mm - pattern.back_allowance_mm
    face = face_shape(pattern.face, pattern.thickness_mm, available, finished)
    thickness = face.thickness_mm
    if thickness <= 0:
        raise GeometryError(
            f"the stack of {stack.used_mm:.3f} mm leaves nothing above the back allowance"
            f" of {pattern.back_allowance_mm:g} mm",
            where="scale.thickness",
            remedy="use a thicker stack or a smaller back allowance",
        )
    spans = spans_of(stack, pattern.back_allowance_mm, thickness)
    return Scale(
        pattern=pattern,
        stack=stack,
        tang=tang,
        carried=carried,
        finished=finished,
        as_cut=as_cut[0],
        face=face,
        thickness_mm=thickness,
        back_allowance_mm=pattern.back_allowance_mm,
        spans=spans,
        holes=_holes(pattern, face, shop),
        faced_off_mm=available - thickness,
        stepped=stepped_of(pattern, carried, stack, spans),
    )


def edge_distance_mm(scale: Scale, hole: Hole) -> float:
    """From a hole's centre to the finished outline; negative when the centre lies outside it."""
    center = np.array([hole.at_mm])
    gap = float(distances_mm(scale.finished, center)[0])
    return gap if inside(scale.finished, center)[0] else -gap


def _require_plain(tang: Ring) -> None:
    places = self_crossings(tang)
    if len(places):
        shown = "; ".join(f"x = {x:.2f}, y = {y:.2f}" for x, y in places[:4])
        more = f" and {len(places) - 4} more" if len(places) > 4 else ""
        raise GeometryError(
            f"the outline crosses or touches itself at {shown}{more} (mm)",
            where="tang.outline",
            remedy="correct the drawing there; an outline goes round once",
        )


def _holes(pattern: Pattern, face: FaceShape, shop: Shop) -> tuple[Hole, ...]:
    holes, faults = [], []
    for number, pin in enumerate(pattern.pins, start=1):
        hardware = _hardware(pin, shop)
        if hardware is None:
            hint = suggest(pin.hardware or "", shop.hardware)
            faults.append(
                Fault(
                    file=str(pattern.path),
                    field=f"pin[{number}].hardware",
                    found=f'"{pin.hardware}" is not in the hardware table',
                    allowed=f"one of {', '.join(sorted(shop.hardware))}",
                    hint=hint,
                )
            )
            continue
        misfit = _misfit(pin, hardware)
        if misfit is not None:
            key, found, remedy = misfit
            field = f"pin[{number}].{key}"
            faults.append(Fault(file=str(pattern.path), field=field, found=found, allowed=remedy))
            continue
        thickness = float(face.height_mm(np.array([pin.at_mm]))[0])
        holes.append(_placed_hole(pattern, pin, hardware, thickness, shop))
    if faults:
        raise PatternError(f"{len(faults)} fault{'' if len(faults) == 1 else 's'}", faults=faults)
    return tuple(holes)


def _misfit(pin: PinSpec, hardware: Hardware) -> tuple[str, str, str] | None:
    """What does not go together: the key, what is wrong with it, what to do."""
    if pin.head_depth_mm is not None and hardware.kind != "stepped":
        return "head_depth", f'"{hardware.name}" has no head', "leave it out, or take a stepped fastener"
    if pin.cover_mm is not None and hardware.kind == "stepped":
        return "cover", f'"{hardware.name}" has a head in the face', "leave it out, or take a pin"
    return None


def _placed_hole(pattern: Pattern, pin: PinSpec, hardware: Hardware, thickness_mm: float, shop: Shop) -> Hole:
    """A hole with its bores and the length of what goes into it."""
    drill, hole_mm = _hole_size(pin, hardware, shop)
    head_mm, seat_mm, end_mm = 0.0, 0.0, math.inf
    length_mm = pattern.tang_mm + 2 * thickness_mm + 2 * hardware.end_allowance_mm
    if hardware.kind == "stepped":
        depth_mm = hardware.head_height_mm if pin.head_depth_mm is None else pin.head_depth_mm
        head_mm, seat_mm = hardware.head_mm + shop.rules.slip_fit_mm, thickness_mm - depth_mm
        length_mm = 0.0
    if pin.cover_mm is not None:
        end_mm = thickness_mm - pin.cover_mm
        length_mm = pattern.tang_mm + 2 * end_mm - BLIND_PLAY_MM
    return Hole(
        at_mm=pin.at_mm,
        hole_mm=hole_mm,
        drill=drill,
        hardware=hardware,
        thickness_mm=thickness_mm,
        cut_length_mm=length_mm,
        head_hole_mm=head_mm,
        seat_mm=seat_mm,
        end_mm=end_mm,
        slip_mm={"close": shop.rules.close_fit_mm, "press": -shop.rules.press_fit_mm}.get(pin.fit or ""),
        is_pressed=pin.fit == "press",
    )


def _hardware(pin: PinSpec, shop: Shop) -> Hardware | None:
    if pin.hardware is not None:
        return shop.hardware.get(pin.hardware)
    diameter = pin.diameter_mm or 0.0
    return Hardware(
        name=f"pin {diameter:g} mm",
        kind="pin",
        material="as supplied",
        nominal_mm=diameter,
        diameter_mm=diameter,
        bore_mm=0.0,
        length_mm=0.0,
        end_allowance_mm=1.0,
        density_g_cm3=_STEEL_G_CM3,
        color="#b5a642",
        price=None,
        source="diameter stated in the pattern",
    )


def _hole_size(pin: PinSpec, hardware: Hardware, shop: Shop) -> tuple[Drill | None, float]:
    """The drill and the hole it leaves: as stated, or the smallest drill that gives the slip fit."""
    if pin.drill is not None:
        stated = find_drill(pin.drill)
        return stated, stated.diameter_mm
    if pin.hole_mm is not None:
        exact = choose_drill(pin.hole_mm, shop.rules.drill_series)
        fits = exact is not None and abs(exact.diameter_mm - pin.hole_mm) < 1e-6
        return (exact if fits else None), pin.hole_mm
    if pin.fit == "press":
        most = pressed_hole_mm(hardware, shop)
        drill = largest_drill(most, shop.rules.drill_series)
        # A drill far under the pin would split the scale; then the hole is milled or reamed to size.
        near = drill and hardware.diameter_mm + hardware.tolerance_mm - drill.diameter_mm <= MOST_PRESS_MM
        return (drill, drill.diameter_mm) if drill and near else (None, most)
    least = least_hole_mm(hardware, shop, pin.fit)
    drill = choose_drill(least, shop.rules.drill_series)
    return drill, drill.diameter_mm if drill else least
