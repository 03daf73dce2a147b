"""The smooth ring that a round-over or chamfer rides on."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scalegen.errors import GeometryError
from scalegen.form.lip import parallel, smooth_lip
from scalegen.outline.crossing import self_crossings
from scalegen.outline.measure import distances_mm, inside, sampled
from scalegen.outline.offset import shrink
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray, Ring

QUARTER = math.tan(math.pi / 8)
BOX = Ring.from_rows([[0, -12], [100, -12], [100, 12], [0, 12]])
SOFT = Ring.from_rows(
    [
        [6, -12, 0],
        [94, -12, QUARTER],
        [100, -6, 0],
        [100, 6, QUARTER],
        [94, 12, 0],
        [6, 12, QUARTER],
        [0, 6, 0],
        [0, -6, QUARTER],
    ]
)


def kinks_rad(ring: Ring) -> FloatArray:
    """Angle between neighbours at every joint."""
    p = pieces_of(ring)
    arrive, leave = p.heading(1.0), np.roll(p.heading(0.0), -1, axis=0)
    cross = arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0]
    turns: FloatArray = np.abs(np.arctan2(cross, (arrive * leave).sum(axis=1)))
    return turns


def lip_of(ring: Ring, inset: float, outset: float = 0.0) -> Ring:
    """The lip with all of the ring counting as finished outline."""
    return smooth_lip(ring, inset, outset, "round-over", sampled(ring, 0.5))


def test_a_smooth_outline_is_left_alone() -> None:
    """Where the outline is smooth and wide enough, the lip is the outline itself."""
    lip = lip_of(SOFT, 2.5)
    assert distances_mm(SOFT, sampled(lip, 0.5)).max() < 1e-9
    assert lip.area_mm2 == pytest.approx(SOFT.area_mm2, rel=1e-12)
    assert len(lip) == len(SOFT)


def test_sharp_corners_are_rounded_by_more_than_the_edge() -> None:
    """A box's corners get arcs a little wider than the round-over; the sides stay."""
    lip = lip_of(BOX, 2.0)
    radii = lip.radii[np.isfinite(lip.radii)]
    assert len(radii) == 4
    assert (radii > 2.0).all()
    assert (radii < 2.5).all()
    assert lip.bounds_mm == pytest.approx(BOX.bounds_mm)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([0.8, 2.0, 3.0]), st.sampled_from([0.0, 0.8]))
def test_lips_of_random_outlines(seed: int, inset: float, outset: float) -> None:
    """Lips are smooth, wide enough to be set in and out, near the outline, and plain."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 14))
    angle = 2 * np.pi * (np.arange(n) + rng.uniform(-0.3, 0.3, n)) / n
    radius = 30 * (1 + rng.uniform(-0.2, 0.2, n))
    rows = np.column_stack([2 * radius * np.cos(angle), radius * np.sin(angle), rng.uniform(-0.2, 0.3, n)])
    ring = Ring.from_rows(rows)
    assume(not len(self_crossings(ring)))
    # Corners sharper than 60 degrees would lose more than the edge itself; they are refused.
    assume(kinks_rad(ring).max() < 1.9)
    lip = lip_of(ring, inset, outset)
    assert kinks_rad(lip).max() < 1e-4
    bent = np.isfinite(lip.radii)
    assert (lip.radii[bent & (lip.radii > 0)] > inset).all()
    assert (-lip.radii[bent & (lip.radii < 0)] > outset).all()
    (inner,) = shrink(lip, inset)
    assert parallel(lip, -inset).area_mm2 == pytest.approx(inner.area_mm2, rel=1e-6)
    assert len(self_crossings(lip)) == 0


def test_concave_kinks_are_rounded() -> None:
    """An inside corner is filled by an arc of half a millimetre, which stays close to it."""
    ring = Ring.from_rows([[0, -12], [100, -12], [100, 12], [50, 10], [0, 12]])
    lip = lip_of(ring, 2.0)
    hollow = lip.radii[np.isfinite(lip.radii) & (lip.radii < 0)]
    assert hollow == pytest.approx([-0.5], abs=1e-6)
    # A kink of angle a moves by r (1 / cos(a / 2) - 1): 0.5 mm and 2 atan(2 / 50).
    lift = 0.5 * (1 / math.cos(math.atan(2 / 50)) - 1)
    assert distances_mm(lip, np.array([[50.0, 10.0]]))[0] == pytest.approx(lift, abs=1e-6)


def test_a_chamfer_through_the_flange_needs_wider_hollows() -> None:
    """A lip that is also set out has concave arcs wider than that."""
    ring = Ring.from_rows([[0, -12], [100, -12], [100, 12], [60, 12], [50, 2], [40, 12], [0, 12]])
    lip = lip_of(ring, 1.0, 1.5)
    assert (-lip.radii[np.isfinite(lip.radii) & (lip.radii < 0)] > 1.5).all()
    assert not inside(ring, sampled(parallel(lip, 1.5), 1.0)).any()


def test_a_parallel_of_a_stadium() -> None:
    """Set in by 2, a stadium of radius 5 is one of radius 3; set out by 2, one of radius 7."""
    ring = Ring.from_rows([[0, -5, 0], [40, -5, 1], [40, 5, 0], [0, 5, 1]])
    for distance in (-2.0, 2.0):
        r = 5 + distance
        assert parallel(ring, distance).area_mm2 == pytest.approx(40 * 2 * r + math.pi * r * r)


def test_a_neck_is_refused_with_its_place() -> None:
    """A waist narrower than twice the edge is named by its stretch of x."""
    ring = Ring.from_rows(
        [
            [0, -12],
            [40, -12],
            [45, -2],
            [60, -2],
            [65, -12],
            [100, -12],
            [100, 12],
            [65, 12],
            [60, 2],
            [45, 2],
            [40, 12],
            [0, 12],
        ]
    )
    said = r"narrower than twice the round-over of 3 mm between x = 4[5-9] and x = 5[5-9]"
    with pytest.raises(GeometryError, match=said) as caught:
        lip_of(ring, 3.0)
    assert caught.value.where == "scale.edge"


def test_a_corner_too_sharp_is_refused_with_its_place() -> None:
    """A corner that rounding would take more than the edge's size from is named."""
    ring = Ring.from_rows([[0, -12], [60, -12], [100, 0], [60, 12], [0, 12]])
    with pytest.raises(GeometryError, match=r"x = (9\d|100)"):
        lip_of(ring, 3.0)


def test_a_thin_tail_is_refused_with_its_place() -> None:
    """A tail thinner than twice the edge is named by its stretch of x."""
    ring = Ring.from_rows(
        [[0, -12], [70, -12], [70, -1.5], [100, -1.5], [100, 1.5], [70, 1.5], [70, 12], [0, 12]]
    )
    with pytest.raises(GeometryError, match=r"between x = 7\d and x = 100"):
        lip_of(ring, 2.0)


def test_an_outline_too_narrow_everywhere_is_refused() -> None:
    """An outline that no such edge fits anywhere is told so."""
    with pytest.raises(GeometryError, match="everywhere"):
        lip_of(Ring.from_rows([[0, -2], [100, -2], [100, 2], [0, 2]]), 2.5)
