"""Few angles first: what half turns alone find is where a search with quarter turns begins, and so on."""

import math

from scalegen.nest.table import Table

_SAME_RAD = 1e-9


def families(table: Table) -> list[Table]:
    """A board with ever more poses to try: half turns, quarter turns, all.

    Args:
        table: The board.

    Returns:
        Tables that let each body lie in more ways than the one before, the given one last.
    """
    out: list[Table] = []
    for turn in (math.pi, math.pi / 2):
        usable = [
            tuple(k for k in numbers if _multiple(_from_first(table, body, k), turn))
            for body, numbers in enumerate(table.usable)
        ]
        fewer = len(usable) != sum(len(numbers) > 0 for numbers in usable)
        if not fewer and _ways(usable) < _ways(table.usable) and (not out or usable != list(out[-1].usable)):
            out.append(table.narrowed(usable))
    return [*out, table]


def _from_first(table: Table, body: int, number: int) -> float:
    """Angle from a body's first pose to another."""
    ways = table.poses[body]
    return ways[number].angle_rad - ways[0].angle_rad


def _ways(usable: list[tuple[int, ...]] | tuple[tuple[int, ...], ...]) -> int:
    """How many poses all bodies have together."""
    return sum(len(numbers) for numbers in usable)


def _multiple(angle_rad: float, turn_rad: float) -> bool:
    """Whether an angle is a whole number of turns."""
    return abs(math.remainder(angle_rad, turn_rad)) < _SAME_RAD
