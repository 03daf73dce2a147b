"""Outlines of forbidden offsets and legal places themselves, for work between the lines of the grid."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.nest.convolve import convolution, winding
from scalegen.nest.fields import Ground
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


def nearest(region: Sides, x: float, y: float) -> Nearest:
    """Where a region's outline is nearest a point.

    Args:
        region: Sides of the region.
        x: Of the point.
        y: Of the point.

    Returns:
        The nearest point of the outline, the first of equals.
    """
    off_x, off_y = x - region.start[:, 0], y - region.start[:, 1]
    dx, dy = region.step[:, 0], region.step[:, 1]
    share = np.clip((off_x * dx + off_y * dy) / region.square, 0.0, 1.0)
    gap_x, gap_y = off_x - share * dx, off_y - share * dy
    square = gap_x * gap_x + gap_y * gap_y
    at = int(square.argmin())
    upward = off_y >= 0
    crossed = upward != (off_y >= dy)
    beyond = (off_x * dy - off_y * dx < 0) == (dy > 0)
    inside = bool(np.count_nonzero(crossed & beyond) & 1)
    return Nearest(
        x=x - float(gap_x[at]), y=y - float(gap_y[at]), distance=float(np.sqrt(square[at])), inside=inside
    )


class Exact:
    """Sides of forbidden offsets, each worked when it is first asked for."""

    def __init__(self) -> None:
        self._between: dict[tuple[int, int], Sides | None] = {}

    def between(self, still: Pose, moving: Pose) -> Sides | None:
        """Sides of the offsets from the place of one pose to that of another that put them too close."""
        key = (still.kind, moving.kind)
        if key not in self._between:
            sums = [convolution(one, -other) for one in still.grown_mm for other in moving.grown_mm]
            self._between[key] = sides(covered(sums))
        return self._between[key]


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
