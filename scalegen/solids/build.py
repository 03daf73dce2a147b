"""Scales as solids: built face by face, then cut at the front, drilled, and split into layers.

No kernel fillet or chamfer is used: over every line of the lip a profile is swept straight, over every arc
it is turned about the arc's centre. The lip is smooth, so neighbours share their profile exactly.
"""

import math
from collections.abc import Sequence

import numpy as np
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakePrism,
    BRepPrimAPI_MakeRevol,
)
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Vec
from OCP.TopoDS import TopoDS_Edge, TopoDS_Shape, TopoDS_Solid

from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan, circle, edge_name
from scalegen.form.bores import open_at
from scalegen.form.draped import DrapedPlan
from scalegen.form.lip import parallel
from scalegen.outline.measure import distances_mm
from scalegen.outline.pieces import Pieces
from scalegen.outline.ring import FloatArray
from scalegen.solids.draped import uncut_body
from scalegen.solids.fronts import front_tool
from scalegen.solids.kernel import (
    cut_away,
    edge_of,
    freeform,
    middle_mm,
    plane_face,
    point,
    quarter_arc,
    ring_pieces,
    sewn_solid,
    upright_axis,
    vector,
    wire_of,
)
from scalegen.solids.ledge import Seat, seat_of
from scalegen.solids.nose import rounded_tool

_OVERSHOOT_MM = 1.0
_LEVEL_MM = 1e-6


def uncut_slab(plan: BodyPlan, low_mm: float, high_mm: float) -> TopoDS_Shape:
    """The body between two heights, carried on past the front, without front and holes.

    Raises:
        GeometryError: The faces do not close.
    """
    if plan.lip is None or high_mm <= plan.seat_mm + _LEVEL_MM:
        wire = wire_of(ring_pieces(plan.base), low_mm)
        return BRepPrimAPI_MakePrism(plane_face(wire, low_mm), gp_Vec(0, 0, high_mm - low_mm)).Shape()
    if low_mm < plan.seat_mm - _LEVEL_MM:
        seat = seat_of(plan.base, plan.lip)
        lip, bottom = seat.lip, seat.wall
        sides = [*_walls(seat.wall, low_mm, plan.seat_mm), *_ledges(seat, plan.seat_mm)]
    else:
        lip = ring_pieces(plan.lip)
        # At the seat itself the section is the lip, not the wall that ends there.
        bottom, sides = ring_pieces(parallel(plan.lip, -plan.inset_at_mm(low_mm))), []
    built = sewn_solid(
        [
            plane_face(wire_of(bottom, low_mm), low_mm),
            *sides,
            *_cap(plan, lip, max(low_mm, plan.seat_mm), high_mm),
            plane_face(wire_of(ring_pieces(plan.region_at(high_mm)), high_mm), high_mm),
        ]
    )
    if built is None:
        raise GeometryError(
            f"the faces of the {edge_name(plan.edge)} do not close",
            where="scale.edge",
            remedy=f"change the size of the {edge_name(plan.edge)} a little, or smooth the outline",
        )
    return built


def _walls(wall: Pieces, bottom_mm: float, top_mm: float) -> list[TopoDS_Shape]:
    rise = gp_Vec(0, 0, top_mm - bottom_mm)
    return [BRepPrimAPI_MakePrism(edge_of(wall, k, bottom_mm), rise).Shape() for k in range(len(wall))]


def _ledges(seat: Seat, z_mm: float) -> list[TopoDS_Shape]:
    if seat.apart:
        hole = wire_of(seat.lip, z_mm)
        hole.Reverse()
        return [plane_face(wire_of(seat.wall, z_mm), z_mm, [hole])]
    return [plane_face(wire_of(patch, z_mm), z_mm) for patch in seat.patches]


def _cap(plan: BodyPlan, lip: Pieces, low_mm: float, high_mm: float) -> list[TopoDS_Shape]:
    """The edge treatment's faces: one swept or turned profile for each piece of the lip."""
    heading = lip.heading(0.0)
    faces = []
    for k in range(len(lip)):
        inward = np.array([-heading[k, 1], heading[k, 0]])
        profile = _profile(plan, lip.start[k], inward, low_mm, high_mm)
        if lip.sweep[k] == 0:
            faces.append(BRepPrimAPI_MakePrism(profile, vector(lip.end[k] - lip.start[k])).Shape())
            continue
        axis = upright_axis(lip.center[k], up=lip.sweep[k] > 0)
        faces.append(BRepPrimAPI_MakeRevol(profile, axis, abs(float(lip.sweep[k]))).Shape())
    return faces


def _profile(
    plan: BodyPlan, foot: FloatArray, inward: FloatArray, low_mm: float, high_mm: float
) -> TopoDS_Edge:
    """The edge treatment's profile above one point of the lip, between two heights."""
    if plan.edge.treatment == "chamfer":
        low, high = (foot + inward * plan.inset_at_mm(z) for z in (low_mm, high_mm))
        return BRepBuilderAPI_MakeEdge(point(low, low_mm), point(high, high_mm)).Edge()
    r = plan.edge.size_mm
    first, last = (math.asin(min(1.0, max(0.0, (z - plan.seat_mm) / r))) for z in (low_mm, high_mm))
    return quarter_arc(foot + inward * r, inward, plan.seat_mm, r, first_rad=first, last_rad=last)


def holes_of(plan: BodyPlan | DrapedPlan) -> list[TopoDS_Shape]:
    """A cylinder for every bore, longer than the scale is thick where it is open."""
    low = plan.bottom_mm - _OVERSHOOT_MM
    high = plan.top_mm + _OVERSHOOT_MM
    return [
        _cylinder((x, y), bore.diameter_mm, max(low, bore.bottom_mm), min(high, bore.top_mm))
        for x, y, bore in plan.bores
    ]


def _cylinder(center: tuple[float, float], diameter_mm: float, low_mm: float, high_mm: float) -> TopoDS_Shape:
    frame = gp_Ax2(gp_Pnt(*center, low_mm), gp_Dir(0, 0, 1))
    return BRepPrimAPI_MakeCylinder(frame, diameter_mm / 2, high_mm - low_mm).Shape()


def body_solid(
    plan: BodyPlan, low_mm: float, high_mm: float, fuzz_mm: float, *, freeform_front: bool = False
) -> TopoDS_Shape:
    """The slab of a scale between two heights, with front and holes; from bottom to top, the whole scale.

    Args:
        plan: The body.
        low_mm: Height of its underside, from ``plan.bottom_mm`` up.
        high_mm: Height of its top, up to ``plan.top_mm``.
        fuzz_mm: Distance within which the kernel takes faces as coinciding while it cuts.
        freeform_front: Cut the front with B-spline surfaces, see :func:`freeform`.

    Raises:
        GeometryError: Nothing sound is left after the front is cut.
    """
    if plan.is_steady(low_mm, high_mm):
        drilled = drilled_prism(plan, low_mm, high_mm)
        if drilled is not None:
            return drilled
    slab = uncut_slab(plan, low_mm, high_mm)
    front = freeform(front_tool(plan)) if freeform_front else front_tool(plan)
    return behind_front(plan, cut_away(slab, [front, *holes_of(plan)], fuzz_mm))


def draped_solid(plan: DrapedPlan, fuzz_mm: float) -> TopoDS_Shape:
    """A whole scale whose face is not flat or whose edge changes, with front and holes.

    Raises:
        GeometryError: Nothing sound is left after the front is cut.
    """
    return behind_front(plan, cut_away(uncut_body(plan), draped_tools(plan), fuzz_mm))


def draped_tools(plan: DrapedPlan) -> list[TopoDS_Shape]:
    """What is cut away from the uncut body: front and holes."""
    rounded = plan.nose.blend_mm > 0 and not plan.face.is_flat
    front = rounded_tool(plan) if rounded else front_tool(plan)
    return [front, *holes_of(plan)]


def behind_front(plan: BodyPlan | DrapedPlan, pieces: Sequence[TopoDS_Solid]) -> TopoDS_Solid:
    """The one piece that lies behind the front.

    Raises:
        GeometryError: There is none, or more than one.
    """
    behind = [solid for solid in pieces if len(pieces) == 1 or _is_behind(plan, solid)]
    if len(behind) != 1:
        raise GeometryError(
            f"cutting the front leaves {len(behind)} pieces instead of one",
            where="front",
            remedy="check the front line against the outline and the holes",
        )
    return behind[0]


def slab_of(
    whole: TopoDS_Shape, plan: BodyPlan | DrapedPlan, low_mm: float, high_mm: float, fuzz_mm: float = 0.0
) -> TopoDS_Shape:
    """The slab of a finished whole between two heights; everything else is cut off.

    Raises:
        GeometryError: The cut leaves more or less than one piece.
    """
    x0, y0, x1, y1 = plan.base.bounds_mm
    low, high = plan.bottom_mm - _OVERSHOOT_MM, plan.top_mm + _OVERSHOOT_MM
    tools = [
        BRepPrimAPI_MakeBox(
            gp_Pnt(x0 - _OVERSHOOT_MM, y0 - _OVERSHOOT_MM, bottom),
            gp_Pnt(x1 + _OVERSHOOT_MM, y1 + _OVERSHOOT_MM, top),
        ).Shape()
        for bottom, top in ((low, low_mm), (high_mm, high))
        if plan.bottom_mm + _LEVEL_MM < bottom < plan.top_mm - _LEVEL_MM
        or plan.bottom_mm + _LEVEL_MM < top < plan.top_mm - _LEVEL_MM
    ]
    pieces = cut_away(whole, tools, fuzz_mm)
    if len(pieces) != 1:
        raise GeometryError(
            f"splitting off a layer leaves {len(pieces)} pieces instead of one", where="solid"
        )
    return pieces[0]


def drilled_prism(plan: BodyPlan | DrapedPlan, low_mm: float, high_mm: float) -> TopoDS_Shape | None:
    """A slab whose section never changes, straight from its outline; None when a hole breaks out of it."""
    (section, *others) = plan.section_at((low_mm + high_mm) / 2)
    holes = open_at(plan.bores, (low_mm + high_mm) / 2)
    centers = np.array([hole[:2] for hole in holes]).reshape(-1, 2)
    radii = np.array([hole[2] / 2 for hole in holes])
    if others or (len(radii) and (distances_mm(section, centers) <= radii + 0.01).any()):
        return None
    wires = []
    for x, y, diameter in holes:
        wire = wire_of(ring_pieces(circle(x, y, diameter)), low_mm)
        wire.Reverse()
        wires.append(wire)
    face = plane_face(wire_of(ring_pieces(section), low_mm), low_mm, wires)
    return BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, high_mm - low_mm)).Shape()


def _is_behind(plan: BodyPlan | DrapedPlan, solid: TopoDS_Shape) -> bool:
    return float((middle_mm(solid)[:2] - plan.curve.point) @ plan.curve.inward) > -plan.allowance_mm
