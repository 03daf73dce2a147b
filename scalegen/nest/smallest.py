"""The smallest rectangle that takes so many groups: a long board made shorter as long as the work allows."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import TypeAlias

import shapely

from scalegen.errors import SheetError, UsageError
from scalegen.nest.blocks import Blocks, whole
from scalegen.nest.bounds import grown_area_mm2
from scalegen.nest.fields import ground
from scalegen.nest.fill import Filled, Work
from scalegen.nest.finish import finisher
from scalegen.nest.guided import separate
from scalegen.nest.hall import SCALES, Hall, Scale, grid_step_mm, hall
from scalegen.nest.layout import Rest, at_rest, keeps_distance, on_grid
from scalegen.nest.records import Board, Body, Effort, Progress, Shape, Spot, Stop, onward, silent
from scalegen.nest.settle import settle
from scalegen.nest.spots import spots
from scalegen.nest.squeeze import shorter, used_mm
from scalegen.nest.starts import Heap
from scalegen.nest.table import Piece, Table

Taken: TypeAlias = Callable[[float], shapely.Geometry]

_WAYS = ((1000, 1), (5, 1), (1000, -1))
_FIRST_CUT = 0.03
_EACH = 100
_LONGER = 2
_ROUNDS = 8
_SMALLER = 1.6
_CELLS = 20_000
_FINE = 16
_LAST_CUT = 0.0008
# Many short tries: a cut that does not go soon is made smaller.
_SCALES: Mapping[Effort, Scale] = {
    "quick": replace(SCALES["quick"], cells=_CELLS),
    "normal": replace(SCALES["normal"], cells=_CELLS),
    "thorough": replace(SCALES["thorough"], cells=_CELLS, steps=200_000, tries=12),
}


@dataclass(frozen=True, kw_only=True)
class Smallest:
    """A rectangle and what lies on it.

    Attributes:
        length_mm: Along x.
        width_mm: Along y.
        least_mm: No length below this will do; by area and by the longest body.
        spots: Where every body lies, from the rectangle's lower left corner.
        found: Groups placed: all that were asked for.
        moves: Moves spent.
    """

    length_mm: float
    width_mm: float
    least_mm: float
    spots: tuple[Spot, ...]
    found: int
    moves: int


def smallest_board(
    bodies: Sequence[Body],
    *,
    shapes: Sequence[Shape],
    spacing_mm: float,
    width_mm: float | Sequence[float],
    seed: int = 0,
    effort: Effort = "normal",
    progress: Progress = silent,
    stop: Stop = onward,
    budget: int | None = None,
    taken: Taken | None = None,
) -> Smallest:
    """Find a short board of a width, or the board of least area among several widths.

    Args:
        bodies: What is to be laid; every group says how many.
        shapes: Outlines of the parts.
        spacing_mm: What must be free between two parts.
        width_mm: Width of the rectangle inside its margin, or several to choose from.
        seed: Decides between equals.
        effort: How hard to try.
        progress: Told groups placed, groups asked for, and the length being tried.
        stop: Asked between moves; True ends the search with the best so far.
        budget: Most moves for each width; None is what the effort allows.
        taken: What is taken of a board of a width from the start, by its lower left corner and the same at
            any length; None for nothing.

    Returns:
        The best rectangle found.

    Raises:
        GeometryError: A shape is not a simple polygon.
        SheetError: A body is wider than every width.
        UsageError: The bodies do not fit together, or a group does not say how many.
    """
    widths = [width_mm] if isinstance(width_mm, int | float) else list(width_mm)
    room = hall(bodies, shapes, spacing_mm, _SCALES[effort])
    if any(body.count is None for body in bodies) or not widths:
        raise UsageError("a smallest board needs to know how many groups", remedy="give every group a count")
    best: Smallest | None = None
    for width in widths:
        away = shapely.Polygon() if taken is None else taken(float(width))
        strip = _Strip(hall=room, width_mm=float(width), progress=progress, stop=stop, taken=away)
        found = strip.run(Random(seed), budget)  # noqa: S311  # layouts, not secrets
        area = None if best is None else best.length_mm * best.width_mm
        if found is not None and (area is None or found.length_mm * found.width_mm < area):
            best = found
    if best is None:
        raise SheetError(f"no body goes on a board {max(widths):.1f} mm wide", remedy="use a wider board")
    return best


def _reach(rests: Sequence[Rest]) -> int:
    """How far a layout reaches, in parts of a mm that sums may differ by."""
    return round(used_mm(rests) * 1024)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Strip:
    """The search at one width."""

    hall: Hall
    width_mm: float
    progress: Progress
    stop: Stop
    taken: shapely.Geometry

    def run(self, random: Random, budget: int | None) -> Smallest | None:
        """Start plainly, then cut and push apart, the cuts smaller each time it fails."""
        least = self._least_mm()
        table, pieces, moves = self._plain(least)
        if table is None:
            return None
        rests = min([at_rest(table, pieces), *self._blocks(table, len(pieces))], key=_reach)
        count = len(pieces)
        turns = max(len(usable) for usable in table.usable)
        each = min(_LONGER * self.hall.scale.steps // max(1, count * turns), _EACH * count) + 4 * count
        most = each * self.hall.scale.tries * _ROUNDS if budget is None else budget
        length, cut, begin = max(least, used_mm(rests)), _FIRST_CUT, rests
        while moves < most and length > least * (1 + 1e-9) and not self.stop():
            goal = max(least, length * (1 - cut))
            self.progress(count, count, f"{goal:.1f} x {self.width_mm:.1f} mm")
            made, left, spent = self._at(goal, table.step_mm, begin, random, min(each, most - moves))
            moves += spent
            if made is None:
                # What nearly did for this cut is a good way to a smaller one; failing that, begin afresh.
                begin = left if begin is rests else rests
                cut = cut / _SMALLER if cut > _LAST_CUT else _FIRST_CUT / 3
            else:
                rests = shorter(self._table(used_mm(made), table.step_mm), made, self.hall.spacing_mm)
                length, begin = max(least, used_mm(rests)), rests
        return self._answer(rests, length, least, moves)

    def _least_mm(self) -> float:
        """No board of this width is shorter."""
        spacing = self.hall.spacing_mm
        area = sum(
            grown_area_mm2(body, self.hall.ready, spacing) * (body.count or 0) for body in self.hall.bodies
        )
        longest = max((min(pose.size_mm[0] for pose in ways) for ways in self.hall.ways), default=0.0)
        reach = 0.0 if self.taken.is_empty else float(self.taken.bounds[2])
        return max(area / (self.width_mm + spacing) - spacing, longest, reach)

    def _part_step_mm(self) -> float:
        """A power of two no more than a sixteenth of the side of a square as large as the mean part."""
        spacing = self.hall.spacing_mm
        areas = [
            grown_area_mm2(body, self.hall.ready, spacing) / len(body.parts)
            for body in self.hall.bodies
            for _ in range(body.count or 0)
        ]
        side = math.sqrt(math.fsum(areas) / max(1, len(areas)))
        return 2.0 ** math.floor(math.log2(side / _FINE)) if side > 0 else 1.0

    def _table(self, length_mm: float, step_mm: float) -> Table:
        """A board of some length."""
        return self.hall.table(ground(self._board(length_mm)), step_mm)

    def _board(self, length_mm: float) -> Board:
        """Where bodies may lie on a board of some length."""
        box = shapely.box(0.0, 0.0, length_mm, self.width_mm)
        return Board(key="board", region=box if self.taken.is_empty else box.difference(self.taken))

    def _plain(self, least_mm: float) -> tuple[Table | None, tuple[Piece, ...], int]:
        """A long board filled from its end, the largest bodies first."""
        spacing = self.hall.spacing_mm
        longest = max(max(pose.size_mm) for ways in self.hall.ways for pose in ways) + spacing
        aim = ground(self._board(least_mm))
        step = min(grid_step_mm(aim, self.hall.scale.cells), self._part_step_mm())
        todo = self._in_order()
        length = 1.6 * least_mm + 2 * longest
        for _ in range(6):
            table = self._table(length, step)
            if not all(table.usable):
                return None, (), 0
            heaps = [heap for heap in (self._heap(table, way, todo) for way in _WAYS) if heap is not None]
            if heaps:
                best = min(heaps, key=lambda heap: _reach(at_rest(table, heap.pieces)))
                return table, best.pieces, len(todo) * len(_WAYS)
            length *= 2
        return None, (), 0

    def _blocks(self, table: Table, count: int) -> list[tuple[Rest, ...]]:
        """Blocks of nested rows on a long board, where everything goes on it so."""
        counts = {name: members[0].count or 0 for name, members in self.hall.named.items()}
        work = Work(
            members=self.hall.groups, left=counts, order=tuple(counts), level=False, most=sum(counts.values())
        )
        made = Blocks(work, self.hall.spacing_mm, self.hall.meetings).laid(table)
        full = [whole(table, work, rests).rests for rests in made]
        return [
            rests
            for rests in full
            if len(rests) == count and keeps_distance(table.place, rests, self.hall.spacing_mm)
        ]

    def _in_order(self) -> list[int]:
        """Every copy of every body, the largest first."""
        area = [grown_area_mm2(body, self.hall.ready, self.hall.spacing_mm) for body in self.hall.bodies]
        order = sorted(range(len(area)), key=lambda number: (-area[number], number))
        return [number for number in order for _ in range(self.hall.bodies[number].count or 0)]

    @staticmethod
    def _heap(table: Table, way: tuple[int, int], todo: Sequence[int]) -> Heap | None:
        """A board with everything on it; None when there was no room."""
        heap = Heap(table, way)
        return heap if all(heap.put([body]) for body in todo) else None

    def _at(
        self, length_mm: float, step_mm: float, rests: Sequence[Rest], random: Random, budget: int
    ) -> tuple[tuple[Rest, ...] | None, tuple[Rest, ...], int]:
        """Try to get everything onto a board of some length: the layout, the nearest to one, moves spent."""
        table = self._table(length_mm, step_mm)
        if used_mm(rests) - length_mm < step_mm:
            eased, deepest = settle(table, rests, rounds=12)
            if deepest == 0 and keeps_distance(table.place, eased, self.hall.spacing_mm):
                return eased, eased, len(rests)
        pieces = [on_grid(table, rest) for rest in rests]
        outcome = separate(
            table, pieces, random, budget=budget, finish=finisher(table, self.hall.spacing_mm), stop=self.stop
        )
        return outcome.rests, at_rest(table, outcome.pieces), outcome.moves

    def _answer(self, rests: Sequence[Rest], length_mm: float, least_mm: float, moves: int) -> Smallest:
        """Number the copies and hand everything over."""
        board = self._board(length_mm)
        counts: Mapping[str, int] = {name: members[0].count or 0 for name, members in self.hall.named.items()}
        full = Filled(counts=counts, rests=tuple(rests), pieces=(), moves=moves)
        return Smallest(
            length_mm=length_mm,
            width_mm=self.width_mm,
            least_mm=least_mm,
            spots=spots([full], [board], self.hall.bodies, self.hall.groups),
            found=sum(counts.values()),
            moves=moves,
        )
