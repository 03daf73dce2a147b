"""Arcs as Bézier curves, for papers whose format knows no arcs."""

import math
from collections.abc import Iterator

import numpy as np

from scalegen.outline.ring import FloatArray

OFF_MM = 0.01
"""How far a curve may be from its arc."""

_SWEEP_RAD = math.radians(30.0)


def arc_curves(start: FloatArray, end: FloatArray, bulge: float) -> Iterator[FloatArray]:
    """One arc as cubic curves.

    Args:
        start: (2,) where it starts, mm.
        end: (2,) where it ends, mm.
        bulge: tan(theta / 4) of the angle it turns through; not 0.

    Yields:
        (3, 2) two control points and the end of each curve, mm. Each turns through 30 degrees at most, where
        a curve is no further than 4e-7 radii from its arc: within 0.01 mm for radii up to 25 m; arcs of
        larger radii are cut up finer.

    Source: the usual handle length 4/3 tan(theta / 4), whose error at the quarter circle is 2.7e-4 radii and
        falls with the sixth power of the angle (M. Goldapp, Computer Aided Geometric Design 8, 1991).
    """
    step = end - start
    radius = float(np.hypot(*step)) * (1 + bulge**2) / (4 * abs(bulge))
    left = np.array([-step[1], step[0]])
    center = (start + end) / 2 + left * (1 - bulge**2) / (4 * bulge)
    sweep = 4 * math.atan(bulge)
    finest = min(_SWEEP_RAD, math.pi / 2 * (OFF_MM / (2.8e-4 * radius)) ** (1 / 6))
    count = max(1, math.ceil(abs(sweep) / finest - 1e-9))
    first = math.atan2(start[1] - center[1], start[0] - center[0])
    turn = sweep / count
    handle = 4 / 3 * math.tan(turn / 4) * radius
    for k in range(count):
        a, b = first + k * turn, first + (k + 1) * turn
        p = start if k == 0 else center + radius * np.array([math.cos(a), math.sin(a)])
        q = end if k == count - 1 else center + radius * np.array([math.cos(b), math.sin(b)])
        out = handle * np.array([-math.sin(a), math.cos(a)])
        back = handle * np.array([-math.sin(b), math.cos(b)])
        yield np.array([p + out, q - back, q])
