"""A smooth stretch of points followed by arcs that swing from one side of it to the other.

Joints need not lie on the points, nor lean as the curve does: what each arc leaves to the next is a place
beside the curve, within the tolerance, and a direction. Ends reached are kept apart by both, and of those
that are alike only the one farthest on is followed, front by front, so that the first chain to get through
has about as few arcs as there can be.

Lengths looked ahead are no round shares, so that points evenly set do not fall just on their limits: there
the last digit of a number would decide.
"""

from dataclasses import dataclass

import numpy as np

from scalegen.outline.biarc import LINE_BULGE, biarcs, deviation_along, headings, turn
from scalegen.outline.cover import LEAN, LEANS, Smooth, between
from scalegen.outline.pieces import BoolArray, IntArray
from scalegen.outline.ring import FloatArray

_MOST_ARCS = 1000
_AHEAD = (np.arange(1, 37) / 36) ** 1.2037  # where arcs are looked at, of the way looked ahead
_AIMS = np.array([11, 18, 27])  # places of these that arcs are aimed at,
_ASIDE = np.array([-0.97, -0.65, -0.3, 0.0, 0.3, 0.65, 0.97])  # and how far beside, of the tolerance
_CELLS = (9, 17)  # ways to lie beside the curve, and to lean away from it, that are told apart
_FARTHEST_LEAN = 1.7
_LAST_SHARES = np.array([0.35, 0.6, 1.0, 1 / 0.6, 1 / 0.35])
_FIRST_SHARE, _TRIES, _LESS = 0.985, 5, (0.95, 0.995)  # of the tolerance, as places between are not looked at
_WIDEST_TURN_RAD = 2.8
_LEFT_BEHIND = 0.7913  # of the longest arc: ends farther back lead nowhere sooner


@dataclass(frozen=True, kw_only=True, eq=False)
class Swung:
    """Arcs that go on from each other without a kink, with joints beside the points.

    Attributes:
        rows: (k + 1, 3) x, y, bulge; the last one is the end point.
        deviation_mm: Largest distance from the points and from the lines between these.
    """

    rows: FloatArray
    deviation_mm: float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Line:
    """Points and the middles between them, (n, 2), the way along to each, and the directions there, (n,)."""

    halves: FloatArray
    run: FloatArray
    angles: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class _Front:
    """Ends (k,) that so many arcs lead to.

    Attributes:
        at: Number of the half beside each end.
        places: (k, 2).
        angles: Directions there.
        roots: Directions at the very first point.
        before: Which end of the front before each goes on from.
        turned: Angles that the arcs to here turn through.
    """

    at: IntArray
    places: FloatArray
    angles: FloatArray
    roots: FloatArray
    before: IntArray
    turned: FloatArray


def swung(smooth: Smooth, tolerance_mm: float) -> Swung | None:
    """Few arcs that stay within a distance of all points and may swing from one side of them to the other.

    From each end reached, arcs are aimed at places ahead, on the curve and beside it. Of all ends that lie
    and lean alike the farthest one goes on. First and last point are kept.

    Args:
        smooth: The points.
        tolerance_mm: Largest distance, both from the points and from the lines between these.

    Returns:
        None where no such arcs are found.
    """
    halves = np.repeat(smooth.points, 2, axis=0)[:-1]
    halves[1::2] = (smooth.points[:-1] + smooth.points[1:]) / 2
    angles = np.repeat(smooth.angles_rad, 2)[:-1]
    angles[1::2] = (smooth.angles_rad[:-1] + smooth.angles_rad[1:]) / 2
    run = np.insert(np.cumsum(np.hypot(*np.diff(halves, axis=0).T)), 0, 0.0)
    line = _Line(halves=halves, run=run, angles=angles)
    share = _FIRST_SHARE
    for _ in range(_TRIES):
        found = _swinging(line, smooth, share * tolerance_mm)
        if found is None:
            return None
        off = deviation_along(*found, smooth.points)
        if off <= tolerance_mm:
            return Swung(rows=found[0], deviation_mm=off)
        share *= float(np.clip(0.998 * tolerance_mm / off, *_LESS))
    return None


def _swinging(line: _Line, smooth: Smooth, tolerance_mm: float) -> tuple[FloatArray, FloatArray] | None:
    """Rows of the first chain that is through, and the numbers of the points beside them."""
    leans = LEANS if smooth.free[0] or smooth.closed else LEANS[:1]
    angles = line.angles[0] + leans * LEAN * tolerance_mm * 40 / line.run[-1]
    none = np.zeros(len(leans), dtype=np.intp)
    front = _Front(
        at=none,
        places=np.repeat(line.halves[:1], len(leans), axis=0),
        angles=angles,
        roots=angles,
        before=none,
        turned=np.zeros(len(leans)),
    )
    fronts, ahead_mm = [front], float(line.run[-1]) / 8.037
    while len(fronts) < _MOST_ARCS:
        last = _last_arcs(line, front, smooth, tolerance_mm, ahead_mm)
        if last is not None:
            return _rows_of(line, fronts, *last)
        following = _next_front(line, front, tolerance_mm, ahead_mm)
        if following is None:
            return None
        ahead_mm = 1.4837 * float((line.run[following.at] - line.run[front.at[following.before]]).max())
        front = following
        fronts.append(front)
    return None


def _next_front(line: _Line, front: _Front, tolerance_mm: float, ahead_mm: float) -> _Front | None:
    """The farthest end for each way to lie and to lean that one more arc leads to."""
    last = len(line.run) - 1
    for _ in range(16):
        fan = _aimed(line, front, tolerance_mm, ahead_mm)
        reach = int(fan.good.sum(axis=2).max())
        if reach < len(_AHEAD) // 3:
            ahead_mm *= 0.5
        elif reach == len(_AHEAD) and fan.index[:, -1].max() < last:
            ahead_mm *= 1.6
        else:
            break
    inner = (fan.index > front.at.max()) & (fan.index < last)
    k, arc, m = np.nonzero(fan.good & inner[:, None])
    if not len(k):
        return None
    at, bend = fan.index[k, m], fan.curvatures[k, arc]
    turned = np.arctan2(bend * fan.forward[k, m], 1 - bend * fan.left[k, m])
    lean = np.remainder(front.angles[k] + turned - line.angles[at] + np.pi, 2 * np.pi) - np.pi
    step = float((line.run[at] - line.run[front.at[k]]).max())
    best = _farthest_alike(at, fan.aside[k, arc, m] / tolerance_mm, lean * step / (LEAN * tolerance_mm))
    best = best[line.run[at[best]] > line.run[at[best]].max() - _LEFT_BEHIND * step]
    k, at, bend, turned = k[best], at[best], bend[best], turned[best]
    half = headings(front.angles[k] + turned / 2)
    bent = np.abs(bend) > 1e-9
    straight = ((line.halves[at] - front.places[k]) * half).sum(axis=1)
    chord = np.where(bent, 2 * np.sin(turned / 2) / np.where(bent, bend, 1.0), straight)
    return _Front(
        at=at,
        places=front.places[k] + chord[:, None] * half,
        angles=front.angles[k] + turned,
        roots=front.roots[k],
        before=k,
        turned=turned,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Fan:
    """Arcs from each of k ends, c of them, looked at beside m points ahead.

    Attributes:
        index: (k, m) numbers of these points.
        forward: (k, m) how far ahead of the end they lie.
        left: (k, m) and how far to the left.
        curvatures: (k, c).
        aside: (k, c, m) how far the arc runs to the left of the point.
        good: (k, c, m) whether the arc has kept to the tolerance until there.
    """

    index: IntArray
    forward: FloatArray
    left: FloatArray
    curvatures: FloatArray
    aside: FloatArray
    good: BoolArray


def _aimed(line: _Line, front: _Front, tolerance_mm: float, ahead_mm: float) -> _Fan:
    """Arcs aimed at some places ahead, and how far each keeps to the points."""
    index = np.searchsorted(line.run, line.run[front.at][:, None] + ahead_mm * _AHEAD)
    index = np.clip(index, front.at[:, None] + 1, len(line.run) - 1)
    w = line.halves[index] - front.places[:, None]
    t = headings(front.angles)[:, None]
    forward, left = (w * t).sum(axis=2), w[..., 1] * t[..., 0] - w[..., 0] * t[..., 1]
    square = (w**2).sum(axis=2)
    # Beside a point means along the curve's left normal there.
    lean = line.angles[index[:, _AIMS]] - front.angles[:, None]
    aside = tolerance_mm * _ASIDE
    x = forward[:, _AIMS, None] - np.sin(lean)[..., None] * aside
    y = left[:, _AIMS, None] + np.cos(lean)[..., None] * aside
    # Rounded, or else what is lost in the last digit would grow from arc to arc.
    curvatures = np.round(2 * y / np.maximum(x**2 + y**2, 1e-18), 8).reshape(len(index), -1)
    c = curvatures[..., None]
    # The distance d to the left of a point is that from the circle: 2 d + c d^2 = c w.w - 2 n.w.
    doubled = c * square[:, None] - 2 * left[:, None]
    close = np.abs(doubled - c * tolerance_mm**2) <= 2 * tolerance_mm
    good = close & (forward > 0)[:, None] & (1 - c * left[:, None] > np.cos(_WIDEST_TURN_RAD))
    return _Fan(
        index=index,
        forward=forward,
        left=left,
        curvatures=curvatures,
        aside=doubled / 2,
        good=np.logical_and.accumulate(good, axis=2),
    )


def _farthest_alike(at: IntArray, off: FloatArray, lean: FloatArray) -> IntArray:
    """Numbers of the farthest of all ends whose places and leans, in parts of the usual, are alike."""
    across, leaning = _CELLS
    row = np.clip((off + 1) / 2 * across, 0, across - 1).astype(np.intp)
    column = np.clip((lean / _FARTHEST_LEAN + 1) / 2 * leaning, 0, leaning - 1).astype(np.intp)
    count = len(at)
    best = np.full(across * leaning, -1, dtype=np.int64)
    np.maximum.at(best, row * leaning + column, at * count + np.arange(count)[::-1])
    best = best[best >= 0]
    return np.asarray(count - 1 - best % count)


def _last_arcs(
    line: _Line, front: _Front, smooth: Smooth, tolerance_mm: float, ahead_mm: float
) -> tuple[int, FloatArray] | None:
    """The end from which one or two arcs lead to the last point, and their rows with the end point's."""
    last = len(line.run) - 1
    near = np.flatnonzero(line.run[-1] - line.run[front.at] <= 2.1931 * ahead_mm)
    if not len(near):
        return None
    leans = np.append(LEANS[:9], np.nan) if smooth.free[1] and not smooth.closed else LEANS[:1]
    k = np.repeat(near, len(leans) * len(_LAST_SHARES))
    share = np.tile(_LAST_SHARES, len(near) * len(leans))
    lean = np.tile(np.repeat(leans, len(_LAST_SHARES)), len(near))
    p, first, end = front.places[k], front.angles[k], line.halves[-1]
    angle = line.angles[-1] + lean * LEAN * tolerance_mm * 2 / (line.run[-1] - line.run[front.at[k]])
    one = np.isnan(lean)  # stands for the direction at which one arc arrives
    angle = (
        front.roots[k] if smooth.closed else np.where(one, first + 2 * turn(headings(first), end - p), angle)
    )
    made = biarcs(p, np.broadcast_to(end, p.shape), (first, angle), share)
    fits = made.off(line.halves[between(front.at[k], np.full(len(k), last))]) <= tolerance_mm
    if not fits.any():
        return None
    best = int(np.where(fits, made.chords_mm.min(axis=1) + one * line.run[-1], -1.0).argmax())
    half = made.halves_rad[best]
    if one[best]:
        arcs = np.array([[*p[best], np.tan(half.sum() / 2)]])
    else:
        arcs = np.column_stack([np.vstack([p[best], made.joints[best]]), np.tan(half / 2)])
    return int(k[best]), np.vstack([arcs, [*end, 0.0]])


def _rows_of(
    line: _Line, fronts: list[_Front], which: int, arcs: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """All rows up to the last ones, and which points they are beside; halves lie between two."""
    rows, at = [*arcs[::-1]], [len(line.run) - 1.0]
    start = int(fronts[-1].at[which])
    if len(arcs) == 3:
        off = np.hypot(*(line.halves[start:] - arcs[1, :2]).T)
        at.append(float(start + off.argmin()))
    at.append(float(start))
    for before, front in zip(fronts[-2::-1], fronts[:0:-1], strict=True):
        turned, which = front.turned[which], int(front.before[which])
        rows.append(np.array([*before.places[which], np.tan(turned / 4)]))
        at.append(float(before.at[which]))
    table = np.array(rows[::-1])
    table[np.abs(table[:, 2]) < LINE_BULGE, 2] = 0.0
    return table, np.array(at[::-1]) / 2
