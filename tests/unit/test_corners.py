"""Where a cutter does not fit: what the answers look like."""

import math

import numpy as np
import pytest

from scalegen.machining.corners import narrow_slots, smallest_inside, tight_places
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved

STAR = Ring.from_rows(
    [
        [r * math.cos(a), r * math.sin(a)]
        for a, r in zip(np.arange(10) * math.pi / 5, [30.0, 14.0] * 5, strict=True)
    ]
)


def test_every_inside_corner_of_a_star_is_named() -> None:
    """Five of them, each at its own place, all alike."""
    found = [place for place in tight_places(STAR, 2.0) if place.kind == "corner"]
    assert len({place.at_mm for place in found}) == 5
    assert all(math.hypot(*place.at_mm) == pytest.approx(14.0) for place in found)
    assert np.ptp([place.rest_mm or 0.0 for place in found]) == pytest.approx(0.0, abs=1e-9)


def test_places_move_with_the_outline() -> None:
    """Turned and moved, the same places are found there."""
    ring = Ring.from_rows([[0, 0], [40, 0], [40, 20], [22, 20], [22, 8], [20, 8], [20, 20], [0, 20]])
    there = moved(ring, 7.0, -3.0, 0.6)
    (slot,), (other,) = narrow_slots(ring, 3.0), narrow_slots(there, 3.0)
    wanted = moved(Ring.from_rows([slot.at_mm, (0, 0), (50, 1)]), 7.0, -3.0, 0.6).starts
    assert np.hypot(*(wanted - np.array(other.at_mm)).T).min() < 0.5
    assert other.radius_mm == pytest.approx(slot.radius_mm)


def test_the_tightest_comes_first() -> None:
    """A sharp corner before a bend, a bend of 1 mm before one of 2."""
    b = -math.tan(math.pi / 8)
    rows = [[0, 0, 0], [40, 0, 0], [40, 10, 0], [31, 10, b], [30, 11, 0], [30, 20, 0], [22, 20, b]]
    rows += [[20, 22, 0], [20, 30, 0], [10, 30, 0], [10, 40, 0], [0, 40, 0]]
    found = tight_places(Ring.from_rows(rows), 2.5)
    assert [(place.kind, round(place.radius_mm, 6)) for place in found] == [
        ("corner", 0.0),
        ("bend", 1.0),
        ("bend", 2.0),
    ]
    tightest = smallest_inside(Ring.from_rows(rows))
    assert tightest is not None
    assert tightest.kind == "corner"
