"""Parallel curves of random outlines and of awkward ones, against an independent library."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scalegen.errors import GeometryError
from scalegen.outline.crossing import self_crossings
from scalegen.outline.measure import distances_mm, inside, sampled
from scalegen.outline.offset import closed, grow, offset, opened, shrink
from scalegen.outline.pieces import BoolArray
from scalegen.outline.ring import FloatArray, Ring

FLAT_MM = 1e-3
QUARTER = math.tan(math.pi / 8)
DISTANCES = st.sampled_from([-5.0, -2.0, -0.8, 0.8, 1.5875, 3.0, 8.0])


def polygon(ring: Ring, tolerance_mm: float = FLAT_MM) -> shapely.Polygon:
    """The ring in chords."""
    return shapely.Polygon(ring.flatten(tolerance_mm))


@st.composite
def outlines(draw: st.DrawFn) -> Ring:
    """Star-shaped polygons, the same with every side an arc, and smooth ones made by rounding those."""
    seed = draw(st.integers(0, 100_000))
    kind = draw(st.sampled_from(["polygon", "kinked", "smooth"]))
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 24))
    angle = 2 * np.pi * (np.arange(n) + rng.uniform(-0.3, 0.3, n)) / n
    radius = rng.uniform(12, 60) * (1 + rng.uniform(-0.25, 0.25, n))
    bulge = np.zeros(n) if kind == "polygon" else rng.uniform(-0.25, 0.35, n)
    ring = Ring.from_rows(np.column_stack([radius * np.cos(angle), radius * np.sin(angle), bulge]))
    assume(not len(self_crossings(ring)))
    if kind == "smooth":
        parts = opened(ring, 1.5)
        assume(len(parts) == 1)
        ring = closed(parts[0], 1.0)
    return ring


def rounded_box(width: float, height: float, radius: float) -> Ring:
    """A rectangle with rounded corners."""
    w, h, r = width, height, radius
    rows = [
        [r, 0, 0],
        [w - r, 0, QUARTER],
        [w, r, 0],
        [w, h - r, QUARTER],
        [w - r, h, 0],
        [r, h, QUARTER],
        [0, h - r, 0],
        [0, r, QUARTER],
    ]
    return Ring.from_rows(rows)


def covered(rings: tuple[Ring, ...], points: FloatArray) -> BoolArray:
    """Which points lie in the material of a set of contours."""
    odd = np.zeros(len(points), dtype=np.bool_)
    for ring in rings:
        odd ^= inside(ring, points)
    return odd


@settings(max_examples=35, deadline=None)
@given(outlines(), DISTANCES)
def test_every_point_keeps_its_distance(ring: Ring, distance_mm: float) -> None:
    """Contours lie at exactly the distance from the ring, all along, and don't cross themselves."""
    for contour in offset(ring, distance_mm):
        gaps = distances_mm(ring, sampled(contour, 0.7))
        assert np.abs(gaps - abs(distance_mm)).max() < 1e-6
        assert len(self_crossings(contour)) == 0


@settings(max_examples=25, deadline=None)
@given(outlines(), DISTANCES, st.integers(0, 1000))
def test_the_right_points_are_covered(ring: Ring, distance_mm: float, seed: int) -> None:
    """A point is inside the grown (shrunk) outline just when the library finds it near (deep) enough."""
    rings = offset(ring, distance_mm)
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = ring.bounds_mm
    points = rng.uniform([x0 - 10, y0 - 10], [x1 + 10, y1 + 10], (400, 2))
    shape = polygon(ring)
    gap = shapely.distance(shapely.points(points), shape.exterior)
    depth = np.where(shapely.contains_xy(shape, points[:, 0], points[:, 1]), -gap, gap)
    sure = np.abs(depth - distance_mm) > 2 * FLAT_MM
    assert (covered(rings, points) == (depth < distance_mm))[sure].all()


@settings(max_examples=12, deadline=None)
@given(outlines(), DISTANCES)
def test_area_against_a_union_of_capsules(ring: Ring, distance_mm: float) -> None:
    """The area must be that of the outline with (without) a capsule about each of its chords.

    The library's own buffer leaves out hollows of a hundredth of the distance, so it is not asked. Bound:
    the flattening, and the sagitta of a 64th of a quarter turn, each times the contours' length.
    """
    segments = 64
    shape = polygon(ring)
    points = np.asarray(shape.exterior.coords)
    chords = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    band = shapely.union_all(shapely.buffer(chords, abs(distance_mm), quad_segs=segments))
    want = shape.union(band).area if distance_mm > 0 else shape.difference(band).area
    rings = offset(ring, distance_mm)
    length = ring.perimeter_mm + sum(r.perimeter_mm for r in rings) + 1
    sagitta = abs(distance_mm) * (1 - math.cos(math.pi / 4 / segments))
    assert sum(r.area_mm2 for r in rings) == pytest.approx(want, abs=(2 * FLAT_MM + sagitta) * length)


@settings(max_examples=15, deadline=None)
@given(outlines(), st.sampled_from([0.5, 1.0, 2.5]))
def test_grown_holds_the_ring_and_opened_lies_in_it(ring: Ring, radius_mm: float) -> None:
    """As cut contains finished; opening only takes away, closing only adds, and again changes nothing."""
    grown = offset(ring, radius_mm)
    on_ring = sampled(ring, 1.0)
    assert covered(grown, on_ring).all()
    for part in opened(ring, radius_mm):
        assert (covered((ring,), sampled(part, 1.0)) | (distances_mm(ring, sampled(part, 1.0)) < 1e-6)).all()
        again = opened(part, radius_mm * (1 - 1e-6))
        assert sum(r.area_mm2 for r in again) == pytest.approx(part.area_mm2, abs=1e-3)
    if len(grown) == 1:
        filled = closed(ring, radius_mm)
        assert filled.area_mm2 >= ring.area_mm2 - 1e-6
        assert closed(filled, radius_mm * (1 - 1e-6)).area_mm2 == pytest.approx(filled.area_mm2, abs=1e-3)


def test_a_smooth_ring_grown_and_shrunk_is_itself() -> None:
    """Where no arc is used up, growing and shrinking undo each other exactly."""
    ring = rounded_box(60, 20, 6)
    back = shrink(grow(ring, 3), 3)
    assert len(back) == 1
    assert distances_mm(ring, sampled(back[0], 0.5)).max() < 1e-9
    assert distances_mm(back[0], sampled(ring, 0.5)).max() < 1e-9
    assert len(back[0]) == len(ring)


def test_no_distance_changes_nothing() -> None:
    """At distance 0 the ring itself comes back."""
    ring = rounded_box(60, 20, 6)
    assert offset(ring, 0.0) == (ring,)


def test_shrinking_past_the_half_width_leaves_nothing() -> None:
    """More than half the width, and half the width exactly, leave nothing."""
    ring = rounded_box(60, 20, 6)
    assert shrink(ring, 10.001) == ()
    assert shrink(ring, 10.0) == ()
    assert shrink(ring, 9.999)[0].bounds_mm == pytest.approx((9.999, 9.999, 50.001, 10.001))


def test_a_neck_parts_the_ring() -> None:
    """A dumbbell shrinks to two pieces, largest first, which round the neck's corners.

    Half the neck is 2, the distance 2.5: the pieces reach towards the neck as far as sqrt(2.5^2 - 2^2) = 1.5
    from its mouths.
    """
    ring = Ring.from_rows(
        [
            [0, 0],
            [20, 0],
            [20, 8],
            [30, 8],
            [30, 2],
            [45, 2],
            [45, 18],
            [30, 18],
            [30, 12],
            [20, 12],
            [20, 20],
            [0, 20],
        ]
    )
    parts = shrink(ring, 2.5)
    assert [p.bounds_mm for p in parts] == [
        pytest.approx((2.5, 2.5, 18.5, 17.5)),
        pytest.approx((31.5, 4.5, 42.5, 15.5)),
    ]


def slot(gap: float, depth: float = 20.0) -> Ring:
    """A block with a slot from above."""
    x = 10 + gap
    return Ring.from_rows(
        [[0, 0], [x + 10, 0], [x + 10, 30], [x, 30], [x, 30 - depth], [10, 30 - depth], [10, 30], [0, 30]]
    )


@pytest.mark.parametrize("off", [0.0, 1e-9, -1e-9, 1e-7, -1e-7, 1e-5, -1e-5])
def test_a_slot_that_growing_just_closes(off: float) -> None:
    """A slot as wide as twice the growth, give or take, closes or stays; the area is right either way."""
    ring = slot(4 + off)
    grown = offset(ring, 2.0)
    # By hand: block and its border, less the notch between the two upper corner arcs.
    outer = (24 + off + 4) * 34 - 4 * (4 - math.pi)
    notch = 2 * (4 - math.pi)
    assert sum(r.area_mm2 for r in grown) == pytest.approx(outer - notch, abs=1e-3)
    for contour in grown:
        assert len(self_crossings(contour)) == 0
    # Closed, the slot is full but for the half disc that rests on its mouth; open, only its bottom corners
    # are rounded. With the disc 5e-6 mm short of falling in, it rests 0.0045 mm higher, on 4 mm.
    shut, ajar = 24 * 30 - 2 * math.pi, 24 * 30 - 80 + 2 * 4 * (1 - math.pi / 4)
    area = closed(ring, 2.0).area_mm2
    if abs(off) < 1e-6:
        assert min(abs(area - shut), abs(area - ajar)) < 5e-3
    else:
        assert area == pytest.approx(ajar if off > 0 else shut, abs=2e-2)


def test_growing_over_a_pocket_is_refused() -> None:
    """An outline that growing closes around a pocket must be refused, with the pocket's place."""
    ring = Ring.from_rows(
        [
            [0, 0],
            [30, 0],
            [30, 30],
            [16, 30],
            [16, 24],
            [20, 24],
            [20, 10],
            [10, 10],
            [10, 24],
            [14, 24],
            [14, 30],
            [0, 30],
        ]
    )
    assert len(offset(ring, 1.5)) == 2
    with pytest.raises(GeometryError, match=r"closes the outline onto itself around x = 15\.0, y = 17"):
        grow(ring, 1.5)


@pytest.mark.parametrize("near", [0.0, 1e-9, -1e-9, 1e-6, -1e-6, 1e-4, -1e-4])
def test_arcs_as_tight_as_the_distance(near: float) -> None:
    """Corner arcs that shrinking uses up, just so or nearly, leave a clean box."""
    ring = rounded_box(60, 20, 3 + near)
    parts = shrink(ring, 3.0)
    assert len(parts) == 1
    assert parts[0].area_mm2 == pytest.approx(54 * 14, abs=1e-3)
    assert len(self_crossings(parts[0])) == 0


@pytest.mark.parametrize("kink_rad", [0.0, 1e-9, 1e-7, 1e-5, 1e-3])
@pytest.mark.parametrize("distance_mm", [-3.0, 3.0])
def test_slight_kinks_do_no_harm(kink_rad: float, distance_mm: float) -> None:
    """A circle of arcs that meet at tiny kinks grows and shrinks like the circle."""
    n = 24
    angle = 2 * np.pi * np.arange(n) / n
    sweep = 2 * np.pi / n + np.random.default_rng(5).uniform(-1, 1, n) * kink_rad
    ring = Ring.from_rows(np.column_stack([30 * np.cos(angle), 30 * np.sin(angle), np.tan(sweep / 4)]))
    contours = offset(ring, distance_mm)
    assert len(contours) == 1
    # The sagitta moves by R/4 times the change of the sweep; two thirds of that on average, here all of it.
    bound = 2 * np.pi * (30 + abs(distance_mm)) * (kink_rad * 30 / 4) + 1e-6
    assert contours[0].area_mm2 == pytest.approx(np.pi * (30 + distance_mm) ** 2, abs=bound)


@pytest.mark.parametrize("exponent", [-9, -8, -7, -6, -5, -4])
def test_nearly_straight_arcs_grow_like_lines(exponent: int) -> None:
    """Sides bent by next to nothing must not upset anything, though their centres lie miles away."""
    bulges = [10.0**exponent, -(10.0**exponent)] * 2
    ring = Ring.from_rows(np.column_stack([[[0, 0], [100, 0], [100, 25], [0, 25]], bulges]))
    assert grow(ring, 2.0).area_mm2 == pytest.approx(
        ring.area_mm2 + 2 * ring.perimeter_mm + 4 * math.pi, abs=1e-2
    )
    # Two thirds of chord times sagitta: outwards on the long sides, inwards on the short ones. The sides lean
    # by 2 b at their ends, which moves the corners, 2 mm away, by 4 b along the perimeter of 234 mm.
    extra = 2 * 10.0**exponent / 3 * (96**2 - 21**2)
    assert shrink(ring, 2.0)[0].area_mm2 == pytest.approx(96 * 21 + extra, abs=1000 * 10.0**exponent + 1e-6)


def test_tiny_segments_and_collinear_joints() -> None:
    """Joints in the middle of sides, and segments from 10 microns down to a nanometre, change nothing."""
    sides = [[0, 0], [1e-8, 0], [3, 0], [3 + 1e-2, 0], [50, 0], [100, 0], [100, 1e-4], [100, 12], [100, 25]]
    ring = Ring.from_rows(np.array([*sides, [99.999, 25], [0, 25], [0, 24.9999999]]))
    assert grow(ring, 1.5875).area_mm2 == pytest.approx(2904.79, abs=5e-3)
    assert shrink(ring, 2.0)[0].area_mm2 == pytest.approx(96 * 21, abs=1e-6)
    assert closed(ring, 3.0).area_mm2 == pytest.approx(2500, abs=1e-5)


def test_a_lobe_of_350_degrees_shrinks_like_its_circle() -> None:
    """A disc with a small flat shrinks to a smaller disc with a flat."""
    ring = Ring.from_rows(
        [[0, 0, math.tan(math.radians(350) / 4)], [2 * 10 * math.sin(math.radians(5)), 0, 0]]
    )
    shrunk = shrink(ring, 4.0)
    # The chord's own shifted line cuts a segment off the disc of radius 6; its height from chord geometry.
    reach = 10 * math.cos(math.radians(5)) - 4.0
    assert reach == pytest.approx(5.961947, abs=1e-6)
    half = math.acos(reach / 6)
    segment = 36 * (half - math.sin(half) * math.cos(half))
    assert shrunk[0].area_mm2 == pytest.approx(36 * math.pi - segment, abs=1e-6)


def test_a_cusp_grows_round_its_tip() -> None:
    """At a cusp the growth goes right round: corners of radius 3 hollowed out of a square's corner.

    By hand: cusps at both ends of the hollow quarter circle; the grown outline is checked by distance.
    """
    ring = Ring.from_rows([[0, 0, 0], [3, 0, -QUARTER], [0, 3, 0]])
    grown = offset(ring, 3.0)
    points = np.random.default_rng(2).uniform(-4, 7, (2000, 2))
    gap = shapely.distance(shapely.points(points), polygon(ring, 1e-6))
    sure = np.abs(gap - 3) > 1e-4
    assert (covered(grown, points) == (gap < 3))[sure].all()


def test_a_ring_that_crosses_itself_never_ends_in_a_crash() -> None:
    """A bow tie gives contours or a plain refusal."""
    ring = Ring.from_rows([[0, 0], [10, 10], [10, 0], [0, 12]])
    try:
        rings = offset(ring, 1.0)
    except GeometryError as error:
        assert "no clean parallel curve" in error.message  # noqa: PT017 - either outcome is sound
    else:
        assert all(np.isfinite(r.rows).all() for r in rings)
