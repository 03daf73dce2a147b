"""The pictures of a job: the pair as cut, the handle on its tang, and its layers drawn apart."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from scalegen.design import Scale
from scalegen.looks.hardware import loose_hardware, set_hardware
from scalegen.looks.light import lights_for, open_lights
from scalegen.looks.png import png_bytes
from scalegen.looks.scene import BELOW, IDENTITY, MIRRORED, Placed, aimed, moved
from scalegen.looks.shade import draw
from scalegen.solids.look import Looks, Numbers, Shown

APART_MM = 10.0
"""Between the two scales of a pair where they lie beside each other."""

Pixels = npt.NDArray[np.uint8]

_WIDE_PX = 1400
_LARGE_PX = 880
_SMALL_PX = (_WIDE_PX - _LARGE_PX, 342)
_FRAME_PX = 14
_APART_DEG = (-112.0, 24.0)
_LYING: Numbers = np.array([[0.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, 0.0], [-1.0, 0.0, 0.0, 0.0]])
_OVER: Numbers = np.diag([1.0, -1.0, -1.0])


@dataclass(frozen=True, kw_only=True)
class _Shot:
    """From where a part of a picture is taken, and how large it is."""

    azimuth_deg: float
    height_deg: float
    size_px: tuple[int, int]
    rim: float = 0.05


def pictures(scale: Scale, looks: Looks) -> tuple[tuple[str, Callable[[], bytes]], ...]:
    """The pictures of one pattern: their file names, and what draws each as a PNG file.

    Args:
        scale: Every number of it.
        looks: Its meshes.
    """
    ways = {"preview.png": preview, "knife.png": knife, "exploded.png": exploded}
    return tuple((name, partial(_as_png, way, scale, looks)) for name, way in ways.items())


def _as_png(way: Callable[[Scale, Looks], Pixels], scale: Scale, looks: Looks) -> bytes:
    return png_bytes(way(scale, looks))


# ------------------------------------------------------------------------------------------- as cut


def preview(scale: Scale, looks: Looks) -> Pixels:
    """The pair as cut with its hardware beside it; below, its backs and its front ends close by."""
    lying = pair_scene(looks.as_cut)
    main = [*lying, *_loose_beside(scale, lying)]
    backs = _turned_over(lying)
    left = _taken(
        main, _Shot(azimuth_deg=-108.0, height_deg=46.0, size_px=(_LARGE_PX, 2 * _SMALL_PX[1]), rim=0.04)
    )
    over = _taken(backs, _Shot(azimuth_deg=-72.0, height_deg=52.0, size_px=_SMALL_PX))
    close = _Shot(azimuth_deg=-150.0, height_deg=26.0, size_px=_SMALL_PX, rim=0.0)
    under = _framed(_taken(lying, close, _front_ends(lying)))
    return np.hstack([left, np.vstack([over, under])])


def _framed(pixels: Pixels) -> Pixels:
    """A part of a picture that shows a piece of something, with a line and some paper round it."""
    pixels = pixels.copy()
    for width, tone in ((_FRAME_PX + 1, 196), (_FRAME_PX, 255)):
        for edge in (np.s_[:width], np.s_[-width:], np.s_[:, :width], np.s_[:, -width:]):
            pixels[edge] = tone
    return pixels


def pair_scene(layers: Sequence[Shown]) -> list[Placed]:
    """Both scales on the bed, backs down, the right one below the left; z = 0 is the bed."""
    points = np.vstack([layer.vertices for layer in layers]).astype(np.float64)
    low, under = float(points[:, 1].min()), -float(points[:, 2].min())
    found = [Placed(shown=layer, move=moved(IDENTITY, z_mm=under)) for layer in layers]
    away = moved(MIRRORED, y_mm=2 * low - APART_MM, z_mm=under)
    return [*found, *(Placed(shown=layer, move=away) for layer in layers)]


def _loose_beside(scale: Scale, lying: Sequence[Placed]) -> list[Placed]:
    """Pins and the like lying in a row before the pair."""
    points = np.vstack([each.points() for each in lying])
    pieces = loose_hardware(scale)
    y = float(points[:, 1].min()) - APART_MM
    found = []
    longest = max((float(np.ptp(piece.vertices[:, 2])) for piece in pieces), default=0.0)
    x = float(points[:, 0].min() + points[:, 0].max()) / 2 - (len(pieces) - 1) / 2 * (longest + APART_MM)
    for piece in pieces:
        radius = float(np.abs(piece.vertices[:, :2]).max())
        found.append(Placed(shown=piece, move=moved(_LYING, x_mm=x, y_mm=y - radius, z_mm=radius)))
        x += longest + APART_MM
    return found


def _turned_over(placed: Sequence[Placed]) -> list[Placed]:
    """A scene lying on its other side, on the ground again."""
    found = [Placed(shown=each.shown, move=_OVER @ each.move) for each in placed]
    low = min(float(each.points()[:, 2].min()) for each in found)
    return [Placed(shown=each.shown, move=moved(each.move, z_mm=-low)) for each in found]


def _front_ends(placed: Sequence[Placed]) -> Numbers:
    """Corners of a box about the front ends, a quarter of the length or so."""
    points = np.vstack([each.points() for each in placed])
    low, high = points.min(axis=0), points.max(axis=0)
    high[0] = low[0] + 0.24 * (high[0] - low[0])
    return np.array(
        [[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
    )


# --------------------------------------------------------------------------------------- on the tang


def knife_scene(scale: Scale, looks: Looks, hardware: Sequence[Shown]) -> list[Placed]:
    """The finished handle on its tang; z = 0 is the middle of the tang."""
    half = scale.pattern.tang_mm / 2
    found = [Placed(shown=looks.tang, move=IDENTITY)]
    for layer in looks.finished:
        found.append(Placed(shown=layer, move=moved(IDENTITY, z_mm=half)))
        found.append(Placed(shown=layer, move=moved(BELOW, z_mm=-half)))
    return [*found, *(Placed(shown=piece, move=IDENTITY) for piece in hardware)]


def knife(scale: Scale, looks: Looks) -> Pixels:
    """The finished handle, from the left and above, and from the spine."""
    placed = knife_scene(scale, looks, set_hardware(scale))
    top = _taken(placed, _Shot(azimuth_deg=-106.0, height_deg=40.0, size_px=(_WIDE_PX, 520), rim=0.07))
    standing = _standing(placed)
    below = _taken(standing, _Shot(azimuth_deg=-100.0, height_deg=50.0, size_px=(_WIDE_PX, 380), rim=0.07))
    return np.vstack([top, below])


def _standing(placed: Sequence[Placed]) -> list[Placed]:
    """A scene turned so that the spine is up, standing on the ground."""
    turn = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    found = [Placed(shown=each.shown, move=turn @ each.move) for each in placed]
    low = min(float(each.points()[:, 2].min()) for each in found)
    return [Placed(shown=each.shown, move=moved(each.move, z_mm=-low)) for each in found]


def steps_apart(layers: Sequence[Shown]) -> tuple[int, ...]:
    """How many steps each layer moves away from the tang; a film of glue goes with the sheet over it."""
    found, step = [], 1
    for layer in layers:
        found.append(step)
        step += layer.kind != "bond"
    return tuple(found)


def exploded(scale: Scale, looks: Looks) -> Pixels:
    """All layers drawn apart along the pins, hardware above."""
    half = scale.pattern.tang_mm / 2
    long = float(np.ptp(looks.finished[-1].vertices[:, 0]))
    gap = 0.115 * long
    placed = [Placed(shown=looks.tang, move=IDENTITY)]
    # Films of glue are left out: they are no part that one lays out.
    layers = [layer for layer in looks.finished if layer.kind != "bond"]
    for layer, step in zip(layers, steps_apart(layers), strict=True):
        placed.append(Placed(shown=layer, move=moved(IDENTITY, z_mm=half + step * gap)))
        placed.append(Placed(shown=layer, move=moved(BELOW, z_mm=-half - step * gap)))
    high = max(float(each.points()[:, 2].max()) for each in placed)
    low = min(float(each.points()[:, 2].min()) for each in placed)
    axes = []
    for hole, piece in zip(scale.holes, loose_hardware(scale), strict=True):
        x, y = hole.at_mm
        up = high + 0.6 * gap - float(piece.vertices[:, 2].min())
        placed.append(Placed(shown=piece, move=moved(IDENTITY, x_mm=x, y_mm=y, z_mm=up)))
        axes.append([[x, y, low - 0.3 * gap], [x, y, high + 0.6 * gap]])
    camera = aimed(
        np.vstack([each.points() for each in placed]),
        azimuth_deg=_APART_DEG[0],
        height_deg=_APART_DEG[1],
        size_px=(_WIDE_PX, 960),
    )
    # Nothing shades anything: the layers are one thing, not a pile.
    lights = open_lights(_APART_DEG[0])
    return draw(placed, camera, lights, axes=np.array(axes).reshape(-1, 2, 3))


def _taken(placed: Sequence[Placed], shot: _Shot, aim: Numbers | None = None) -> Pixels:
    points = np.vstack([each.points() for each in placed])
    camera = aimed(
        points if aim is None else aim,
        azimuth_deg=shot.azimuth_deg,
        height_deg=shot.height_deg,
        size_px=shot.size_px,
        rim=shot.rim,
    )
    lights = lights_for(placed, shot.azimuth_deg)
    return draw(placed, camera, lights, ground_mm=float(points[:, 2].min()))


__all__ = ["APART_MM", "exploded", "knife", "knife_scene", "pair_scene", "pictures", "preview", "steps_apart"]
