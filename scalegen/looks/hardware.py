"""Pins, tubes and stepped fasteners to look at: as bought and cut, and flush in a finished handle."""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from scalegen.design import Hole, Scale
from scalegen.form.draped import draped_plan
from scalegen.looks.raster import Ints
from scalegen.solids.look import Numbers, Shown

_AROUND = 48
_CHAMFER_MM = 0.15
_UP, _DOWN = np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, -1.0])

Heights = Callable[[Numbers], Numbers]


def set_hardware(scale: Scale) -> tuple[Shown, ...]:
    """What is in each hole of a finished handle, flush with both faces; z = 0 is the middle of the tang.

    Pieces are drawn as wide as their holes, because glue fills the play.
    """
    half = scale.pattern.tang_mm / 2
    plan = draped_plan(scale, finished=True)

    def over(points: Numbers) -> Numbers:
        """Height of the finished scale over points of the plan, above its back."""
        heights: Numbers = plan.under_mm(points.astype(np.float64))
        return heights

    return tuple(_set(hole, half, over) for hole in scale.holes)


def _set(hole: Hole, half_mm: float, over: Heights) -> Shown:
    x, y = hole.at_mm
    inner = hole.hardware.bore_mm / 2
    radius = hole.hole_mm / 2
    if hole.is_blind:
        reach = min(hole.cut_length_mm / 2, half_mm + hole.end_mm)
        parts = _turned([(inner, -reach), (radius, -reach), (radius, reach), (inner, reach)])
        return _shown(hole, _shifted(parts, x, y))
    wide = max(radius, hole.hardware.head_mm / 2) if hole.head_hole_mm else radius
    rings = (inner, (inner + wide) / 2, wide)
    angles = np.arange(_AROUND) * (2 * math.pi / _AROUND)
    ring = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    tops = [over(np.array([x, y]) + r * ring) + half_mm for r in rings]
    if hole.head_hole_mm:
        flush = half_mm + hole.seat_mm + hole.hardware.head_height_mm
        tops = [np.minimum(top, flush) for top in tops]
    parts = []
    for way in (1.0, -1.0):
        disc = [np.column_stack([r * ring, way * top]) for r, top in zip(rings, tops, strict=True)]
        parts.append(_band(disc, np.tile([0.0, 0.0, way], (_AROUND, 1)), outwards=way < 0))
    seat = half_mm + hole.seat_mm if hole.head_hole_mm else 0.0
    rims: Sequence[tuple[Numbers, Numbers]] = [(-tops[2], tops[2])]
    if hole.head_hole_mm:
        level = np.full(_AROUND, seat)
        rims = [(-tops[2], -level), (level, tops[2])]
        parts += _turned([(wide, -seat), (radius, -seat), (radius, seat), (wide, seat)])
    for low, high in rims:
        wall = [np.column_stack([wide * ring, z]) for z in (low, high)]
        parts.append(_band(wall, np.column_stack([ring, np.zeros(_AROUND)]), outwards=True))
    if inner > 0:
        wall = [np.column_stack([inner * ring, z]) for z in (tops[0], -tops[0])]
        parts.append(_band(wall, np.column_stack([-ring, np.zeros(_AROUND)]), outwards=True))
    edges = [np.column_stack([r * ring, way * top]) for way in (1, -1) for r, top in ((wide, tops[2]),)]
    if inner > 0:
        edges += [np.column_stack([inner * ring, way * tops[0]]) for way in (1, -1)]
    return _shown(hole, _shifted(parts, x, y), [edge + np.array([x, y, 0.0]) for edge in edges])


def loose_hardware(scale: Scale) -> tuple[Shown, ...]:
    """What goes into each hole as it is cut to length, standing up about its own middle."""
    return tuple(_loose(hole, scale.pattern.tang_mm) for hole in scale.holes)


def _loose(hole: Hole, tang_mm: float) -> Shown:
    hardware = hole.hardware
    r, inner = hardware.diameter_mm / 2, hardware.bore_mm / 2
    c = min(_CHAMFER_MM, r / 4)
    if hole.head_hole_mm:
        seat = tang_mm / 2 + hole.seat_mm
        end, head = seat + hardware.head_height_mm, hardware.head_mm / 2
        profile = [
            *((inner, -end), (head - c, -end), (head, -end + c), (head, -seat), (r, -seat)),
            *((r, seat), (head, seat), (head, end - c), (head - c, end), (inner, end)),
        ]
    else:
        end = hole.cut_length_mm / 2
        profile = [(inner, -end), (r - c, -end), (r, -end + c), (r, end - c), (r - c, end), (inner, end)]
    if inner > 0:
        profile.append((inner, -end))
    parts = _turned(profile)
    rims = [_circle(radius, z) for radius, z in profile if radius > inner]
    if inner > 0:
        rims += [_circle(inner, -end), _circle(inner, end)]
    return _shown(hole, parts, rims)


def turned_part(hole: Hole, profile: Sequence[tuple[float, float]]) -> Shown:
    """A profile of (radius, z) turned about z, in the colour of a hole's hardware."""
    return _shown(hole, _turned(profile), [_circle(radius, z) for radius, z in profile if radius > 0])


# -------------------------------------------------------------------------------------------- meshing

Part = tuple[Numbers, Numbers, Ints]
"""Corners (v, 3), their normals (v, 3) and triangles (t, 3)."""


def _circle(radius: float, z: float) -> Numbers:
    angles = np.arange(_AROUND) * (2 * math.pi / _AROUND)
    return np.column_stack([radius * np.cos(angles), radius * np.sin(angles), np.full(_AROUND, z)])


def _turned(profile: Sequence[tuple[float, float]]) -> list[Part]:
    """A profile of (radius, z) turned about z, each straight piece a face; upwards on the outside."""
    angles = np.arange(_AROUND) * (2 * math.pi / _AROUND)
    ring = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    parts = []
    for (r0, z0), (r1, z1) in pairwise(profile):
        length = math.hypot(r1 - r0, z1 - z0)
        if length < 1e-9:
            continue
        out, up = (z1 - z0) / length, -(r1 - r0) / length
        normals = np.column_stack([out * ring, np.full(_AROUND, up)])
        parts.append(_band([_circle(r0, z0), _circle(r1, z1)], normals, outwards=True))
    return parts


def _band(rings: Sequence[Numbers], normals: Numbers, *, outwards: bool) -> Part:
    """Rings of corners joined by triangles; ``outwards`` says which way round they run."""
    points = np.vstack(rings)
    tables = []
    k = np.arange(_AROUND)
    after = (k + 1) % _AROUND
    for low in range(len(rings) - 1):
        a, b = low * _AROUND, (low + 1) * _AROUND
        tables += [
            np.column_stack([a + k, a + after, b + after]),
            np.column_stack([a + k, b + after, b + k]),
        ]
    table = np.vstack(tables)
    return points, np.tile(normals, (len(rings), 1)), table if outwards else table[:, ::-1]


def _shifted(parts: Sequence[Part], x: float, y: float) -> list[Part]:
    return [(points + np.array([x, y, 0.0]), normals, table) for points, normals, table in parts]


def _shown(hole: Hole, parts: Sequence[Part], rims: Sequence[Numbers] = ()) -> Shown:
    starts = np.cumsum([0, *(len(points) for points, _, _ in parts)])
    edges = [np.stack([rim, np.roll(rim, -1, axis=0)], axis=1) for rim in rims]
    table = np.vstack([rows + start for (_, _, rows), start in zip(parts, starts[:-1], strict=True)])
    points = np.vstack([points for points, _, _ in parts])
    faces = np.repeat(np.arange(len(parts)), [len(rows) for _, _, rows in parts])
    a, b, c = (points[table[:, k]] for k in range(3))
    whole = np.abs(np.cross(b - a, c - a)).max(axis=1) > 1e-12  # at the axis a ring is a point
    return Shown(
        name=hole.hardware.name,
        kind="hardware",
        color=hole.hardware.color,
        vertices=points.astype(np.float32),
        normals=np.vstack([normals for _, normals, _ in parts]).astype(np.float32),
        triangles=table[whole].astype(np.int32),
        faces=faces[whole].astype(np.int32),
        edges=np.concatenate([np.zeros((0, 2, 3)), *edges]).astype(np.float32),
    )
