"""Plain pieces made without the kernel: pads, tabs, the blank, and what fills a hole that is asked about."""

from itertools import pairwise

import numpy as np
import shapely

from scalegen.design import Hole
from scalegen.looks.hardware import turned_part
from scalegen.machining.tabs import Tab, tab_corners
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, SheetLayout
from scalegen.solids.look import Numbers, Shown

PAD_COLOR, BLANK_COLOR, TAB_COLOR = "#8a8f98", "#d9d4c7", "#b98a34"
_FLAT_MM = 0.05
_BOX_ROWS = ((0, 1, 2), (0, 2, 3))


def pad_box(pad: PadBox, height_mm: float, name: str) -> Shown:
    """A reference pad at full height, in the sheet frame."""
    x, y, w, h = pad.x_mm, pad.y_mm, pad.w_mm, pad.h_mm
    corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
    return _box(corners, height_mm, name, PAD_COLOR)


def tab_box(tab: Tab) -> Shown:
    """A tab as high as it stays, in the sheet frame."""
    return _box(tab_corners(tab), tab.height_mm, "tab", TAB_COLOR)


def _box(corners: Numbers, height_mm: float, name: str, color: str) -> Shown:
    """An upright box on z = 0 over four corners (4, 2), counter-clockwise."""
    low = np.column_stack([corners, np.zeros(4)])
    high = np.column_stack([corners, np.full(4, height_mm)])
    sides: list[Numbers] = [low[::-1], high]
    for k in range(4):
        n = (k + 1) % 4
        sides.append(np.stack([low[k], low[n], high[n], high[k]]))
    normals = [np.cross(side[1] - side[0], side[2] - side[0]) for side in sides]
    rows = [[4 * number + k for k in row] for number in range(len(sides)) for row in _BOX_ROWS]
    return Shown(
        name=name,
        kind="pad",
        color=color,
        vertices=np.concatenate(sides).astype(np.float32),
        normals=np.repeat([n / np.sqrt((n**2).sum()) for n in normals], 4, axis=0).astype(np.float32),
        triangles=np.array(rows, dtype=np.int32),
        faces=np.repeat(np.arange(len(sides), dtype=np.int32), 2),
        edges=_wire([corners], 0.0, height_mm),
    )


def blank_shown(layout: SheetLayout, height_mm: float) -> Shown:
    """A blank in the sheet frame: its underside, and its edges with those of holes and flaws as lines."""
    solid = [_flat(ring) for ring in (layout.edge, *layout.holes)]
    flaws = [_flat(zone.ring) for zone in layout.zones if zone.kind == "flaw"]
    edges = [_wire(solid, 0.0, height_mm), *([_rims(flaws, height_mm)] if flaws else [])]
    corners = _floor(solid)
    return Shown(
        name=layout.name,
        kind="blank",
        color=BLANK_COLOR,
        vertices=np.column_stack([corners, np.zeros(len(corners))]).astype(np.float32),
        normals=np.tile(np.array([[0.0, 0.0, 1.0]], dtype=np.float32), (len(corners), 1)),
        triangles=np.arange(len(corners), dtype=np.int32).reshape(-1, 3),
        faces=np.zeros(len(corners) // 3, dtype=np.int32),
        edges=np.concatenate(edges).astype(np.float32),
    )


def _floor(outlines: list[Numbers]) -> Numbers:
    """Corners (3 t, 2) of triangles that fill the first outline without the others, in level bands."""
    shape = shapely.Polygon(outlines[0][:, :2], [hole[:, :2] for hole in outlines[1:]])
    levels = np.unique(np.concatenate([outline[:, 1] for outline in outlines]))
    left, _, right, _ = shape.bounds
    found = [np.zeros((0, 2))]
    for low, high in pairwise(levels.tolist()):
        band = shapely.intersection(shape, shapely.box(left, low, right, high))
        for part in shapely.get_parts(band):
            if part.geom_type == "Polygon":
                # Between two neighbouring levels every part is a trapezium.
                rim = shapely.get_coordinates(shapely.geometry.polygon.orient(part))[:-1]
                found += [rim[[0, k, k + 1]] for k in range(1, len(rim) - 1)]
    return np.concatenate(found)


def _flat(ring: Ring) -> Numbers:
    """Corners (n, 2) of a ring with its arcs cut into chords."""
    found: Numbers = ring.flatten(_FLAT_MM)
    return found


def _rims(outlines: list[Numbers], z_mm: float) -> Numbers:
    parts = []
    for outline in outlines:
        rim = np.column_stack([outline[:, :2], np.full(len(outline), z_mm)])
        parts.append(np.stack([rim, np.roll(rim, -1, axis=0)], axis=1))
    return np.concatenate(parts)


def _wire(outlines: list[Numbers], low_mm: float, high_mm: float) -> Numbers:
    """Outlines (n, 2) at two heights, and upright lines at their sharp corners."""
    parts = [_rims(outlines, low_mm), _rims(outlines, high_mm)]
    for outline in outlines:
        step = np.roll(outline[:, :2], -1, axis=0) - outline[:, :2]
        step = step / np.maximum(np.sqrt((step**2).sum(axis=1)), 1e-9)[:, None]
        sharp = outline[(step * np.roll(step, 1, axis=0)).sum(axis=1) < 0.9, :2]
        ends = [np.column_stack([sharp, np.full(len(sharp), z)]) for z in (low_mm, high_mm)]
        parts.append(np.stack(ends, axis=1))
    return np.concatenate(parts).astype(np.float32)


def hole_plug(hole: Hole, low_mm: float, high_mm: float) -> Shown:
    """What fills a hole between two heights, to be pointed at."""
    r, top = hole.hole_mm / 2, min(high_mm, hole.end_mm)
    if hole.head_hole_mm:
        wide, seat = hole.head_hole_mm / 2, hole.seat_mm
        profile = [(0.0, low_mm), (r, low_mm), (r, seat), (wide, seat), (wide, top), (0.0, top)]
    else:
        profile = [(0.0, low_mm), (r, low_mm), (r, top), (0.0, top)]
    return turned_part(hole, profile)
