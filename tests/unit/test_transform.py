"""Rings turned, moved and mirrored."""

import math

import pytest
import shapely
from shapely import affinity

from scalegen.outline.ring import Ring
from scalegen.outline.transform import mirrored, moved

RING = Ring.from_rows([[0, 0, 0.3], [40, 2, 0], [42, 15, -0.2], [3, 12, 0]])


def polygon(ring: Ring) -> shapely.Polygon:
    """The ring in fine chords."""
    return shapely.Polygon(ring.flatten(1e-5))


def test_moving_is_a_turn_and_then_a_shift() -> None:
    """A moved ring must be what an independent library makes of it."""
    want = affinity.translate(affinity.rotate(polygon(RING), 0.7, origin=(0, 0), use_radians=True), 5, -8)
    got = polygon(moved(RING, 5, -8, 0.7))
    assert got.symmetric_difference(want).area < 1e-9


def test_a_quarter_turn_and_back() -> None:
    """Turning there and back must leave the ring where it was."""
    back = moved(moved(RING, 0, 0, math.pi / 2), 0, 0, -math.pi / 2)
    assert back.rows == pytest.approx(RING.rows)


def test_a_mirrored_ring_keeps_its_direction() -> None:
    """The other hand's outline has y turned over, the same area and still runs counter-clockwise."""
    other = mirrored(RING)
    assert other.area_mm2 == pytest.approx(RING.area_mm2)
    x0, y0, x1, y1 = RING.bounds_mm
    assert other.bounds_mm == pytest.approx((x0, -y1, x1, -y0))
    want = affinity.scale(polygon(RING), 1, -1, origin=(0, 0))
    assert polygon(other).symmetric_difference(want).area < 1e-9
    assert polygon(mirrored(other)).symmetric_difference(polygon(RING)).area < 1e-9
