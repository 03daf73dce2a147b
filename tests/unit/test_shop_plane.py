"""Planes through readings, readings that stand out, and the blank at a place."""

import math
import random as chance
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scalegen.shop.plane import fit_plane, outliers
from scalegen.shop.readings import Reading

PLACES = st.floats(-500, 500).map(lambda value: round(value, 3))
SLOPES = st.floats(-0.01, 0.01)
NOISE = (0.01, -0.012, 0.004, 0.009, -0.007, -0.003, 0.011, -0.008, 0.002, -0.006, 0.005, 0.001)


def placed(rows: Sequence[tuple[float, float, float]]) -> list[Reading]:
    """Readings from rows x, y, thickness."""
    return [Reading(x_mm=x, y_mm=y, thickness_mm=t) for x, y, t in rows]


def bare(*thicknesses_mm: float) -> list[Reading]:
    """Readings without places."""
    return [Reading(thickness_mm=each) for each in thicknesses_mm]


def grid(columns: int, rows: int) -> list[Reading]:
    """A tilted blank of 300 x 100 mm, measured with a hundredth or so of noise."""
    spots = [(300 * i / (columns - 1), 100 * j / (rows - 1)) for i in range(columns) for j in range(rows)]
    return placed(
        [(x, y, 7 + 0.001 * x - 0.002 * y + NOISE[k % len(NOISE)]) for k, (x, y) in enumerate(spots)]
    )


def moved_off(readings: Sequence[Reading], index: int, by_mm: float) -> list[Reading]:
    """The same readings with one of them misread."""
    changed = list(readings)
    old = changed[index]
    changed[index] = Reading(x_mm=old.x_mm, y_mm=old.y_mm, thickness_mm=old.thickness_mm + by_mm)
    return changed


@st.composite
def spread_places(draw: st.DrawFn) -> list[tuple[float, float]]:
    """3 to 12 places that span a face: three corners of a blank, and others anywhere."""
    x, y = draw(PLACES), draw(PLACES)
    more = draw(st.lists(st.tuples(PLACES, PLACES), max_size=9))
    return [(x, y), (x + 200, y), (x, y + 100), *more]


@settings(deadline=None, max_examples=60)
@given(places=spread_places(), slope_x=SLOPES, slope_y=SLOPES, thickness=st.floats(20, 40))
def test_planar_readings_give_their_plane(
    places: list[tuple[float, float]], slope_x: float, slope_y: float, thickness: float
) -> None:
    """Readings that lie in a plane give it back to 1e-9 mm, and no residual."""
    plane = fit_plane(placed([(x, y, thickness + slope_x * x + slope_y * y) for x, y in places]))
    assume(plane is not None)
    assert plane is not None
    assert 1000 * plane.slope_x == pytest.approx(1000 * slope_x, abs=1e-9)
    assert 1000 * plane.slope_y == pytest.approx(1000 * slope_y, abs=1e-9)
    assert plane.at(37.0, -12.0) == pytest.approx(thickness + 37 * slope_x - 12 * slope_y, abs=1e-9)
    assert plane.largest_mm < 1e-9


def test_three_corners_are_enough_for_a_plane() -> None:
    """The plane through three readings goes through them; its middle is the mean of their places."""
    plane = fit_plane(placed([(0, 0, 7.0), (300, 0, 7.3), (0, 90, 7.6)]))
    assert plane is not None
    assert plane.middle_mm == pytest.approx((100, 30))
    assert plane.thickness_mm == pytest.approx(7.3)
    assert plane.at(300, 90) == pytest.approx(7.9)


@settings(deadline=None, max_examples=60)
@given(
    places=spread_places(),
    noise=st.lists(st.floats(-0.2, 0.2), min_size=12, max_size=12),
    random=st.randoms(use_true_random=False),
)
def test_the_order_of_readings_makes_no_difference(
    places: list[tuple[float, float]], noise: list[float], random: chance.Random
) -> None:
    """Shuffled readings give the very same plane and the same readings that stand out."""
    readings = placed([(x, y, 7 + off) for (x, y), off in zip(places, noise, strict=False)])
    shuffled = list(readings)
    random.shuffle(shuffled)
    plane = fit_plane(readings)
    assert fit_plane(shuffled) == plane
    once = sorted(map(repr, (readings[k] for k in outliers(readings, plane))))
    assert sorted(map(repr, (shuffled[k] for k in outliers(shuffled, plane)))) == once


@settings(deadline=None, max_examples=60)
@given(
    places=spread_places(),
    noise=st.lists(st.floats(-0.2, 0.2), min_size=12, max_size=12),
    turn=st.floats(-math.pi, math.pi),
    shift=st.tuples(PLACES, PLACES),
)
def test_moved_and_turned_places_give_the_same_plane(
    places: list[tuple[float, float]], noise: list[float], turn: float, shift: tuple[float, float]
) -> None:
    """Where the zero point lies and how x points does not change the thickness at a place of the blank."""

    def carried(x: float, y: float) -> tuple[float, float]:
        c, s = math.cos(turn), math.sin(turn)
        return c * x - s * y + shift[0], s * x + c * y + shift[1]

    rows = [(x, y, 7 + off) for (x, y), off in zip(places, noise, strict=False)]
    plane = fit_plane(placed(rows))
    other = fit_plane(placed([(*carried(x, y), t) for x, y, t in rows]))
    assume(plane is not None)
    assume(other is not None)
    assert plane is not None
    assert other is not None
    for x, y, _ in rows:
        assert other.at(*carried(x, y)) == pytest.approx(plane.at(x, y), abs=1e-9)
    assert other.rms_mm == pytest.approx(plane.rms_mm, abs=1e-9)


@pytest.mark.parametrize(
    "readings",
    [
        [],
        placed([(0, 0, 7), (300, 100, 7.1)]),
        placed([(0, 0, 7), (100, 50, 7.1), (200, 100, 7.3), (300, 150, 7.2)]),
        placed([(0, 10, 7), (150, 12, 7.1), (300, 10, 7.2)]),
        placed([(5, 5, 7), (5, 5, 7.1), (5, 5, 7.2)]),
        placed([(0, 0, 7), (1, 0, 7.1), (0, 1, 7.2)]),
        bare(7, 7.1, 7.2, 7.3),
    ],
    ids=["none", "two", "line", "nearly a line", "one place", "within a jaw", "no places"],
)
def test_no_plane(readings: list[Reading]) -> None:
    """Too few places, places in one line or at one spot, and readings without places give no plane."""
    assert fit_plane(readings) is None


def test_readings_without_a_place_do_not_bend_the_plane() -> None:
    """Only readings with a place are fitted."""
    rows = placed([(0, 0, 7.0), (300, 0, 7.3), (0, 90, 7.6)])
    assert fit_plane([*rows, *bare(20.0)]) == fit_plane(rows)


@pytest.mark.parametrize(
    ("columns", "rows", "far_mm"),
    [
        (3, 2, 0.5),
        (3, 2, -0.5),
        (4, 2, 0.5),
        (4, 2, -0.3),
        (3, 3, -0.5),
        (3, 3, 0.3),
        (5, 3, 0.2),
        (5, 4, -0.2),
    ],
)
def test_a_misread_place_stands_out_wherever_it_is(columns: int, rows: int, far_mm: float) -> None:
    """One reading far off the plane of the others is found at every place, and it alone."""
    sound = grid(columns, rows)
    assert outliers(sound, fit_plane(sound)) == ()
    for k in range(len(sound)):
        readings = moved_off(sound, k, far_mm)
        assert outliers(readings, fit_plane(readings)) == (k,)


def test_two_of_many_stand_out() -> None:
    """Two readings far off at one end, of twenty, are both found."""
    readings = moved_off(moved_off(grid(5, 4), 0, 0.6), 1, 0.7)
    assert outliers(readings, fit_plane(readings)) == (0, 1)


def test_a_tilt_is_no_outlier() -> None:
    """A blank that is thicker at one end stands as it is, though its end is far off the middle reading."""
    rows = [(x, y, 7 + (0.6 if x == 300 else 0.002 * x / 3)) for x in (0, 100, 200, 300) for y in (0, 80)]
    flat_end = placed(rows)
    tilted = placed([(x, y, 7 + 0.004 * x) for x, y, _ in rows])
    assert outliers(tilted, fit_plane(tilted)) == ()
    assert outliers(flat_end, fit_plane(flat_end)) != ()


def test_a_reading_without_place_is_judged_by_the_others_thicknesses() -> None:
    """Beside a plane, a reading without a place still stands out when it is far off them all."""
    readings = [*grid(4, 2), *bare(9.5)]
    assert outliers(readings, fit_plane(readings)) == (8,)


@pytest.mark.parametrize(
    ("thicknesses_mm", "expected"),
    [
        ((7.0, 7.0, 7.0, 9.0), ()),
        ((7.0, 7.0, 7.0, 7.0, 9.0), (4,)),
        ((7.01, 7.01, 7.01, 7.01, 7.01, 7.02), ()),
        ((7.0, 7.0, 7.0, 7.0, 7.0, 7.03), ()),
        ((7.0, 7.0, 7.0, 7.0, 7.0, 7.04), (5,)),
        ((7.0, 7.0, 6.5, 7.0, 7.01, 7.02), (2,)),
        ((7.0, 7.1, 7.2, 7.3, 7.4), ()),
        ((7.0, 7.0, 7.0, 7.0, 7.0), ()),
    ],
)
def test_readings_without_places_that_stand_out(
    thicknesses_mm: tuple[float, ...], expected: tuple[int, ...]
) -> None:
    """From five readings on, one more than 0.03 mm off stands out where the others agree."""
    assert outliers(bare(*thicknesses_mm), None) == expected


def test_many_readings_are_judged_as_well() -> None:
    """Of 2,000 readings the three misread ones are found, and nothing else."""
    spots = [(300 * i / 49, 100 * j / 39) for i in range(50) for j in range(40)]
    noise = 0.02 * np.sin(np.arange(2000.0) ** 2)
    readings = placed([(x, y, 7 + 0.001 * x + e) for (x, y), e in zip(spots, noise.tolist(), strict=True)])
    for k in (3, 900, 1999):
        readings = moved_off(readings, k, -0.4)
    assert outliers(readings, fit_plane(readings)) == (3, 900, 1999)
