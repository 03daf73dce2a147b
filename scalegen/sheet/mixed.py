"""Pairs of several patterns onto the same blanks, on as few as can be found."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from scalegen.errors import SheetError
from scalegen.model import Side
from scalegen.nest.records import Board, Body, Part, Result, Shape, Spot
from scalegen.nest.search import search
from scalegen.outline.ring import Ring
from scalegen.sheet.filled import Arranged
from scalegen.sheet.layout import Claim, Placement, SheetLayout
from scalegen.sheet.room import holding, mixed_limit, region_of
from scalegen.sheet.true_shapes import How, Put, bodies_of, puts_of

_MOST_BLANKS = 60


@dataclass(frozen=True, kw_only=True, eq=False)
class Order:
    """One pattern of a mixed job: its name, the outline of each side, and how many pairs."""

    pattern: str
    footprints: Mapping[Side, Ring]
    pairs: int


def arranged_together(orders: Sequence[Order], blank: SheetLayout, how: How) -> Arranged:
    """Place pairs of several patterns on as few blanks as can be found.

    A pair is never split over two blanks. Pairs are numbered through all blanks, pattern by pattern on each.
    The same input always gives the same layout, unless the search is stopped.

    Args:
        orders: The patterns, each with a name of its own.
        blank: An empty blank with its pads.
        how: Turns (of the sheet, not against the grain), pairing, effort.

    Returns:
        Filled blanks "sheet-1", "sheet-2"...

    Raises:
        SheetError: Not every pair found room.
    """
    shapes, bodies = _pieces(orders, blank.spacing_mm, how)
    wanted = sum(order.pairs for order in orders)
    region = region_of(blank)
    boards = [Board(key=f"{number:03d}", region=region) for number in range(min(wanted, _MOST_BLANKS))]
    result = search(
        bodies,
        boards,
        shapes=shapes,
        spacing_mm=blank.spacing_mm,
        seed=how.seed,
        effort=how.effort,
        progress=how.progress,
        stop=how.stop,
    )
    if result.found < wanted:
        raise _no_room(orders, result)
    layouts = tuple(_filled(orders, bodies, blank, result))
    wanted_each = [(order.footprints, order.pairs) for order in orders]
    limit = mixed_limit(wanted_each, region_of(blank, larger=True), blank.spacing_mm, how.limit_turns_rad)
    claim = Claim(
        bound_pairs=limit.groups,
        bound_reason=limit.reason,
        proven=len(layouts) <= result.fewest_boards,
        effort=how.effort,
        seed=how.seed,
    )
    return Arranged(layouts=tuple(replace(layout, claim=claim) for layout in layouts), stopped=result.stopped)


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
    """Say whose pairs found no room."""
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
        remedy="take a larger sheet, a thinner cutter or a smaller margin, or allow other turns",
    )
