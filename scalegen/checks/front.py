"""Findings about the front and the edge treatment."""

import math
from collections.abc import Iterator

from scalegen.checks.common import DUST_MM, finding, shown
from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan, edge_name
from scalegen.form.plans import Plan, plan_of
from scalegen.model import Finding
from scalegen.outline.front import clip_behind, front_curve, on_front, setback_mm
from scalegen.outline.measure import sampled

_SAMPLE_MM = 0.5

FEATHER_MM = 0.5
"""Land of a front below which it is warned of. Our choice; common practice, no source."""


def front(scale: Scale) -> Iterator[Finding]:
    """Findings about the front's treatment."""
    front, top, size = scale.pattern.front, thinnest_at_front_mm(scale), shown(scale, 2)
    where = f"x = {size(front.at_mm)}"
    if front.treatment == "round" and front.radius_mm > top + DUST_MM:
        text = f"a radius of {size(front.radius_mm)} does not go on a scale {size(top)} thick"
        remedy = (
            f"use a radius up to {size(top - FEATHER_MM)}" if top > FEATHER_MM else "make the scale thicker"
        )
        yield finding("stop", "front-too-round", ("front", where), text, remedy)
        return
    if front.treatment == "bevel" and front.land_mm >= top - DUST_MM:
        text = f"a land of {size(front.land_mm)} leaves nothing of a scale {size(top)} thick to bevel"
        yield finding("stop", "front-no-bevel", ("front", where), text, "use a smaller land")
        return
    upright = {"bevel": front.land_mm, "round": top - front.radius_mm, "square": top}[front.treatment]
    if front.treatment != "square" and upright < FEATHER_MM - DUST_MM:
        text = (
            f"under the {front.treatment} only {size(upright)} stands upright at the tang, and chips easily"
        )
        least = size(FEATHER_MM)
        remedy = (
            f"give it a land of {least} or more" if front.treatment == "bevel" else f"leave {least} under it"
        )
        yield finding("warning", "front-feather", ("front", where), text, remedy)
    if front.treatment == "bevel" and front.top_radius_mm:
        left = top - front.land_mm - front.top_radius_mm * (1 - math.cos(front.slope_rad))
        if left <= DUST_MM:
            text = f"a rounding of {size(front.top_radius_mm)} over it leaves nothing of the bevel"
            remedy = "make it smaller, the land lower or the bevel steeper"
            yield finding("stop", "front-no-bevel", ("front", where), text, remedy)
            return
    run = setback_mm(front, scale.thickness_mm, scale.thickness_mm)
    if not _reaches(scale, run):
        text = f"the {front.treatment} runs back {size(run)} and leaves nothing of the face"
        yield finding("stop", "front-too-long", ("front", where), text, "make it steeper or shorter")


def thinnest_at_front_mm(scale: Scale) -> float:
    """Finished thickness where the face is lowest along the front."""
    if scale.face.is_flat:
        return scale.thickness_mm
    points = sampled(scale.finished, _SAMPLE_MM)
    points = points[on_front(front_curve(scale.pattern.front), points, 0.0)]
    return float(scale.face.height_mm(points).min()) if len(points) else scale.thickness_mm


def _reaches(scale: Scale, run_mm: float) -> bool:
    """Whether anything of the outline lies behind the front's treatment."""
    try:
        return bool(clip_behind(scale.finished, front_curve(scale.pattern.front), run_mm))
    except GeometryError:
        return False


def finished_plan(scale: Scale) -> tuple[Plan | None, tuple[Finding, ...]]:
    """The plan of the finished scale, and what is said when it or the as-cut one can't be made."""
    name = edge_name(scale.pattern.edge)
    try:
        plan_of(scale, finished=False)
        return plan_of(scale, finished=True), ()
    except GeometryError as error:
        about = name if error.where.startswith("scale.edge") else error.where.rpartition(".")[2]
        return None, (finding("stop", "edge-does-not-fit", (about, ""), error.message, error.remedy),)


def edge_layers(scale: Scale, plan: Plan | None) -> Iterator[Finding]:
    """Layers that an edge treatment on a flat face cuts into."""
    if not isinstance(plan, BodyPlan):
        return
    for span in scale.spans[:-1]:
        if plan.seat_mm < span.top_mm - DUST_MM and span.kind != "bond":
            text = (
                f'it starts {shown(scale, 2)(plan.seat_mm)} above the back and cuts into layer "{span.name}"'
            )
            remedy = "make it smaller if that layer is not meant to show on the edge"
            yield finding("note", "edge-shows-layer", (edge_name(scale.pattern.edge), ""), text, remedy)
