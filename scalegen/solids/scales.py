"""All solids of one pattern: built once for the left hand, gated, and truly mirrored for the right."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Vec
from OCP.TopoDS import TopoDS_Shape

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.form.body import circle
from scalegen.form.draped import DrapedPlan
from scalegen.form.plans import Plan
from scalegen.form.storeys import Storey, storeys_of
from scalegen.form.volumes import Volumes
from scalegen.solids.build import body_solid, draped_solid, drilled_prism, slab_of
from scalegen.solids.gate import (
    Expected,
    expected_of,
    expected_of_draped,
    judge,
    require_whole,
    sections_of,
)
from scalegen.solids.kernel import mirrored, plane_face, ring_pieces, wire_of
from scalegen.solids.parts import Part, Solid
from scalegen.solids.steps import expected_of_stepped, stepped_ways

STEEL_COLOR = "#a7adb3"
# Coincidence in mm for the kernel's cuts, and whether the front is cut with free-form surfaces.
_TRIES = ((1e-5, False), (1e-4, False), (1e-5, True), (0.0, False), (1e-6, False))


_FUZZES_MM = (1e-5, 1e-4, 1e-6)


@dataclass(frozen=True, kw_only=True, eq=False)
class Body:
    """One scale as solids.

    Attributes:
        whole: All layers in one solid.
        layers: One solid for each layer, from back to face.
        volumes_mm3: Volume of each layer, worked out from the outline.
    """

    whole: TopoDS_Shape
    layers: tuple[Solid, ...]
    volumes_mm3: tuple[float, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class ScaleSolids:
    """Left and right, as cut and finished; every one has passed the gate."""

    as_cut_left: Body
    as_cut_right: Body
    finished_left: Body
    finished_right: Body


def scale_solids(scale: Scale, volumes: Volumes) -> ScaleSolids:
    """Build every solid of a scale.

    Args:
        scale: What to build.
        volumes: Its volumes, worked out from the outline; every solid is held against them.

    Raises:
        GeometryError: A solid cannot be made, or does not pass the gate.
    """
    cut = _left_body(scale, volumes.as_cut_mm3, finished=False)
    finished = _left_body(scale, volumes.finished_mm3, finished=True)
    return ScaleSolids(
        as_cut_left=cut,
        as_cut_right=_right_body(cut),
        finished_left=finished,
        finished_right=_right_body(finished),
    )


def _left_body(scale: Scale, by_layer_mm3: Mapping[str, float], *, finished: bool) -> Body:
    kind = "finished" if finished else "as-cut"
    storeys = storeys_of(scale, finished=finished)
    built = [_storey(kind, storey, by_layer_mm3) for storey in storeys]
    whole = built[0].whole if len(built) == 1 else _on_one_another(kind, storeys, built)
    return Body(
        whole=whole.shape,
        layers=tuple(layer for each in built for layer in each.layers),
        volumes_mm3=tuple(by_layer_mm3[span.name] for span in scale.spans),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Built:
    """One body of a scale: in one piece, what it must measure, and its layers from back to face."""

    whole: "SoundSlab"
    must: Expected
    layers: tuple[Solid, ...]


def _storey(kind: str, storey: Storey, by_layer_mm3: Mapping[str, float]) -> _Built:
    plan, spans, heights = storey.plan, storey.spans, storey.heights_mm
    volumes = tuple(by_layer_mm3[span.name] for span in spans)
    expected = _measures(plan)
    must = expected(heights[0], heights[-1], sum(volumes))
    whole = sound_slab(f"the {kind} scale", plan, must)
    slabs = [whole]
    if len(spans) > 1:
        slabs = [
            sound_slab(
                f'layer "{span.name}" of the {kind} scale', plan, expected(low, high, volume), whole.shape
            )
            for span, low, high, volume in zip(spans, heights[:-1], heights[1:], volumes, strict=True)
        ]
        require_whole(f"the {kind} scale", [slab.volume_mm3 for slab in slabs], whole.volume_mm3)
    layers = tuple(
        Solid(name=span.name, color=span.color, shape=slab.shape)
        for span, slab in zip(spans, slabs, strict=True)
    )
    return _Built(whole=whole, must=must, layers=layers)


def _on_one_another(kind: str, storeys: Sequence[Storey], built: Sequence[_Built]) -> "SoundSlab":
    """Stepped layers and the body above them in one piece, held against the gate like any other."""
    foot, above = storeys[0].plan, storeys[1].plan
    must = expected_of_stepped(built[0].must, above, built[1].must)
    parts = built[0].whole, built[1].whole
    ways = stepped_ways(foot, above, (parts[0].shape, parts[1].shape), _TRIES)
    whole = _first_sound(f"the {kind} scale with its stepped layers", must, ways)
    require_whole(f"the {kind} scale", [part.volume_mm3 for part in parts], whole.volume_mm3)
    return whole


def _measures(plan: Plan) -> Callable[[float, float, float], Expected]:
    """What a slab between two heights, of a volume, must measure."""
    if isinstance(plan, DrapedPlan):
        return partial(expected_of_draped, plan)
    box_at = sections_of(plan)
    return lambda low_mm, high_mm, volume: expected_of(plan, low_mm, high_mm, volume, box_at)


@dataclass(frozen=True, kw_only=True, eq=False)
class SoundSlab:
    """A solid that has passed the gate, and the kernel's volume of it."""

    shape: TopoDS_Shape
    volume_mm3: float


def sound_slab(name: str, plan: Plan, expected: Expected, whole: TopoDS_Shape | None = None) -> SoundSlab:
    """A slab of a scale that has passed the gate.

    The kernel is given a few chances: cut off the whole, built on its own, with coarser and finer
    coincidence, and with free-form surfaces; the gate judges each alike.

    Args:
        name: What to call it in errors.
        plan: The body.
        expected: What it must measure; its heights are those of the box.
        whole: The whole scale, when the slab is a layer of it.

    Raises:
        GeometryError: No try passes; nothing is to be written.
    """
    return _first_sound(name, expected, _ways(plan, expected.box_mm[2], expected.box_mm[5], whole))


def _first_sound(name: str, expected: Expected, ways: Iterable[Callable[[], TopoDS_Shape]]) -> SoundSlab:
    """The first of several ways whose solid passes the gate.

    Raises:
        GeometryError: None does; says what is wrong with the first.
    """
    said, refused = "", None
    for build in ways:
        try:
            shape = build()
        except GeometryError as error:
            refused = refused or error
            said = said or error.message
            continue
        verdict = judge(shape, expected)
        if not verdict.faults:
            return SoundSlab(shape=shape, volume_mm3=verdict.volume_mm3)
        said = said or "; ".join(verdict.faults)
    if refused is not None and refused.where not in {"", "solid"} and refused.message == said:
        raise refused  # it says itself where the design is at fault
    raise GeometryError(
        f"{name} cannot be built soundly: {said}",
        where="solid",
        remedy="nothing was written; change the edge or the front a little, or smooth the outline",
    )


def _ways(
    plan: Plan, low_mm: float, high_mm: float, whole: TopoDS_Shape | None
) -> Iterator[Callable[[], TopoDS_Shape]]:
    """Ways to build a slab, the quickest first."""
    if isinstance(plan, DrapedPlan):
        yield from _draped_ways(plan, low_mm, high_mm, whole)
        return
    if whole is not None and not plan.is_steady(low_mm, high_mm):
        yield partial(slab_of, whole, plan, low_mm, high_mm)
    for fuzz_mm, freeform_front in _TRIES:
        yield partial(body_solid, plan, low_mm, high_mm, fuzz_mm, freeform_front=freeform_front)


def _draped_ways(
    plan: DrapedPlan, low_mm: float, high_mm: float, whole: TopoDS_Shape | None
) -> Iterator[Callable[[], TopoDS_Shape]]:
    if whole is None:
        for fuzz_mm in _FUZZES_MM:
            yield partial(draped_solid, plan, fuzz_mm)
        return
    if plan.is_steady(low_mm, high_mm):
        yield partial(_prism, plan, low_mm, high_mm)
    yield partial(slab_of, whole, plan, low_mm, high_mm)
    if high_mm >= plan.top_mm and low_mm <= plan.steady_mm:
        # Below it the walls are upright: the topmost layer is a body of its own on a higher underside.
        for fuzz_mm in _FUZZES_MM:
            yield partial(draped_solid, replace(plan, bottom_mm=low_mm), fuzz_mm)
    for fuzz_mm in _FUZZES_MM:
        yield partial(slab_of, whole, plan, low_mm, high_mm, fuzz_mm)


def _prism(plan: DrapedPlan, low_mm: float, high_mm: float) -> TopoDS_Shape:
    prism = drilled_prism(plan, low_mm, high_mm)
    if prism is None:
        raise GeometryError("a hole breaks out of the outline", where="pin")
    return prism


def _right_body(left: Body) -> Body:
    layers = tuple(
        Solid(name=solid.name, color=solid.color, shape=mirrored(solid.shape)) for solid in left.layers
    )
    return Body(whole=mirrored(left.whole), layers=layers, volumes_mm3=left.volumes_mm3)


def tang_part(scale: Scale) -> Part:
    """The tang as drawn, at full thickness about z = 0, with a hole for every pin."""
    half = scale.pattern.tang_mm / 2
    wires = []
    for hole in scale.holes:
        wire = wire_of(ring_pieces(circle(*hole.at_mm, hole.hole_mm)), -half)
        wire.Reverse()
        wires.append(wire)
    face = plane_face(wire_of(ring_pieces(scale.tang), -half), -half, wires)
    shape = BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, 2 * half)).Shape()
    name = f"{scale.pattern.name}-tang"
    return Part(name=name, solids=(Solid(name="tang steel", color=STEEL_COLOR, shape=shape),))
