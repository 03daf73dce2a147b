"""Growing shapes and taking corners off them: only ever outwards."""

import numpy as np
import pytest
import shapely

from scalegen.errors import GeometryError
from scalegen.nest.grown import fewer_corners, grown
from scalegen.nest.lattice import counter_clockwise, snap


def _bean() -> np.ndarray:
    t = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    reach = 30 + 6 * np.cos(2 * t) + 3 * np.sin(3 * t)
    return np.column_stack([reach * np.cos(t), 0.5 * reach * np.sin(t)])


@pytest.mark.parametrize("reach", [0.0, 2.25])
def test_a_grown_shape_holds_the_true_growth_and_little_more(reach: float) -> None:
    """The new outline is the reach from the shape, never less and nowhere 0.02 mm more, by shapely."""
    shape, big = shapely.Polygon(_bean()), shapely.Polygon(grown(_bean(), reach, 0.014))
    assert big.buffer(1e-6).covers(shape)
    assert big.exterior.distance(shape) >= reach - 1e-6
    along = shapely.points(shapely.get_coordinates(shapely.segmentize(big.exterior, 0.1)))
    assert shapely.distance(along, shape).max() <= reach + 0.02


def test_fewer_corners_are_really_fewer() -> None:
    """A smooth outline of 200 corners loses a quarter of them within 0.02 mm."""
    points = counter_clockwise(snap(_bean()))
    assert len(fewer_corners(points, 0.02)) < 150


def test_straight_sides_grow_by_exactly_the_reach() -> None:
    """A rectangle grown by r measures a + 2r and b + 2r."""
    box = np.array([[0, 0], [30, 0], [30, 10], [0, 10]], float)
    size = np.ptp(grown(box, 2.25, 0.015), axis=0)
    assert size == pytest.approx([34.5, 14.5], abs=1e-6)


def test_a_crossed_outline_is_refused_by_name() -> None:
    """A bow tie ends in an error that names the shape."""
    bow = np.array([[0, 0], [10, 10], [10, 0], [0, 10]], float)
    with pytest.raises(GeometryError, match=r"shape left.*not a simple polygon"):
        grown(bow, 1.0, 0.01, where="shape left")
