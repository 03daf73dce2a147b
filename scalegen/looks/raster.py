"""Triangles into pixels: which triangle is nearest at every sample, with nothing but array arithmetic.

Each triangle is cut into rows and each row into samples, and the nearest wins. The order of triangles does
not matter, so the same scene gives the same picture. Principle: the z-buffer of E. Catmull, A subdivision
algorithm for computer display of curved surfaces (1974).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.solids.look import Numbers

NOTHING = np.uint64(0xFFFFFFFFFFFFFFFF)
NONE = np.uint32(0xFFFFFFFF)
_SHIFT = np.uint64(32)
_STEPS = float(2**32 - 2)
_AT_ONCE = 200_000

Keys = npt.NDArray[np.uint64]
Halves = npt.NDArray[np.uint32]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """What is seen at every sample of a picture.

    Attributes:
        keys: uint64 (h, w): how far in the upper half, which triangle in the lower, or ``NOTHING``.
        nearest: The number that stands for the least depth.
        furthest: The number that stands for the greatest.
    """

    keys: Keys
    nearest: float
    furthest: float

    @property
    def triangles(self) -> Halves:
        """The triangle, uint32 (h, w), at each sample; ``NONE`` where there is none."""
        return self.keys.view("<u4")[:, 0::2]

    @property
    def steps(self) -> Halves:
        """The depth at each sample in steps, uint32 (h, w); the most there is where there is nothing."""
        return self.keys.view("<u4")[:, 1::2]

    def steps_of(self, depths: Numbers) -> Numbers:
        """Depths in the steps that samples have them in."""
        return (depths - self.nearest) * (_STEPS / (self.furthest - self.nearest))

    def depths_of(self, steps: Halves) -> Numbers:
        """Depths from steps."""
        found: Numbers = self.nearest + steps * ((self.furthest - self.nearest) / _STEPS)
        return found


def rasterise(corners: Numbers, depths: Numbers, size: tuple[int, int], front: int) -> Seen:
    """Find the nearest triangle at every sample.

    Args:
        corners: (t, 3, 2) x and y of each triangle's corners in samples; sample i, j has its middle at
            i + 0.5, j + 0.5.
        depths: (t, 3) at the corners; must change linearly across the picture; less is nearer.
        front: 1 takes triangles that run counter-clockwise in x and y alone, -1 those that run clockwise.
        size: Width and height in samples.

    Returns:
        The nearest triangle by sample.
    """
    width, height = size
    keys = np.full(width * height, NOTHING, dtype="<u8")
    nearest, furthest = (float(depths.min()), float(depths.max())) if len(depths) else (0.0, 1.0)
    if furthest <= nearest:
        furthest = nearest + 1.0
    slope_x, slope_y, at_zero = _planes(corners, (depths - nearest) / (furthest - nearest))
    triangle, row, first, count = _rows(corners, _facing(corners, front), width, height)
    base = slope_y[triangle] * (row + 0.5) + at_zero[triangle]
    ends = np.cumsum(count)
    start = 0
    while start < len(count):
        done = ends[start - 1] if start else 0
        stop = max(start + 1, int(np.searchsorted(ends, done + _AT_ONCE)))
        part = slice(start, stop)
        _fill(
            keys,
            np.repeat(np.arange(start, stop), count[part]),
            (triangle, row, first, base, slope_x),
            (ends[part] - count[part], int(done), width),
        )
        start = stop
    return Seen(keys=keys.reshape(height, width), nearest=nearest, furthest=furthest)


def _fill(
    keys: Keys,
    runs: Ints,
    table: tuple[Ints, Ints, Ints, Numbers, Numbers],
    place: tuple[Ints, int, int],
) -> None:
    """Enter all samples of some rows of triangles."""
    triangle, row, first, base, slope_x = table
    begins, done, width = place
    offset = np.arange(len(runs)) + done - begins[runs - runs[0]] if len(runs) else runs
    x = first[runs] + offset
    names = triangle[runs]
    depth = base[runs] + slope_x[names] * (x + 0.5)
    # By way of signed numbers, which processors turn out faster.
    key = (np.clip(depth, 0.0, 1.0) * _STEPS).astype(np.int64).view(np.uint64) << _SHIFT
    np.minimum.at(keys, row[runs] * width + x, key | names.view(np.uint64))


def _planes(corners: Numbers, depths: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """For each triangle, depth as slope_x * x + slope_y * y + at_zero; flat where it has no area."""
    a = corners[:, 0]
    ux, uy = (corners[:, 1] - a).T
    vx, vy = (corners[:, 2] - a).T
    area = ux * vy - uy * vx
    whole = np.abs(area) > 1e-9
    safe = np.where(whole, area, 1.0)
    du, dv = depths[:, 1] - depths[:, 0], depths[:, 2] - depths[:, 0]
    slope_x = np.where(whole, (du * vy - dv * uy) / safe, 0.0)
    slope_y = np.where(whole, (dv * ux - du * vx) / safe, 0.0)
    return slope_x, slope_y, depths[:, 0] - slope_x * a[:, 0] - slope_y * a[:, 1]


def _facing(corners: Numbers, front: int) -> Ints:
    """Triangles that run the way round that is asked for."""
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return np.flatnonzero(front * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) > 0)


def _rows(corners: Numbers, names: Ints, width: int, height: int) -> tuple[Ints, Ints, Ints, Ints]:
    """Rows of samples of some triangles: triangle, row, first sample and how many, for those with any."""
    corners = corners[names]
    low = np.ceil(corners[:, :, 1].min(axis=1) - 0.5).clip(0, height).astype(np.int64)
    high = np.ceil(corners[:, :, 1].max(axis=1) - 0.5).clip(0, height).astype(np.int64)
    many = np.maximum(high - low, 0)
    triangle = np.repeat(np.arange(len(corners)), many)
    row = low[triangle] + np.arange(len(triangle)) - (np.cumsum(many) - many)[triangle]
    y = row + 0.5
    left = np.full(len(row), np.inf)
    right = np.full(len(row), -np.inf)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        p, q = corners[:, one], corners[:, other]
        # From the lower end up, so that neighbours work out the very same place on their edge.
        swap = (p[:, 1] > q[:, 1])[:, None]
        p, q = np.where(swap, q, p), np.where(swap, p, q)
        rise = q[:, 1] - p[:, 1]
        lean = np.where(rise > 0, (q[:, 0] - p[:, 0]) / np.where(rise > 0, rise, 1.0), 0.0)
        x = p[triangle, 0] + (y - p[triangle, 1]) * lean[triangle]
        on = (p[triangle, 1] <= y) & (y < q[triangle, 1])
        left = np.where(on, np.minimum(left, x), left)
        right = np.where(on, np.maximum(right, x), right)
    met = np.isfinite(left)
    first = np.ceil(np.where(met, left, 0.0) - 0.5).clip(0, width).astype(np.int64)
    last = np.ceil(np.where(met, right, 0.0) - 0.5).clip(0, width).astype(np.int64)
    keep = met & (last > first)
    return names[triangle[keep]], row[keep], first[keep], (last - first)[keep]
