"""Sides of many regions at once, and where points face them."""

from collections.abc import Sequence

import numpy as np

from scalegen.nest.convolve import BoolArray
from scalegen.nest.exact import Facing, Sides, facing
from scalegen.nest.pushes import NumberArray
from scalegen.outline.ring import FloatArray


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

    def near(self, numbers: NumberArray, points: FloatArray, reach_mm: FloatArray) -> BoolArray:
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
        near: BoolArray = (
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
        side = np.repeat(self._first[numbers] - (np.cumsum(counts) - counts), counts)
        side += np.arange(len(side))
        return facing(points, counts, self._start[side], self._step[side], self._square[side])
