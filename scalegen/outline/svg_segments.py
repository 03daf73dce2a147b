"""The segments that SVG shapes are made of, in user units, and what an affine map makes of them."""

import math
from dataclasses import dataclass

import numpy as np

from scalegen.outline.ring import FloatArray

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Line:
    """A straight line from where the segment before ends to ``end``."""

    end: Point


@dataclass(frozen=True, kw_only=True)
class Bezier:
    """A cubic from where the segment before ends, with two control points."""

    first: Point
    second: Point
    end: Point


@dataclass(frozen=True, kw_only=True)
class Arc:
    """Part of an ellipse: center + cos(t) u + sin(t) v, t from ``start_rad`` to ``start_rad + sweep_rad``.

    ``sweep_rad`` may be negative. ``end`` is stated apart, so that the next segment begins exactly there.
    """

    center: Point
    u: Point
    v: Point
    start_rad: float
    sweep_rad: float
    end: Point


Segment = Line | Bezier | Arc


@dataclass(frozen=True, kw_only=True)
class Subpath:
    """Segments one after another from ``start``; ``closed`` when a line leads back from the last end."""

    start: Point
    segments: tuple[Segment, ...]
    closed: bool

    def points(self) -> FloatArray:
        """Points (n, 2) whose box holds the subpath, and little more."""
        found = [self.start]
        for segment in self.segments:
            if isinstance(segment, Bezier):
                found += [segment.first, segment.second]
            elif isinstance(segment, Arc):
                c, u, v = segment.center, segment.u, segment.v
                x, y = math.hypot(u[0], v[0]), math.hypot(u[1], v[1])
                found += [(c[0] - x, c[1] - y), (c[0] + x, c[1] + y)]
            found.append(segment.end)
        return np.array(found, dtype=np.float64)


def raised(start: Point, control: Point, end: Point) -> Bezier:
    """The cubic that is the same curve as a quadratic."""
    return Bezier(
        first=(start[0] + 2 / 3 * (control[0] - start[0]), start[1] + 2 / 3 * (control[1] - start[1])),
        second=(end[0] + 2 / 3 * (control[0] - end[0]), end[1] + 2 / 3 * (control[1] - end[1])),
        end=end,
    )


def arc_between(
    start: Point, radii: Point, turned_rad: float, *, large: bool, sweep: bool, end: Point
) -> Segment | None:
    """The arc that an ``A`` command describes.

    Args:
        start: Where it begins.
        radii: Of the ellipse; signs are dropped, and both grow when the ellipse is too small.
        turned_rad: Angle from the x axis to the ellipse's first axis.
        large: Take the way round of more than half a turn.
        sweep: Go in the direction of growing angles.
        end: Where it ends.

    Returns:
        The arc; a line when a radius is zero; None when both ends are the same point.

    Source: SVG 1.1, appendix F.6.5 and F.6.6 (F.6.5.1 to F.6.5.6, F.6.6.1 to F.6.6.3).
    """
    rx, ry = abs(radii[0]), abs(radii[1])
    if start == end:
        return None
    if rx == 0 or ry == 0:
        return Line(end=end)
    c, s = math.cos(turned_rad), math.sin(turned_rad)
    half_x, half_y = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    # In units of the radii, where the ellipse is a circle of radius one.
    px, py = (c * half_x + s * half_y) / rx, (c * half_y - s * half_x) / ry
    reach = math.hypot(px, py)
    if not 1e-150 < reach < 1e150:
        return Line(end=end)
    if reach > 1:
        rx, ry, px, py, reach = rx * reach, ry * reach, px / reach, py / reach, 1.0
    off = math.sqrt(max(0.0, (1 - reach) * (1 + reach))) / reach
    off = off if large != sweep else -off
    cx, cy = off * py, -off * px
    first, last = math.atan2(py - cy, px - cx), math.atan2(-py - cy, -px - cx)
    turn = (last - first) % (2 * math.pi)
    if not sweep:
        turn -= 2 * math.pi
    u, v = (c * rx, s * rx), (-s * ry, c * ry)
    center = (
        u[0] * cx + v[0] * cy + (start[0] + end[0]) / 2,
        u[1] * cx + v[1] * cy + (start[1] + end[1]) / 2,
    )
    return Arc(center=center, u=u, v=v, start_rad=first, sweep_rad=turn, end=end)


def mapped(subpath: Subpath, matrix: FloatArray) -> Subpath:
    """A subpath after an affine map (3, 3)."""
    (a, c, e), (b, d, f) = matrix[0].tolist(), matrix[1].tolist()

    def point(p: Point) -> Point:
        return a * p[0] + c * p[1] + e, b * p[0] + d * p[1] + f

    def arrow(p: Point) -> Point:
        return a * p[0] + c * p[1], b * p[0] + d * p[1]

    def segment(item: Segment) -> Segment:
        if isinstance(item, Line):
            return Line(end=point(item.end))
        if isinstance(item, Bezier):
            return Bezier(first=point(item.first), second=point(item.second), end=point(item.end))
        return Arc(
            center=point(item.center),
            u=arrow(item.u),
            v=arrow(item.v),
            start_rad=item.start_rad,
            sweep_rad=item.sweep_rad,
            end=point(item.end),
        )

    segments = tuple(segment(item) for item in subpath.segments)
    return Subpath(start=point(subpath.start), segments=segments, closed=subpath.closed)
