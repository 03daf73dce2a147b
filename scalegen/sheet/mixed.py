"""Pairs of several patterns onto the same blanks, on as few as can be found."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from scalegen.errors import SheetError
from scalegen.model import Side
from scalegen.nest.records import Board, Body, Part, Result, Shape, Spot
from scalegen.nest.search import search
from scalegen.outline.ring import Ring
from scalegen.sheet.filled import Arranged
from scalegen.sheet.layout import Claim, PadBox, Placement, SheetLayout
from scalegen.sheet.pads import beside, candidates
from scalegen.sheet.room import holding, mixed_limit, region_of
from scalegen.sheet.true_shapes import How, Put, bodies_of, puts_of

_MOST_BLANKS = 60
_ROOM = "take a larger sheet, a thinner cutter or a smaller margin, or allow other turns"


@dataclass(frozen=True, kw_only=True, eq=False)
class Order:
    """One pattern of a mixed job: its name, the outline of each side, and how many pairs."""

    pattern: str
    footprints: Mapping[Side, Ring]
    pairs: int


def arranged_together(
    orders: Sequence[Order],
    blank: SheetLayout,
    how: How,
    *,
    anywhere: bool = False,
    one_blank: bool = False,
) -> Arranged:
    """Place pairs of several patterns on as few blanks as can be found.

    A pair is never split over two blanks. Pairs are numbered through all blanks, pattern by pattern on each.
    The same input always gives the same layout, unless the search is stopped.

    Args:
        orders: The patterns, each with a name of its own.
        blank: An empty blank with its pads.
        how: Turns (of the sheet, not against the grain), pairing, effort.
        anywhere: The first pad may stand anywhere; else where the blank has it.
        one_blank: One blank takes of the pairs what is found to fill it best; else all must find room.

    Returns:
        Filled blanks "sheet-1", "sheet-2"...

    Raises:
        SheetError: Not every pair found room, or none on one blank.
    """
    task = _Task(orders=orders, how=how, boards=1 if one_blank else _MOST_BLANKS)
    wanted = sum(order.pairs for order in orders)
    full = _laid(task, blank, anywhere=anywhere)
    if one_blank and len(orders) > 1:
        for order in orders:
            # What begins with the largest may leave room for none, where some of a smaller one go.
            if full.result.found < wanted and not full.result.stopped:
                alone = _laid(replace(task, orders=[order]), blank, anywhere=anywhere)
                full = max(full, alone, key=lambda each: each.worth)
    result = full.result
    if result.found < (1 if one_blank else wanted):
        raise _no_room(orders, result)
    wanted_each = [(order.footprints, order.pairs) for order in orders]
    room = region_of(blank, larger=True, padless=anywhere)
    limit = mixed_limit(wanted_each, room, blank.spacing_mm, how.limit_turns_rad)
    claim = Claim(
        bound_pairs=limit.groups,
        bound_reason=limit.reason,
        proven=result.found >= limit.groups if one_blank else len(full.layouts) <= full.fewest_blanks,
        effort=how.effort,
        seed=how.seed,
    )
    layouts = tuple(replace(layout, claim=claim) for layout in full.layouts)
    return Arranged(layouts=layouts, stopped=result.stopped)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Full:
    """Blanks filled, what the search says of them, blanks that no layout does without, area of the scales."""

    layouts: tuple[SheetLayout, ...]
    result: Result
    fewest_blanks: int

    area_mm2: float

    @property
    def worth(self) -> tuple[float, int]:
        """More of the blanks used first, then fewer blanks."""
        return round(self.area_mm2, 3), -len(self.layouts)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Task:
    """What is to be laid, how, and on how many blanks at most."""

    orders: Sequence[Order]
    how: How
    boards: int

    def fill(self, blank: SheetLayout, *, padless: bool = False) -> _Full:
        """Fill blanks of one kind, with the first pad or as if it were not there."""
        how = self.how
        shapes, bodies = _pieces(self.orders, blank.spacing_mm, how)
        region = region_of(blank, padless=padless)
        count = min(sum(order.pairs for order in self.orders), self.boards)
        result = search(
            bodies,
            [Board(key=f"{number:03d}", region=region) for number in range(count)],
            shapes=shapes,
            spacing_mm=blank.spacing_mm,
            seed=how.seed,
            effort=how.effort,
            progress=how.progress,
            stop=how.stop,
        )
        layouts = tuple(_filled(self.orders, bodies, blank, result))
        areas = {order.pattern: order.footprints["left"].area_mm2 for order in self.orders}
        used = math.fsum(areas[put.pattern] for layout in layouts for put in layout.placements)
        return _Full(layouts=layouts, result=result, fewest_blanks=result.fewest_boards, area_mm2=used)


def _laid(task: _Task, blank: SheetLayout, *, anywhere: bool) -> _Full:
    """Blanks filled, their pad where it stands or where it costs least."""
    return _anywhere(task, blank) if anywhere else task.fill(blank)


def _anywhere(task: _Task, blank: SheetLayout) -> _Full:
    """Blanks filled with their pad where that was found to cost least.

    As for one pattern: first without the pad; where it then goes beside the scales, it costs nothing. It
    stands in one place on all blanks where there is one, else each blank has its own. Failing that, places
    spread over the edge of the room are tried, and the first that is as good as any is taken. The limits told
    are those of blanks without the pad, which no place of it beats.
    """
    bare = task.fill(blank, padless=True)
    padded = _padded(task, blank, bare.layouts)
    if padded or not bare.layouts:
        return replace(bare, layouts=padded)
    best: _Full | None = None
    for place in candidates(blank):
        full = task.fill(replace(blank, pad=place))
        if best is None or full.worth > best.worth:
            best = full
        if full.result.stopped or full.worth >= bare.worth:
            break
    if best is None:
        raise SheetError("there is no place for the pad", where="pad", remedy="give a smaller pad or margin")
    return replace(best, fewest_blanks=bare.fewest_blanks)


def _padded(task: _Task, blank: SheetLayout, layouts: Sequence[SheetLayout]) -> tuple[SheetLayout, ...]:
    """The blanks with their pad beside the scales; none where a blank has no place for it."""
    rings = {order.pattern: order.footprints for order in task.orders}

    def place(some: Sequence[SheetLayout]) -> PadBox | None:
        return beside(
            blank, [(rings[put.pattern][put.side], put) for layout in some for put in layout.placements]
        )

    if not layouts:
        return ()
    common = place(layouts)
    places = [common if common is not None else place([layout]) for layout in layouts]
    padded = [replace(layout, pad=pad) for layout, pad in zip(layouts, places, strict=True) if pad]
    return tuple(padded) if len(padded) == len(layouts) else ()


def _pieces(
    orders: Sequence[Order], spacing_mm: float, how: How
) -> tuple[tuple[Shape, ...], tuple[Body, ...]]:
    """Outlines and bodies of all patterns, each under names of its own: "0/left", "0/pair"..."""
    shapes: list[Shape] = []
    bodies: list[Body] = []
    for number, order in enumerate(orders):
        own = tuple(Shape(key=side, points_mm=holding(ring)) for side, ring in order.footprints.items())
        shapes += [replace(shape, key=_key(number, shape.key)) for shape in own]
        for body in bodies_of(own, spacing_mm, how, order.pairs):
            forms = [
                tuple(replace(part, shape=_key(number, part.shape)) for part in form) for form in body.forms
            ]
            bodies.append(
                replace(
                    body,
                    key=_key(number, body.key),
                    group=_key(number, body.group),
                    parts=forms[0],
                    others=tuple(forms[1:]),
                )
            )
    return tuple(shapes), tuple(bodies)


def _key(number: int, name: str) -> str:
    return f"{number}/{name}"


def _bare(body: Body) -> Body:
    """A body as it was before its names were made its own."""

    def form(parts: Sequence[Part]) -> tuple[Part, ...]:
        return tuple(replace(part, shape=part.shape.split("/", 1)[1]) for part in parts)

    return replace(body, parts=form(body.parts), others=tuple(map(form, body.others)))


def _filled(
    orders: Sequence[Order], bodies: Sequence[Body], blank: SheetLayout, result: Result
) -> list[SheetLayout]:
    """The blanks in use, with pairs numbered through them."""
    bare = [_bare(body) for body in bodies]
    layouts: list[SheetLayout] = []
    done = 0
    for board in result.boards:
        placements: list[Placement] = []
        for number, order in enumerate(orders):
            spots = [spot for spot in result.spots if spot.board == board and _lot_of(spot) == number]
            puts = puts_of(spots, bare)
            placements += [_placement(k, put, order.pattern, done) for k, put in enumerate(puts)]
            done += len(puts) // 2
        name = f"sheet-{len(layouts) + 1}"
        layouts.append(replace(blank, name=name, placements=tuple(placements)))
    return layouts


def _lot_of(spot: Spot) -> int:
    return int(spot.body.split("/", 1)[0])


def _placement(index: int, put: Put, pattern: str, pairs_before: int) -> Placement:
    """A scale as it is written down, with its number."""
    return Placement(
        label=f"{pairs_before + index // 2 + 1}{'L' if put.side == 'left' else 'R'}",
        pattern=pattern,
        side=put.side,
        x_mm=put.x_mm,
        y_mm=put.y_mm,
        angle_rad=put.angle_rad,
    )


def _no_room(orders: Sequence[Order], result: Result) -> SheetError:
    """Say whose pairs found no room, and where none did."""
    if not result.found:
        names = " or ".join(order.pattern for order in orders)
        return SheetError(f"no pair of {names} finds room", where="sheet", remedy=_ROOM)
    counts = {
        order.pattern: len({spot.number for spot in result.spots if _lot_of(spot) == number})
        for number, order in enumerate(orders)
    }
    lacking = [
        f"{counts[order.pattern]} of {order.pairs} of {order.pattern}"
        for order in orders
        if counts[order.pattern] < order.pairs
    ]
    return SheetError(
        f"not all pairs find room: {', '.join(lacking)}",
        where="sheet",
        remedy=_ROOM,
    )
