"""Areas, perimeters and centroids against closed forms, and bulges against the DXF reference."""

import math

import numpy as np
import pytest

from scalegen.outline.measure import centroid_mm
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved


# tan(theta / 4) by the DXF reference, LWPOLYLINE group code 42; values from a table of tangents.
@pytest.mark.parametrize(("degrees", "bulge"), [(30, 0.131652), (60, 0.267949), (90, 0.414214), (180, 1.0)])
def test_a_bulge_turns_through_its_angle(degrees: float, bulge: float) -> None:
    """The bulge of the reference must be read as the angle the reference gives it."""
    ring = Ring.from_rows([[0, 0, bulge], [10, 0, 0], [5, 20, 0]])
    assert math.degrees(ring.sweeps[0]) == pytest.approx(degrees, abs=2e-4)


def test_chord_of_ten_and_ninety_degrees() -> None:
    """R = 5 sqrt 2 = 7.071068, sagitta R (1 - cos 45) = 2.071068, segment R^2 (pi/2 - 1)/2 = 14.269908."""
    ring = Ring.from_rows([[0, 0, math.sqrt(2) - 1], [10, 0, 0]])
    assert ring.radii[0] == pytest.approx(7.071068, abs=5e-7)
    assert -ring.bounds_mm[1] == pytest.approx(2.071068, abs=5e-7)
    assert ring.area_mm2 == pytest.approx(14.269908, abs=5e-7)
    assert ring.centers[0] == pytest.approx([5, 5])


# Handbook table of plane figures (from memory): circle pi r^2, 2 pi r.
@pytest.mark.parametrize("cuts", [2, 3, 7])
def test_a_circle_in_any_number_of_arcs(cuts: int) -> None:
    """Area, perimeter and centre must not depend on how the circle is divided."""
    angle = 2 * np.pi * np.arange(cuts) / cuts + 0.3
    ring = Ring.from_rows(
        np.column_stack(
            [40 + 7 * np.cos(angle), -9 + 7 * np.sin(angle), np.full(cuts, np.tan(np.pi / 2 / cuts))]
        )
    )
    assert ring.area_mm2 == pytest.approx(49 * math.pi, rel=1e-13)
    assert ring.perimeter_mm == pytest.approx(14 * math.pi, rel=1e-13)
    assert centroid_mm(ring) == pytest.approx((40, -9), abs=1e-12)


def test_a_half_disc() -> None:
    """The centroid of a half disc lies 4 r / (3 pi) from its straight side (handbook, from memory)."""
    ring = Ring.from_rows([[-6, 0, 0], [6, 0, 1]])
    assert ring.area_mm2 == pytest.approx(18 * math.pi)
    assert centroid_mm(ring) == pytest.approx((0, 4 * 6 / (3 * math.pi)), abs=1e-12)


def test_an_annular_sector() -> None:
    """Area a (R^2 - r^2), centroid 2 sin a (R^3 - r^3) / (3 a (R^2 - r^2)) (handbook, from memory)."""
    outer, inner, half = 20.0, 12.0, 0.7
    c, s, b = math.cos(half), math.sin(half), math.tan(half / 2)
    ring = Ring.from_rows(
        [
            [outer * c, -outer * s, b],
            [outer * c, outer * s, 0],
            [inner * c, inner * s, -b],
            [inner * c, -inner * s, 0],
        ]
    )
    square = outer**2 - inner**2
    assert ring.area_mm2 == pytest.approx(half * square)
    assert ring.perimeter_mm == pytest.approx(2 * half * (outer + inner) + 2 * (outer - inner))
    far = 2 * math.sin(half) * (outer**3 - inner**3) / (3 * half * square)
    assert centroid_mm(ring) == pytest.approx((far, 0), abs=1e-12)


def test_an_ellipse_by_many_arcs() -> None:
    """Area pi a b; perimeter 9.688448 for axes 2 and 1 (complete elliptic integral, from memory)."""
    a, b, n = 2.0, 1.0, 800
    t = 2 * np.pi * np.arange(n) / n
    points = np.column_stack([a * np.cos(t), b * np.sin(t)])
    middle = np.column_stack([a * np.cos(t + np.pi / n), b * np.sin(t + np.pi / n)])
    chord = np.roll(points, -1, axis=0) - points
    rise = middle - (points + np.roll(points, -1, axis=0)) / 2
    sagitta = np.abs(rise[:, 0] * chord[:, 1] - rise[:, 1] * chord[:, 0]) / np.hypot(*chord.T)
    ring = Ring.from_rows(np.column_stack([points, 2 * sagitta / np.hypot(*chord.T)]))
    assert ring.area_mm2 == pytest.approx(math.pi * a * b, rel=1e-9)
    assert ring.perimeter_mm == pytest.approx(9.688448220547675, rel=1e-9)


def test_the_centroid_moves_with_the_ring() -> None:
    """Moving a ring far away must move its centroid by just as much, shallow arcs included."""
    ring = Ring.from_rows([[0, 0, 1e-4], [50, 0, 0.3], [50, 20, -0.01], [0, 20, 0]])
    x, y = centroid_mm(ring)
    far_x, far_y = centroid_mm(moved(ring, 5000, -3000))
    assert (far_x - 5000, far_y + 3000) == pytest.approx((x, y), abs=1e-8)


@pytest.mark.parametrize("turn", [0.00999, 0.01001, 1e-5])
def test_the_centroid_of_a_flat_segment(turn: float) -> None:
    """A flat circular segment's centroid lies 2/5 of the sagitta above its chord, the parabola's value."""
    ring = Ring.from_rows([[10, 0, math.tan(turn / 4)], [20, 0, 0]])
    sagitta = 5 * math.tan(turn / 4)
    # The next term of the series is of order turn squared.
    assert centroid_mm(ring) == pytest.approx((15, -0.4 * sagitta), rel=1e-4)
