"""The least moves that satisfy conditions on many bodies at once, none of them further than a little.

Each condition says that along some direction one body must move by a gap more than another. Of all moves
that satisfy them and stay within a box, the one with the least square is sought through its dual: forces of
0 or more along the conditions, whose sum, cut to the box, is the move. The forces rise by their gradient,
with momentum that is dropped whenever it leads downhill.

Sums are taken entry by entry in a fixed order, not by a matrix library, so that machines agree.

Source: accelerated gradients, Y. Nesterov, A method of solving a convex programming problem with convergence
rate O(1/k^2) (1983); dropping momentum, B. O'Donoghue and E. Candès, Adaptive restart for accelerated
gradient schemes (2015); both from memory.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.outline.ring import FloatArray

NumberArray = npt.NDArray[np.intp]

_STEPS = 200
_LOOK_EVERY = 16
_STILL_MM = 1e-7
_POWER_STEPS = 12
_MARGIN = 1.1


@dataclass(frozen=True, kw_only=True, eq=False)
class Conditions:
    """Conditions on bodies that move and turn, (k,) each.

    Along (x, y), body ``other`` must move by ``gap`` more than body ``one``; -1 is the board, which stands.

    Attributes:
        one: Number of the one that is left behind.
        other: Number of the one that goes.
        x: Direction.
        y: Direction.
        turn: What a turn of ``other`` by a mm adds.
        back: What a turn of ``one`` by a mm takes.
        gap_mm: By how much more; below 0 it may even come nearer.
    """

    one: NumberArray
    other: NumberArray
    x: FloatArray
    y: FloatArray
    turn: FloatArray
    back: FloatArray
    gap_mm: FloatArray

    @property
    def worst_mm(self) -> float:
        """The largest gap; 0 without conditions."""
        return float(self.gap_mm.max(initial=-math.inf)) if len(self.gap_mm) else 0.0


def least_moves(conditions: Conditions, bodies: int, longest_mm: float) -> FloatArray:
    """Find the least moves.

    Args:
        conditions: What they have to satisfy.
        bodies: How many bodies there are.
        longest_mm: Furthest move along x, along y, and by turning.

    Returns:
        float64 (bodies, 3): x, y and turn in mm; where the conditions cannot all be met, or not in so many
        steps, moves that leave little of each.
    """
    count = len(conditions.gap_mm)
    if not count:
        return np.zeros((bodies, 3))
    both = conditions.one >= 0
    one = np.where(both, conditions.one, bodies)
    away = np.where(both, -1.0, 0.0)
    length = np.sqrt(np.where(both, 2.0, 1.0) + conditions.turn**2 + np.where(both, conditions.back**2, 0.0))
    share = np.concatenate(
        [
            conditions.x / length,
            conditions.y / length,
            conditions.turn / length,
            away * conditions.x / length,
            away * conditions.y / length,
            away * conditions.back / length,
        ]
    )
    place = np.concatenate([3 * conditions.other + k for k in range(3)] + [3 * one + k for k in range(3)])
    web = _Web(place=place, share=share, count=count, size=3 * bodies + 3)
    forces = _forces(web, conditions.gap_mm / length, longest_mm)
    moves: FloatArray = _cut(web.moves(forces), longest_mm)[: 3 * bodies].reshape(bodies, 3)
    return moves


@dataclass(frozen=True, kw_only=True, eq=False)
class _Web:
    """Which moves each condition feels, six a condition: where they stand, and how much of each."""

    place: NumberArray
    share: FloatArray
    count: int
    size: int

    def felt(self, moves: FloatArray) -> FloatArray:
        """What the conditions feel of moves: (count,)."""
        felt: FloatArray = (self.share * moves[self.place]).reshape(6, self.count).sum(axis=0)
        return felt

    def moves(self, forces: FloatArray) -> FloatArray:
        """What forces move: (size,)."""
        pulls = (self.share.reshape(6, self.count) * forces).ravel()
        moved: FloatArray = np.bincount(self.place, weights=pulls, minlength=self.size).astype(np.float64)
        return moved

    def steepness(self) -> float:
        """The largest factor by which forces come back, by repeated trial."""
        way = np.full(self.count, 1.0 / math.sqrt(self.count))
        factor = 1.0
        for _ in range(_POWER_STEPS):
            way = self.felt(self.moves(way))
            factor = math.sqrt(float((way * way).sum()))
            if factor == 0.0:
                return 1.0
            way /= factor
        return factor * _MARGIN


def _forces(web: _Web, gaps: FloatArray, longest_mm: float) -> FloatArray:
    """Forces of 0 or more whose moves satisfy the conditions."""
    rate = 1.0 / web.steepness()
    forces = ahead = np.zeros(web.count)
    pace = 1.0
    for step in range(_STEPS):
        slope = gaps - web.felt(_cut(web.moves(ahead), longest_mm))
        risen = np.maximum(ahead + rate * slope, 0.0)
        change = risen - forces
        if float((slope * change).sum()) < 0.0:
            pace = 1.0
        faster = (1.0 + math.sqrt(1.0 + 4.0 * pace * pace)) / 2.0
        ahead = risen + ((pace - 1.0) / faster) * change
        forces, pace = risen, faster
        if step % _LOOK_EVERY == 0 and float(np.abs(change).max()) < _STILL_MM:
            break
    return forces


def _cut(moves: FloatArray, longest_mm: float) -> FloatArray:
    """Moves cut to the box."""
    cut: FloatArray = np.minimum(np.maximum(moves, -longest_mm), longest_mm)
    return cut
