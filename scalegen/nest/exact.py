"""Outlines of forbidden offsets and legal places themselves, for work between the lines of the grid."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from scalegen.nest.convolve import BoolArray, convolution, winding
from scalegen.nest.fields import Ground
from scalegen.nest.meetings import Meetings
from scalegen.nest.poses import Pose
from scalegen.outline.ring import FloatArray

_SLIVER_MM2 = 1e-10


@dataclass(frozen=True, kw_only=True, eq=False)
class Sides:
    """Straight sides that bound a region.

    Attributes:
        start: float64 (k, 2).
        step: float64 (k, 2), from start to end.
        square: float64 (k,), lengths squared, above 0.
        box: x and y of the lower left and upper right corner.
    """

    start: FloatArray
    step: FloatArray
    square: FloatArray
    box: tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Nearest:
    """The point of a region's outline nearest a point, and whether that point is inside the region."""

    x: float
    y: float
    distance: float
    inside: bool


def sides(region: shapely.Geometry) -> Sides | None:
    """The sides of a polygon or polygons.

    Args:
        region: May have holes.

    Returns:
        Its sides; None when it is empty.
    """
    rings = [np.asarray(ring.coords)[:, :2] for ring in _rings(region)]
    if not rings:
        return None
    start = np.concatenate([ring[:-1] for ring in rings])
    step = np.concatenate([ring[1:] - ring[:-1] for ring in rings])
    square = (step**2).sum(axis=1)
    keep = square > 0
    x0, y0, x1, y1 = region.bounds
    return Sides(start=start[keep], step=step[keep], square=square[keep], box=(x0, y0, x1, y1))


def _rings(region: shapely.Geometry) -> list[shapely.LinearRing]:
    """All rings of a region."""
    out = []
    for piece in shapely.get_parts(region):
        if piece.geom_type == "Polygon" and not piece.is_empty:
            out += [piece.exterior, *piece.interiors]
    return out


def covered(sums: Sequence[FloatArray]) -> shapely.Geometry:
    """Everything that directed edges wind about.

    Args:
        sums: Sets of edges (k, 4), each closed.

    Returns:
        The union of their insides.
    """
    faces: list[shapely.Geometry] = []
    for edges in sums:
        lines = shapely.linestrings(edges.reshape(-1, 2, 2))
        parts = shapely.get_parts(shapely.polygonize([shapely.union_all(lines)]))
        parts = parts[shapely.area(parts) > _SLIVER_MM2]
        middles = shapely.get_coordinates(shapely.point_on_surface(parts))
        faces += parts[winding(edges, middles) >= 1].tolist()
    return shapely.union_all(faces)


@dataclass(frozen=True, kw_only=True, eq=False)
class Facing:
    """Where points face outlines.

    Attributes:
        at: float64 (k, 2), the nearest places on them.
        distance: float64 (k,).
        inside: (k,), which points are inside.
    """

    at: FloatArray
    distance: FloatArray
    inside: BoolArray


def facing(
    points: FloatArray,
    counts: npt.NDArray[np.intp],
    start: FloatArray,
    step: FloatArray,
    square: FloatArray,
) -> Facing:
    """Where points face outlines, each its own; of equals the first side.

    Args:
        points: float64 (k, 2), one or more.
        counts: (k,), how many sides the outline of each has, 1 or more.
        start: float64 (n, 2), the sides of all, one outline after the other.
        step: float64 (n, 2), from start to end.
        square: float64 (n,), lengths squared.

    Returns:
        The nearest places.
    """
    first = np.cumsum(counts) - counts
    off_x, off_y = (np.repeat(points, counts, axis=0) - start).T
    dx, dy = step.T
    share = np.minimum(np.maximum((off_x * dx + off_y * dy) / square, 0.0), 1.0)
    gap_x, gap_y = off_x - share * dx, off_y - share * dy
    gap = gap_x * gap_x + gap_y * gap_y
    least = np.minimum.reduceat(gap, first)
    hits = np.flatnonzero(gap == np.repeat(least, counts))
    chosen = hits[np.searchsorted(hits, first)]
    crossed = (off_y >= 0) != (off_y >= dy)
    beyond = (off_x * dy - off_y * dx < 0) == (dy > 0)
    odd = np.add.reduceat((crossed & beyond).astype(np.int64), first) & 1
    return Facing(
        at=points - np.column_stack([gap_x[chosen], gap_y[chosen]]),
        distance=np.sqrt(least),
        inside=odd == 1,
    )


def nearest(regions: Sequence[Sides], points: Sequence[tuple[float, float]]) -> list[Nearest]:
    """Where outlines of regions are nearest points, one region for each point, all at once.

    Args:
        regions: Sides of the regions.
        points: As many points.

    Returns:
        The nearest point of each outline, the first of equals.
    """
    if not regions:
        return []
    hit = facing(
        np.array(points, dtype=np.float64),
        np.array([len(region.square) for region in regions]),
        np.concatenate([region.start for region in regions]),
        np.concatenate([region.step for region in regions]),
        np.concatenate([region.square for region in regions]),
    )
    return [
        Nearest(x=x, y=y, distance=distance, inside=inside)
        for (x, y), distance, inside in zip(
            hit.at.tolist(), hit.distance.tolist(), hit.inside.tolist(), strict=True
        )
    ]


class Exact:
    """Sides of forbidden offsets, each worked when it is first asked for.

    Args:
        meetings: Edges they are made of; shared.
    """

    def __init__(self, meetings: Meetings) -> None:
        self._meetings = meetings
        self._between: dict[tuple[int, int], Sides | None] = {}

    def between(self, still: Pose, moving: Pose) -> Sides | None:
        """Sides of the offsets from the place of one pose to that of another that put them too close."""
        key = (still.kind, moving.kind)
        if key not in self._between:
            swapped = self._between.get((moving.kind, still.kind))
            if swapped is None:
                self._between[key] = sides(covered(self._meetings.between(still, moving)))
            else:
                self._between[key] = turned_half_round(swapped)
        return self._between[key]


def turned_half_round(region: Sides) -> Sides:
    """The sides of a region turned half round about the origin."""
    x0, y0, x1, y1 = region.box
    return Sides(start=-region.start, step=-region.step, square=region.square, box=(-x1, -y1, -x0, -y0))


def legal_sides(place: Ground, pose: Pose) -> Sides | None:
    """Sides of the places that keep a pose on a board.

    Args:
        place: The board.
        pose: The pose.

    Returns:
        The sides; None when the places are but a line or less.
    """
    room = shapely.box(0.0, 0.0, place.length_mm - pose.size_mm[0], place.width_mm - pose.size_mm[1])
    if place.length_mm <= pose.size_mm[0] or place.width_mm <= pose.size_mm[1]:
        return None
    if place.plain:
        return sides(room)
    sums = [convolution(wall, -part) for wall in place.walls_mm for part in pose.bare_mm]
    return sides(room.difference(covered(sums)))
