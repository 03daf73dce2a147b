"""The tool that cuts a rounded front into a face that is not flat.

It is a thick skin over the front: below it the wall and the bevel, exact, then the rounded top as a spline
surface that hangs from the face, then a straight lip that leaves the face upwards at a small angle. What is
left ahead of it falls off as pieces of its own.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from OCP.Geom import Geom_ConicalSurface, Geom_CylindricalSurface, Geom_Plane, Geom_Surface
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt
from OCP.TopoDS import TopoDS_Shape

from scalegen.errors import GeometryError
from scalegen.form.draped import DrapedPlan
from scalegen.form.nose import LEAVE_RAD
from scalegen.outline.front import FrontCurve
from scalegen.outline.measure import sampled
from scalegen.outline.ring import FloatArray
from scalegen.solids.kernel import point
from scalegen.solids.shell import Places, Shell, Side, around, tip
from scalegen.solids.spline import DEGREE, even_knots, greville, surface_through

_OVER_MM = 2.0
_AHEAD_MM = 4.0
_NEAR_MM = 6.0
_MARGIN_MM = 0.5
_RISE_MM = 0.05
_SPAN_MM, _SPAN_RAD = 3.0, math.pi / 40
_TURN_SPANS = 6
_STEPS, _STEP_MM, _EXACT_MM = 30, 1e-4, 1e-10
_LEAST_BEVEL_MM = 0.01
_FARTHEST_RAD = math.radians(85.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Way:
    """The stretch of a front that a tool covers: shares 0 to 1 run along it, ahead on the right.

    Attributes:
        curve: Front line or arc.
        first: Where it starts: mm along a line from its point, or the angle about the centre of an arc.
        last: Where it ends.
        ahead_mm: What the body's own beginning lies ahead of the front.
    """

    curve: FrontCurve
    first: float
    last: float
    ahead_mm: float

    @property
    def is_arc(self) -> bool:
        """Whether it turns about a centre."""
        return self.curve.arc_mm != 0

    def radius_mm(self, behind_mm: FloatArray | float) -> FloatArray:
        """Distance from the centre of an arc of what lies so far behind the beginning of the body."""
        off = np.asarray(behind_mm, dtype=np.float64) - self.ahead_mm
        radius: FloatArray = self.curve.arc_mm - off if self.curve.arc_mm > 0 else -self.curve.arc_mm + off
        return radius

    def angle(self, share: FloatArray) -> FloatArray:
        """Angles (n,) about the centre of an arc."""
        angle: FloatArray = self.first + (self.last - self.first) * share
        return angle

    def points(self, share: FloatArray, behind_mm: FloatArray | float) -> FloatArray:
        """Points (n, 2) at shares (n,) along it and distances behind the beginning of the body."""
        if self.is_arc:
            angle, radius = self.angle(share), self.radius_mm(behind_mm)
            at: FloatArray = self.curve.center + np.column_stack(
                [radius * np.cos(angle), radius * np.sin(angle)]
            )
            return at
        along = self.first + (self.last - self.first) * share
        off = np.broadcast_to(np.asarray(behind_mm) - self.ahead_mm, along.shape)
        line: FloatArray = (
            self.curve.point + along[:, None] * self.curve.along + off[:, None] * self.curve.inward
        )
        return line


def way_of(plan: DrapedPlan) -> Way:
    """The stretch of the front that the body reaches, and a little more at both ends.

    Raises:
        GeometryError: An arc turns so far round that it runs along the outline.
    """
    curve, ahead = plan.nose.curve, plan.nose.allowance_mm
    points = sampled(plan.base, 0.5)
    reach = plan.nose.blend_mm + 3.0
    if plan.nose.front.treatment == "bevel":
        reach += plan.top_mm / math.tan(plan.nose.front.slope_rad)
    if curve.arc_mm == 0:
        behind = (points - curve.point) @ curve.inward
        along = ((points - curve.point) @ curve.along)[(behind > -ahead - _NEAR_MM) & (behind < reach)]
        return Way(
            curve=curve,
            first=float(along.min()) - _MARGIN_MM,
            last=float(along.max()) + _MARGIN_MM,
            ahead_mm=ahead,
        )
    ahead_of = -curve.inward if curve.arc_mm > 0 else curve.inward
    arm = points - curve.center
    away = np.hypot(arm[:, 0], arm[:, 1])
    behind = curve.arc_mm - away if curve.arc_mm > 0 else away + curve.arc_mm
    turn = np.arctan2(ahead_of[0] * arm[:, 1] - ahead_of[1] * arm[:, 0], arm @ ahead_of)
    near = (behind > -ahead - _NEAR_MM) & (behind < reach) & (np.abs(turn) < math.pi / 2)
    half = float(np.abs(turn[near]).max()) + _MARGIN_MM / abs(curve.arc_mm)
    if half > _FARTHEST_RAD:
        raise GeometryError(
            f"the front's arc of radius {abs(curve.arc_mm):.1f} mm turns so far round that its rounding runs"
            " along the outline instead of across it",
            where="front.arc",
            remedy="use a larger radius, or set the front more squarely across the handle",
        )
    middle = math.atan2(ahead_of[1], ahead_of[0])
    sign = -1.0 if curve.arc_mm > 0 else 1.0
    return Way(curve=curve, first=middle - sign * half, last=middle + sign * half, ahead_mm=ahead)


def rounded_tool(plan: DrapedPlan) -> TopoDS_Shape:
    """Everything just ahead of a rounded front, as a solid to be taken away."""
    return _Tool(plan).solid()


class _Tool:
    """Puts the faces of the tool together, from curves along the front."""

    def __init__(self, plan: DrapedPlan) -> None:
        self.plan, self.nose = plan, plan.nose
        self.way = way_of(plan)
        self.shell = Shell()
        self.profiles: list[tuple[Side, Side]] = []
        self.low, self.high = plan.bottom_mm - _OVER_MM, plan.top_mm + _OVER_MM
        span = abs(self.way.last - self.way.first)
        spans = span / _SPAN_RAD if self.way.is_arc else span / _SPAN_MM
        self.knots = even_knots(max(4, math.ceil(spans)))
        self.share = greville(self.knots)

    def solid(self) -> TopoDS_Shape:
        front, bevel = self.nose.front, self.nose.front.treatment == "bevel"
        steepest = front.slope_rad if bevel else math.pi / 2
        leave = math.sin(LEAVE_RAD)
        rise = _RISE_MM / (self.nose.blend_mm * math.tan(LEAVE_RAD)) + leave
        rounded = self._sheet(lambda w: np.sin(steepest + (LEAVE_RAD - steepest) * w), _TURN_SPANS)
        lifted = self._sheet(lambda w: leave - rise * w, 2)
        tall = self._raised(lifted[:, -1])
        low, ahead = self._level(0.0, self.low), self._level(-_AHEAD_MM, self.low)
        rim, far = self._curve(tall[:, -1]), self._level(-_AHEAD_MM, self.high)
        crease = self._curve(rounded[:, 0])
        self._flat(ahead, low, self.low, up=False)
        if bevel:
            foot = self._level(0.0, front.land_mm)
            self._upright(low, foot, 0.0, towards_butt=True)
            self._bevel(foot, crease)
        else:
            self._upright(low, crease, 0.0, towards_butt=True)
        for sheet in (rounded, lifted, tall):
            self._freeform(sheet)
        self._flat(rim, far, self.high, up=True)
        self._upright(far, ahead, -_AHEAD_MM, towards_butt=False)
        self._caps()
        return self.shell.solid()

    # ----------------------------------------------------------------------------------------- curves

    def _level(self, behind_mm: float, z_mm: float) -> Side:
        """The front's own curve moved back, at a height."""
        way = self.way
        if way.is_arc:
            radius = float(way.radius_mm(behind_mm))
            return self.shell.level_arc(way.curve.center, radius, z_mm, (way.first, way.last))
        ends = way.points(np.array([0.0, 1.0]), behind_mm)
        return self.shell.line(np.array([*ends[0], z_mm]), np.array([*ends[1], z_mm]))

    def _curve(self, points: FloatArray) -> Side:
        return self.shell.spline(points, self.knots)

    def _sheet(self, sine_at: Callable[[FloatArray], FloatArray], spans: int) -> FloatArray:
        """Points (n, m, 3) of the rounded top by the sine of its slope over shares of its own turn."""
        w = greville(even_knots(spans))
        sine = np.tile(sine_at(w), len(self.share))
        share = np.repeat(self.share, len(w))
        behind = self._behind_at(share, sine)
        xy = self.way.points(share, behind)
        z = self.plan.face.height_mm(xy) - self.nose.drop_mm(sine)
        return np.column_stack([xy, z]).reshape(len(self.share), len(w), 3)

    def _behind_at(self, share: FloatArray, sine: FloatArray) -> FloatArray:
        """How far behind its beginning the rounded top has slopes of these sines, (n,).

        Raises:
            GeometryError: There is no bevel left under the rounding.
        """
        nose, front = self.nose, self.nose.front
        if front.treatment == "round":
            return nose.blend_mm * (1.0 - sine)
        slope = math.tan(front.slope_rad)
        over = nose.blend_mm * slope * (math.tan(front.slope_rad / 2) - sine)

        def off(behind: FloatArray) -> FloatArray:
            face = self.plan.face.height_mm(self.way.points(share, behind))
            gap: FloatArray = nose.bevel_mm(behind) - face - over
            return gap

        behind = (self.plan.top_mm + over - front.land_mm) / slope
        for _ in range(_STEPS):
            steep = (off(behind + _STEP_MM) - off(behind - _STEP_MM)) / (2 * _STEP_MM)
            step = off(behind) / steep
            behind = behind - step
            if np.abs(step).max() < _EXACT_MM:
                break
        if behind.min() < _LEAST_BEVEL_MM:
            raise GeometryError(
                f"the rounded top of {nose.blend_mm:g} mm leaves nothing of the front's bevel where the face"
                " is lowest",
                where="front.top_radius",
                remedy="make it smaller, the land lower, or the crown flatter",
            )
        return behind

    def _raised(self, points: FloatArray) -> FloatArray:
        """Points (n, m, 3) straight up from a curve (n, 3) to above the body."""
        w = greville(even_knots(1))
        sheet = np.repeat(points[:, None, :], len(w), axis=1)
        sheet[:, :, 2] += (self.high - points[:, 2])[:, None] * w
        return sheet

    # ------------------------------------------------------------------------------------------ faces

    def _face(
        self,
        surface: Geom_Surface,
        sides: tuple[Side, Side],
        places: Places | None = None,
        *,
        against: bool = False,
    ) -> None:
        """A face between two curves along the front and straight lines at both ends."""
        low, high = sides
        start, end = (self.shell.line(tip(low, at), tip(high, at)) for at in (0, 1))
        self.shell.face(surface, [[low, end, high.turned(), start.turned()]], places, against=against)
        self.profiles.append((start, end))

    def _flat(self, low: Side, high: Side, z_mm: float, *, up: bool) -> None:
        self._face(Geom_Plane(gp_Ax3(gp_Pnt(0, 0, z_mm), gp_Dir(0, 0, 1))), (low, high), against=not up)

    def _upright(self, low: Side, high: Side, behind_mm: float, *, towards_butt: bool) -> None:
        way = self.way
        if way.is_arc:
            frame = gp_Ax3(point(way.curve.center, 0.0), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0))
            surface = Geom_CylindricalSurface(frame, float(way.radius_mm(behind_mm)))
            middle = (way.first + way.last) / 2
            outwards = (way.curve.arc_mm < 0) == towards_butt
            self._face(surface, (low, high), around(way.curve.center, middle), against=not outwards)
            return
        normal = way.curve.inward if towards_butt else -way.curve.inward
        frame = gp_Ax3(
            gp_Pnt(*tip(low, 0).tolist()),
            gp_Dir(*normal.tolist(), 0.0),
            gp_Dir(*way.curve.along.tolist(), 0.0),
        )
        self._face(Geom_Plane(frame), (low, high))

    def _bevel(self, foot: Side, crease: Side) -> None:
        way, front = self.way, self.nose.front
        if not way.is_arc:
            normal = math.sin(front.slope_rad) * way.curve.inward
            frame = gp_Ax3(
                gp_Pnt(*tip(foot, 0).tolist()),
                gp_Dir(*normal.tolist(), -math.cos(front.slope_rad)),
                gp_Dir(*way.curve.along.tolist(), 0.0),
            )
            self._face(Geom_Plane(frame), (foot, crease))
            return
        lean = (1.0 if way.curve.arc_mm < 0 else -1.0) * (math.pi / 2 - front.slope_rad)
        frame = gp_Ax3(point(way.curve.center, front.land_mm), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0))
        surface = Geom_ConicalSurface(frame, lean, float(way.radius_mm(0.0)))
        turn = around(way.curve.center, (way.first + way.last) / 2)

        def places(points: FloatArray) -> FloatArray:
            return (turn(points) - [0.0, front.land_mm]) / [1.0, math.cos(lean)]

        self._face(surface, (foot, crease), places, against=way.curve.arc_mm > 0)

    def _freeform(self, points: FloatArray) -> None:
        across = even_knots(points.shape[1] - DEGREE)
        low, high = self._curve(points[:, 0]), self._curve(points[:, -1])
        start, end = (self.shell.spline(points[i], across) for i in (0, -1))
        loop = [
            low.along((0.0, 0.0), (1.0, 0.0)),
            end.along((1.0, 0.0), (1.0, 1.0)),
            high.turned().along((1.0, 1.0), (0.0, 1.0)),
            start.turned().along((0.0, 1.0), (0.0, 0.0)),
        ]
        self.shell.face(surface_through(points, self.knots, across), [loop])
        self.profiles.append((start, end))

    def _caps(self) -> None:
        """The two ends, each in the upright plane square to the front there."""
        for end in (0, 1):
            here, on = self.way.points(np.array([float(end)] * 2), np.array([0.0, 1.0]))
            across = on - here
            # Along the front the butt lies to the right: the outward normal at its end runs on along it.
            normal = np.array([-across[1], across[0]]) * (1.0 if end else -1.0)
            frame = gp_Ax3(point(here, 0.0), gp_Dir(*normal.tolist(), 0.0), gp_Dir(*across.tolist(), 0.0))
            sides = [profile[end] for profile in self.profiles]
            loop = [side.turned() for side in reversed(sides)] if end else sides
            self.shell.face(Geom_Plane(frame), [loop])
