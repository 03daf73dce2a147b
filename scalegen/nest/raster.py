"""Directed edges onto a grid: where they wind about a point, and how deep inside that point lies."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.outline.ring import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int32]

DEPTH_UNIT = 16
_HAIR_MM = 1e-7


@dataclass(frozen=True, kw_only=True)
class Grid:
    """Points of a square grid: column i, row j stands at (x_mm + i step_mm, y_mm + j step_mm)."""

    x_mm: float
    y_mm: float
    step_mm: float
    columns: int
    rows: int


def inside(edges: FloatArray, grid: Grid) -> BoolArray:
    """Grid points truly inside the curve that directed edges make; points on it are outside.

    Args:
        edges: float64 (k, 4): start and end of each edge; closed as a whole.
        grid: Where to look.

    Returns:
        (rows, columns), True where the edges wind about the point at least once.
    """
    levels: FloatArray = grid.y_mm + grid.step_mm * np.arange(grid.rows, dtype=np.float64)
    return _wound(edges, levels - _HAIR_MM, grid) & _wound(edges, levels + _HAIR_MM, grid)


def _wound(edges: FloatArray, levels: FloatArray, grid: Grid) -> BoolArray:
    """Where edges wind about grid points whose rows are at ``levels`` (rows,)."""
    x0, y0, x1, y1 = edges.T
    first = np.searchsorted(levels, np.minimum(y0, y1), side="right")
    last = np.searchsorted(levels, np.maximum(y0, y1), side="right")
    count = last - first
    edge = np.repeat(np.arange(len(edges)), count)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count) + first[edge]
    slope = (x1 - x0) / np.where(y1 == y0, 1.0, y1 - y0)
    at = (x0[edge] + (levels[row] - y0[edge]) * slope[edge] - grid.x_mm) / grid.step_mm
    hair = _HAIR_MM / grid.step_mm
    entering = (y1 < y0)[edge]
    column = np.where(entering, np.floor(at + hair) + 1, np.ceil(at - hair))
    column = np.clip(column, 0, grid.columns).astype(np.intp)
    turns = np.zeros((grid.rows, grid.columns + 1), dtype=np.int32)
    np.add.at(turns, (row, column), np.where(entering, 1, -1).astype(np.int32))
    wound: BoolArray = np.cumsum(turns, axis=1)[:, :-1] >= 1
    return wound


def depths(mask: BoolArray) -> IntArray:
    """How far each True cell is from the nearest False one; beyond the edge all is False.

    Args:
        mask: (rows, columns).

    Returns:
        int32 (rows, columns), in :data:`DEPTH_UNIT` parts of a cell, rounded down; 0 where False.
    """
    if not mask.any():
        return np.zeros(mask.shape, dtype=np.int32)
    if mask.shape[0] > mask.shape[1]:
        return np.ascontiguousarray(depths(mask.T).T)
    padded = np.pad(mask, 1)
    down = _run_lengths(padded)
    up = _run_lengths(padded[::-1])[::-1]
    column = np.minimum(down, up)
    squares = column * column
    best = squares.copy()
    for shift in range(1, int(column.max()) + 1):
        extra = np.int32(shift * shift)
        np.minimum(best[:, shift:], squares[:, :-shift] + extra, out=best[:, shift:])
        np.minimum(best[:, :-shift], squares[:, shift:] + extra, out=best[:, :-shift])
    depth: IntArray = np.floor(np.sqrt(best[1:-1, 1:-1].astype(np.float64)) * DEPTH_UNIT).astype(np.int32)
    return depth


def _run_lengths(mask: BoolArray) -> IntArray:
    """How many rows down from the last False one each cell is."""
    rows = np.arange(len(mask), dtype=np.int32)[:, None]
    lengths: IntArray = rows - np.maximum.accumulate(np.where(mask, 0, rows), axis=0)
    return lengths.astype(np.int32)
