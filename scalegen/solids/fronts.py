"""The tool that cuts a front: its profile pulled along the line, or turned about the centre of the arc."""

import math
from typing import Protocol

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Shape

from scalegen.model import Front
from scalegen.outline.front import FrontCurve
from scalegen.outline.ring import Ring
from scalegen.solids.kernel import point, quarter_arc, upright_axis, vector

_OVER_MM = 2.0


class Fronted(Protocol):
    """What a tool for the front must know of a body."""

    @property
    def base(self) -> Ring:
        """Ring of the walls."""

    @property
    def curve(self) -> FrontCurve:
        """Front line or arc."""

    @property
    def front(self) -> Front:
        """Front treatment."""

    @property
    def bottom_mm(self) -> float:
        """Lowest height."""

    @property
    def top_mm(self) -> float:
        """Height of the face."""

    def setback_at_mm(self, z_mm: float) -> float:
        """Where the material begins behind the front line at a height."""


def front_tool(plan: Fronted) -> TopoDS_Shape:
    """Everything ahead of the treated front, as a solid to be taken away."""
    curve = plan.curve
    x0, y0, x1, y1 = plan.base.bounds_mm
    span = 2 * math.hypot(x1 - x0, y1 - y0)
    face = _profile_face(plan, span)
    if curve.arc_mm == 0:
        return BRepPrimAPI_MakePrism(face, vector(curve.along * 2 * span)).Shape()
    if curve.arc_mm < 0:
        return BRepPrimAPI_MakeRevol(face, upright_axis(curve.center)).Shape()
    return BRepPrimAPI_MakeRevol(face, upright_axis(curve.center), math.radians(172.0)).Shape()


def _profile_face(plan: Fronted, span_mm: float) -> TopoDS_Face:
    """Section of the removed material in the upright plane the tool starts from."""
    curve = plan.curve
    if curve.arc_mm == 0:
        foot, inward, far = curve.point - curve.along * span_mm, curve.inward, -span_mm
    elif curve.arc_mm < 0:
        # Towards the butt from the centre on the blade side; the axis bounds the profile.
        foot, inward, far = curve.point, curve.inward, -abs(curve.arc_mm)
    else:
        # The proud arc's tool is a sector ahead of the centre, turned through 172 degrees.
        a = math.radians(86.0)
        outward = -curve.inward * math.cos(a) + curve.along * math.sin(a)
        foot, inward, far = curve.center + outward * curve.arc_mm, -outward, -span_mm
    low, high = plan.bottom_mm - _OVER_MM, plan.top_mm + _OVER_MM
    edges: list[TopoDS_Edge] = []

    def line(u0: float, z0: float, u1: float, z1: float) -> None:
        edges.append(
            BRepBuilderAPI_MakeEdge(point(foot + inward * u0, z0), point(foot + inward * u1, z1)).Edge()
        )

    start, front, top = plan.setback_at_mm(plan.bottom_mm), plan.front, plan.top_mm
    line(far, low, start, low)
    if front.treatment == "bevel":
        line(start, low, start, front.land_mm)
        r, slope = front.top_radius_mm, math.tan(front.slope_rad)
        end = start + ((top if r else high) - front.land_mm) / slope
        if r:
            # The rounding touches bevel and face as far from where they meet as the half angle tells.
            reach = r * math.tan(front.slope_rad / 2)
            on_bevel = end - reach * math.cos(front.slope_rad)
            line(start, front.land_mm, on_bevel, top - reach * math.sin(front.slope_rad))
            end += reach
            steep = math.pi / 2 - front.slope_rad
            edges.append(quarter_arc(foot + inward * end, inward, top - r, r, first_rad=steep))
            line(end, top, end, high)
        else:
            line(start, front.land_mm, end, high)
        line(end, high, far, high)
    elif front.treatment == "round":
        line(start, low, start, top - front.radius_mm)
        corner = foot + inward * (start + front.radius_mm)
        edges.append(quarter_arc(corner, inward, top - front.radius_mm, front.radius_mm))
        line(start + front.radius_mm, top, start + front.radius_mm, high)
        line(start + front.radius_mm, high, far, high)
    else:
        line(start, low, start, high)
        line(start, high, far, high)
    line(far, high, far, low)
    wire = BRepBuilderAPI_MakeWire()
    for edge in edges:
        wire.Add(edge)
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
