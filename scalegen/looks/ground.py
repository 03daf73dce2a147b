"""The paper that a scene stands on, with its soft shadow."""

from collections.abc import Sequence

import numpy as np

from scalegen.looks.light import Light
from scalegen.looks.scene import Camera, Placed
from scalegen.solids.look import Numbers

_DARKEST = 0.5  # how much of the paper's brightness the deepest shadow takes
_CELLS = 260
_SOFT_MM = 1.2
_REACH = 1.6  # how far shadows are followed, in heights of the scene


def ground_of(placed: Sequence[Placed], camera: Camera, lights: Sequence[Light], ground_mm: float) -> Numbers:
    """Brightness of the paper, float32 (h, w), 1 where nothing shades it.

    Args:
        placed: Pieces that cast shadows.
        camera: Where it is seen from.
        lights: What lights it.
        ground_mm: Its height.
    """
    points = np.vstack([each.points() for each in placed])
    low, high = points.min(axis=0), points.max(axis=0)
    reach = _REACH * float(high[2] - ground_mm) + 4 * _SOFT_MM
    start = low[:2] - reach
    cell = float((high[:2] + reach - start).max()) / _CELLS
    size = np.ceil((high[:2] + reach - start) / cell).astype(np.int64) + 1
    x, y = (start[k] + cell * np.arange(size[k]) for k in range(2))
    spots = np.stack([*np.meshgrid(x, y), np.full((size[1], size[0]), ground_mm)], axis=-1)
    lit = np.zeros(int(size[0] * size[1]), dtype=np.float32)
    for light in lights:
        lit += light.share * light.towards[2] * light.reaches(spots.reshape(-1, 3).astype(np.float32))
    whole = sum(light.share * light.towards[2] for light in lights)
    shade = _soft((1.0 - lit / whole).reshape(size[1], size[0]), max(1, round(_SOFT_MM / cell)))
    shade *= (
        _fade(x, start[0], cell * (size[0] - 1), reach)
        * _fade(y, start[1], cell * (size[1] - 1), reach)[:, None]
    )
    return _seen(1.0 - _DARKEST * shade, camera, ground_mm, start, cell)


def _soft(table: Numbers, reach: int) -> Numbers:
    """A table smoothed by means over its neighbours, three times along either axis."""
    for axis in (0, 1):
        for _ in range(3):
            wide = [(0, 0), (0, 0)]
            wide[axis] = (reach + 1, reach)
            total = np.pad(table, wide, mode="edge").cumsum(axis=axis, dtype=np.float64)
            many = table.shape[axis]
            table = (
                np.take(total, range(2 * reach + 1, 2 * reach + 1 + many), axis=axis)
                - np.take(total, range(many), axis=axis)
            ) / (2 * reach + 1)
    return table


def _fade(at: Numbers, start: float, length: float, reach: float) -> Numbers:
    """From 0 at both ends to 1 further in."""
    t = np.clip(np.minimum(at - start, start + length - at) / (0.6 * reach), 0.0, 1.0)
    found: Numbers = t * t * (3 - 2 * t)
    return found


def _seen(table: Numbers, camera: Camera, ground_mm: float, start: Numbers, cell: float) -> Numbers:
    """The table as the camera sees it, 1 beyond it."""
    width, height = camera.size_px
    right = ((np.arange(width) + 0.5 - camera.middle_px[0]) / camera.zoom).astype(np.float32)[None, :]
    up = ((camera.middle_px[1] - np.arange(height) - 0.5) / camera.zoom).astype(np.float32)[:, None]
    axes, eye = camera.axes.astype(np.float32), camera.eye
    ray = [right * axes[0, k] + up * axes[1, k] - axes[2, k] for k in range(3)]
    down = ray[2] < -1e-6
    far = np.float32(ground_mm - eye[2]) / np.where(down, ray[2], np.float32(-1.0))
    u, v = ((np.float32(eye[k] - start[k]) + far * ray[k]) * np.float32(1 / cell) for k in range(2))
    high, wide = table.shape
    near = down & (u >= 0) & (v >= 0) & (u < wide - 1) & (v < high - 1)
    u, v = u[near], v[near]
    i, j = u.astype(np.int32), v.astype(np.int32)
    a, b = u - i, v - j
    flat, at = table.ravel(), j * wide + i
    one = flat[at] + a * (flat[at + 1] - flat[at])
    two = flat[at + wide] + a * (flat[at + wide + 1] - flat[at + wide])
    out = np.ones((height, width), dtype=np.float32)
    out[near] = one + b * (two - one)
    return out
