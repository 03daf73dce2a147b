"""Free places for labels on a page: what is drawn already is kept on a coarse grid."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
import numpy.typing as npt

from scalegen.outline.ring import FloatArray
from scalegen.report.picture_shapes import Spot

_CELL_MM = 0.4
_REACHES_MM = (1.5, 4.0, 8.0, 13.0, 20.0)
_LOOKED_AT = 24


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """A window of a page with a note of what is taken.

    Attributes:
        left_mm: Its upper left corner on the page.
        top_mm: Its upper left corner on the page.
        taken: bool (rows, columns), one cell for each 0.4 x 0.4 mm; filled in as things are placed.
    """

    left_mm: float
    top_mm: float
    taken: npt.NDArray[np.bool_]

    @classmethod
    def empty(cls, window_mm: tuple[float, float, float, float]) -> Self:
        """A window with nothing in it; left, top, right and bottom."""
        left, top, right, bottom = window_mm
        shape = math.ceil((bottom - top) / _CELL_MM), math.ceil((right - left) / _CELL_MM)
        return cls(left_mm=left, top_mm=top, taken=np.zeros(shape, dtype=np.bool_))

    def take(self, points: FloatArray) -> None:
        """Take the cells of points (n, 2) on the page; those outside are passed over."""
        cells = np.floor((points - [self.left_mm, self.top_mm]) / _CELL_MM)
        rows, columns = self.taken.shape
        inside = ((cells >= 0) & (cells < [columns, rows])).all(axis=1)
        column, row = cells[inside].astype(np.intp).T
        self.taken[row, column] = True

    def take_box(self, box: tuple[float, float, float, float]) -> None:
        """Take all cells of a box: left, top, right and bottom on the page."""
        self.taken[self._cells(box)] = True

    def is_free(self, box: tuple[float, float, float, float]) -> bool:
        """Whether a box lies in the window and nothing is in it."""
        rows, columns = self.taken.shape
        right, bottom = self.left_mm + columns * _CELL_MM, self.top_mm + rows * _CELL_MM
        if box[0] < self.left_mm or box[1] < self.top_mm or box[2] > right or box[3] > bottom:
            return False
        return not self.taken[self._cells(box)].any()

    def _cells(self, box: tuple[float, float, float, float]) -> tuple[slice, slice]:
        x0, x1 = ((box[k] - self.left_mm) / _CELL_MM for k in (0, 2))
        y0, y1 = ((box[k] - self.top_mm) / _CELL_MM for k in (1, 3))
        return (
            slice(max(0, math.floor(y0)), max(0, math.ceil(y1))),
            slice(max(0, math.floor(x0)), max(0, math.ceil(x1))),
        )


def steps_between(points: FloatArray) -> FloatArray:
    """Points (m, 2) so close along a chain of points (n, 2) that no cell between them is passed over."""
    step = np.diff(points, axis=0)
    counts = np.maximum(1, np.ceil(np.hypot(*step.T) / (_CELL_MM / 2))).astype(np.intp)
    index = np.repeat(np.arange(len(step)), counts)
    number = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    between = points[index] + step[index] * (number / counts[index])[:, None]
    filled: FloatArray = np.vstack([between, points[-1:]])
    return filled


def place_beside(ground: Ground, points: FloatArray, radius_mm: float) -> tuple[Spot, Spot] | None:
    """Room for a disc beside a closed chain, and the point of the chain that it belongs to.

    Near places go before far ones, places outside before those inside, and the upper ones first.

    Args:
        ground: What is taken; what is found is taken too.
        points: float64 (n, 2) on the page, last point not repeated, n >= 2.
        radius_mm: Of the disc.

    Returns:
        The point of the chain and the centre, or None when there is no room.
    """
    feet = _feet(points)
    for reach in _REACHES_MM:
        for foot, outward in feet:
            for way in (outward, (-outward[0], -outward[1])):
                away = radius_mm + reach
                center = foot[0] + way[0] * away, foot[1] + way[1] * away
                if _has_room(ground, foot, center, radius_mm):
                    ground.take_box(_around(center, radius_mm))
                    ground.take(steps_between(np.array([foot, center])))
                    return foot, center
    return None


def _feet(points: FloatArray) -> Sequence[tuple[Spot, Spot]]:
    """Points spread evenly along a closed chain, with the way outward, the upper ones first."""
    loop = np.vstack([points, points[:1]])
    lengths = np.hypot(*np.diff(loop, axis=0).T)
    travelled = np.concatenate([[0.0], np.cumsum(lengths)])
    if travelled[-1] <= 0:
        return [((float(points[0, 0]), float(points[0, 1])), (0.0, -1.0))]
    wanted = (np.arange(_LOOKED_AT) + 0.5) / _LOOKED_AT * travelled[-1]
    feet = np.column_stack([np.interp(wanted, travelled, loop[:, k]) for k in (0, 1)])
    near = np.minimum(np.searchsorted(travelled, wanted, side="right") - 1, len(lengths) - 1)
    along = np.diff(loop, axis=0)[near]
    along = along / np.maximum(np.hypot(*along.T), 1e-12)[:, None]
    turned = np.sign(_twice_area(points)) or 1.0
    outward = np.column_stack([along[:, 1], -along[:, 0]]) * turned
    order = sorted(range(_LOOKED_AT), key=lambda k: (round(float(feet[k, 1] + 0.2 * feet[k, 0]), 3), k))
    return [
        ((float(feet[k, 0]), float(feet[k, 1])), (float(outward[k, 0]), float(outward[k, 1]))) for k in order
    ]


def _twice_area(points: FloatArray) -> float:
    after = np.roll(points, -1, axis=0)
    return float(np.sum(points[:, 0] * after[:, 1] - after[:, 0] * points[:, 1]))


def _has_room(ground: Ground, foot: Spot, center: Spot, radius_mm: float) -> bool:
    """Whether a disc and the line to it cross nothing."""
    if not ground.is_free(_around(center, radius_mm + _CELL_MM)):
        return False
    return all(ground.is_free((x, y, x + 1e-6, y + 1e-6)) for x, y in _leader(foot, center))


def _leader(foot: Spot, center: Spot) -> Iterator[Spot]:
    """Places on the line from a chain to a disc, without the first millimetre, where the chain itself is."""
    reach = math.dist(foot, center)
    for number in range(3, math.floor(reach / _CELL_MM)):
        share = number * _CELL_MM / reach
        yield foot[0] + share * (center[0] - foot[0]), foot[1] + share * (center[1] - foot[1])


def _around(center: Spot, radius_mm: float) -> tuple[float, float, float, float]:
    x, y = center
    return x - radius_mm, y - radius_mm, x + radius_mm, y + radius_mm
