"""Numbers that come out the same on every machine: points on a fine binary lattice, exact quarter turns."""

import math

import numpy as np

from scalegen.outline.ring import FloatArray

STEP_MM = 2.0**-24
_QUARTERS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))


def snap(points_mm: FloatArray) -> FloatArray:
    """Round points to the lattice, 6e-8 mm wide, which swallows what sines differ by between machines.

    Args:
        points_mm: float64, any shape.

    Returns:
        The same shape; sums and differences of such numbers are exact.
    """
    snapped: FloatArray = np.round(points_mm / STEP_MM) * STEP_MM
    return snapped


def cosine_sine(angle_rad: float) -> tuple[float, float]:
    """Cosine and sine, exact for quarter turns.

    Args:
        angle_rad: Any angle.

    Returns:
        Cosine and sine.
    """
    quarters = angle_rad / (math.pi / 2)
    if abs(quarters - round(quarters)) < 1e-9:
        return _QUARTERS[round(quarters) % 4]
    return math.cos(angle_rad), math.sin(angle_rad)


def turned(points_mm: FloatArray, angle_rad: float, x_mm: float = 0.0, y_mm: float = 0.0) -> FloatArray:
    """Turn points about the origin, then move them.

    Args:
        points_mm: float64 (n, 2).
        angle_rad: Counter-clockwise.
        x_mm: Move along x.
        y_mm: Move along y.

    Returns:
        float64 (n, 2).
    """
    c, s = cosine_sine(angle_rad)
    x, y = points_mm[:, 0], points_mm[:, 1]
    out: FloatArray = np.column_stack([c * x - s * y + x_mm, s * x + c * y + y_mm])
    return out


def counter_clockwise(points_mm: FloatArray) -> FloatArray:
    """The same polygon travelled counter-clockwise, from its lowest leftmost point, no point twice.

    Args:
        points_mm: float64 (n, 2); the first may be repeated at the end.

    Returns:
        float64 (m, 2).
    """
    keep = (points_mm != np.roll(points_mm, -1, axis=0)).any(axis=1)
    points = points_mm[keep]
    x, y = points[:, 0], points[:, 1]
    twice = x * np.roll(y, -1) - np.roll(x, -1) * y
    if math.fsum(twice.tolist()) < 0:
        points = points[::-1]
    first = int(np.lexsort((points[:, 1], points[:, 0]))[0])
    rolled: FloatArray = np.ascontiguousarray(np.roll(points, -first, axis=0))
    return rolled
