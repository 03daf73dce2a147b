"""Solids put together from faces that share their edges and corners from the start; nothing is sewn.

A corner asked for twice is one vertex, a curve asked for twice is one edge, run either way. A face names its
surface and its edges in order; where an edge lies in the surface's own parameters follows from where its
points lie, so that no curve is ever projected.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from OCP.BRep import BRep_Builder
from OCP.BRepLib import BRepLib
from OCP.Geom import Geom_Circle, Geom_Curve, Geom_Line, Geom_Surface
from OCP.Geom2d import Geom2d_Curve
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import (
    TopoDS,
    TopoDS_Edge,
    TopoDS_Face,
    TopoDS_Shell,
    TopoDS_Solid,
    TopoDS_Vertex,
    TopoDS_Wire,
)

from scalegen.outline.ring import FloatArray
from scalegen.solids.spline import curve_2d, curve_3d, poles_through, straight_2d

SAME_MM = 2e-6
_TOLERANCE_MM = 1e-6
_SAME_CURVE_MM = 1e-3

Places = Callable[[FloatArray], FloatArray]
"""Points (n, 3) on a surface to its parameters (n, 2)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Run:
    """An edge as it was made: from ``first`` to ``last`` of its own parameter.

    Attributes:
        edge: The kernel's edge.
        first: Parameter at its start.
        last: Parameter at its end.
        points: (n, 3) on it at the Greville places of ``knots``; start and end alone for lines and arcs.
        knots: Of the spline; empty for lines and arcs.
    """

    edge: TopoDS_Edge
    first: float
    last: float
    points: FloatArray
    knots: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Side:
    """An edge as a face uses it.

    Attributes:
        run: The edge.
        back: Travelled against its own direction.
        line: (2, 2) parameters of the surface at the start and end of travel, where the edge is a straight
            line in them; None to work them out.
    """

    run: Run
    back: bool
    line: FloatArray | None = None

    def along(self, start: Sequence[float], end: Sequence[float]) -> "Side":
        """The same side as a straight line in the surface's parameters."""
        return Side(run=self.run, back=self.back, line=np.array([start, end]))

    def turned(self) -> "Side":
        """The same side travelled the other way."""
        return Side(run=self.run, back=not self.back, line=None if self.line is None else self.line[::-1])


class Shell:
    """Collects faces; :meth:`solid` closes them."""

    def __init__(self) -> None:
        self._builder = BRep_Builder()
        self._where = TopLoc_Location()
        self._cells: dict[tuple[int, int, int], list[int]] = {}
        self._places: list[FloatArray] = []
        self._corners: list[TopoDS_Vertex] = []
        self._runs: dict[tuple[int, int], list[tuple[FloatArray, Run]]] = {}
        self._faces: list[TopoDS_Face] = []

    # ------------------------------------------------------------------------------ corners and edges

    def _corner(self, place: FloatArray) -> int:
        """Number of the vertex at a place (3,), a new one where there was none."""
        cell = np.floor(place / (4 * SAME_MM)).astype(int)
        for step in np.ndindex(3, 3, 3):
            for k in self._cells.get(tuple((cell + step - 1).tolist()), ()):
                if np.abs(self._places[k] - place).max() < SAME_MM:
                    return k
        vertex = TopoDS_Vertex()
        self._builder.MakeVertex(vertex, gp_Pnt(*place.tolist()), _TOLERANCE_MM)
        self._cells.setdefault(tuple(cell.tolist()), []).append(len(self._places))
        self._places.append(place)
        self._corners.append(vertex)
        return len(self._places) - 1

    def _found(self, start: FloatArray, end: FloatArray, middle: FloatArray) -> tuple[int, int, Side | None]:
        a, b = self._corner(start), self._corner(end)
        for known, run in self._runs.get((min(a, b), max(a, b)), ()):
            if np.abs(known - middle).max() < _SAME_CURVE_MM:
                return a, b, Side(run=run, back=bool(np.abs(run.points[0] - start).max() > SAME_MM))
        return a, b, None

    def _made(
        self, ends: tuple[int, int], curve: Geom_Curve, span: tuple[float, float]
    ) -> tuple[TopoDS_Edge, list[tuple[FloatArray, Run]]]:
        edge = TopoDS_Edge()
        self._builder.MakeEdge(edge, curve, _TOLERANCE_MM)
        self._builder.Add(edge, self._corners[ends[0]].Oriented(TopAbs_FORWARD))
        self._builder.Add(edge, self._corners[ends[1]].Oriented(TopAbs_REVERSED))
        self._builder.Range(edge, *span)
        return edge, self._runs.setdefault((min(ends), max(ends)), [])

    def spline(self, points: FloatArray, knots: FloatArray) -> Side:
        """The spline through points (n, 3) at the Greville places of its knots."""
        # The middle of an even spline falls on its middle pole or between two.
        half = (len(points) - 1) / 2
        middle = (points[int(np.floor(half))] + points[int(np.ceil(half))]) / 2
        a, b, side = self._found(points[0], points[-1], middle)
        if side is not None:
            return side
        curve = curve_3d(poles_through(points, knots), knots)
        edge, shelf = self._made((a, b), curve, (0.0, 1.0))
        run = Run(edge=edge, first=0.0, last=1.0, points=points, knots=knots)
        shelf.append((middle, run))
        return Side(run=run, back=False)

    def line(self, start: FloatArray, end: FloatArray) -> Side:
        """A straight edge between places (3,)."""
        middle = (start + end) / 2
        a, b, side = self._found(start, end, middle)
        if side is not None:
            return side
        length = float(np.linalg.norm(end - start))
        curve = Geom_Line(gp_Pnt(*start.tolist()), gp_Dir(*(end - start).tolist()))
        edge, shelf = self._made((a, b), curve, (0.0, length))
        run = Run(edge=edge, first=0.0, last=length, points=np.array([start, end]), knots=np.empty(0))
        shelf.append((middle, run))
        return Side(run=run, back=False)

    def level_arc(
        self, center: FloatArray, radius_mm: float, z_mm: float, angles: tuple[float, float]
    ) -> Side:
        """An arc at a height about a centre (2,), from one angle to another, either way round."""
        first, last = angles
        spots = [
            np.array([*(center + radius_mm * np.array([np.cos(a), np.sin(a)])), z_mm])
            for a in (first, last, (first + last) / 2)
        ]
        a, b, side = self._found(*spots)
        if side is not None:
            return side
        way = 1.0 if last > first else -1.0
        frame = gp_Ax2(gp_Pnt(float(center[0]), float(center[1]), z_mm), gp_Dir(0, 0, way), gp_Dir(1, 0, 0))
        edge, shelf = self._made((a, b), Geom_Circle(frame, radius_mm), (way * first, way * last))
        run = Run(
            edge=edge, first=way * first, last=way * last, points=np.array(spots[:2]), knots=np.empty(0)
        )
        shelf.append((spots[2], run))
        return Side(run=run, back=False)

    def point_edge(self, place: FloatArray, start: Sequence[float], end: Sequence[float]) -> Side:
        """The side of a surface that is only a point (3,), between two of its parameters."""
        edge = TopoDS_Edge()
        self._builder.MakeEdge(edge)
        corner = self._corners[self._corner(place)]
        self._builder.Add(edge, corner.Oriented(TopAbs_FORWARD))
        self._builder.Add(edge, corner.Oriented(TopAbs_REVERSED))
        self._builder.Degenerated(edge, True)
        self._builder.Range(edge, 0.0, 1.0)
        run = Run(edge=edge, first=0.0, last=1.0, points=np.array([place, place]), knots=np.empty(0))
        return Side(run=run, back=False, line=np.array([start, end]))

    # ------------------------------------------------------------------------------------------ faces

    def face(
        self,
        surface: Geom_Surface,
        loops: Iterable[Sequence[Side]],
        places: Places | None = None,
        *,
        against: bool = False,
    ) -> None:
        """Add a face.

        Args:
            surface: Its surface.
            loops: Its borders, the outer one first, each with the material to its left seen against the
                outward normal.
            places: Parameters of points on it; None for planes, which need none.
            against: The outward normal is the surface's own turned round.
        """
        face = TopoDS_Face()
        self._builder.MakeFace(face, surface, self._where, _TOLERANCE_MM)
        for loop in loops:
            wire = TopoDS_Wire()
            self._builder.MakeWire(wire)
            # A face that is turned round takes its borders turned round with it.
            sides = [side.turned() for side in reversed(loop)] if against else loop
            for side in sides:
                placed = self._placed(side, places)
                if placed is not None:
                    self._builder.UpdateEdge(side.run.edge, placed, surface, self._where, _TOLERANCE_MM)
                way = TopAbs_REVERSED if side.back else TopAbs_FORWARD
                self._builder.Add(wire, side.run.edge.Oriented(way))
            wire.Closed(True)
            self._builder.Add(face, wire)
        self._faces.append(TopoDS.Face_s(face.Oriented(TopAbs_REVERSED)) if against else face)

    def _placed(self, side: Side, places: Places | None) -> Geom2d_Curve | None:
        """The edge in the parameters of a surface, in the edge's own direction."""
        run = side.run
        if side.line is not None:
            start, end = side.line[::-1] if side.back else side.line
            return straight_2d(start, end, run.first, run.last)
        if places is None:
            return None
        spots = places(run.points)
        if len(run.knots):
            return curve_2d(poles_through(spots, run.knots), run.knots)
        return straight_2d(spots[0], spots[1], run.first, run.last)

    def solid(self) -> TopoDS_Solid:
        """The solid that all faces enclose."""
        shell = TopoDS_Shell()
        self._builder.MakeShell(shell)
        for face in self._faces:
            self._builder.Add(shell, face)
        shell.Closed(True)
        solid = TopoDS_Solid()
        self._builder.MakeSolid(solid)
        self._builder.Add(solid, shell)
        BRepLib.SameParameter_s(solid, _TOLERANCE_MM, True)
        return solid


def tip(side: Side, end: int) -> FloatArray:
    """Where a side starts (0) or ends (1), (3,)."""
    points = side.run.points[::-1] if side.back else side.run.points
    tip: FloatArray = points[-1] if end else points[0]
    return tip


def around(center: FloatArray, middle_rad: float) -> Places:
    """Parameters of an upright cylinder about a centre: angle, near a middle one, and height."""

    def places(points: FloatArray) -> FloatArray:
        arm = points[:, :2] - center
        angle = np.arctan2(arm[:, 1], arm[:, 0]) - middle_rad
        near = middle_rad + (angle + np.pi) % (2 * np.pi) - np.pi
        return np.column_stack([near, points[:, 2]])

    return places
