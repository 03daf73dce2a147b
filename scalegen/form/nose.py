"""The front's treatment as a height: how high material stands at a distance behind the front, above any face.

Bevels are planes (cones about an arc) whatever the face does; a rounded top follows the face at a constant
depth, so that it meets a crown as evenly as a plane. Where a rounded top would run out into the face with no
angle at all, it goes on straight over its last few degrees: a kernel can find where two surfaces cross, but
not where they only touch. That lifts it by less than a thousandth of the radius.
"""

import math
from dataclasses import dataclass

import numpy as np

from scalegen.face import FaceShape
from scalegen.model import Front
from scalegen.outline.front import FrontCurve
from scalegen.outline.ring import FloatArray

LEAVE_RAD = math.radians(4.0)
"""Angle at which a rounded top meets a face that is not flat."""

LIFT_SHARE = LEAVE_RAD**2 / 8
"""How far the straight end lies above the true arc at most, as a share of its radius."""

_FARTHEST_MM, _HALVINGS = 200.0, 60


@dataclass(frozen=True, kw_only=True, eq=False)
class Nose:
    """A front's treatment over a face that need not be flat.

    Attributes:
        front: As the pattern says it.
        curve: Front line or arc.
        allowance_mm: How far ahead of the front line the body begins.
        leave_rad: Angle at which a rounded top meets the face: 0 for a flat one.
    """

    front: Front
    curve: FrontCurve
    allowance_mm: float
    leave_rad: float = LEAVE_RAD

    def behind_mm(self, points: FloatArray) -> FloatArray:
        """How far points (k, 2) lie behind the beginning of the body; negative ahead of it."""
        curve = self.curve
        if curve.arc_mm == 0:
            gap = (points - curve.point) @ curve.inward
        else:
            arm = points - curve.center
            away, past = np.hypot(arm[:, 0], arm[:, 1]), arm @ curve.inward
            # A proud arc bounds the material only as far back as its own centre.
            proud = np.where(past < 0, curve.arc_mm - away, curve.arc_mm + past)
            gap = proud if curve.arc_mm > 0 else away + curve.arc_mm
        behind: FloatArray = gap + self.allowance_mm
        return behind

    def start_mm(self, share: FloatArray, span_mm: tuple[float, float], face: FaceShape) -> FloatArray:
        """Points (n, 2) along the line where the treatment meets the face.

        Args:
            share: (n,) of the way from one end of the front to the other, 0 to 1.
            span_mm: The two ends: how far along the front they lie from its point, arcs by their length.
            face: The face.
        """
        curve, along = self.curve, span_mm[0] + share * (span_mm[1] - span_mm[0])
        if curve.arc_mm == 0:
            foot = curve.point + along[:, None] * curve.along
            inward = np.tile(curve.inward, (len(share), 1))
        else:
            turn = along / curve.arc_mm
            inward = np.cos(turn)[:, None] * curve.inward - np.sin(turn)[:, None] * curve.along
            foot = curve.center - curve.arc_mm * inward
        foot = foot - self.allowance_mm * inward
        low, high = np.zeros(len(share)), np.full(len(share), _FARTHEST_MM)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            height = face.height_mm(foot + middle[:, None] * inward)
            past = self.limit_mm(middle, height) >= height
            low, high = np.where(past, low, middle), np.where(past, middle, high)
        start: FloatArray = foot + low[:, None] * inward
        return start

    @property
    def blend_mm(self) -> float:
        """Radius of the rounded top, 0 where there is none."""
        front = self.front
        if front.treatment == "round":
            return front.radius_mm
        return front.top_radius_mm if front.treatment == "bevel" else 0.0

    def limit_mm(self, behind_mm: FloatArray, face_mm: FloatArray) -> FloatArray:
        """Greatest heights (k,) that the front leaves, infinite where it leaves all.

        Args:
            behind_mm: (k,) from :meth:`behind_mm`, 0 or more.
            face_mm: (k,) heights of the face there.
        """
        front = self.front
        if front.treatment == "square":
            return np.full(len(behind_mm), np.inf)
        if front.treatment == "round":
            r = front.radius_mm
            return face_mm - self.drop_mm(1.0 - behind_mm / r)
        bevel = front.land_mm + behind_mm * math.tan(front.slope_rad)
        if not self.blend_mm:
            return bevel
        sine = math.tan(front.slope_rad / 2) - (bevel - face_mm) / (self.blend_mm * math.tan(front.slope_rad))
        return np.where(sine >= math.sin(front.slope_rad), bevel, face_mm - self.drop_mm(sine))

    def drop_mm(self, sine: FloatArray) -> FloatArray:
        """Depth under the face by the sine of the rounded top's own slope; straight for the last degrees."""
        r, least = self.blend_mm, math.sin(self.leave_rad)
        round_drop = r * (1.0 - np.sqrt(np.maximum(0.0, 1.0 - np.minimum(sine, 1.0) ** 2)))
        straight = r * (1.0 - math.cos(self.leave_rad)) + r * math.tan(self.leave_rad) * (sine - least)
        drop: FloatArray = np.where(sine >= least, round_drop, straight)
        return drop

    def bevel_mm(self, behind_mm: FloatArray) -> FloatArray:
        """Height (k,) of the bevel's plane or cone."""
        height: FloatArray = self.front.land_mm + behind_mm * math.tan(self.front.slope_rad)
        return height
