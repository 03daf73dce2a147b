"""Rows of bodies that lie alike, nested one over the other.

Rows are pushed along one another where they nest deeper that way. In what order they come and how far each
is pushed is found from the ground up: of all piles with the same counts and the same topmost row, only the
lowest is kept and built upon. A row keeps clear of the two under it.

Source: dynamic programming, Bellman 1957 (from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.nest.meetings import Meetings
from scalegen.nest.poses import Pose
from scalegen.outline.ring import FloatArray

_CLEAR_MM = 2e-6
_HAIR_MM = 1e-7
PUSHES = 11
_FURTHEST = 0.5
_UNEVEN = 2
_NOWHERE = -1e9

IndexArray = npt.NDArray[np.intp]
BoolArray = npt.NDArray[np.bool_]
Counts = tuple[int, int]


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of a pile: which pose, how many pushes along, how far up."""

    pose: int
    push: int
    up_mm: float


@dataclass(frozen=True, kw_only=True)
class Pile:
    """Rows one over the other: how many of the first body and of the second, and how high it is."""

    counts: Counts
    high_mm: float
    rows: tuple[Row, ...]


def rises(sums: Sequence[FloatArray], axis: int, at_mm: FloatArray) -> FloatArray:
    """How far over one body another must lie.

    Args:
        sums: Edges (k, 4) that wind about the offsets at which they are too close, each closed.
        axis: 0 where rows run along x, 1 where they run along y.
        at_mm: (n,): how far along the upper one lies.

    Returns:
        (n,): least distance across; far below 0 where they never meet.
    """
    best: FloatArray = np.full(len(at_mm), _NOWHERE)
    at = at_mm[:, None]
    for edges in sums:
        a0, a1 = edges[:, axis], edges[:, axis + 2]
        b0, b1 = edges[:, 1 - axis], edges[:, 3 - axis]
        level = np.abs(a1 - a0) < _HAIR_MM
        share = np.clip((at - a0) / np.where(level, 1.0, a1 - a0), 0.0, 1.0)
        high = np.where(level, np.maximum(b0, b1), b0 + share * (b1 - b0))
        met = (np.minimum(a0, a1) <= at + _HAIR_MM) & (np.maximum(a0, a1) >= at - _HAIR_MM)
        best = np.maximum(best, np.where(met, high, _NOWHERE).max(axis=1))
    return best


class Kind:
    """Poses equally long along the rows, and how close their rows nest.

    Args:
        poses: The poses.
        members: Numbers of the bodies of the group, one or two.
        axis: 0 where rows run along x, 1 where they run along y.
        meetings: Offsets that put poses on one another.
        pitch_mm: Bodies of a row lie so far apart, and rows are pushed by half of it or not at all; None for
            rows as tight as may be, pushed by many small steps.
        paired: Of two bodies, rows come by twos, one of each body.
    """

    def __init__(
        self,
        poses: Sequence[Pose],
        members: Sequence[int],
        axis: int,
        meetings: Meetings,
        pitch_mm: float | None = None,
        *,
        paired: bool = False,
    ) -> None:
        self.poses = tuple(poses)
        self._uneven = 1 if paired else _UNEVEN
        self._paired = paired
        self.long_mm = max(pose.size_mm[axis] for pose in poses)
        self.most_pushes = PUSHES - 1 if pitch_mm is None else 1
        if pitch_mm is None:
            self.push_mm = _FURTHEST * self.long_mm / self.most_pushes
            own = [rises(meetings.between(pose, pose), 1 - axis, np.zeros(1)) for pose in poses]
            self.pitch_mm = max(float(one[0]) for one in own) + _CLEAR_MM
        else:
            self.push_mm, self.pitch_mm = pitch_mm / 2, pitch_mm
        self._across = np.array([pose.size_mm[1 - axis] for pose in poses])
        self._member = np.array([members.index(pose.body) for pose in poses])
        pushes = np.arange(-self.most_pushes, self.most_pushes + 1) * self.push_mm
        at = np.concatenate([pushes, pushes - self.pitch_mm, pushes + self.pitch_mm])
        sums = [[meetings.between(one, other) for other in poses] for one in poses]
        over = np.array([[rises(two, axis, at) for two in row] for row in sums]) + _CLEAR_MM
        over = over.reshape(len(poses), len(poses), 3, -1)
        self._single: FloatArray = over[:, :, 0]
        self._rows: FloatArray = np.maximum(over.max(axis=2), 0.0)  # rows that miss one another lie level
        self._known: dict[tuple[int, bool, float], dict[Counts, Pile]] = {}

    def length_mm(self, many: int, pushes: int) -> float:
        """How long rows of so many bodies are when some are pushed along."""
        return (many - 1) * self.pitch_mm + self.long_mm + pushes * self.push_mm

    def piles(self, pushes: int, *, single: bool, high_mm: float) -> Mapping[Counts, Pile]:
        """The lowest pile for every count of rows.

        Args:
            pushes: Rows may be pushed along by so many steps.
            single: Rows are of one body each.
            high_mm: No pile is higher.

        Returns:
            Piles by their counts of rows of the first body and of the second.
        """
        key = (pushes, single, high_mm)
        if key not in self._known:
            self._known[key] = self._grow(pushes, self._single if single else self._rows, high_mm)
        return self._known[key]

    def _grow(self, pushes: int, over: FloatArray, high_mm: float) -> dict[Counts, Pile]:
        """Put one more row on every pile for as long as there is room."""
        steps = np.arange(pushes + 1)
        nodes = len(self.poses) * (pushes + 1)
        rise = over[:, :, steps[None, :] - steps[:, None] + self.most_pushes]
        rise = rise.transpose(0, 2, 1, 3).reshape(nodes, nodes)
        own, member = np.repeat(self._across, pushes + 1), np.repeat(self._member, pushes + 1)
        fits = own <= high_mm + _HAIR_MM
        layer: dict[Counts, _Tops] = {}
        for m in range(int(member.max()) + 1):
            start = np.where((member == m) & fits, 0.0, np.inf)
            layer[_one_more((0, 0), m)] = _Tops.on_the_ground(start)
        trail = dict(layer)
        while layer:
            upper: dict[Counts, _Tops] = {}
            for counts, tops in layer.items():
                following = tops.following(rise)
                for m in range(int(member.max()) + 1):
                    more = _one_more(counts, m)
                    mine = (member == m) & (following.up + own <= high_mm + _HAIR_MM)
                    if mine.any() and not (member.max() and abs(more[0] - more[1]) > self._uneven):
                        upper[more] = following.where(mine, upper.get(more))
            trail.update(upper)
            layer = upper
        return {
            counts: self._pile(trail, counts, own, member, pushes)
            for counts, tops in trail.items()
            if np.isfinite(tops.up).any() and not (self._paired and counts[0] != counts[1])
        }

    def _pile(
        self,
        trail: Mapping[Counts, "_Tops"],
        counts: Counts,
        own: FloatArray,
        member: IndexArray,
        pushes: int,
    ) -> Pile:
        """Walk the lowest pile of some counts down to its first row."""
        node = int((trail[counts].up + own).argmin())
        high = float(trail[counts].up[node] + own[node])
        rows: list[Row] = []
        left = counts
        while node >= 0:
            tops = trail[left]
            up = float(tops.up[node])
            rows.append(Row(pose=node // (pushes + 1), push=node % (pushes + 1), up_mm=up))
            left = _one_more(left, int(member[node]), -1)
            node = int(tops.under[node])
        return Pile(counts=counts, high_mm=high, rows=tuple(reversed(rows)))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Tops:
    """The lowest piles of some counts, by their topmost row.

    Attributes:
        up: (nodes,), how far up the topmost row is; infinite where there is no such pile.
        under: (nodes,), the row under it, -1 where it is on the ground.
        under_up: (nodes,), how far up that one is.
    """

    up: FloatArray
    under: IndexArray
    under_up: FloatArray

    @classmethod
    def on_the_ground(cls, up: FloatArray) -> "_Tops":
        """Piles of one row."""
        return cls(up=up, under=np.full(len(up), -1), under_up=np.full(len(up), -np.inf))

    def following(self, rise: FloatArray) -> "_Tops":
        """One row more, over the two topmost ones; ``rise`` is (nodes, nodes)."""
        up = np.maximum(self.up[:, None] + rise, self.under_up[:, None] + rise[self.under])
        under = up.argmin(axis=0)
        return _Tops(up=up[under, np.arange(len(under))], under=under, under_up=self.up[under])

    def where(self, mine: BoolArray, other: "_Tops | None") -> "_Tops":
        """Some of these, the rest of the other ones."""
        rest = _Tops.on_the_ground(np.full(len(mine), np.inf)) if other is None else other
        return _Tops(
            up=np.where(mine, self.up, rest.up),
            under=np.where(mine, self.under, rest.under),
            under_up=np.where(mine, self.under_up, rest.under_up),
        )


def _one_more(counts: Counts, member: int, by: int = 1) -> Counts:
    """Counts with one of them changed."""
    return (counts[0] + by, counts[1]) if member == 0 else (counts[0], counts[1] + by)
