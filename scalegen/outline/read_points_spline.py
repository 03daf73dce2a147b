"""A smooth curve through points: cubic splines between the corners, over the length of the chords."""

import itertools

import numpy as np

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.paths import Curve
from scalegen.outline.ring import FloatArray
from scalegen.outline.svg_arcs import arcs_of
from scalegen.outline.svg_segments import Bezier

CORNER_RAD = np.radians(35.0)
SHARP_RAD = np.radians(60.0)

_MOST_ARCS = 100_000


def corners_of(points: FloatArray) -> list[int]:
    """Points of a closed polygon at which a smooth curve has a corner.

    A turn of more than 35 degrees is one where the turns beside it are clearly smaller, and any turn of more
    than 60 degrees: so a few points on a small circle still make a round curve.

    Args:
        points: float64 (n, 2), no point like the next.
    """
    edges = np.roll(points, -1, axis=0) - points
    before = np.roll(edges, 1, axis=0)
    cross = before[:, 0] * edges[:, 1] - before[:, 1] * edges[:, 0]
    turns = np.abs(np.arctan2(cross, (before * edges).sum(axis=1)))
    beside = np.maximum(np.roll(turns, 1), np.roll(turns, -1))
    sharp = (turns > SHARP_RAD) | ((turns > CORNER_RAD) & (turns > 1.5 * beside))
    return [int(k) for k in np.flatnonzero(sharp)]


def smooth_parts(points: FloatArray, corners: list[int]) -> list[FloatArray | Curve]:
    """The curve in parts, from corner to corner, or all round as one.

    Args:
        points: float64 (n, 2), closed, at least three.
        corners: Numbers of points at which it has a corner.

    Returns:
        Rows x, y, 0 where two corners follow each other, curves elsewhere.
    """
    if not corners:
        return [_curve(points, closed=True)]
    around = np.roll(points, -corners[0], axis=0)
    stops = [k - corners[0] for k in corners] + [len(points)]
    table = np.vstack([around, around[:1]])
    parts: list[FloatArray | Curve] = []
    for a, b in itertools.pairwise(stops):
        run = table[a : b + 1]
        parts.append(_curve(run, closed=False) if b - a > 1 else np.column_stack([run, np.zeros(2)]))
    return parts


def _curve(points: FloatArray, *, closed: bool) -> Curve:
    """A cubic spline through points, its parameter the length of the chords."""
    table = np.vstack([points, points[:1]]) if closed else points
    steps = np.hypot(*np.diff(table, axis=0).T)
    breaks = np.insert(np.cumsum(steps), 0, 0.0)
    slopes = _slopes(table, steps, closed=closed)

    def at(t: FloatArray) -> FloatArray:
        k = np.clip(np.searchsorted(breaks, t, side="right") - 1, 0, len(steps) - 1)
        h = steps[k][:, None]
        u = (t - breaks[k])[:, None] / h
        a, b, p, q = table[k], table[k + 1], h * slopes[k], h * slopes[k + 1]
        return np.asarray(
            (1 + 2 * u) * (1 - u) ** 2 * a
            + u**2 * (3 - 2 * u) * b
            + u * (1 - u) ** 2 * p
            - u**2 * (1 - u) * q
        )

    return Curve(at=at, breaks=breaks)


def arcs_along(curve: Curve, tolerance_mm: float) -> list[FloatArray | Curve]:
    """Arcs for every step of a curve from :func:`smooth_parts`, each step by itself.

    Args:
        curve: Of cubics.
        tolerance_mm: Largest distance between the curve and its arcs.

    Raises:
        UnreadableError: It cannot be followed.
    """
    a, b = curve.breaks[:-1], curve.breaks[1:]
    p, q = curve.at(a), curve.at(b)
    # The handles of the cubic with these values at its thirds (Lagrange's formula).
    one, two = curve.at(a + (b - a) / 3), curve.at(a + 2 * (b - a) / 3)
    first = (-5 * p + 18 * one - 9 * two + 2 * q) / 6
    second = (2 * p - 9 * one + 18 * two - 5 * q) / 6
    tables = (item.tolist() for item in (p, first, second, q))
    starts, handles, others, ends = ([(x, y) for x, y in table] for table in tables)
    cubics = [Bezier(first=f, second=s, end=e) for f, s, e in zip(handles, others, ends, strict=True)]
    found = arcs_of(starts, cubics, tolerance_mm, _MOST_ARCS)
    if any(rows is None for rows in found):
        raise UnreadableError("it has too many bends")
    return [rows for rows in found if rows is not None]


def _slopes(table: FloatArray, steps: FloatArray, *, closed: bool) -> FloatArray:
    """Slopes at all points, so that the curvature does not jump.

    Source: cubic splines by their slopes, C. de Boor, A Practical Guide to Splines, chapter IV (from memory);
    the ends of an open one have the slope of the polynomial through the nearest points.
    """
    n = len(steps)
    chords = np.diff(table, axis=0) / steps[:, None]
    before, after = (np.roll(steps, 1), steps) if closed else (steps[:-1], steps[1:])
    left = np.roll(chords, 1, axis=0) if closed else chords[:-1]
    right = chords if closed else chords[1:]
    value = 3 * (after[:, None] * left + before[:, None] * right)
    size = n if closed else n + 1
    matrix = np.zeros((size, size))
    rows = np.arange(n) if closed else np.arange(1, n)
    # Added, not set: with three points all round, the ones before and after are not always different ones.
    np.add.at(matrix, (rows, (rows - 1) % size), after)
    np.add.at(matrix, (rows, rows), 2 * (before + after))
    np.add.at(matrix, (rows, (rows + 1) % size), before)
    if closed:
        found = np.linalg.solve(matrix, value)
        return np.vstack([found, found[:1]])
    matrix[0, 0] = matrix[-1, -1] = 1.0
    ends = np.vstack([_end_slope(table, steps), _end_slope(table[::-1], -steps[::-1])])
    return np.asarray(np.linalg.solve(matrix, np.vstack([ends[:1], value, ends[1:]])))


def _end_slope(table: FloatArray, steps: FloatArray) -> FloatArray:
    """Slope at the first point of the polynomial through the first four points or fewer."""
    count = min(4, len(table))
    t = np.insert(np.cumsum(steps[: count - 1]), 0, 0.0)
    scale = t[-1]
    factors = np.linalg.solve(np.vander(t / scale, increasing=True), table[:count])
    return np.asarray(factors[1] / scale)
