"""Covering a smooth stretch with few biarcs."""

import itertools

import numpy as np
import pytest

from scalegen.outline.biarc import biarc, deviation_of, unit
from scalegen.outline.cover import Joint, Smooth, covered

TOLERANCE_MM = 0.005


def clothoid(count: int = 400, grows: float = 0.004, long: float = 30.0) -> Smooth:
    """A curve whose curvature grows evenly, from 0: direction k' s^2 / 2."""
    s = np.linspace(0, long, count)
    angles = grows * s**2 / 2
    middle = grows * ((s[1:] + s[:-1]) / 2) ** 2 / 2
    steps = np.diff(s)[:, None] * np.column_stack([np.cos(middle), np.sin(middle)])
    points = np.vstack([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    return Smooth(points=points, angles_rad=angles, free=(True, True))


def worst(smooth: Smooth, joints: tuple[Joint, ...]) -> float:
    """Largest deviation of the biarcs between joints, measured without the search."""
    offs = []
    for a, b in itertools.pairwise(joints):
        points = smooth.points[a.at : b.at + 1]
        rows = biarc(points[0], unit(a.angle_rad), points[-1], unit(b.angle_rad), b.share)
        offs.append(deviation_of(rows, points, 1.0))
    return max(offs)


def test_an_evenly_growing_curvature_takes_about_the_fewest_arcs() -> None:
    """Where curvature grows by k' per mm the best arcs have the length (72 sqrt 3 e / k')^(1/3).

    Source: the error of such arcs is the third Bernoulli polynomial times k' a^3 / 6, whose largest value is
    sqrt(3) / 36 (Abramowitz and Stegun, chapter 23, from memory).
    """
    smooth = clothoid()
    joints = covered(smooth, TOLERANCE_MM)
    fewest = 30 / (72 * np.sqrt(3) * TOLERANCE_MM / 0.004) ** (1 / 3)
    assert worst(smooth, joints) <= TOLERANCE_MM
    assert fewest / 2 <= len(joints) - 1 <= np.ceil(fewest / 2) + 1


def test_directions_that_are_given_are_kept() -> None:
    """Ends that are not free must keep their directions; joints run from the first point to the last."""
    smooth = clothoid()
    fixed = Smooth(points=smooth.points, angles_rad=smooth.angles_rad, free=(False, False))
    joints = covered(fixed, TOLERANCE_MM)
    assert (joints[0].at, joints[-1].at) == (0, 399)
    assert joints[0].angle_rad == smooth.angles_rad[0]
    assert joints[-1].angle_rad == smooth.angles_rad[-1]
    assert worst(fixed, joints) <= TOLERANCE_MM


def test_an_arc_is_one_biarc() -> None:
    """Points of a quarter circle must be covered in one step."""
    t = np.linspace(0, np.pi / 2, 80)
    points = 20 * np.column_stack([np.sin(t), 1 - np.cos(t)])
    assert len(covered(Smooth(points=points, angles_rad=t, free=(True, True)), TOLERANCE_MM)) == 2


def test_points_too_far_apart_are_gone_through_one_by_one() -> None:
    """Where no biarc holds, every point must be a joint."""
    points = np.array([[0.0, 0], [10, 0], [10, 10], [20, 10], [20, 0]])
    joints = covered(Smooth(points=points, angles_rad=np.zeros(5), free=(False, False)), 1e-4)
    assert [joint.at for joint in joints] == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("share", [0.5, 1.0, 2.0])
def test_a_biarc_of_any_share_keeps_its_ends_and_directions(share: float) -> None:
    """Whatever the share, both arcs must meet without a kink and the ends be as given."""
    rows = biarc(np.zeros(2), unit(0.3), np.array([10.0, 2.0]), unit(-0.2), share)
    step = np.diff(rows[:, :2], axis=0)
    chord, half = np.arctan2(step[:, 1], step[:, 0]), 2 * np.arctan(rows[:2, 2])
    assert [chord[0] - half[0], chord[1] + half[1]] == pytest.approx([0.3, -0.2])
    assert chord[0] + half[0] == pytest.approx(chord[1] - half[1])
