"""Sides of many regions at once, and where points face them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.nest.exact import Sides
from scalegen.nest.pushes import NumberArray
from scalegen.outline.ring import FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Facing:
    """Where points face outlines.

    Attributes:
        at: float64 (k, 2), the nearest places on them.
        distance: float64 (k,).
        inside: (k,), which points are inside.
    """

    at: FloatArray
    distance: FloatArray
    inside: npt.NDArray[np.bool_]


class Walls:
    """Sides of many regions, one after the other.

    Args:
        regions: The regions, one or more.
    """

    def __init__(self, regions: Sequence[Sides]) -> None:
        self._count = np.array([len(region.square) for region in regions])
        self._first = np.cumsum(self._count) - self._count
        self._start = np.concatenate([region.start for region in regions])
        self._step = np.concatenate([region.step for region in regions])
        self._square = np.concatenate([region.square for region in regions])
        self._boxes = np.array([region.box for region in regions])

    def near(self, numbers: NumberArray, points: FloatArray, reach_mm: FloatArray) -> npt.NDArray[np.bool_]:
        """Which points are within a reach of the box of a region.

        Args:
            numbers: (k,) which region each point is held against.
            points: (k, 2).
            reach_mm: (k,).

        Returns:
            (k,).
        """
        x0, y0, x1, y1 = self._boxes[numbers].T
        x, y = points.T
        near: npt.NDArray[np.bool_] = (
            (x > x0 - reach_mm) & (x < x1 + reach_mm) & (y > y0 - reach_mm) & (y < y1 + reach_mm)
        )
        return near

    def facing(self, numbers: NumberArray, points: FloatArray) -> Facing:
        """Where points face regions; of equals the first side.

        Args:
            numbers: (k,) which region each point is held against.
            points: (k, 2).

        Returns:
            The nearest places.
        """
        if not len(points):
            return Facing(at=np.zeros((0, 2)), distance=np.zeros(0), inside=np.zeros(0, dtype=bool))
        counts = self._count[numbers]
        first = np.cumsum(counts) - counts
        side = np.repeat(self._first[numbers] - first, counts) + np.arange(int(counts.sum()))
        off_x, off_y = (np.repeat(points, counts, axis=0) - self._start[side]).T
        dx, dy = self._step[side].T
        share = np.minimum(np.maximum((off_x * dx + off_y * dy) / self._square[side], 0.0), 1.0)
        gap_x, gap_y = off_x - share * dx, off_y - share * dy
        gap = gap_x * gap_x + gap_y * gap_y
        least = np.minimum.reduceat(gap, first)
        hits = np.flatnonzero(gap == np.repeat(least, counts))
        chosen = hits[np.searchsorted(hits, first)]
        crossed = (off_y >= 0) != (off_y >= dy)
        beyond = (off_x * dy - off_y * dx < 0) == (dy > 0)
        odd = np.add.reduceat((crossed & beyond).astype(np.int64), first) & 1
        return Facing(
            at=points - np.column_stack([gap_x[chosen], gap_y[chosen]]),
            distance=np.sqrt(least),
            inside=odd == 1,
        )
