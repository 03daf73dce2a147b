"""The plan of a scale, of whichever kind it needs; and its volumes."""

from scalegen.design import Scale
from scalegen.form.body import BodyPlan, body_plan, volumes_mm3
from scalegen.form.draped import DrapedPlan, draped_plan, is_draped
from scalegen.form.spread import draped_volumes_mm3

Plan = BodyPlan | DrapedPlan


def plan_of(scale: Scale, *, finished: bool) -> Plan:
    """Plan of the finished or the as-cut solid.

    Raises:
        GeometryError: The edge treatment does not fit the outline or the thickness; names the place.
    """
    if is_draped(scale):
        return draped_plan(scale, finished=finished)
    return body_plan(scale, finished=finished)


def volumes_of(plan: Plan, heights_mm: tuple[float, ...]) -> tuple[float, ...]:
    """Volumes between successive heights, worked out without the kernel."""
    if isinstance(plan, DrapedPlan):
        return draped_volumes_mm3(plan, heights_mm)
    return volumes_mm3(plan, heights_mm)
