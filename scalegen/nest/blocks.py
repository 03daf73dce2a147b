"""A first layout as a person at the bench would draw it: blocks of nested rows, set side by side.

A line of blocks is built from one end of the board: the most bodies up to every place, whatever lies before
it. Rows may run along either axis. What the board lacks of its box counts as taken over the whole stretch
of a block.

Source: dynamic programming, Bellman 1957 (from memory).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely

from scalegen.nest.fill import Filled, Work
from scalegen.nest.gaps import SLICE_MM, Gap, Gaps, gaps
from scalegen.nest.layout import Rest, on_grid
from scalegen.nest.meetings import Meetings
from scalegen.nest.poses import Pose
from scalegen.nest.rows import Counts, Kind, Pile
from scalegen.nest.table import Table

_ALIKE_MM = 1.0
_MOST_KINDS = 4
_MOST_POSES = 8
_MOST_MEMBERS = 2
_UNEVEN = 6
_FEW = 6
_HAIR_MM = 1e-7

Piles: TypeAlias = tuple[tuple[float, Pile], ...]
Options: TypeAlias = tuple[tuple[Counts, Piles], ...]


class Blocks:
    """Lays blocks of rows, along x and along y.

    Args:
        work: What there is to lay; nothing is laid where that is more than one group, or more than two bodies
            in it.
        spacing_mm: What must be free between two parts.
        meetings: Offsets that put poses on one another.
        paired: Of two bodies, rows come by twos, one of each body: partners lie side by side.
    """

    def __init__(self, work: Work, spacing_mm: float, meetings: Meetings, *, paired: bool = False) -> None:
        self._paired = paired
        one = len(work.order) == 1
        members = work.members[work.order[0]] if one else ()
        self._members = members if len(members) <= _MOST_MEMBERS else ()
        self._enough = min(work.most, work.left[work.order[0]]) if one else 0
        self._spacing_mm = spacing_mm
        self._meetings = meetings
        self._kinds: dict[tuple[float | None, ...], Kind] = {}
        self._gaps: dict[int, Gaps] = {}

    def laid(self, table: Table) -> list[tuple[Rest, ...]]:
        """Fill a board.

        Args:
            table: The board, always the same; its poses may be fewer or more.

        Returns:
            Layouts, those with most whole groups in front; not all of a layout need be whole groups.
        """
        made = []
        for axis in (0, 1) if self._members and self._enough else ():
            kinds = [self._kind(poses, axis) for poses in self._alike(table, axis)]
            if kinds:
                if axis not in self._gaps:
                    self._gaps[axis] = gaps(table.place, axis)
                line = _Line(kinds, self._gaps[axis], self._spacing_mm, two=len(self._members) > 1)
                made.append(tuple(rest for block in line.run(self._enough) for rest in block.rests(axis)))
        return sorted(made, key=lambda rests: -_whole(rests, self._members))

    def spread(self, table: Table) -> list[tuple[Rest, ...]]:
        """Lay rows all over the board, spread as far as it reaches; where they come by twos, tight ones too.

        Of spread rows every other one is pushed by half a step: bodies with pointed ends nest deeper so.

        Args:
            table: The board; what it lacks of its box is left out of the rows.

        Returns:
            A layout for each axis, that with most bodies in front; seldom whole groups.
        """
        made = []
        for axis in (0, 1) if self._members and self._enough else ():
            most: tuple[Rest, ...] = ()
            for poses in self._alike(table, axis):
                for rests in self._rows(table, poses, axis):
                    most = rests if len(rests) > len(most) else most
            made.append(most)
        return sorted([rests for rests in made if rests], key=lambda rests: -len(rests))

    def _rows(self, table: Table, poses: Sequence[Pose], axis: int) -> Iterator[tuple[Rest, ...]]:
        """Rows of ever more bodies, spread over the board; what does not lie on it is left out."""
        place = table.place
        length = place.length_mm if axis == 0 else place.width_mm
        tight = self._kind(poses, axis)
        room = length - tight.long_mm
        least = math.ceil(room / (2 * tight.pitch_mm) + 0.5)  # wider apart, one more would go between
        most = math.floor(room / tight.pitch_mm) + 1
        pushes = min(tight.most_pushes, math.floor((room - (most - 1) * tight.pitch_mm) / tight.push_mm))
        # A line of blocks has rows of single bodies as tight, and keeps them off what is lacking.
        if self._paired:
            yield from self._all_over(table, tight, most, pushes, axis)
        for many in range(max(2, least), most + 1):
            for gaps_between in (many - 0.5, many - 1):
                if room >= gaps_between * tight.pitch_mm:
                    kind = self._kind(poses, axis, room / gaps_between)
                    yield from self._all_over(table, kind, many, 1, axis)

    @staticmethod
    def _all_over(table: Table, kind: Kind, many: int, pushes: int, axis: int) -> Iterator[tuple[Rest, ...]]:
        """One pile over the whole board without what is not on it; nothing where there is none."""
        width = table.place.width_mm if axis == 0 else table.place.length_mm
        piles = kind.piles(pushes, single=many == 1, high_mm=width).values()
        if piles:
            block = _Block(kind=kind, many=many, begin_mm=0.0, piles=((0.0, max(piles, key=_most_even)),))
            yield on_board(table, list(block.rests(axis)))

    def _alike(self, table: Table, axis: int) -> list[list[Pose]]:
        """Poses equally long along the rows; those with the first forms, then the shortest."""
        ways = [table.poses[body][number] for body in self._members for number in table.usable[body]]
        ways.sort(key=lambda pose: pose.size_mm[axis])
        alike: list[list[Pose]] = []
        for pose in ways:
            if not alike or pose.size_mm[axis] > alike[-1][0].size_mm[axis] + _ALIKE_MM:
                alike.append([])
            alike[-1].append(pose)
        full = [poses for poses in alike if len({pose.body for pose in poses}) == len(self._members)]
        full.sort(key=lambda poses: min(pose.form for pose in poses))
        chosen = [sorted(poses, key=lambda pose: (pose.form, pose.body)) for poses in full[:_MOST_KINDS]]
        return [poses[:_MOST_POSES] for poses in chosen]

    def _kind(self, poses: Sequence[Pose], axis: int, pitch_mm: float | None = None) -> Kind:
        """A kind of some poses, worked once."""
        key = (axis, pitch_mm, *(pose.kind for pose in poses))
        if key not in self._kinds:
            self._kinds[key] = Kind(poses, self._members, axis, self._meetings, pitch_mm, paired=self._paired)
        return self._kinds[key]


def whole(table: Table, work: Work, rests: Sequence[Rest]) -> Filled:
    """Take what is more than whole groups off a layout of one group.

    Args:
        table: The board.
        work: What there is to lay.
        rests: The layout.

    Returns:
        Whole groups, no more than are wanted.
    """
    name = work.order[0]
    members = work.members[name]
    count = min(_whole(rests, members), work.left[name], work.most)
    kept = [rest for body in members for rest in [r for r in rests if r.pose.body == body][:count]]
    pieces = tuple(on_grid(table, rest) for rest in kept)
    return Filled(counts={name: count}, rests=tuple(kept), pieces=pieces, moves=0)


def _most_even(pile: Pile) -> tuple[int, int]:
    """How many rows, and how near one another their counts are."""
    return sum(pile.counts), -abs(pile.counts[0] - pile.counts[1])


def on_board(table: Table, rests: Sequence[Rest]) -> tuple[Rest, ...]:
    """Those bodies that lie on the board.

    Args:
        table: The board.
        rests: Bodies at rest.

    Returns:
        The same without those that reach beyond it.
    """
    place = table.place
    region = place.board.region.buffer(_HAIR_MM, join_style="mitre")
    shapely.prepare(region)
    corner = np.array([place.x_mm, place.y_mm])
    return tuple(
        rest
        for rest in rests
        if all(
            region.covers(shapely.Polygon(points + corner + (rest.x_mm, rest.y_mm)))
            for points in rest.pose.exact_mm
        )
    )


def _whole(rests: Sequence[Rest], members: Sequence[int]) -> int:
    """How many whole groups there are."""
    return min(sum(rest.pose.body == body for rest in rests) for body in members)


@dataclass(frozen=True, kw_only=True)
class _Block:
    """Piles in the gaps of one stretch of the board, every row of so many bodies."""

    kind: Kind
    many: int
    begin_mm: float
    piles: Piles

    def rests(self, axis: int) -> Iterator[Rest]:
        """The bodies."""
        for low_mm, pile in self.piles:
            for row in pile.rows:
                for k in range(self.many):
                    along = self.begin_mm + row.push * self.kind.push_mm + k * self.kind.pitch_mm
                    across = low_mm + row.up_mm
                    x, y = (along, across) if axis == 0 else (across, along)
                    yield Rest(pose=self.kind.poses[row.pose], x_mm=x, y_mm=y)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Reach:
    """The most bodies up to some place, and how: the block that ends there and what lies before it."""

    total: int
    before: "_Reach | None" = None
    block: _Block | None = None

    def blocks(self) -> list[_Block]:
        """All blocks, from the begin of the board."""
        out: list[_Block] = []
        here: _Reach | None = self
        while here is not None:
            out += [] if here.block is None else [here.block]
            here = here.before
        return out[::-1]


class _Line:
    """A board being filled with blocks from one end."""

    def __init__(self, kinds: Sequence[Kind], free: Gaps, spacing_mm: float, *, two: bool) -> None:
        self._kinds = kinds
        self._free = free
        self._spacing_mm = spacing_mm
        self._two = two
        self._known: dict[tuple[int, int, int, tuple[Gap, ...]], Options] = {}
        last = free.slices + math.ceil(spacing_mm / SLICE_MM) + 1
        # By slice, and by how many more there are of the first body than of the second.
        self._reached: list[dict[int, _Reach]] = [{} for _ in range(last + 1)]

    def run(self, enough: int) -> list[_Block]:
        """The blocks that hold most groups; the shortest line where enough are on it sooner."""
        best = _Reach(total=0)
        score = (0, 0)
        self._reached[0][0] = best
        for at, here in enumerate(self._reached):
            came = self._reached[at - 1] if at else {}
            new = {u: r for u, r in here.items() if u not in came or r.total > came[u].total}
            self._reached[at] = {**came, **new}
            for uneven, reach in new.items():
                groups = (reach.total - abs(uneven)) // 2 if self._two else reach.total
                if (groups, reach.total) > score:
                    best, score = reach, (groups, reach.total)
            if score[0] >= enough:
                break
            if (new or at in self._free.edges) and at < self._free.slices:
                for number in range(len(self._kinds)):
                    self._build(at, number)
        return best.blocks()

    def _build(self, at: int, number: int) -> None:
        """Set every block of one kind that may begin at one place."""
        kind, room = self._kinds[number], self._free.length_mm - at * SLICE_MM + _HAIR_MM
        most = math.floor((room - kind.long_mm) / kind.pitch_mm) + 1 if room >= kind.long_mm else 0
        for many in [*range(1, min(most, _FEW) + 1), *range(max(_FEW, most - 1) + 1, most + 1)]:
            before: tuple[Counts, ...] = ()
            for pushes in range(kind.most_pushes + 1):
                length = kind.length_mm(many, pushes)
                if length > room:
                    break
                free = self._free.between(at, at + math.ceil(length / SLICE_MM - _HAIR_MM))
                options = self._options(number, many, pushes, free)
                gain = tuple(counts for counts, _ in options)
                if gain != before:
                    begin = at * SLICE_MM
                    goal = math.ceil((begin + length + self._spacing_mm) / SLICE_MM - _HAIR_MM)
                    for counts, piles in options:
                        self._reach(
                            at, goal, counts, _Block(kind=kind, many=many, begin_mm=begin, piles=piles)
                        )
                before = gain

    def _reach(self, at: int, goal: int, counts: Counts, block: _Block) -> None:
        """Let one block follow on all that ends before it."""
        there = self._reached[goal]
        for uneven, old in self._reached[at].items():
            new = uneven + counts[0] - counts[1] if self._two else 0
            total = old.total + sum(counts)
            if (not self._two or abs(new) <= _UNEVEN) and (new not in there or total > there[new].total):
                there[new] = _Reach(total=total, before=old, block=block)

    def _options(self, number: int, many: int, pushes: int, free: tuple[Gap, ...]) -> Options:
        """Piles in all gaps of a stretch: the most bodies for every unevenness."""
        key = (number, many, pushes, free)
        if key not in self._known:
            piles = self._kinds[number].piles(pushes, single=many == 1, high_mm=self._free.width_mm)
            best: dict[int, tuple[Counts, Piles]] = {0: ((0, 0), ())}
            for low, high in free:
                fit = [pile for pile in piles.values() if pile.high_mm <= high - low + _HAIR_MM]
                more = dict(best)
                for (first, second), before in best.values():
                    for pile in fit:
                        counts = (first + many * pile.counts[0], second + many * pile.counts[1])
                        uneven = counts[0] - counts[1] if self._two else 0
                        if uneven not in more or sum(counts) > sum(more[uneven][0]):
                            more[uneven] = counts, (*before, (low, pile))
                best = more
            self._known[key] = tuple(option for option in best.values() if option[1])
        return self._known[key]
