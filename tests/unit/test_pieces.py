"""Loose lines and arcs: points on them, distances, crossings and cuts."""

import math

import numpy as np
import pytest
import shapely

from scalegen.outline.pieces import (
    Pieces,
    box_pairs,
    crossings,
    gaps_mm,
    joined,
    pieces_of,
    right_of,
    sides,
)
from scalegen.outline.ring import FloatArray, Ring

ALL = np.arange


def every(a: Pieces, b: Pieces) -> tuple[np.ndarray, np.ndarray]:
    """All pairs of two groups."""
    i, j = np.meshgrid(ALL(len(a)), ALL(len(b)), indexing="ij")
    return i.ravel(), j.ravel()


def meets(a: Ring, b: Ring) -> FloatArray:
    """Where two rings meet, sorted by x and y."""
    p, q = pieces_of(a), pieces_of(b)
    pairs = every(p, q)
    which, ta, tb = crossings(p, q, pairs)
    on_a, on_b = p.at(pairs[0][which], ta), q.at(pairs[1][which], tb)
    assert on_a == pytest.approx(on_b, abs=1e-7)
    order = np.round(on_a, 6)
    return on_a[np.lexsort((order[:, 1], order[:, 0]))]


def circle(x: float, y: float, r: float) -> Ring:
    """A circle of two half circles."""
    return Ring.from_rows([[x + r, y, 1], [x - r, y, 1]])


def test_points_along_a_segment() -> None:
    """Shares of an arc must be shares of its angle, shares of a line of its length."""
    p = pieces_of(Ring.from_rows([[10, 0, 1], [-10, 0, 0]]))
    points = p.at(np.array([0, 0, 1]), np.array([0.25, 0.5, 0.25]))
    half = 10 / math.sqrt(2)
    assert points == pytest.approx(np.array([[half, half], [0, 10], [-5, 0]]))


def test_headings_turn_with_the_arc() -> None:
    """A counter-clockwise half circle leaves upwards and arrives downwards; right is outside."""
    p = pieces_of(Ring.from_rows([[10, 0, 1], [-10, 0, 0]]))
    assert p.heading(0.0) == pytest.approx(np.array([[0, 1], [1, 0]]))
    assert p.heading(1.0) == pytest.approx(np.array([[0, -1], [1, 0]]))
    assert right_of(p.heading(0.0)) == pytest.approx(np.array([[1, 0], [0, -1]]))


def test_line_and_circle() -> None:
    """The line x = 3 meets the circle of radius 5 at y = 4 and -4 (3-4-5 triangle)."""
    bar = Ring.from_rows([[3, -9], [20, -9], [20, 9], [3, 9]])
    assert meets(circle(0, 0, 5), bar) == pytest.approx(np.array([[3, -4], [3, 4]]))


def test_two_circles() -> None:
    """Circles of radius 5 about 0 and 6 on the x axis meet at x = 3, y = 4 and -4 (3-4-5 triangle)."""
    assert meets(circle(0, 0, 5), circle(6, 0, 5)) == pytest.approx(np.array([[3, -4], [3, 4]]))


def test_unequal_circles() -> None:
    """Radii 13 and 15 with centres 14 apart meet at x = 5, y = 12 and -12 (13-14-15 triangle)."""
    assert meets(circle(0, 0, 13), circle(14, 0, 15)) == pytest.approx(np.array([[5, -12], [5, 12]]))


@pytest.mark.parametrize("gap", [0.0, 4e-10, -4e-10])
def test_touching_circles_meet_in_one_place(gap: float) -> None:
    """Circles that touch to within rounding must meet, and where they touch."""
    found = meets(circle(0, 0, 5), circle(0, 8 + gap, 3))
    assert len(found) >= 1
    assert np.abs(found - [0, 5]).max() < 1e-4


def test_circles_that_miss() -> None:
    """Circles a hundredth of a micron apart, and concentric ones, don't meet."""
    assert len(meets(circle(0, 0, 5), circle(0, 8 + 1e-5, 3))) == 0
    assert len(meets(circle(0, 0, 5), circle(0, 0, 4))) == 0


@pytest.mark.parametrize("bulge", [0.0, 1e-12, 1e-9, 1e-7, 1e-5, 1e-3])
def test_nearly_straight_arcs_cross_where_they_should(bulge: float) -> None:
    """The crossing must slide along steadily as an arc is bent out of a line."""
    arc = Ring.from_rows([[-40, 0, bulge], [60, 0, 0], [60, 30, 0], [-40, 30, 0]])
    bar = Ring.from_rows([[9, -8, -bulge], [13, 8, 0], [12, 20, 0], [2, 20, 0]])
    found = meets(arc, bar)
    low = found[(found[:, 1] < 5) & (found[:, 0] > 9)]
    # Fixed point between the parabolas that both arcs are, to the third order of their bulge.
    x, y, along = 11.0, 0.0, 0.5
    for _ in range(50):
        y = -2 * bulge * (x + 40) * (60 - x) / 100
        along = (y + 8 - 8 * bulge * along * (1 - along)) / 16
        x = 9 + 4 * along - 2 * bulge * along * (1 - along) * 16
    assert low == pytest.approx(np.array([[x, y]]), abs=1e-9 + 30 * bulge**2)


def test_pieces_on_top_of_each_other_meet_at_their_ends() -> None:
    """Of two overlapping stretches, the ends of what they share must be found."""
    a = Ring.from_rows([[0, 0], [10, 0], [10, 5], [0, 5]])
    b = Ring.from_rows([[4, 0], [4, -5], [20, -5], [20, 0]])
    assert meets(a, b)[[0, -1]] == pytest.approx(np.array([[4, 0], [10, 0]]))


def test_distances_to_lines_and_arcs() -> None:
    """Distances must be those an independent library measures to the same curve in fine chords."""
    ring = Ring.from_rows([[0, 0, 0.6], [30, 0, 0], [32, 20, -0.4], [5, 22, 1.3]])
    rng = np.random.default_rng(7)
    points = rng.uniform(-30, 60, (300, 2))
    p = pieces_of(ring)
    for k in range(len(ring)):
        share = np.linspace(0, 1, 4001)
        line = shapely.LineString(p.at(np.full(4001, k), share))
        got = gaps_mm(p[np.full(300, k)], points)
        assert got == pytest.approx(shapely.distance(shapely.points(points), line), abs=1e-5)


def test_the_distance_from_the_centre_is_the_radius() -> None:
    """From the centre of an arc the distance is its radius, with all digits."""
    p = pieces_of(Ring.from_rows([[3, 0, 0.5], [0, 3, 0], [-1, 0, 0]]))
    assert gaps_mm(p[:1], p.center[:1])[0] == pytest.approx(p.radius[0], rel=1e-15)


def test_the_side_of_a_line_or_circle() -> None:
    """Right of the travel is positive: outside for a counter-clockwise circle."""
    p = pieces_of(Ring.from_rows([[10, 0, 1], [-10, 0, 0]]))
    got = sides(p, np.array([[0.0, 3.0], [0.0, 12.0], [0.0, -1.0]]))
    assert (got[:, 0] > 0).tolist() == [False, True, False]
    assert (got[:, 1] > 0).tolist() == [False, False, True]


def test_cutting_keeps_the_length() -> None:
    """Cut pieces must add up to what was cut, and follow each other."""
    p = pieces_of(Ring.from_rows([[10, 0, 1], [-10, 0, 0]]))
    cut = p.cut(np.array([0, 0, 1]), np.array([0.7, 0.2, 0.5]))
    assert len(cut) == 5
    assert cut.lengths.sum() == pytest.approx(p.lengths.sum())
    assert cut.end == pytest.approx(np.roll(cut.start, -1, axis=0))
    assert cut.source.tolist() == [0, 0, 0, 1, 1]


def test_shifting_moves_every_piece_to_its_right() -> None:
    """A shifted circle has a larger radius, a shifted line lies beside itself."""
    p = pieces_of(Ring.from_rows([[10, 0, 1], [-10, 0, 0]])).shifted(2.0)
    assert p.radius.tolist() == [12.0, 0.0]
    assert p.start == pytest.approx(np.array([[12, 0], [-10, -2]]))


def test_boxes_hold_their_pieces() -> None:
    """Every point of a piece must lie in its box, and the box must be tight."""
    ring = Ring.from_rows([[0, 0, 0.6], [30, 0, 0], [32, 20, -1.4], [5, 22, 2.3]])
    p = pieces_of(ring)
    boxes = p.boxes()
    for k in range(len(p)):
        points = p.at(np.full(2001, k), np.linspace(0, 1, 2001))
        tight = np.concatenate([points.min(axis=0), points.max(axis=0)])
        assert boxes[k] == pytest.approx(tight, abs=1e-4)


def test_pairs_of_boxes() -> None:
    """Only pieces whose boxes touch are paired."""
    a = pieces_of(Ring.from_rows([[0, 0], [10, 0], [10, 10], [0, 10]]))
    b = pieces_of(Ring.from_rows([[20, 1], [30, 1], [30, 9]]))
    assert len(box_pairs(a, b)[0]) == 0
    i, j = box_pairs(a, a)
    # Each side of a square touches itself and its two neighbours.
    assert len(i) == 12
    assert {(int(p), int(q)) for p, q in zip(i, j, strict=True)}.isdisjoint({(0, 2), (1, 3)})


def test_joining_keeps_the_order() -> None:
    """Joined groups follow each other."""
    a = pieces_of(circle(0, 0, 1))
    b = pieces_of(circle(9, 0, 2))
    assert joined(a, b).radius == pytest.approx(np.array([1, 1, 2, 2]))
