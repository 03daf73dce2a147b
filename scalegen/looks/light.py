"""Soft light: a lamp above to the left, a bright sky, and what stands in the way of either."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.looks.raster import NONE, rasterise
from scalegen.looks.scene import Placed
from scalegen.solids.look import Numbers

_LAMP_DEG = (35.0, 46.0)  # how far to the left of the line of sight it stands, and how high
_LAMP_SPREAD_DEG = 9.0
_LAMP_SHARE = 0.62
_LAMPS = 4
_SKY = ((24.0, 5), (58.0, 4))  # height in degrees, how many around
_MAP_PX = 320
_BIAS_MM = 0.3
_OPEN = 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Light:
    """One distant light with what it sees of the scene.

    Attributes:
        towards: (3,) unit, towards the light.
        share: Its part of the light that falls on level ground.
        is_lamp: Whether it is part of the lamp, which mirrors in what is smooth.
        axes: (2, 3) unit rows across the light.
        low: (2,) where its map begins, in mm.
        per_mm: Samples of the map per mm.
        depths: (m, m) distance along the light, less is nearer to it.
    """

    towards: Numbers
    share: float
    is_lamp: bool
    axes: Numbers
    low: Numbers
    per_mm: float
    depths: Numbers

    def reaches(self, points: Numbers) -> Numbers:
        """How much of the light comes to points (n, 3), 0 to 1."""
        size = self.depths.shape[0]
        if size == _OPEN:
            return np.ones(len(points), dtype=np.float32)
        u, v = (
            ((points[:, 0] * axis[0] + points[:, 1] * axis[1] + points[:, 2] * axis[2]) - start) * self.per_mm
            - 0.5
            for axis, start in zip(self.axes, self.low, strict=True)
        )
        t = self.towards
        along = -(points[:, 0] * t[0] + points[:, 1] * t[1] + points[:, 2] * t[2]) - _BIAS_MM
        u, v = np.clip(u, 0.0, size - 1.001), np.clip(v, 0.0, size - 1.001)
        i, j = u.astype(np.int32), v.astype(np.int32)
        a, b = u - i, v - j
        flat, at = self.depths.ravel(), j * size + i
        lit = [(along <= flat[at + step]).astype(np.float32) for step in (0, 1, size, size + 1)]
        near = lit[0] + a * (lit[1] - lit[0])
        far = lit[2] + a * (lit[3] - lit[2])
        found: Numbers = near + b * (far - near)
        return found


def lights_for(placed: Sequence[Placed], azimuth_deg: float) -> tuple[Light, ...]:
    """Lamp and sky for a scene, with the shadows that its pieces cast on one another.

    Args:
        placed: The pieces.
        azimuth_deg: Where the camera stands, see :func:`scalegen.looks.scene.aimed`.
    """
    corners = np.concatenate([each.points()[each.table()] for each in placed])
    return tuple(
        _light(corners, towards, share, is_lamp=is_lamp) for towards, share, is_lamp in _rays(azimuth_deg)
    )


def open_lights(azimuth_deg: float) -> tuple[Light, ...]:
    """Lamp and sky that nothing stands in the way of; see :func:`lights_for`."""
    nothing = np.full((_OPEN, _OPEN), np.inf, dtype=np.float32)
    return tuple(
        Light(
            towards=towards.astype(np.float32),
            share=share,
            is_lamp=is_lamp,
            axes=np.zeros((2, 3), dtype=np.float32),
            low=np.zeros(2, dtype=np.float32),
            per_mm=1.0,
            depths=nothing,
        )
        for towards, share, is_lamp in _rays(azimuth_deg)
    )


def _rays(azimuth_deg: float) -> Iterator[tuple[Numbers, float, bool]]:
    """Direction (3,) and share of every light, and whether it is part of the lamp."""
    around, up = math.radians(azimuth_deg - _LAMP_DEG[0]), math.radians(_LAMP_DEG[1])
    middle = np.array([math.cos(up) * math.cos(around), math.cos(up) * math.sin(around), math.sin(up)])
    side, over = _across(middle)
    tilt = math.radians(_LAMP_SPREAD_DEG)
    lamp = [middle]
    for k in range(_LAMPS):
        turn = math.radians(45.0 + 360.0 * k / _LAMPS)
        lamp.append(
            math.cos(tilt) * middle + math.sin(tilt) * (math.cos(turn) * side + math.sin(turn) * over)
        )
    height_sum = sum(float(towards[2]) for towards in lamp)
    for towards in lamp:
        yield towards, _LAMP_SHARE / height_sum, True
    sky = [
        (math.radians(height), math.radians(azimuth_deg + 17.0 + 360.0 * k / count))
        for height, count in _SKY
        for k in range(count)
    ]
    total = sum(math.sin(height) for height, _ in sky)
    for height, turn in sky:
        flat = math.cos(height)
        towards = np.array([flat * math.cos(turn), flat * math.sin(turn), math.sin(height)])
        yield towards, (1 - _LAMP_SHARE) / total, False


def _light(corners: Numbers, towards: Numbers, share: float, *, is_lamp: bool) -> Light:
    axes = np.stack(_across(towards))
    flat = np.stack([_along(corners, axis) for axis in axes], axis=-1)
    low = flat.reshape(-1, 2).min(axis=0) - 2.0
    high = flat.reshape(-1, 2).max(axis=0) + 2.0
    per_mm = _MAP_PX / float((high - low).max())
    seen = rasterise((flat - low) * per_mm, -_along(corners, towards), (_MAP_PX, _MAP_PX), 1)
    depths = np.where(seen.triangles == NONE, np.inf, seen.depths_of(seen.steps))
    return Light(
        towards=towards.astype(np.float32),
        share=share,
        is_lamp=is_lamp,
        axes=axes.astype(np.float32),
        low=low.astype(np.float32),
        per_mm=per_mm,
        depths=depths.astype(np.float32),
    )


def _along(points: Numbers, axis: Numbers) -> Numbers:
    found: Numbers = points[..., 0] * axis[0] + points[..., 1] * axis[1] + points[..., 2] * axis[2]
    return found


def _across(towards: Numbers) -> tuple[Numbers, Numbers]:
    """Two unit vectors square to a direction and to each other."""
    side = np.array([-towards[1], towards[0], 0.0])
    length = math.hypot(float(side[0]), float(side[1]))
    side = side / length if length > 1e-9 else np.array([1.0, 0.0, 0.0])
    return side, np.cross(towards, side)
