"""A scale whose layers at the back have an outline of their own, as one solid: a foot and what stands on it.

Foot and body are put together while both still run on ahead of the front. There one outline lies well inside
the other all the way round, so the kernel has nothing to decide; front, holes and grooves are then cut
through both at once.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
from OCP.TopoDS import TopoDS_Shape, TopoDS_Solid
from OCP.TopTools import TopTools_ListOfShape

from scalegen.errors import GeometryError
from scalegen.form.bores import through
from scalegen.form.draped import DrapedPlan
from scalegen.form.plans import Plan
from scalegen.solids.build import behind_front, draped_tools, holes_of, uncut_slab
from scalegen.solids.draped import uncut_body
from scalegen.solids.fronts import front_tool
from scalegen.solids.gate import Expected
from scalegen.solids.kernel import cut_away, freeform, solids_in


def stepped_ways(
    foot: Plan,
    above: Plan,
    parts: tuple[TopoDS_Shape, TopoDS_Shape],
    tries: Sequence[tuple[float, bool]],
) -> Iterator[Callable[[], TopoDS_Shape]]:
    """Ways to build both as one solid, the best first.

    Args:
        foot: The stepped layers.
        above: The body that stands on them.
        parts: Both as finished solids.
        tries: Coincidence in mm for the kernel's cuts, and whether the front is cut with free-form surfaces.
    """
    for fuzz_mm, freeform_front in tries:
        yield partial(stepped_solid, foot, above, fuzz_mm, freeform_front=freeform_front)
    for fuzz_mm in (0.0, 1e-5):
        yield partial(_fused, *parts, fuzz_mm)


def stepped_solid(foot: Plan, above: Plan, fuzz_mm: float, *, freeform_front: bool = False) -> TopoDS_Shape:
    """Foot and body as one solid, with front and holes.

    Args:
        foot: The stepped layers.
        above: The body that stands on them.
        fuzz_mm: Distance within which the kernel takes faces as coinciding while it cuts.
        freeform_front: Cut the front with B-spline surfaces where it is made of planes and cones.

    Raises:
        GeometryError: Nothing sound is left.
    """
    # The tools must reach down through the foot, and to both sides as far as the wider of the two.
    wider = max(foot.base, above.base, key=lambda ring: ring.area_mm2)
    whole: Plan = replace(above, bottom_mm=foot.bottom_mm, base=wider)
    uncut = _fused(_uncut(foot), _uncut(above), 0.0)
    if isinstance(whole, DrapedPlan):
        tools = draped_tools(whole)
    else:
        front = front_tool(whole)
        tools = [freeform(front) if freeform_front else front, *holes_of(whole)]
    return behind_front(whole, cut_away(uncut, tools, fuzz_mm))


def _uncut(plan: Plan) -> TopoDS_Shape:
    if isinstance(plan, DrapedPlan):
        return uncut_body(plan)
    return uncut_slab(plan, plan.bottom_mm, plan.top_mm)


def _fused(one: TopoDS_Shape, other: TopoDS_Shape, fuzz_mm: float) -> TopoDS_Solid:
    """Two solids that stand on one another as one.

    Raises:
        GeometryError: They don't become one.
    """
    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(one)
    tools.Append(other)
    operation = BRepAlgoAPI_Fuse()
    operation.SetArguments(arguments)
    operation.SetTools(tools)
    operation.SetFuzzyValue(fuzz_mm)
    operation.SetRunParallel(False)
    operation.Build()
    found = solids_in(operation.Shape()) if operation.IsDone() else []
    if len(found) != 1:
        raise GeometryError(
            f"stepped layers and the rest become {len(found)} solids instead of one", where="solid"
        )
    return found[0]


def expected_of_stepped(foot_must: Expected, above: Plan, above_must: Expected) -> Expected:
    """What both must measure as one solid.

    Args:
        foot_must: What the stepped layers must measure by themselves.
        above: The body that stands on them.
        above_must: What it must measure by itself.
    """
    low, high = foot_must.box_mm, above_must.box_mm
    return Expected(
        volume_mm3=foot_must.volume_mm3 + above_must.volume_mm3,
        box_mm=(
            min(low[0], high[0]),
            min(low[1], high[1]),
            low[2],
            max(low[3], high[3]),
            max(low[4], high[4]),
            high[5],
        ),
        holes=through(above.bores, low[2], high[5]),
        short_mm=above_must.short_mm,
        under_mm=above_must.under_mm,
    )
