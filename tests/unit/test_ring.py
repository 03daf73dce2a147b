"""The ring: what it refuses, which way it runs, and its measures."""

import numpy as np
import pytest
import shapely

from scalegen.errors import GeometryError
from scalegen.outline.ring import Ring, segment_excess

SQUARE = [[0, 0], [10, 0], [10, 10], [0, 10]]


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([1.0, 2.0], "rows of x, y"),
        ([[0, 0, 0, 0]] * 3, "rows of x, y"),
        ([[0, 0], [1, float("nan")], [1, 1]], "not a finite number"),
        ([[0, 0], [2e5, 0], [0, 1]], "beyond 100 m"),
        ([[0, 0], [1, 0]], "three points"),
        ([[0, 0, 0], [1, 0, 0]], "three points"),
        ([[0, 0], [1, 0], [1, 0], [0, 1]], "coincide at x = 1.000, y = 0.000"),
        ([[0, 0], [1, 0], [2, 0]], "no area"),
    ],
)
def test_faulty_rows_are_refused(rows: list[list[float]], said: str) -> None:
    """Rows that are no outline must be refused with a message that says why."""
    with pytest.raises(GeometryError, match=said):
        Ring.from_rows(rows)


def test_the_place_of_a_faulty_row_is_named() -> None:
    """The row that is not a number must be named by its index."""
    with pytest.raises(GeometryError) as caught:
        Ring.from_rows([[0, 0], [1, 0], [float("inf"), 1]], where="tang")
    assert caught.value.where == "tang[2]"


def test_a_repeated_end_point_is_dropped() -> None:
    """An outline closed by repeating its first point is the same outline."""
    ring = Ring.from_rows([*SQUARE, [0, 0]])
    assert len(ring) == 4
    assert ring.area_mm2 == pytest.approx(100)


def test_clockwise_rows_are_turned_round() -> None:
    """A clockwise outline must come out counter-clockwise, with its arcs bulging the same way."""
    rows = np.array([[0, 0, -0.2], [0, 10, 0], [10, 10, 0.3], [10, 0, 0]])
    ring = Ring.from_rows(rows)
    mirror = Ring.from_rows(rows * [-1, 1, -1])
    assert ring.area_mm2 > 0
    assert ring.area_mm2 == pytest.approx(mirror.area_mm2)
    # One arc of sagitta 1 outwards on the left, one of 1.5 inwards on the right (sagitta = b c / 2).
    assert ring.bounds_mm == pytest.approx((-1, 0, 10, 10))


def test_rows_cannot_be_changed() -> None:
    """A ring is frozen, its array too."""
    ring = Ring.from_rows(SQUARE)
    with pytest.raises(ValueError, match="read-only"):
        ring.rows[0, 0] = 5.0


def test_reversing_twice_gives_the_ring_back() -> None:
    """Travelling the other way round flips the area and nothing else."""
    ring = Ring.from_rows([[0, 0, 0.3], [10, 0, -0.2], [10, 10, 0]])
    back = ring.reversed()
    assert back.area_mm2 == pytest.approx(-ring.area_mm2)
    assert back.perimeter_mm == pytest.approx(ring.perimeter_mm)
    assert shapely.Polygon(back.flatten(1e-4)).equals_exact(
        shapely.Polygon(ring.flatten(1e-4)).reverse(), 1e-9
    ) or (
        shapely.Polygon(back.flatten(1e-4)).symmetric_difference(shapely.Polygon(ring.flatten(1e-4))).area
        < 1e-9
    )


@pytest.mark.parametrize("tolerance_mm", [0.2, 0.01, 1e-4])
def test_flattened_points_stay_within_the_tolerance(tolerance_mm: float) -> None:
    """Chords must stay within the tolerance of their arcs and every corner must be among the points."""
    ring = Ring.from_rows([[0, 0, 0.3], [10, 0, -0.2], [10, 10, 1.5]])
    points = ring.flatten(tolerance_mm)
    fine = shapely.points(ring.flatten(1e-7))
    worst = shapely.distance(fine, shapely.LinearRing(points)).max()
    assert worst <= tolerance_mm * (1 + 1e-6)
    assert all(np.hypot(*(points - corner).T).min() == 0 for corner in ring.starts)


@pytest.mark.parametrize("bulge", [1e-12, 1e-9, 1e-7, 1e-5])
def test_nearly_straight_arcs_keep_their_digits(bulge: float) -> None:
    """An arc with a radius of metres to light years must measure like the line it nearly is."""
    ring = Ring.from_rows([[100, 50, bulge], [150, 50, 0], [150, 60, 0], [100, 60, 0]])
    # Flat segment: area 2/3 chord times sagitta, sagitta = b c / 2 (any handbook).
    extra = 2 / 3 * 50 * (bulge * 50 / 2)
    assert ring.area_mm2 - 500 == pytest.approx(extra, rel=1e-3, abs=1e-10)
    assert ring.perimeter_mm == pytest.approx(120, abs=1e-7)
    assert ring.bounds_mm == pytest.approx((100, 50 - bulge * 25, 150, 60), abs=1e-9)
    assert np.abs(ring.flatten(1e-10)[:, 1] - 50)[ring.flatten(1e-10)[:, 1] < 55].max() <= bulge * 25 + 1e-11


def test_the_box_of_an_arc_reaches_its_turning_points() -> None:
    """A three-quarter circle's box must be that of the circle on the sides that it covers."""
    # Circle of radius 5 about (0, 0), from (5, 0) counter-clockwise to (0, -5).
    ring = Ring.from_rows([[5, 0, np.tan(3 * np.pi / 8)], [0, -5, 0]])
    assert ring.bounds_mm == pytest.approx((-5, -5, 5, 5))


def test_the_excess_is_continuous_where_the_series_takes_over() -> None:
    """Series and difference must agree where one hands over to the other."""
    t = np.array([0.00999999, 0.01000001])
    series = t**3 / 6 * (1 - t**2 / 20 * (1 - t**2 / 42))
    assert segment_excess(t) == pytest.approx(series, rel=1e-9)


def test_a_ring_describes_itself() -> None:
    """The text of a ring says how large it is."""
    assert repr(Ring.from_rows(SQUARE)) == "Ring(4 segments, 10.000 x 10.000 mm, 100.000 mm2)"
