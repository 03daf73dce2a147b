"""Many Beziers and elliptic arcs at once, each turned into arcs by itself: quick, not as few as can be.

Every part is halved until the two arcs with its end points and end tangents stay within the tolerance. Where
neighbours go on without a kink, so do their arcs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.ring import FloatArray
from scalegen.outline.svg_segments import Arc, Bezier, Point

IntArray = npt.NDArray[np.intp]

FINEST = 12

_AT_ONCE = 4000
_SAMPLES = np.linspace(0.0, 1.0, 18)[1:-1]
_WITHIN = 0.95  # of the tolerance, for what lies between the samples
_WIDEST_RAD = 0.9  # between chord and tangent of an arc
_FLAT_BULGE = 1e-7
_TINY = 1e-300


@dataclass(frozen=True, kw_only=True, eq=False)
class _Parts:
    """Parts of curves: number of the curve, where each begins and ends in its parameter 0 to 1."""

    curve: IntArray
    low: FloatArray
    high: FloatArray

    def take(self, which: npt.NDArray[np.bool_]) -> "_Parts":
        return _Parts(curve=self.curve[which], low=self.low[which], high=self.high[which])


class _Curves:
    """Cubics and elliptic arcs behind one way to ask for points and tangents."""

    def __init__(self, starts: Sequence[Point], segments: Sequence[Bezier | Arc]) -> None:
        count = len(segments)
        self.table = np.zeros((count, 4, 2))
        self.angles = np.zeros((count, 2))
        self.elliptic = np.array([isinstance(s, Arc) for s in segments], dtype=np.bool_)
        for k, (start, item) in enumerate(zip(starts, segments, strict=True)):
            if isinstance(item, Bezier):
                self.table[k] = start, item.first, item.second, item.end
            else:
                self.table[k] = item.center, item.u, item.v, item.end
                self.angles[k] = item.start_rad, item.sweep_rad

    def points(self, curve: IntArray, t: FloatArray) -> FloatArray:
        """Points (m, k, 2) of m curves at k parameters (m, k) each."""
        a, b, c, d = (self.table[curve, j][:, None, :] for j in range(4))
        u = t[..., None]
        s = 1 - u
        cubic = s**3 * a + 3 * s**2 * u * b + 3 * s * u**2 * c + u**3 * d
        angle = (self.angles[curve, 0][:, None] + t * self.angles[curve, 1][:, None])[..., None]
        turned = a + np.cos(angle) * b + np.sin(angle) * c
        return np.asarray(np.where(self.elliptic[curve][:, None, None], turned, cubic))

    def tangents(self, curve: IntArray, t: FloatArray, *, forward: bool) -> FloatArray:
        """Unit tangents (m, 2) at parameters (m,); where a cubic stops, from what comes after or before."""
        a, b, c, d = (self.table[curve, j] for j in range(4))
        u = t[:, None]
        s = 1 - u
        first = s**2 * (b - a) + 2 * s * u * (c - b) + u**2 * (d - c)
        # Two handles on each other leave no direction; the next derivatives do (Taylor's series).
        second = (1.0 if forward else -1.0) * (s * (c - 2 * b + a) + u * (d - 2 * c + b))
        third = d - 3 * c + 3 * b - a
        angle = self.angles[curve, 0] + t * self.angles[curve, 1]
        turned = np.sign(self.angles[curve, 1])[:, None] * (
            np.cos(angle)[:, None] * c - np.sin(angle)[:, None] * b
        )
        size = np.abs(self.table[curve] - a[:, None, :]).max(axis=(1, 2))
        step = np.where(self.elliptic[curve][:, None], turned, third)
        for arrow in (second, first):
            clear = np.abs(arrow).max(axis=1) > 1e-9 * size
            step = np.where((clear & ~self.elliptic[curve])[:, None], arrow, step)
        return np.asarray(step / np.maximum(np.hypot(*step.T), _TINY)[:, None])


def arcs_of(
    starts: Sequence[Point], segments: Sequence[Bezier | Arc], tolerance_mm: float, most: int
) -> list[FloatArray | None]:
    """Rows for each of many curves.

    Args:
        starts: Where each begins, mm.
        segments: Curves in mm, each with some length.
        tolerance_mm: Largest distance between a curve and its arcs.
        most: Largest number of arcs in all.

    Returns:
        For each float64 (n, 3) x, y, bulge, end point included; None for one that cannot be followed.

    Raises:
        UnreadableError: There would be more arcs than that.

    Source: see :mod:`scalegen.outline.biarc` for the two arcs.
    """
    found: list[FloatArray | None] = []
    left = most
    for k in range(0, len(segments), _AT_ONCE):
        some = _some(starts[k : k + _AT_ONCE], segments[k : k + _AT_ONCE], tolerance_mm, left)
        if some is None:
            raise UnreadableError(f"its curves need more than {most} arcs")
        left -= sum(len(rows) - 1 for rows in some if rows is not None)
        found += some
    return found


def _some(
    starts: Sequence[Point], segments: Sequence[Bezier | Arc], tolerance_mm: float, most: int
) -> list[FloatArray | None] | None:
    """As :func:`arcs_of`, for so many that they go into one table; None where it raises."""
    curves = _Curves(starts, segments)
    count = len(segments)
    # An ellipse is cut at its ends and sides first, where its curvature turns.
    pieces = np.where(curves.elliptic, np.ceil(np.abs(curves.angles[:, 1]) / (np.pi / 2) - 1e-9), 1.0)
    pieces = np.maximum(pieces, 1.0).astype(np.intp)
    curve = np.repeat(np.arange(count), pieces)
    number = np.arange(len(curve)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    parts = _Parts(curve=curve, low=number / pieces[curve], high=(number + 1) / pieces[curve])
    done: list[tuple[IntArray, FloatArray, FloatArray]] = []
    lost = np.zeros(count, dtype=np.bool_)
    count_arcs = 0
    for depth in range(FINEST + 1):
        if count_arcs + 2 * len(parts.curve) > most:
            return None
        rows, good = _biarcs(curves, parts, tolerance_mm)
        done.append((parts.curve[good], parts.low[good], rows[good]))
        count_arcs += 2 * int(good.sum())
        parts = parts.take(~good)
        if not len(parts.curve):
            break
        if depth == FINEST:
            lost[parts.curve] = True
            break
        middle = (parts.low + parts.high) / 2
        parts = _Parts(
            curve=np.concatenate([parts.curve, parts.curve]),
            low=np.concatenate([parts.low, middle]),
            high=np.concatenate([middle, parts.high]),
        )
    return _sorted_out(starts, segments, done, lost)


def _sorted_out(
    starts: Sequence[Point],
    segments: Sequence[Bezier | Arc],
    done: Sequence[tuple[IntArray, FloatArray, FloatArray]],
    lost: npt.NDArray[np.bool_],
) -> list[FloatArray | None]:
    """Rows of each curve in order, its ends exactly where its neighbours begin."""
    curve, low, rows = (np.concatenate([item[j] for item in done]) for j in range(3))
    order = np.lexsort((low, curve))
    curve, rows = curve[order], rows[order]
    stops = np.searchsorted(curve, np.arange(len(segments) + 1))
    out: list[FloatArray | None] = []
    for k, item in enumerate(segments):
        mine = rows[stops[k] : stops[k + 1]].reshape(-1, 3)
        if lost[k] or not np.isfinite(mine).all():
            out.append(None)
            continue
        mine = np.vstack([mine, [[*item.end, 0.0]]])
        mine[0, :2] = starts[k]
        out.append(mine)
    return out


def _biarcs(curves: _Curves, parts: _Parts, tolerance_mm: float) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Start and joint of two arcs for each part, (m, 2, 3), and whether they follow it."""
    low, high = parts.low[:, None], parts.high[:, None]
    points = curves.points(parts.curve, low + (high - low) * np.append(np.insert(_SAMPLES, 0, 0.0), 1.0))
    p, q, between = points[:, 0], points[:, -1], points[:, 1:-1]
    t = curves.tangents(parts.curve, parts.low, forward=True)
    u = curves.tangents(parts.curve, parts.high, forward=False)
    v = q - p
    along, open_by = (v * (t + u)).sum(axis=1), 2 * (1 - (t * u).sum(axis=1))
    length_sq = (v**2).sum(axis=1)
    reach = length_sq / np.maximum(along + np.sqrt(along**2 + open_by * length_sq), _TINY)
    joint = (p + q + reach[:, None] * (t - u)) / 2
    first, second = joint - p, q - joint
    leave, arrive = _angle(t, first), _angle(second, u)
    crook = 2 * np.column_stack([np.sin(leave), np.sin(arrive)])
    crook /= np.maximum(np.column_stack([np.hypot(*first.T), np.hypot(*second.T)]), _TINY)
    middle = (
        2 * first / np.maximum((first**2).sum(axis=1), _TINY)[:, None] * (first * t).sum(axis=1)[:, None] - t
    )
    ahead = ((between - joint[:, None]) * middle[:, None]).sum(axis=2) > 0
    off = np.where(
        ahead,
        _off_circle(between - q[:, None], u, crook[:, 1]),
        _off_circle(between - p[:, None], t, crook[:, 0]),
    ).max(axis=1)
    wide = np.maximum(np.abs(leave), np.abs(arrive)) > _WIDEST_RAD
    good = (off <= _WITHIN * tolerance_mm) & ~wide & (reach > 0) & _goes_on(points)
    bulges = np.tan(np.column_stack([leave, arrive]) / 2)
    # A part so short that nobody can see its shape is a line.
    short = np.abs(points - p[:, None]).max(axis=(1, 2)) <= 0.1 * tolerance_mm
    straight = short & ~good
    joint = np.where(straight[:, None], (p + q) / 2, joint)
    bulges[straight[:, None] | (np.abs(bulges) < _FLAT_BULGE)] = 0.0
    rows = np.stack([np.column_stack([p, bulges[:, 0]]), np.column_stack([joint, bulges[:, 1]])], axis=1)
    return rows, good | short


def _angle(before: FloatArray, after: FloatArray) -> FloatArray:
    """Signed angles (m,) from one direction to another."""
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.arctan2(cross, (before * after).sum(axis=1)))


def _off_circle(arms: FloatArray, tangent: FloatArray, crook: FloatArray) -> FloatArray:
    """Distances (m, k) from circles, each given by a point, the tangent there and its curvature.

    With w from the point and n to the left of the tangent, f = k w.w - 2 w.n makes |w - n/k| - 1/k equal to
    f / (1 + sqrt(1 + k f)), which keeps its digits for a straight line as well.
    """
    left = np.column_stack([-tangent[:, 1], tangent[:, 0]])[:, None, :]
    k = crook[:, None]
    f = k * (arms**2).sum(axis=2) - 2 * (arms * left).sum(axis=2)
    return np.asarray(np.abs(f) / (1 + np.sqrt(np.maximum(1 + k * f, 0.0))))


def _goes_on(points: FloatArray) -> npt.NDArray[np.bool_]:
    """Whether points (m, k, 2) never turn back against the chord from the first to the last."""
    chord = points[:, -1:] - points[:, :1]
    return np.asarray((np.diff(points, axis=1) * chord).sum(axis=2).min(axis=1) > 0)
