"""Circles through points of hole edges."""

from dataclasses import dataclass

import numpy as np

from scalegen.outline.ring import FloatArray

_ROUNDS = 12
_OUTLIERS = 3.5


@dataclass(frozen=True, kw_only=True)
class Circle:
    """A circle fitted to points.

    Attributes:
        x: Centre, in the points' unit.
        y: Centre.
        radius: Above 0.
        off: Root mean square distance of the points it was fitted to.
        kept: Share of all points that it was fitted to; the others lie apart, like dust on the edge.
    """

    x: float
    y: float
    radius: float
    off: float
    kept: float


def fit_circle(points: FloatArray) -> Circle | None:
    """Fit a circle so that the sum of squared distances is least, points far off left out.

    Starts from the algebraic circle and goes on by Gauss-Newton steps.

    Args:
        points: (n, 2), n >= 6.

    Returns:
        The circle, or None when the points lie along a line.

    Source: I. Kasa, "A circle fitting procedure and its error analysis", IEEE Trans. Instrumentation and
    Measurement 25 (1976), 8-14, for the start; from memory.
    """
    keep = np.ones(len(points), dtype=np.bool_)
    found = None
    for _ in range(3):
        found = _least_squares(points[keep])
        if found is None:
            return None
        x, y, r = found
        off = np.abs(np.hypot(points[:, 0] - x, points[:, 1] - y) - r)
        limit = _OUTLIERS * 1.4826 * float(np.median(off)) + 1e-9
        keep = off <= limit
        if keep.sum() < 6:
            return None
    x, y, r = found if found is not None else (0.0, 0.0, 0.0)
    rms = float(np.sqrt(np.mean((np.hypot(points[keep, 0] - x, points[keep, 1] - y) - r) ** 2)))
    return Circle(x=x, y=y, radius=r, off=rms, kept=float(keep.mean()))


def _least_squares(points: FloatArray) -> tuple[float, float, float] | None:
    """Centre and radius, algebraic first, then geometric."""
    middle = points.mean(axis=0)
    near = points - middle
    size = float(np.abs(near).max())
    if size <= 0:
        return None
    near = near / size
    table = np.column_stack([2 * near, np.ones(len(near))])
    (a, b, c), _, rank, _ = np.linalg.lstsq(table, (near**2).sum(axis=1), rcond=1e-9)
    if rank < 3:
        return None
    x, y, r = float(a), float(b), float(np.sqrt(max(c + a * a + b * b, 1e-12)))
    for _ in range(_ROUNDS):
        dx, dy = near[:, 0] - x, near[:, 1] - y
        d = np.maximum(np.hypot(dx, dy), 1e-9)
        slopes = np.column_stack([-dx / d, -dy / d, -np.ones(len(d))])
        step = np.linalg.lstsq(slopes, r - d, rcond=None)[0]
        x, y, r = x + float(step[0]), y + float(step[1]), r + float(step[2])
        if float(np.abs(step).max()) < 1e-10:
            break
    if not np.isfinite([x, y, r]).all() or r <= 0:
        return None
    return float(middle[0] + size * x), float(middle[1] + size * y), size * r
