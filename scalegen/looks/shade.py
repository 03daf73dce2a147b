"""A scene drawn: soft light, sharp edges and outlines in ink, on white paper."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from scalegen.looks.ground import ground_of
from scalegen.looks.ink import ink_of
from scalegen.looks.light import Light
from scalegen.looks.raster import Halves, rasterise
from scalegen.looks.scene import Camera, Placed, into_place
from scalegen.solids.look import Numbers, Rows

FINER = 2
"""Samples along a pixel's side."""

_SHEEN = 0.10
_OFF_MM = 0.4
_ROOM_PX = 3
_AT_ONCE = 30_000
_STEPS = 4096


@dataclass(frozen=True, kw_only=True, eq=False)
class _Model:
    """All triangles of a scene in one table: corners, normals and colours by triangle or by piece."""

    points: Numbers
    normals: Numbers
    flat: Numbers
    piece: Rows
    face: Rows
    colors: Numbers
    metal: npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Room:
    """What shading needs besides the samples: the pieces, the camera and the lights."""

    model: _Model
    camera: Camera
    lights: tuple[Light, ...]


def draw(
    placed: Sequence[Placed],
    camera: Camera,
    lights: tuple[Light, ...],
    *,
    ground_mm: float | None = None,
    axes: Numbers | None = None,
) -> npt.NDArray[np.uint8]:
    """Draw a scene.

    Args:
        placed: Pieces, all ahead of the camera.
        camera: Where it is seen from.
        lights: What lights it, see :func:`scalegen.looks.light.lights_for`.
        ground_mm: Height of the ground that shadows fall on; None for no ground.
        axes: (k, 2, 3) ends of thin lines to draw as well, such as the axes of pins.

    Returns:
        uint8 (h, w, 3) sRGB.
    """
    width, height = camera.size_px
    paper = np.ones((height, width), dtype=np.float32)
    if ground_mm is not None:
        paper = ground_of(placed, camera, lights, ground_mm)
    model = _gathered(placed, camera)
    window = _window(model.flat, camera.size_px)
    model = replace(model, flat=model.flat - np.array([window[0].start, window[1].start, 0.0]))
    part = replace(
        camera, middle_px=_less(camera.middle_px, window), size_px=tuple(w.stop - w.start for w in window)
    )
    size = (part.size_px[0] * FINER, part.size_px[1] * FINER)
    seen = rasterise(model.flat[..., :2] * FINER, -1.0 / model.flat[..., 2], size, -1)
    inner = (window[1], window[0])
    color = _to_srgb(_colored(_Room(model=model, camera=part, lights=lights), seen.triangles, paper[inner]))
    ink = ink_of(placed, part, seen, model.piece, FINER, axes=axes)
    pixels = _to_srgb(np.repeat(paper[..., None], 3, axis=2))
    pixels[inner] = ink.over(color)
    return np.rint(pixels).clip(0, 255).astype(np.uint8)


def _window(flat: Numbers, size_px: tuple[int, int]) -> tuple[slice, slice]:
    """Columns and rows of pixels that pieces come to lie on, with a little room for lines."""
    found = []
    for axis, most in enumerate(size_px):
        low, high = float(flat[..., axis].min()), float(flat[..., axis].max())
        first = min(max(math.floor(low) - _ROOM_PX, 0), most - 1)
        found.append(slice(first, max(min(math.ceil(high) + _ROOM_PX, most), first + 1)))
    return found[0], found[1]


def _less(middle_px: tuple[float, float], window: tuple[slice, slice]) -> tuple[float, float]:
    return middle_px[0] - window[0].start, middle_px[1] - window[1].start


def linear_of(color: str) -> tuple[float, float, float]:
    """A colour "#rrggbb" in linear light, 0 to 1. Source: IEC 61966-2-1 (sRGB)."""
    red, green, blue = (_linear(int(color[k : k + 2], 16) / 255) for k in (1, 3, 5))
    return red, green, blue


def _linear(value: float) -> float:
    return value / 12.92 if value <= 0.04045 else float(((value + 0.055) / 1.055) ** 2.4)


def _srgb(value: float) -> float:
    return 12.92 * value if value <= 0.0031308 else float(1.055 * value ** (1 / 2.4) - 0.055)


_SRGB = np.array([255 * _srgb(k / _STEPS) for k in range(_STEPS + 1)], dtype=np.float32)


def _to_srgb(linear: Numbers) -> Numbers:
    """Linear light as sRGB from 0 to 255."""
    return _SRGB[np.rint(np.clip(linear, 0.0, 1.0) * _STEPS).astype(np.int32)]


def _gathered(placed: Sequence[Placed], camera: Camera) -> _Model:
    points, normals, piece, face = [], [], [], []
    faces = 0
    for number, each in enumerate(placed):
        table = each.table()
        turn = np.hstack([each.move[:, :3], np.zeros((3, 1))])
        points.append(each.points()[table])
        normals.append(into_place(each.shown.normals, turn)[table])
        piece.append(np.full(len(table), number, dtype=np.int32))
        face.append(each.shown.faces + faces)
        faces += int(each.shown.faces.max(initial=-1)) + 1
    corners = np.concatenate(points)
    return _Model(
        points=corners.astype(np.float32),
        normals=np.concatenate(normals).astype(np.float32),
        flat=camera.project(corners),
        piece=np.concatenate(piece),
        face=np.concatenate(face).astype(np.int32),
        colors=np.array([linear_of(each.shown.color) for each in placed], dtype=np.float32),
        metal=np.array([each.finish == "metal" for each in placed]),
    )


def _colored(room: _Room, triangles: Halves, paper: Numbers) -> Numbers:
    """Linear colour (h, w, 3): shaded once for a pixel within one face, at every sample of the others."""
    width, height = room.camera.size_px
    # One more face for nothing: its number is that of the last row.
    nothing = len(room.model.face)
    faces = np.append(room.model.face, -1).astype(np.int32)
    names = np.minimum(triangles, nothing).astype(np.int32)
    shape = (height, FINER, width, FINER)
    blocks = faces[names].reshape(shape)
    names = names.reshape(shape)
    middle = FINER // 2
    plain = np.ones((height, width), dtype=bool)
    for j in range(FINER):
        for i in range(FINER):
            plain &= blocks[:, j, :, i] == blocks[:, middle, :, middle]
    out = np.repeat(paper[..., None], 3, axis=2)
    whole = plain & (names[:, middle, :, middle] != nothing)
    rows, columns = np.nonzero(whole)
    out[whole] = _surface(room, names[:, middle, :, middle][whole], columns + 0.5, rows + 0.5)
    rows, columns = np.nonzero(~plain)
    samples = np.repeat(out[~plain], FINER * FINER, axis=0)
    offsets = (np.arange(FINER) + 0.5) / FINER
    across, down = (np.broadcast_to(each, (FINER, FINER)) for each in (offsets[None, :], offsets[:, None]))
    x: Numbers = (columns.astype(np.float64)[:, None, None] + across).ravel()
    y: Numbers = (rows.astype(np.float64)[:, None, None] + down).ravel()
    mixed = names.transpose(0, 2, 1, 3)[~plain].ravel()
    on = np.flatnonzero(mixed != nothing)
    samples[on] = _surface(room, mixed[on], x[on], y[on])
    out[~plain] = samples.reshape(-1, FINER * FINER, 3).mean(axis=1)
    return out


def _surface(room: _Room, triangles: Rows, x: Numbers, y: Numbers) -> Numbers:
    """Colour (n, 3) in linear light of samples at x, y (n,) that show triangles (n,)."""
    starts = range(0, len(triangles), _AT_ONCE)
    parts = [
        _shaded(room, triangles[k : k + _AT_ONCE], x[k : k + _AT_ONCE], y[k : k + _AT_ONCE]) for k in starts
    ]
    return np.concatenate([np.zeros((0, 3), dtype=np.float32), *parts])


def _shaded(room: _Room, triangles: Rows, x: Numbers, y: Numbers) -> Numbers:
    model = room.model
    weights = _weights(model.flat, triangles, x, y)
    point = _mixed(model.points, triangles, weights)
    normal = _unit(_mixed(model.normals, triangles, weights))
    view = _unit(room.camera.eye.astype(np.float32) - point)
    # Looked for a little off the surface, or it would shade itself.
    off = point + _OFF_MM * normal
    diffuse, shine = np.zeros(len(point), dtype=np.float32), np.zeros(len(point), dtype=np.float32)
    for light in room.lights:
        facing = _dot(normal, light.towards)
        lit = np.flatnonzero(facing > 0)
        reach = np.float32(light.share) * light.reaches(off[lit])
        diffuse[lit] += reach * facing[lit]
        if light.is_lamp:
            half = _unit(view[lit] + light.towards)
            shine[lit] += reach * _power32(np.maximum(_dot(normal[lit], half), 0.0))
    piece = model.piece[triangles]
    base = model.colors[piece]
    color: Numbers = base * (0.92 * diffuse + 0.08)[:, None] + (_SHEEN * shine)[:, None]
    metal = np.flatnonzero(model.metal[piece])
    if len(metal):
        n, v = normal[metal], view[metal]
        mirror = 2 * _dot(n, v)[:, None] * n - v
        tone = 0.45 * diffuse[metal] + 0.62 * _studio(mirror[:, 2]) * (
            0.3 + 0.7 * np.minimum(diffuse[metal], 1.0)
        )
        color[metal] = base[metal] * tone[:, None] + (0.2 * shine[metal])[:, None]
    return color


def _studio(up: Numbers) -> Numbers:
    """What a polished piece mirrors at a height, -1 to 1: a light ceiling, a bright band, a darker floor."""
    ceiling = _smooth((up + 0.15) / 0.9)
    band = _smooth((up - 0.05) / 0.15) * _smooth((0.6 - up) / 0.3)
    found: Numbers = 0.34 + 0.72 * ceiling + 0.25 * band
    return found


def _smooth(t: Numbers) -> Numbers:
    t = np.clip(t, 0.0, 1.0)
    return t * t * (3 - 2 * t)


def _power32(x: Numbers) -> Numbers:
    for _ in range(5):
        x = x * x
    return x


def _dot(rows: Numbers, other: Numbers) -> Numbers:
    found: Numbers = rows[:, 0] * other[..., 0] + rows[:, 1] * other[..., 1] + rows[:, 2] * other[..., 2]
    return found


def _unit(rows: Numbers) -> Numbers:
    length = np.sqrt(_dot(rows, rows))
    return rows / np.where(length > 0, length, np.float32(1.0))[:, None]


def _mixed(corners: Numbers, triangles: Rows, weights: Sequence[Numbers]) -> Numbers:
    """The mix (n, 3) of the three corners of triangles (n,) by their weights, each (n, 1)."""
    a, b, c = (corners[triangles, k] * weight for k, weight in enumerate(weights))
    found: Numbers = a + b + c
    return found


def _weights(flat: Numbers, triangles: Rows, x: Numbers, y: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """How much each corner has in a sample, each (n, 1), put right for perspective.

    Args:
        flat: (t, 3, 3) x, y and distance of the corners of all triangles.
        triangles: (n,) those that are seen.
        x: (n,) where, in the same frame.
        y: (n,)
    """
    first, second, third = (flat[triangles, k] for k in range(3))
    ax, ay = first[:, 0], first[:, 1]
    ux, uy = second[:, 0] - ax, second[:, 1] - ay
    vx, vy = third[:, 0] - ax, third[:, 1] - ay
    area = ux * vy - uy * vx
    area = np.where(np.abs(area) > 1e-12, area, 1.0)
    b = np.clip(((x - ax) * vy - (y - ay) * vx) / area, 0.0, 1.0)
    c = np.clip((ux * (y - ay) - uy * (x - ax)) / area, 0.0, 1.0)
    parts = [np.maximum(1.0 - b - c, 0.0) / first[:, 2], b / second[:, 2], c / third[:, 2]]
    whole = parts[0] + parts[1] + parts[2]
    one, two, three = ((part / whole).astype(np.float32)[:, None] for part in parts)
    return one, two, three
