"""Scallops, corner rests and places too tight for a cutter against closed forms and worked values."""

import math

import numpy as np
import pytest

from scalegen.machining.corners import narrow_slots, rest_mm2, smallest_inside, tight_places
from scalegen.machining.scallop import corner_rest_mm, corner_rest_mm2, scallop_mm, stepover_mm
from scalegen.outline.ring import Ring

# Computed by hand from h = R - sqrt(R^2 - (s/2)^2); the first is a worked example of a public reference on
# milling scallops.
WORKED = [(3.0, 0.5, 0.01043), (3.175, 0.635, 0.01591), (1.5875, 0.3175, 0.00796)]

ELBOW = Ring.from_rows([[0, 0], [40, 0], [40, 20], [20, 20], [20, 40], [0, 40]])


@pytest.mark.parametrize(("radius", "step", "height"), WORKED)
def test_scallops_have_their_worked_values(radius: float, step: float, height: float) -> None:
    """Five decimals agree."""
    assert scallop_mm(radius, step) == pytest.approx(height, abs=5e-6)


def test_a_fine_ridge_asks_for_its_worked_stepover() -> None:
    """R 3, h 0.005 gives 0.3463 (computed by hand from the inverse)."""
    assert stepover_mm(3.0, 0.005) == pytest.approx(0.3463, abs=5e-5)


def test_half_the_stepover_leaves_a_quarter() -> None:
    """For small steps h is about s^2 / (8 R)."""
    assert scallop_mm(3.0, 0.25) / scallop_mm(3.0, 0.5) == pytest.approx(0.25, abs=1e-3)
    assert scallop_mm(3.0, 0.1) == pytest.approx(0.1**2 / 24, rel=1e-3)


@pytest.mark.parametrize("slope_deg", [0.0, 25.0, 50.0])
def test_a_ridge_is_where_two_circles_meet(slope_deg: float) -> None:
    """The lower envelope of two circles rolling on a slope rises above it by the scallop, seen in section."""
    slope, radius, step = math.radians(slope_deg), 2.0, 0.8
    normal = np.array([-math.sin(slope), math.cos(slope)])
    centers = [np.array([x, x * math.tan(slope)]) + radius * normal for x in (0.0, step)]
    # Along the slope at fine steps: how far the nearer circle stays off it, square to the slope.
    along = np.array([math.cos(slope), math.sin(slope)])
    share = np.linspace(0, step / math.cos(slope), 4001)
    off = [
        radius - np.sqrt(radius**2 - (share - (center - radius * normal) @ along) ** 2) for center in centers
    ]
    assert np.minimum(*off).max() == pytest.approx(scallop_mm(radius, step, slope), abs=1e-6)


@pytest.mark.parametrize(("radius", "diagonal", "area"), [(1.5875, 0.6576, 0.5408), (3.175, 1.3151, 2.1633)])
def test_square_corners_keep_their_worked_rest(radius: float, diagonal: float, area: float) -> None:
    """On the diagonal r (sqrt 2 - 1), in area r^2 (1 - pi/4), computed by hand."""
    assert corner_rest_mm(radius) == pytest.approx(diagonal, abs=5e-5)
    assert corner_rest_mm2(radius) == pytest.approx(area, abs=5e-5)


@pytest.mark.parametrize("corner_deg", [40.0, 90.0, 130.0])
def test_corner_rests_are_those_of_a_buffered_polygon(corner_deg: float) -> None:
    """Closing an outline with the cutter, done by shapely, leaves the same area in its one inside corner."""
    angle, radius = math.radians(corner_deg), 1.5
    tip = np.array([0.0, 0.0])
    one, other = np.array([20.0, 0.0]), 20.0 * np.array([math.cos(angle), math.sin(angle)])
    ring = Ring.from_rows([tip, other, [-40, 40], [-40, -40], [40, -40], one])
    assert rest_mm2(ring, radius) == pytest.approx(corner_rest_mm2(radius, angle), abs=2e-3)


def test_an_elbow_has_one_corner_that_is_too_tight() -> None:
    """It is named with its place and what the cutter leaves on the diagonal."""
    (found,) = tight_places(ELBOW, 1.5875)
    assert (found.kind, found.at_mm, found.radius_mm) == ("corner", (20.0, 20.0), 0.0)
    assert found.rest_mm == pytest.approx(1.5875 * (math.sqrt(2) - 1))
    assert rest_mm2(ELBOW, 1.5875) == pytest.approx(1.5875**2 * (1 - math.pi / 4), abs=1e-4)


@pytest.mark.parametrize(("cutter", "wanted"), [(2.99, 0), (3.01, 1)])
def test_a_bend_is_too_tight_for_a_larger_cutter(cutter: float, wanted: int) -> None:
    """A quarter circle of 3 mm to the inside lets every cutter up to 3 mm radius in."""
    bulge = -math.tan(math.pi / 8)
    ring = Ring.from_rows(
        [[0, 0, 0], [40, 0, 0], [40, 20, 0], [23, 20, bulge], [20, 23, 0], [20, 40, 0], [0, 40, 0]]
    )
    assert len(tight_places(ring, cutter)) == wanted
    tightest = smallest_inside(ring)
    assert tightest is not None
    assert tightest.radius_mm == pytest.approx(3.0)
    # The middle of the arc about (23, 23).
    assert tightest.at_mm == pytest.approx((23 - 3 / math.sqrt(2), 23 - 3 / math.sqrt(2)))


def test_a_convex_outline_has_nothing_tight() -> None:
    """Every cutter goes round a rectangle."""
    ring = Ring.from_rows([[0, 0], [40, 0], [40, 20], [0, 20]])
    assert smallest_inside(ring) is None
    assert tight_places(ring, 50.0) == ()
    assert rest_mm2(ring, 5.0) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("width", "wanted"), [(1.9, 0), (2.1, 1)])
def test_a_slot_counts_from_its_own_width(width: float, wanted: int) -> None:
    """A slot of 2 mm is no slot for what is narrower; for what is wider it is one, half way across."""
    ring = Ring.from_rows([[0, 0], [40, 0], [40, 20], [22, 20], [22, 8], [20, 8], [20, 20], [0, 20]])
    found = narrow_slots(ring, width)
    assert len(found) == wanted
    for slot in found:
        assert slot.radius_mm == pytest.approx(1.0)
        assert slot.at_mm[0] == pytest.approx(21.0)
        assert 8 < slot.at_mm[1] < 20
