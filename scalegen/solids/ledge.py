"""Where wall and lip part: splitting both so that they share their edges, and the level faces between."""

from dataclasses import dataclass

import numpy as np

from scalegen.outline.measure import distances_mm, middles, piece_distances_mm
from scalegen.outline.pieces import BoolArray, IntArray, Pieces, box_pairs, crossings, joined
from scalegen.outline.ring import FloatArray, Ring
from scalegen.solids.kernel import ring_pieces

_ON_MM = 2e-8
_FOLLOW_MM = 0.004
_NEARBY_MM = 0.01
_SLIVER_MM = 1e-3


@dataclass(frozen=True, eq=False, kw_only=True)
class Seat:
    """The height at which the walls end and the edge treatment begins.

    Attributes:
        wall: Pieces of the wall, in order.
        lip: Pieces of the lip, in order.
        patches: Level faces between them, each a closed run of pieces.
        apart: True when lip and wall never touch: the face between them is one band.
        moved_mm: How far the wall was moved to follow the lip at slight kinks, at most 0.004.
    """

    wall: Pieces
    lip: Pieces
    patches: tuple[Pieces, ...]
    apart: bool
    moved_mm: float


def seat_of(base: Ring, lip: Ring | Pieces) -> Seat:
    """Match a wall ring with the lip that sits on it.

    Where the lip leaves the wall by less than four microns (it rounds slight kinks) the wall follows it;
    where it leaves further (sharp corners) the gap is closed by a level patch.

    Args:
        base: Ring of the walls.
        lip: Smooth ring of the edge treatment, or its pieces in order, none turning further than half round.

    Returns:
        Pieces that share their ends exactly wherever the rings run together.
    """
    edge = lip if isinstance(lip, Pieces) else ring_pieces(lip)
    wall, edge = _split_where_they_meet(ring_pieces(base), edge, base)
    off = distances_mm(base, middles(edge)) > _ON_MM
    touch = distances_mm(base, edge.start) <= _ON_MM
    if not touch.any():
        return Seat(wall=wall, lip=edge, patches=(), apart=True, moved_mm=0.0)
    new_wall: list[Pieces] = []
    patches: list[Pieces] = []
    moved = 0.0
    for run in _runs(off, touch):
        lip_run = edge[run]
        if not off[run[0]]:
            new_wall.append(lip_run)
            continue
        wall_run = _between(wall, lip_run.start[0], lip_run.end[-1])
        gap = _largest_gap(wall_run, lip_run)
        if gap <= _FOLLOW_MM:
            moved = max(moved, gap)
            new_wall.append(lip_run)
        else:
            new_wall.append(wall_run)
            patches.append(joined(wall_run, turned_round(lip_run)))
    return Seat(wall=joined(*new_wall), lip=edge, patches=tuple(patches), apart=False, moved_mm=moved)


def _split_where_they_meet(wall: Pieces, lip: Pieces, base: Ring) -> tuple[Pieces, Pieces]:
    """Both cut at each other's joints and wherever they part."""
    pairs = box_pairs(wall, lip)
    which, at_wall, at_lip = crossings(wall, lip, pairs)
    i, j = pairs[0][which], pairs[1][which]
    meets = wall.at(i, at_wall)
    joints_of_wall = wall.start[piece_distances_mm(lip, wall.start).min(axis=1) <= _ON_MM]
    joints_of_lip = lip.start[distances_mm(base, lip.start) <= _ON_MM]
    fresh = _clear_of(meets, np.vstack([joints_of_wall, joints_of_lip])) & _parts(lip, j, at_lip, base)
    return (
        _split_at(wall, np.vstack([joints_of_lip, meets[fresh]])),
        _split_at(lip, np.vstack([joints_of_wall, meets[fresh]])),
    )


def _clear_of(points: FloatArray, joints: FloatArray) -> BoolArray:
    """Which points (k, 2) are not so near a joint (m, 2) that only a sliver would lie between."""
    if not len(joints):
        return np.ones(len(points), dtype=np.bool_)
    apart = np.hypot(*(points[:, None] - joints[None]).transpose(2, 0, 1))
    clear: BoolArray = apart.min(axis=1) > _SLIVER_MM
    return clear


def _parts(lip: Pieces, index: IntArray, share: FloatArray, base: Ring) -> BoolArray:
    """At which crossings the lip really parts from the wall, on one side or the other.

    Where both run along the same arcs, rounding alone makes them cross anywhere.
    """
    step = _NEARBY_MM / lip.lengths[index]
    before, after = lip.at(index, np.maximum(share - step, 0.0)), lip.at(index, np.minimum(share + step, 1.0))
    parted: BoolArray = (distances_mm(base, before) > _ON_MM) | (distances_mm(base, after) > _ON_MM)
    return parted


def _runs(off: BoolArray, touch: BoolArray) -> list[IntArray]:
    """Pieces of the lip in runs: single ones on the wall, and stretches off it from touch to touch."""
    n = len(off)
    first = int(np.flatnonzero(touch)[0])
    order = np.array([(first + k) % n for k in range(n)])
    runs: list[list[int]] = []
    for i in order:
        if runs and off[i] and off[runs[-1][-1]] and not touch[i]:
            runs[-1].append(int(i))
        else:
            runs.append([int(i)])
    return [np.array(run, dtype=np.intp) for run in runs]


def _largest_gap(wall_run: Pieces, lip_run: Pieces) -> float:
    """Largest distance of the wall's run and the lip's from each other, at joints and middles."""
    there = piece_distances_mm(lip_run, np.vstack([wall_run.start, middles(wall_run)])).min(axis=1).max()
    back = piece_distances_mm(wall_run, np.vstack([lip_run.start, middles(lip_run)])).min(axis=1).max()
    return float(max(there, back))


def _between(wall: Pieces, start: FloatArray, end: FloatArray) -> Pieces:
    """Pieces of the wall from one joint to another, in order; exact end points taken over from the lip."""
    first = int(np.hypot(*(wall.start - start).T).argmin())
    last = int(np.hypot(*(wall.end - end).T).argmin())
    n = len(wall)
    count = (last - first) % n + 1
    return wall[np.array([(first + k) % n for k in range(count)])]


def _split_at(pieces: Pieces, points: FloatArray) -> Pieces:
    """Pieces cut wherever one of the points (k, 2) lies on them, away from their ends."""
    index: list[int] = []
    share: list[float] = []
    near = piece_distances_mm(pieces, points)
    for k, i in zip(*np.nonzero(near < _ON_MM), strict=True):
        to_start = np.hypot(*(points[k] - pieces.start[i]))
        to_end = np.hypot(*(points[k] - pieces.end[i]))
        if min(to_start, to_end) < 4 * _ON_MM:
            continue
        if pieces.sweep[i] == 0:
            t = to_start / (to_start + to_end)
        else:
            away = points[k] - pieces.center[i]
            turn = np.arctan2(away[1], away[0]) - pieces.first[i]
            t = ((turn if pieces.sweep[i] > 0 else -turn) % (2 * np.pi)) / abs(pieces.sweep[i])
        index.append(int(i))
        share.append(float(t))
    return pieces.cut(np.array(index, dtype=np.intp), np.array(share)) if index else pieces


def turned_round(pieces: Pieces) -> Pieces:
    """The same run travelled backwards."""
    back = pieces[slice(None, None, -1)]
    return Pieces(
        start=back.end,
        end=back.start,
        center=back.center,
        radius=back.radius,
        first=back.first + back.sweep,
        sweep=-back.sweep,
        source=back.source,
    )
