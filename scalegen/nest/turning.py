"""Bodies that may lie at any angle: pushed apart and turned at once, by as little as will do.

Two polygons are as far apart as the nearest corner of one is from the other. So every corner near another
body, or near the edge of the board, gives a condition on how both may move and turn, taken as straight for
small moves. The smallest move that satisfies all is found one condition at a time; then corners are measured
anew.

Source: the distance of polygons is taken at a corner of one of them (textbook, computational geometry);
Hildreth's method as in :mod:`scalegen.nest.settle`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.nest.exact import Nearest, Sides, nearest, sides
from scalegen.nest.fields import Ground
from scalegen.nest.lattice import STEP_MM, counter_clockwise, snap, turned
from scalegen.nest.poses import Pose
from scalegen.outline.ring import FloatArray

_CLEAR_MM = 4e-6
_PASSES = 150
_PATIENCE, _NEAR_MM, _NEAR_PATIENCE = 6, 2.0, 20
_REACH_MM = 2.5
_LONGEST_MM = 2.0
_ANGLE_STEP = 2.0**-30
_TOUCH_MM = 1e-9


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


@dataclass(frozen=True, kw_only=True)
class Lie:
    """Where a solid lies: its middle from the corner of the board's box, and its turn."""

    x_mm: float
    y_mm: float
    angle_rad: float


@dataclass(frozen=True, kw_only=True)
class _Condition:
    """Along (x, y) a corner must move by ``gap`` more than what it faces; -1 is the board.

    ``turn`` and ``back`` are what the turns of the two, in mm, add to that.
    """

    one: int
    other: int
    x: float
    y: float
    turn: float
    back: float
    gap: float


def solid(pose: Pose) -> Solid:
    """A pose turned back to angle nought.

    Args:
        pose: Any pose of the body in the form that is meant.

    Returns:
        The solid.
    """
    origin = np.array(pose.origin_mm)
    bare = [turned(points - origin, -pose.angle_rad) for points in pose.exact_mm]
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
    yard = _Yard(place, solids, spacing_mm, free)
    spots = [[lie.x_mm, lie.y_mm, lie.angle_rad] for lie in lies]
    best, least, idle = [list(spot) for spot in spots], math.inf, 0
    for _ in range(rounds):
        conditions = yard.conditions(spots)
        worst = max((one.gap for one in conditions), default=0.0)
        if worst < 0.97 * least:
            best, least, idle = [list(spot) for spot in spots], max(worst, 0.0), 0
        else:
            idle += 1
        # Nearly there, the last tenths come slowly: bodies have to pass a turn on through a whole row.
        patience = _NEAR_PATIENCE if least < _NEAR_MM else _PATIENCE
        if worst <= _CLEAR_MM / 2 or idle > patience:
            break
        yard.push(spots, conditions)
    done = tuple(
        Lie(
            x_mm=round(x / STEP_MM) * STEP_MM,
            y_mm=round(y / STEP_MM) * STEP_MM,
            angle_rad=round(angle / _ANGLE_STEP) * _ANGLE_STEP if turns else lie.angle_rad,
        )
        for (x, y, angle), turns, lie in zip(best, free, lies, strict=True)
    )
    return done, 0.0 if least <= _CLEAR_MM / 2 else least


class _Yard:
    """A board and bodies, ready to be measured."""

    def __init__(
        self, place: Ground, solids: Sequence[Solid], spacing_mm: float, free: Sequence[bool]
    ) -> None:
        self._solids = solids
        self._free = free
        self._spacing_mm = spacing_mm
        region = shapely.transform(place.board.region, lambda xy: xy - (place.x_mm, place.y_mm))
        edge = sides(region)
        assert edge is not None  # noqa: S101  # a board has an edge
        self._edge: Sides = edge
        self._plain = place.plain
        self._posts = _inward(region)

    def conditions(self, spots: Sequence[Sequence[float]]) -> list[_Condition]:
        """What every corner near something asks for."""
        clouds = [
            [snap(turned(points, angle, x, y)) for points in solid.parts]
            for solid, (x, y, angle) in zip(self._solids, spots, strict=True)
        ]
        out: list[_Condition] = []
        self._against_edge(spots, clouds, out)
        self._against_posts(spots, out)
        self._against_bodies(spots, clouds, out)
        return out

    def _against_edge(
        self, spots: Sequence[Sequence[float]], clouds: Sequence[Sequence[FloatArray]], out: list[_Condition]
    ) -> None:
        """Corners of bodies must be on the board."""
        x0, y0, x1, y1 = self._edge.box
        owners, corners = [], []
        for k, cloud in enumerate(clouds):
            points = np.concatenate(cloud)
            for near, inward, gap in (
                (points[:, 0].argmin(), (1.0, 0.0), x0 - points[:, 0].min()),
                (points[:, 0].argmax(), (-1.0, 0.0), points[:, 0].max() - x1),
                (points[:, 1].argmin(), (0.0, 1.0), y0 - points[:, 1].min()),
                (points[:, 1].argmax(), (0.0, -1.0), points[:, 1].max() - y1),
            ):
                if gap > -_REACH_MM:
                    at = (float(points[near, 0]), float(points[near, 1]))
                    out.append(self._one(k, spots, at, inward, float(gap)))
            if not self._plain:
                owners += [k] * len(points)
                corners += [(float(x), float(y)) for x, y in points]
        if self._plain:
            return
        hits = nearest([self._edge] * len(corners), corners)
        for k, corner, hit in zip(owners, corners, hits, strict=True):
            if (hit.inside and hit.distance >= _REACH_MM) or hit.distance < _TOUCH_MM:
                continue
            sign = 1.0 if hit.inside else -1.0
            inward = (sign * (corner[0] - hit.x) / hit.distance, sign * (corner[1] - hit.y) / hit.distance)
            out.append(self._one(k, spots, corner, inward, -sign * hit.distance))

    def _against_posts(self, spots: Sequence[Sequence[float]], out: list[_Condition]) -> None:
        """Corners of the board that stick into it must not be in a body."""
        if not len(self._posts):
            return
        owners, posts, walls, points = [], [], [], []
        for k, (solid, (x, y, angle)) in enumerate(zip(self._solids, spots, strict=True)):
            seen = turned(self._posts - (x, y), -angle)
            for wall in solid.walls:
                for number in np.flatnonzero(_near(seen, wall, _REACH_MM)).tolist():
                    owners.append(k)
                    posts.append(number)
                    walls.append(wall)
                    points.append((float(seen[number, 0]), float(seen[number, 1])))
        for k, number, hit, point in zip(owners, posts, nearest(walls, points), points, strict=True):
            if hit.distance < _TOUCH_MM or (not hit.inside and hit.distance > _REACH_MM):
                continue
            x, y, toward, gap = self._faced(hit, point, spots[k], 0.0)
            at = (float(self._posts[number, 0]), float(self._posts[number, 1]))
            foot = (at[0] - toward * x, at[1] - toward * y)
            # The post stands still, so the body goes the other way.
            out.append(self._one(k, spots, foot, (-x, -y), gap))

    def _against_bodies(
        self, spots: Sequence[Sequence[float]], clouds: Sequence[Sequence[FloatArray]], out: list[_Condition]
    ) -> None:
        """Corners of bodies must be the spacing away from other bodies."""
        reach = self._spacing_mm + _REACH_MM
        low = np.array([np.min([points.min(axis=0) for points in cloud], axis=0) for cloud in clouds]) - reach
        high = np.array([np.max([points.max(axis=0) for points in cloud], axis=0) for cloud in clouds])
        apart = (low[:, None] > high[None, :]).any(axis=2)
        first, second = np.nonzero(~(apart | apart.T))
        who, where, walls, points = [], [], [], []
        for one, other in zip(first.tolist(), second.tolist(), strict=True):
            if one == other:
                continue
            x, y, angle = spots[other]
            for cloud in clouds[one]:
                seen = turned(cloud - (x, y), -angle)
                for wall in self._solids[other].walls:
                    for k in np.flatnonzero(_near(seen, wall, reach)).tolist():
                        who.append((one, other))
                        where.append((float(cloud[k, 0]), float(cloud[k, 1])))
                        walls.append(wall)
                        points.append((float(seen[k, 0]), float(seen[k, 1])))
        hits = nearest(walls, points)
        for (one, other), at, hit, point in zip(who, where, hits, points, strict=True):
            if hit.distance < _TOUCH_MM or (not hit.inside and hit.distance > reach):
                continue
            x, y, toward, gap = self._faced(hit, point, spots[other], self._spacing_mm)
            foot = (at[0] - toward * x, at[1] - toward * y)
            out.append(
                _Condition(
                    one=other,
                    other=one,
                    x=x,
                    y=y,
                    turn=self._lever(one, spots, at, x, y),
                    back=self._lever(other, spots, foot, x, y),
                    gap=gap,
                )
            )

    @staticmethod
    def _faced(
        hit: Nearest, point: tuple[float, float], spot: Sequence[float], spacing_mm: float
    ) -> tuple[float, float, float, float]:
        """Outward direction, signed distance and what is missing, for a point seen from a turned body."""
        sign = -1.0 if hit.inside else 1.0
        nx, ny = sign * (point[0] - hit.x) / hit.distance, sign * (point[1] - hit.y) / hit.distance
        c, s = math.cos(spot[2]), math.sin(spot[2])
        signed = sign * hit.distance
        return c * nx - s * ny, s * nx + c * ny, signed, spacing_mm - signed + _CLEAR_MM

    def _one(
        self,
        k: int,
        spots: Sequence[Sequence[float]],
        at: tuple[float, float],
        way: tuple[float, float],
        gap: float,
    ) -> _Condition:
        """A condition on one body alone: the point of it at ``at`` must go ``gap`` along ``way``."""
        return _Condition(
            one=-1,
            other=k,
            x=way[0],
            y=way[1],
            turn=self._lever(k, spots, at, *way),
            back=0.0,
            gap=gap + _CLEAR_MM if gap > -_CLEAR_MM else gap,
        )

    def _lever(
        self, k: int, spots: Sequence[Sequence[float]], at: tuple[float, float], x: float, y: float
    ) -> float:
        """How far a point of a body goes along (x, y) when the body turns by a mm."""
        if not self._free[k]:
            return 0.0
        arm_x, arm_y = at[0] - spots[k][0], at[1] - spots[k][1]
        return (arm_x * y - arm_y * x) / self._solids[k].radius_mm

    def push(self, spots: list[list[float]], conditions: Sequence[_Condition]) -> None:
        """Move and turn all bodies by the least that satisfies the conditions, none further than a little."""
        moves = [[0.0, 0.0, 0.0] for _ in spots]
        still = [0.0, 0.0, 0.0]
        forces = [0.0] * len(conditions)
        rows = [
            (
                number,
                moves[one.other],
                moves[one.one] if one.one >= 0 else still,
                one.x,
                one.y,
                one.turn,
                one.back,
                one.gap,
                1.0 / ((1.0 if one.one < 0 else 2.0) + one.turn * one.turn + one.back * one.back),
                one.one >= 0,
            )
            for number, one in enumerate(conditions)
        ]
        for _ in range(_PASSES):
            largest = 0.0
            for number, to, back, x, y, turn, lever, gap, share, both in rows:
                change = gap - (x * to[0] + y * to[1] + turn * to[2])
                if both:
                    change += x * back[0] + y * back[1] + lever * back[2]
                change *= share
                force = forces[number]
                if change < -force:  # noqa: PLR1730  # a call costs more than the rest of this loop
                    change = -force
                if change == 0.0:
                    continue
                forces[number] = force + change
                to[0] += change * x
                to[1] += change * y
                to[2] += change * turn
                if both:
                    back[0] -= change * x
                    back[1] -= change * y
                    back[2] -= change * lever
                largest = max(largest, abs(change))
            if largest < 1e-9:
                break
        for k, (spot, move) in enumerate(zip(spots, moves, strict=True)):
            longest = max(abs(part) for part in move)
            share = 1.0 if longest <= _LONGEST_MM else _LONGEST_MM / longest
            spot[0] += share * move[0]
            spot[1] += share * move[1]
            spot[2] += share * move[2] / self._solids[k].radius_mm


def _near(points: FloatArray, wall: Sides, reach_mm: float) -> np.typing.NDArray[np.bool_]:
    """Which points are within a reach of the box of a wall: (n,)."""
    x0, y0, x1, y1 = wall.box
    x, y = points[:, 0], points[:, 1]
    near: np.typing.NDArray[np.bool_] = (
        (x > x0 - reach_mm) & (x < x1 + reach_mm) & (y > y0 - reach_mm) & (y < y1 + reach_mm)
    )
    return near


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
