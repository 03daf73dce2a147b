"""Outlines that run beside another and end with it at the front."""

import math

import numpy as np
import pytest

from scalegen.errors import GeometryError
from scalegen.model import Front
from scalegen.outline.beside import beside
from scalegen.outline.carry import behind_front, carried_on
from scalegen.outline.front import FrontCurve, front_curve, on_front
from scalegen.outline.measure import distances_mm
from scalegen.outline.ring import Ring

STADIUM = Ring(np.array([[0.0, -12, 0], [100, -12, 1], [100, 12, 0], [0, 12, 0]]))
FRONTS = {
    "line": Front(at_mm=20.0, angle_rad=math.radians(78)),
    "proud arc": Front(at_mm=20.0, angle_rad=math.pi / 2, arc_mm=40.0),
    "hollow arc": Front(at_mm=20.0, angle_rad=math.pi / 2, arc_mm=40.0, arc_shape="hollow"),
}


def carried(ring: Ring, curve: FrontCurve) -> tuple[Ring, Ring]:
    """A ring carried on ahead of a front, and what of it is finished."""
    finished = behind_front(ring, curve)
    return carried_on(finished, curve, 6.0, 3.0), finished


@pytest.mark.parametrize("distance_mm", [0.5, 2.0, -0.5, -2.0])
@pytest.mark.parametrize("name", FRONTS)
def test_every_point_is_as_far_off_or_on_the_front(name: str, distance_mm: float) -> None:
    """Each piece must keep its distance from the outline, or lie on the front itself."""
    curve = front_curve(FRONTS[name])
    wide, finished = carried(STADIUM, curve)
    whole, behind = beside(wide, curve, distance_mm, 0.0)
    points = np.vstack([behind.starts, (behind.starts + behind.ends)[behind.bulges == 0] / 2])
    on = on_front(curve, points, 0.0)
    assert on.any()
    assert distances_mm(wide, points[~on]) == pytest.approx(np.full((~on).sum(), abs(distance_mm)), abs=1e-7)
    assert (behind.area_mm2 > finished.area_mm2) == (distance_mm > 0)
    assert whole.bounds_mm[0] < behind.bounds_mm[0] - 1.0


def test_it_begins_as_far_ahead_as_asked() -> None:
    """An allowance at the front must move its beginning towards the blade by as much."""
    curve = front_curve(Front(at_mm=20.0, angle_rad=math.pi / 2))
    wide, _ = carried(STADIUM, curve)
    assert beside(wide, curve, -0.5, 0.3)[1].bounds_mm == pytest.approx((19.7, -11.5, 111.5, 11.5))


def test_a_neck_is_named() -> None:
    """A handle with a neck narrower than twice the step must be refused with the place of what falls off."""
    curve = front_curve(Front(at_mm=10.0, angle_rad=math.pi / 2))
    necked = Ring.from_rows(
        [
            *([0, -10], [60, -10], [64, -2], [66, -2], [70, -10], [100, -10]),
            *([100, 10], [70, 10], [66, 2], [64, 2], [60, 10], [0, 10]),
        ]
    )
    wide, _ = carried(necked, curve)
    with pytest.raises(
        GeometryError, match=r"in pieces; one lies around x = 8[0-9]\.\d, y = -?0\.0"
    ) as caught:
        beside(wide, curve, -2.5, 0.0)
    assert caught.value.where == "scale.liner.step"


def test_a_pocket_that_closes_is_named() -> None:
    """A pocket whose mouth is narrower than twice the step must be refused with its place."""
    curve = front_curve(Front(at_mm=10.0, angle_rad=math.pi / 2))
    pocket = Ring.from_rows(
        [
            *([0, -20], [90, -20], [90, 20], [52, 20], [52, 15], [60, 15]),
            *([60, 0], [40, 0], [40, 15], [48, 15], [48, 20], [0, 20]),
        ]
    )
    wide, _ = carried(pocket, curve)
    with pytest.raises(GeometryError, match=r"closes onto itself around x = 50\.0, y = 7\.\d mm"):
        beside(wide, curve, 3.0, 0.0)


def test_a_step_wider_than_the_handle_is_refused() -> None:
    """Nothing left must be said as that."""
    curve = front_curve(Front(at_mm=20.0, angle_rad=math.pi / 2))
    wide, _ = carried(STADIUM, curve)
    with pytest.raises(GeometryError, match="nowhere wide enough"):
        beside(wide, curve, -13.0, 0.0)
