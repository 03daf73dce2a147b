"""The outline behind the front, and its continuation ahead of it."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scalegen.errors import GeometryError
from scalegen.model import Front, FrontArc
from scalegen.outline.carry import behind_front, carried_on
from scalegen.outline.crossing import self_crossings
from scalegen.outline.front import clip_behind, front_curve, on_front
from scalegen.outline.measure import distances_mm, sampled
from scalegen.outline.offset import grow
from scalegen.outline.ring import Ring


def front(at: float, degrees: float = 90, arc: float | None = None, shape: FrontArc = "proud") -> Front:
    """A front without treatment."""
    return Front(at_mm=at, angle_rad=math.radians(degrees), arc_mm=arc, arc_shape=shape)


def tang(seed: int) -> Ring:
    """A handle with arcs or lines at the front, 110 mm long."""
    rng = np.random.default_rng(seed)
    x = np.array([-10, 35, 70, 105])
    low = -9 + rng.uniform(-2, 2, 4)
    high = 9 + rng.uniform(-2, 2, 4)
    kind = rng.integers(0, 2, 8)
    bulge = rng.uniform(-0.12, 0.12, 8) * kind
    bulge[3] = rng.uniform(0.1, 0.6)
    bulge[7] = 0
    points = np.vstack([np.column_stack([x, low]), np.column_stack([x, high])[::-1]])
    return Ring.from_rows(np.column_stack([points, bulge]))


FRONTS = st.builds(
    front,
    st.floats(2, 30),
    st.floats(70, 110),
    st.one_of(st.none(), st.floats(25, 90)),
    st.sampled_from(["proud", "hollow"]),
)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), FRONTS)
def test_clipping_what_was_carried_on_gives_the_outline(seed: int, spec: Front) -> None:
    """Carried on and clipped again is the finished outline, exactly; nothing joins on the front itself."""
    ring, curve = tang(seed), front_curve(spec)
    assume(not len(self_crossings(ring)))
    finished = behind_front(ring, curve)
    carried = carried_on(finished, curve, 9.0, 5.0)
    assert len(self_crossings(carried)) == 0
    (again,) = clip_behind(carried, curve)
    assert again.area_mm2 == pytest.approx(finished.area_mm2, rel=1e-12)
    assert distances_mm(again, sampled(finished, 1.0)).max() < 1e-9
    assert distances_mm(finished, sampled(again, 1.0)).max() < 1e-9
    ends = carried.starts[on_front(curve, carried.starts, 0.0)]
    assert len(ends) == 0
    # It goes ahead far enough for what grows from it.
    ahead = (finished.starts - curve.point) @ curve.inward
    reach = (carried.starts - curve.point) @ curve.inward
    assert reach.min() <= ahead.min() - 9.0 + 1e-9


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), FRONTS, st.sampled_from([0.3, 0.8, 1.5875]))
def test_as_cut_holds_finished(seed: int, spec: Front, trim_mm: float) -> None:
    """What is grown from it and clipped contains the outline, and leaves the front where it was."""
    ring, curve = tang(seed), front_curve(spec)
    assume(not len(self_crossings(ring)))
    finished = behind_front(ring, curve)
    as_cut = clip_behind(grow(carried_on(finished, curve, 9.0, 5.0), trim_mm), curve)[0]
    points = sampled(finished, 1.0)
    behind = points[~on_front(curve, points, 0.0)]
    assert distances_mm(as_cut, behind).min() > 0
    both = clip_behind(as_cut, curve)[0]
    assert both.area_mm2 == pytest.approx(as_cut.area_mm2, rel=1e-12)
    on = points[on_front(curve, points, 0.0)]
    assert distances_mm(as_cut, on).max() < 1e-6


def test_lines_are_lengthened() -> None:
    """A plain bar comes back longer, with the same four corners' worth of segments."""
    curve = front_curve(front(10))
    finished = behind_front(Ring.from_rows([[0, -8], [90, -8], [90, 8], [0, 8]]), curve)
    carried = carried_on(finished, curve, 6.0, 5.0)
    assert len(carried) == 4
    assert carried.bounds_mm == pytest.approx((4, -8, 90, 8))


def test_sides_that_run_together_go_on_square() -> None:
    """A tapered tang whose sides would meet ahead is carried on square to the front."""
    curve = front_curve(front(10))
    ring = Ring.from_rows([[5, -1], [40, -20], [90, -20], [90, 20], [40, 20], [5, 1]])
    finished = behind_front(ring, curve)
    carried = carried_on(finished, curve, 12.0, 5.0)
    x0, _, _, _ = carried.bounds_mm
    assert x0 == pytest.approx(-2)
    high = carried.starts[np.abs(carried.starts[:, 0] - x0) < 1e-9][:, 1]
    assert np.ptp(high) == pytest.approx(2 * (1 + 5 * 19 / 35))


def test_an_outline_that_begins_on_the_front() -> None:
    """A tang drawn from the front line on is carried on as well."""
    curve = front_curve(front(10))
    finished = behind_front(Ring.from_rows([[10, -8], [90, -8], [90, 8], [10, 8]]), curve)
    assert carried_on(finished, curve, 6.0, 5.0).bounds_mm == pytest.approx((4, -8, 90, 8))


def test_nearly_straight_sides_are_carried_on() -> None:
    """Sides of a radius of kilometres are carried on without a step."""
    curve = front_curve(front(10))
    ring = Ring.from_rows([[0, -8, 1e-9], [90, -8, 0.5], [90, 8, -1e-9], [0, 8, 0]])
    carried = carried_on(behind_front(ring, curve), curve, 6.0, 5.0)
    assert carried.bounds_mm[:2] == pytest.approx((4, -8), abs=1e-6)
    assert clip_behind(carried, curve)[0].area_mm2 == pytest.approx(
        behind_front(ring, curve).area_mm2, rel=1e-12
    )


def test_a_front_past_the_outline_is_refused() -> None:
    """Nothing behind the front: the message tells where the outline is."""
    with pytest.raises(GeometryError, match=r"x = 0\.0 to 90\.0 mm") as caught:
        behind_front(Ring.from_rows([[0, -8], [90, -8], [90, 8], [0, 8]]), front_curve(front(95)))
    assert caught.value.where == "front.at"


def test_a_tang_in_two_pieces_is_refused() -> None:
    """Two pieces behind the front: the message names the place of the smaller one."""
    ring = Ring.from_rows([[0, -10], [60, -10], [60, -4], [20, -4], [20, 4], [40, 4], [40, 10], [0, 10]])
    with pytest.raises(GeometryError, match=r"in 2 pieces; a second one lies around x = 35\.0, y = 7\.0"):
        behind_front(ring, front_curve(front(30)))


def test_a_front_ahead_of_the_tang_is_refused() -> None:
    """A front that doesn't meet the outline at all can't be carried on from."""
    ring = Ring.from_rows([[0, -8], [90, -8], [90, 8], [0, 8]])
    curve = front_curve(front(-20))
    with pytest.raises(GeometryError, match="does not cross the tang outline in exactly two places"):
        carried_on(behind_front(ring, curve), curve, 6.0, 5.0)


def test_a_front_that_meets_the_outline_four_times_is_refused() -> None:
    """A front that crosses a notch leaves two front edges, which is refused."""
    ring = Ring.from_rows([[0, -10], [60, -10], [60, 10], [0, 10], [0, 3], [20, 0], [0, -3]])
    curve = front_curve(front(10))
    with pytest.raises(GeometryError, match="exactly two places"):
        carried_on(behind_front(ring, curve), curve, 6.0, 5.0)
