"""Areas of parallel curves against Steiner's formula.

Source: J. Steiner, Ueber parallele Flaechen (1840), in the plane A(d) = A + P d + pi d^2 for convex
outlines, from memory; shrinking a convex polygon by d takes P d - d^2 sum cot(half the corner).
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.outline.offset import grow, opened, shrink
from scalegen.outline.ring import Ring


def convex(seed: int) -> Ring:
    """A convex polygon: points on an ellipse."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(4, 20))))
    angle = angle[np.append(np.diff(angle), 1.0) > 0.05]
    return Ring.from_rows(np.column_stack([55 * np.cos(angle), 14 * np.sin(angle)]))


def test_rectangle_of_100_by_25_grown_by_a_sixteenth() -> None:
    """100 x 25 grown by 1.5875: 2500 + 250 a + pi a^2 = 2904.79 mm2."""
    ring = Ring.from_rows([[0, 0], [100, 0], [100, 25], [0, 25]])
    assert grow(ring, 1.5875).area_mm2 == pytest.approx(2904.79, abs=5e-3)
    assert grow(ring, 1.5875).area_mm2 == pytest.approx(2500 + 250 * 1.5875 + math.pi * 1.5875**2, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.01, 20))
def test_a_convex_outline_grows_by_the_formula(seed: int, d: float) -> None:
    """Area and perimeter of a grown convex polygon: A + P d + pi d^2, P + 2 pi d."""
    ring = convex(seed)
    grown = grow(ring, d)
    assert grown.area_mm2 == pytest.approx(ring.area_mm2 + ring.perimeter_mm * d + math.pi * d * d, rel=1e-9)
    assert grown.perimeter_mm == pytest.approx(ring.perimeter_mm + 2 * math.pi * d, rel=1e-9)


@pytest.mark.parametrize("d", [0.3, 2.0, 4.9])
def test_a_stadium_grows_and_shrinks_by_the_formula(d: float) -> None:
    """A smooth convex outline obeys the formula both ways while no arc is used up."""
    ring = Ring.from_rows([[0, -5, 0], [40, -5, 1], [40, 5, 0], [0, 5, 1]])
    for sign in (1, -1):
        (got,) = (grow(ring, d),) if sign > 0 else shrink(ring, d)
        assert got.area_mm2 == pytest.approx(ring.area_mm2 + sign * ring.perimeter_mm * d + math.pi * d * d)


@pytest.mark.parametrize("corners", [3, 4, 5, 6, 12])
def test_a_regular_polygon_shrinks_to_a_smaller_one(corners: int) -> None:
    """A regular polygon of inner radius r shrunk by d is the one of inner radius r - d."""
    angle = 2 * np.pi * np.arange(corners) / corners + 0.2
    inner = 20 * math.cos(math.pi / corners)
    ring = Ring.from_rows(20 * np.column_stack([np.cos(angle), np.sin(angle)]))
    (got,) = shrink(ring, 4.0)
    assert got.area_mm2 == pytest.approx(ring.area_mm2 * ((inner - 4) / inner) ** 2, rel=1e-9)
    assert len(got) == corners


@pytest.mark.parametrize("corners", [3, 4, 6])
def test_opening_rounds_the_corners_of_a_polygon(corners: int) -> None:
    """A disc leaves r^2 (tan(t/2) - t/2) in a corner that turns by t: what an inside cutter leaves too."""
    angle = 2 * np.pi * np.arange(corners) / corners
    ring = Ring.from_rows(20 * np.column_stack([np.cos(angle), np.sin(angle)]))
    turn = 2 * math.pi / corners
    (got,) = opened(ring, 3.0)
    lost = corners * 9 * (math.tan(turn / 2) - turn / 2)
    assert got.area_mm2 == pytest.approx(ring.area_mm2 - lost, rel=1e-9)
    assert got.radii[np.isfinite(got.radii)] == pytest.approx(np.full(corners, 3.0))
