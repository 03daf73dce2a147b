"""The plainest start of all: boxes in rows, off the grid, for sheets cut to measure."""

import math
from collections.abc import Iterator

import numpy as np
import shapely

from scalegen.nest.fill import Filled, Work, next_group
from scalegen.nest.layout import Rest, on_grid
from scalegen.nest.poses import Pose
from scalegen.nest.table import Table
from scalegen.outline.ring import FloatArray

_ALLOWED_MM = 1e-7
_STRIDE_MM, _ODD_STRIDE_MM = 0.5, 2.0
_ODD_SHARE = 0.9
_CORNERS_LOOKED_AT = 12
_HANDFUL = 24
_CORNERS = ((False, False), (True, False), (False, True), (True, True))


def shelves(table: Table, work: Work, spacing_mm: float) -> Filled:
    """Fill a board with rows of boxes, from each corner and with each pose in turn; the best of them.

    Args:
        table: The board.
        work: What there is to lay.
        spacing_mm: What must be free between two parts.

    Returns:
        Whole groups; distances along the rows are those of boxes.
    """
    best = Filled(counts={}, rests=(), pieces=(), moves=0)
    turns = max((len(usable) for usable in table.usable), default=0)
    for turn in range(turns):
        for corner in _CORNERS:
            rests, counts = _Shelf(table, work, spacing_mm, corner, turn).fill()
            if sum(counts.values()) > sum(best.counts.values()):
                best = Filled(counts=counts, rests=rests, pieces=(), moves=0)
    pieces = tuple(on_grid(table, rest) for rest in best.rests)
    return Filled(counts=best.counts, rests=best.rests, pieces=pieces, moves=0)


class _Shelf:
    """One way to fill a board with rows: from one corner, with one pose of each body."""

    def __init__(
        self, table: Table, work: Work, spacing_mm: float, corner: tuple[bool, bool], turn: int
    ) -> None:
        self._table = table
        self._work = work
        self._spacing_mm = spacing_mm
        self._from_right, self._from_top = corner
        self._turn = turn
        self._region = table.place.board.region.buffer(_ALLOWED_MM, join_style="mitre")
        shapely.prepare(self._region)
        # Fine steps pay on boards cut to measure; on odd ones they only take long.
        self._stride_mm = _ODD_STRIDE_MM if _is_odd(self._region) else _STRIDE_MM

    def fill(self) -> tuple[tuple[Rest, ...], dict[str, int]]:
        """Lay whole groups until the rows are full."""
        counts = dict.fromkeys(self._work.order, 0)
        done: list[Rest] = []
        closed: set[str] = set()
        spots = _Row()
        while (group := next_group(self._work, counts, closed)) is not None:
            if sum(counts.values()) >= self._work.most:
                break
            before, laid = spots.copy(), []
            for body in self._work.members[group]:
                numbers = self._table.usable[body]
                rest = self._next(spots, self._table.poses[body][numbers[self._turn % len(numbers)]])
                if rest is None:
                    break
                laid.append(rest)
            if len(laid) < len(self._work.members[group]):
                spots = before
                closed.add(group)
                continue
            counts[group] += 1
            done += laid
        return tuple(done), counts

    def _next(self, row: "_Row", pose: Pose) -> Rest | None:
        """The next free spot for a pose, in this row or a later one."""
        length, width = pose.size_mm
        place = self._table.place
        while row.y_mm + width <= place.width_mm + _ALLOWED_MM:
            tries = self._tries(row.x_mm, place.length_mm - length)
            handfuls = (tries[k : k + _HANDFUL] for k in range(0, len(tries), _HANDFUL))
            for x in (x for few in handfuls for x in self._likely(pose, few, row.y_mm)):
                rest = self._turned_round(pose, x, row.y_mm)
                if self._lies(rest):
                    row.x_mm = x + length + self._spacing_mm
                    row.height_mm = max(row.height_mm, width)
                    return rest
            row.y_mm += row.height_mm + self._spacing_mm if row.height_mm else self._stride_mm
            row.x_mm, row.height_mm = 0.0, 0.0
        return None

    def _tries(self, start_mm: float, last_mm: float) -> FloatArray:
        """Places along a row, the nearest first."""
        count = max(0, math.floor((last_mm + _ALLOWED_MM - start_mm) / self._stride_mm) + 1)
        tries: FloatArray = start_mm + self._stride_mm * np.arange(count, dtype=np.float64)
        return tries

    def _likely(self, pose: Pose, tries_mm: FloatArray, y_mm: float) -> Iterator[float]:
        """Those of some places where a few corners of the body lie on the board; the rest is ruled out."""
        place = self._table.place
        far = place.length_mm - pose.size_mm[0]
        lefts: FloatArray = place.x_mm + (far - tries_mm if self._from_right else tries_mm)
        low = place.y_mm + (place.width_mm - pose.size_mm[1] - y_mm if self._from_top else y_mm)
        for x, y in _few_corners(pose):
            on = shapely.intersects_xy(self._region, lefts + x, np.full(len(lefts), low + y))
            tries_mm, lefts = tries_mm[on], lefts[on]
        yield from tries_mm.tolist()

    def _turned_round(self, pose: Pose, x_mm: float, y_mm: float) -> Rest:
        """A body at a distance from the corner the rows start from."""
        place = self._table.place
        return Rest(
            pose=pose,
            x_mm=place.length_mm - pose.size_mm[0] - x_mm if self._from_right else x_mm,
            y_mm=place.width_mm - pose.size_mm[1] - y_mm if self._from_top else y_mm,
        )

    def _lies(self, rest: Rest) -> bool:
        """Whether a body at rest is on the board."""
        x, y = self._table.place.x_mm + rest.x_mm, self._table.place.y_mm + rest.y_mm
        return all(
            self._region.covers(shapely.Polygon(points + np.array([x, y]))) for points in rest.pose.exact_mm
        )


def _is_odd(region: shapely.Geometry) -> bool:
    """Whether a board has holes or is far from filling its box."""
    x0, y0, x1, y1 = region.bounds
    holes = any(len(part.interiors) for part in shapely.get_parts(region))
    return holes or bool(region.area < _ODD_SHARE * (x1 - x0) * (y1 - y0))


def _few_corners(pose: Pose) -> FloatArray:
    """Corners of a body that lie far apart, (n, 2)."""
    points = np.concatenate([np.asarray(part, dtype=np.float64) for part in pose.exact_mm])
    ends = [int(k) for axis in (0, 1) for k in (points[:, axis].argmin(), points[:, axis].argmax())]
    spread = range(0, len(points), max(1, len(points) // _CORNERS_LOOKED_AT))
    return points[list(dict.fromkeys([*ends, *spread]))]


class _Row:
    """How far the rows have come."""

    def __init__(self, x_mm: float = 0.0, y_mm: float = 0.0, height_mm: float = 0.0) -> None:
        self.x_mm, self.y_mm, self.height_mm = x_mm, y_mm, height_mm

    def copy(self) -> "_Row":
        """The same once more."""
        return _Row(self.x_mm, self.y_mm, self.height_mm)
