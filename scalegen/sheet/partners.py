"""Partners next to each other: in rows by twos, held together, or found among scales laid one by one."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely
from shapely import affinity

from scalegen.model import Side
from scalegen.nest.beside import rows_of_pairs
from scalegen.nest.records import Board, Shape
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import side_by_side_mm
from scalegen.sheet.room import BOARD, holding
from scalegen.sheet.true_shapes import How, Put, bodies_of, fill_blank

_BESIDE = 0.5
_TURN_RAD = 1e-9


def adjacent_pairs(
    footprints: Mapping[Side, Ring],
    region: shapely.Polygon | shapely.MultiPolygon,
    spacing_mm: float,
    how: How,
    *,
    most: int,
) -> tuple[tuple[Put, ...], bool, int | None]:
    """Lay pairs on one blank, partners next to each other.

    Args:
        footprints: Outline of each side.
        region: Where parts may lie, never larger than the truth.
        spacing_mm: What must be free between two scales.
        how: Turns and effort.
        most: Stop after so many pairs.

    Returns:
        Left and right in turn, pair by pair; whether the search was stopped before its end; and how many
        pairs a quick search found with partners apart, None where that was not asked.
    """
    best = max(
        (
            partnered(puts, footprints, spacing_mm)
            for puts in _rows(footprints, region, spacing_mm, how, most)
        ),
        key=lambda puts: (len(puts), -behind(puts, footprints)),
        default=(),
    )[: 2 * most]
    stopped, loose = False, None
    if len(best) < 2 * most:
        held, stopped = fill_blank(footprints, region, spacing_mm, how, most=most)
        best = _better(best, held, footprints)
    if len(best) < 2 * most and not stopped:
        quick = replace(how, pairing="free", effort="quick")
        apart, stopped = fill_blank(footprints, region, spacing_mm, quick, most=most)
        loose = len(apart) // 2
        best = _better(best, partnered(apart, footprints, spacing_mm), footprints)
    return best, stopped, loose


def _rows(
    footprints: Mapping[Side, Ring],
    region: shapely.Polygon | shapely.MultiPolygon,
    spacing_mm: float,
    how: How,
    most: int,
) -> list[list[Put]]:
    """Layouts in rows by twos, scales in no order."""
    sides: tuple[Side, Side] = ("left", "right")
    shapes = [Shape(key=side, points_mm=holding(footprints[side])) for side in sides]
    bodies = bodies_of(shapes, spacing_mm, replace(how, pairing="free"), most)
    board = Board(key=BOARD, region=region)
    return [
        [
            Put(
                side="left" if spot.body == "left" else "right",
                x_mm=spot.x_mm,
                y_mm=spot.y_mm,
                angle_rad=spot.angle_rad % (2 * math.pi),
            )
            for spot in spots
        ]
        for spots in rows_of_pairs(bodies, board, shapes=shapes, spacing_mm=spacing_mm)
    ]


def _better(one: tuple[Put, ...], other: tuple[Put, ...], footprints: Mapping[Side, Ring]) -> tuple[Put, ...]:
    """The fuller of two layouts; of equals the one with fewer partners behind one another, then the first."""
    if len(one) != len(other):
        return one if len(one) > len(other) else other
    return one if behind(one, footprints) <= behind(other, footprints) else other


def behind(puts: Sequence[Put], footprints: Mapping[Side, Ring]) -> int:
    """How many partners lie one behind the other rather than side by side.

    Args:
        puts: Left and right in turn.
        footprints: Outline of each side.

    Returns:
        Pairs that share less than half their length.
    """
    shapes = _shapes(footprints)
    pairs = zip(puts[::2], puts[1::2], strict=True)
    return sum(_share(left, right, shapes) < _BESIDE for left, right in pairs)


def _shapes(footprints: Mapping[Side, Ring]) -> dict[Side, shapely.Polygon]:
    """Outlines as polygons."""
    return {side: shapely.Polygon(holding(ring)) for side, ring in footprints.items()}


def partnered(puts: Sequence[Put], footprints: Mapping[Side, Ring], spacing_mm: float) -> tuple[Put, ...]:
    """Pair lefts with rights that lie next to them, the grain of both alike; as many pairs as there can be.

    Of these as many as a first matching finds lie side by side, the others one behind the other.

    Args:
        puts: Where scales lie, in any order.
        footprints: Outline of each side.
        spacing_mm: What is free between two scales.

    Returns:
        Left and right in turn, pair by pair; who found no partner is left out.

    Source: matching along paths that gain one pair each, Berge 1957 and Kuhn 1955 (from memory).
    """
    lefts = [put for put in puts if put.side == "left"]
    rights = [put for put in puts if put.side == "right"]
    shapes = _shapes(footprints)
    near: list[list[int]] = []
    beside: list[list[int]] = []
    tree = shapely.STRtree([_lain(right, shapes) for right in rights])
    for left in lefts:
        # No third scale goes between the two.
        hits = tree.query(_lain(left, shapes), predicate="dwithin", distance=side_by_side_mm(spacing_mm))
        close = [k for k in sorted(hits.tolist()) if _alike(left, rights[k])]
        beside.append([k for k in close if _share(left, rights[k], shapes) >= _BESIDE])
        near.append([*beside[-1], *(k for k in close if k not in beside[-1])])
    mine: dict[int, int] = {}
    theirs: dict[int, int] = {}
    for ways in (beside, near):
        for number in range(len(lefts)):
            if number not in mine:
                _find(number, ways, mine, theirs)
    return tuple(put for left in sorted(mine) for put in (lefts[left], rights[mine[left]]))


def _find(left: int, ways: Sequence[Sequence[int]], mine: dict[int, int], theirs: dict[int, int]) -> None:
    """Find a partner for one left, giving others other partners where that helps; shortest paths first."""
    came: dict[int, int] = {}
    queue = [left]
    for one in queue:
        for right in ways[one]:
            if right in came:
                continue
            came[right] = one
            if right in theirs:
                queue.append(theirs[right])
                continue
            free: int | None = right
            while free is not None:
                taker = came[free]
                before = mine.get(taker)
                mine[taker], theirs[free] = free, taker
                free = before
            return


def _alike(left: Put, right: Put) -> bool:
    """Whether the grain runs alike in both."""
    return abs(math.remainder(left.angle_rad - right.angle_rad, math.pi)) <= _TURN_RAD


def _share(left: Put, right: Put, shapes: Mapping[Side, shapely.Polygon]) -> float:
    """How much of the shorter one's length the two share, along the left one's own length."""
    spans = []
    for put in (left, right):
        turned = affinity.rotate(_lain(put, shapes), -left.angle_rad, origin=(0, 0), use_radians=True)
        spans.append((turned.bounds[0], turned.bounds[2]))
    (a, b), (c, d) = spans
    return float((min(b, d) - max(a, c)) / min(b - a, d - c))


def _lain(put: Put, shapes: Mapping[Side, shapely.Polygon]) -> shapely.Polygon:
    """A scale where it lies."""
    turned = affinity.rotate(shapes[put.side], put.angle_rad, origin=(0, 0), use_radians=True)
    return affinity.translate(turned, put.x_mm, put.y_mm)
