"""Forbidden offsets and their fields: against shapely's own intersections."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from scalegen.nest.convolve import convolution, winding
from scalegen.nest.exact import covered, nearest, sides
from scalegen.nest.lattice import counter_clockwise, snap, turned
from scalegen.nest.raster import DEPTH_UNIT, Grid, depths, inside

HOOK = np.array([[0, 0], [40, 0], [40, 9], [12, 7], [12, 22], [30, 20], [31, 28], [0, 30]], dtype=float)
DART = np.array([[0, 0], [18, 6], [0, 14], [5, 7]], dtype=float)


def _pair(angle: float) -> tuple[np.ndarray, np.ndarray]:
    return counter_clockwise(snap(HOOK)), counter_clockwise(snap(turned(DART, angle)))


@pytest.mark.parametrize("angle", [0.0, 0.7, np.pi / 2, np.pi])
def test_offsets_wound_about_are_those_that_overlap(angle: float) -> None:
    """An offset is wound about at least once exactly where shapely finds common area."""
    one, other = _pair(angle)
    edges = convolution(one, -other)
    spread = np.random.default_rng(7)
    low, high = edges.reshape(-1, 2).min(axis=0), edges.reshape(-1, 2).max(axis=0)
    offsets = spread.uniform(low - 2, high + 2, (400, 2))
    counts = winding(edges, offsets)
    still = shapely.Polygon(one)
    for offset, count in zip(offsets, counts, strict=True):
        common = still.intersection(affinity.translate(shapely.Polygon(other), *offset)).area
        assert (count >= 1) == (common > 1e-9), offset


def test_sum_of_two_rectangles_is_their_rectangle() -> None:
    """The sum of boxes a x b and c x d covers (a + c)(b + d): closed form."""
    one, other = (
        np.array([[0, 0], [7, 0], [7, 3], [0, 3]], float),
        np.array([[0, 0], [2, 0], [2, 5], [0, 5]], float),
    )
    assert covered([convolution(one, other)]).area == pytest.approx((7 + 2) * (3 + 5))


def test_sum_of_convex_shapes_has_the_area_of_mixed_areas() -> None:
    """Two triangles turned half round to one another make a hexagon of 6 times the area (Brunn-Minkowski)."""
    triangle = snap(np.array([[0, 0], [8, 0], [4, 6]], float))
    assert covered([convolution(triangle, -triangle)]).area == pytest.approx(6 * 24.0)


@pytest.mark.parametrize("angle", [0.0, 0.7])
def test_grid_and_outline_tell_the_same(angle: float) -> None:
    """A grid point is inside exactly where the nearest point of the outline says so."""
    one, other = _pair(angle)
    edges = convolution(one, -other)
    outline = sides(covered([edges]))
    assert outline is not None
    grid = Grid(x_mm=-25.0, y_mm=-25.0, step_mm=1.25, columns=60, rows=60)
    mask = inside(edges, grid)
    places = [(row, column) for row in range(0, 60, 3) for column in range(0, 60, 3)]
    points = [(grid.x_mm + 1.25 * column, grid.y_mm + 1.25 * row) for row, column in places]
    hits = nearest([outline] * len(points), points)
    ring = shapely.boundary(covered([edges]))
    for (row, column), point, hit in zip(places, points, hits, strict=True):
        assert hit.distance == pytest.approx(shapely.distance(ring, shapely.Point(point)), abs=1e-9)
        if hit.distance > 1e-6:
            assert mask[row, column] == hit.inside


def test_each_point_is_seen_from_its_own_region() -> None:
    """Asked for many regions at once, every answer is that of the region alone."""
    small, large = (sides(shapely.box(-a, -a, a, a)) for a in (1.0, 3.0))
    assert small is not None
    assert large is not None
    hits = nearest([small, large, small], [(2.0, 0.0), (2.0, 0.0), (0.5, 0.0)])
    assert [(hit.distance, hit.inside) for hit in hits] == [(1.0, False), (1.0, True), (0.5, True)]
    assert nearest([], []) == []


def test_touching_is_allowed() -> None:
    """Offsets that only make edges meet are not forbidden."""
    square = np.array([[0, 0], [4, 0], [4, 4], [0, 4]], float)
    mask = inside(convolution(square, -square), Grid(x_mm=-4.0, y_mm=-4.0, step_mm=1.0, columns=9, rows=9))
    assert mask[1:-1, 1:-1].all()
    assert not mask[0].any()
    assert not mask[:, 0].any()
    assert not mask[-1].any()
    assert not mask[:, -1].any()


def test_depth_is_the_distance_to_the_nearest_free_cell() -> None:
    """Depths agree with a search of all free cells, one by one."""
    mask = np.random.default_rng(3).random((17, 23)) < 0.8
    got = depths(mask)
    free = np.argwhere(~np.pad(mask, 1)) - 1
    for row, column in np.argwhere(mask):
        square = int(((free - (row, column)) ** 2).sum(axis=1).min())
        assert got[row, column] == int(np.floor(np.sqrt(square) * DEPTH_UNIT))
    assert (got[~mask] == 0).all()
