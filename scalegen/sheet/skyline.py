"""The tighter way to fill a blank: scales are let down onto what already lies there, by their true shape.

Each shape is grown by half the spacing and cut into narrow columns; of every column only its lowest and
highest point are kept. What lies on the blank is one height per column, the skyline. Two grown shapes
that do not overlap in any column are at least the spacing apart, so a shape may come down until it
touches the skyline. A pair comes down as its two scales one after the other, the second beside or on the
first; the most promising few blanks are carried on from pair to pair (a beam search: a fixed number of
them, no chance and no clock, so the same job always gives the same blank).

Frame: that of the usable area, moved down and to the left by half the spacing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.outline.ring import FloatArray
from scalegen.sheet.grid import Field, Shape, Spot

_COLUMN_MM = 0.5
_QUADRANT_STEPS = 16
_FLAT_MM = 0.005
_WIDEST_BEAM = 10
_WORK = 150
_PLACES = 3
_CLOSE_MM = 1.0
_SLACK_MM = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class _Part:
    """A shape in one of its two turns, by columns.

    Attributes:
        shape: What it is.
        turned: Half a turn or none.
        left_mm: Left end of its grown box, in its own frame.
        low_mm: (k,) lowest point of each column.
        high_mm: (k,) highest point.
        outline: Grown outline, a shapely polygon in its own frame.
    """

    shape: Shape
    turned: bool
    left_mm: float
    low_mm: FloatArray
    high_mm: FloatArray
    outline: shapely.Polygon


@dataclass(frozen=True, kw_only=True, eq=False)
class _Heap:
    """A blank being filled: its skyline (n,), what lies there, and the area under the skyline in columns."""

    skyline_mm: FloatArray
    spots: tuple[Spot, ...]
    covered: float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Trial:
    """A heap that has just got one more pair: those two parts and where they lie."""

    heap: _Heap
    parts: tuple[_Part, _Part]
    spots: tuple[Spot, Spot]

    def gap_mm(self) -> float:
        """Distance between the grown outlines of the two."""
        ends = [
            shapely.transform(
                part.outline, lambda points, spot=spot: points + np.array([spot.x_mm, spot.y_mm])
            )
            for part, spot in zip(self.parts, self.spots, strict=True)
        ]
        return float(shapely.distance(*ends))


def skyline_spots(left: Shape, right: Shape, field: Field, *, most: int) -> tuple[tuple[Spot, ...], ...]:
    """Fill the field pair by pair.

    Args:
        left: Left scale.
        right: Right scale.
        field: Where to put them.
        most: Stop after so many pairs.

    Returns:
        One entry for each number of pairs from 1 up to what was found to fit: the spots of that many
        pairs, left and right in turn. Entries need not build on each other.
    """
    columns = max(1, round((field.length_mm + field.spacing_mm) / _COLUMN_MM))
    step = (field.length_mm + field.spacing_mm) / columns
    parts = [
        _part(shape, field.spacing_mm, step, turned=turned)
        for shape in (left, right)
        for turned in (False, True)
    ]
    heaps = [_Heap(skyline_mm=_pad_skyline(field, columns, step), spots=(), covered=0.0)]
    beam = _beam_width(left, right, field, most)
    found: list[tuple[Spot, ...]] = []
    while heaps and len(found) < most:
        trials = sorted(
            (trial for heap in heaps for trial in _trials(heap, parts, field, step)),
            key=lambda trial: trial.heap.covered,
        )
        heaps = _best_heaps(trials, field, beam)
        found += [heap.spots for heap in heaps[:1]]
    return tuple(found)


def _beam_width(left: Shape, right: Shape, field: Field, most: int) -> int:
    """How many blanks to carry on: fewer where many pairs make each step dear."""
    pair_mm2 = left.length_mm * left.width_mm + right.length_mm * right.width_mm
    pairs = min(most, field.length_mm * field.width_mm / pair_mm2)
    return int(min(_WIDEST_BEAM, max(2.0, _WORK / max(pairs, 1.0))))


def _best_heaps(trials: Sequence["_Trial"], field: Field, beam: int) -> list[_Heap]:
    """The first few different blanks whose last pair stands close together."""
    seen: set[bytes] = set()
    heaps: list[_Heap] = []
    for trial in trials:
        key = np.round(trial.heap.skyline_mm, 3).tobytes()
        if key in seen or trial.gap_mm() > max(field.spacing_mm, _CLOSE_MM):
            continue
        seen.add(key)
        heaps.append(trial.heap)
        if len(heaps) == beam:
            break
    return heaps


def _part(shape: Shape, spacing_mm: float, step_mm: float, *, turned: bool) -> _Part:
    """Turn and grow a shape and cut it into columns."""
    sign = -1.0 if turned else 1.0
    half = spacing_mm / 2
    x0, y0, x1, y1 = shape.bounds_mm if not turned else tuple(-shape.bounds_mm[i] for i in (2, 3, 0, 1))
    # Chords lie inside their arcs, both of the outline and of the rounded growth: make up for both.
    reach = (half + _FLAT_MM) / np.cos(np.pi / (4 * _QUADRANT_STEPS))
    outline = shapely.Polygon(sign * shape.points_mm).buffer(reach, quad_segs=_QUADRANT_STEPS)
    columns = int(np.ceil((x1 - x0 + spacing_mm) / step_mm - _SLACK_MM))
    low, high = column_ends(np.asarray(outline.exterior.coords)[:, :2], x0 - half, step_mm, columns)
    return _Part(
        shape=shape,
        turned=turned,
        left_mm=x0 - half,
        low_mm=np.maximum(low, y0 - half),
        high_mm=np.minimum(high, y1 + half),
        outline=outline,
    )


def column_ends(
    points_mm: FloatArray, left_mm: float, step_mm: float, columns: int
) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest point of a polygon's outline in each of a row of columns.

    Args:
        points_mm: float64 (m, 2) closed chain of points, the first repeated at the end.
        left_mm: Left border of the first column.
        step_mm: Width of a column.
        columns: How many, k.

    Returns:
        Two float64 (k,), inf and -inf where a column is empty. A point on a border counts for both sides.
    """
    a, b = points_mm[:-1], points_mm[1:]
    borders = left_mm + step_mm * np.arange(columns + 1)
    run = np.where(b[:, 0] == a[:, 0], 1.0, b[:, 0] - a[:, 0])
    share = (borders[None, :] - a[:, :1]) / run[:, None]
    edge, border = np.nonzero((share >= 0) & (share <= 1) & (b[:, :1] != a[:, :1]))
    cut_y = a[edge, 1] + share[edge, border] * (b[edge, 1] - a[edge, 1])
    inside = np.floor((a[:, 0] - left_mm) / step_mm).astype(int)
    places = np.concatenate([inside, border, border - 1])
    heights = np.concatenate([a[:, 1], cut_y, cut_y])
    kept = (places >= 0) & (places < columns)
    low, high = np.full(columns, np.inf), np.full(columns, -np.inf)
    np.minimum.at(low, places[kept], heights[kept])
    np.maximum.at(high, places[kept], heights[kept])
    return low, high


def _pad_skyline(field: Field, columns: int, step_mm: float) -> FloatArray:
    """Skyline of a blank with nothing on it but the pad, (columns,)."""
    half = field.spacing_mm / 2
    reach = field.pad_gap_mm - half
    lefts = step_mm * np.arange(columns) - half
    if field.pad_right:
        lefts = field.length_mm - (lefts + step_mm)
    beyond = np.maximum(lefts - field.pad_length_mm, 0.0)
    rounding = np.sqrt(np.maximum(reach**2 - beyond**2, 0.0))
    heights: FloatArray = np.where(beyond < reach + _SLACK_MM, field.pad_width_mm + rounding + half, 0.0)
    return heights


def _trials(heap: _Heap, parts: Sequence[_Part], field: Field, step_mm: float) -> Iterator[_Trial]:
    """The heap with one more pair, in every way worth looking at."""
    for first in parts:
        for one in _with_part(heap, first, field, step_mm):
            for second in parts:
                if second.shape.side == first.shape.side:
                    continue
                for two in _with_part(one, second, field, step_mm):
                    pair = two.spots[-2:] if first.shape.side == "left" else two.spots[:-3:-1]
                    spots = heap.spots + pair
                    yield _Trial(
                        heap=_Heap(skyline_mm=two.skyline_mm, spots=spots, covered=two.covered),
                        parts=(first, second),
                        spots=(two.spots[-2], two.spots[-1]),
                    )


def _with_part(heap: _Heap, part: _Part, field: Field, step_mm: float) -> Iterator[_Heap]:
    """The heap with one more part, let down at the few places that waste least."""
    columns = len(part.low_mm)
    if columns > len(heap.skyline_mm):
        return
    windows = np.lib.stride_tricks.sliding_window_view(heap.skyline_mm, columns)
    shifts = (windows - part.low_mm).max(axis=1)
    top = field.width_mm + field.spacing_mm
    fits = shifts + part.high_mm.max() <= top + _SLACK_MM
    added = columns * shifts + part.high_mm.sum() - windows.sum(axis=1)
    added = np.where(fits, np.round(added, 6), np.inf)
    for start in _best_places(added):
        skyline = heap.skyline_mm.copy()
        skyline[start : start + columns] = shifts[start] + part.high_mm
        spot = Spot(
            side=part.shape.side,
            x_mm=float(start * step_mm - part.left_mm - field.spacing_mm / 2),
            y_mm=float(shifts[start] - field.spacing_mm / 2),
            turned=part.turned,
        )
        yield _Heap(skyline_mm=skyline, spots=(*heap.spots, spot), covered=heap.covered + float(added[start]))


def _best_places(added: FloatArray) -> list[int]:
    """Starts of the lowest valleys of a row of numbers, the leftmost of equals first."""
    before = np.concatenate([[np.inf], added[:-1]])
    after = np.concatenate([added[1:], [np.inf]])
    valleys = np.flatnonzero(
        np.isfinite(added) & (added <= after) & (added <= before) & ((added < before) | (added < after))
    )
    if np.isfinite(added[0]) and added[0] not in added[valleys]:
        valleys = np.concatenate([[0], valleys])
    return [int(i) for i in valleys[np.argsort(added[valleys], kind="stable")][:_PLACES]]
