"""How deep a cutter gets: where its tip may go over a surface it must spare, and what it leaves there.

A tip over a place may go down until the envelope touches the surface anywhere below the cutter: the surface
is dilated by the cutter's shape. What it leaves is the lowest envelope over each place of all tips near it:
the tips are eroded by the same shape. Both work on blocks of cells laid out in one row of memory, so that
moving them is a matter of where to start reading. Blocks without work are left out, and so is every tap of
the cutter that cannot matter in a block, by how steep and how high the surface is there: the result is the
same. At work it takes four times the memory of a field, 74 MB for 305 x 152 mm in cells of 0.1 mm.

Source of the definitions: grey-scale morphology as in any handbook of image processing.
"""

from collections.abc import Iterator

import numpy as np

from scalegen.machining.cutter_shape import CutterShape
from scalegen.machining.field import BoolGrid, FloatGrid, HeightField, Window, disc_mask
from scalegen.outline.ring import FloatArray

_FAR = np.float32(1e6)
_BLOCK_ROWS, _BLOCK_COLS = 64, 384


def tips_mm(surface_mm: FloatGrid, shape: CutterShape, cell_mm: float, where: BoolGrid) -> FloatGrid:
    """Lowest heights of the cutter's tip that spare a surface.

    Args:
        surface_mm: float32 (rows, cols) that must not be cut below; beyond the grid there is nothing.
        shape: The cutter.
        cell_mm: Side of a cell.
        where: (rows, cols) cells the axis may stand over.

    Returns:
        float32 (rows, cols); infinite where the axis may not stand.
    """
    taps = _taps(shape, cell_mm)
    r = len(taps) - 1
    padded = np.pad(surface_mm, r, mode="edge")
    tips = np.full(surface_mm.shape, np.inf, dtype=np.float32)
    for rows, cols in _blocks(surface_mm.shape):
        stand = where[rows, cols]
        if not stand.any():
            continue
        # Beyond the edge its own height goes on: farther away than the edge itself, it never counts.
        block = np.ascontiguousarray(padded[rows.start : rows.stop + 2 * r, cols.start : cols.stop + 2 * r])
        tips[rows, cols] = np.where(stand, _highest(block, taps), np.float32(np.inf))
    return tips


def swept_mm(tips: FloatGrid, shape: CutterShape, cell_mm: float) -> FloatGrid:
    """Heights the cutter leaves when its tip goes to all the places it may.

    Args:
        tips: float32 (rows, cols) from :func:`tips_mm`, infinite where the axis does not stand.
        shape: The cutter.
        cell_mm: Side of a cell.

    Returns:
        float32 (rows, cols); infinite where the cutter never comes.
    """
    taps = _taps(shape, cell_mm)
    r = len(taps) - 1
    # Eroding is dilating upside down.
    padded = np.pad(-np.minimum(tips, _FAR), r, mode="edge")
    swept = np.full(tips.shape, np.inf, dtype=np.float32)
    for rows, cols in _blocks(tips.shape):
        part = padded[rows.start : rows.stop + 2 * r, cols.start : cols.stop + 2 * r]
        if part.max() <= -_FAR:
            continue
        lowest = -_highest(np.ascontiguousarray(part), taps)
        swept[rows, cols] = np.where(lowest < _FAR / 2, lowest, np.float32(np.inf))
    return swept


def plunged_mm(
    field: HeightField, shape: CutterShape, at_mm: tuple[float, float], tip_mm: float
) -> tuple[Window, FloatGrid]:
    """Heights that one straight plunge leaves, in a window about it; infinite outside the cutter."""
    window, _ = disc_mask(field, at_mm, shape.radius_mm)
    dx, dy = field.xs_mm[window[1]] - at_mm[0], field.ys_mm[window[0]] - at_mm[1]
    left = tip_mm + shape.rise_mm(np.hypot(dx[None], dy[:, None]))
    return window, left.astype(np.float32)


def _taps(shape: CutterShape, cell_mm: float) -> FloatArray:
    """A quarter of the cutter, (r + 1, r + 1) by columns and rows from the axis; infinite outside it."""
    r = int(np.floor(shape.radius_mm / cell_mm + 1e-9))
    k = np.arange(r + 1) * cell_mm
    return shape.rise_mm(np.hypot(k[:, None], k[None]))


def _blocks(size: tuple[int, ...]) -> Iterator[tuple[slice, slice]]:
    for row in range(0, size[0], _BLOCK_ROWS):
        for col in range(0, size[1], _BLOCK_COLS):
            yield slice(row, min(row + _BLOCK_ROWS, size[0])), slice(col, min(col + _BLOCK_COLS, size[1]))


def _highest(block: FloatGrid, taps: FloatArray) -> FloatGrid:
    """Dilate the middle of a block whose rim is as wide as the cutter.

    Args:
        block: float32 (rows + 2 r, cols + 2 r), one piece of memory.
        taps: (r + 1, r + 1) of the cutter's quarter.

    Returns:
        float32 (rows, cols).
    """
    r = len(taps) - 1
    inner = block[r : len(block) - r, r : block.shape[1] - r]
    spread = float(block.max()) - float(inner.min())
    if spread <= 0 or r == 0:
        return inner
    keep = np.isfinite(taps)
    if taps[keep].max() == 0:
        flat = _flat_highest(block, keep)
    else:
        flat = _shaped_highest(block, taps, keep & _counts(block, taps, spread))
    wide = np.empty(inner.shape[0] * block.shape[1], dtype=np.float32)
    wide[: len(flat)] = flat
    return wide.reshape(inner.shape[0], block.shape[1])[:, : inner.shape[1]]


def _counts(block: FloatGrid, taps: FloatArray, spread: float) -> BoolGrid:
    """Which taps can lift the tip at all in a block: a tap higher than the surface can rise to it cannot."""
    k = np.arange(len(taps))
    along = float(np.abs(np.diff(block, axis=1)).max())
    across = float(np.abs(np.diff(block, axis=0)).max())
    rise = np.minimum(spread, along * k[:, None] + across * k[None])
    counts: BoolGrid = taps < rise * (1 + 1e-6) + 1e-6
    return counts


def _flat_highest(block: FloatGrid, keep: BoolGrid) -> FloatGrid:
    """Highest of a disc: spans of a row grow column by column; each row of the disc takes its own."""
    r, width = len(keep) - 1, block.shape[1]
    flat = block.ravel()
    n = len(flat)
    start, count = r * width, n - 2 * r * width - 2 * r
    half = keep.sum(axis=0) - 1
    span = flat[r : n - r].copy()
    out = np.full(count, -np.inf, dtype=np.float32)
    for dx in range(r + 1):
        if dx:
            np.maximum(span, flat[r + dx : n - r + dx], out=span)
            np.maximum(span, flat[r - dx : n - r - dx], out=span)
        for dy in np.flatnonzero(half == dx).tolist():
            for first in {start + dy * width, start - dy * width}:
                np.maximum(out, span[first : first + count], out=out)
    return out


def _shaped_highest(block: FloatGrid, taps: FloatArray, keep: BoolGrid) -> FloatGrid:
    """Highest of surface less envelope; four taps that mirror each other are taken at once."""
    r, width = len(taps) - 1, block.shape[1]
    flat = block.ravel()
    n = len(flat)
    start, count = r * width + r, n - 2 * r * width - 2 * r
    out = flat[start : start + count].copy()
    four = np.empty(count, dtype=np.float32)
    rise = taps.astype(np.float32)
    for dx in range(r + 1):
        rows = np.flatnonzero(keep[dx]).tolist()
        if not rows:
            continue
        pair = np.maximum(flat[2 * dx :], flat[: n - 2 * dx])
        for dy in rows:
            up, down = start - dx + dy * width, start - dx - dy * width
            np.maximum(pair[up : up + count], pair[down : down + count], out=four)
            four -= rise[dx, dy]
            np.maximum(out, four, out=out)
    return out
