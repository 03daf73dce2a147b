"""Lines in ink over a drawn scene: sharp edges that are not hidden, and outlines."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.looks.raster import NONE, Ints, Seen
from scalegen.looks.scene import Camera, Placed, into_place
from scalegen.solids.look import Numbers, Rows

Tones = npt.NDArray[np.int16]

_NEARER_MM = 0.15  # an edge lies in the surface itself; so much it may seem to lie below
_PEN = 0.55  # half the width of a line, in pixels
_STRENGTH = 0.62
_DARK = 0.30
_FAR_MM = 1e9
_GAP_MM = 0.5  # outlines are drawn where what is behind lies so much further off
_AXIS = (120.0, 126.0, 134.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Ink:
    """Ink over a picture: how much (h, w) from 0 to 1, and its colour (h, w, 3) from 0 to 255."""

    cover: Numbers
    color: Numbers

    def over(self, pixels: Numbers) -> Numbers:
        """The picture (h, w, 3) with the ink on it."""
        return pixels + (self.color - pixels) * self.cover[..., None]


def ink_of(
    placed: Sequence[Placed],
    camera: Camera,
    seen: Seen,
    piece_of: Rows,
    finer: int,
    *,
    axes: Numbers | None = None,
) -> Ink:
    """All lines of a scene.

    Args:
        placed: Pieces.
        camera: Where they are seen from.
        seen: Nearest triangle by sample; depths are minus one over the distance.
        piece_of: Piece of each triangle.
        finer: Samples along a pixel's side.
        axes: (k, 2, 3) ends of further thin lines, or None.
    """
    high, wide = seen.keys.shape
    tone = np.full((high, wide), -1, dtype=np.int16)
    _outlines(tone, seen, piece_of)
    tones = [_tone(each.shown.color) for each in placed]
    for number, each in enumerate(placed):
        if each.shown.kind != "bond" and len(each.shown.edges):
            _lines(
                tone,
                into_place(each.shown.edges, each.move),
                camera,
                seen,
                _Pen(tone=number, half=_PEN * finer),
            )
    if axes is not None and len(axes):
        tones.append(_AXIS)
        _lines(tone, axes, camera, seen, _Pen(tone=len(placed), half=0.5 * finer, dash=9.0 * finer))
    rows, columns = np.nonzero(tone >= 0)
    at = (rows // finer) * (wide // finer) + columns // finer
    table, size = np.array(tones), (high // finer) * (wide // finer)
    count = np.bincount(at, minlength=size)
    inked = tone[rows, columns]
    color: Numbers = np.stack([np.bincount(at, table[inked, k], size) for k in range(3)], axis=-1)
    color = color / np.maximum(count, 1)[:, None]
    shape = (high // finer, wide // finer)
    cover = count.reshape(shape) * (_STRENGTH / (finer * finer))
    return Ink(cover=cover, color=color.reshape(*shape, 3))


def ink_tone(color: str) -> str:
    """Ink for a piece of a colour, both "#rrggbb"."""
    return "#" + "".join(f"{round(value):02x}" for value in _tone(color))


def _tone(color: str) -> tuple[float, float, float]:
    """Ink for a piece: darker than itself, or lighter where it is dark, as a worn edge is."""
    rgb = [int(color[k : k + 2], 16) for k in (1, 3, 5)]
    light = (0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]) / 255
    if light < _DARK:
        red, green, blue = (value + 0.42 * (255 - value) for value in rgb)
    else:
        red, green, blue = (0.28 * value for value in rgb)
    return red, green, blue


def _outlines(tone: Tones, seen: Seen, piece_of: Rows) -> None:
    """Ink where a piece ends before something further off."""
    pieces = np.append(piece_of, -1)[np.minimum(seen.triangles, len(piece_of))].astype(np.int16)
    for axis in (0, 1):
        near: tuple[slice, slice] = (
            (slice(None, -1), slice(None)) if axis == 0 else (slice(None), slice(None, -1))
        )
        far: tuple[slice, slice] = (
            (slice(1, None), slice(None)) if axis == 0 else (slice(None), slice(1, None))
        )
        rows, columns = np.nonzero(pieces[near] != pieces[far])
        one, other = (rows, columns), (rows + (axis == 0), columns + (axis == 1))
        for this, that in ((one, other), (other, one)):
            gap = _distance(seen, that) - _distance(seen, this)
            edge = (pieces[this] >= 0) & (gap > _GAP_MM)
            tone[this[0][edge], this[1][edge]] = pieces[this][edge]


def _distance(seen: Seen, at: tuple[Ints, Ints]) -> Numbers:
    """Distances (n,) in mm of samples, very far where there is nothing."""
    steps = seen.steps[at]
    found: Numbers = np.where(steps == NONE, _FAR_MM, -1.0 / seen.depths_of(steps))
    return found


@dataclass(frozen=True, kw_only=True)
class _Pen:
    """Number of its ink, half its width and the length of a dash with its gap, 0 for none, in samples."""

    tone: int
    half: float
    dash: float = 0.0


def _lines(tone: Tones, ends: Numbers, camera: Camera, seen: Seen, pen: _Pen) -> None:
    """Enter lines (e, 2, 3) where nothing lies before them."""
    high, wide = tone.shape
    flat = camera.project(ends)
    finer = wide / camera.size_px[0]
    start = np.concatenate([flat[:, 0, :2] * finer, 1.0 / flat[:, 0, 2:]], axis=1)
    stop = np.concatenate([flat[:, 1, :2] * finer, 1.0 / flat[:, 1, 2:]], axis=1)
    long = np.abs(stop - start)[:, :2].max(axis=1)
    many = np.maximum(np.ceil(long).astype(np.int64), 1) + 1
    runs = np.repeat(np.arange(len(many)), many)
    step = np.arange(len(runs)) - (np.cumsum(many) - many)[runs]
    spots = start[runs] + (step / (many[runs] - 1))[:, None] * (stop - start)[runs]
    if pen.dash:
        spots = spots[step % pen.dash < 0.6 * pen.dash]
    nearer = seen.steps_of(-1.0 / (1.0 / spots[:, 2] - _NEARER_MM))
    reach = int(np.ceil(pen.half))
    for dy in range(-reach, reach + 1):
        for dx in range(-reach, reach + 1):
            if dx * dx + dy * dy > pen.half * pen.half:
                continue
            x, y = np.floor(spots[:, 0]).astype(np.int64) + dx, np.floor(spots[:, 1]).astype(np.int64) + dy
            inside = (x >= 0) & (x < wide) & (y >= 0) & (y < high)
            x, y = x[inside], y[inside]
            shows = nearer[inside] <= seen.steps[y, x]
            tone[y[shows], x[shows]] = pen.tone
