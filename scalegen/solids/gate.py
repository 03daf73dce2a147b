"""The gate: no solid leaves the house unless it is sound by measures that don't trust the kernel's word.

The kernel may call a solid valid whose faces stick out above its top. So each solid is held against a volume
and a box worked out from the outline alone, against closed topology with the right number of holes, and
the layers against the whole.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_SHELL, TopAbs_VERTEX, TopAbs_WIRE
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shape
from OCP.BRep import BRep_Tool
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape, TopTools_IndexedMapOfShape

from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan
from scalegen.solids.kernel import bounds_mm, is_valid, volume_mm3

VOLUME_SHARE = 1e-6
"""Largest difference between the kernel's volume and the reference, as a share of the reference."""

_BOX_MM = 1e-4


@dataclass(frozen=True, kw_only=True)
class Expected:
    """What a solid must measure: volume, box (x0, y0, z0, x1, y1, z1) and number of holes through it."""

    volume_mm3: float
    box_mm: tuple[float, float, float, float, float, float]
    holes: int


def faults_of(shape: TopoDS_Shape, expected: Expected) -> tuple[str, ...]:
    """Everything that is wrong with a solid; empty when it may be written."""
    faults = []
    if not is_valid(shape):
        faults.append("the kernel finds it invalid")
    faults += _topology_faults(shape, expected.holes)
    volume = volume_mm3(shape)
    if not abs(volume - expected.volume_mm3) <= VOLUME_SHARE * expected.volume_mm3:
        faults.append(f"its volume is {volume:.4f} mm3 where the outline gives {expected.volume_mm3:.4f}")
    for name, got, want in zip(("x0", "y0", "z0", "x1", "y1", "z1"), bounds_mm(shape), expected.box_mm, strict=True):
        if abs(got - want) > _BOX_MM:
            faults.append(f"its box has {name} = {got:.4f} mm where the outline gives {want:.4f}")
    return tuple(faults)


def _topology_faults(shape: TopoDS_Shape, holes: int) -> list[str]:
    """Closed shell, every edge used once each way, and Euler-Poincare with the right number of holes."""
    faults = []
    shells = _count(shape, TopAbs_SHELL)
    if shells != 1:
        return [f"it has {shells} shells instead of one"]
    users = TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapesAndAncestors_s(shape, TopAbs_EDGE, TopAbs_FACE, users)
    for k in range(1, users.Size() + 1):
        edge = TopoDS.Edge_s(users.FindKey(k))
        if not BRep_Tool.Degenerated_s(edge) and users.FindFromIndex(k).Size() != 2:
            faults.append("an edge does not lie between exactly two faces")
            break
    forward = backward = 0
    walk = TopExp_Explorer(shape, TopAbs_EDGE)
    while walk.More():
        if walk.Current().Orientation() == TopAbs_REVERSED:
            backward += 1
        else:
            forward += 1
        walk.Next()
    if forward != backward:
        faults.append("its faces are not turned the same way")
    faces, loops = _count(shape, TopAbs_FACE), _count(shape, TopAbs_WIRE)
    euler = _count(shape, TopAbs_VERTEX) - _count(shape, TopAbs_EDGE) + faces - (loops - faces)
    if euler != 2 - 2 * holes:
        faults.append(f"it has {(2 - euler) / 2:g} holes through it instead of {holes}")
    return faults


def _count(shape: TopoDS_Shape, kind: object) -> int:
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, kind, found)
    return int(found.Size())


def expected_of(plan: BodyPlan, low_mm: float, high_mm: float, volume: float) -> Expected:
    """What the slab between two heights must measure, from the plan alone."""
    levels = [low_mm + 1e-9, high_mm - 1e-9, *(z for z in (plan.seat_mm,) if low_mm < z < high_mm)]
    boxes = [plan.section_at(z)[0].bounds_mm for z in levels]
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
        holes=len(plan.holes),
    )


def require_sound(name: str, shape: TopoDS_Shape, expected: Expected) -> None:
    """Let a solid through, or refuse it.

    Raises:
        GeometryError: The solid is not what the outline says it must be; nothing is written.
    """
    faults = faults_of(shape, expected)
    if faults:
        raise GeometryError(
            f"{name} cannot be built soundly: {'; '.join(faults)}",
            where="solid",
            remedy="nothing was written; change the edge or front a little, or smooth the outline",
        )


def require_whole(name: str, layers: Sequence[TopoDS_Shape], whole: TopoDS_Shape) -> None:
    """Layers must add up to the whole.

    Raises:
        GeometryError: They don't.
    """
    total, single = sum(volume_mm3(layer) for layer in layers), volume_mm3(whole)
    if abs(total - single) > VOLUME_SHARE * single:
        raise GeometryError(
            f"the layers of {name} add up to {total:.4f} mm3, the whole is {single:.4f}", where="solid"
        )
