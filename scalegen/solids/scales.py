"""All solids of one pattern: built once for the left hand, gated, and truly mirrored for the right."""

from dataclasses import dataclass

from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Vec
from OCP.TopoDS import TopoDS_Shape

from scalegen.design import Scale
from scalegen.export.parts import Part, Solid
from scalegen.form.body import BodyPlan, body_plan, circle, volumes_mm3
from scalegen.solids.build import body_solid
from scalegen.solids.gate import expected_of, require_sound, require_whole
from scalegen.solids.kernel import mirrored, plane_face, ring_pieces, volume_mm3, wire_of

STEEL_COLOR = "#a7adb3"


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


def scale_solids(scale: Scale) -> ScaleSolids:
    """Build every solid of a scale.

    Raises:
        GeometryError: A solid cannot be made, or does not pass the gate.
    """
    cut, finished = (_left_body(scale, finished=flag) for flag in (False, True))
    return ScaleSolids(
        as_cut_left=cut,
        as_cut_right=_right_body(cut),
        finished_left=finished,
        finished_right=_right_body(finished),
    )


def layer_heights_mm(scale: Scale, plan: BodyPlan) -> tuple[float, ...]:
    """Heights between which the layers of a body lie, from bottom to top."""
    return (plan.bottom_mm, *(span.top_mm for span in scale.spans[:-1]), plan.top_mm)


def _left_body(scale: Scale, *, finished: bool) -> Body:
    plan = body_plan(scale, finished=finished)
    kind = "finished" if finished else "as-cut"
    heights = layer_heights_mm(scale, plan)
    volumes = volumes_mm3(plan, heights)
    whole = body_solid(plan)
    require_sound(f"the {kind} scale", whole, expected_of(plan, heights[0], heights[-1], sum(volumes)))
    if len(scale.spans) == 1:
        shapes = [whole]
    else:
        shapes = [body_solid(plan, low, high) for low, high in zip(heights[:-1], heights[1:], strict=True)]
        for span, shape, low, high, volume in zip(
            scale.spans, shapes, heights[:-1], heights[1:], volumes, strict=True
        ):
            require_sound(f'layer "{span.name}" of the {kind} scale', shape, expected_of(plan, low, high, volume))
        require_whole(f"the {kind} scale", shapes, whole)
    layers = tuple(
        Solid(name=span.name, color=span.color, shape=shape)
        for span, shape in zip(scale.spans, shapes, strict=True)
    )
    return Body(whole=whole, layers=layers, volumes_mm3=volumes)


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
    return Part(name="tang", solids=(Solid(name="tang", color=STEEL_COLOR, shape=shape),))


def right_volume_agrees(left: Body, right: Body) -> bool:
    """Whether mirroring kept the volume and the orientation."""
    a, b = volume_mm3(left.whole), volume_mm3(right.whole)
    return b > 0 and abs(a - b) <= 1e-9 * a
