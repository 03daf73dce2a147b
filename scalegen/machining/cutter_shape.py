"""What a rotating cutter looks like from the side: height of its envelope above its tip, by the radius."""

import math
from dataclasses import dataclass

import numpy as np

from scalegen.errors import UsageError
from scalegen.model import Cutter, CutterKind
from scalegen.outline.ring import FloatArray

POINT_RAD = math.radians(118.0)
"""Full angle of a drill's point when it is not known. Common practice for jobber drills, no source."""

_HALVINGS = 60


@dataclass(frozen=True, kw_only=True)
class CutterShape:
    """The envelope of a turning cutter.

    Attributes:
        name: What the shop calls it.
        kind: "flat", "ball", "tapered" or "drill".
        radius_mm: Largest cutting radius.
        tip_radius_mm: Rounding of the tip: the radius for a ball, 0 for flat cutters and drills.
        side_rad: Angle between the side and the axis: of the cone of a tapered cutter, of a drill's point;
            0 for straight sides.
        flute_mm: Cutting length; infinite when it does not matter.
    """

    name: str
    kind: CutterKind
    radius_mm: float
    tip_radius_mm: float = 0.0
    side_rad: float = 0.0
    flute_mm: float = math.inf

    def rise_mm(self, distance_mm: FloatArray) -> FloatArray:
        """Height of the envelope above the tip at distances from the axis; infinite beyond the radius.

        Args:
            distance_mm: Any shape, 0 or more.
        """
        d = np.asarray(distance_mm, dtype=np.float64)
        reach = np.minimum(d, self.radius_mm)
        if self.kind == "flat":
            rise = np.zeros_like(d)
        elif self.kind == "drill":
            rise = reach / math.tan(self.side_rad)
        else:
            rise = self._rounded_mm(reach)
        return np.where(d <= self.radius_mm * (1 + 1e-9) + 1e-9, rise, np.inf)

    def _rounded_mm(self, reach: FloatArray) -> FloatArray:
        r = self.tip_radius_mm
        ball = r - np.sqrt(np.maximum(r * r - np.minimum(reach, r) ** 2, 0.0))
        if self.kind == "ball":
            return ball
        # The cone leaves the ball where both slope alike.
        touch = r * math.cos(self.side_rad)
        foot = r * (1.0 - math.sin(self.side_rad))
        rise: FloatArray = np.where(reach <= touch, ball, foot + (reach - touch) / math.tan(self.side_rad))
        return rise


def flat(diameter_mm: float, name: str = "flat") -> CutterShape:
    """A flat cutter."""
    return _sound(CutterShape(name=name, kind="flat", radius_mm=diameter_mm / 2))


def ball(diameter_mm: float, name: str = "ball") -> CutterShape:
    """A ball cutter."""
    radius = diameter_mm / 2
    return _sound(CutterShape(name=name, kind="ball", radius_mm=radius, tip_radius_mm=radius))


def drill(diameter_mm: float, point_rad: float = POINT_RAD, name: str = "drill") -> CutterShape:
    """A drill by its diameter and the full angle of its point."""
    return _sound(CutterShape(name=name, kind="drill", radius_mm=diameter_mm / 2, side_rad=point_rad / 2))


def point_mm(shape: CutterShape) -> float:
    """Length of a drill's point: how much deeper the tip is than the first full width; 0 for others."""
    if shape.kind != "drill":
        return 0.0
    return float(shape.rise_mm(np.array([shape.radius_mm]))[0])


def shape_of(cutter: Cutter, point_rad: float = POINT_RAD) -> CutterShape:
    """The envelope of a cutter from the shop table.

    Where the table does not state the angle of a tapered cutter, it is taken to be as wide as its diameter at
    the top of its flutes, the cone touching the ball of its tip.

    Raises:
        UsageError: Its numbers make no cutter.
    """
    radius = cutter.diameter_mm / 2
    side, tip = 0.0, 0.0
    if cutter.kind == "ball":
        tip = radius
    elif cutter.kind == "drill":
        side = point_rad / 2
    elif cutter.kind == "tapered":
        tip = cutter.tip_radius_mm
        stated = cutter.side_rad
        side = _cone_rad(radius, tip, cutter.flute_mm) if stated is None else stated
    return _sound(
        CutterShape(
            name=cutter.name,
            kind=cutter.kind,
            radius_mm=radius,
            tip_radius_mm=tip,
            side_rad=side,
            flute_mm=cutter.flute_mm,
        )
    )


def _cone_rad(radius_mm: float, tip_mm: float, flute_mm: float) -> float:
    """Half angle of the cone that touches the ball of the tip and ends at the radius, by halving."""
    low, high = 0.0, math.pi / 2
    for _ in range(_HALVINGS):
        side = (low + high) / 2
        width = tip_mm / math.cos(side) + (flute_mm - tip_mm) * math.tan(side)
        low, high = (side, high) if width < radius_mm else (low, side)
    return (low + high) / 2


def _sound(shape: CutterShape) -> CutterShape:
    if not 0 < shape.radius_mm < math.inf:
        raise UsageError(f'cutter "{shape.name}" needs a diameter above 0')
    tapered = shape.kind == "tapered"
    thin_tip = 0 <= shape.tip_radius_mm < min(shape.radius_mm, shape.flute_mm)
    if tapered and not (thin_tip and 0 < shape.side_rad < math.pi / 2):
        raise UsageError(
            f'tapered cutter "{shape.name}" needs a tip narrower than its diameter and flutes longer than'
            " the tip"
        )
    if shape.kind == "drill" and not 0 < shape.side_rad <= math.pi / 2:
        raise UsageError(f'the point of drill "{shape.name}" must be above 0 and at most 180 degrees')
    return shape
