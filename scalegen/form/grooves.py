"""Grooves in the face: where a flat cutter runs, and what it takes away.

A groove is what a cutter sweeps whose centre runs along a straight line, at a constant depth below the face:
a strip with round ends. It keeps clear of edge treatment, finished front and pins. What all grooves cover
together is a matter of the plan alone: the volume is its area times the depth, whatever the face.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.model import Relief
from scalegen.outline.front import clip_behind, front_curve, setback_mm
from scalegen.outline.ring import FloatArray, Ring

_ROUND = 256
_FLAT_MM = 0.002
_SHORTEST = 1.0
_MOST = 400


@dataclass(frozen=True, kw_only=True, eq=False)
class Grooves:
    """All grooves of a face.

    Attributes:
        starts: (k, 2) where the cutter's centre comes down, mm.
        ends: (k, 2) where it comes up.
        width_mm: Of each groove.
        depth_mm: Below the face.
    """

    starts: FloatArray
    ends: FloatArray
    width_mm: float
    depth_mm: float

    @cached_property
    def _lines(self) -> "shapely.MultiLineString":
        return shapely.MultiLineString(np.stack([self.starts, self.ends], axis=1).tolist())

    @property
    def area_mm2(self) -> float:
        """Area that they cover, each place once."""
        return float(shapely.buffer(self._lines, self.width_mm / 2, quad_segs=_ROUND).area)

    def depth_at_mm(self, points: FloatArray, slack_mm: float = 0.0) -> FloatArray:
        """How deep (n,) below the face the surface lies at points (n, 2); walls count to the face."""
        away = shapely.distance(self._lines, shapely.points(points))
        depth: FloatArray = np.where(away < self.width_mm / 2 - slack_mm, self.depth_mm, 0.0)
        return depth

    def rings(self) -> list[Ring]:
        """The outline of every groove."""
        along = self.ends - self.starts
        along /= np.hypot(along[:, 0], along[:, 1])[:, None]
        side = np.column_stack([-along[:, 1], along[:, 0]]) * self.width_mm / 2
        return [
            Ring(np.array([[*(a - s), 0.0], [*(b - s), 1.0], [*(b + s), 0.0], [*(a + s), 1.0]]))
            for a, b, s in zip(self.starts, self.ends, side, strict=True)
        ]


def grooves_of(scale: Scale) -> Grooves | None:
    """Lay out the grooves of a scale; None where its pattern has none.

    Raises:
        GeometryError: There is no room for any, or they would be too many.
    """
    relief = scale.pattern.relief
    if relief is None:
        return None
    room = _room(scale, relief)
    ways = [relief.angle_rad]
    if relief.lines == "crossed":
        ways.append(relief.angle_rad + math.pi / 2)
    found = [run for way in ways for run in _runs(room, way, relief)]
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
    return Grooves(starts=runs[:, 0], ends=runs[:, 1], width_mm=relief.width_mm, depth_mm=relief.depth_mm)


def _room(scale: Scale, relief: Relief) -> shapely.Geometry:
    """Where a cutter's centre may be."""
    front, top = scale.pattern.front, scale.thickness_mm
    clear = relief.margin_mm + relief.width_mm / 2
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
