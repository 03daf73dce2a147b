"""Shapes grown by half the spacing, with few corners, never smaller than the truth."""

import numpy as np
import shapely

from scalegen.errors import GeometryError
from scalegen.nest.lattice import counter_clockwise, snap
from scalegen.outline.ring import FloatArray

_QUADRANT_STEPS = 16
_STRAIGHT = 1e-12
_OUT_BY = 1.0011  # shapely joins offset sides nearer than a thousandth of the reach


def grown(points_mm: FloatArray, reach_mm: float, tolerance_mm: float, where: str = "shape") -> FloatArray:
    """A polygon that holds every point within a distance of another polygon.

    Holes that growing would make are filled: nothing could be put there.

    Args:
        points_mm: float64 (n, 2) simple polygon.
        reach_mm: How far to grow, 0 or more.
        tolerance_mm: How far outside the exact growth corners may lie; 0 keeps every corner.
        where: Named in errors.

    Returns:
        float64 (m, 2), counter-clockwise, on the lattice.

    Raises:
        GeometryError: The polygon crosses itself or has no area.
    """
    polygon = shapely.Polygon(points_mm)
    if not (np.isfinite(points_mm).all() and polygon.is_valid and polygon.area > 0):
        raise GeometryError(
            "is not a simple polygon",
            where=where,
            remedy="look for crossing or repeated lines in the outline",
        )
    if reach_mm > 0:
        # Chords lie inside the arcs they stand for, and growing is itself out by a thousandth: reach further.
        reach = reach_mm * _OUT_BY / np.cos(np.pi / (4 * _QUADRANT_STEPS))
        polygon = polygon.buffer(reach, quad_segs=_QUADRANT_STEPS)
        flush = _straight_sides(points_mm, reach_mm)
        polygon = polygon if flush is None else polygon.intersection(flush)
    outer = np.asarray(polygon.exterior.coords)[:-1, :2]
    points = counter_clockwise(snap(outer))
    return fewer_corners(points, tolerance_mm) if tolerance_mm > 0 else points


def _straight_sides(points_mm: FloatArray, reach_mm: float) -> shapely.Polygon | None:
    """A convex polygon's sides moved out by exactly the reach, met at their corners; None where not convex.

    Growing a little too far to make up for chords would keep straight sides too far apart.
    """
    points = counter_clockwise(points_mm)
    step = np.roll(points, -1, axis=0) - points
    turn = np.roll(step[:, 0], 1) * step[:, 1] - np.roll(step[:, 1], 1) * step[:, 0]
    if (turn <= 0).any() or len(points) > 12:
        return None
    return shapely.Polygon(points).buffer(reach_mm, join_style="mitre", mitre_limit=100.0)


def fewer_corners(points_mm: FloatArray, tolerance_mm: float) -> FloatArray:
    """Take corners off a polygon so that it only grows, and by no more than a tolerance.

    An inward or straight corner is bridged; a short side between two outward corners is dropped and its
    neighbours are lengthened until they meet.

    Args:
        points_mm: float64 (n, 2), counter-clockwise.
        tolerance_mm: Largest distance between old and new outline.

    Returns:
        float64 (m, 2) on the lattice, counter-clockwise.
    """
    points, spent = points_mm, np.zeros(len(points_mm))
    while len(points) > 4:
        cost, corner = _drop_costs(points)
        reach = np.max([np.roll(spent, shift) for shift in (1, 0, -1, -2)], axis=0)
        total = cost + reach
        chosen = _apart(total, tolerance_mm)
        if not chosen:
            break
        keep = np.ones(len(points), dtype=bool)
        points, spent = points.copy(), spent.copy()
        for i in chosen:
            after = (i + 1) % len(points)
            if np.isnan(corner[i, 0]):
                keep[i] = False
                spent[after] = max(spent[after], total[i])
                spent[i - 1] = max(spent[i - 1], total[i])
            else:
                points[i], spent[i] = corner[i], total[i]
                keep[after] = False
        points, spent = points[keep], spent[keep]
    return counter_clockwise(snap(points))


def _drop_costs(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What dropping corner i or the side after it costs (n,), and the corner that replaces it (n, 2)."""
    before, after, beyond = (np.roll(points, shift, axis=0) for shift in (1, -1, -2))
    a, b, c = points - before, after - points, beyond - after
    turn = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    next_turn = np.roll(turn, -1)
    chord = after - before
    bridge = -turn / np.sqrt((chord**2).sum(axis=1))
    with np.errstate(divide="ignore", invalid="ignore"):
        # Where the sides before and after meet when the one between is gone.
        both = a[:, 0] * c[:, 1] - a[:, 1] * c[:, 0]
        share = (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]) / both
        meet = points + share[:, None] * a
        side = np.sqrt((b**2).sum(axis=1))
        height = share * turn / side
    outward = (turn > _STRAIGHT) & (next_turn > _STRAIGHT) & (both > _STRAIGHT)
    inward = turn <= _STRAIGHT
    cost = np.where(inward, np.maximum(bridge, 0.0), np.where(outward, height, np.inf))
    return cost, np.where(inward[:, None], np.nan, meet)


def _apart(total: FloatArray, tolerance_mm: float) -> list[int]:
    """Cheapest corners within a tolerance, none of them near another."""
    taken = np.zeros(len(total), dtype=bool)
    chosen: list[int] = []
    for i in np.argsort(total, kind="stable").tolist():
        if not total[i] <= tolerance_mm or len(total) - len(chosen) <= 4:
            break
        near = [(i + shift) % len(total) for shift in (-2, -1, 0, 1, 2)]
        if not taken[near].any():
            taken[i] = True
            chosen.append(i)
    return chosen
