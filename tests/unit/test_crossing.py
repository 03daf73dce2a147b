"""Where outlines cross or touch themselves."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.outline.crossing import self_crossings
from scalegen.outline.ring import Ring


def places(rows: Sequence[Sequence[float]]) -> list[tuple[float, float]]:
    """Crossings to a micron, sorted."""
    return sorted((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in self_crossings(Ring.from_rows(rows)))


@pytest.mark.parametrize(
    "rows",
    [
        [[0, 0], [10, 0], [10, 10], [0, 10]],
        [[-5, 0, 1], [5, 0, 1]],
        [[0, 0], [5, 0], [10, 0], [10, 10], [0, 10]],
        [[0, 0, 0.3], [40, 2, 0], [42, 15, -0.2], [3, 12, 0]],
        [[0, 0, math.tan(math.radians(350) / 4)], [1, 0, 0]],
    ],
)
def test_sound_outlines_have_none(rows: list[list[float]]) -> None:
    """Joints, collinear ones too, are not crossings."""
    assert places(rows) == []


def test_a_bow_tie() -> None:
    """The crossing of a bow tie lies where its diagonals meet."""
    assert places([[0, 0], [10, 10], [10, 0], [0, 12]]) == [(5.455, 5.455)]


def test_a_loop_of_arcs() -> None:
    """A small loop in a side is found at its crossing: y = 0 where the arc comes back through the line."""
    # The arc of radius 5 about (10, 4) leaves at (7, 0) and comes back to the line at (13, 0).
    rows = [[0, 0, 0], [20, 0, 0], [20, 20, 0], [15, 20, 0], [10, -1, 0], [9, 20, 0], [0, 20, 0]]
    want = 10 + 5 * 1 / 21, 10 - 1 / 21
    assert places(rows) == [(round(want[1], 3), 0.0), (round(want[0], 3), 0.0)]
    arc = [[0, 0, 0], [30, 0, 0], [30, 20, 0], [14, 4, -1], [6, 4, 0], [0, 20, 0]]
    # A half circle of radius 4 below (10, 4) just touches the line at (10, 0).
    assert places(arc) == [(10.0, 0.0)]


def test_a_fold_back() -> None:
    """A side that runs straight back over itself is told once, at its turn."""
    assert (20.0, 0.0) in places([[0, 0], [20, 0], [10, 0], [10, 10], [0, 10]])


def test_an_arc_that_runs_back_over_itself() -> None:
    """An arc followed by its own reverse is found."""
    found = places(
        [
            [5, 0, math.tan(math.pi / 8)],
            [0, 5, -math.tan(math.pi / 16)],
            [5 * math.cos(math.pi / 4), 5 * math.sin(math.pi / 4), 0],
            [-5, -5, 0],
        ]
    )
    assert (3.536, 3.536) in found


def test_a_corner_that_touches_a_side() -> None:
    """A corner that only touches another side is found."""
    assert places([[0, 0], [20, 0], [20, 10], [10, 0], [0, 10]]) == [(10.0, 0.0)]


def test_two_corners_in_one_place() -> None:
    """An outline that passes the same point twice is found there, once."""
    assert places([[0, 0], [10, 5], [20, 0], [20, 10], [10, 5], [0, 10]]) == [(10.0, 5.0)]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_random_polygons_against_a_library(seed: int) -> None:
    """A polygon has crossings just when the library calls its boundary not simple, on two edges."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 50, (int(rng.integers(4, 8)), 2))
    ring = Ring.from_rows(points)
    found = self_crossings(ring)
    assert (len(found) > 0) == (not shapely.LinearRing(points).is_simple)
    edges = shapely.linestrings(np.stack([points, np.roll(points, -1, axis=0)], axis=1))
    for place in found:
        assert (shapely.distance(shapely.Point(place), edges) < 1e-6).sum() >= 2
