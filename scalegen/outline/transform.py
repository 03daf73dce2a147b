"""Rings turned, moved and mirrored."""

import math

import numpy as np

from scalegen.outline.ring import Ring


def moved(ring: Ring, x_mm: float, y_mm: float, angle_rad: float = 0.0) -> Ring:
    """The ring turned about the origin, counter-clockwise, and then moved.

    Args:
        ring: Any ring.
        x_mm: Move along x.
        y_mm: Move along y.
        angle_rad: Turn before the move.
    """
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    points = ring.starts @ np.array([[c, s], [-s, c]]) + [x_mm, y_mm]
    return Ring(np.column_stack([points, ring.bulges]))


def mirrored(ring: Ring) -> Ring:
    """The ring mirrored across the x axis (y to -y); it still runs the way round it did."""
    return Ring(ring.rows * [1.0, -1.0, -1.0]).reversed()
