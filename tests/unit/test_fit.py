"""Fitting lines and arcs to points: tolerance, smoothness, corners, few segments, no slivers."""

from math import gamma

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.errors import GeometryError
from scalegen.outline.biarc import distances
from scalegen.outline.fit import Fit, fit_arcs
from scalegen.outline.ring import FloatArray, Ring

TOLERANCE_MM = 0.005


def around(count: int, first: float = 0.1) -> FloatArray:
    """Angles once around."""
    return np.linspace(0, 2 * np.pi, count, endpoint=False) + first


def ellipse(a: float, b: float, count: int = 1000) -> FloatArray:
    """Points on an ellipse."""
    t = around(count)
    return np.column_stack([a * np.cos(t), b * np.sin(t)])


def superellipse(a: float, b: float, n: float, count: int = 1500) -> FloatArray:
    """Points on |x/a|^n + |y/b|^n = 1."""
    c, s = np.cos(around(count, 0.01)), np.sin(around(count, 0.01))
    return np.column_stack([a * np.sign(c) * np.abs(c) ** (2 / n), b * np.sign(s) * np.abs(s) ** (2 / n)])


def spline(count: int = 60) -> FloatArray:
    """Points on a closed uniform cubic B-spline shaped like a handle, 110 mm long."""
    x = [-2, 10, 35, 60, 85, 108, 116, 108, 80, 50, 20, 0]
    y = [0, -6, -10, -4, -9, -14, 0, 14, 9, 11, 9, 8]
    control = np.column_stack([x, y]).astype(float)
    t = np.linspace(0, 1, count, endpoint=False)[:, None]
    weights = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
    parts = [
        sum(w * p for w, p in zip(weights, np.roll(control, -k, axis=0)[:4], strict=True)) / 6
        for k in range(len(control))
    ]
    return np.vstack(parts)


def largest_kink(fit: Fit) -> float:
    """Largest angle between neighbouring segments, from the radii at the joint; independent of the fit."""
    ring = Ring(fit.rows.copy())
    step = ring.ends - ring.starts
    chord, half = np.arctan2(step[:, 1], step[:, 0]), ring.sweeps / 2
    jump = np.roll(chord - half, -1) - (chord + half)
    return float(np.abs(np.angle(np.exp(1j * jump))).max())


def apart(fit: Fit, points: FloatArray) -> float:
    """Distance between the fit and the polyline both ways, by shapely on a finely flattened ring."""
    ours = shapely.Polygon(fit.ring.flatten(1e-5)).exterior
    theirs = shapely.Polygon(points).exterior
    one = shapely.distance(shapely.points(shapely.get_coordinates(ours)), theirs).max()
    return max(float(one), float(shapely.distance(shapely.points(points), ours).max()))


# Areas: pi r^2; pi a b; superellipse 4 a b G(1 + 1/n)^2 / G(1 + 2/n) (Dirichlet's integral, from memory).
@pytest.mark.parametrize(
    ("points", "area", "most"),
    [
        pytest.param(ellipse(20, 20, 400), np.pi * 400, 4, id="circle"),
        pytest.param(ellipse(3, 3, 100)[::-1], np.pi * 9, 4, id="small circle, clockwise"),
        pytest.param(ellipse(55, 13.5), np.pi * 55 * 13.5, 56, id="ellipse"),
        pytest.param(ellipse(55, 13.5, 300), np.pi * 55 * 13.5, 60, id="ellipse with few points"),
        *(
            pytest.param(
                superellipse(55, 13.5, n),
                4 * 55 * 13.5 * gamma(1 + 1 / n) ** 2 / gamma(1 + 2 / n),
                64,
                id=f"superellipse {n}",
            )
            for n in (2.5, 3, 4)
        ),
    ],
)
def test_smooth_curves_keep_their_area_and_stay_smooth(points: FloatArray, area: float, most: int) -> None:
    """Area must agree within tolerance times perimeter, joints within 1e-6 rad, with few segments."""
    fit = fit_arcs(points, TOLERANCE_MM)
    ring = fit.ring
    assert abs(ring.area_mm2 - area) < TOLERANCE_MM * ring.perimeter_mm / 4
    assert apart(fit, points) <= TOLERANCE_MM + 1e-5
    assert largest_kink(fit) < 1e-6
    assert fit.kinks == ()
    assert len(ring) <= most
    assert ring.lengths.min() > 0.4


@pytest.mark.parametrize("decimals", [12, 3])
def test_a_spline_outline_needs_few_segments(decimals: int) -> None:
    """A handle-shaped spline, also with rounded coordinates, must take at most 40 segments per 160 mm."""
    points = spline().round(decimals)
    fit = fit_arcs(points, TOLERANCE_MM)
    assert apart(fit, points) <= TOLERANCE_MM + 1e-5
    assert largest_kink(fit) < 1e-6
    assert len(fit.rows) <= 40 * fit.ring.perimeter_mm / 160
    assert fit.ring.lengths.min() > 0.4


def test_the_deviation_told_is_the_one_there_is() -> None:
    """The deviation reported must agree with shapely's distances, and grow with the tolerance."""
    points = ellipse(55, 13.5)
    told = []
    for tolerance in (0.002, 0.02):
        fit = fit_arcs(points, tolerance)
        assert fit.deviation_mm == pytest.approx(apart(fit, points), rel=0.05)
        assert 0.5 * tolerance < fit.deviation_mm <= tolerance
        told.append(len(fit.rows))
    assert told[0] > 1.6 * told[1]


@pytest.mark.parametrize("flatten_mm", [0.005, 0.001, 0.0002])
def test_flattened_lines_and_arcs_come_back_as_they_were(flatten_mm: float) -> None:
    """A rounded rectangle and a stadium, flattened, must come back with their own lines and arcs."""
    b = np.tan(np.pi / 8)
    corners = [
        (5, 0, 0),
        (95, 0, b),
        (100, 5, 0),
        (100, 25, b),
        (95, 30, 0),
        (5, 30, b),
        (0, 25, 0),
        (0, 5, b),
    ]
    for rows in (corners, [(0, 0, 0), (90, 0, 1), (90, 24, 0), (0, 24, 1)]):
        ring = Ring.from_rows(rows)
        fit = fit_arcs(ring.flatten(flatten_mm), TOLERANCE_MM)
        assert len(fit.rows) == len(rows)
        assert sorted(fit.rows[:, 2]) == pytest.approx(sorted(row[2] for row in rows), abs=1e-9)
        assert fit.ring.area_mm2 == pytest.approx(ring.area_mm2, rel=1e-9)


@pytest.mark.parametrize("per_side", [1, 150])
def test_corners_stay_corners(per_side: int) -> None:
    """A rectangle, from its corners alone or from many points, must come back as four lines."""
    corners = np.array([[0, 0], [100, 0], [100, 30], [0, 30]], dtype=float)
    sides = [
        np.linspace(a, b, per_side, endpoint=False)
        for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)
    ]
    fit = fit_arcs(np.vstack(sides))
    assert len(fit.rows) == 4
    assert fit.kinks == (0, 1, 2, 3)
    assert sorted(map(tuple, fit.rows[:, :2])) == sorted(map(tuple, corners))
    assert not fit.rows[:, 2].any()


def test_a_corner_between_curves_is_kept_in_place() -> None:
    """Two sine arches that meet in points must keep just those two corners; area 2 (a + b) l / pi."""
    x = np.linspace(0, 1, 300)
    upper, lower = 20 * np.sin(np.pi * x), -10 * np.sin(np.pi * x)
    points = np.vstack([np.column_stack([100 * x, lower])[:-1], np.column_stack([100 * x, upper])[:0:-1]])
    fit = fit_arcs(points)
    assert len(fit.kinks) == 2
    assert sorted(fit.rows[list(fit.kinks), 0]) == pytest.approx([0, 100])
    assert fit.ring.area_mm2 == pytest.approx(
        30 * 100 * 2 / np.pi, abs=TOLERANCE_MM * fit.ring.perimeter_mm / 4
    )


def test_a_half_circle_on_its_diameter_leaves_no_stub() -> None:
    """A half disc must come back as one line and at most two arcs."""
    t = np.linspace(0, np.pi, 300)
    fit = fit_arcs(np.column_stack([30 * np.cos(t), 30 * np.sin(t)]))
    assert len(fit.rows) <= 3
    assert np.count_nonzero(fit.rows[:, 2] == 0) == 1
    assert fit.ring.area_mm2 == pytest.approx(450 * np.pi, rel=1e-4)


def test_an_open_chain_keeps_its_ends() -> None:
    """An open curve must begin and end where its points do, and have no ring."""
    x = np.linspace(0, 1, 200)
    points = np.column_stack([100 * x, 8 * np.sin(3 * x)])
    fit = fit_arcs(points, closed=False)
    assert fit.rows[[0, -1], :2] == pytest.approx(points[[0, -1]])
    assert fit.kinks == ()
    with pytest.raises(GeometryError, match="open chain"):
        _ = fit.ring


def test_noise_within_the_tolerance_does_not_break_the_curve_up() -> None:
    """Points off by up to a third of the tolerance must still give a smooth fit within it."""
    points = spline()
    noisy = points + np.random.default_rng(7).uniform(-0.003, 0.003, points.shape)
    fit = fit_arcs(noisy, 0.01)
    assert fit.kinks == ()
    assert apart(fit, noisy) <= 0.01 + 1e-5
    assert len(fit.rows) < 80


def test_edges_too_long_for_the_tolerance_stay_straight() -> None:
    """A polygon of twelve long sides must not be blown up into a circle."""
    fit = fit_arcs(ellipse(20, 20, 12))
    assert len(fit.rows) == 12
    assert fit.ring.area_mm2 == pytest.approx(12 / 2 * 400 * np.sin(2 * np.pi / 12))


@pytest.mark.parametrize(
    "points", [np.zeros((5, 2)), np.zeros((5, 3)), np.array([[0, 0], [1, np.nan], [2, 0]])]
)
def test_points_that_make_no_curve_are_refused(points: FloatArray) -> None:
    """Coincident, three-dimensional and infinite points must be a geometry error."""
    with pytest.raises(GeometryError):
        fit_arcs(points)


def test_distances_agree_with_shapely() -> None:
    """Distances to a line and arcs of either hand must be those to the finely flattened segments."""
    segments = np.array([[0, 0, 10, 0, 0], [10, 0, 10, 8, 0.9], [10, 8, 0, 8, -0.4], [0, 8, 0, 0, 1e-4]])
    points = np.random.default_rng(1).uniform(-10, 20, (200, 2))
    found = distances(points, segments)
    for k, (x0, y0, x1, y1, bulge) in enumerate(segments):
        ring = Ring(np.array([[x0, y0, bulge], [x1, y1, 0.0]]))
        line = shapely.LineString(np.vstack([ring.flatten(1e-7), [[x1, y1]]]))
        assert found[:, k] == pytest.approx(shapely.distance(shapely.points(points), line), abs=2e-7)


@settings(max_examples=12, deadline=None)
@given(
    waves=st.lists(st.tuples(st.floats(-0.2, 0.2), st.floats(0, 6.3)), min_size=1, max_size=4),
    count=st.integers(600, 1000),
    wide=st.floats(12, 50),
)
def test_any_smooth_closed_curve_is_fitted_within_tolerance(
    waves: list[tuple[float, float]], count: int, wide: float
) -> None:
    """Whatever the smooth curve, the fit must be smooth, within tolerance and close in area."""
    t = around(count)
    radius = 1 + sum(
        size / (m + 2) ** 1.5 * np.cos((m + 2) * t + turn) for m, (size, turn) in enumerate(waves)
    )
    points = np.column_stack([55 * radius * np.cos(t), wide * radius * np.sin(t)])
    fit = fit_arcs(points, TOLERANCE_MM)
    assert apart(fit, points) <= TOLERANCE_MM + 1e-5
    assert fit.deviation_mm <= TOLERANCE_MM
    assert largest_kink(fit) < 1e-6
    assert abs(fit.ring.area_mm2 - shapely.Polygon(points).area) < TOLERANCE_MM * fit.ring.perimeter_mm
