"""The last step of a try: off the grid, and where bodies may lie at any angle, turned as well."""

import math
from collections.abc import Mapping, Sequence

from scalegen.nest.corners import Solid, solid
from scalegen.nest.guided import HASTY, STILL, TURNING, Finish, Slight
from scalegen.nest.layout import Rest, at_rest, keeps_distance
from scalegen.nest.poses import Outline, Pose, make_pose
from scalegen.nest.records import Body
from scalegen.nest.settle import settle
from scalegen.nest.table import Piece, Table
from scalegen.nest.turning import Lie, ease

_ROUNDS, _HASTY_ROUNDS = 150, 10


class Turning:
    """Bodies that may lie at any angle, turned back to nought; each form is worked when first asked for.

    Args:
        bodies: All bodies.
        ready: Outlines of their shapes.
        kinds: Numbers of the geometries of the poses.
        hasty: Give up early.
    """

    def __init__(
        self,
        bodies: Sequence[Body],
        ready: Mapping[str, Outline],
        kinds: Mapping[bytes, int],
        *,
        hasty: bool = False,
    ) -> None:
        self._rounds = _HASTY_ROUNDS if hasty else _ROUNDS
        self.slight = HASTY if hasty else TURNING
        self._bodies = bodies
        self._ready = ready
        self._kinds = kinds
        self._solids: dict[tuple[int, int], Solid] = {}

    def solid(self, pose: Pose) -> Solid:
        """The body of a pose, in its form."""
        key = (pose.body, pose.form)
        if key not in self._solids:
            self._solids[key] = solid(self.pose(pose.body, pose.form, 0.0))
        return self._solids[key]

    def pose(self, body: int, form: int, angle_rad: float) -> Pose:
        """A body at any angle."""
        parts = self._bodies[body].forms[form]
        return make_pose(body, form, parts, angle_rad, ready=self._ready, kinds=dict(self._kinds))

    def eased(self, table: Table, rests: Sequence[Rest], spacing_mm: float) -> tuple[Rest, ...] | None:
        """Push and turn bodies until they are apart.

        Args:
            table: The board.
            rests: Where they lie.
            spacing_mm: What must be free between two parts.

        Returns:
            Where they lie then; None when that failed.
        """
        solids = [self.solid(rest.pose) for rest in rests]
        lies = [_lie(rest, body) for rest, body in zip(rests, solids, strict=True)]
        free = [self._bodies[rest.pose.body].free for rest in rests]
        done, worst = ease(table.place, solids, lies, spacing_mm, free=free, rounds=self._rounds)
        if worst > 0:
            return None
        return tuple(self._rest(rest, body, lie) for rest, body, lie in zip(rests, solids, done, strict=True))

    def _rest(self, rest: Rest, body: Solid, lie: Lie) -> Rest:
        """A solid where it lies as a body at rest."""
        same = lie.angle_rad == rest.pose.angle_rad
        pose = rest.pose if same else self.pose(rest.pose.body, rest.pose.form, lie.angle_rad)
        x, y = _turned(body.middle_mm, lie.angle_rad)
        return Rest(pose=pose, x_mm=lie.x_mm - x - pose.origin_mm[0], y_mm=lie.y_mm - y - pose.origin_mm[1])


def _lie(rest: Rest, body: Solid) -> Lie:
    """A body at rest as a solid."""
    x, y = _turned(body.middle_mm, rest.pose.angle_rad)
    return Lie(
        x_mm=rest.x_mm + rest.pose.origin_mm[0] + x,
        y_mm=rest.y_mm + rest.pose.origin_mm[1] + y,
        angle_rad=rest.pose.angle_rad,
    )


def _turned(point: tuple[float, float], angle_rad: float) -> tuple[float, float]:
    """A point turned about the origin."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return c * point[0] - s * point[1], s * point[0] + c * point[1]


def slightness(turning: Turning | None) -> Slight:
    """How little overlap is worth the last step."""
    return STILL if turning is None else turning.slight


def finisher(table: Table, spacing_mm: float, turning: Turning | None = None) -> Finish:
    """A way to take a layout with little overlap off the grid.

    Args:
        table: The board.
        spacing_mm: What must be free between two parts.
        turning: How bodies that may lie at any angle are turned; None when there are none.

    Returns:
        A function that gives bodies at rest, or None where they cannot be pushed apart.
    """

    def finish(pieces: Sequence[Piece]) -> tuple[Rest, ...] | None:
        rests, deepest = settle(table, at_rest(table, pieces))
        if deepest == 0 and keeps_distance(table.place, rests, spacing_mm):
            return rests
        if turning is None:
            return None
        eased = turning.eased(table, at_rest(table, pieces), spacing_mm)
        return eased if eased is not None and keeps_distance(table.place, eased, spacing_mm) else None

    return finish
