"""A pattern carried over to a stack of another thickness, and what that changes.

Places never move: outline, front line, pins, trim and allowances stay. What goes up from the tang follows the
thickness by the rules in the pattern's ``[restock]`` table.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from scalegen.checks.front import thinnest_at_front_mm
from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.face import crown_height_mm
from scalegen.form.plans import plan_of
from scalegen.form.storeys import wall_over_mm
from scalegen.layers import Stepped
from scalegen.model import Crown, Edge, Face, Front, JobSpec, Pattern, PinSpec, Restock, Stations
from scalegen.outline.front import setback_mm
from scalegen.outline.measure import sampled
from scalegen.report.record import finding_records
from scalegen.report.record_scale import Data, reveal_records
from scalegen.shop import resolve_stack
from scalegen.study import Study, study
from scalegen.units import format_length

_SAME = 5e-7
_SAMPLE_MM = 0.5

Value = float | str | None


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison:
    """A pattern as it was made for one stack and carried over to another.

    Attributes:
        before: The pattern as it is, on the stack it was made for.
        after: The pattern carried over, on the stack as measured.
        rules: What was asked of each number.
        old: Every number before.
        new: Every number after.
    """

    before: Study
    after: Study
    rules: Restock
    old: Mapping[str, Value]
    new: Mapping[str, Value]


def compare(before: Study, measured: JobSpec, rules: Restock | None = None) -> Comparison:
    """Carry a pattern over to a measured stack.

    Args:
        before: The pattern on the stack it was made for.
        measured: Readings of the new stack, and its name where it is another.
        rules: Instead of the pattern's own.

    Raises:
        GeometryError: Nothing is left of the scale.
        UsageError: A reading can't be right.
    """
    rules = asked = rules or before.scale.pattern.restock
    if before.scale.pattern.thickness_mm is None:
        rules = replace(rules, thickness="follow")  # a scale as thick as its stack has nothing to keep
    stock = measured.stock or before.scale.stack.name
    stack = resolve_stack(before.shop, stock, measured.measured_mm)
    moved = stack.used_mm - before.scale.stack.used_mm
    # What was asked for goes with the pattern, so that the next stack is met by the same rules.
    carried = replace(restocked(before.scale, moved, rules), restock=asked)
    after = study(carried, before.outline, measured, before.shop)
    return Comparison(before=before, after=after, rules=rules, old=numbers(before), new=numbers(after))


# ------------------------------------------------------------------------------------------- the rules


def restocked(scale: Scale, moved_mm: float, rules: Restock) -> Pattern:
    """The pattern for a stack that is thicker by ``moved_mm``.

    Raises:
        GeometryError: Nothing is left of the scale.
    """
    pattern, old = scale.pattern, scale.thickness_mm
    new = old + moved_mm
    if rules.thickness == "keep" and pattern.thickness_mm is not None:
        new = old
    if new <= 0:
        raise GeometryError(
            f"a stack thinner by {format_length(-moved_mm, pattern.units, 3)} leaves nothing of a scale of"
            f" {format_length(old, pattern.units, 3)}",
            where="scale.thickness",
            remedy="take a thicker stack",
        )
    share = new / old
    face = _face(scale, new, rules)
    thickness = None
    if pattern.thickness_mm is not None:
        thickness = max((t for _, t in face.swell), default=new)
    return replace(
        pattern,
        thickness_mm=thickness,
        face=face,
        front=_front(pattern.front, old, new, rules),
        edge=_edge(pattern.edge, share if rules.sizes == "share" else 1.0),
        pins=tuple(_pin(pin, share if rules.heads == "share" else 1.0, scale) for pin in pattern.pins),
    )


def _face(scale: Scale, new_mm: float, rules: Restock) -> Face:
    face, old = scale.pattern.face, scale.thickness_mm
    crown, height = face.crown, crown_height_mm(scale.face, scale.finished)
    if crown is not None and rules.crown != "keep":
        wanted = height * new_mm / old if rules.crown == "share" else height + new_mm - old
        if wanted <= 0:
            raise GeometryError(
                f"with its sides kept the crown of {height:.3f} mm is used up by a scale thinner by"
                f" {old - new_mm:.3f} mm",
                where="restock.crown",
                remedy='use crown = "keep" or "share"',
            )
        crown = Crown(height_mm=wanted, at_mm=crown.at_mm, angle_rad=crown.angle_rad)
    if rules.swell == "share":
        swell = _scaled(face.swell, new_mm / old)
    else:
        swell = tuple((x, t + new_mm - old) for x, t in face.swell)
    if any(t <= 0 for _, t in swell):
        raise GeometryError(
            "the swell's thinnest station is used up", where="scale.swell", remedy="take a thicker stack"
        )
    return Face(crown=crown, swell=swell)


def _front(front: Front, old_mm: float, new_mm: float, rules: Restock) -> Front:
    size = new_mm / old_mm if rules.sizes == "share" else 1.0
    land = front.land_mm * (new_mm / old_mm if rules.land == "share" else 1.0)
    slope = front.slope_rad
    if front.treatment == "bevel" and rules.bevel == "keep run" and new_mm > land:
        run = (old_mm - front.land_mm) / math.tan(slope)
        slope = math.atan2(new_mm - land, run)
    return replace(
        front,
        land_mm=land,
        slope_rad=slope,
        radius_mm=front.radius_mm * size,
        top_radius_mm=front.top_radius_mm * size,
    )


def _edge(edge: Edge, share: float) -> Edge:
    return replace(
        edge,
        size_mm=edge.size_mm * share,
        spine=_scaled(edge.spine, share),
        belly=_scaled(edge.belly, share),
    )


def _pin(pin: PinSpec, share: float, scale: Scale) -> PinSpec:
    if pin.cover_mm is not None:
        return replace(pin, cover_mm=pin.cover_mm * share)
    hole = next(hole for hole in scale.holes if hole.at_mm == pin.at_mm)
    if share != 1.0 and hole.head_hole_mm:
        return replace(pin, head_depth_mm=(hole.thickness_mm - hole.seat_mm) * share)
    return pin


def _scaled(stations: Stations, share: float) -> Stations:
    return tuple((x, value * share) for x, value in stations)


# ------------------------------------------------------------------------------------- the comparison


def numbers(looked_at: Study) -> dict[str, Value]:
    """Every number that may follow the thickness, lengths in mm, by its field's name."""
    scale = looked_at.scale
    front, edge, top = scale.pattern.front, scale.pattern.edge, scale.thickness_mm
    found: dict[str, Value] = {
        "stack_mm": scale.stack.used_mm,
        "thickness_mm": top,
        "faced_off_mm": scale.faced_off_mm,
        "thinnest_at_front_mm": thinnest_at_front_mm(scale),
    }
    if looked_at.blank is not None and looked_at.blank.bond_mm is not None:
        found["bond_line_mm"] = looked_at.blank.bond_mm
    if front.treatment == "bevel":
        found |= {
            "bevel_run_mm": setback_mm(front, top, top),
            "bevel_slope_deg": math.degrees(front.slope_rad),
            "land_mm": front.land_mm,
        }
        if front.top_radius_mm:
            found["top_radius_mm"] = front.top_radius_mm
    if front.treatment == "round":
        found["front_radius_mm"] = front.radius_mm
    if edge.treatment != "square":
        found["edge_size_mm"] = edge.size_mm
    found["face_sheet_at_outline_mm"] = _face_sheet_mm(scale)
    if scale.face.crown_mm:
        found["crown_radius_mm"] = scale.face.crown_mm
        found["crown_height_mm"] = crown_height_mm(scale.face, scale.finished)
    for x, t in scale.pattern.face.swell:
        found[f"swell_at_{x:g}_mm"] = t
    if scale.stepped is not None:
        found["liner_step_mm"] = scale.stepped.step_mm
        found["liner_up_to_mm"] = scale.stepped.top_mm
        found |= _over_liner_mm(scale, scale.stepped)
    if looked_at.volumes is not None:
        for each in reveal_records(scale):
            found[f"reveal {each['under']} | {each['over']}, {each['place']}_mm"] = each["least_mm"]
    for number, hole in enumerate(scale.holes, start=1):
        name = f"pin_{number}"
        found[f"{name}_thickness_mm"] = hole.thickness_mm
        if hole.cut_length_mm:
            found[f"{name}_cut_length_mm"] = hole.cut_length_mm
        if hole.head_hole_mm:
            found[f"{name}_seat_mm"] = hole.seat_mm
            found[f"{name}_head_depth_mm"] = hole.thickness_mm - hole.seat_mm
        if hole.is_blind:
            found[f"{name}_cover_mm"] = hole.thickness_mm - hole.end_mm
    if looked_at.volumes is not None:
        density = {span.name: span.density_g_cm3 for span in scale.spans}
        found["weight_g"] = sum(
            volume * density[name] / 1000 for name, volume in looked_at.volumes.finished_mm3.items()
        )
    return found


def _face_sheet_mm(scale: Scale) -> float:
    """Face sheet left at the outline where it is thinnest; an edge cut deeper shows other layers."""
    points = sampled(scale.finished, _SAMPLE_MM)
    under = scale.spans[-2].top_mm if len(scale.spans) > 1 else 0.0
    return float(scale.face.height_mm(points).min()) - under


def _over_liner_mm(scale: Scale, stepped: Stepped) -> dict[str, Value]:
    """Upright wall as cut between a stepped liner and what is shaped above it; less than 0 does not go."""
    try:
        plan = plan_of(scale, finished=False)
    except GeometryError:
        return {}
    edge_mm, front_mm = wall_over_mm(plan, stepped.top_mm)
    return {"wall_over_liner_mm": min(edge_mm, front_mm)}


def _rule(field: str, rules: Restock) -> str:
    """By which rule a number goes, in words."""
    slope, run = "as the slope is kept", "as the run is kept"
    by_slope = rules.bevel == "keep slope"
    own: Mapping[str, str] = {
        "stack_mm": "as measured",
        "thickness_mm": "follows the stack" if rules.thickness == "follow" else "kept",
        "faced_off_mm": "what the stack has over the thickness",
        "bevel_run_mm": slope if by_slope else "kept",
        "bevel_slope_deg": "kept" if by_slope else run,
        "land_mm": _kept(rules.land),
        "top_radius_mm": _kept(rules.sizes),
        "front_radius_mm": _kept(rules.sizes),
        "edge_size_mm": _kept(rules.sizes),
        "crown_radius_mm": {
            "keep": "kept",
            "share": "as the height shares",
            "keep sides": "as the sides stay",
        }[rules.crown],
        "crown_height_mm": {
            "keep": "kept",
            "share": "shares the thickness",
            "keep sides": "as the sides stay",
        }[rules.crown],
        "face_sheet_at_outline_mm": "what an edge may take before layers show",
        "liner_step_mm": "kept",
        "liner_up_to_mm": "as thick as its sheets",
        "wall_over_liner_mm": "what edge and front leave above the liner",
        "weight_g": "by volume",
        "bond_line_mm": "by sheets and stack as measured",
    }
    if field in own:
        return own[field]
    if field.startswith("swell_at"):
        return "drops kept" if rules.swell == "keep drops" else "shares the thickness"
    if field.endswith(("head_depth_mm", "cover_mm")):
        return _kept(rules.heads)
    if field.startswith("reveal"):
        return "where the layers come to lie"
    return "follows the thickness there"


def _kept(rule: str) -> str:
    return "kept" if rule == "keep" else "shares the thickness"


def changes(comparison: Comparison) -> list[Data]:
    """Every number that changes, with both values and its rule; None where it is not there."""
    before, after = comparison.old, comparison.new
    names = [*before, *(name for name in after if name not in before)]
    return [
        {
            "field": name,
            "before": before.get(name),
            "after": after.get(name),
            "rule": _rule(name, comparison.rules),
        }
        for name in names
        if not _alike(before.get(name), after.get(name))
    ]


def _alike(one: Value, other: Value) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= _SAME
    return one == other


def rules_by_field(comparison: Comparison) -> dict[str, str]:
    """The rule of every number there is, before or after."""
    names = {**comparison.old, **comparison.new}
    return {name: _rule(name, comparison.rules) for name in names}


def comparison_record(comparison: Comparison) -> Data:
    """Both sides as data, and what changed."""
    return {
        "before": {**comparison.old, "findings": finding_records(comparison.before.findings)},
        "after": {**comparison.new, "findings": finding_records(comparison.after.findings)},
        "changed": changes(comparison),
    }
