"""Grooves in the face: where a cutter runs, and what it takes away.

A groove is what a cutter sweeps whose centre runs along a straight line, at a constant depth below the face:
a strip with round ends, level across for a flat cutter and hollow for a ball. It keeps clear of edge
treatment, finished front and pins. How deep the face is cut depends on the distance from the nearest line
alone: the volume is a matter of the plan, whatever the face.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.model import Relief
from scalegen.outline.chain import chain
from scalegen.outline.front import clip_behind, front_curve, setback_mm
from scalegen.outline.measure import middles
from scalegen.outline.pieces import box_pairs, crossings, joined, pieces_of
from scalegen.outline.ring import FloatArray, Ring

_ROUND = 256
_FLAT_MM = 0.002
_SHORTEST = 1.0
_MOST = 400
_SIDES, _NODES = 4, 12
_ON_MM = 1e-7
_APART_MM = 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class Grooves:
    """All grooves of a face.

    Attributes:
        starts: (k, 2) where the cutter's centre comes down, mm.
        ends: (k, 2) where it comes up.
        width_mm: Diameter of the cutter.
        depth_mm: Below the face, at the deepest.
        ball: Cut with a ball instead of a flat cutter.
    """

    starts: FloatArray
    ends: FloatArray
    width_mm: float
    depth_mm: float
    ball: bool = False

    @cached_property
    def _lines(self) -> "shapely.MultiLineString":
        return shapely.MultiLineString(np.stack([self.starts, self.ends], axis=1).tolist())

    @property
    def half_mm(self) -> float:
        """Half the width of a groove at the face."""
        return half_width_mm(self.width_mm, self.depth_mm, ball=self.ball)

    @property
    def turn_rad(self) -> float:
        """How far round a ball cuts, from its lowest point to the face."""
        return math.asin(min(1.0, 2 * self.half_mm / self.width_mm))

    @property
    def area_mm2(self) -> float:
        """Area that they cover, each place once."""
        return self._covered_mm2(self.half_mm)

    def _covered_mm2(self, away_mm: float) -> float:
        return float(shapely.buffer(self._lines, away_mm, quad_segs=_ROUND).area)

    @cached_property
    def volume_mm3(self) -> float:
        """What they take away, each place once.

        For a ball, layer by layer from the floor up: a layer as wide as the hollow is at its height, by
        Gauss-Legendre quadrature over the ball's own turn.
        """
        if not self.ball:
            return self.area_mm2 * self.depth_mm
        node, weight = np.polynomial.legendre.leggauss(_NODES)
        turn, radius = (node + 1) / 2 * self.turn_rad, self.width_mm / 2
        areas = np.array([self._covered_mm2(radius * math.sin(angle)) for angle in turn.tolist()])
        return float((areas * radius * np.sin(turn) * weight).sum() / 2 * self.turn_rad)

    def depth_at_mm(self, points: FloatArray, slack_mm: float = 0.0) -> FloatArray:
        """How deep (n,) below the face the surface lies at points (n, 2); walls count to the face."""
        away = shapely.distance(self._lines, shapely.points(points)) + slack_mm
        inside = away < self.half_mm
        if not self.ball:
            return np.where(inside, self.depth_mm, 0.0)
        radius = self.width_mm / 2
        rise = radius - np.sqrt(np.maximum(radius**2 - np.where(inside, away, 0.0) ** 2, 0.0))
        depth: FloatArray = np.where(inside, self.depth_mm - rise, 0.0)
        return depth

    def rings(self) -> list[Ring]:
        """The outline of every groove at the face, counter-clockwise."""
        along = self.ends - self.starts
        along /= np.hypot(along[:, 0], along[:, 1])[:, None]
        side = np.column_stack([-along[:, 1], along[:, 0]]) * self.half_mm
        return [
            Ring(np.array([[*(a - s), 0.0], [*(b - s), 1.0], [*(b + s), 0.0], [*(a + s), 1.0]]))
            for a, b, s in zip(self.starts, self.ends, side, strict=True)
        ]

    def region(self) -> list[Ring]:
        """Outlines of all that grooves cover: counter-clockwise around it, clockwise around islands."""
        pieces = joined(*(pieces_of(ring) for ring in self.rings()))
        i, j = box_pairs(pieces, pieces)
        # Two pieces of one groove meet only at their ends.
        other = i // _SIDES < j // _SIDES
        pairs = i[other], j[other]
        which, at_i, at_j = crossings(pieces, pieces, pairs)
        cut = pieces.cut(np.concatenate([pairs[0][which], pairs[1][which]]), np.concatenate([at_i, at_j]))
        away = shapely.distance(self._lines, shapely.points(middles(cut)))
        return chain(cut[away > self.half_mm - _ON_MM])


def half_width_mm(diameter_mm: float, depth_mm: float, *, ball: bool) -> float:
    """Half the width at the face of what a cutter leaves: for a ball, half a chord of its circle."""
    if not ball:
        return diameter_mm / 2
    return math.sqrt(max(0.0, depth_mm * (diameter_mm - depth_mm)))


def grooves_of(scale: Scale) -> Grooves | None:
    """Lay out the grooves of a scale; None where its pattern has none.

    Raises:
        GeometryError: There is no room for any, or they would be too many.
    """
    relief = scale.pattern.relief
    if relief is None:
        return None
    _require_hollow(relief)
    room = _room(scale, relief)
    ways = [relief.angle_rad]
    if relief.lines == "crossed":
        ways.append(relief.angle_rad + math.pi / 2)
    found = [run for way in ways for run in _runs(room, way, relief)]
    if relief.cutter == "ball":
        found = _clear_ends(found, half_width_mm(relief.width_mm, relief.depth_mm, ball=True))
    if not found:
        raise GeometryError(
            "there is no room for grooves between edge, front and pins",
            where="scale.relief",
            remedy="use a smaller margin or a thinner cutter",
        )
    if len(found) > _MOST:
        raise GeometryError(
            f"{len(found)} grooves are more than the {_MOST} that can be made",
            where="scale.relief.pitch",
            remedy="use a larger pitch",
        )
    runs = np.array(found)
    return Grooves(
        starts=runs[:, 0],
        ends=runs[:, 1],
        width_mm=relief.width_mm,
        depth_mm=relief.depth_mm,
        ball=relief.cutter == "ball",
    )


def _require_hollow(relief: Relief) -> None:
    """A ball must leave a hollow with something between it and the next.

    Raises:
        GeometryError: It goes in deeper than half its diameter, or the hollows run into each other.
    """
    if relief.cutter != "ball":
        return
    if relief.depth_mm > relief.width_mm / 2:
        raise GeometryError(
            f"a ball cutter of {relief.width_mm:g} mm cuts a round hollow at most"
            f" {relief.width_mm / 2:g} mm deep, not {relief.depth_mm:g} mm",
            where="scale.relief.depth",
            remedy="make the grooves shallower, or use a larger ball or a flat cutter",
        )
    wide = 2 * half_width_mm(relief.width_mm, relief.depth_mm, ball=True)
    if relief.pitch_mm < wide + 2 * _APART_MM:
        raise GeometryError(
            f"grooves {wide:.2f} mm wide at the face run into each other {relief.pitch_mm:g} mm apart",
            where="scale.relief.pitch",
            remedy=f"use a pitch of at least {wide + 2 * _APART_MM:.2f} mm, or shallower grooves",
        )


def _room(scale: Scale, relief: Relief) -> shapely.Geometry:
    """Where a cutter's centre may be."""
    front, top = scale.pattern.front, scale.thickness_mm
    clear = relief.margin_mm + half_width_mm(relief.width_mm, relief.depth_mm, ball=relief.cutter == "ball")
    room = shapely.Polygon(scale.finished.flatten(_FLAT_MM)).buffer(-(scale.pattern.edge.size_mm + clear))
    parts = clip_behind(scale.carried, front_curve(front), setback_mm(front, top, top) + clear)
    behind = shapely.union_all([shapely.Polygon(part.flatten(_FLAT_MM)) for part in parts])
    pins = [shapely.Point(hole.at_mm).buffer(hole.widest_mm / 2 + clear) for hole in scale.holes]
    return room.intersection(behind).difference(shapely.union_all(pins))


def _runs(room: shapely.Geometry, angle_rad: float, relief: Relief) -> list[tuple[FloatArray, FloatArray]]:
    """Runs of the cutter one way, from line to line."""
    if room.is_empty:
        return []
    x0, y0, x1, y1 = room.bounds
    middle, reach = np.array([(x0 + x1) / 2, (y0 + y1) / 2]), math.hypot(x1 - x0, y1 - y0)
    along = np.array([math.cos(angle_rad), math.sin(angle_rad)])
    across = np.array([-along[1], along[0]])
    count = math.ceil(reach / 2 / relief.pitch_mm)
    found = []
    for k in range(-count, count + 1):
        foot = middle + k * relief.pitch_mm * across
        line = shapely.LineString([foot - reach * along, foot + reach * along])
        for part in shapely.get_parts(room.intersection(line)):
            if part.geom_type == "LineString" and part.length >= _SHORTEST * relief.width_mm:
                a, b = (np.array(point) for point in part.coords[:: len(part.coords) - 1])
                found.append((a, b))
    return found


Run = tuple[FloatArray, FloatArray]


def _clear_ends(runs: list[Run], half_mm: float) -> list[Run]:
    """Runs cut back until none ends in or beside another: they cross it well, or stop well before it."""
    need = 2 * half_mm + _APART_MM
    kept = list(runs)
    for _ in range(_MOST):
        changed = False
        for k in range(len(kept)):
            run = kept[k]
            others = kept[:k] + kept[k + 1 :]
            back = _cut_back(run, others, half_mm + _APART_MM, need)
            if back is None:
                del kept[k]
                changed = True
                break
            if back is not run:
                kept[k], changed = back, True
        if not changed:
            break
    return kept


def _cut_back(run: Run, others: list[Run], past_mm: float, need_mm: float) -> Run | None:
    """A run that ends clear of others; the same one where it does already, None where nothing is left."""
    for flip in (False, True):
        a, b = run[::-1] if flip else run
        length = float(np.hypot(*(b - a)))
        along = (b - a) / length
        for c, d in others:
            near = float(shapely.distance(shapely.Point(b), shapely.LineString([c, d])))
            if near >= need_mm - _ON_MM:
                continue
            # How far before the end the other run crosses this one, negative where it lies beyond.
            before = float((b - c) @ along)
            ends = sorted(float((end - b) @ np.array([-along[1], along[0]])) for end in (c, d))
            square = abs(float((d - c) @ along)) < _ON_MM
            if square and before >= past_mm - _ON_MM and ends[0] <= -past_mm and ends[1] >= past_mm:
                continue
            # Square to it, or in line with it: nothing else runs so near.
            left = length - before - need_mm if square else length - (need_mm - near)
            if left < need_mm:
                return None
            shorter = a + left * along
            return (shorter, a) if flip else (a, shorter)
    return run
