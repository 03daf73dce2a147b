"""What one solid of a scale is made of, in outlines and heights.

Solids are built from this plan, and volumes are worked out from it without the kernel.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.form.bores import Placed, ends_mm
from scalegen.form.lip import parallel, smooth_lip
from scalegen.model import Edge, Front
from scalegen.outline.front import (
    FrontCurve,
    clip_behind,
    front_breaks_mm,
    front_curve,
    front_start_mm,
    is_clear_behind,
    on_front,
    pieces_area_behind_mm2,
    setback_mm,
)
from scalegen.outline.measure import distances_mm, inside, sampled, shared_area_mm2
from scalegen.outline.offset import grow
from scalegen.outline.pieces import IntArray, Pieces, pieces_of
from scalegen.outline.ring import FloatArray, Ring

_NODES = 10
_SETTLED_SHARE = 1e-8
_HALVINGS = 9
_SAMPLE_MM = 0.5


@dataclass(frozen=True, kw_only=True, eq=False)
class BodyPlan:
    """One scale, as cut or finished, before it is split into layers.

    Up to ``seat_mm`` the walls follow ``base``; from there to ``top_mm`` the edge treatment rides on
    ``lip``. Both rings are carried on past the front; the front is cut last.

    Attributes:
        bottom_mm: Lowest height (minus the back allowance as cut, 0 finished).
        seat_mm: Where the edge treatment starts; the top for a square edge.
        top_mm: Finished thickness.
        base: Ring of the walls.
        lip: Ring the edge treatment starts on at ``seat_mm``; None for a square edge.
        edge: Edge treatment.
        front: Front treatment.
        curve: Front line or arc.
        allowance_mm: How far ahead of the front line this body begins.
        bores: (x, y, bore) of every hole.
    """

    bottom_mm: float
    seat_mm: float
    top_mm: float
    base: Ring
    lip: Ring | None
    edge: Edge
    front: Front
    curve: FrontCurve
    allowance_mm: float
    bores: tuple[Placed, ...]

    @property
    def inset_mm(self) -> float:
        """How far the top face lies inside the lip."""
        if self.lip is None:
            return 0.0
        return self.edge.size_mm if self.edge.treatment == "round" else self.top_mm - self.seat_mm

    def inset_at_mm(self, z_mm: float) -> float:
        """How far the section at a height lies inside the lip; 0 up to the seat."""
        up = z_mm - self.seat_mm
        if self.lip is None or up <= 0:
            return 0.0
        if self.edge.treatment == "chamfer":
            return up
        r = self.edge.size_mm
        return r - math.sqrt(max(0.0, r * r - up * up))

    def setback_at_mm(self, z_mm: float) -> float:
        """Where the material begins behind the front line at a height; negative ahead of it."""
        return setback_mm(self.front, self.top_mm, z_mm) - self.allowance_mm

    def is_steady(self, low_mm: float, high_mm: float) -> bool:
        """Whether the section is the same all the way between two heights."""
        if any(low_mm + 1e-9 < end < high_mm - 1e-9 for end in ends_mm(self.bores)):
            return False
        upright = self.lip is None or high_mm <= self.seat_mm + 1e-9
        start = front_start_mm(self.front, self.top_mm)
        return upright and (high_mm <= start + 1e-9 or self.front.treatment == "square") and low_mm < high_mm

    def region_at(self, z_mm: float) -> Ring:
        """The uncut section at a height, carried on past the front, holes filled."""
        if self.lip is None or z_mm <= self.seat_mm:
            return self.base
        return parallel(self.lip, -self.inset_at_mm(z_mm))

    def section_at(self, z_mm: float) -> tuple[Ring, ...]:
        """The section at a height behind the front, holes filled, largest piece first."""
        return clip_behind(self.region_at(z_mm), self.curve, self.setback_at_mm(z_mm))


def body_plan(scale: Scale, *, finished: bool) -> BodyPlan:
    """Plan of the finished or the as-cut solid.

    Raises:
        GeometryError: The edge treatment does not fit the outline or the thickness; names the place.
    """
    pattern, edge, top = scale.pattern, scale.pattern.edge, scale.thickness_mm
    trim = 0.0 if finished else pattern.trim_mm
    bottom = 0.0 if finished else -scale.back_allowance_mm
    base = scale.carried if trim == 0 else grow(scale.carried, trim)
    lip, seat = None, top
    if edge.treatment != "square":
        chamfer = edge.treatment == "chamfer"
        seat = top - edge.size_mm - (trim if chamfer else 0.0)
        if seat <= bottom + 0.01:
            extra = f" and the trim allowance of {trim:g} mm" if chamfer and trim else ""
            raise GeometryError(
                f"the {edge_name(edge)} of {edge.size_mm:g} mm{extra} goes through the scale's thickness"
                f" of {top:g} mm",
                where="scale.edge",
                remedy="make it smaller or the scale thicker",
            )
        lip = edge_lip(scale)
        if chamfer and trim:
            lip = parallel(lip, trim)
    return BodyPlan(
        bottom_mm=bottom,
        seat_mm=seat,
        top_mm=top,
        base=base,
        lip=lip,
        edge=edge,
        front=pattern.front,
        curve=front_curve(pattern.front),
        allowance_mm=0.0 if finished else pattern.front.allowance_mm,
        bores=tuple((*hole.at_mm, bore) for hole in scale.holes for bore in hole.bores),
    )


def edge_lip(scale: Scale) -> Ring:
    """The smooth ring on the finished outline that the edge treatment rides on.

    Raises:
        GeometryError: The outline is too narrow for the edge treatment; names the place.
    """
    edge = scale.pattern.edge
    outset = scale.pattern.trim_mm if edge.treatment == "chamfer" else 0.0
    points = sampled(scale.finished, _SAMPLE_MM)
    points = points[~on_front(front_curve(scale.pattern.front), points, 0.0)]
    return smooth_lip(scale.carried, edge.size_mm, outset, edge_name(edge), points)


def edge_name(edge: Edge) -> str:
    """What to call an edge treatment in a message."""
    return "round-over" if edge.treatment == "round" else "chamfer"


def volumes_mm3(plan: BodyPlan, heights_mm: tuple[float, ...]) -> tuple[float, ...]:
    """Volumes between successive heights, from areas of exact sections; no kernel.

    Args:
        plan: The body.
        heights_mm: k + 1 heights from bottom to top.

    Returns:
        k volumes.

    Source: Cavalieri's principle with Gauss-Legendre quadrature; intervals are split wherever the shape
    changes its kind, halved until they settle, and stretched towards the top, where a round-over's section
    changes like a square root.
    """
    breaks = {plan.seat_mm, *front_breaks_mm(plan.front, plan.top_mm), *ends_mm(plan.bores)}
    sections = _sections(plan)
    return tuple(
        _slab_mm3(sections, low, high, sorted(b for b in breaks if low < b < high))
        for low, high in pairwise(heights_mm)
    )


def section_area_mm2(plan: BodyPlan, z_mm: float) -> float:
    """Area of the section at a height, holes taken out as far as they lie in it."""
    return _section_mm2(_sections(plan), z_mm)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sections:
    """What all sections of a body have in common.

    Attributes:
        plan: The body.
        base: Pieces of the walls.
        lip: Pieces of the lip.
        centers: (k, 2) of the bores, mm.
        radii: (k,) of the bores, mm.
        heights: (k, 2) from where to where each bore reaches, mm.
        base_room: (k,) how far each bore's centre lies inside the walls; negative outside.
        lip_room: (k,) the same for the lip.
    """

    plan: BodyPlan
    base: Pieces
    lip: Pieces
    centers: FloatArray
    radii: FloatArray
    heights: FloatArray
    base_room: FloatArray
    lip_room: FloatArray


def _sections(plan: BodyPlan) -> _Sections:
    lip = plan.base if plan.lip is None else plan.lip
    bores = [(x, y, bore.diameter_mm, bore.bottom_mm, bore.top_mm) for x, y, bore in plan.bores]
    # The widest about each centre come first.
    holes = np.array(sorted(bores, key=lambda each: (each[:2], -each[2]))).reshape(-1, 5)
    base_room, lip_room = (
        distances_mm(ring, holes[:, :2]) * np.where(inside(ring, holes[:, :2]), 1.0, -1.0)
        if len(holes)
        else np.zeros(0)
        for ring in (plan.base, lip)
    )
    return _Sections(
        plan=plan,
        base=pieces_of(plan.base),
        lip=pieces_of(lip),
        centers=holes[:, :2],
        radii=holes[:, 2] / 2,
        heights=holes[:, 3:],
        base_room=base_room,
        lip_room=lip_room,
    )


def _section_mm2(sections: _Sections, z_mm: float) -> float:
    plan = sections.plan
    setback, inset = plan.setback_at_mm(z_mm), plan.inset_at_mm(z_mm)
    upright = plan.lip is None or z_mm <= plan.seat_mm
    region = sections.base if upright else sections.lip.shifted(-inset)
    area = pieces_area_behind_mm2(region, plan.curve, setback)
    if area is None:
        area = sum(part.area_mm2 for part in plan.section_at(z_mm))
    there = _open_at(sections, z_mm)
    centers, radii = sections.centers[there], sections.radii[there]
    room = sections.base_room[there] if upright else sections.lip_room[there] - inset
    whole = (room >= radii) & is_clear_behind(plan.curve, centers, radii, setback)
    area -= math.pi * float((radii[whole] ** 2).sum())
    if not whole.all():
        cut = [circle(x, y, 2 * r) for (x, y), r in zip(centers[~whole], radii[~whole].tolist(), strict=True)]
        area -= sum(shared_area_mm2(part, hole) for part in plan.section_at(z_mm) for hole in cut)
    return area


def _open_at(sections: _Sections, z_mm: float) -> IntArray:
    """Which bores are open at a height, the widest about each centre alone."""
    there = np.flatnonzero((sections.heights[:, 0] < z_mm) & (z_mm < sections.heights[:, 1]))
    first = np.ones(len(there), dtype=bool)
    first[1:] = (np.diff(sections.centers[there], axis=0) != 0).any(axis=1)
    return there[first]


def _slab_mm3(sections: _Sections, low: float, high: float, breaks: list[float]) -> float:
    total = 0.0
    for a, b in pairwise([low, *breaks, high]):
        if b - a < 1e-12:
            continue
        if sections.plan.is_steady(a, b):
            total += (b - a) * _section_mm2(sections, (a + b) / 2)
            continue

        # s in [0, 1]; z = b - (b - a)(1 - s)^2 takes the square root at the top out of the integrand.
        def stretched(s: float, a: float = a, b: float = b) -> float:
            return _section_mm2(sections, b - (b - a) * (1 - s) ** 2) * 2 * (b - a) * (1 - s)

        whole = _gauss(stretched, 0.0, 1.0)
        total += _settled(stretched, (0.0, 1.0), whole, _SETTLED_SHARE * abs(whole), _HALVINGS)
    return total


def _settled(
    f: Callable[[float], float], span: tuple[float, float], whole: float, within: float, halvings: int
) -> float:
    """Integral by halving until both halves agree with the whole: the front may pass a corner in between."""
    a, b = span
    middle = (a + b) / 2
    left, right = _gauss(f, a, middle), _gauss(f, middle, b)
    if halvings == 0 or abs(left + right - whole) <= within:
        return left + right
    return _settled(f, (a, middle), left, within, halvings - 1) + _settled(
        f, (middle, b), right, within, halvings - 1
    )


def _gauss(f: Callable[[float], float], a: float, b: float) -> float:
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    points = ((b + a) / 2 + (b - a) / 2 * nodes).tolist()
    return (b - a) / 2 * sum(w * f(s) for s, w in zip(points, weights.tolist(), strict=True))


def circle(x_mm: float, y_mm: float, diameter_mm: float) -> Ring:
    """A circle as a ring of two half circles."""
    r = diameter_mm / 2
    return Ring(np.array([[x_mm + r, y_mm, 1.0], [x_mm - r, y_mm, 1.0]]))
