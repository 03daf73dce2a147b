"""Sums of depths by place, kept up to date: what has not moved since the last look is not added up again."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from scalegen.nest.poses import Pose
from scalegen.nest.raster import IntArray
from scalegen.nest.table import Piece, Table

_ANEW = 0.5

WeightArray: TypeAlias = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Weights of all pieces: the one most have, who has another, and by how much it is more."""

    common: int
    others: Sequence[int]
    extra: Sequence[int]


def plan(weights: WeightArray) -> Plan:
    """Sort weights into one and exceptions from it.

    Args:
        weights: (n,); 0 leaves a piece out.

    Returns:
        The least weight above 0, and the rest.
    """
    above = weights[weights > 0]
    common = int(above.min()) if len(above) else 0
    others = np.flatnonzero(weights != common)
    return Plan(common=common, others=others.tolist(), extra=(weights[others] - common).tolist())


class Sums:
    """For every pose looked at: the depths of all pieces together, at every place.

    Args:
        table: The board.
    """

    def __init__(self, table: Table) -> None:
        self._table = table
        self._known: dict[int, tuple[IntArray, list[Piece]]] = {}

    def costs(self, moving: Pose, pieces: Sequence[Piece], plan: Plan) -> IntArray:
        """What every place of a pose costs among other pieces; the same as the table says, only sooner.

        Args:
            moving: The pose.
            pieces: What lies there; always as many, in the same order.
            plan: What the depths of each are multiplied by.

        Returns:
            (rows, columns): sums of weighted depths; ``NEVER`` of the table or more where not legal.
        """
        costs = self._sum(moving, pieces) * np.int32(plan.common)
        costs += self._table.legal_costs(moving)
        self._table.add(costs, moving, [pieces[k] for k in plan.others], plan.extra)
        return costs

    def _sum(self, moving: Pose, pieces: Sequence[Piece]) -> IntArray:
        """Depths of all pieces, added up."""
        known = self._known.get(moving.kind)
        if known is not None:
            total, before = known
            moved = [k for k, (old, new) in enumerate(zip(before, pieces, strict=True)) if old is not new]
            if 2 * len(moved) <= (1 + _ANEW) * len(pieces):
                gone = [before[k] for k in moved]
                come = [pieces[k] for k in moved]
                self._table.add(total, moving, [*gone, *come], [-1] * len(gone) + [1] * len(come))
                for k in moved:
                    before[k] = pieces[k]
                return total
        total = np.zeros(self._table.allows(moving).shape, dtype=np.int32)
        self._table.add(total, moving, pieces, [1] * len(pieces))
        self._known[moving.kind] = total, list(pieces)
        return total
