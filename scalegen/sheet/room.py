"""What a blank has room for: where parts may lie, outlines that hold the true ones, and a proven limit.

Two roundings of every curve are needed. A layout must stand, so the engine gets outlines that are never
smaller than the true ones and a region that is never larger. A limit must hold, so it is worked out the other
way round: outlines never larger, a region never smaller.
"""

from collections.abc import Mapping, Sequence
from typing import TypeAlias

import numpy as np
import shapely

from scalegen.model import Side
from scalegen.nest.bounds import bound
from scalegen.nest.poses import Outline
from scalegen.nest.records import Board, Body, Bound, Part
from scalegen.outline.ring import FloatArray, Ring
from scalegen.sheet.layout import PadBox, SheetLayout, Zone

BOARD = "sheet"
_FLAT_MM = 0.001
_QUADRANT = 32
_EIGHTH = np.pi / 4
Region: TypeAlias = shapely.Polygon | shapely.MultiPolygon


def region_of(blank: SheetLayout, *, larger: bool = False, padless: bool = False) -> Region:
    """Where scales may lie on a blank of any outline: inside the margin, off holes, flaws and pads.

    Args:
        blank: Its outline, zones, pads and what is kept free; placements are not looked at.
        larger: Round so that the region is never smaller than the truth; else never larger.
        padless: Leave the first pad away, to see where it would cost least.

    Returns:
        The region, edge included, in the sheet frame; empty when nothing is left.
    """
    sound, pads = sound_region(blank, larger=larger), blank.more_pads if padless else blank.pads
    taken = [_about(pad, blank.keep_clear_mm, larger=larger) for pad in pads]
    return _polygons(sound.difference(shapely.union_all(taken)))


def sound_region(blank: SheetLayout, *, larger: bool = False) -> Region:
    """Where pads may stand: inside the margin, off holes and flaws; as :func:`region_of`."""
    margin = blank.margin_mm
    if blank.outline is None:
        inner: shapely.Geometry = shapely.box(
            margin, margin, blank.length_mm - margin, blank.width_mm - margin
        )
        if blank.length_mm <= 2 * margin or blank.width_mm <= 2 * margin:
            inner = shapely.Polygon()
    else:
        edge = _outer(blank.outline) if larger else _inner(blank.outline)
        inner = edge.buffer(-(margin if larger else _reach(margin)), quad_segs=_QUADRANT)
    zones = [_zone(zone, margin, larger=larger) for zone in blank.zones]
    return _polygons(inner.difference(shapely.union_all(zones)) if zones else inner)


def _zone(zone: Zone, margin_mm: float, *, larger: bool) -> shapely.Geometry:
    """What a zone keeps free: a hole with the margin about it, a flaw as it is."""
    shape = _inner(zone.ring) if larger else _outer(zone.ring)
    if zone.kind == "flaw":
        return shape
    return shape.buffer(margin_mm if larger else _reach(margin_mm), quad_segs=_QUADRANT)


def _about(pad: PadBox, ring_mm: float, *, larger: bool) -> shapely.Geometry:
    """A pad with its ring."""
    box = shapely.box(pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm)
    return box.buffer(ring_mm if larger else _reach(ring_mm), quad_segs=_QUADRANT)


def _reach(distance_mm: float) -> float:
    """How far to grow so that chords in place of arcs are nowhere nearer than a distance."""
    return float(distance_mm / np.cos(np.pi / (4 * _QUADRANT)))


def _outer(ring: Ring) -> shapely.Geometry:
    """A polygon that holds a ring."""
    return shapely.Polygon(holding(ring))


def _inner(ring: Ring) -> shapely.Geometry:
    """Polygons that lie inside a ring."""
    shape = shapely.Polygon(ring.flatten(_FLAT_MM))
    if not ring.bulges.any():
        return shape
    return shape.buffer(-_FLAT_MM, join_style="mitre")


def _polygons(shape: shapely.Geometry) -> Region:
    """The parts of a shape that have an area."""
    if isinstance(shape, shapely.Polygon | shapely.MultiPolygon):
        return shape
    return shapely.MultiPolygon([part for part in shapely.get_parts(shape) if part.area > 0])


def free_region(
    size_mm: tuple[float, float], margin_mm: float, pad: PadBox, ring_mm: float, *, larger: bool = False
) -> Region:
    """What margin and pad with its ring leave of a plain rectangle.

    Args:
        size_mm: Length and width of the blank.
        margin_mm: Kept free along its edge.
        pad: Reference pad.
        ring_mm: Kept free about the pad.
        larger: Round the ring so that the region is never smaller than the truth; else never larger.

    Returns:
        Where parts may lie, edge included, in the sheet frame; empty when nothing is left.
    """
    inner = shapely.box(margin_mm, margin_mm, size_mm[0] - margin_mm, size_mm[1] - margin_mm)
    return _polygons(inner.difference(_about(pad, ring_mm, larger=larger)))


def holding(ring: Ring, tolerance_mm: float = _FLAT_MM) -> FloatArray:
    """A polygon that holds the whole of a ring: tangents round its convex arcs, chords across hollow ones.

    Args:
        ring: The true outline.
        tolerance_mm: How far the polygon may stand off the arcs, above 0.

    Returns:
        float64 (n, 2); straight segments are kept as they are.
    """
    pieces = [ring.starts[:1][:0]]
    for start, sweep, radius, center in zip(
        ring.starts, ring.sweeps, np.abs(ring.radii), ring.centers, strict=True
    ):
        pieces.append(start[None, :])
        if sweep != 0:
            half = min(float(np.arccos(1 / (1 + tolerance_mm / radius))), _EIGHTH)
            count = int(np.ceil(abs(sweep) / (2 * half)))
            half_turn = sweep / (2 * count)
            convex = sweep > 0
            steps = 2 * np.arange(count) + 1 if convex else 2 * np.arange(1, count)
            angles = np.arctan2(start[1] - center[1], start[0] - center[0]) + steps * half_turn
            reach = radius / np.cos(half_turn) if convex else radius
            pieces.append(center + reach * np.column_stack([np.cos(angles), np.sin(angles)]))
    points: FloatArray = np.concatenate(pieces)
    shape = shapely.Polygon(points)
    if shape.is_valid:
        return points
    grown = shapely.Polygon(ring.flatten(tolerance_mm)).buffer(2 * tolerance_mm, join_style="mitre")
    outside: FloatArray = shapely.get_coordinates(shapely.Polygon(grown.exterior).exterior)[:-1]
    return outside


def pair_limit(
    footprints: Mapping[Side, Ring],
    region: Region,
    spacing_mm: float,
    turns_rad: Sequence[float] | None = None,
) -> Bound:
    """Most pairs that a region can take, whatever the arrangement.

    Args:
        footprints: Outline of each side.
        region: Where parts may lie, never smaller than the truth.
        spacing_mm: What must be free between two scales.
        turns_rad: Turns either scale may lie at, half a turn added or not; None is any.

    Returns:
        The limit and its reason.
    """
    ready: dict[str, Outline] = {side: _within(ring) for side, ring in footprints.items()}
    bodies = [_body(side, "pair", turns_rad) for side in footprints]
    board = Board(key=BOARD, region=region)
    return bound({"pair": bodies}, [board], ready, spacing_mm, frozenset())


def mixed_limit(
    orders: Sequence[tuple[Mapping[Side, Ring], int]],
    region: Region,
    spacing_mm: float,
    turns_rad: Sequence[float] | None = None,
) -> Bound:
    """Most pairs of an order of several patterns that a region can take, whichever they are.

    Args:
        orders: Outline of each side and number of pairs, for each pattern.
        region: Where parts may lie, never smaller than the truth.
        spacing_mm: What must be free between two scales.
        turns_rad: As above.

    Returns:
        The limit and its reason.
    """
    ready: dict[str, Outline] = {}
    groups: dict[str, list[Body]] = {}
    for number, (footprints, pairs) in enumerate(orders):
        name = str(number)
        groups[name] = []
        for side, ring in footprints.items():
            key = f"{name}/{side}"
            ready[key] = _within(ring)
            groups[name].append(_body(key, name, turns_rad, pairs))
    return bound(groups, [Board(key=BOARD, region=region)], ready, spacing_mm, frozenset())


def _body(key: str, group: str, turns_rad: Sequence[float] | None, count: int | None = None) -> Body:
    """A scale by itself, as a limit sees it."""
    part = Part(shape=key)
    if turns_rad is None:
        return Body(key=key, parts=(part,), group=group, count=count, free=True)
    return Body(key=key, parts=(part,), group=group, count=count, angles_rad=tuple(turns_rad))


def _within(ring: Ring) -> Outline:
    """A polygon that lies inside a ring."""
    shrunk = shapely.Polygon(ring.flatten(_FLAT_MM)).buffer(-_FLAT_MM, join_style="mitre")
    largest = max(shapely.get_parts(shrunk), key=lambda part: part.area)
    points = shapely.get_coordinates(largest.exterior)[:-1]
    return Outline(exact_mm=points, bare_mm=points, grown_mm=points)
