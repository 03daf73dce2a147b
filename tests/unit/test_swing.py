"""Arcs that swing from one side of a smooth stretch to the other."""

import itertools

import numpy as np
import pytest
import shapely

from scalegen.outline.cover import Smooth
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.swing import swung

TOLERANCE_MM = 0.005


def wave(count: int = 500) -> Smooth:
    """Points of y = 6 sin x / 12 over 110 mm; the directions are those of its derivative."""
    x = np.linspace(0, 110, count)
    points = np.column_stack([x, 6 * np.sin(x / 12)])
    return Smooth(points=points, angles_rad=np.arctan(np.cos(x / 12) / 2), free=(True, True))


def oval(count: int = 900) -> Smooth:
    """Points once around an ellipse with half axes 55 and 13 mm, the last one the first."""
    t = np.linspace(0, 2 * np.pi, count)
    points = np.column_stack([55 * np.cos(t), 13 * np.sin(t)])
    points[-1] = points[0]
    angles = np.unwrap(np.arctan2(13 * np.cos(t), -55 * np.sin(t)))
    return Smooth(points=points, angles_rad=angles, free=(False, False), closed=True)


def directions(rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Directions at both ends of each arc; the bulge is the tangent of a quarter of its angle."""
    step = np.diff(rows[:, :2], axis=0)
    chord, half = np.arctan2(step[:, 1], step[:, 0]), 2 * np.arctan(rows[:-1, 2])
    return chord - half, chord + half


def apart(rows: FloatArray, points: FloatArray) -> float:
    """Distance between arcs and polyline both ways, by shapely (GEOS) on finely flattened arcs."""
    parts = [Ring(np.array([a, [*b[:2], 0.0]])).flatten(1e-5)[:-1] for a, b in itertools.pairwise(rows)]
    ours, theirs = shapely.LineString(np.vstack([*parts, rows[-1:, :2]])), shapely.LineString(points)
    one = shapely.distance(shapely.points(shapely.get_coordinates(ours)), theirs).max()
    return max(float(one), float(shapely.distance(shapely.points(points), ours).max()))


@pytest.mark.parametrize("smooth", [wave(), oval()], ids=["open", "closed"])
def test_arcs_stay_within_the_tolerance_and_go_on_from_each_other(smooth: Smooth) -> None:
    """Both ways within the tolerance, as told, no kink above 1e-6 rad, ends where the points' ends are."""
    found = swung(smooth, TOLERANCE_MM)
    assert found is not None
    assert apart(found.rows, smooth.points) <= TOLERANCE_MM + 2e-5
    assert found.deviation_mm == pytest.approx(apart(found.rows, smooth.points), rel=0.05)
    start, end = directions(found.rows)
    jumps = np.append(start[1:], start[0] if smooth.closed else end[-1]) - end
    assert np.abs(np.angle(np.exp(1j * jumps))).max() < 1e-6
    assert found.rows[[0, -1], :2] == pytest.approx(smooth.points[[0, -1]], abs=1e-12)


def test_an_ellipse_takes_not_many_more_arcs_than_the_best_chain() -> None:
    """At most a fifth more than the integral of (k' / (72 sqrt 3 e))^(1/3) along it, and never fewer.

    Source: arcs along which curvature grows evenly by k' per mm leave k' a^3 / 6 times the third Bernoulli
    polynomial, whose largest value is sqrt(3) / 36 (Abramowitz and Stegun, chapter 23, from memory).
    """
    t = np.linspace(0, 2 * np.pi, 20_001)
    speed = np.hypot(55 * np.sin(t), 13 * np.cos(t))
    grows = np.abs(np.gradient(55 * 13 / speed**3, t)) / speed
    best = np.trapezoid((grows / (72 * np.sqrt(3) * TOLERANCE_MM)) ** (1 / 3) * speed, t)
    found = swung(oval(), TOLERANCE_MM)
    assert found is not None
    assert best <= len(found.rows) - 1 <= 1.2 * best


def test_directions_that_are_given_are_kept() -> None:
    """Ends that are not free must begin and end in the directions given."""
    free = wave()
    fixed = Smooth(points=free.points, angles_rad=free.angles_rad, free=(False, False))
    found = swung(fixed, TOLERANCE_MM)
    assert found is not None
    start, end = directions(found.rows)
    assert (start[0], end[-1]) == pytest.approx((fixed.angles_rad[0], fixed.angles_rad[-1]), abs=1e-9)


def test_the_last_digits_of_points_decide_nothing() -> None:
    """Points moved by some 1e-13 mm must give the same arcs."""
    smooth = oval()
    shaken = smooth.points + np.random.default_rng(2).uniform(-1e-13, 1e-13, smooth.points.shape)
    shaken[-1] = shaken[0]
    other = Smooth(points=shaken, angles_rad=smooth.angles_rad, free=smooth.free, closed=True)
    one, two = swung(smooth, TOLERANCE_MM), swung(other, TOLERANCE_MM)
    assert one is not None
    assert two is not None
    assert two.rows == pytest.approx(one.rows, abs=1e-7)


def test_points_no_arc_can_follow_give_nothing() -> None:
    """Where neighbouring points zigzag, nothing must be returned."""
    points = np.array([[0.0, 0], [10, 0], [10, 10], [20, 10], [20, 0], [5, 5], [30, 3]])
    assert swung(Smooth(points=points, angles_rad=np.zeros(7), free=(False, False)), 1e-4) is None
