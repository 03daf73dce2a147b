"""Where wall and lip part: shared pieces, level patches, and no slivers."""

from math import pi

import numpy as np
import pytest

from scalegen.form.lip import parallel
from scalegen.outline.offset import closed, opened
from scalegen.outline.pieces import Pieces
from scalegen.outline.ring import FloatArray, Ring
from scalegen.solids.ledge import seat_of

BOX = Ring.from_rows([(0.0, 0.0), (50.0, 0.0), (50.0, 20.0), (0.0, 20.0)])


def rounded(radius_mm: float) -> Ring:
    """The box with its corners rounded."""
    (ring,) = opened(BOX, radius_mm)
    return ring


def area_mm2(pieces: Pieces) -> float:
    """Area inside a closed run of pieces: shoelace of the chords and a segment for each arc."""
    a, b = pieces.start, pieces.end
    chords = 0.5 * float((a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]).sum())
    return chords + float((pieces.radius**2 * (pieces.sweep - np.sin(pieces.sweep))).sum()) / 2


def gaps(pieces: Pieces) -> FloatArray:
    """Distance from each piece's end to the next one's start."""
    found: FloatArray = np.hypot(*(pieces.end - np.roll(pieces.start, -1, axis=0)).T)
    return found


def test_lip_on_the_wall_needs_no_patch() -> None:
    """Where both are one ring, the walls are the lip's own pieces and nothing lies between."""
    ring = rounded(3.0)
    seat = seat_of(ring, ring)
    assert (seat.patches, seat.apart, seat.moved_mm) == ((), False, 0.0)
    assert len(seat.wall) == len(seat.lip) == 8
    np.testing.assert_array_equal(seat.wall.start, seat.lip.start)


def test_corners_get_level_patches() -> None:
    """Each square corner leaves a patch of r^2 (1 - pi/4) beside the rounded lip (plane geometry)."""
    seat = seat_of(BOX, rounded(3.0))
    assert not seat.apart
    assert [area_mm2(patch) for patch in seat.patches] == pytest.approx([9 * (1 - pi / 4)] * 4, rel=1e-9)
    assert area_mm2(seat.wall) == pytest.approx(1000.0, rel=1e-12)
    for run in (seat.wall, seat.lip, *seat.patches):
        assert gaps(run).max() < 1e-7
    # Wherever wall and lip run together they have the same joints.
    apart = np.hypot(*(seat.lip.start[:, None] - seat.wall.start[None]).transpose(2, 0, 1)).min(axis=1)
    assert apart.max() < 1e-7


def test_lip_inside_the_wall_is_one_band() -> None:
    """A lip that never touches the wall leaves one band between them, and nothing is split."""
    wall = rounded(5.0)
    seat = seat_of(wall, parallel(wall, -1.0))
    assert seat.apart
    assert seat.patches == ()
    assert len(seat.wall) == len(seat.lip) == 8


def test_slight_kinks_are_followed() -> None:
    """At an inside kink too slight to matter the wall follows the rounded lip, by what it says and no more.

    Rounding a kink of angle a with radius r moves it by r (1 / cos(a/2) - 1) (plane geometry).
    """
    dent = 0.12
    wall = Ring.from_rows([(0.0, 0.0), (25.0, dent), (50.0, 0.0), (50.0, 20.0), (0.0, 20.0)])
    (smooth,) = opened(wall, 3.0)
    seat = seat_of(wall, closed(smooth, 0.5))
    half = np.arctan(dent / 25)
    assert seat.moved_mm == pytest.approx(0.5 * (1 / np.cos(half) - 1), rel=1e-3)
    assert len(seat.patches) == 4


def test_noise_makes_no_slivers() -> None:
    """Arcs that differ by rounding alone must not be split where they happen to cross.

    Two arcs of nearly the same radius run into each other without a kink; the lip is the wall with noise of
    1e-9 mm, as it comes back from setting in and out again.
    """
    small, large = 195.0, 199.0
    turn = 0.1
    joint = np.array([0.0, -100.0])
    left = joint + small * np.array([-np.sin(turn), 1 - np.cos(turn)])
    right = joint + large * np.array([np.sin(turn), 1 - np.cos(turn)])
    rows = [
        [*left, np.tan(turn / 4)],
        [*joint, np.tan(turn / 4)],
        [*right, 0.0],
        [right[0], -60, 0],
        [left[0], -60, 0],
    ]
    wall = Ring.from_rows(rows)
    for seed in range(20):
        noise = np.random.default_rng(seed).normal(0, 1e-9, wall.rows.shape) * [1, 1, 0.001]
        (lip,) = opened(Ring(wall.rows + noise), 2.0)
        seat = seat_of(wall, lip)
        assert min(seat.wall.lengths.min(), seat.lip.lengths.min()) > 1.0
        assert len(seat.patches) == 4


def test_crossing_splits_both() -> None:
    """Where wall and lip cross at an angle, both must be split at the crossing, with a patch on each side.

    A side of 50 mm that is tipped by 1 mm at each end leaves two triangles of 25 x 1 / 2 mm2.
    """
    lip = Ring.from_rows([(0.0, -1.0), (50.0, 1.0), (50.0, 20.0), (0.0, 20.0)])
    seat = seat_of(BOX, lip)
    areas = [abs(area_mm2(patch)) for patch in seat.patches]
    assert areas == pytest.approx([12.5, 12.5], rel=1e-9)
    for run in (seat.wall, seat.lip):
        assert np.hypot(*(run.start - [25.0, 0.0]).T).min() < 1e-9
