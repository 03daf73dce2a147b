"""The face as a surface: crown, swell and both."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalegen.errors import GeometryError
from scalegen.face import crown_height_mm, face_shape, natural_spline, spline_at, spline_most
from scalegen.model import Crown, Face
from scalegen.outline.ring import Ring

BOX = Ring.from_rows([[0, -12], [100, -12], [100, 12], [0, 12]])


def test_a_flat_face_is_as_high_everywhere() -> None:
    """Without crown and swell the height must be the thickness."""
    shape = face_shape(Face(), 7.5, 9.0, BOX)
    assert shape.is_flat
    assert shape.height_mm(np.array([[3.0, 4.0], [90.0, -11.0]])).tolist() == [7.5, 7.5]


def test_all_of_the_stack_is_what_is_available() -> None:
    """Without a stated thickness the highest place must be all there is, crowned and swelled or not."""
    face = Face(crown=Crown(radius_mm=60.0), swell=((0.0, 6.0), (50.0, 7.0), (100.0, 6.5)))
    shape = face_shape(face, None, 8.25, BOX)
    along = shape.height_mm(np.column_stack([np.linspace(0, 100, 4001), np.zeros(4001)]))
    assert along.max() == pytest.approx(8.25, abs=1e-6)
    assert shape.moved_to(8.0).height_mm(np.array([[50.0, 3.0]]))[0] == pytest.approx(
        shape.height_mm(np.array([[50.0, 3.0]]))[0] - 0.25, abs=1e-12
    )


@given(st.floats(14, 400), st.floats(-12, 12))
def test_a_crown_is_a_circle(radius: float, y: float) -> None:
    """Heights across the handle must lie on the circle: R - sqrt(R^2 - y^2) lower than its highest line.

    Source: equation of the circle.
    """
    shape = face_shape(Face(crown=Crown(radius_mm=radius, at_mm=0.0)), 20.0, 20.0, BOX)
    want = 20.0 - (radius - math.sqrt(radius**2 - y**2))
    assert shape.height_mm(np.array([[31.0, y]]))[0] == pytest.approx(want, abs=1e-9)


@given(st.floats(0.05, 6.0))
def test_radius_and_height_of_a_crown_belong_together(height: float) -> None:
    """A crown by its height must have the radius (w^2 + h^2) / 2h of a chord of half width w."""
    by_height = face_shape(Face(crown=Crown(height_mm=height)), 20.0, 20.0, BOX)
    assert by_height.crown_mm == pytest.approx((12**2 + height**2) / (2 * height), rel=1e-12)
    assert crown_height_mm(by_height, BOX) == pytest.approx(height, rel=1e-9)


def test_a_turned_crown_line_keeps_its_height() -> None:
    """All along a crown line that is turned the face must be at its full height."""
    shape = face_shape(Face(crown=Crown(radius_mm=40.0, at_mm=2.0, angle_rad=0.05)), 7.0, 7.0, BOX)
    x = np.linspace(0, 100, 11)
    line = np.column_stack([x, 2.0 + (x - 50.0) * math.tan(0.05)])
    assert shape.height_mm(line) == pytest.approx(np.full(11, 7.0), abs=1e-12)


@pytest.mark.parametrize(
    "crown", [Crown(radius_mm=12.5), Crown(height_mm=12.0), Crown(radius_mm=20.0, at_mm=9)]
)
def test_a_crown_that_does_not_reach_over_the_handle_is_refused(crown: Crown) -> None:
    """A crown rounder than the handle is wide must be refused with the radius it takes."""
    with pytest.raises(GeometryError, match="does not reach over the handle") as caught:
        face_shape(Face(crown=crown), 7.0, 7.0, BOX)
    assert caught.value.where == "scale.crown"


def test_natural_spline_of_the_tent() -> None:
    """Through (0, 0), (1, 1), (2, 0) it must have the second derivative -3 in the middle and 11/16 at 1/2.

    Source: the tridiagonal system solved by hand.
    """
    spline = natural_spline(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 0.0]))
    assert spline[:, 2] == pytest.approx([0, -3, 0])
    assert spline_at(spline, np.array([0.5, 1.5])) == pytest.approx([11 / 16, 11 / 16])
    assert spline_at(spline, np.array([-1.0, 3.0])) == pytest.approx([-1.5, -1.5])


@given(st.lists(st.tuples(st.floats(1, 30), st.floats(3, 9)), min_size=1, max_size=6))
def test_a_swell_goes_through_its_stations_smoothly(steps: list[tuple[float, float]]) -> None:
    """The spline must pass through every station, with the same slope and curvature on both sides of it."""
    x = np.cumsum([step for step, _ in steps])
    y = np.array([height for _, height in steps])
    spline = natural_spline(x, y)
    assert spline_at(spline, x) == pytest.approx(y, abs=1e-9)
    step = 1e-4
    for at in x[1:-1]:
        left, middle, right = spline_at(spline, np.array([at - step, at, at + step]))
        assert (right - middle) - (middle - left) == pytest.approx(0, abs=1e-5)
    reach = np.linspace(x[0] - 2, x[-1] + 2, 20001)
    most = spline_most(spline, x[0] - 2, x[-1] + 2)
    assert most == pytest.approx(spline_at(spline, reach).max(), abs=1e-4)
    assert most >= spline_at(spline, reach).max() - 1e-12
