"""What corners of turned bodies ask for: how far they are from other bodies and from the edge of the board.

Two polygons are as far apart as the nearest corner of one is from the other. So every corner near another
body, or near the edge of the board, gives a condition on how both may move and turn, taken as straight for
small moves.

Source: the distance of polygons is taken at a corner of one of them (textbook, computational geometry).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.nest.convolve import BoolArray
from scalegen.nest.exact import Sides, sides
from scalegen.nest.fields import Ground
from scalegen.nest.lattice import cosine_sine, counter_clockwise, snap, turned
from scalegen.nest.poses import Pose
from scalegen.nest.pushes import Conditions, NumberArray
from scalegen.nest.walls import Walls
from scalegen.outline.ring import FloatArray

CLEAR_MM = 4e-6
_REACH_MM = 2.5
_TOUCH_MM = 1e-9
_FEW = 8


@dataclass(frozen=True, kw_only=True, eq=False)
class Solid:
    """A body as it is turned: its outlines about the middle of its box, in one form, at angle nought.

    Attributes:
        parts: float64 (n, 2) each, counter-clockwise.
        walls: Their sides.
        radius_mm: A turn of one radian counts as much as a move of this.
        middle_mm: The middle, in the body's own frame.
    """

    parts: tuple[FloatArray, ...]
    walls: tuple[Sides, ...]
    radius_mm: float
    middle_mm: tuple[float, float]


def solid(pose: Pose) -> Solid:
    """A pose turned back to angle nought, with as few corners as the edge of the board sees of it.

    Args:
        pose: Any pose of the body in the form that is meant.

    Returns:
        The solid.
    """
    origin = np.array(pose.origin_mm)
    bare = [turned(points - origin, -pose.angle_rad) for points in pose.bare_mm]
    low = np.min([points.min(axis=0) for points in bare], axis=0)
    high = np.max([points.max(axis=0) for points in bare], axis=0)
    middle = (float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2)
    parts = tuple(counter_clockwise(snap(points - middle)) for points in bare)
    walls = [sides(shapely.Polygon(points)) for points in parts]
    return Solid(
        parts=parts,
        walls=tuple(wall for wall in walls if wall is not None),
        radius_mm=float(np.hypot(*(high - low))) / 4,
        middle_mm=middle,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Rows:
    """Conditions before levers are known: ``at`` is a point of the body that goes, ``foot`` of the other.

    All arrays are (k,) or (k, 2).
    """

    one: NumberArray
    other: NumberArray
    way: FloatArray
    at: FloatArray
    foot: FloatArray
    gap_mm: FloatArray


class Yard:
    """A board and bodies, ready to be measured.

    Args:
        place: The board.
        solids: The bodies.
        spacing_mm: What must be free between two bodies, above 0.
        free: Which bodies may turn.
    """

    def __init__(
        self, place: Ground, solids: Sequence[Solid], spacing_mm: float, free: Sequence[bool]
    ) -> None:
        self._spacing_mm = spacing_mm
        region = shapely.transform(place.board.region, lambda xy: xy - (place.x_mm, place.y_mm))
        edge = sides(region)
        assert edge is not None  # noqa: S101  # a board has an edge
        self._edge = Walls([edge])
        self._box = edge.box
        self._plain = place.plain
        self._posts = _inward(region)
        bodies = range(len(solids))
        self._points = np.concatenate([part for one in solids for part in one.parts])
        counts = np.array([sum(len(part) for part in one.parts) for one in solids])
        self._owner = np.repeat(bodies, counts)
        self._first = np.cumsum(counts) - counts
        self._counts = counts
        self._walls = Walls([wall for one in solids for wall in one.walls])
        self._wall_of = np.repeat(bodies, [len(one.walls) for one in solids])
        # The board stands last, where its number -1 finds it.
        self._per_mm = np.array(
            [1.0 / s.radius_mm if turns else 0.0 for s, turns in zip(solids, free, strict=True)] + [0.0]
        )

    def conditions(self, spots: FloatArray) -> Conditions:
        """What every corner near something asks for.

        Args:
            spots: float64 (n, 3): x and y of the middle and angle of each body.

        Returns:
            The conditions.
        """
        turns = np.array([cosine_sine(angle) for angle in spots[:, 2].tolist()])
        c, s = turns[self._owner].T
        x, y = self._points.T
        corners = snap(np.column_stack([c * x - s * y, s * x + c * y]) + spots[self._owner, :2])
        rows = [*self._against_edge(corners), self._against_bodies(spots, turns, corners)]
        one, other, way, at, foot, gap = (
            np.concatenate([getattr(row, name) for row in rows])
            for name in ("one", "other", "way", "at", "foot", "gap_mm")
        )
        middles = np.vstack([spots[:, :2], np.zeros((1, 2))])
        return Conditions(
            one=one,
            other=other,
            x=way[:, 0],
            y=way[:, 1],
            turn=_cross(at - middles[other], way) * self._per_mm[other],
            back=_cross(foot - middles[one], way) * self._per_mm[one],
            gap_mm=gap,
        )

    def _against_edge(self, corners: FloatArray) -> Iterator[_Rows]:
        """Corners of bodies must be on the board."""
        for axis in (0, 1):
            for sign, limit in ((1.0, self._box[axis]), (-1.0, self._box[axis + 2])):
                gap = sign * (limit - corners[:, axis])
                worst = np.maximum.reduceat(gap, self._first)
                near = np.flatnonzero((gap == worst[self._owner]) & (gap > -_REACH_MM))
                way = np.zeros((len(near), 2))
                way[:, axis] = sign
                yield _on_board(self._owner[near], corners[near], way, gap[near])
        if not self._plain:
            hit = self._edge.facing(np.zeros(len(corners), dtype=np.intp), corners)
            keep = np.flatnonzero((~hit.inside | (hit.distance < _REACH_MM)) & (hit.distance >= _TOUCH_MM))
            sign_of = np.where(hit.inside, 1.0, -1.0)[keep]
            way = (sign_of / hit.distance[keep])[:, None] * (corners[keep] - hit.at[keep])
            yield _on_board(self._owner[keep], corners[keep], way, -sign_of * hit.distance[keep])

    def _against_bodies(self, spots: FloatArray, turns: FloatArray, corners: FloatArray) -> _Rows:
        """Corners of bodies must be the spacing off other bodies, and those of the board off them all."""
        low, high = (way.reduceat(corners, self._first) for way in (np.minimum, np.maximum))
        reach = self._spacing_mm + _REACH_MM
        apart: BoolArray = np.any(low[:, None] > high[None, :] + reach, axis=2)
        np.fill_diagonal(apart, val=True)
        body, wall = np.nonzero(~(apart | apart.T)[:, self._wall_of])
        repeats = self._counts[body]
        number = np.repeat(self._first[body] - np.cumsum(repeats) + repeats, repeats)
        number = number + np.arange(len(number))
        posts, walls = len(self._posts), len(self._wall_of)
        # The corners of the board that stick in face every wall.
        one = np.concatenate([np.repeat(body, repeats), np.full(posts * walls, -1)])
        wall = np.concatenate([np.repeat(wall, repeats), np.tile(np.arange(walls), posts)])
        points = np.concatenate([corners[number], np.repeat(self._posts, walls, axis=0)])
        spacing = np.where(one >= 0, self._spacing_mm, 0.0)
        other = self._wall_of[wall]
        c, s = turns[other].T
        x, y = (points - spots[other, :2]).T
        seen = np.column_stack([c * x + s * y, c * y - s * x])
        near = np.flatnonzero(self._walls.near(wall, seen, spacing + _REACH_MM))
        hit = self._walls.facing(wall[near], seen[near])
        keep = (hit.inside | (hit.distance <= spacing[near] + _REACH_MM)) & (hit.distance >= _TOUCH_MM)
        signed = np.where(hit.inside, -hit.distance, hit.distance)
        keep &= _first_few(other[near] * (posts + len(corners)) + one[near], signed)
        near, distance = near[keep], hit.distance[keep]
        sign = np.where(hit.inside[keep], -1.0, 1.0)
        x, y = ((sign / distance)[:, None] * (seen[near] - hit.at[keep])).T
        c, s = c[near], s[near]
        way = np.column_stack([c * x - s * y, s * x + c * y])
        signed = sign * distance
        at, foot = points[near], points[near] - signed[:, None] * way
        # A corner of the board stands still, so the body goes the other way.
        stands = one[near] < 0
        return _Rows(
            one=np.where(stands, -1, other[near]),
            other=np.where(stands, other[near], one[near]),
            way=np.where(stands[:, None], -way, way),
            at=np.where(stands[:, None], foot, at),
            foot=foot,
            gap_mm=spacing[near] - signed + CLEAR_MM,
        )


def _first_few(pairs: NumberArray, distance: FloatArray) -> BoolArray:
    """The nearest few of each pair of bodies; the rest add work and say little more: (k,)."""
    order = np.lexsort((distance, pairs))
    ranked = pairs[order]
    begins = np.flatnonzero(np.diff(ranked, prepend=ranked[:1] - 1))
    rank = np.arange(len(order)) - np.repeat(begins, np.diff(begins, append=len(order)))
    few = np.zeros(len(order), dtype=bool)
    few[order[rank < _FEW]] = True
    return few


def _on_board(bodies: NumberArray, at: FloatArray, way: FloatArray, gap_mm: FloatArray) -> _Rows:
    """Conditions on one body alone: points of it must go some way."""
    gap = np.where(gap_mm > -CLEAR_MM, gap_mm + CLEAR_MM, gap_mm)
    return _Rows(one=np.full(len(at), -1), other=bodies, way=way, at=at, foot=at, gap_mm=gap)


def _cross(arms: FloatArray, ways: FloatArray) -> FloatArray:
    """How far the ends of arms go along some ways for each radian of turn: (k,)."""
    crossed: FloatArray = arms[:, 0] * ways[:, 1] - arms[:, 1] * ways[:, 0]
    return crossed


def _inward(region: shapely.Geometry) -> FloatArray:
    """Corners of a region at which it turns inward: (k, 2)."""
    found = []
    for piece in shapely.get_parts(region):
        for ring, sign in ((piece.exterior, 1.0), *((hole, -1.0) for hole in piece.interiors)):
            points = counter_clockwise(np.asarray(ring.coords)[:-1, :2])
            before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
            turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
            found.append(points[sign * turn < 0])
    posts: FloatArray = np.concatenate(found) if found else np.zeros((0, 2))
    return posts
