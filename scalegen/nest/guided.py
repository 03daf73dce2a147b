"""Guided search on the grid: overlaps are allowed, and cost more the longer they last."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from typing import TypeAlias

import numpy as np

from scalegen.nest.layout import Rest
from scalegen.nest.raster import DEPTH_UNIT
from scalegen.nest.sums import Sums, plan
from scalegen.nest.table import NEVER, Piece, Table

_FIRST_WEIGHT = 64
_LARGEST_WEIGHT = 8192
_RETRY = 4
_FEW = 40
_HAIR_MM = 1e-6

Finish: TypeAlias = Callable[[Sequence[Piece]], tuple[Rest, ...] | None]


@dataclass(frozen=True, kw_only=True)
class Slight:
    """How much overlap may go away off the grid: of any two, and in all for each piece.

    In steps of the grid, or in mm where that is more; no more than so often in one search.
    """

    deep: float
    much: float
    deep_mm: float = 0.0
    much_mm: float = 0.0
    often: int = 10**6


STILL = Slight(deep=3.0, much=0.1)
TURNING = Slight(deep=8.0, much=2.0, deep_mm=8.0, much_mm=2.0)
HASTY = Slight(deep=5.0, much=1.0, deep_mm=5.0, much_mm=1.0, often=2)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How a search ended: the best layout met, its bodies at rest if it is sound, moves spent."""

    pieces: tuple[Piece, ...]
    rests: tuple[Rest, ...] | None
    moves: int


class _Crowd:
    """Pieces being pushed about, with the depth and the weight of every pair."""

    def __init__(self, table: Table, pieces: Sequence[Piece]) -> None:
        self.table = table
        self.pieces = list(pieces)
        size = len(self.pieces)
        self.depth = np.zeros((size, size), dtype=np.int64)
        self.weight = np.full((size, size), _FIRST_WEIGHT, dtype=np.int64)
        self._sums = Sums(table)
        boxes = np.array([self._box(piece) for piece in self.pieces]).reshape(size, 2, 2)
        self._low, self._high = boxes[:, 0], boxes[:, 1]
        for number in range(size):
            self.measure(number)

    def measure(self, number: int) -> None:
        """Work the depths of one piece with all others."""
        mine = self.pieces[number]
        self._low[number], self._high[number] = self._box(mine)
        near = (self._low < self._high[number]).all(axis=1) & (self._high > self._low[number]).all(axis=1)
        near[number] = False
        row = np.zeros(len(self.pieces), dtype=np.int64)
        for other in np.flatnonzero(near).tolist():
            row[other] = self.table.depth(mine, self.pieces[other])
        self.depth[number, :] = row
        self.depth[:, number] = row

    def _box(self, piece: Piece) -> tuple[tuple[float, float], tuple[float, float]]:
        """Corners of the box round a piece as grown, in mm, a hair larger."""
        pose, h = self.table.pose(piece), self.table.step_mm
        x, y = piece.x * h, piece.y * h
        return (
            (x + pose.low_mm[0] - _HAIR_MM, y + pose.low_mm[1] - _HAIR_MM),
            (x + pose.high_mm[0] + _HAIR_MM, y + pose.high_mm[1] + _HAIR_MM),
        )

    def in_the_way(self) -> list[int]:
        """Pieces that overlap."""
        return np.flatnonzero(self.depth.any(axis=1)).tolist()

    @property
    def overlap(self) -> int:
        """Depths of all pairs together."""
        return int(self.depth.sum()) // 2

    def slight(self, least: Slight) -> bool:
        """Whether the overlap may go away off the grid: no pair deep, not much in all."""
        h = self.table.step_mm
        deep = max(least.deep, least.deep_mm / h)
        much = 2 * STILL.deep + max(least.much, least.much_mm / h) * len(self.pieces)
        return int(self.depth.max()) <= deep * DEPTH_UNIT and self.overlap <= much * DEPTH_UNIT

    def move(self, number: int, random: Random) -> None:
        """Put a piece where it is in the way least."""
        body = self.pieces[number].body
        weights = self.weight[number].copy()
        weights[number] = 0
        planned = plan(weights)
        best, best_cost = None, NEVER
        for pose_number in self.table.usable[body]:
            pose = self.table.poses[body][pose_number]
            costs = self._sums.costs(pose, self.pieces, planned)
            cost = int(costs.min())
            if cost < best_cost or (cost == best_cost and random.getrandbits(1)):
                flat = np.flatnonzero(costs == cost)
                at = int(flat[random.randrange(len(flat))])
                best_cost = cost
                best = Piece(body=body, pose=pose_number, x=at % costs.shape[1], y=at // costs.shape[1])
        if best is not None:
            self.pieces[number] = best
            self.measure(number)

    def learn(self) -> None:
        """Make pairs that overlap dearer, the deeper the more; let the others be forgotten slowly."""
        deepest = int(self.depth.max())
        dearer = self.weight + self.weight * (deepest + 2 * self.depth) // (4 * deepest) + 1
        easier = np.maximum(self.weight * 15 // 16, _FIRST_WEIGHT)
        self.weight = np.where(self.depth > 0, dearer, easier)
        if int(self.weight.max()) > _LARGEST_WEIGHT:
            self.weight = np.maximum(self.weight // 2, _FIRST_WEIGHT // 2)


def separate(
    table: Table,
    pieces: Sequence[Piece],
    random: Random,
    *,
    budget: int,
    finish: Finish,
    stop: Callable[[], bool],
    slight: Slight = STILL,
) -> Outcome:
    """Push pieces about until none overlaps, or until what overlaps can be pushed apart off the grid.

    Args:
        table: The board.
        pieces: Where they lie at first, overlaps and all.
        random: Decides between equals.
        budget: Most moves.
        finish: Given a layout with little overlap, gives the bodies at rest, or None where that fails.
        stop: Asked between moves; True ends the search.
        slight: How little overlap is worth ``finish``.

    Returns:
        The best layout met.
    """
    crowd = _Crowd(table, pieces)
    best, least, moves, tried, worth = tuple(crowd.pieces), crowd.overlap, 0, 0, NEVER
    rests = finish(best) if least == 0 else None
    size, often = len(crowd.pieces), slight.often
    while rests is None and moves < budget and not stop():
        order = crowd.in_the_way() or list(range(size))
        random.shuffle(order)
        for number in order:
            if crowd.depth[number].any() or least == 0:
                crowd.move(number, random)
                moves += 1
        overlap = crowd.overlap
        better = overlap < least
        if better:
            best, least = tuple(crowd.pieces), overlap
        again = moves - tried >= _RETRY * size and (overlap <= worth or size <= _FEW)
        if often and crowd.slight(slight) and (again or 2 * overlap <= worth or (better and size <= _FEW)):
            rests, tried, worth = finish(tuple(crowd.pieces)), moves, min(overlap, worth)
            often -= 1
            moves += size
            best = tuple(crowd.pieces) if rests is not None else best
        if overlap:
            crowd.learn()
    return Outcome(pieces=best, rests=rests, moves=moves)
