"""Which of many points lie near each other, found cell by cell."""

import numpy as np
import numpy.typing as npt

from scalegen.errors import GeometryError
from scalegen.outline.ring import FloatArray

IntArray = npt.NDArray[np.intp]

_MOST_PAIRS = 2_000_000


def near_pairs(points: FloatArray, distance_mm: float) -> list[tuple[float, int, int]]:
    """Pairs of points within a distance, nearest first.

    Raises:
        GeometryError: So many points lie together that nobody could tell which belong together.
    """
    if len(points) < 2:
        return []
    cells = np.floor(points / distance_mm)
    found: list[tuple[float, int, int]] = []
    for by in ((0, 0), (1, 0), (0, 1), (1, 1), (1, -1)):
        i, j = _same_cell(cells, cells + by, alike=by == (0, 0))
        apart = np.hypot(*(points[i] - points[j]).T)
        near = apart <= distance_mm
        low, high = np.minimum(i, j)[near], np.maximum(i, j)[near]
        found += zip(apart[near].tolist(), low.tolist(), high.tolist(), strict=True)
    return sorted(found)


def _same_cell(a: FloatArray, b: FloatArray, *, alike: bool) -> tuple[IntArray, IntArray]:
    """All i, j for which a[i] equals b[j]; when both are one table each pair only once."""
    both = np.vstack([a, b])
    _, label = np.unique(both[:, 0] + 1j * both[:, 1], return_inverse=True)
    of_a, of_b = label[: len(a)], label[len(a) :]
    order = np.argsort(of_b, kind="stable")
    first = np.searchsorted(of_b[order], of_a, side="left")
    counts = np.searchsorted(of_b[order], of_a, side="right") - first
    if counts.sum() > _MOST_PAIRS:
        raise GeometryError(
            f"more than {_MOST_PAIRS} pairs of ends lie so near each other that they cannot be told apart",
            remedy="check the unit of the drawing, and leave only the outline and the pin holes in it",
        )
    i = np.repeat(np.arange(len(a)), counts)
    j = order[np.arange(len(i)) - np.repeat(np.cumsum(counts) - counts, counts) + np.repeat(first, counts)]
    once = i < j if alike else np.ones(len(i), dtype=np.bool_)
    return i[once], j[once]


def nodes_of(points: FloatArray, distance_mm: float) -> list[int]:
    """Number of the node that each point belongs to; points of one node coincide."""
    if not len(points):
        return []
    # Points that are the same to the last digit need no search, however many there are.
    _, first, label = np.unique(points[:, 0] + 1j * points[:, 1], return_index=True, return_inverse=True)
    node = list(range(len(first)))

    def root(i: int) -> int:
        while node[i] != i:
            node[i] = node[node[i]]
            i = node[i]
        return i

    for _, i, j in near_pairs(points[first], distance_mm):
        node[root(j)] = root(i)
    roots = [int(first[root(i)]) for i in range(len(first))]
    return [roots[i] for i in label]
