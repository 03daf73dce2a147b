"""Edge treatments that change along the lip."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalegen.errors import GeometryError
from scalegen.form.run import EdgeRun, crests, edge_run
from scalegen.model import Edge
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import Ring

# A stadium 100 long and 24 high: two lines and two half circles.
STADIUM = Ring.from_rows([[12, -12, 0], [88, -12, 1], [88, 12, 0], [12, 12, 1]])


def sizes_at(run: EdgeRun, points: list[tuple[float, float]]) -> list[float]:
    """Sizes at points of the lip."""
    index, share, depth = run.feet(np.array(points))
    assert np.abs(depth).max() < 1e-9
    return run.size_mm(index, share).tolist()


def test_an_edge_of_one_size_is_steady() -> None:
    """Without stations the size must be the same everywhere."""
    run = edge_run(Edge(treatment="round", size_mm=2.0), STADIUM, 2.0)
    assert run.is_steady
    assert sizes_at(run, [(30, 12), (50, -12), (100, 0)]) == pytest.approx([2, 2, 2])


def test_stations_are_met_on_their_side() -> None:
    """At each station's x the size must be the station's, on the spine and on the belly."""
    edge = Edge.along("round", ((20.0, 0.5), (50.0, 2.0), (80.0, 1.0)), ((30.0, 1.5), (70.0, 0.75)))
    run = edge_run(edge, STADIUM, edge.size_mm)
    assert not run.is_steady
    assert sizes_at(run, [(20, 12), (50, 12), (80, 12)]) == pytest.approx([0.5, 2.0, 1.0], abs=1e-9)
    assert sizes_at(run, [(30, -12), (70, -12)]) == pytest.approx([1.5, 0.75], abs=1e-9)


@given(
    st.lists(st.sampled_from([0.0, 0.4, 1.0, 2.0]), min_size=1, max_size=4),
    st.lists(st.sampled_from([0.0, 0.4, 1.0, 2.0]), min_size=1, max_size=4),
)
def test_sizes_never_leave_their_stations(spine: list[float], belly: list[float]) -> None:
    """All along the lip the size must lie between the smallest and the largest, and join without a step."""
    edge = Edge.along(
        "round",
        tuple((20.0 + 15 * k, size) for k, size in enumerate(spine)),
        tuple((25.0 + 15 * k, size) for k, size in enumerate(belly)),
    )
    if not edge.changes:
        return
    run = edge_run(edge, STADIUM, edge.size_mm)
    n = len(run.pieces)
    share = np.linspace(0, 1, 41)
    sizes = np.array([run.size_mm(np.full(41, k), share) for k in range(n)])
    assert sizes.min() >= min(spine + belly) - 1e-9
    assert sizes.max() <= max(spine + belly) + 1e-9
    assert sizes[:, -1] == pytest.approx(np.roll(sizes[:, 0], -1), abs=1e-9)


def test_where_it_fades_it_ends_at_an_angle() -> None:
    """A size that goes to nothing must do so with a slope, so that the treatment ends at a point."""
    edge = Edge.along("round", ((20.0, 0.0), (50.0, 2.0)), ((20.0, 0.0), (50.0, 2.0)))
    run = edge_run(edge, STADIUM, 2.0)
    near = sizes_at(run, [(20.01, 12.0), (20.02, 12.0)])
    assert near[0] == pytest.approx(1.5 * 2.0 / 30 * 0.01, rel=1e-2)
    assert near[1] == pytest.approx(2 * near[0], rel=1e-2)


def test_a_station_beyond_the_butt_is_refused() -> None:
    """A station past the end of the handle must be refused with its place."""
    edge = Edge.along("round", ((20.0, 0.0), (120.0, 2.0)), ((20.0, 1.0),))
    with pytest.raises(GeometryError, match=r"x = 120 mm, beyond the butt at x = 100.00 mm") as caught:
        edge_run(edge, STADIUM, 2.0)
    assert caught.value.where == "scale.edge.spine"


def test_feet_are_the_nearest_places() -> None:
    """Distances to the lip must be those of the outline's own measure, and feet lie on it."""
    random = np.random.default_rng(5)
    points = np.column_stack([random.uniform(-5, 105, 600), random.uniform(-17, 17, 600)])
    run = edge_run(Edge(treatment="round", size_mm=2.0), STADIUM, 2.0)
    index, share, depth = run.feet(points)
    sign = np.where(inside(STADIUM, points), 1, -1)
    assert depth == pytest.approx(sign * distances_mm(STADIUM, points), abs=1e-9)
    assert np.hypot(*(run.pieces.at(index, share) - points).T) == pytest.approx(np.abs(depth), abs=1e-9)
    inner = depth > 0.1
    there = crests(run, index[inner], share[inner], depth[inner])
    assert there == pytest.approx(points[inner], abs=1e-8)
    assert math.isclose(run.pieces.lengths.sum(), STADIUM.perimeter_mm, rel_tol=1e-12)
