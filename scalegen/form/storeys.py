"""A scale as bodies standing on one another: layers at the back with an outline of their own, and the rest.

Stepped layers are plain: walls straight up from their own outline and an upright front. So they must end
below everything that is shaped: below edge treatment and trim flange, and below where the front begins to
slope.
"""

from dataclasses import dataclass, replace

import numpy as np

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan, edge_name
from scalegen.form.draped import DrapedPlan
from scalegen.form.plans import Plan, plan_of, volumes_of
from scalegen.layers import Span, Stepped
from scalegen.model import Edge
from scalegen.outline.front import front_start_mm
from scalegen.outline.measure import distances_mm, inside, sampled

LEAST_WALL_MM = 0.05
"""Upright wall that is left at least between stepped layers and what is shaped above them. Our choice; common
practice, no source."""

_SAME_MM = 1e-6
_CLEAR_MM = 0.05
_SAMPLE_MM = 0.5
_WHERE = "scale.liner"


@dataclass(frozen=True, kw_only=True, eq=False)
class Storey:
    """One body of a scale, and the layers it is made of.

    Attributes:
        plan: The body, from its own underside to its own top.
        spans: Its layers, from back to face.
    """

    plan: Plan
    spans: tuple[Span, ...]

    @property
    def heights_mm(self) -> tuple[float, ...]:
        """Heights between which its layers lie."""
        return (self.plan.bottom_mm, *(span.top_mm for span in self.spans[:-1]), self.plan.top_mm)

    def volumes_mm3(self) -> tuple[float, ...]:
        """Volume of each layer, worked out without the kernel."""
        return volumes_of(self.plan, self.heights_mm)


def storeys_of(scale: Scale, *, finished: bool) -> tuple[Storey, ...]:
    """The bodies of the finished or the as-cut scale, from back to face: one, or two with stepped layers.

    Raises:
        GeometryError: The shape can't be made, or stepped layers reach into what is shaped above them.
    """
    plan, stepped = plan_of(scale, finished=finished), scale.stepped
    if stepped is None:
        return (Storey(plan=plan, spans=scale.spans),)
    _require_height(plan, stepped)
    _require_wall(plan, stepped)
    foot = _foot(scale, plan, stepped, finished=finished)
    _require_clear_holes(foot, scale)
    above: Plan = replace(plan, bottom_mm=stepped.top_mm)
    return (
        Storey(plan=foot, spans=scale.spans[: stepped.count]),
        Storey(plan=above, spans=scale.spans[stepped.count :]),
    )


def _foot(scale: Scale, plan: Plan, stepped: Stepped, *, finished: bool) -> BodyPlan:
    """The stepped layers as a body of their own."""
    return BodyPlan(
        bottom_mm=plan.bottom_mm,
        seat_mm=stepped.top_mm,
        top_mm=stepped.top_mm,
        base=stepped.carried if finished else stepped.carried_as_cut,
        lip=None,
        edge=Edge(),
        front=replace(scale.pattern.front, treatment="square"),
        curve=plan.curve,
        allowance_mm=plan.allowance_mm,
        bores=plan.bores,
    )


def wall_over_mm(plan: Plan, height_mm: float) -> tuple[float, float]:
    """Upright wall between a height and what is shaped above it.

    Args:
        plan: The body.
        height_mm: Where it is counted from.

    Returns:
        What is left along the outline where it is least, to edge treatment or trim flange (to the face for a
        square edge); and what is left at the front, infinite or up to the face for a square one.
    """
    if isinstance(plan, DrapedPlan):
        points = sampled(plan.base, _SAMPLE_MM)
        edge_mm = float(plan.face.height_mm(points).min()) - plan.seat_drop_mm
        points = sampled(plan.outline(), _SAMPLE_MM)
        behind = np.maximum(plan.nose.behind_mm(points), 0.0)
        front_mm = float(plan.nose.limit_mm(behind, plan.face.height_mm(points)).min())
        return edge_mm - height_mm, front_mm - height_mm
    return plan.seat_mm - height_mm, front_start_mm(plan.front, plan.top_mm) - height_mm


def _require_height(plan: Plan, stepped: Stepped) -> None:
    if stepped.top_mm <= max(0.0, plan.bottom_mm) + _SAME_MM:
        raise GeometryError(
            "flattening the back takes all that is stepped off",
            where=_WHERE,
            remedy="use a smaller back allowance, or step more sheets",
        )


def _require_wall(plan: Plan, stepped: Stepped) -> None:
    edge_mm, front_mm = wall_over_mm(plan, stepped.top_mm)
    up = f"the stepped layers reach {stepped.top_mm:.2f} mm up from the back"
    if edge_mm < LEAST_WALL_MM - _SAME_MM:
        what = "face" if plan.lip is None else edge_name(plan.edge)
        flange = "" if plan.lip is None else ", trim flange included,"
        raise GeometryError(
            f"{up}, and the {what}{flange} comes down to {stepped.top_mm + edge_mm:.2f} mm",
            where=_WHERE,
            remedy=f"leave {LEAST_WALL_MM:g} mm of upright wall between: a smaller edge treatment or trim"
            " allowance, a thicker scale, or fewer sheets in the step",
        )
    if front_mm < -_SAME_MM:
        land = "a land" if plan.front.treatment == "bevel" else "an upright strip"
        raise GeometryError(
            f"{up}, and the front's {plan.front.treatment} begins {stepped.top_mm + front_mm:.2f} mm up",
            where=_WHERE,
            remedy=f"give the front {land} of {stepped.top_mm:.2f} mm or more, or step fewer sheets",
        )


def _require_clear_holes(foot: BodyPlan, scale: Scale) -> None:
    outline = foot.section_at((foot.bottom_mm + foot.top_mm) / 2)[0]
    for number, hole in enumerate(scale.holes, start=1):
        radii = [
            bore.diameter_mm / 2
            for bore in hole.bores
            if bore.bottom_mm < foot.top_mm and bore.top_mm > foot.bottom_mm
        ]
        center = np.array([hole.at_mm])
        gap = float(distances_mm(outline, center)[0]) * (1.0 if inside(outline, center)[0] else -1.0)
        if radii and gap < max(radii) + _CLEAR_MM:
            x, y = hole.at_mm
            raise GeometryError(
                f"the hole of pin {number} at x = {x:.2f}, y = {y:.2f} mm breaks out of the stepped layers",
                where=_WHERE,
                remedy="make the step smaller, or move the pin inwards",
            )
