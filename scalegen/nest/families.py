"""Few angles first: what half turns alone find is where a search with quarter turns begins, and so on.

Bodies that may lie at any angle mostly lie best a little aslant of a quarter turn: a row that is a hair too
long for the board goes on it across a slant. So these few angles are searched before all others.
"""

import math
from dataclasses import replace

from scalegen.nest.records import Body
from scalegen.nest.table import Table

SLANT_RAD = math.radians(7.0)
_SAME_RAD = 1e-9


def slanted(body: Body) -> Body:
    """A body that may lie at any angle, with angles a little off the quarter turns added to its list.

    Args:
        body: Any body.

    Returns:
        The same where it is not free.
    """
    if not body.free:
        return body
    quarters = [body.angles_rad[0] + k * math.pi / 2 for k in range(4)]
    return replace(
        body,
        angles_rad=(
            *body.angles_rad,
            *(quarter + slant for quarter in quarters for slant in (SLANT_RAD, -SLANT_RAD)),
        ),
    )


def families(table: Table) -> list[Table]:
    """A board with ever more poses to try: half turns, quarter turns, those and a little aslant, all.

    Args:
        table: The board.

    Returns:
        Tables that let each body lie in more ways than the one before, the given one last.
    """
    out: list[Table] = []
    for turn, slant in ((math.pi, 0.0), (math.pi / 2, 0.0), (math.pi / 2, SLANT_RAD)):
        usable = [
            tuple(k for k in numbers if _multiple(_from_first(table, body, k), turn, slant))
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
