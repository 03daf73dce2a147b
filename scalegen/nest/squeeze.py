"""A sound layout pressed together along x, off the grid."""

from collections.abc import Sequence

from scalegen.nest.layout import Rest, keeps_distance
from scalegen.nest.settle import pressed
from scalegen.nest.table import Table


def used_mm(rests: Sequence[Rest]) -> float:
    """How far a layout reaches along x.

    Args:
        rests: Bodies at rest.

    Returns:
        The right end of the last box, from the corner of the board's box.
    """
    return max((rest.x_mm + rest.pose.size_mm[0] for rest in rests), default=0.0)


def shorter(table: Table, rests: Sequence[Rest], spacing_mm: float) -> tuple[Rest, ...]:
    """Press a layout against the left end of its board.

    Args:
        table: The board, as long as the layout.
        rests: A sound layout.
        spacing_mm: What must be free between two parts.

    Returns:
        A layout that is no longer; the same when pressing did not help.
    """
    best = tuple(rests)
    for _ in range(8):
        moved = pressed(table, best)
        if used_mm(moved) > used_mm(best) - 1e-3 * table.step_mm:
            break
        if not keeps_distance(table.place, moved, spacing_mm):
            break
        best = moved
    return best
