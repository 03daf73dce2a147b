"""Questions asked of a ring, against an independent library."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.outline.measure import (
    distances_mm,
    inside,
    middles,
    nearest_mm,
    piece_distances_mm,
    same_way,
    sampled,
    shared_area_mm2,
)
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import Ring

FLAT_MM = 1e-5
OUTLINE = Ring.from_rows([[0, 0, 0.5], [40, 0, 0.2], [45, 20, 0], [30, 18, -0.6], [10, 22, 0], [-3, 15, 0.1]])


def polygon(ring: Ring) -> shapely.Polygon:
    """The ring in chords within 1e-5 mm."""
    return shapely.Polygon(ring.flatten(FLAT_MM))


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_distance_and_inside_of_random_points(seed: int) -> None:
    """Distances must agree to the flattening, and inside wherever a point is farther off than that."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(-20, 60, (200, 2))
    shape = polygon(OUTLINE)
    want = shapely.distance(shapely.points(points), shape.exterior)
    assert distances_mm(OUTLINE, points) == pytest.approx(want, abs=2 * FLAT_MM)
    sure = want > 2 * FLAT_MM
    got = inside(OUTLINE, points)
    assert (got == shapely.contains_xy(shape, points[:, 0], points[:, 1]))[sure].all()


def test_inside_an_outline_of_large_arcs() -> None:
    """A lobe of 350 degrees holds points far outside its chord."""
    ring = Ring.from_rows([[0, 0, np.tan(np.radians(350) / 4)], [1, 0, 0]])
    r = ring.radii[0]
    x, y = ring.centers[0]
    points = np.array([[x, y], [x, y + 0.99 * r], [x, y + 1.01 * r], [0.5, 0.01], [0.5, -1e-3]])
    want = shapely.contains_xy(polygon(ring), points[:, 0], points[:, 1])
    assert inside(ring, points).tolist() == want.tolist()


def test_inside_on_a_chord() -> None:
    """A point on the chord of an arc is inside like its neighbours, level, upright or slanting."""
    for turn in (0.0, 0.3, math.pi / 2, 2.0, math.pi):
        c, s = math.cos(turn), math.sin(turn)
        disc = Ring.from_rows([[3 + 2 * c, 2 + 2 * s, 1], [3 - 2 * c, 2 - 2 * s, 1]])
        on = np.array([[3 + k * c, 2 + k * s] for k in (-1.5, 0.0, 0.7, 1.9)])
        off = np.array([[3 + k * c, 2 + k * s] for k in (-2.5, 2.1, 50.0)])
        assert inside(disc, on).all()
        assert not inside(disc, off).any()
    hollow = Ring.from_rows([[0, 0, 0], [10, 0, 0], [10, 10, -0.5], [0, 10, 0]])
    assert inside(hollow, np.array([[5.0, 10.0], [1e-9, 9.0], [5.0, 7.4]])).tolist() == [False, True, True]


def test_inside_next_to_an_arc_of_a_huge_radius() -> None:
    """A point a micron off a nearly straight arc must come out on the right side of it."""
    ring = Ring.from_rows([[0, 0, 1e-9], [100, 0, 0], [100, 10, 0], [0, 10, 0]])
    assert inside(ring, np.array([[50, 1e-6], [50, -1e-6]])).tolist() == [True, False]


def test_the_nearest_piece_is_the_least_of_all() -> None:
    """The quick search must give exactly what looking at every piece gives, up to its limit."""
    points = np.random.default_rng(1).uniform(-20, 60, (500, 2))
    p = pieces_of(OUTLINE)
    every = piece_distances_mm(p, points).min(axis=1)
    assert nearest_mm(p, points) == pytest.approx(every, abs=1e-12)
    assert nearest_mm(p, points, 5.0) == pytest.approx(np.minimum(every, 5.0), abs=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.floats(-30, 70), st.floats(-30, 50), st.floats(0.5, 25))
def test_area_shared_with_a_circle(x: float, y: float, r: float) -> None:
    """The shared area must be that of an independent overlay, within flattening times the boundary."""
    disc = Ring.from_rows([[x + r, y, 1], [x - r, y, 1]])
    want = polygon(OUTLINE).intersection(polygon(disc)).area
    bound = 2 * FLAT_MM * (OUTLINE.perimeter_mm + disc.perimeter_mm)
    assert shared_area_mm2(OUTLINE, disc) == pytest.approx(want, abs=bound)


def test_area_shared_by_rings_that_run_along_each_other() -> None:
    """A shared side is counted once: half a square, a square with itself, and neighbours."""
    square = Ring.from_rows([[0, 0], [10, 0], [10, 10], [0, 10]])
    half = Ring.from_rows([[0, 0], [10, 0], [10, 5], [0, 5]])
    beside = Ring.from_rows([[10, 0], [20, 0], [20, 10], [10, 10]])
    assert shared_area_mm2(square, half) == pytest.approx(50)
    assert shared_area_mm2(square, square) == pytest.approx(100)
    assert shared_area_mm2(square, beside) == pytest.approx(0)


def test_samples_are_close_together_and_on_the_ring() -> None:
    """Samples must lie on the ring, no farther apart than asked, with every corner among them."""
    points = sampled(OUTLINE, 0.5)
    assert distances_mm(OUTLINE, points).max() < 1e-12
    assert np.hypot(*(np.roll(points, -1, axis=0) - points).T).max() <= 0.5 + 1e-12
    assert all(np.hypot(*(points - corner).T).min() < 1e-12 for corner in OUTLINE.starts)


def test_which_way_pieces_run() -> None:
    """A ring runs the way of itself and against its reverse."""
    p = pieces_of(OUTLINE)
    assert same_way(p, p).all()
    assert not same_way(p, pieces_of(OUTLINE.reversed())).any()
    assert same_way(p[:0], p).shape == (0,)
    assert middles(p).shape == (len(OUTLINE), 2)
