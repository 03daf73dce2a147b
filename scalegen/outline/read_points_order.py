"""Measured points brought into order round the outline, or a plain word about where they are not.

People measure round an outline, or twice from front to butt: along the spine, then along the belly.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.ring import FloatArray

_AT_ONCE = 16
_MOST_PAIRS = 2_000_000


@dataclass(frozen=True, kw_only=True)
class Crossing:
    """Where the chain through the points meets itself: the place, and the points its two lines leave from.

    Attributes:
        at: x, y.
        first: Number of the point where the earlier line begins, counted from 1.
        second: The same of the later line.
    """

    at: tuple[float, float]
    first: int
    second: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Ordered:
    """Points in order.

    Attributes:
        points: float64 (n, 2); the closed chain through them does not cross itself unless stated.
        turned: First and last number of the points, from 1, whose order was turned round; None for none.
        crossing: Where the chain as given crosses itself, when nothing could be done about it.
    """

    points: FloatArray
    turned: tuple[int, int] | None = None
    crossing: Crossing | None = None


def ordered(points: FloatArray) -> Ordered:
    """Points in order round the outline.

    Where the closed chain as given crosses itself, it is cut at its longest step and the points after that
    are taken the other way round; when that does not cross itself, it is the order that was meant.

    Args:
        points: float64 (n, 2), at least three, none like the next.

    Raises:
        UnreadableError: As :func:`first_crossing`.
    """
    crossing = first_crossing(points)
    if crossing is None:
        return Ordered(points=points)
    steps = np.hypot(*np.diff(points, axis=0).T)
    last = int(np.argmax(steps))
    other = _without_repeats(np.vstack([points[: last + 1], points[last + 1 :][::-1]]))
    if len(other) > 2 and first_crossing(other) is None:
        return Ordered(points=other, turned=(last + 2, len(points)))
    return Ordered(points=points, crossing=crossing)


def _without_repeats(points: FloatArray) -> FloatArray:
    """Runs that begin or end at the same point name it twice once one of them is turned."""
    keep = (points != np.roll(points, 1, axis=0)).any(axis=1)
    return np.asarray(points[keep])


def first_crossing(points: FloatArray) -> Crossing | None:
    """The first place, going along the closed chain, where it meets itself; None when it does not.

    Args:
        points: float64 (n, 2), none like the next.

    Raises:
        UnreadableError: So many lines lie beside each other that it cannot be told.
    """
    ends = np.roll(points, -1, axis=0)
    lines = shapely.linestrings(np.stack([points, ends], axis=1))
    tree, count = shapely.STRtree(lines), len(points)
    k, more, pairs = 0, 1, 0
    while k < count:
        found, other = tree.query(lines[k : k + more])
        found = found + k
        later = found < other
        found, other = found[later], other[later]
        k, more, pairs = k + more, min(2 * more, _AT_ONCE), pairs + len(later)
        if pairs > _MOST_PAIRS:
            raise UnreadableError("they lie so close that it cannot be told whether their lines cross")
        meet = shapely.intersects(lines[found], lines[other])
        found, other = found[meet], other[meet]
        apart = np.abs(found - other)
        hit = (np.minimum(apart, count - apart) > 1) | _folded(points, ends, found, other)
        if hit.any():
            at = np.flatnonzero(hit)[np.lexsort((other[hit], found[hit]))[0]]
            i, j = int(found[at]), int(other[at])
            x, y = shapely.get_coordinates(shapely.intersection(lines[i], lines[j]))[-1].tolist()
            return Crossing(at=(x, y), first=i + 1, second=j + 1)
    return None


def _folded(
    points: FloatArray, ends: FloatArray, i: npt.NDArray[np.intp], j: npt.NDArray[np.intp]
) -> npt.NDArray[np.bool_]:
    """Whether neighbouring lines lie on each other, the second leading straight back."""
    a, b = ends[i] - points[i], ends[j] - points[j]
    flat = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) <= 1e-12 * np.hypot(*a.T) * np.hypot(*b.T)
    count = len(points)
    beside = np.minimum(np.abs(i - j), count - np.abs(i - j)) == 1
    return np.asarray(flat & beside & ((a * b).sum(axis=1) < 0))
