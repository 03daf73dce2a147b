"""Borders and faces that follow the outer side of a scale, for bodies and the grooves in them."""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from OCP.Geom import Geom_CylindricalSurface, Geom_Plane, Geom_Surface
from OCP.gp import gp_Ax3, gp_Dir

from scalegen.face import FaceShape
from scalegen.form.draped import DrapedPlan
from scalegen.outline.pieces import Pieces
from scalegen.outline.ring import FloatArray
from scalegen.solids.kernel import point
from scalegen.solids.shell import Shell, Side, around, tip
from scalegen.solids.spline import DEGREE, basis, even_knots, greville, poles_through, surface_through

Lift = Callable[[Pieces, int, FloatArray], FloatArray]
"""A piece and shares (n,) along it to points (n, 3) above it."""

Border = Callable[[Pieces, int], Side]
"""A piece to the edge that runs above or below it."""

_SPAN_MM, _SPAN_SWELL_MM = 4.0, 1.5
_SPAN_RAD = math.pi / 10
_SPANS, _KEPT_MM = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64), 1e-7
_TRIED, _CHECKED = 5, 401
_NOTHING_MM = 1e-9


class Draper:
    """Collects the faces of one body over a plan."""

    def __init__(self, plan: DrapedPlan) -> None:
        self.plan = plan
        self.shell = Shell()
        x0, y0, x1, y1 = plan.base.bounds_mm
        self.box = (x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0)

    # ---------------------------------------------------------------------------------------- borders

    def bottom(self, pieces: Pieces, k: int) -> Side:
        """One piece at the underside."""
        return self.level(pieces, k, self.plan.bottom_mm)

    def level(self, pieces: Pieces, k: int, z: float) -> Side:
        """One piece at a height."""
        sweep = float(pieces.sweep[k])
        if sweep == 0:
            return self.shell.line(np.array([*pieces.start[k], z]), np.array([*pieces.end[k], z]))
        first = float(pieces.first[k])
        return self.shell.level_arc(pieces.center[k], float(pieces.radius[k]), z, (first, first + sweep))

    def at_depth(self, depth_mm: float) -> Lift:
        """Points above pieces at a depth below the face."""

        def lift(pieces: Pieces, k: int, share: FloatArray) -> FloatArray:
            xy = pieces.at(np.full(len(share), k), share)
            return np.column_stack([xy, self.plan.face.height_mm(xy) - depth_mm])

        return lift

    def knots(self, pieces: Pieces, k: int) -> FloatArray:
        """Knots fine enough for what follows the face above one piece."""
        return self.knots_for(float(pieces.lengths[k]), float(pieces.sweep[k]))

    def knots_for(self, length_mm: float, sweep_rad: float = 0.0) -> FloatArray:
        """Knots fine enough for what follows the face above a line or arc of a length."""
        longest = _SPAN_SWELL_MM if len(self.plan.face.stations) else _SPAN_MM
        spans = max(2, math.ceil(length_mm / longest), math.ceil(abs(sweep_rad) / _SPAN_RAD))
        return even_knots(spans)

    def spline(self, pieces: Pieces, k: int, lift: Lift) -> Side:
        """The edge above one piece."""
        knots = self.knots(pieces, k)
        return self.shell.spline(lift(pieces, k, greville(knots)), knots)

    def border(self, pieces: Pieces, lift: Lift) -> list[Side]:
        """The edges above all pieces, in their order."""
        return [self.spline(pieces, k, lift) for k in range(len(pieces))]

    # ------------------------------------------------------------------------------------------ faces

    def walls(self, pieces: Pieces, low: Border, high: Border) -> None:
        """Upright faces over pieces that have the material to their left, between two borders."""
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

    def graph(self, depth_mm: float, loops: Sequence[Sequence[Side]], *, against: bool = False) -> None:
        """A stretch of the face itself, or of the flange at a depth below it."""
        surface = graph_surface(self.plan.face, self.box, depth_mm)
        self.shell.face(surface, loops, lambda points: points[:, :2], against=against)


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


def reversed_border(sides: Sequence[Side]) -> list[Side]:
    """A border travelled the other way."""
    return [side.turned() for side in reversed(sides)]
