"""How deep each offset between two poses is forbidden, and which places on a board are legal; worked once."""

from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.nest.convolve import BoolArray, convolution
from scalegen.nest.lattice import counter_clockwise, snap
from scalegen.nest.meetings import Meetings
from scalegen.nest.poses import Pose
from scalegen.nest.raster import Grid, IntArray, depths, inside
from scalegen.nest.records import Board
from scalegen.outline.ring import FloatArray

_FRAME_MM = 8.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Field:
    """Depths by offset, in steps of the grid: column i, row j is the offset (x + i, y + j)."""

    x: int
    y: int
    depth: IntArray

    @property
    def swapped(self) -> "Field":
        """The same seen from the other one."""
        rows, columns = self.depth.shape
        flipped = np.ascontiguousarray(self.depth[::-1, ::-1])
        return Field(x=1 - self.x - columns, y=1 - self.y - rows, depth=flipped)

    def at(self, x: int, y: int) -> int:
        """Depth at an offset."""
        column, row = x - self.x, y - self.y
        rows, columns = self.depth.shape
        return int(self.depth[row, column]) if 0 <= row < rows and 0 <= column < columns else 0


class Fields:
    """Fields between poses on a grid of one step, each worked when it is first asked for.

    Args:
        step_mm: Width of the grid.
        meetings: Edges they are made of; shared.
    """

    def __init__(self, step_mm: float, meetings: Meetings) -> None:
        self.step_mm = step_mm
        self._meetings = meetings
        self._known: dict[tuple[int, int], Field] = {}

    def between(self, still: Pose, moving: Pose) -> Field:
        """Depths of the offsets from the place of one pose to that of another.

        Args:
            still: The one that stays.
            moving: The one that is moved.

        Returns:
            The field; offsets beyond it are free.
        """
        key = (still.kind, moving.kind)
        if key not in self._known:
            mirrored = self._known.get((moving.kind, still.kind))
            self._known[key] = self._work(still, moving) if mirrored is None else mirrored.swapped
        return self._known[key]

    def _work(self, still: Pose, moving: Pose) -> Field:
        """Lay the sums of all parts with all parts on the grid."""
        h = self.step_mm
        sums = self._meetings.between(still, moving)
        low = np.min([edges.min(axis=0)[:2] for edges in sums], axis=0)
        high = np.max([edges.max(axis=0)[:2] for edges in sums], axis=0)
        x, y = (int(v) for v in np.ceil(low / h))
        columns, rows = (int(v) + 1 for v in np.floor(high / h) - np.ceil(low / h))
        grid = Grid(x_mm=x * h, y_mm=y * h, step_mm=h, columns=columns, rows=rows)
        mask = np.any([inside(edges, grid) for edges in sums], axis=0)
        return Field(x=x, y=y, depth=depths(mask))


def reflected(points_mm: FloatArray) -> FloatArray:
    """A polygon turned half round about the origin; still counter-clockwise."""
    return -points_mm


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """A board as the search sees it.

    Attributes:
        board: The board.
        x_mm: Lower left corner of its box.
        y_mm: The same across.
        length_mm: Size of its box along x.
        width_mm: Size of its box along y.
        walls_mm: Simple polygons that together cover all round it where nothing may lie.
        plain: The board is its box.
    """

    board: Board
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    walls_mm: tuple[FloatArray, ...]
    plain: bool


def ground(board: Board) -> Ground:
    """Get a board ready.

    Args:
        board: The board.

    Returns:
        Its box, and its outside cut into polygons without holes.
    """
    x0, y0, x1, y1 = (float(v) for v in snap(np.array(board.region.bounds)))
    outer = shapely.box(x0 - _FRAME_MM, y0 - _FRAME_MM, x1 + _FRAME_MM, y1 + _FRAME_MM)
    rest = outer.difference(board.region)
    walls = [
        counter_clockwise(snap(np.asarray(piece.exterior.coords)[:-1, :2] - (x0, y0)))
        for piece in _without_holes(rest)
    ]
    return Ground(
        board=board,
        x_mm=x0,
        y_mm=y0,
        length_mm=x1 - x0,
        width_mm=y1 - y0,
        walls_mm=tuple(walls),
        plain=bool(shapely.box(*board.region.bounds).equals(board.region)),
    )


def _without_holes(area: shapely.Geometry) -> list[shapely.Polygon]:
    """Cut polygons across their holes until none is left with one."""
    done: list[shapely.Polygon] = []
    todo = [piece for piece in shapely.get_parts(area) if piece.geom_type == "Polygon" and piece.area > 1e-9]
    while todo:
        piece = todo.pop()
        if not piece.interiors:
            done.append(piece)
            continue
        hole = piece.interiors[0].bounds
        middle = (hole[0] + hole[2]) / 2
        x0, y0, x1, y1 = piece.bounds
        for half in (
            shapely.box(x0 - 1, y0 - 1, middle, y1 + 1),
            shapely.box(middle, y0 - 1, x1 + 1, y1 + 1),
        ):
            parts = shapely.get_parts(piece.intersection(half))
            todo += [part for part in parts if part.geom_type == "Polygon" and part.area > 1e-9]
    return done


def legal(place: Ground, pose: Pose, step_mm: float) -> BoolArray:
    """Which grid places of a pose keep it on the board.

    Args:
        place: The board.
        pose: The pose.
        step_mm: Width of the grid, whose first point is the lower left corner of the board's box.

    Returns:
        (rows, columns), True where it may lie; empty when it is too large.
    """
    room = (place.length_mm - pose.size_mm[0], place.width_mm - pose.size_mm[1])
    columns, rows = (int(np.floor(side / step_mm + 1e-6)) + 1 if side > -1e-6 else 0 for side in room)
    if columns <= 0 or rows <= 0:
        return np.zeros((0, 0), dtype=bool)
    grid = Grid(x_mm=0.0, y_mm=0.0, step_mm=step_mm, columns=columns, rows=rows)
    bad = np.zeros((rows, columns), dtype=bool)
    if place.plain:
        return ~bad
    for wall in place.walls_mm:
        for part in pose.bare_mm:
            bad |= inside(convolution(wall, reflected(part)), grid)
    return ~bad
