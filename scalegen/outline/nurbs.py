"""Points on rational B-splines of any degree.

Source: de Boor's algorithm in homogeneous coordinates, L. Piegl and W. Tiller, The NURBS Book (1997),
chapters 3 and 4 (from memory).
"""

from dataclasses import dataclass, replace

import numpy as np

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.ring import FloatArray

HIGHEST_DEGREE = 24
MOST_FIT_POINTS = 400


@dataclass(frozen=True, kw_only=True, eq=False)
class Nurbs:
    """A rational B-spline in space.

    Attributes:
        points: Control points, float64 (n, 3).
        weights: Their weights, (n,), above 0.
        knots: (n + degree + 1,), never falling.
        degree: At least 1.
    """

    points: FloatArray
    weights: FloatArray
    knots: FloatArray
    degree: int

    @property
    def breaks(self) -> FloatArray:
        """Parameters where one polynomial piece ends and the next begins, first and last included."""
        inner = self.knots[self.degree : len(self.points) + 1]
        return np.unique(inner)

    def moved(self, matrix: FloatArray) -> "Nurbs":
        """The same curve after an affine map, (4, 4)."""
        return replace(self, points=self.points @ matrix[:3, :3].T + matrix[:3, 3])

    def at(self, t: FloatArray) -> FloatArray:
        """Points (m, 3) at parameters (m,)."""
        p = self.degree
        span = np.clip(np.searchsorted(self.knots, t, side="right") - 1, p, len(self.points) - 1)
        weighted = np.column_stack([self.points * self.weights[:, None], self.weights])
        d = weighted[span[:, None] + np.arange(-p, 1)]  # (m, p + 1, 4)
        for level in range(1, p + 1):
            i = span[:, None] + np.arange(level - p, 1)
            low, high = self.knots[i], self.knots[i + p - level + 1]
            width = np.where(high > low, high - low, 1.0)
            share = np.where(high > low, (t[:, None] - low) / width, 0.0)[..., None]
            d = (1 - share) * d[:, :-1] + share * d[:, 1:]
        return np.asarray(d[:, 0, :3] / d[:, 0, 3:])


def nurbs(points: FloatArray, weights: FloatArray, knots: FloatArray, degree: int) -> Nurbs:
    """Check the numbers of a B-spline; missing weights are 1, missing knots even and clamped.

    Raises:
        UnreadableError: The numbers make no curve.
    """
    n = len(points)
    if not 1 <= degree <= HIGHEST_DEGREE:
        raise UnreadableError(f"a degree of {degree}")
    if n <= degree:
        raise UnreadableError("too few control points")
    if not len(weights):
        weights = np.ones(n)
    if not len(knots):
        inner = np.arange(1, n - degree, dtype=np.float64)
        knots = np.concatenate([np.zeros(degree + 1), inner, np.full(degree + 1, float(n - degree))])
    if len(weights) != n or len(knots) != n + degree + 1:
        raise UnreadableError("control points, weights and knots do not match")
    if (weights <= 0).any() or (np.diff(knots) < 0).any() or knots[degree] >= knots[n]:
        raise UnreadableError("weights or knots that make no curve")
    return Nurbs(points=points, weights=weights, knots=knots, degree=degree)


def through(points: FloatArray, first: FloatArray | None = None, last: FloatArray | None = None) -> Nurbs:
    """A smooth curve through points: cubic, evenly bent where it passes them.

    Parameters go by the lengths of the chords. A closed curve (its last point repeats the first) passes that
    point smoothly too, unless directions are given.

    Args:
        points: float64 (n, 3).
        first: Direction at the first point, (3,) of any length; None for an end that is free to bend as it
            will.
        last: Direction at the last point.

    Raises:
        UnreadableError: Too few or too many points that differ.

    Source: C2 cubic spline by its slopes, C. de Boor, A Practical Guide to Splines (1978), chapter IV (from
    memory).
    """
    if len(points) < 2:
        raise UnreadableError("too few points")
    keep = np.insert(np.linalg.norm(np.diff(points, axis=0), axis=1) > 1e-9, 0, True)
    p = points[keep]
    if len(p) < 2:
        raise UnreadableError("too few points")
    if len(p) > MOST_FIT_POINTS:
        raise UnreadableError("too many points")
    h = np.linalg.norm(np.diff(p, axis=0), axis=1)
    free = first is None and last is None
    closed = free and len(p) > 3 and bool(np.linalg.norm(p[0] - p[-1]) <= 1e-9)
    slopes = _slopes(p, h, (_unit(first), _unit(last)), closed=closed)
    control = [p[:1]]
    for k, width in enumerate(h):
        ends = np.array([p[k] + slopes[k] * width / 3, p[k + 1] - slopes[k + 1] * width / 3, p[k + 1]])
        control.append(ends)
    at = np.insert(np.cumsum(h), 0, 0.0)
    knots = np.concatenate([at[:1], np.repeat(at, 3), at[-1:]])
    return nurbs(np.vstack(control), np.empty(0), knots, 3)


def _unit(direction: FloatArray | None) -> FloatArray | None:
    """A direction of length 1; none when it has no length."""
    if direction is None or not np.linalg.norm(direction):
        return None
    return np.asarray(direction / np.linalg.norm(direction))


def _slopes(
    p: FloatArray, h: FloatArray, ends: tuple[FloatArray | None, FloatArray | None], *, closed: bool
) -> FloatArray:
    """Derivatives (n, 3) at the points that make the second derivative continuous."""
    n = len(p)
    rise = np.diff(p, axis=0) / h[:, None]
    matrix, right = np.zeros((n, n)), np.zeros((n, 3))
    for k in range(1, n - 1):
        matrix[k, k - 1 : k + 2] = 1 / h[k - 1], 2 / h[k - 1] + 2 / h[k], 1 / h[k]
        right[k] = 3 * (rise[k - 1] / h[k - 1] + rise[k] / h[k])
    if closed:
        matrix[0, [0, -1]] = 1, -1
        matrix[-1, [0, 1]] = 2 / h[0], 1 / h[0]
        matrix[-1, [-1, -2]] = 2 / h[-1], 1 / h[-1]
        right[-1] = 3 * (rise[0] / h[0] + rise[-1] / h[-1])
        return np.asarray(np.linalg.solve(matrix, right))
    for row, beside, given, steepness in ((0, 1, ends[0], rise[0]), (n - 1, n - 2, ends[1], rise[-1])):
        matrix[row, row] = 2.0 if given is None else 1.0
        matrix[row, beside] = 1.0 if given is None else 0.0
        right[row] = 3 * steepness if given is None else given
    return np.asarray(np.linalg.solve(matrix, right))
