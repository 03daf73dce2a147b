"""One seed, one layout, to the last bit, on every platform.

The digests in ``nest_digests.txt`` were seen to agree on the platforms that DEVELOPERS.md names under "Same
input, same bytes". ``python -m benchmarks.nest_digests > tests/unit/nest_digests.txt`` prints them anew where
the search itself was changed; on an unchanged search a difference is a fault of the search, not of the table.
"""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from benchmarks.nest_digests import table
from scalegen.nest.mates import _walk
from scalegen.nest.slices import _edges

TABLE = Path(__file__).with_name("nest_digests.txt")


def test_layouts_are_the_same_everywhere() -> None:
    """Pairs, proven limit, moves and every spot are those found elsewhere."""
    assert list(table()) == TABLE.read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("turned_round", [False, True])
@pytest.mark.parametrize("start", [1, 3, 7])
def test_walk_starts_where_we_say(start: int, turned_round: bool) -> None:
    """The same region, its ring begun elsewhere or run the other way, gives the same walk."""
    ring = np.array([[0, 0], [9, 2], [17, 1], [20, 8], [16, 15], [11, 12], [4, 14], [-2, 6]], dtype=float)
    other = np.roll(ring, -start, axis=0)
    other = other[::-1] if turned_round else other
    assert np.array_equal(_walk(shapely.Polygon(ring)), _walk(shapely.Polygon(other)))


def test_limits_turn_outlines_exactly() -> None:
    """By quarter turns (x, y) goes to (-y, x), so the slices of a limit have the outline's own numbers."""
    ring = np.array([[0, 0], [40, 0.1], [31.7, 29.3], [-0.2, 30]], dtype=float)
    edges = _edges(shapely.Polygon(ring), math.pi / 2)
    assert np.array_equal(edges[:, :2], np.column_stack([-ring[:, 1], ring[:, 0]]))
