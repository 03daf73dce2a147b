"""What is free across a board over a stretch of it."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely

from scalegen.nest.fields import Ground
from scalegen.nest.lattice import snap
from scalegen.outline.ring import FloatArray

SLICE_MM = 0.5
_LITTLE_MM = 3.0
_CRUMB_MM2 = 1e-9
_HAIR_MM = 1e-6

Gap: TypeAlias = tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Gaps:
    """A board in thin slices across one axis.

    Attributes:
        length_mm: Along the axis.
        width_mm: Across it.
        taken: For everything the box of the board lacks, (slices, 2): from where to where it takes each
            slice; the first above the second where it does not.
        edges: Slices where what is taken begins, ends or has changed by a little.
    """

    length_mm: float
    width_mm: float
    taken: tuple[FloatArray, ...]
    edges: frozenset[int]

    @property
    def slices(self) -> int:
        """How many slices there are."""
        return int(np.ceil(self.length_mm / SLICE_MM - _HAIR_MM))

    def between(self, first: int, last: int) -> tuple[Gap, ...]:
        """Gaps that are free in all slices from ``first`` to before ``last``, the lowest first."""
        spans = [(float(t[first:last, 0].min()), float(t[first:last, 1].max())) for t in self.taken]
        free: list[Gap] = []
        at = 0.0
        for low, high in sorted(span for span in spans if span[0] <= span[1]):
            if low > at + _HAIR_MM:
                free.append((at, low))
            at = max(at, high)
        if at < self.width_mm - _HAIR_MM:
            free.append((at, self.width_mm))
        return tuple(free)


def gaps(place: Ground, axis: int) -> Gaps:
    """Slice a board.

    Args:
        place: The board.
        axis: 0 to go along x, 1 to go along y.

    Returns:
        Its slices, measured from the lower left corner of its box.
    """
    region = place.board.region
    sides = (place.length_mm, place.width_mm)
    count = int(np.ceil(sides[axis] / SLICE_MM - _HAIR_MM))
    lacks = shapely.get_parts(shapely.box(*region.bounds).difference(region))
    taken = []
    for part in lacks:
        if part.geom_type == "Polygon" and part.area > _CRUMB_MM2:
            ring = snap(np.asarray(part.exterior.coords)[:, :2] - (place.x_mm, place.y_mm))
            taken.append(_slices(ring, axis, count))
    taken.sort(key=lambda spans: spans.tobytes())
    edges = {0}.union(*(_edges(spans) for spans in taken))
    return Gaps(length_mm=sides[axis], width_mm=sides[1 - axis], taken=tuple(taken), edges=frozenset(edges))


def _edges(spans: FloatArray) -> set[int]:
    """Slices where what is taken differs from the last such slice by more than a little."""
    found, last = set(), spans[0]
    for number, span in enumerate(spans):
        begins = (span[0] > span[1]) != (last[0] > last[1])
        if begins or (span[0] <= span[1] and float(np.abs(span - last).max()) > _LITTLE_MM):
            found.add(number)
            last = span
    return found


def _slices(ring: FloatArray, axis: int, count: int) -> FloatArray:
    """From where to where a ring reaches across each slice: (slices, 2)."""
    one, other = ring[:-1], ring[1:]
    swap = one[:, axis] > other[:, axis]
    first, last = np.where(swap[:, None], other, one), np.where(swap[:, None], one, other)
    low = SLICE_MM * np.arange(count)[:, None]
    a0, a1 = np.maximum(first[:, axis], low), np.minimum(last[:, axis], low + SLICE_MM)
    run = np.where(last[:, axis] > first[:, axis], last[:, axis] - first[:, axis], 1.0)
    slope = (last[:, 1 - axis] - first[:, 1 - axis]) / run
    ends = [first[:, 1 - axis] + (a - first[:, axis]) * slope for a in (a0, a1)]
    met = a0 < a1
    lows = np.where(met, np.minimum(*ends), np.inf).min(axis=1)
    highs = np.where(met, np.maximum(*ends), -np.inf).max(axis=1)
    spans: FloatArray = np.column_stack([lows, highs])
    return spans
