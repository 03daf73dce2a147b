"""Which offsets put one polygon on another: the edges of their Minkowski sum.

Walk round two closed curves together so that their directions always agree: at a corner of one, every edge
of the other whose direction the corner sweeps over is traced, shifted by the corner; a corner that turns
clockwise traces backwards. How often the traced curve winds about a point x is then how many pieces the two
shapes share when one is turned half round and put at x; for simple polygons that is at least 1 exactly where
they overlap. No decomposition, no union.

Source: convolution of closed tracings, Guibas, Ramshaw and Stolfi 1983 (from memory).
"""

import numpy as np
import numpy.typing as npt

from scalegen.outline.ring import FloatArray

BoolArray = npt.NDArray[np.bool_]


def convolution(one: FloatArray, other: FloatArray) -> FloatArray:
    """Directed edges whose winding number is at least 1 inside the Minkowski sum of two polygons.

    Args:
        one: float64 (n, 2), simple and counter-clockwise, on the lattice.
        other: float64 (m, 2), the same.

    Returns:
        float64 (k, 4): x and y of start and end of each edge.
    """
    step_one = np.roll(one, -1, axis=0) - one
    step_other = np.roll(other, -1, axis=0) - other
    # after[i, j]: the direction of other's edge j is at or just after that of one's edge i.
    after = (
        step_one[:, None, 0] * step_other[None, :, 1] - step_one[:, None, 1] * step_other[None, :, 0]
    ) >= 0
    return np.concatenate(
        [
            _traced(one, step_one, other, step_other, after),
            _traced(other, step_other, one, step_one, ~after.T),
        ]
    )


def _traced(
    corners: FloatArray, steps: FloatArray, starts: FloatArray, strides: FloatArray, after: BoolArray
) -> FloatArray:
    """Edges (starts, strides) swept over by the corners between ``steps``: (k, 4)."""
    before = np.roll(steps, 1, axis=0)
    left = before[:, 0] * steps[:, 1] - before[:, 1] * steps[:, 0] >= 0
    entering = np.roll(after, 1, axis=0)
    ahead, back = (
        np.nonzero(left[:, None] & entering & ~after),
        np.nonzero(~left[:, None] & after & ~entering),
    )
    pieces = []
    for (corner, edge), sign in ((ahead, 1), (back, -1)):
        start = corners[corner] + starts[edge]
        end = start + strides[edge]
        pieces.append(np.column_stack([start, end] if sign > 0 else [end, start]))
    return np.concatenate(pieces)


def winding(edges: FloatArray, points: FloatArray) -> npt.NDArray[np.intp]:
    """How often directed edges wind about points.

    Args:
        edges: float64 (k, 4), closed as a whole.
        points: float64 (p, 2).

    Returns:
        (p,) counts; counter-clockwise is positive.
    """
    x, y = points[:, :1], points[:, 1:]
    below, under = edges[:, 1] <= y, edges[:, 3] <= y
    hit = below != under
    rise = np.where(edges[:, 3] == edges[:, 1], 1.0, edges[:, 3] - edges[:, 1])
    at = edges[:, 0] + (y - edges[:, 1]) * ((edges[:, 2] - edges[:, 0]) / rise)
    turns = np.where(below, 1, -1) * (hit & (at > x))
    count: npt.NDArray[np.intp] = turns.sum(axis=1)
    return count
