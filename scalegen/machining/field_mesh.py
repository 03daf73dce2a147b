"""A field of heights as a closed mesh, with as few triangles as a tolerance allows.

The field is taken at points a step apart. Right triangles are halved at the middle of their longest side
until every point left out lies within the tolerance of the triangle over it; a middle belongs to both
triangles beside it, so that no seam is open. Walls lean over one step, since heights are told point by point.
Where nothing is left the mesh has a hole.

Source of the way: right-triangulated irregular networks (Evans, Kirkpatrick and Townsend, Algorithmica 30,
2001; from memory). The bound is added up over all levels, so that it holds for every point.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from scalegen.errors import UsageError
from scalegen.machining.dry_run import SAME_MM
from scalegen.machining.field import FloatGrid, HeightField
from scalegen.outline.ring import FloatArray

IndexArray = npt.NDArray[np.int64]

TOLERANCE_MM = 0.03
"""How far a point of the field may lie off the mesh."""

STEP_MM = 0.4
"""How far apart points are taken. Finer ones make large files, which grow with the length of walls."""

_MOST_POINTS = 2048
_LEAST_MM = 1e-3
_TRIES = 50


class FieldMesh(NamedTuple):
    """A closed mesh of what is left of a blank.

    Attributes:
        vertices: float64 (v, 3) mm in the sheet frame; z = 0 is the underside of the blank.
        triangles: int64 (t, 3) rows of ``vertices``, counter-clockwise seen from outside.
        step_mm: How far apart the points are; walls lean over as much.
    """

    vertices: FloatArray
    triangles: IndexArray
    step_mm: float


def field_mesh(field: HeightField, tolerance_mm: float = TOLERANCE_MM, step_mm: float = STEP_MM) -> FieldMesh:
    """Mesh what a field of heights has above 0, with bare bed all around it.

    Args:
        field: The heights.
        tolerance_mm: How far each point taken from the field may lie above or below the mesh.
        step_mm: How far apart points are taken, to whole cells; wider on blanks of more than 2000 of them.

    Raises:
        UsageError: Nothing is left, or the tolerance is not above 0.
    """
    if not tolerance_mm > 0:
        raise UsageError(f"a mesh tolerance of {tolerance_mm:g} mm is not above 0")
    stride = max(1, round(step_mm / field.cell_mm), -(-max(field.shape) // _MOST_POINTS))
    heights = _points(field, stride)
    if not heights.any():
        raise UsageError("nothing is left of the blank: there is nothing to mesh")
    triangles = _halved(_bounds(heights), tolerance_mm)
    heights, triangles = _standing(heights, triangles)
    step = stride * field.cell_mm
    return _closed(heights, triangles, step, (field.x_mm, field.y_mm), field.cell_mm)


def _points(field: HeightField, stride: int) -> FloatGrid:
    """Heights of every so-manieth cell on a square of 2^k + 1 points, 0 outside and around."""
    taken = np.where(field.heights_mm > SAME_MM, field.heights_mm, np.float32(0.0))[::stride, ::stride]
    side = 2 ** max(1, int(np.ceil(np.log2(max(taken.shape) + 1)))) + 1
    heights = np.zeros((side, side), dtype=np.float32)
    # One point of bare bed before the first, so that the mesh ends there whatever the field's edge is like.
    heights[1 : taken.shape[0] + 1, 1 : taken.shape[1] + 1] = np.where(
        taken > 0, np.maximum(taken, np.float32(_LEAST_MM)), np.float32(0.0)
    )
    heights[-1], heights[:, -1] = 0.0, 0.0
    return heights


def _bounds(heights: FloatGrid) -> FloatGrid:
    """For the middle of every longest side: how far any point may be off without it, (n + 1, n + 1)."""
    n = len(heights) - 1
    bound = np.zeros_like(heights)
    half = 1
    while half < n:
        full = 2 * half
        # Upright and level sides of 2 half, their middles between two corners.
        for h, e in ((heights, bound), (heights.T, bound.T)):
            off = np.abs(h[half::full, ::full] - (h[:-1:full, ::full] + h[full::full, ::full]) / 2)
            e[half::full, ::full] = off + _around(e, half)
        # Slanting sides of squares of 2 half, between the corners whose numbers add up to an even one.
        corners = heights[::full, ::full]
        rising = (corners[:-1, :-1] + corners[1:, 1:]) / 2
        falling = (corners[1:, :-1] + corners[:-1, 1:]) / 2
        rows, cols = np.indices(rising.shape)
        off = np.abs(heights[half::full, half::full] - np.where((rows + cols) % 2 == 0, rising, falling))
        beside = np.maximum(bound[half::full, :-1:full], bound[half::full, full::full])
        above = np.maximum(bound[:-1:full, half::full], bound[full::full, half::full])
        bound[half::full, half::full] = off + np.maximum(beside, above)
        half = full
    return bound


def _around(bound: FloatGrid, half: int) -> FloatGrid:
    """The largest bound of the four middles of slanting sides next to those of upright ones."""
    if half == 1:
        return np.zeros_like(bound[1::2, ::2])
    full, quarter = 2 * half, half // 2
    # Those middles lie a quarter off on every side; beyond the edge there are none.
    padded = np.pad(bound, ((0, 0), (quarter, quarter)))
    lower = np.maximum(padded[quarter::full, ::full], padded[quarter::full, half::full])
    upper = np.maximum(padded[half + quarter :: full, ::full], padded[half + quarter :: full, half::full])
    return np.maximum(lower, upper)


def _halved(bound: FloatGrid, tolerance_mm: float) -> IndexArray:
    """Triangles (t, 3) of point numbers, the right angle last, that leave nothing out beyond a tolerance."""
    side = len(bound)
    n = side - 1
    # Rows count up in y: both halves of the square run counter-clockwise.
    low, right, high, left = 0, n, n * side + n, n * side
    todo = np.array([[high, low, right], [low, high, left]], dtype=np.int64)
    flat = bound.ravel()
    done = []
    while len(todo):
        a, b, c = todo.T
        middle = (a + b) // 2
        # A slanting side across a single square has no point in its middle.
        whole = ((a // side - b // side) % 2 == 0) & ((a % side - b % side) % 2 == 0)
        split = whole & (flat[np.where(whole, middle, 0)] > tolerance_mm)
        done.append(todo[~split])
        a, b, c, middle = a[split], b[split], c[split], middle[split]
        todo = np.concatenate([np.column_stack([c, a, middle]), np.column_stack([b, c, middle])])
    return np.concatenate(done)


def _standing(heights: FloatGrid, triangles: IndexArray) -> tuple[FloatGrid, IndexArray]:
    """The triangles with material under them; where two would meet in an edge of no height, it gets some."""
    raised = heights.ravel().copy()
    for _ in range(_TRIES):
        kept = triangles[(raised[triangles] > 0).any(axis=1)]
        edges = np.sort(np.vstack([kept[:, [0, 1]], kept[:, [1, 2]], kept[:, [2, 0]]]), axis=1)
        bare = edges[(raised[edges] <= 0).all(axis=1)]
        found, count = np.unique(bare, axis=0, return_counts=True)
        pinched = found[count > 1]
        if not len(pinched):
            break
        raised[pinched] = _LEAST_MM
    return raised.reshape(heights.shape), kept


def _closed(
    heights: FloatGrid, triangles: IndexArray, step_mm: float, at_mm: tuple[float, float], cell_mm: float
) -> FieldMesh:
    """Top and underside; points without height belong to both."""
    side = len(heights)
    used, rows = np.unique(triangles, return_inverse=True)
    top = rows.reshape(triangles.shape)
    z = heights.ravel()[used].astype(np.float64)
    x = at_mm[0] + cell_mm / 2 + (used % side - 1) * step_mm
    y = at_mm[1] + cell_mm / 2 + (used // side - 1) * step_mm
    stands = z > 0
    below = np.arange(len(used))
    below[stands] = len(used) + np.arange(int(stands.sum()))
    vertices = np.vstack(
        [np.column_stack([x, y, z]), np.column_stack([x[stands], y[stands], np.zeros(int(stands.sum()))])]
    )
    return FieldMesh(vertices, np.vstack([top, below[top][:, ::-1]]), step_mm)
