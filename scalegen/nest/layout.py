"""Bodies at rest on a board, off the grid as well as on it, and whether they really keep their distances."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.nest.fields import Ground
from scalegen.nest.poses import Pose
from scalegen.nest.table import Piece, Table

_ALLOWED_MM = 1e-6
_SAME_MM2 = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Rest:
    """A body where it lies: its pose and the place of it, from the corner of the board's box."""

    pose: Pose
    x_mm: float
    y_mm: float


def at_rest(table: Table, pieces: Sequence[Piece]) -> tuple[Rest, ...]:
    """Take pieces off the grid.

    Args:
        table: The board.
        pieces: Pieces on its grid.

    Returns:
        The same in mm.
    """
    h = table.step_mm
    return tuple(Rest(pose=table.pose(piece), x_mm=piece.x * h, y_mm=piece.y * h) for piece in pieces)


def on_grid(table: Table, rest: Rest) -> Piece:
    """The grid place nearest a body at rest, within the board's box; it may overlap what it did not before.

    Args:
        table: The board.
        rest: The body; where its turn is none of the table's, the nearest in the same form is taken.

    Returns:
        The piece.
    """
    ways = table.poses[rest.pose.body]
    number = next((k for k, pose in enumerate(ways) if pose.kind == rest.pose.kind), None)
    if number is None:
        number = min(table.usable[rest.pose.body], key=lambda k: _unlike(ways[k], rest.pose))
    pose = ways[number]
    rows, columns = table.allows(pose).shape
    shift = [(a - b) / 2 for a, b in zip(rest.pose.size_mm, pose.size_mm, strict=True)]
    x = min(max(round((rest.x_mm + shift[0]) / table.step_mm), 0), columns - 1)
    y = min(max(round((rest.y_mm + shift[1]) / table.step_mm), 0), rows - 1)
    return Piece(body=rest.pose.body, pose=number, x=x, y=y)


def _unlike(one: Pose, other: Pose) -> tuple[bool, float]:
    """How unlike two poses of a body are: another form first, then the angle between them."""
    return one.form != other.form, abs(math.remainder(one.angle_rad - other.angle_rad, 2 * math.pi))


def keeps_distance(place: Ground, rests: Sequence[Rest], spacing_mm: float) -> bool:
    """Measure a layout with the shapes as they were given.

    Args:
        place: The board.
        rests: What lies on it.
        spacing_mm: What must be free between two parts.

    Returns:
        True when all parts are on the board and far enough apart.
    """
    parts = [
        shapely.Polygon(points + np.array([place.x_mm + rest.x_mm, place.y_mm + rest.y_mm]))
        for rest in rests
        for points in rest.pose.exact_mm
    ]
    if not parts:
        return True
    region = place.board.region.buffer(_ALLOWED_MM, join_style="mitre")
    if not bool(np.all(shapely.covers(region, parts))):
        return False
    first, second = shapely.STRtree(parts).query(
        parts, predicate="dwithin", distance=spacing_mm + _ALLOWED_MM
    )
    two = first < second
    one, other = np.array(parts)[first[two]], np.array(parts)[second[two]]
    if (shapely.distance(one, other) < spacing_mm - _ALLOWED_MM).any():
        return False
    if spacing_mm > 0:
        return True
    return not bool((shapely.area(shapely.intersection(one, other)) > _SAME_MM2 * shapely.length(one)).any())
