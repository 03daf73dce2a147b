"""What a front leaves standing, over faces that need not be flat."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalegen.form.nose import LEAVE_RAD, LIFT_SHARE, Nose
from scalegen.model import Front
from scalegen.outline.front import front_curve

SLOPES = st.floats(math.radians(15), math.radians(75))


def nose(leave_rad: float = 0.0, **front: float | str | None) -> Nose:
    """A front at x = 10, straight across."""
    made = Front(at_mm=10.0, angle_rad=math.pi / 2, **front)  # type: ignore[arg-type] - any field
    return Nose(front=made, curve=front_curve(made), allowance_mm=0.0, leave_rad=leave_rad)


def test_behind_counts_from_where_the_body_begins() -> None:
    """Distances behind the front must follow the line, the proud and the hollow arc."""
    points = np.array([[10.0, 0.0], [15.0, 0.0], [7.0, 0.0]])
    for arc, shape in ((None, "proud"), (40.0, "proud"), (40.0, "hollow")):
        assert nose(arc_mm=arc, arc_shape=shape).behind_mm(points) == pytest.approx([0, 5, -3])
    # Beside the middle a proud arc lies further back, a hollow one further ahead: R - sqrt(R^2 - y^2).
    beside = np.array([[10.0 + 40 - math.sqrt(40**2 - 12**2), 12.0]])
    assert nose(arc_mm=40.0, arc_shape="proud").behind_mm(beside) == pytest.approx([0], abs=1e-12)
    far = np.array([[140.0, 3.0]])
    assert nose(arc_mm=40.0, arc_shape="proud").behind_mm(far)[0] > 0


def test_a_round_front_is_a_quarter_circle() -> None:
    """At a distance u the height must be that of the circle: T - r + sqrt(r^2 - (r - u)^2)."""
    u = np.linspace(0, 2, 21)
    got = nose(treatment="round", radius_mm=2.0).limit_mm(u, np.full(21, 7.0))
    assert np.minimum(got, 7.0) == pytest.approx(7.0 - 2.0 + np.sqrt(4 - (2 - u) ** 2), abs=1e-12)


@given(SLOPES, st.floats(0.2, 2.0))
def test_a_rounded_bevel_touches_bevel_and_face(slope: float, r: float) -> None:
    """Bevel and face must be joined by a circle that touches both.

    Source: a circle of radius r in a corner of the outer angle s touches both sides r tan(s / 2) from it.
    """
    top, land = 7.0, 1.0
    shape = nose(treatment="bevel", slope_rad=slope, land_mm=land, top_radius_mm=r)
    corner = (top - land) / math.tan(slope)
    reach = r * math.tan(slope / 2)
    u = np.linspace(max(0.0, corner - reach * math.cos(slope)), corner + reach, 41)
    got = np.minimum(shape.limit_mm(u, np.full(41, top)), top)
    center = np.array([corner + reach, top - r])
    assert np.hypot(u - center[0], got - center[1]) == pytest.approx(np.full(41, r), abs=1e-9)
    before = np.linspace(0, u[0], 5)
    assert shape.limit_mm(before, np.full(5, top)) == pytest.approx(land + before * math.tan(slope), abs=1e-9)


@given(SLOPES, st.floats(0.2, 3.0))
def test_the_straight_end_stays_within_its_word(slope: float, r: float) -> None:
    """Leaving the face at an angle must lift the rounding by no more than the stated share of its radius."""
    u = np.linspace(0, 30, 4001)
    for treatment in ("round", "bevel"):
        given_front = {"treatment": treatment, "slope_rad": slope, "land_mm": 1.0}
        size = {"radius_mm": r} if treatment == "round" else {"top_radius_mm": r}
        face = np.full(len(u), 7.0)
        true = np.minimum(nose(**given_front, **size).limit_mm(u, face), face)
        cut = np.minimum(nose(LEAVE_RAD, **given_front, **size).limit_mm(u, face), face)
        assert (cut - true).min() >= -1e-12
        assert (cut - true).max() <= LIFT_SHARE * r * 1.01
