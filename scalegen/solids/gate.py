"""The gate: no solid leaves the house unless it is sound by measures that don't trust the kernel's word.

The kernel may call a solid valid whose faces stick out above its top. So each solid is held against a volume
and a box worked out from the outline alone, against closed topology with the right number of holes, and
the layers against the whole.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_SHELL, TopAbs_VERTEX, TopAbs_WIRE
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shape
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape, TopTools_IndexedMapOfShape

from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan
from scalegen.form.bores import through
from scalegen.form.draped import DrapedPlan
from scalegen.outline.measure import sampled
from scalegen.outline.ring import FloatArray
from scalegen.solids.kernel import DIGITS_SHARE, is_valid, loosest_mm, volume_mm3
from scalegen.solids.mesh import euler_number, is_closed, rough_mesh

VOLUME_SHARE = 1e-6
"""Largest difference between the kernel's volume and the reference, as a share of the reference."""

Box = tuple[float, float, float, float]

_BOX_MM = 1e-4
_INSIDE_MM = 1e-9
_LOOSE_MM = 5e-4
_GRID_MM = 0.5
_SLACK_MM = 1e-5


@dataclass(frozen=True, kw_only=True)
class Expected:
    """What a solid must measure.

    Attributes:
        volume_mm3: Volume.
        box_mm: x0, y0, z0, x1, y1, z1 that it lies in and reaches.
        holes: Number of holes through it.
        short_mm: How far it may fall short of the box in x, y and z.
        under_mm: For places (n, 2) the heights (n,) that nothing stands above; None where the box says it.
    """

    volume_mm3: float
    box_mm: tuple[float, float, float, float, float, float]
    holes: int
    short_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    under_mm: Callable[[FloatArray], FloatArray] | None = None


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What the gate found: ``faults``, empty when the solid may be written, and the kernel's volume."""

    faults: tuple[str, ...]
    volume_mm3: float


def faults_of(shape: TopoDS_Shape, expected: Expected) -> tuple[str, ...]:
    """Everything that is wrong with a solid; empty when it may be written."""
    return judge(shape, expected).faults


def judge(shape: TopoDS_Shape, expected: Expected) -> Verdict:
    """Hold a solid against what it must measure."""
    faults = []
    if not is_valid(shape):
        faults.append("the kernel finds it invalid")
    faults += _topology_faults(shape, expected.holes)
    loose = loosest_mm(shape)
    if loose > _LOOSE_MM:
        faults.append(f"its faces miss each other by up to {loose:.4g} mm")
    # Free-form faces take long to the last digits, and the reference has no more than these.
    volume = volume_mm3(shape, VOLUME_SHARE / 10 if expected.under_mm else DIGITS_SHARE)
    if not abs(volume - expected.volume_mm3) <= VOLUME_SHARE * expected.volume_mm3:
        faults.append(f"its volume is {volume:.4f} mm3 where the outline gives {expected.volume_mm3:.4f}")
    return Verdict(faults=(*faults, *_mesh_faults(shape, expected)), volume_mm3=volume)


def _mesh_faults(shape: TopoDS_Shape, expected: Expected) -> list[str]:
    """Watertight triangles with the right number of holes, inside the box and reaching all its sides.

    The corners of a mesh lie on the surfaces themselves, so none may stand outside the box; between them
    an arc may fall short of it by the chord error.
    """
    try:
        mesh, chord_mm = rough_mesh(shape)
    except GeometryError as error:
        return [error.message]
    if not is_closed(mesh):
        return ["its mesh is not watertight"]
    faults = []
    if euler_number(mesh) != 2 - 2 * expected.holes:
        faults.append(f"its mesh has Euler number {euler_number(mesh)} instead of {2 - 2 * expected.holes}")
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    for axis, name in enumerate("xyz"):
        for got, want, out in (
            (low[axis], expected.box_mm[axis], -1.0),
            (high[axis], expected.box_mm[axis + 3], 1.0),
        ):
            beyond = out * (float(got) - want)
            if beyond > _BOX_MM or beyond < -2 * chord_mm - _BOX_MM - expected.short_mm[axis]:
                faults.append(f"it reaches {name} = {got:.4f} mm where the outline gives {want:.4f}")
    if expected.under_mm is not None:
        over = mesh.vertices[:, 2] - expected.under_mm(mesh.vertices[:, :2])
        worst = int(over.argmax())
        if over[worst] > _BOX_MM:
            x, y = mesh.vertices[worst, :2].tolist()
            faults.append(f"it stands {over[worst]:.4f} mm too high at x = {x:.2f}, y = {y:.2f} mm")
    return faults


def _topology_faults(shape: TopoDS_Shape, holes: int) -> list[str]:
    """Closed shell, every edge used once each way, and Euler-Poincare with the right number of holes."""
    faults = []
    shells = _count(shape, TopAbs_SHELL)
    if shells != 1:
        return [f"it has {shells} shells instead of one"]
    users = TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapesAndAncestors_s(shape, TopAbs_EDGE, TopAbs_FACE, users)
    edges = [TopoDS.Edge_s(users.FindKey(k)) for k in range(1, users.Size() + 1)]
    # What is only a point in a surface's parameters is no edge of the solid.
    real = [k for k, edge in enumerate(edges, start=1) if not BRep_Tool.Degenerated_s(edge)]
    if any(users.FindFromIndex(k).Size() != 2 for k in real):
        faults.append("an edge does not lie between exactly two faces")
    forward = backward = 0
    walk = TopExp_Explorer(shape, TopAbs_EDGE)
    while walk.More():
        if BRep_Tool.Degenerated_s(TopoDS.Edge_s(walk.Current())):
            pass
        elif walk.Current().Orientation() == TopAbs_REVERSED:
            backward += 1
        else:
            forward += 1
        walk.Next()
    if forward != backward:
        faults.append("its faces are not turned the same way")
    faces, loops = _count(shape, TopAbs_FACE), _count(shape, TopAbs_WIRE)
    euler = _count(shape, TopAbs_VERTEX) - len(real) + faces - (loops - faces)
    if euler != 2 - 2 * holes:
        faults.append(f"it has {(2 - euler) / 2:g} holes through it instead of {holes}")
    return faults


def _count(shape: TopoDS_Shape, kind: object) -> int:
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, kind, found)
    return int(found.Size())


def sections_of(plan: BodyPlan) -> Callable[[float], Box]:
    """The box of a plan's section at any height, each worked out only once."""

    @cache
    def box(z_mm: float) -> Box:
        return plan.section_at(z_mm)[0].bounds_mm

    def at(z_mm: float) -> Box:
        return box(plan.bottom_mm if plan.is_steady(plan.bottom_mm, z_mm) else z_mm)

    return at


def expected_of(
    plan: BodyPlan,
    low_mm: float,
    high_mm: float,
    volume: float,
    box_at: Callable[[float], Box] | None = None,
) -> Expected:
    """What the slab between two heights must measure, from the plan alone.

    Args:
        plan: The body.
        low_mm: Height of the slab's underside.
        high_mm: Height of its top.
        volume: Its volume in mm3.
        box_at: The plan's :func:`sections_of`, when several slabs of it are judged.
    """
    box_at = box_at or sections_of(plan)
    seat = [plan.seat_mm] if low_mm < plan.seat_mm < high_mm else []
    boxes = [box_at(z) for z in (low_mm + _INSIDE_MM, *seat, high_mm - _INSIDE_MM)]
    return Expected(
        volume_mm3=volume,
        box_mm=(
            min(b[0] for b in boxes),
            min(b[1] for b in boxes),
            low_mm,
            max(b[2] for b in boxes),
            max(b[3] for b in boxes),
            high_mm,
        ),
        holes=through(plan.bores, low_mm, high_mm),
    )


def expected_of_draped(plan: DrapedPlan, low_mm: float, high_mm: float, volume: float) -> Expected:
    """As :func:`expected_of`, for a body whose top is a height over its plan.

    What stands above a height may reach less far than the walls; how much less is looked up all over it.
    """
    ring = plan.outline()
    x0, y0, x1, y1 = ring.bounds_mm
    x, y = np.meshgrid(np.arange(x0, x1, _GRID_MM), np.arange(y0, y1, _GRID_MM))
    points = np.vstack([np.column_stack([x.ravel(), y.ravel()]), sampled(ring, _GRID_MM)])
    tops = plan.top_at_mm(points)
    there = points[tops > low_mm] if low_mm > plan.bottom_mm else points
    high = min(high_mm, plan.top_mm)
    short = (0.0, 0.0, max(0.0, high - float(tops.max())))
    if len(there) < len(points):
        reach = np.concatenate([there.min(axis=0) - [x0, y0], [x1, y1] - there.max(axis=0)])
        short = (float(reach[[0, 2]].max()) + _GRID_MM, float(reach[[1, 3]].max()) + _GRID_MM, short[2])
    return Expected(
        volume_mm3=volume,
        box_mm=(x0, y0, low_mm, x1, y1, high),
        holes=through(plan.bores, low_mm, high_mm),
        short_mm=short,
        under_mm=partial(plan.under_mm, slack_mm=_SLACK_MM),
    )


def require_whole(name: str, layers_mm3: Sequence[float], whole_mm3: float) -> None:
    """The kernel's volumes of the layers must add up to its volume of the whole.

    Raises:
        GeometryError: They don't.
    """
    total = sum(layers_mm3)
    if not abs(total - whole_mm3) <= VOLUME_SHARE * whole_mm3:
        raise GeometryError(
            f"the layers of {name} add up to {total:.4f} mm3, the whole is {whole_mm3:.4f}",
            where="solid",
            remedy="nothing was written; change the edge or the front a little, or smooth the outline",
        )
