"""The body of a draped plan: walls on lines and arcs, a spline face for each piece of the edge treatment."""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from OCP.Geom import Geom_CylindricalSurface, Geom_Plane, Geom_Surface
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt
from OCP.TopoDS import TopoDS_Shape

from scalegen.face import FaceShape
from scalegen.form.draped import DrapedPlan
from scalegen.form.run import EdgeRun, crests
from scalegen.outline.pieces import Pieces
from scalegen.outline.ring import FloatArray
from scalegen.solids.kernel import point, ring_pieces, within_half_turns
from scalegen.solids.ledge import seat_of
from scalegen.solids.shell import Shell, Side, around, tip
from scalegen.solids.spline import DEGREE, basis, even_knots, greville, poles_through, surface_through

Lift = Callable[[Pieces, int, FloatArray], FloatArray]
"""A piece and shares (n,) along it to points (n, 3) above it."""

Border = Callable[[Pieces, int], Side]
"""A piece to the edge that runs above or below it."""

_SPAN_MM, _SPAN_SWELL_MM = 4.0, 1.5
_SPAN_RAD = math.pi / 10
_TURN_SPANS = 6
_SPANS, _KEPT_MM = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64), 1e-7
_TRIED, _CHECKED = 5, 401
_NOTHING_MM = 1e-9
_OVER_MM = 1.0


def uncut_body(plan: DrapedPlan) -> TopoDS_Shape:
    """The body carried on past the front, without front and holes."""
    return _Body(plan).solid()


def groove_tools(plan: DrapedPlan) -> list[TopoDS_Shape]:
    """What the cutter takes out for each groove: from a floor that follows the face, up out of the body."""
    if plan.grooves is None:
        return []
    return [_Groove(plan, ring_pieces(ring), plan.grooves.depth_mm).solid() for ring in plan.grooves.rings()]


class _Body:
    """Puts the faces of one body together."""

    def __init__(self, plan: DrapedPlan) -> None:
        self.plan = plan
        self.shell = Shell()
        x0, y0, x1, y1 = plan.base.bounds_mm
        self.box = (x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0)

    def solid(self) -> TopoDS_Shape:
        plan, run = self.plan, self.plan.run
        if run is None:
            wall = ring_pieces(plan.base)
            self._walls(wall, self._bottom, lambda p, k: self._spline(p, k, self._at_depth(0.0)))
            self._graph(0.0, [self._border(wall, self._at_depth(0.0))])
        else:
            seat = seat_of(plan.base, within_half_turns(run.pieces))
            wall, lip = seat.wall, seat.lip
            crest = self._bands(lip, run)
            level = self._at_depth(plan.seat_drop_mm)
            if not run.is_steady:
                self._walls(lip, lambda p, k: self._spline(p, k, level), lambda p, k: self._foot(p, k, run))
            self._walls(wall, self._bottom, lambda p, k: self._spline(p, k, level))
            border = self._border(wall, level)
            if seat.apart:
                self._graph(plan.seat_drop_mm, [border, _round(self._border(lip, level))])
            else:
                for patch in seat.patches:
                    self._graph(plan.seat_drop_mm, [self._border(patch, level)], against=_area(patch) < 0)
            self._graph(0.0, [crest])
        floor = Geom_Plane(gp_Ax3(gp_Pnt(0, 0, plan.bottom_mm), gp_Dir(0, 0, 1)))
        self.shell.face(floor, [_round([self._bottom(wall, k) for k in range(len(wall))])], against=True)
        return self.shell.solid()

    # ---------------------------------------------------------------------------------------- borders

    def _bottom(self, pieces: Pieces, k: int) -> Side:
        return self._level(pieces, k, self.plan.bottom_mm)

    def _level(self, pieces: Pieces, k: int, z: float) -> Side:
        """One piece at a height."""
        sweep = float(pieces.sweep[k])
        if sweep == 0:
            return self.shell.line(np.array([*pieces.start[k], z]), np.array([*pieces.end[k], z]))
        first = float(pieces.first[k])
        return self.shell.level_arc(pieces.center[k], float(pieces.radius[k]), z, (first, first + sweep))

    def _at_depth(self, depth_mm: float) -> Lift:
        """Points above pieces at a depth below the face."""

        def lift(pieces: Pieces, k: int, share: FloatArray) -> FloatArray:
            xy = pieces.at(np.full(len(share), k), share)
            return np.column_stack([xy, self.plan.face.height_mm(xy) - depth_mm])

        return lift

    def _knots(self, pieces: Pieces, k: int) -> FloatArray:
        longest = _SPAN_SWELL_MM if len(self.plan.face.stations) else _SPAN_MM
        spans = max(2, math.ceil(pieces.lengths[k] / longest), math.ceil(abs(pieces.sweep[k]) / _SPAN_RAD))
        return even_knots(spans)

    def _spline(self, pieces: Pieces, k: int, lift: Lift) -> Side:
        knots = self._knots(pieces, k)
        return self.shell.spline(lift(pieces, k, greville(knots)), knots)

    def _border(self, pieces: Pieces, lift: Lift) -> list[Side]:
        return [self._spline(pieces, k, lift) for k in range(len(pieces))]

    def _foot(self, lip: Pieces, k: int, run: EdgeRun) -> Side:
        """Where the treatment starts above one piece of the lip."""

        def lift(pieces: Pieces, k: int, share: FloatArray) -> FloatArray:
            points = self._at_depth(0.0)(pieces, k, share)
            points[:, 2] -= _sizes(run, points[:, :2])
            return points

        return self._spline(lip, k, lift)

    # ------------------------------------------------------------------------------------------ faces

    def _walls(self, pieces: Pieces, low: Border, high: Border) -> None:
        for k in range(len(pieces)):
            self._wall(pieces, k, low(pieces, k), high(pieces, k))

    def _wall(self, pieces: Pieces, k: int, low: Side, high: Side) -> None:
        """The upright face over one piece between two of its borders."""
        start, end = (self.shell.line(tip(low, at), tip(high, at)) for at in (0, 1))
        loop = [low, end, high.turned(), start.turned()]
        sweep = float(pieces.sweep[k])
        if sweep == 0:
            along = pieces.end[k] - pieces.start[k]
            frame = gp_Ax3(
                point(pieces.start[k], 0.0),
                gp_Dir(float(along[1]), float(-along[0]), 0.0),
                gp_Dir(float(along[0]), float(along[1]), 0.0),
            )
            self.shell.face(Geom_Plane(frame), [loop])
            return
        frame = gp_Ax3(point(pieces.center[k], 0.0), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0))
        middle = float(pieces.first[k]) + sweep / 2
        self.shell.face(
            Geom_CylindricalSurface(frame, float(pieces.radius[k])),
            [loop],
            around(pieces.center[k], middle),
            against=sweep < 0,
        )

    def _graph(self, depth_mm: float, loops: Sequence[Sequence[Side]], *, against: bool = False) -> None:
        """A stretch of the face itself, or of the flange at a depth below it."""
        surface = graph_surface(self.plan.face, self.box, depth_mm)
        self.shell.face(surface, loops, lambda points: points[:, :2], against=against)

    def _bands(self, lip: Pieces, run: EdgeRun) -> list[Side]:
        """The edge treatment's faces; returns the border of the face inside them."""
        crest = []
        for k in range(len(lip)):
            share = greville(self._knots(lip, k))
            size = _sizes(run, lip.at(np.full(len(share), k), share))
            if size.max() < _NOTHING_MM:
                crest.append(self._spline(lip, k, self._at_depth(0.0)))
            else:
                crest.append(self._band(lip, k, size))
        return crest

    def _band(self, lip: Pieces, k: int, size: FloatArray) -> Side:
        plan, shell = self.plan, self.shell
        u_knots, v_knots = self._knots(lip, k), even_knots(_TURN_SPANS)
        u, v = (each.ravel() for each in np.meshgrid(greville(u_knots), greville(v_knots), indexing="ij"))
        sizes = np.repeat(size, len(greville(v_knots)))
        inset = plan.inset_mm(sizes, v)
        bare = EdgeRun(pieces=lip, sizes=np.zeros((len(lip), 4)))
        xy = crests(bare, np.full(len(u), k), u, inset)
        z = plan.face.height_mm(xy) - plan.depth_mm(sizes, inset)
        points = np.column_stack([xy, z]).reshape(len(size), -1, 3)
        foot, crest = shell.spline(points[:, 0], u_knots), shell.spline(points[:, -1], u_knots)
        ends = [
            shell.point_edge(points[i, 0], (at, 0.0), (at, 1.0))
            if size[i] < _NOTHING_MM
            else shell.spline(points[i], v_knots).along((at, 0.0), (at, 1.0))
            for i, at in ((0, 0.0), (-1, 1.0))
        ]
        loop = [
            foot.along((0.0, 0.0), (1.0, 0.0)),
            ends[1],
            crest.turned().along((1.0, 1.0), (0.0, 1.0)),
            ends[0].turned(),
        ]
        shell.face(surface_through(points, u_knots, v_knots), [loop])
        return crest


class _Groove(_Body):
    """The tool for one groove."""

    def __init__(self, plan: DrapedPlan, pieces: Pieces, depth_mm: float) -> None:
        super().__init__(plan)
        self.pieces, self.depth_mm = pieces, depth_mm
        reach = np.vstack([pieces.boxes()[:, :2], pieces.boxes()[:, 2:]])
        self.box = (*(reach.min(axis=0) - 1.0).tolist(), *(reach.max(axis=0) + 1.0).tolist())

    def solid(self) -> TopoDS_Shape:
        floor, high = self._at_depth(self.depth_mm), self.plan.top_mm + _OVER_MM
        pieces = self.pieces
        self._walls(pieces, lambda p, k: self._spline(p, k, floor), lambda p, k: self._level(p, k, high))
        self._graph(self.depth_mm, [_round(self._border(pieces, floor))], against=True)
        lid = Geom_Plane(gp_Ax3(gp_Pnt(0, 0, high), gp_Dir(0, 0, 1)))
        self.shell.face(lid, [[self._level(pieces, k, high) for k in range(len(pieces))]])
        return self.shell.solid()


def graph_surface(face: FaceShape, box: tuple[float, float, float, float], depth_mm: float) -> Geom_Surface:
    """A face at a depth below itself as a surface whose parameters are x and y, over a box of them."""
    x0, y0, x1, y1 = box
    lines_x, lines_y = np.linspace(x0, x1, _TRIED), np.linspace(y0, y1, _TRIED)

    def along_x(share: FloatArray) -> FloatArray:
        x = np.tile(x0 + share * (x1 - x0), _TRIED)
        heights = face.height_mm(np.column_stack([x, np.repeat(lines_y, len(share))]))
        return heights.reshape(_TRIED, -1).T

    def along_y(share: FloatArray) -> FloatArray:
        y = np.tile(y0 + share * (y1 - y0), _TRIED)
        heights = face.height_mm(np.column_stack([np.repeat(lines_x, len(share)), y]))
        return heights.reshape(_TRIED, -1).T

    stations = (face.stations[:, 0] - x0) / (x1 - x0)
    u_knots = _least_knots(along_x, stations)
    v_knots = _least_knots(along_y, np.empty(0))
    x, y = x0 + greville(u_knots) * (x1 - x0), y0 + greville(v_knots) * (y1 - y0)
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    z = face.height_mm(grid.reshape(-1, 2)) - depth_mm
    points = np.concatenate([grid, z.reshape(len(x), len(y), 1)], axis=-1)
    return surface_through(points, u_knots, v_knots, u_range=(x0, x1), v_range=(y0, y1))


def _least_knots(values: Callable[[FloatArray], FloatArray], stations: FloatArray) -> FloatArray:
    """The fewest knots on [0, 1] whose splines keep to values at shares; three at every station.

    Fewer spans let the kernel cut a good deal faster.
    """
    inner = np.sort(stations[(stations > _NOTHING_MM) & (stations < 1 - _NOTHING_MM)])
    breaks = np.concatenate([[0.0], inner, [1.0]])
    tried = np.linspace(0.0, 1.0, _CHECKED)
    knots = even_knots(1)
    for spans in _SPANS:
        parts = [np.zeros(DEGREE)]
        for a, b in pairwise(breaks.tolist()):
            parts.append(np.linspace(a, b, max(1, math.ceil(spans * (b - a))) + 1)[:-1])
            parts.append(np.full(2 if b < 1 else DEGREE + 1, b))
        knots = np.concatenate(parts)
        got = basis(knots, tried) @ poles_through(values(greville(knots)), knots)
        if np.abs(got - values(tried)).max() < _KEPT_MM:
            break
    return knots


def _sizes(run: EdgeRun, points: FloatArray) -> FloatArray:
    """Sizes (n,) of the treatment at points (n, 2) of the lip."""
    index, share, _ = run.feet(points)
    return run.size_mm(index, share)


def _round(sides: Sequence[Side]) -> list[Side]:
    """A border travelled the other way."""
    return [side.turned() for side in reversed(sides)]


def _area(pieces: Pieces) -> float:
    """Signed area inside a closed run of pieces, mm2."""
    a, b = pieces.start, pieces.end
    bulge = pieces.radius**2 * (pieces.sweep - np.sin(pieces.sweep)) / 2
    return float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum() / 2 + bulge.sum())
