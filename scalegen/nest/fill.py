"""Fill one board: a plain start, then one group more, and one more, for as long as the budget lasts."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

import numpy as np

from scalegen.nest.finish import Turning, finisher, slightness
from scalegen.nest.guided import separate
from scalegen.nest.layout import Rest, at_rest, keeps_distance
from scalegen.nest.starts import WAYS, Heap
from scalegen.nest.table import Piece, Table

Counts = Mapping[str, int]


@dataclass(frozen=True, kw_only=True)
class Work:
    """What there is to lay on one board.

    Attributes:
        members: Numbers of the bodies of each group.
        left: How many of each group may still be placed.
        order: Groups, the one to try first in front.
        level: Groups are added in turn, the one with fewest on the board first.
        most: No board takes more groups than this; proven.
    """

    members: Mapping[str, tuple[int, ...]]
    left: Counts
    order: tuple[str, ...]
    level: bool
    most: int


@dataclass(frozen=True, kw_only=True)
class Purse:
    """What a search may spend: moves for every try, tries for one group more, and how to tell and ask.

    ``turning`` says how bodies that may lie at any angle are turned.
    """

    moves: int
    tries: int
    turning: Turning | None
    tell: Callable[[int, str], None]
    stop: Callable[[], bool]


@dataclass(frozen=True, kw_only=True, eq=False)
class Filled:
    """A board with what lies on it: groups by name, where every body rests, moves spent."""

    counts: Counts
    rests: tuple[Rest, ...]
    pieces: tuple[Piece, ...]
    moves: int


def fill(
    table: Table, work: Work, spacing_mm: float, purse: Purse, random: Random, *, given: Sequence[Filled] = ()
) -> Filled:
    """Lay as many whole groups on one board as can be found.

    Args:
        table: The board.
        work: What there is to lay.
        spacing_mm: What must be free between two parts.
        purse: What may be spent.
        random: Decides between equals.
        given: Layouts from elsewhere to begin with where they hold more.

    Returns:
        The best layout, its distances measured.
    """
    best = plain(table, work, spacing_mm)
    for layout in given:
        if len(layout.rests) > len(best.rests) and keeps_distance(table.place, layout.rests, spacing_mm):
            best = replace(layout, moves=best.moves)
    closed: set[str] = set()
    while sum(best.counts.values()) < work.most and not purse.stop():
        group = next_group(work, best.counts, closed)
        if group is None:
            break
        found = sum(best.counts.values())
        purse.tell(found, f"{found + 1} on {table.place.board.key}")
        more = _one_more(table, work, best, group, spacing_mm=spacing_mm, purse=purse, random=random)
        if len(more.rests) > len(best.rests):
            best = more
        else:
            best = replace(best, moves=more.moves)
            closed.add(group)
    return best


def plain(table: Table, work: Work, spacing_mm: float) -> Filled:
    """The best of the plain ways to fill a board from a side."""
    best = Filled(counts={}, rests=(), pieces=(), moves=0)
    moves = 0
    for way in WAYS:
        heap, counts = Heap(table, way), dict.fromkeys(work.order, 0)
        closed: set[str] = set()
        while (group := next_group(work, counts, closed)) is not None and sum(counts.values()) < work.most:
            moves += len(work.members[group])
            if heap.put(work.members[group]):
                counts[group] += 1
            else:
                closed.add(group)
        rests = at_rest(table, heap.pieces)
        if sum(counts.values()) > sum(best.counts.values()) and keeps_distance(
            table.place, rests, spacing_mm
        ):
            best = Filled(counts=counts, rests=rests, pieces=heap.pieces, moves=0)
    return replace(best, moves=moves)


def next_group(work: Work, counts: Counts, closed: set[str]) -> str | None:
    """Which group to add to.

    Args:
        work: What there is to lay.
        counts: Groups placed so far.
        closed: Groups that found no room.

    Returns:
        The group; None when nothing is left to add.
    """
    open_ = [
        name for name in work.order if name not in closed and counts.get(name, 0) < work.left.get(name, 0)
    ]
    if not open_:
        return None
    return min(open_, key=lambda name: counts.get(name, 0)) if work.level else open_[0]


def _one_more(
    table: Table, work: Work, best: Filled, group: str, *, spacing_mm: float, purse: Purse, random: Random
) -> Filled:
    """Try to bring one more of a group onto a board; the old layout when that fails."""
    spent = best.moves
    finish = finisher(table, spacing_mm, purse.turning)
    for attempt in range(purse.tries):
        if purse.stop():
            break
        pieces = (
            list(best.pieces) if attempt == 0 else [_anywhere(table, p.body, random) for p in best.pieces]
        )
        pieces += [_anywhere(table, body, random) for body in work.members[group]]
        outcome = separate(
            table,
            pieces,
            random,
            budget=purse.moves,
            finish=finish,
            stop=purse.stop,
            slight=slightness(purse.turning),
        )
        spent += outcome.moves
        if outcome.rests is not None:
            counts = {**best.counts, group: best.counts.get(group, 0) + 1}
            return Filled(counts=counts, rests=outcome.rests, pieces=outcome.pieces, moves=spent)
    return replace(best, moves=spent)


def _anywhere(table: Table, body: int, random: Random) -> Piece:
    """Any legal place of a body, all alike."""
    number = table.usable[body][random.randrange(len(table.usable[body]))]
    allowed = table.allows(table.poses[body][number])
    flat = np.flatnonzero(allowed)
    at = int(flat[random.randrange(len(flat))])
    return Piece(body=body, pose=number, x=at % allowed.shape[1], y=at // allowed.shape[1])


def middles(rests: Sequence[Rest]) -> list[tuple[float, float]]:
    """Middles of the boxes of bodies at rest, from the corner of the board's box."""
    return [(r.x_mm + r.pose.size_mm[0] / 2, r.y_mm + r.pose.size_mm[1] / 2) for r in rests]
