"""The way in: as many groups as go on the boards, or so many on as few boards as can be found."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from scalegen.nest.blocks import Blocks, whole
from scalegen.nest.bounds import board_area_mm2, bound, fewest_boards, grown_area_mm2
from scalegen.nest.families import aslant, families
from scalegen.nest.fill import Filled, Purse, Work, fill
from scalegen.nest.finish import Turning
from scalegen.nest.given import given_layout
from scalegen.nest.hall import SCALES, Hall, hall
from scalegen.nest.layout import on_grid
from scalegen.nest.records import (
    Board,
    Body,
    Bound,
    Effort,
    Progress,
    Result,
    Shape,
    Spot,
    Stop,
    onward,
    silent,
)
from scalegen.nest.shelves import shelves
from scalegen.nest.spots import spots
from scalegen.nest.table import Piece, Table

_UNLIMITED = 10**6
_BEFORE: Mapping[Effort, Effort] = {"normal": "quick", "thorough": "normal"}


def search(
    bodies: Sequence[Body],
    boards: Sequence[Board],
    *,
    shapes: Sequence[Shape],
    spacing_mm: float,
    seed: int = 0,
    effort: Effort = "normal",
    progress: Progress = silent,
    stop: Stop = onward,
    starts: Sequence[Sequence[Spot]] = (),
) -> Result:
    """Lay whole groups of bodies on boards.

    Boards are filled in the order given, each as full as can be found before the next is begun; boards alike
    get like layouts. More effort begins with what less effort found, so it never finds fewer. The same
    arguments give the same result.

    Args:
        bodies: What is to be laid; all bodies of a group have the same count.
        boards: Where, the one to use first in front.
        shapes: Outlines of the parts.
        spacing_mm: What must be free between two parts, 0 or more.
        seed: Decides between equals.
        effort: How hard to try.
        progress: Told groups found so far, the proven limit, and what is being tried.
        stop: Asked between moves; True ends the search with the best so far.
        starts: Layouts made elsewhere; where sound, the answer holds no less on their boards.

    Returns:
        Where everything lies, and what no arrangement can beat.

    Raises:
        GeometryError: A shape is not a simple polygon.
        UsageError: The bodies do not fit together.
    """
    before = None
    if effort in _BEFORE:
        before = search(
            bodies,
            boards,
            shapes=shapes,
            spacing_mm=spacing_mm,
            seed=seed,
            effort=_BEFORE[effort],
            progress=progress,
            stop=stop,
            starts=starts,
        )
        if before.found == before.bound.groups and len(before.boards) <= max(1, before.fewest_boards):
            return before
        starts = [*starts, before.spots]
    room = hall(bodies, shapes, spacing_mm, SCALES[effort], boards)
    tables = room.tables(boards)
    homeless = frozenset(
        name
        for name, members in room.groups.items()
        if not any(all(table.usable[body] for body in members) for table in tables)
    )
    limit = bound(room.named, boards, room.ready, spacing_mm, homeless)
    rounds = _Rounds(hall=room, limit=limit, boards=len(boards), seed=seed, starts=starts)
    filled, stopped = rounds.run(tables, boards, progress, stop)
    result = rounds.result(filled, boards, stopped=stopped)
    return result if before is None else replace(result, moves=result.moves + before.moves)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Rounds:
    """One search from its first board to its last."""

    hall: Hall
    limit: Bound
    boards: int
    seed: int
    starts: Sequence[Sequence[Spot]]

    def run(
        self, tables: Sequence[Table], boards: Sequence[Board], progress: Progress, stop: Stop
    ) -> tuple[list[Filled], bool]:
        """Fill one board after the other."""
        left = {name: _UNLIMITED if m[0].count is None else m[0].count for name, m in self.hall.named.items()}
        done: list[Filled] = []
        memory: dict[int, Filled] = {}
        watch = _Watch(stop)
        for table, board in zip(tables, boards, strict=True):
            layouts = [given_layout(self.hall, table, board, layout) for layout in self.starts]
            given = [layout for layout in layouts if layout is not None and _within(layout, left)]
            last = memory.get(id(table))
            if (
                last is not None
                and _within(last, left)
                and all(len(layout.rests) <= len(last.rests) for layout in given)
            ):
                full = replace(last, moves=0)
            else:
                tell = self._teller(progress, sum(sum(full.counts.values()) for full in done))
                full = self._one(table, left, given, tell, watch)
                memory[id(table)] = full
            done.append(full)
            left = {name: count - full.counts.get(name, 0) for name, count in left.items()}
        return done, watch.stopped

    def _teller(self, progress: Progress, before: int) -> Callable[[int, str], None]:
        """Tells what was found on all boards so far."""

        def tell(found: int, trying: str) -> None:
            progress(before + found, self.limit.groups, trying)

        return tell

    def _one(
        self,
        table: Table,
        left: Mapping[str, int],
        given: Sequence[Filled],
        tell: Callable[[int, str], None],
        stop: Callable[[], bool],
    ) -> Filled:
        """Fill one board."""
        hall = self.hall
        area = {
            name: sum(grown_area_mm2(body, hall.ready, hall.spacing_mm) for body in members)
            for name, members in self.hall.named.items()
        }
        fits = [
            name for name, members in self.hall.groups.items() if all(table.usable[body] for body in members)
        ]
        order = tuple(sorted(fits, key=lambda name: (-area[name], name)))
        most = self._most(table.place.board, order)
        counted = any(members[0].count is not None for members in self.hall.named.values())
        work = Work(members=self.hall.groups, left=left, order=order, level=not counted, most=most)
        best: list[Filled] = []
        steps = families(table)
        turning = hall.turning()
        # A hasty search turns free bodies from quarter turns, and tries more only where those won't do.
        early = hall.scale.tries == 1 and turning is not None and aslant(table)
        last = len(steps) - (2 if early else 1)
        plain = Blocks(work, hall.spacing_mm, hall.meetings)
        openings: list[tuple[Piece, ...]] = []
        for number, narrow in enumerate(steps):
            turned = turning if aslant(narrow) or number >= last else None
            made = [] if aslant(narrow) else plain.laid(narrow)
            wide = [] if aslant(narrow) else plain.spread(narrow)
            first = [tuple(on_grid(table, rest) for rest in layout) for layout in (*made, *wide)]
            openings = [*first, *openings]
            starts = [*(whole(narrow, work, layout) for layout in made), *given, *best[-1:]]
            purse = self._purse(narrow, most, tell, stop, turned)
            if openings and number < last:
                purse = purse.brief
            if purse.tries:
                starts = [shelves(narrow, work, hall.spacing_mm), *starts]
            random = Random(self.seed)  # noqa: S311  # decides between layouts, guards no secret
            best.append(fill(narrow, work, hall.spacing_mm, purse, random, given=starts, openings=openings))
            found = sum(best[-1].counts.values())
            enough = all(best[-1].counts.get(name, 0) >= left[name] for name in order)
            if found >= most or enough or (found and number >= last):
                break
        return replace(best[-1], moves=sum(full.moves for full in best))

    def _most(self, board: Board, order: Sequence[str]) -> int:
        """No more groups than this go on one board."""
        if self.boards == 1:
            return self.limit.groups
        hall = self.hall
        alone = {name: list(hall.named[name]) for name in order}
        return bound(alone, [board], hall.ready, hall.spacing_mm, frozenset()).groups if order else 0

    def _purse(
        self,
        table: Table,
        most: int,
        tell: Callable[[int, str], None],
        stop: Callable[[], bool],
        turning: Turning | None,
    ) -> Purse:
        """What may be spent on one board; ``turning`` is there where bodies are turned off their poses."""
        scale = self.hall.scale
        count = max(1, most) * max(len(m) for m in self.hall.groups.values())
        ways = max((len(usable) for usable in table.usable), default=1)
        return Purse(
            moves=max(50, scale.steps // (count * max(1, ways))),
            tries=scale.tries,
            openings=scale.openings,
            turning=turning,
            tell=tell,
            stop=stop,
        )

    def result(self, filled: Sequence[Filled], boards: Sequence[Board], *, stopped: bool) -> Result:
        """Put it all together."""
        hall = self.hall
        laid = spots(filled, boards, hall.bodies, self.hall.groups)
        counts = {name: sum(board.counts.get(name, 0) for board in filled) for name in self.hall.groups}
        asked = [members[0].count for members in self.hall.named.values()]
        areas = [
            grown_area_mm2(body, hall.ready, hall.spacing_mm) * counts[body.group] for body in hall.bodies
        ]
        rooms = [board_area_mm2(board, hall.spacing_mm) for board in boards]
        return Result(
            spots=laid,
            found=sum(counts.values()),
            wanted=None if None in asked else sum(count or 0 for count in asked),
            boards=tuple(board.key for board, full in zip(boards, filled, strict=True) if full.rests),
            bound=self.limit,
            fewest_boards=fewest_boards(areas, rooms),
            moves=sum(board.moves for board in filled),
            stopped=stopped,
        )


def _within(layout: Filled, left: Mapping[str, int]) -> bool:
    """Whether a layout holds no more of any group than is still wanted."""
    return all(count <= left[name] for name, count in layout.counts.items())


class _Watch:
    """Asks whether to stop, and remembers the answer."""

    def __init__(self, stop: Stop) -> None:
        self._stop = stop
        self.stopped = False

    def __call__(self) -> bool:
        self.stopped = self.stopped or self._stop()
        return self.stopped
