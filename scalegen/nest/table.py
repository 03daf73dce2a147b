"""One board, the bodies that may lie on it, and the sums that say where one more is least in the way."""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np

from scalegen.nest.convolve import BoolArray
from scalegen.nest.exact import Exact, Sides, legal_sides
from scalegen.nest.fields import Field, Fields, Ground, legal
from scalegen.nest.poses import Pose
from scalegen.nest.raster import IntArray

NEVER = 2**30
_FEW_POSES = 16


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One body on the grid: which body, which of its poses, and the place in steps."""

    body: int
    pose: int
    x: int
    y: int


class Table:
    """A board with its grid.

    Args:
        place: The board.
        poses: For each body its poses.
        fields: Depths between poses; shared between boards.
        exact: Sides of what the fields are made of; shared between boards.

    Attributes:
        usable: For each body, the numbers of the poses that go on the board at all.
    """

    def __init__(self, place: Ground, poses: Sequence[Sequence[Pose]], fields: Fields, exact: Exact) -> None:
        self.place = place
        self.poses = poses
        self.fields = fields
        self.step_mm = fields.step_mm
        self.exact = exact
        self._rooms: dict[int, Sides | None] = {}
        self._shelves: dict[tuple[int, int, int], tuple[int, int, int, int, IntArray]] = {}
        self._legal: dict[int, BoolArray] = {}
        self._base: dict[int, IntArray] = {}
        for pose in (pose for group in poses for pose in group):
            if pose.kind not in self._legal:
                mask = legal(place, pose, self.step_mm)
                self._legal[pose.kind] = mask
                self._base[pose.kind] = np.where(mask, 0, NEVER).astype(np.int32)
        self.usable = tuple(
            tuple(k for k, pose in enumerate(group) if self._legal[pose.kind].any()) for group in poses
        )

    def narrowed(self, usable: Sequence[tuple[int, ...]]) -> "Table":
        """The same board with fewer poses to try.

        Args:
            usable: For each body the numbers of the poses.

        Returns:
            A table that shares all else with this one.
        """
        narrow = copy(self)
        narrow.usable = tuple(usable)
        return narrow

    def pose(self, piece: Piece) -> Pose:
        """The pose of a piece."""
        return self.poses[piece.body][piece.pose]

    def room(self, pose: Pose) -> Sides | None:
        """Sides of the legal places of a pose; None when they are but a line or less."""
        if pose.kind not in self._rooms:
            self._rooms[pose.kind] = legal_sides(self.place, pose)
        return self._rooms[pose.kind]

    def base(self, pose: Pose) -> IntArray:
        """A fresh array of costs by place: 0 where legal, :data:`NEVER` elsewhere."""
        return self._base[pose.kind].copy()

    def legal_costs(self, pose: Pose) -> IntArray:
        """The same array itself, not to be changed."""
        return self._base[pose.kind]

    def allows(self, pose: Pose) -> BoolArray:
        """Legal places of a pose."""
        return self._legal[pose.kind]

    def costs(self, moving: Pose, pieces: Sequence[Piece], weights: Sequence[int]) -> IntArray:
        """What every place of a pose costs among other pieces.

        Args:
            moving: The pose.
            pieces: What lies there.
            weights: What the depths of each are multiplied by; 0 leaves it out.

        Returns:
            (rows, columns): sums of weighted depths; :data:`NEVER` or more where not legal.
        """
        costs = self._base[moving.kind].copy()
        self.add(costs, moving, pieces, weights)
        return costs

    def add(self, costs: IntArray, moving: Pose, pieces: Sequence[Piece], weights: Sequence[int]) -> None:
        """Add weighted depths of pieces to what every place of a pose costs.

        Args:
            costs: (rows, columns), changed in place.
            moving: The pose.
            pieces: What lies there.
            weights: What the depths of each are multiplied by; 0 leaves it out.
        """
        rows, columns = costs.shape
        for piece, weight in zip(pieces, weights, strict=True):
            if not weight:
                continue
            key = (moving.kind, piece.body, piece.pose)
            if key not in self._shelves:
                self._shelve(moving, piece)
            field_x, field_y, high, wide, depth = self._shelves[key]
            x, y = piece.x + field_x, piece.y + field_y
            left, low = (0 if x > 0 else -x), (0 if y > 0 else -y)
            right, top = (
                (wide if x + wide <= columns else columns - x),
                (high if y + high <= rows else rows - y),
            )
            if left < right and low < top:
                part = depth[low:top, left:right]
                there = costs[y + low : y + top, x + left : x + right]
                if weight == 1:
                    there += part
                elif weight == -1:
                    there -= part
                else:
                    there += part * np.int32(weight)

    def _shelve(self, moving: Pose, piece: Piece) -> None:
        """Work the field of a piece against a pose that moves; of all there are where they are few."""
        many = sum(len(group) for group in self.poses) > _FEW_POSES
        for body, group in enumerate(self.poses):
            for number, pose in enumerate(group):
                if not many or (body, number) == (piece.body, piece.pose):
                    key = (moving.kind, body, number)
                    self._shelves[key] = _flat(self.fields.between(pose, moving))

    def depth(self, one: Piece, other: Piece) -> int:
        """How deep two pieces are in one another; 0 when they are far enough apart."""
        field = self.fields.between(self.pose(one), self.pose(other))
        return field.at(other.x - one.x, other.y - one.y)


def _flat(field: Field) -> tuple[int, int, int, int, IntArray]:
    """A field's corner, rows, columns and depths."""
    rows, columns = field.depth.shape
    return field.x, field.y, rows, columns, field.depth
