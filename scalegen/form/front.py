"""The front: its curve on the tang, the region behind it, and how far its treatment sets it back."""

import math
from dataclasses import dataclass

import numpy as np

from scalegen.errors import GeometryError
from scalegen.model import Front
from scalegen.outline.clip import common
from scalegen.outline.measure import distances_mm
from scalegen.outline.ring import FloatArray, Ring

_WING_RAD = math.radians(86.0)
_ON_MM = 1e-7


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
            f"the front arc's radius of {abs(curve.arc_mm):g} mm is used up by a setback of {setback_mm:.2f} mm",
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


def on_front(curve: FrontCurve, points: FloatArray, setback_mm: float) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    """Which of the points (k, 2) lie on the front moved by ``setback_mm``."""
    if curve.arc_mm == 0:
        gap = (points - curve.point) @ curve.inward - setback_mm
    else:
        gap = np.hypot(*(points - curve.center).T) - curve.radius_mm(setback_mm)
    on: np.ndarray[tuple[int], np.dtype[np.bool_]] = np.abs(gap) < _ON_MM
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
                remedy=f"use a radius of more than half the handle's height there, about {across * 1.3:.0f} mm or more",
            )
    return parts


def setback_mm(front: Front, thickness_mm: float, z_mm: float) -> float:
    """How far behind the finished front line the material begins at a height above the finished back."""
    if front.treatment == "bevel":
        return max(0.0, z_mm - front.land_mm) / math.tan(front.slope_rad)
    if front.treatment == "round":
        up = z_mm - (thickness_mm - front.radius_mm)
        if up <= 0:
            return 0.0
        return front.radius_mm - math.sqrt(max(0.0, front.radius_mm**2 - up**2))
    return 0.0


def front_start_mm(front: Front, thickness_mm: float) -> float:
    """Height above the finished back where the treatment starts; the thickness for a square front."""
    if front.treatment == "bevel":
        return min(front.land_mm, thickness_mm)
    if front.treatment == "round":
        return thickness_mm - front.radius_mm
    return thickness_mm
