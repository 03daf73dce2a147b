"""Between the lines of the grid: push overlapping bodies apart exactly, all at once, by as little as will do.

Around a layout every forbidden region is replaced by the half plane beyond its nearest side. The smallest
move of all bodies together that satisfies these is a quadratic problem with linear conditions, solved one
condition at a time; then the half planes are taken anew.

Source: Hildreth's method, a textbook way to solve small quadratic problems (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.nest.exact import Nearest, nearest
from scalegen.nest.lattice import STEP_MM
from scalegen.nest.layout import Rest
from scalegen.nest.table import Table

_CLEAR_MM = 2e-6
_REACH = 2.0
_LONGEST = 2.0
_PASSES = 30


@dataclass(frozen=True, kw_only=True)
class _Plane:
    """A condition: along (x, y), body ``other`` minus body ``one`` must move by ``gap`` at least.

    ``one`` is -1 where the board is meant.
    """

    one: int
    other: int
    x: float
    y: float
    gap: float


def settle(table: Table, rests: Sequence[Rest], rounds: int = 40) -> tuple[tuple[Rest, ...], float]:
    """Push bodies apart until none overlaps.

    Args:
        table: The board.
        rests: Where the bodies lie; overlaps should be no more than a few steps of the grid.
        rounds: How often the half planes are taken anew.

    Returns:
        Where they lie then, and the deepest overlap left in mm; 0 when it succeeded.
    """
    spots = [[rest.x_mm, rest.y_mm] for rest in rests]
    best, least = [list(spot) for spot in spots], float("inf")
    idle = 0
    for _ in range(rounds):
        planes = _planes(table, rests, spots)
        if planes is None:
            return tuple(rests), float("inf")
        worst = max((plane.gap for plane in planes), default=0.0)
        if worst < least * 0.97:
            best, least, idle = [list(spot) for spot in spots], max(worst, 0.0), 0
        else:
            idle += 1
        if worst <= _CLEAR_MM / 2 or idle > 4:
            break
        _push(spots, planes, _LONGEST * table.step_mm)
    done = tuple(
        Rest(pose=rest.pose, x_mm=round(x / STEP_MM) * STEP_MM, y_mm=round(y / STEP_MM) * STEP_MM)
        for rest, (x, y) in zip(rests, best, strict=True)
    )
    return done, 0.0 if least <= _CLEAR_MM / 2 else least


def _planes(table: Table, rests: Sequence[Rest], spots: Sequence[Sequence[float]]) -> list[_Plane] | None:
    """Half planes for all that is near; None when a body has no room to be pushed about in."""
    reach = _REACH * table.step_mm
    rooms = [table.room(rest.pose) for rest in rests]
    if any(room is None for room in rooms):
        return None
    walls = nearest([room for room in rooms if room is not None], [(x, y) for x, y in spots])
    out: list[_Plane] = []
    for k, wall in enumerate(walls):
        out += _board_planes(k, wall, spots[k][0], spots[k][1], reach)
    pairs, regions, offsets = [], [], []
    for i, k in _neighbours(rests, spots, reach):
        region = table.exact.between(rests[i].pose, rests[k].pose)
        if region is not None:
            pairs.append((i, k))
            regions.append(region)
            offsets.append((spots[k][0] - spots[i][0], spots[k][1] - spots[i][1]))
    hits = nearest(regions, offsets)
    for (i, k), offset, hit in zip(pairs, offsets, hits, strict=True):
        if hit.inside or hit.distance < reach:
            out.append(_plane(i, k, hit, *offset))
    return out


def _neighbours(
    rests: Sequence[Rest], spots: Sequence[Sequence[float]], reach_mm: float
) -> list[tuple[int, int]]:
    """Pairs of bodies whose grown boxes come near one another, in order."""
    at = np.array(spots)
    low = at + np.array([rest.pose.low_mm for rest in rests]) - reach_mm
    high = at + np.array([rest.pose.high_mm for rest in rests])
    apart = (low[:, None] > high[None, :]).any(axis=2)
    first, second = np.nonzero(~(apart | apart.T))
    return [(i, k) for i, k in zip(first.tolist(), second.tolist(), strict=True) if i < k]


def _board_planes(k: int, wall: Nearest, x: float, y: float, reach_mm: float) -> list[_Plane]:
    """The condition that keeps one body on the board."""
    if wall.inside and wall.distance > reach_mm:
        return []
    turned = Nearest(x=wall.x, y=wall.y, distance=wall.distance, inside=not wall.inside)
    return [_plane(-1, k, turned, x, y)]


def _plane(one: int, other: int, hit: Nearest, x: float, y: float) -> _Plane:
    """The half plane beyond the nearest point of a forbidden region's outline, seen from (x, y)."""
    sign = 1.0 if hit.inside else -1.0
    if hit.distance < 1e-9:
        return _Plane(one=one, other=other, x=1.0, y=0.0, gap=-1.0)
    nx, ny = sign * (hit.x - x) / hit.distance, sign * (hit.y - y) / hit.distance
    return _Plane(one=one, other=other, x=nx, y=ny, gap=sign * hit.distance + _CLEAR_MM)


def _push(spots: list[list[float]], planes: Sequence[_Plane], longest_mm: float) -> None:
    """Move all bodies by the least that satisfies the planes, no body further than a little."""
    moves = [[0.0, 0.0] for _ in spots]
    forces = [0.0] * len(planes)
    rows = [
        (number, plane.one, moves[plane.other], plane.x, plane.y, plane.gap)
        for number, plane in enumerate(planes)
    ]
    for _ in range(_PASSES):
        largest = 0.0
        for number, one, to, x, y, gap in rows:
            if one >= 0:
                back = moves[one]
                change = (gap - (x * to[0] + y * to[1] - (x * back[0] + y * back[1]))) * 0.5
            else:
                change = gap - (x * to[0] + y * to[1])
            force = forces[number]
            if change < -force:  # noqa: PLR1730  # a call costs more than the rest of this loop
                change = -force
            if change == 0.0:
                continue
            forces[number] = force + change
            to[0] += change * x
            to[1] += change * y
            if one >= 0:
                back[0] -= change * x
                back[1] -= change * y
            if change < 0:
                change = -change
            if change > largest:  # noqa: PLR1730  # as above
                largest = change
        if largest < 1e-9:
            break
    for spot, move in zip(spots, moves, strict=True):
        spot[0] += max(-longest_mm, min(longest_mm, move[0]))
        spot[1] += max(-longest_mm, min(longest_mm, move[1]))


def pressed(table: Table, rests: Sequence[Rest], slide: float = 4.0) -> tuple[Rest, ...]:
    """Press a sound layout to the left: every body slides as far as the half planes about it allow.

    Args:
        table: The board.
        rests: A sound layout.
        slide: Furthest slide, in steps of the grid.

    Returns:
        The layout after one slide, pushed apart again where half planes were not the whole truth; the one
        given when that fails.
    """
    spots = [[rest.x_mm, rest.y_mm] for rest in rests]
    planes = _planes(table, rests, spots)
    if planes is None:
        return tuple(rests)
    wish = [[spot[0] - slide * table.step_mm, spot[1]] for spot in spots]
    shifted = [
        _Plane(
            one=plane.one,
            other=plane.other,
            x=plane.x,
            y=plane.y,
            gap=plane.gap + (slide * table.step_mm * plane.x if plane.one < 0 else 0.0),
        )
        for plane in planes
    ]
    _push(wish, shifted, 2 * slide * table.step_mm)
    guess = tuple(Rest(pose=rest.pose, x_mm=x, y_mm=y) for rest, (x, y) in zip(rests, wish, strict=True))
    moved, deepest = settle(table, guess, rounds=10)
    return moved if deepest == 0 else tuple(rests)
