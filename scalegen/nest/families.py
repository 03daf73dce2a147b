"""Few ways first: what half turns alone find is where a search with quarter turns begins, and so on.

Bodies that may lie at any angle mostly lie best a little aslant of a quarter turn: a row that is a hair too
long for the board goes on it across a slant. So these few angles are searched before all others.
"""

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely

from scalegen.nest.poses import Outline, placed
from scalegen.nest.records import Body
from scalegen.nest.table import Table
from scalegen.outline.ring import FloatArray

SLANT_RAD = math.radians(14.0)
_LEAST_RAD, _LIKE_RAD = math.radians(1.0), math.radians(1.5)
_PLAIN_RAD = math.radians(7.0)
_SHARE = 0.3
_MOST_FLUSH = 2
_SAME_RAD = 1e-9
_ALL = 10**6
# Forms, turns, and how much aslant of these.
_STEPS = (
    (1, math.pi, 0.0),
    (_ALL, math.pi, 0.0),
    (_ALL, math.pi / 2, 0.0),
    (_ALL, math.pi / 2, SLANT_RAD),
)
_STEP_RAD = 2.0**-30


def slanted(body: Body, ready: Mapping[str, Outline]) -> Body:
    """A body that may lie at any angle, with angles a little off the quarter turns added to its list.

    They are those at which a long side of the band round it lies along the board or across it; a body without
    long sides gets two plain ones.

    Args:
        body: Any body.
        ready: Outlines of its shapes.

    Returns:
        The same where it is not free.
    """
    if not body.free:
        return body
    points = np.concatenate(
        [placed(part, ready[part.shape].exact_mm, body.angles_rad[0]) for part in body.parts]
    )
    slants = _flush(points) or [_PLAIN_RAD, -_PLAIN_RAD]
    more = [body.angles_rad[0] + k * math.pi / 2 + slant for k in range(4) for slant in slants]
    return replace(body, angles_rad=(*body.angles_rad, *more))


def _flush(points_mm: FloatArray) -> list[float]:
    """Small turns that lay long sides of the band round some points along an axis, the longest first."""
    band = np.asarray(shapely.MultiPoint(points_mm).convex_hull.exterior.coords)
    steps = np.diff(band, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    off = [math.remainder(math.atan2(y, x), math.pi / 2) for x, y in steps.tolist()]
    ranked = []
    for angle in off:
        near = [abs(math.remainder(other - angle, math.pi / 2)) < _LIKE_RAD for other in off]
        ranked.append((float(lengths[near].sum()), angle, near))
    least = _SHARE * float(max(np.ptp(points_mm, axis=0)))
    chosen: list[float] = []
    for length, _, near in sorted(ranked, key=lambda entry: -entry[0]):
        mean = math.fsum(lengths[near] * np.array(off)[near]) / length
        slight = _LEAST_RAD < abs(mean) < SLANT_RAD
        if length >= least and slight and all(abs(-mean - other) > _LIKE_RAD for other in chosen):
            chosen.append(round(-mean / _STEP_RAD) * _STEP_RAD)
    return chosen[:_MOST_FLUSH]


def families(table: Table) -> list[Table]:
    """A board with ever more poses to try: half turns, quarter turns, those and a little aslant, all.

    Args:
        table: The board.

    Returns:
        Tables that let each body lie in more ways than the one before, the given one last; bodies that can be
        held together several ways begin with the first, which is the tightest.
    """
    out: list[Table] = []
    for forms, turn, slant in _STEPS:
        usable = [
            tuple(
                k
                for k in numbers
                if table.poses[body][k].form < forms and _multiple(_from_first(table, body, k), turn, slant)
            )
            for body, numbers in enumerate(table.usable)
        ]
        fewer = len(usable) != sum(len(numbers) > 0 for numbers in usable)
        if not fewer and _ways(usable) < _ways(table.usable) and (not out or usable != list(out[-1].usable)):
            out.append(table.narrowed(usable))
    return [*out, table]


def aslant(table: Table) -> bool:
    """Whether some pose to be tried is no whole number of quarter turns from its body's first."""
    return any(
        not _multiple(_from_first(table, body, k), math.pi / 2, 0.0)
        for body, numbers in enumerate(table.usable)
        for k in numbers
    )


def _from_first(table: Table, body: int, number: int) -> float:
    """Angle from a body's first pose to another."""
    ways = table.poses[body]
    return ways[number].angle_rad - ways[0].angle_rad


def _ways(usable: list[tuple[int, ...]] | tuple[tuple[int, ...], ...]) -> int:
    """How many poses all bodies have together."""
    return sum(len(numbers) for numbers in usable)


def _multiple(angle_rad: float, turn_rad: float, slant_rad: float) -> bool:
    """Whether an angle is a whole number of turns, or off that by no more than a slant."""
    return abs(math.remainder(angle_rad, turn_rad)) < slant_rad + _SAME_RAD
