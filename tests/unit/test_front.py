"""The front curve, clipping behind it, and how its treatment sets it back."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.errors import GeometryError
from scalegen.model import Front, FrontArc
from scalegen.outline.front import (
    area_behind_mm2,
    behind,
    clip_behind,
    front_curve,
    front_start_mm,
    is_clear_behind,
    on_front,
    setback_mm,
)
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import FloatArray, Ring

FLAT_MM = 1e-4
TANG = Ring.from_rows([[0, -8, 0], [60, -9, 0.1], [110, -6, 0.8], [110, 9, 0.05], [50, 10, -0.02], [0, 9, 0]])


def front(at: float, degrees: float = 90, arc: float | None = None, shape: FrontArc = "proud") -> Front:
    """A front without treatment."""
    return Front(at_mm=at, angle_rad=math.radians(degrees), arc_mm=arc, arc_shape=shape)


def mask(curve_front: Front, setback: float) -> shapely.Geometry:
    """The half plane, or what lies behind the arc, drawn by hand in fine chords."""
    c, s = math.cos(curve_front.angle_rad), math.sin(curve_front.angle_rad)
    point, along, inward = np.array([curve_front.at_mm, 0.0]), np.array([c, s]), np.array([s, -c])

    def strip(first: FloatArray) -> shapely.Polygon:
        return shapely.Polygon(
            [
                first - 500 * along,
                first + 500 * along,
                first + 500 * along + 900 * inward,
                first - 500 * along + 900 * inward,
            ]
        )

    if curve_front.arc_mm is None:
        return strip(point + setback * inward)
    proud = curve_front.arc_shape == "proud"
    center = point + inward * (curve_front.arc_mm if proud else -curve_front.arc_mm)
    radius = curve_front.arc_mm + (-setback if proud else setback)
    disc = shapely.Point(center).buffer(radius, quad_segs=4000)
    return strip(center).union(disc) if proud else strip(center).difference(disc)


FRONTS = st.builds(
    front,
    st.floats(20, 40),
    st.floats(75, 105),
    st.one_of(st.none(), st.floats(30, 90)),
    st.sampled_from(["proud", "hollow"]),
)


@settings(max_examples=40, deadline=None)
@given(FRONTS, st.floats(-2, 6))
def test_what_lies_behind_against_an_overlay(spec: Front, setback: float) -> None:
    """Clipping behind a line, a proud and a hollow arc must give what an independent overlay gives."""
    curve = front_curve(spec)
    shape = shapely.Polygon(TANG.flatten(FLAT_MM))
    want = shape.intersection(mask(spec, setback))
    parts = clip_behind(TANG, curve, setback)
    # Flattening of both, and the sagitta of a 4000th of a quarter turn, along the boundary.
    bound = (2 * FLAT_MM + 100 * (1 - math.cos(math.pi / 16000))) * (TANG.perimeter_mm + 60)
    assert sum(p.area_mm2 for p in parts) == pytest.approx(want.area, abs=bound)
    assert area_behind_mm2(TANG, curve, setback) == pytest.approx(sum(p.area_mm2 for p in parts), rel=1e-12)


def test_the_curve_crosses_y_zero_where_it_says() -> None:
    """The front passes (at, 0) and its arc's centre lies behind (proud) or ahead (hollow)."""
    proud, hollow = front_curve(front(20, 90, 30, "proud")), front_curve(front(20, 90, 30, "hollow"))
    assert proud.center == pytest.approx([50, 0])
    assert hollow.center == pytest.approx([-10, 0])
    assert (proud.radius_mm(2), hollow.radius_mm(2)) == (28, 32)
    assert front_curve(front(20)).inward == pytest.approx([1, 0])


def test_under_ninety_degrees_the_spine_end_lies_further_back() -> None:
    """At 78 degrees the front leans towards the butt at the spine."""
    curve = front_curve(front(16, 78))
    assert curve.along[0] > 0
    assert on_front(curve, np.array([[16 + 10 / math.tan(math.radians(78)), 10.0]]), 0.0).all()


def test_an_outline_whose_front_edge_lies_on_the_front() -> None:
    """Where the outline begins exactly on the front line, it comes back whole."""
    ring = Ring.from_rows([[14, -8], [90, -8], [90, 8], [14, 8]])
    (same,) = clip_behind(ring, front_curve(front(14)))
    assert same.rows == pytest.approx(ring.rows[[0, 1, 2, 3]]) or same.area_mm2 == pytest.approx(76 * 16)
    assert area_behind_mm2(ring, front_curve(front(14))) == pytest.approx(76 * 16)
    tilted = front_curve(front(14, 70))
    c, s = math.cos(math.radians(70)), math.sin(math.radians(70))
    low, high = np.array([14, 0]) - 9 * np.array([c, s]), np.array([14, 0]) + 8 * np.array([c, s])
    ring = Ring.from_rows(np.array([low, [90, -9 * s], [90, 8 * s], high]))
    (same,) = clip_behind(ring, tilted)
    assert same.area_mm2 == pytest.approx(ring.area_mm2)
    assert len(same) == 4


@pytest.mark.parametrize("off", [1e-12, -1e-12, 1e-9, -1e-9, 1e-7, -1e-7, 3e-6, -3e-6])
def test_an_edge_that_nearly_lies_on_the_front(off: float) -> None:
    """An edge within microns of the front gives one clean ring of the right area."""
    ring = Ring.from_rows([[14 + off, -8], [90, -8], [90, 8], [14 + off, 8]])
    (part,) = clip_behind(ring, front_curve(front(14)))
    assert part.area_mm2 == pytest.approx(76 * 16, abs=1e-4)
    assert area_behind_mm2(ring, front_curve(front(14))) == pytest.approx(76 * 16, abs=1e-4)


@pytest.mark.parametrize("shape", ["proud", "hollow"])
def test_an_arc_too_small_for_the_outline_is_refused(shape: FrontArc) -> None:
    """A front arc that doesn't reach across must be refused, with the field and a radius that would do."""
    curve = front_curve(front(30, 90, 6, shape))
    with pytest.raises(GeometryError, match="does not reach across") as caught:
        clip_behind(TANG, curve)
    assert caught.value.where == "front.arc.radius"
    with pytest.raises(GeometryError, match="does not reach across"):
        area_behind_mm2(TANG, curve)


def test_an_arc_used_up_by_its_setback_is_refused() -> None:
    """A proud arc set back beyond its centre must be refused."""
    with pytest.raises(GeometryError, match="used up by a setback of 12"):
        behind(front_curve(front(30, 90, 12)), 12.0, 100)


def test_nothing_behind_the_front() -> None:
    """A front behind the outline leaves nothing; one far ahead leaves all."""
    assert clip_behind(TANG, front_curve(front(300))) == ()
    assert area_behind_mm2(TANG, front_curve(front(300))) == 0
    assert area_behind_mm2(TANG, front_curve(front(-50))) == pytest.approx(TANG.area_mm2)


@settings(max_examples=60, deadline=None)
@given(FRONTS, st.floats(-2, 6), st.floats(0, 100), st.floats(-15, 15), st.floats(0.5, 5))
def test_discs_called_clear_are_clear(spec: Front, setback: float, x: float, y: float, r: float) -> None:
    """A disc that is called clear must lie wholly behind the front."""
    curve = front_curve(spec)
    clear = is_clear_behind(curve, np.array([[x, y]]), np.array([r]), setback)[0]
    region = behind(curve, setback, 300)
    center = np.array([[x, y]])
    really = bool(inside(region, center)[0] and distances_mm(region, center)[0] >= r - 1e-9)
    assert really or not clear
    if spec.arc_mm is None:
        assert clear == really


# By hand: a bevel of slope w over a land sets back (z - land) / tan w; a round of radius r follows a circle.
def test_setback_of_a_bevel() -> None:
    """Nothing up to the land, then along the slope: 45 degrees sets back as far as it rises."""
    spec = Front(at_mm=0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.pi / 4, land_mm=1.5)
    assert [setback_mm(spec, 6, z) for z in (0, 1.5, 2.5, 6)] == pytest.approx([0, 0, 1, 4.5])
    assert front_start_mm(spec, 6) == 1.5
    assert front_start_mm(spec, 1.0) == 1.0


def test_setback_of_a_round() -> None:
    """A quarter circle: nothing at its start, r (1 - cos 30) half way up, r at the top."""
    spec = Front(at_mm=0, angle_rad=math.pi / 2, treatment="round", radius_mm=2)
    assert front_start_mm(spec, 6) == 4
    assert [setback_mm(spec, 6, z) for z in (0, 4, 5, 6)] == pytest.approx([0, 0, 2 - math.sqrt(3), 2])


def test_a_square_front_stays() -> None:
    """A square front is set back nowhere and starts at the top."""
    spec = Front(at_mm=0, angle_rad=math.pi / 2)
    assert setback_mm(spec, 6, 5.9) == 0
    assert front_start_mm(spec, 6) == 6
