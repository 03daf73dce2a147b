"""Bodies whose face is not flat or whose edge changes along the outline, as heights above the plan.

The edge treatment hangs from the face: at a distance d inside the lip the surface lies as far below the face
as a round-over or chamfer on a plane would. Outside the lip the trim flange lies at a constant depth below
the face, deeper than the deepest edge, so that walls and treatment never meet at nothing.
"""

import math
from dataclasses import dataclass

import numpy as np

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.face import FaceShape
from scalegen.form.body import edge_lip, edge_name
from scalegen.form.bores import Placed, ends_mm
from scalegen.form.grooves import Grooves, grooves_of
from scalegen.form.lip import parallel
from scalegen.form.nose import LEAVE_RAD, Nose
from scalegen.form.run import EdgeRun, edge_run
from scalegen.model import Edge, Front
from scalegen.outline.front import FrontCurve, clip_behind, front_curve, setback_mm
from scalegen.outline.measure import distances_mm, inside, sampled
from scalegen.outline.offset import grow
from scalegen.outline.ring import FloatArray, Ring

STEP_MM = 0.25
"""How much deeper than the deepest edge the flange lies where the edge changes along the outline."""

_SAMPLE_MM = 0.5
_GRACE_MM = 2e-4
_LEAST_WALL_MM = 0.01
_SURE_MM = 0.01
_ALONG, _LEAST_FLOOR_MM = 40, 0.3


@dataclass(frozen=True, kw_only=True, eq=False)
class DrapedPlan:
    """One scale, as cut or finished, as a height over its plan.

    Attributes:
        bottom_mm: Lowest height.
        top_mm: Height that nothing stands above.
        face: The outer side.
        base: Ring of the walls, carried on past the front.
        lip: Ring the edge treatment starts on; None for a square edge.
        run: The treatment along the lip; None for a square edge.
        edge: Edge treatment.
        seat_drop_mm: How far below the face the walls end and the flange lies; 0 for a square edge.
        nose: Front treatment.
        bores: (x, y, bore) of every hole.
        grooves: Grooves in the face, or None.
    """

    bottom_mm: float
    top_mm: float
    face: FaceShape
    base: Ring
    lip: Ring | None
    run: EdgeRun | None
    edge: Edge
    seat_drop_mm: float
    nose: Nose
    bores: tuple[Placed, ...]
    grooves: Grooves | None = None

    @property
    def front(self) -> Front:
        """Front treatment."""
        return self.nose.front

    @property
    def curve(self) -> FrontCurve:
        """Front line or arc."""
        return self.nose.curve

    @property
    def allowance_mm(self) -> float:
        """How far ahead of the front line this body begins."""
        return self.nose.allowance_mm

    def setback_at_mm(self, z_mm: float) -> float:
        """Where the material begins behind the front line at a height on a flat face."""
        return setback_mm(self.front, self.top_mm, z_mm) - self.nose.allowance_mm

    def depth_mm(self, size_mm: FloatArray, inset_mm: FloatArray) -> FloatArray:
        """How far below the face the treatment lies at distances inside the lip (n,); 0 beyond it."""
        inset = np.clip(inset_mm, 0.0, size_mm)
        if self.edge.treatment == "chamfer":
            return size_mm - inset
        rest = size_mm - inset
        # r - sqrt(r^2 - (r - d)^2) without loss of digits.
        root = np.sqrt(np.maximum(size_mm**2 - rest**2, 0.0))
        depth: FloatArray = rest**2 / np.maximum(size_mm + root, 1e-300)
        return depth

    def inset_mm(self, size_mm: FloatArray, angle: FloatArray) -> FloatArray:
        """Distance inside the lip by the share of the treatment's own turn: 0 at its foot, 1 at its crest."""
        if self.edge.treatment == "chamfer":
            return size_mm * angle
        inset: FloatArray = size_mm * (1.0 - np.cos(angle * np.pi / 2))
        return inset

    def inset_rate_mm(self, size_mm: FloatArray, angle: FloatArray) -> FloatArray:
        """Change of :meth:`inset_mm` with the share of the turn."""
        if self.edge.treatment == "chamfer":
            return size_mm
        rate: FloatArray = size_mm * np.sin(angle * np.pi / 2) * (np.pi / 2)
        return rate

    def body_mm(self, points: FloatArray, slack_mm: float = 0.0) -> FloatArray:
        """Heights (n,) of the body over points (n, 2) inside its walls, before the front is cut.

        Args:
            points: (n, 2).
            slack_mm: Look so much further inside: a round-over starts upright, where a hair counts much.
        """
        face = self.face.height_mm(points)
        if self.grooves is not None:
            face = face - self.grooves.depth_at_mm(points, slack_mm)
        if self.run is None:
            return face
        index, share, inset = self.run.feet(points)
        edge = self.depth_mm(self.run.size_mm(index, share), inset + slack_mm)
        body: FloatArray = np.where(inset < -_GRACE_MM, face - self.seat_drop_mm, face - edge)
        return body

    def is_clear(self, center: FloatArray, radius_mm: float) -> bool:
        """Whether a disc lies inside the walls and clear of the edge treatment."""
        if not inside(self.base, center[None])[0]:
            return False
        rings = [self.base] if self.lip is None else [self.base, self.lip]
        # A chamfer that goes on down through the flange is as wide as it is deep.
        reach = radius_mm + _GRACE_MM + self.seat_drop_mm
        return all(distances_mm(ring, center[None])[0] > reach for ring in rings)

    def face_at_mm(self, points: FloatArray) -> FloatArray:
        """As :meth:`top_at_mm`, for points clear of walls and edge treatment."""
        behind, face = self.nose.behind_mm(points), self.face.height_mm(points)
        cut = np.minimum(face, self.nose.limit_mm(np.maximum(behind, 0.0), face))
        return np.where(behind >= -_GRACE_MM, np.maximum(cut, self.bottom_mm), self.bottom_mm)

    def top_at_mm(self, points: FloatArray) -> FloatArray:
        """Heights (n,) of the cut body over points (n, 2), holes filled; the bottom where there is none."""
        there = (self.nose.behind_mm(points) >= -_GRACE_MM) & inside(self.base, points)
        height: FloatArray = np.where(there, self.under_mm(points), self.bottom_mm)
        return np.maximum(height, self.bottom_mm)

    @property
    def steady_mm(self) -> float:
        """Height up to which the section is the same all the way from the bottom."""
        points = sampled(self.base, _SAMPLE_MM)
        points = points[self.nose.behind_mm(points) > -1.0]
        lowest = float(self.face.height_mm(points).min())
        front = self.nose.front
        start = {"bevel": front.land_mm, "round": lowest - front.radius_mm, "square": math.inf}
        return min(lowest - self.seat_drop_mm, start[front.treatment]) - _SURE_MM

    def is_steady(self, low_mm: float, high_mm: float) -> bool:
        """Whether the section is the same all the way between two heights."""
        if any(low_mm + 1e-9 < end < high_mm - 1e-9 for end in ends_mm(self.bores)):
            return False
        return low_mm < high_mm <= self.steady_mm

    def section_at(self, z_mm: float) -> tuple[Ring, ...]:
        """The section at a height up to which it is steady, holes filled."""
        del z_mm
        return (self.outline(),)

    def under_mm(self, points: FloatArray, slack_mm: float = 0.0) -> FloatArray:
        """Heights (n,) that nothing of the body stands above over points (n, 2) in it or on its walls."""
        behind = np.maximum(self.nose.behind_mm(points), 0.0) + slack_mm
        return np.minimum(
            self.body_mm(points, slack_mm), self.nose.limit_mm(behind, self.face.height_mm(points))
        )

    def outline(self) -> Ring:
        """What the body covers: its walls behind the front."""
        return clip_behind(self.base, self.nose.curve, -self.nose.allowance_mm)[0]


def is_draped(scale: Scale) -> bool:
    """Whether a scale needs this kind of plan: its face is not flat or its edge changes."""
    return not scale.face.is_flat or scale.pattern.edge.changes or scale.pattern.relief is not None


def draped_plan(scale: Scale, *, finished: bool) -> DrapedPlan:
    """Plan of the finished or the as-cut solid.

    Raises:
        GeometryError: The edge treatment does not fit the outline or the thickness; names the place.
    """
    pattern, edge, face = scale.pattern, scale.pattern.edge, scale.face
    trim = 0.0 if finished else pattern.trim_mm
    bottom = 0.0 if finished else -scale.back_allowance_mm
    base = scale.carried if trim == 0 else grow(scale.carried, trim)
    lip, run, drop = None, None, 0.0
    if edge.treatment != "square":
        sloping = edge.treatment == "chamfer" and trim and not edge.changes
        lip = edge_lip(scale)
        if sloping:
            lip = parallel(lip, trim)
        size = edge.size_mm + (trim if sloping else 0.0)
        run = edge_run(edge, lip, size)
        drop = size + (STEP_MM if edge.changes else 0.0)
    plan = DrapedPlan(
        bottom_mm=bottom,
        # Outside the finished outline a swell may rise a little further.
        top_mm=max(face.thickness_mm, face.highest_mm(base.bounds_mm[0], base.bounds_mm[2])),
        face=face,
        base=base,
        lip=lip,
        run=run,
        edge=edge,
        seat_drop_mm=drop,
        nose=Nose(
            front=pattern.front,
            curve=front_curve(pattern.front),
            allowance_mm=0.0 if finished else pattern.front.allowance_mm,
            leave_rad=0.0 if face.is_flat else LEAVE_RAD,
        ),
        bores=tuple((*hole.at_mm, bore) for hole in scale.holes for bore in hole.bores),
        grooves=grooves_of(scale),
    )
    _require_wall(plan)
    _require_floor(plan, scale)
    return plan


def _require_floor(plan: DrapedPlan, scale: Scale) -> None:
    """Grooves must stay in the face sheet.

    Raises:
        GeometryError: They don't; names where they come nearest to what is under it.
    """
    if plan.grooves is None:
        return
    lines = np.stack([plan.grooves.starts, plan.grooves.ends], axis=1)
    share = np.linspace(0.0, 1.0, _ALONG)[:, None, None]
    points = (lines[None, :, 0] + share * (lines[None, :, 1] - lines[None, :, 0])).reshape(-1, 2)
    under = scale.spans[-1].bottom_mm
    left = plan.face.height_mm(points) - plan.grooves.depth_mm - under
    thin = int(left.argmin())
    if left[thin] < _LEAST_FLOOR_MM:
        x, y = points[thin].tolist()
        raise GeometryError(
            f"grooves {plan.grooves.depth_mm:g} mm deep leave {left[thin]:.2f} mm of the face sheet at"
            f" x = {x:.1f}, y = {y:.1f} mm",
            where="scale.relief.depth",
            remedy=f"make them shallower; {_LEAST_FLOOR_MM:g} mm must be left",
        )


def _require_wall(plan: DrapedPlan) -> None:
    """Under the treatment there must be wall left, everywhere.

    Raises:
        GeometryError: There is not; names the thinnest place.
    """
    points = sampled(plan.base, _SAMPLE_MM)
    wall = plan.face.height_mm(points) - plan.seat_drop_mm - plan.bottom_mm
    thin = int(wall.argmin())
    if wall[thin] > _LEAST_WALL_MM:
        return
    x, y = points[thin].tolist()
    there = wall[thin] + plan.seat_drop_mm + plan.bottom_mm
    if plan.run is None:
        raise GeometryError(
            f"the face leaves a thickness of only {there:.2f} mm at x = {x:.1f}, y = {y:.1f} mm",
            where="scale.crown" if plan.face.crown_mm else "scale.swell",
            remedy="make the crown flatter or the scale thicker there",
        )
    raise GeometryError(
        f"the {edge_name(plan.edge)} of {_edge_words(plan)} goes through the scale, which is"
        f" {there:.2f} mm thick at x = {x:.1f}, y = {y:.1f} mm",
        where="scale.edge",
        remedy="make it smaller, the crown flatter, or the scale thicker there",
    )


def _edge_words(plan: DrapedPlan) -> str:
    """The treatment's size as stated, and what else of the wall is taken with it."""
    size = f"{plan.edge.size_mm:g} mm"
    if plan.edge.changes:
        return f"up to {size} and {STEP_MM:g} mm of wall under it"
    trim = plan.seat_drop_mm - plan.edge.size_mm
    return f"{size} and the trim allowance of {trim:g} mm" if trim > _GRACE_MM else size
