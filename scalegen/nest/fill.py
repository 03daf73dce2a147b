"""Fill one board: a plain start, then one group more, and one more, for as long as the budget lasts."""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

import numpy as np

from scalegen.nest.finish import Turning, finisher, slightness
from scalegen.nest.guided import separate
from scalegen.nest.layout import Rest, at_rest, keeps_distance, on_grid
from scalegen.nest.starts import WAYS, Heap
from scalegen.nest.table import NEVER, Piece, Table

_FEW, _MORE = 2, 6

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
    """What a search may spend: moves and tries for one group more, and how to tell and ask.

    Attributes:
        moves: For every try.
        tries: From the best layout so far, and all but one of them from anywhere.
        openings: Tries from every opening, each with more of the moves than the one before.
        turning: How bodies that may lie at any angle are turned.
        tell: Told groups found and what is being tried.
        stop: Asked between moves.
    """

    moves: int
    tries: int
    openings: int
    turning: Turning | None
    tell: Callable[[int, str], None]
    stop: Callable[[], bool]

    @property
    def brief(self) -> "Purse":
        """What is spent where better is to come: a try from every opening, in a hasty search none."""
        few = 0 if self.tries == 1 else 1
        return replace(self, tries=few, openings=few)


@dataclass(frozen=True, kw_only=True, eq=False)
class Filled:
    """A board with what lies on it: groups by name, where every body rests, moves spent."""

    counts: Counts
    rests: tuple[Rest, ...]
    pieces: tuple[Piece, ...]
    moves: int


_NOTHING = Filled(counts={}, rests=(), pieces=(), moves=0)


def fill(
    table: Table,
    work: Work,
    spacing_mm: float,
    purse: Purse,
    random: Random,
    *,
    given: Sequence[Filled] = (),
    openings: Sequence[tuple[Piece, ...]] = (),
) -> Filled:
    """Lay as many whole groups on one board as can be found.

    Args:
        table: The board.
        work: What there is to lay.
        spacing_mm: What must be free between two parts.
        purse: What may be spent.
        random: Decides between equals.
        given: Layouts from elsewhere to begin with where they hold more.
        openings: Layouts to try one group more from, whole groups or not.

    Returns:
        The best layout, its distances measured.
    """
    best = plain(table, work, spacing_mm) if purse.tries else _NOTHING
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
        more = _one_more(
            table, work, best, group, openings, spacing_mm=spacing_mm, purse=purse, random=random
        )
        if len(more.rests) > len(best.rests):
            best = more
        else:
            best = replace(best, moves=more.moves)
            closed.add(group)
    return best


def plain(table: Table, work: Work, spacing_mm: float) -> Filled:
    """The best of the plain ways to fill a board from a side."""
    best, moves = _NOTHING, 0
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
    table: Table,
    work: Work,
    best: Filled,
    group: str,
    openings: Sequence[Sequence[Piece]],
    *,
    spacing_mm: float,
    purse: Purse,
    random: Random,
) -> Filled:
    """Try to bring one more of a group onto a board; the old layout when that fails."""
    spent = best.moves
    finish = finisher(table, spacing_mm, purse.turning)
    counts = {**best.counts, group: best.counts.get(group, 0) + 1}
    wanted = [body for name, count in counts.items() for body in work.members[name] for _ in range(count)]
    for attempt in _attempts(purse, best, openings):
        if purse.stop():
            break
        outcome = separate(
            table,
            _filled_up(table, attempt, wanted, random),
            random,
            budget=attempt.moves,
            finish=finish,
            stop=purse.stop,
            slight=slightness(purse.turning),
        )
        spent += outcome.moves
        if outcome.rests is not None:
            return Filled(counts=counts, rests=outcome.rests, pieces=outcome.pieces, moves=spent)
    return replace(best, moves=spent)


@dataclass(frozen=True, kw_only=True)
class _Attempt:
    """Where one try begins, what it may spend, whether what is new starts where it is least in the way."""

    begin: Sequence[Piece]
    moves: int
    gently: bool = False


def _attempts(purse: Purse, best: Filled, openings: Sequence[Sequence[Piece]]) -> Iterator[_Attempt]:
    """Tries for one group more; a hasty search tries only openings that hold no less than the best."""
    worth = list(openings[:_MORE])
    if purse.tries == 1:
        worth = [begin for begin in openings if len(begin) >= len(best.pieces)]
        if len(worth) < _FEW or not set(best.pieces) <= set(worth[0]):
            worth[1:] = [best.pieces]
        worth = worth[: _FEW if purse.turning is None else 1]
    elif purse.tries:
        yield _Attempt(begin=best.pieces, moves=purse.moves)
    for number in range(purse.openings):
        moves = purse.moves * (number + 1) // purse.openings
        for begin in worth:
            yield _Attempt(begin=begin, moves=moves, gently=number == 0)
    for _ in range(purse.tries - 1):
        yield _Attempt(begin=(), moves=purse.moves)


def _filled_up(table: Table, attempt: _Attempt, wanted: Sequence[int], random: Random) -> list[Piece]:
    """So many bodies: those a try begins with as far as they are wanted, and the rest."""
    left = Counter(wanted)
    pieces: list[Piece] = []
    spare: list[Piece] = []
    begin = [piece for piece in attempt.begin if piece.pose in table.usable[piece.body]]
    if not attempt.gently:
        random.shuffle(begin)
    for piece in begin:
        (pieces if left[piece.body] > 0 else spare).append(piece)
        left[piece.body] -= 1
    left = +left
    for piece, body in zip(spare, list(left.elements()), strict=False):
        pieces.append(_instead(table, piece, body))
        left[body] -= 1
    for body in left.elements():
        pieces.append(
            _least(table, pieces, body, random) if attempt.gently else _anywhere(table, body, random)
        )
    return pieces


def _instead(table: Table, piece: Piece, body: int) -> Piece:
    """Another body in the place of one that is too many, in the pose most like it."""
    old = table.pose(piece)
    number = min(
        table.usable[body],
        key=lambda k: (
            sum(abs(a - b) for a, b in zip(old.size_mm, table.poses[body][k].size_mm, strict=True)),
            abs(math.remainder(old.angle_rad - table.poses[body][k].angle_rad, 2 * math.pi)),
        ),
    )
    pose = table.poses[body][number]
    shift = [(a - b) / 2 for a, b in zip(old.size_mm, pose.size_mm, strict=True)]
    middle = Rest(pose=pose, x_mm=piece.x * table.step_mm + shift[0], y_mm=piece.y * table.step_mm + shift[1])
    return on_grid(table, middle)


def _least(table: Table, pieces: Sequence[Piece], body: int, random: Random) -> Piece:
    """The place of one more body where it is least in the way; of places alike any."""
    best: list[tuple[int, int]] = []
    least = NEVER
    for number in table.usable[body]:
        costs = table.costs(table.poses[body][number], pieces, [1] * len(pieces))
        cost = int(costs.min())
        if cost <= least:
            alike = [(number, int(at)) for at in np.flatnonzero(costs == cost)]
            best, least = (best if cost == least else []) + alike, cost
    number, at = best[random.randrange(len(best))]
    columns = table.allows(table.poses[body][number]).shape[1]
    return Piece(body=body, pose=number, x=at % columns, y=at // columns)


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
