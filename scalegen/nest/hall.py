"""What all boards of one search share: bodies, their poses, grids, and how hard to try."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely

from scalegen.errors import UsageError
from scalegen.nest.exact import Exact
from scalegen.nest.families import slanted
from scalegen.nest.fields import Fields, Ground, ground
from scalegen.nest.finish import Turning
from scalegen.nest.meetings import Meetings
from scalegen.nest.poses import Outline, Pose, outlines, poses
from scalegen.nest.records import Board, Body, Effort, Shape
from scalegen.nest.table import Table

_FINEST_MM = 2.0**-6
_FEW_ANGLES = 8
_FEW_POSES = 16
_MANY_POLYGONS = 9


@dataclass(frozen=True, kw_only=True)
class Scale:
    """How hard to try.

    Attributes:
        cells: Points of the grid on a board, about.
        tolerance_mm: How far corners may be moved out to have fewer of them.
        steps: Sums for one try: moves times bodies times poses.
        tries: Tries for one group more.
        openings: Tries from every plain layout.
        narrow: Steps of the grid that should go in the narrowest body; it is made finer once for that.
    """

    cells: int
    tolerance_mm: float
    steps: int
    tries: int
    openings: int
    narrow: int = 1


SCALES: Mapping[Effort, Scale] = {
    "quick": Scale(cells=40_000, tolerance_mm=0.02, steps=16_000, tries=1, openings=1),
    "normal": Scale(cells=48_000, tolerance_mm=0.014, steps=60_000, tries=3, openings=1),
    "thorough": Scale(cells=48_000, tolerance_mm=0.014, steps=400_000, tries=5, openings=6, narrow=20),
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Hall:
    """Bodies ready to be laid.

    Attributes:
        bodies: The bodies.
        groups: Numbers of the bodies of each group.
        named: The bodies of each group.
        ways: For each body its poses.
        ready: Outlines of the shapes.
        spacing_mm: What must be free between two parts.
        scale: How hard to try.
        kinds: Numbers of the geometries of the poses.
        meetings: Offsets that put poses on one another.
        exact: Sides of forbidden offsets.
        shelves: Fields by grid step.
    """

    bodies: tuple[Body, ...]
    groups: Mapping[str, tuple[int, ...]]
    named: Mapping[str, tuple[Body, ...]]
    ways: tuple[tuple[Pose, ...], ...]
    ready: Mapping[str, Outline]
    spacing_mm: float
    scale: Scale
    kinds: Mapping[bytes, int]
    meetings: Meetings
    exact: Exact
    shelves: dict[float, Fields] = field(default_factory=dict)

    def tables(self, boards: Sequence[Board]) -> list[Table]:
        """A table for each board; boards that look the same share one.

        Args:
            boards: The boards.

        Returns:
            As many tables.
        """
        known: dict[bytes, Table] = {}
        tables = []
        for board in boards:
            look = shapely.normalize(board.region).wkb
            if look not in known:
                place = ground(board)
                step = grid_step_mm(place, self._cells())
                known[look] = self.table(place, min(step, max(self._narrow_mm(), step / 2)))
            tables.append(known[look])
        return tables

    def _narrow_mm(self) -> float:
        """A power of two that goes often enough in the narrowest body."""
        narrowest = min(min(pose.size_mm) for ways in self.ways for pose in ways)
        return math.ldexp(0.5, math.frexp(narrowest / self.scale.narrow)[1])

    def _cells(self) -> int:
        """Points of the grid: fewer where a hasty search has many polygons to prepare."""
        many = sum(len(pose.grown_mm) for ways in self.ways for pose in ways) >= _MANY_POLYGONS
        return self.scale.cells // 4 if many and self.scale.tries == 1 else self.scale.cells

    def turning(self) -> Turning | None:
        """How bodies that may lie at any angle are turned; None when there are none, or no spacing."""
        if self.spacing_mm > 0 and any(body.free for body in self.bodies):
            return Turning(self.bodies, self.ready, self.kinds, hasty=self.scale.tries == 1)
        return None

    def table(self, place: Ground, step_mm: float) -> Table:
        """A table for a board with a grid of some step."""
        fields = self.shelves.setdefault(step_mm, Fields(step_mm, self.meetings))
        return Table(place, self.ways, fields, self.exact)


def hall(
    bodies: Sequence[Body],
    shapes: Sequence[Shape],
    spacing_mm: float,
    scale: Scale,
    boards: Sequence[Board] = (),
) -> Hall:
    """Look the arguments over and get everything ready.

    Args:
        bodies: What is to be laid; all bodies of a group have the same count.
        shapes: Outlines of the parts.
        spacing_mm: What must be free between two parts, 0 or more.
        scale: How hard to try.
        boards: Boards, whose names are looked over.

    Returns:
        The hall.

    Raises:
        GeometryError: A shape is not a simple polygon.
        UsageError: The bodies do not fit together.
    """
    groups = _groups(bodies, boards, shapes, spacing_mm)
    ready = outlines(shapes, spacing_mm, scale.tolerance_mm)
    kinds: dict[bytes, int] = {}
    meetings = Meetings()
    return Hall(
        bodies=tuple(bodies),
        groups=groups,
        named={name: tuple(bodies[k] for k in members) for name, members in groups.items()},
        ways=poses(
            [_hasty(body) if scale.tries == 1 else slanted(body, ready) for body in bodies], ready, kinds
        ),
        ready=ready,
        spacing_mm=spacing_mm,
        scale=scale,
        kinds=kinds,
        meetings=meetings,
        exact=Exact(meetings),
    )


def _hasty(body: Body) -> Body:
    """A body with no more than a few of its angles, evenly taken, and of its forms, the first among them."""
    angles = body.angles_rad[:: -(-len(body.angles_rad) // _FEW_ANGLES)]
    return replace(body, angles_rad=angles, others=body.others[: _FEW_POSES // len(angles) - 1])


def grid_step_mm(place: Ground, cells: int) -> float:
    """A grid step for a board: a power of two, so that places are exact and whole millimetres are among them.

    Args:
        place: The board.
        cells: About how many points the grid should have.

    Returns:
        The step.
    """
    step = _FINEST_MM
    while place.length_mm * place.width_mm > 2 * cells * step * step:
        step *= 2
    return step


def _groups(
    bodies: Sequence[Body], boards: Sequence[Board], shapes: Sequence[Shape], spacing_mm: float
) -> dict[str, tuple[int, ...]]:
    """Numbers of the bodies of each group, after looking the arguments over."""
    for what, keys in (
        ("body", [body.key for body in bodies]),
        ("board", [board.key for board in boards]),
        ("shape", [shape.key for shape in shapes]),
    ):
        twice = sorted({key for key in keys if keys.count(key) > 1})
        if twice:
            raise UsageError(f"there are two of {what} {twice[0]!r}", remedy="give each its own name")
    if not spacing_mm >= 0:
        raise UsageError(f"the spacing is {spacing_mm}", remedy="use 0 or more")
    groups: dict[str, tuple[int, ...]] = {}
    for number, body in enumerate(bodies):
        groups[body.group] = (*groups.get(body.group, ()), number)
        first = bodies[groups[body.group][0]]
        if first.count != body.count:
            raise UsageError(
                f"bodies of group {body.group!r} ask for different counts", remedy="give all the same count"
            )
        if not body.angles_rad:
            raise UsageError(f"body {body.key!r} has no angle to lie at", remedy="allow at least one")
    return groups
