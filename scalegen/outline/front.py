"""The front: its curve on the tang, the region behind it, and how far its treatment sets it back."""

import math
from dataclasses import dataclass

import numpy as np

from scalegen.errors import GeometryError
from scalegen.model import Front
from scalegen.outline.clip import common
from scalegen.outline.measure import distances_mm, middles
from scalegen.outline.pieces import BoolArray, Pieces, crossings, pieces_of
from scalegen.outline.ring import FloatArray, Ring, segment_excess

_WING_RAD = math.radians(86.0)
_ON_MM = 3e-6  # more than clipping may move a point


@dataclass(frozen=True, eq=False, kw_only=True)
class FrontCurve:
    """Where a scale begins, as a straight line or an arc.

    Attributes:
        point: (2,) where it crosses y = 0, mm.
        along: (2,) unit direction towards the spine.
        inward: (2,) unit direction towards the butt.
        arc_mm: Signed radius: positive when the centre lies on the butt side ("proud"), negative on the
            blade side ("hollow"), 0 for a line.
    """

    point: FloatArray
    along: FloatArray
    inward: FloatArray
    arc_mm: float

    @property
    def center(self) -> FloatArray:
        """Centre (2,) of the arc; only for arcs."""
        return self.point + self.inward * self.arc_mm

    def radius_mm(self, setback_mm: float) -> float:
        """Radius of the arc moved towards the butt by ``setback_mm``, always positive for a sound arc."""
        return self.arc_mm - setback_mm if self.arc_mm > 0 else -self.arc_mm + setback_mm


def front_curve(front: Front) -> FrontCurve:
    """The curve of a pattern's front."""
    c, s = math.cos(front.angle_rad), math.sin(front.angle_rad)
    sign = 1.0 if front.arc_shape == "proud" else -1.0
    return FrontCurve(
        point=np.array([front.at_mm, 0.0]),
        along=np.array([c, s]),
        inward=np.array([s, -c]),
        arc_mm=sign * front.arc_mm if front.arc_mm else 0.0,
    )


def behind(curve: FrontCurve, setback_mm: float, reach_mm: float) -> Ring:
    """The region behind the front moved towards the butt, large enough to hold ``reach_mm`` each way.

    Raises:
        GeometryError: A proud arc is set back beyond its own centre.
    """
    foot = curve.point + curve.inward * setback_mm
    far = 2 * reach_mm * curve.inward
    side = reach_mm * curve.along
    if curve.arc_mm == 0:
        corners = np.array([foot - side, foot - side + far, foot + side + far, foot + side])
        return Ring(np.column_stack([corners, np.zeros(4)]))
    radius = curve.radius_mm(setback_mm)
    if radius <= 0.01:
        raise GeometryError(
            f"the front arc's radius of {abs(curve.arc_mm):g} mm is used up by a setback of"
            f" {setback_mm:.2f} mm",
            where="front.arc",
            remedy="use a larger radius or a shorter treatment",
        )
    ahead = -curve.inward if curve.arc_mm > 0 else curve.inward
    tips = [
        curve.center + radius * (math.cos(_WING_RAD) * ahead + turn * math.sin(_WING_RAD) * curve.along)
        for turn in (-1.0, 1.0)
    ]
    low, high = tips
    corners = np.array([low, low - side, low - side + far, high + side + far, high + side, high])
    bulge = math.tan(2 * _WING_RAD / 4)
    bulges = np.array([0, 0, 0, 0, 0, bulge if curve.arc_mm > 0 else -bulge])
    return Ring(np.column_stack([corners, bulges]))


def on_front(curve: FrontCurve, points: FloatArray, setback_mm: float) -> BoolArray:
    """Which of the points (k, 2) lie on the front moved by ``setback_mm``."""
    if curve.arc_mm == 0:
        gap = (points - curve.point) @ curve.inward - setback_mm
    else:
        gap = np.hypot(*(points - curve.center).T) - curve.radius_mm(setback_mm)
    on: BoolArray = np.abs(gap) < _ON_MM
    return on


def clip_behind(ring: Ring, curve: FrontCurve, setback_mm: float = 0.0) -> tuple[Ring, ...]:
    """What of the ring lies behind the front, largest piece first.

    Args:
        ring: Outline.
        curve: Front.
        setback_mm: Moves the front towards the butt; negative towards the blade.

    Raises:
        GeometryError: A front arc is too small to reach across the outline.
    """
    x0, y0, x1, y1 = ring.bounds_mm
    reach = 4 * math.hypot(x1 - x0, y1 - y0) + math.hypot(*curve.point) + abs(x0) + abs(y0) + 100
    region = behind(curve, setback_mm, reach)
    parts = common(ring, region)
    if curve.arc_mm and parts:
        wings = np.vstack([part.starts for part in parts])
        arc_tips = region.starts[[0, 5]]
        across = np.abs((arc_tips - curve.center) @ curve.along).max()
        off = np.abs((wings - curve.center) @ curve.along) > across + _ON_MM
        near = distances_mm(region, wings) < _ON_MM
        if (off & near).any():
            raise GeometryError(
                f"a front arc of radius {abs(curve.arc_mm):g} mm does not reach across the outline",
                where="front.arc.radius",
                remedy=f"use a radius of more than half the handle's height there, about"
                f" {across * 1.3:.0f} mm or more",
            )
    return parts


def area_behind_mm2(ring: Ring, curve: FrontCurve, setback_mm: float = 0.0) -> float:
    """Area of what of a ring lies behind the front: the sum over :func:`clip_behind`, a good deal faster.

    Raises:
        GeometryError: A front arc is too small to reach across the outline.
    """
    area = pieces_area_behind_mm2(pieces_of(ring), curve, setback_mm)
    if area is None:
        return sum(part.area_mm2 for part in clip_behind(ring, curve, setback_mm))
    return area


def pieces_area_behind_mm2(pieces: Pieces, curve: FrontCurve, setback_mm: float) -> float | None:
    """Area of what lies behind the front, from the pieces of a ring in their order.

    Returns:
        mm2; None where the ring runs out past an end of a front arc.

    Source: Green's theorem about a point of the front line, or the centre of its arc. Seen from there the
    closing stretches along the front contribute nothing (line) or R^2/2 for each radian (arc), so they need
    not be traced.
    """
    reach = float(np.abs(pieces.start - curve.point).max() + pieces.lengths.max())
    edge = _front_piece(curve, setback_mm, 4 * reach + 2 * abs(setback_mm) + 1.0)
    which, t, _ = crossings(pieces, edge, (np.arange(len(pieces)), np.zeros(len(pieces), dtype=np.intp)))
    cut = pieces.cut(which, t)
    kept = _is_behind(curve, middles(cut), setback_mm)
    opens, closes = kept & ~np.roll(kept, 1), kept & ~np.roll(kept, -1)
    tips = np.concatenate([cut.start[opens], cut.end[closes]])
    if not on_front(curve, tips, setback_mm).all():
        return None
    origin = curve.center if curve.arc_mm else curve.point + curve.inward * setback_mm
    area = _green_mm2(cut[kept], origin)
    if curve.arc_mm:
        away = tips - origin
        ahead = -curve.inward if curve.arc_mm > 0 else curve.inward
        # Angles from the direction ahead: never more than a quarter turn, so they don't wrap.
        angle = np.arctan2(ahead[0] * away[:, 1] - ahead[1] * away[:, 0], away @ ahead)
        first = int(opens.sum())
        area += 0.5 * curve.radius_mm(setback_mm) ** 2 * float(angle[:first].sum() - angle[first:].sum())
    return area


def _front_piece(curve: FrontCurve, setback_mm: float, reach_mm: float) -> Pieces:
    """The front itself, moved by ``setback_mm``, as one piece from the spine to the belly."""
    foot, side = curve.point + curve.inward * setback_mm, reach_mm * curve.along
    center, radius, first, sweep = np.zeros(2), 0.0, 0.0, 0.0
    start, end = foot + side, foot - side
    if curve.arc_mm:
        center, radius = curve.center, curve.radius_mm(setback_mm)
        ahead = -curve.inward if curve.arc_mm > 0 else curve.inward
        sweep = 2 * _WING_RAD * (1 if curve.arc_mm > 0 else -1)
        first = math.atan2(ahead[1], ahead[0]) - sweep / 2
        start, end = (center + radius * np.array([math.cos(a), math.sin(a)]) for a in (first, first + sweep))
    return Pieces(
        start=start[None],
        end=end[None],
        center=center[None],
        radius=np.array([radius]),
        first=np.array([first]),
        sweep=np.array([sweep]),
        source=np.zeros(1, dtype=np.intp),
    )


def _is_behind(curve: FrontCurve, points: FloatArray, setback_mm: float) -> BoolArray:
    """Which of the points (k, 2) lie behind the front moved by ``setback_mm``, past the arc's ends too."""
    if curve.arc_mm == 0:
        behind_line: BoolArray = (points - curve.point) @ curve.inward > setback_mm
        return behind_line
    away = points - curve.center
    radius = curve.radius_mm(setback_mm)
    across = np.minimum(np.abs(away @ curve.along), radius * math.sin(_WING_RAD))
    front = -np.sign(curve.arc_mm) * np.sqrt(radius**2 - across**2)
    behind_arc: BoolArray = away @ curve.inward > front
    return behind_arc


def is_clear_behind(
    curve: FrontCurve, centers: FloatArray, radii_mm: FloatArray, setback_mm: float
) -> BoolArray:
    """Which discs, centres (k, 2) and radii (k,), surely lie wholly behind the front moved back."""
    if curve.arc_mm == 0:
        room = (centers - curve.point) @ curve.inward - setback_mm
    else:
        away = centers - curve.center
        radius = curve.radius_mm(setback_mm)
        gap = np.hypot(away[:, 0], away[:, 1]) - radius
        wings = away @ curve.inward - math.copysign(radius * math.cos(_WING_RAD), -curve.arc_mm)
        room = np.maximum(-gap, wings) if curve.arc_mm > 0 else np.minimum(gap, wings)
    clear: BoolArray = room >= radii_mm
    return clear


def _green_mm2(pieces: Pieces, origin: FloatArray) -> float:
    """Half the integral of x dy - y dx about a point along pieces."""
    a, b = pieces.start - origin, pieces.end - origin
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return float(0.5 * (cross + pieces.radius**2 * segment_excess(pieces.sweep)).sum())


def setback_mm(front: Front, thickness_mm: float, z_mm: float) -> float:
    """How far behind the finished front line the material begins at a height above the finished back."""
    if front.treatment == "bevel":
        r, up = front.top_radius_mm, z_mm - (thickness_mm - front.top_radius_mm)
        if r and up > r * math.cos(front.slope_rad):
            # On the rounding: its centre lies as far behind the corner as the half angle tells.
            corner = (thickness_mm - front.land_mm) / math.tan(front.slope_rad)
            return corner + r * math.tan(front.slope_rad / 2) - math.sqrt(max(0.0, r * r - up * up))
        return max(0.0, z_mm - front.land_mm) / math.tan(front.slope_rad)
    if front.treatment == "round":
        up = z_mm - (thickness_mm - front.radius_mm)
        if up <= 0:
            return 0.0
        return front.radius_mm - math.sqrt(max(0.0, front.radius_mm**2 - up**2))
    return 0.0


def front_breaks_mm(front: Front, thickness_mm: float) -> tuple[float, ...]:
    """Heights above the finished back at which the treatment starts or changes its kind."""
    start = front_start_mm(front, thickness_mm)
    if front.treatment == "bevel" and front.top_radius_mm:
        return start, thickness_mm - front.top_radius_mm * (1 - math.cos(front.slope_rad))
    return (start,)


def front_start_mm(front: Front, thickness_mm: float) -> float:
    """Height above the finished back where the treatment starts; the thickness for a square front."""
    if front.treatment == "bevel":
        return min(front.land_mm, thickness_mm)
    if front.treatment == "round":
        return thickness_mm - front.radius_mm
    return thickness_mm
