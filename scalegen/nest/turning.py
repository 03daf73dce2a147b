"""Bodies that may lie at any angle: pushed apart and turned at once, by as little as will do.

Corners near another body or near the edge of the board ask for room (:mod:`scalegen.nest.corners`). The
smallest move that gives it to all is made (:mod:`scalegen.nest.pushes`); then corners are measured anew.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from scalegen.nest.corners import CLEAR_MM, Solid, Yard
from scalegen.nest.fields import Ground
from scalegen.nest.lattice import STEP_MM
from scalegen.nest.pushes import least_moves
from scalegen.outline.ring import FloatArray

_PATIENCE, _NEAR_MM, _NEAR_PATIENCE = 6, 2.0, 20
_LONGEST_MM = 1.0
# Moves are found but nearly, so a little more room is asked for than is missing.
_MORE, _MORE_MM, _CRUMB_MM = 0.3, 0.02, 1e-5
_ANGLE_STEP = 2.0**-30


@dataclass(frozen=True, kw_only=True)
class Lie:
    """Where a solid lies: its middle from the corner of the board's box, and its turn."""

    x_mm: float
    y_mm: float
    angle_rad: float


def ease(
    place: Ground,
    solids: Sequence[Solid],
    lies: Sequence[Lie],
    spacing_mm: float,
    *,
    free: Sequence[bool],
    rounds: int = 150,
) -> tuple[tuple[Lie, ...], float]:
    """Push and turn bodies until all are far enough apart and on the board.

    Args:
        place: The board.
        solids: The bodies.
        lies: Where each lies at first; none should be deep in another.
        spacing_mm: What must be free between two bodies, above 0.
        free: Which bodies may turn.
        rounds: How often corners are measured anew.

    Returns:
        Where they lie then, and by how much the worst still fails; 0 when none does.
    """
    yard = Yard(place, solids, spacing_mm, free)
    radius = np.array([one.radius_mm for one in solids])
    spots = np.array([[lie.x_mm, lie.y_mm, lie.angle_rad] for lie in lies])
    best, least, idle = spots, math.inf, 0
    for _ in range(rounds):
        conditions = yard.conditions(spots)
        worst = conditions.worst_mm
        if worst < 0.97 * least:
            best, least, idle = spots, max(worst, 0.0), 0
        else:
            idle += 1
        # Nearly there, the last tenths come slowly: bodies have to pass a turn on through a whole row.
        patience = _NEAR_PATIENCE if least < _NEAR_MM else _PATIENCE
        if worst <= CLEAR_MM / 2 or idle > patience:
            break
        more = min(_MORE_MM, _MORE * worst) + _CRUMB_MM
        asked = replace(conditions, gap_mm=conditions.gap_mm + more)
        moves = least_moves(asked, len(solids), _LONGEST_MM)
        spots = _rounded(spots + np.column_stack([moves[:, 0], moves[:, 1], moves[:, 2] / radius]))
    done = tuple(
        Lie(x_mm=x, y_mm=y, angle_rad=angle if turns else lie.angle_rad)
        for (x, y, angle), turns, lie in zip(_rounded(best).tolist(), free, lies, strict=True)
    )
    return done, 0.0 if least <= CLEAR_MM / 2 else least


def _rounded(spots: FloatArray) -> FloatArray:
    """Places and angles on their lattices, which swallow what machines differ by."""
    steps = np.array([STEP_MM, STEP_MM, _ANGLE_STEP])
    rounded: FloatArray = np.round(spots / steps) * steps
    return rounded
