"""Where a round cutter does not fit an outline that it goes round on the outside: tight bends and slots."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray, Ring

KINK_RAD = math.radians(1.0)
"""Smaller turns of the outline to the inside leave less than a cutter's own error."""

_FLAT_MM = 0.002
_STEP_MM = 0.2
_FACING = -0.5


@dataclass(frozen=True, kw_only=True)
class TightPlace:
    """A place of an outline that a cutter does not get into.

    Attributes:
        kind: "bend" for an inside arc, "corner" for a sharp one, "slot" for walls too close together.
        at_mm: Place on the outline.
        radius_mm: Inside radius there; half the width of a slot; 0 for a sharp corner.
        rest_mm: How far from the outline the cutter stays there, along the bisector of a corner; None for
            bends and slots.
    """

    kind: Literal["bend", "corner", "slot"]
    at_mm: tuple[float, float]
    radius_mm: float
    rest_mm: float | None = None


def smallest_inside(ring: Ring) -> TightPlace | None:
    """The tightest place that turns to the inside, or None where the outline nowhere does."""
    found = [*_corners(ring, math.inf), *_bends(ring, math.inf)]
    return min(found, key=lambda place: place.radius_mm, default=None)


def tight_places(ring: Ring, cutter_radius_mm: float) -> tuple[TightPlace, ...]:
    """Everywhere that a cutter going round on the outside leaves material, tightest first.

    Args:
        ring: The outline.
        cutter_radius_mm: Radius of the cutter.
    """
    found = [
        *_corners(ring, cutter_radius_mm),
        *_bends(ring, cutter_radius_mm),
        *narrow_slots(ring, 2 * cutter_radius_mm),
    ]
    return tuple(sorted(found, key=lambda place: place.radius_mm))


def narrow_slots(ring: Ring, width_mm: float) -> tuple[TightPlace, ...]:
    """Places outside the outline where two walls face each other closer than a width, one for each slot.

    From points all along the outline a ray goes straight out; a slot is where it meets a wall that looks
    back. Neighbouring points belong to one slot.
    """
    points, out = _outward(ring)
    gaps = _gaps_mm(ring, points, out, width_mm)
    inner = np.flatnonzero(gaps < width_mm - 1e-6)
    if not len(inner):
        return ()
    # Runs along the outline; the first and the last may be one.
    runs = np.split(inner, np.flatnonzero(np.diff(inner) > 1) + 1)
    if len(runs) > 1 and runs[0][0] == 0 and runs[-1][-1] == len(points) - 1:
        runs[0] = np.concatenate([runs.pop(), runs[0]])
    places = []
    for run in runs:
        # Between parallel walls the middle, so that both walls of a slot name the same place.
        closest = run[gaps[run] < gaps[run].min() + _FLAT_MM]
        best = closest[len(closest) // 2]
        across = points[best] + out[best] * gaps[best] / 2
        places.append((float(gaps[best]) / 2, float(across[0]), float(across[1])))
    places.sort()
    kept: list[TightPlace] = []
    for radius, x, y in places:
        # Both walls of a slot tell of it.
        if all(math.hypot(x - slot.at_mm[0], y - slot.at_mm[1]) > width_mm for slot in kept):
            kept.append(TightPlace(kind="slot", at_mm=(x, y), radius_mm=radius))
    return tuple(kept)


def rest_mm2(ring: Ring, cutter_radius_mm: float) -> float:
    """Area outside the outline that a cutter going round it cannot reach, by closing the outline with it."""
    polygon = shapely.Polygon(ring.flatten(_FLAT_MM))
    closed = polygon.buffer(cutter_radius_mm, quad_segs=256).buffer(-cutter_radius_mm, quad_segs=256)
    return float(closed.difference(polygon).area)


def _bends(ring: Ring, below_mm: float) -> list[TightPlace]:
    pieces = pieces_of(ring)
    radii, turn = np.abs(ring.radii), ring.sweeps
    inner = np.flatnonzero((turn < -KINK_RAD) & (radii < below_mm - 1e-9))
    middle = pieces.at(inner, np.full(len(inner), 0.5))
    return [
        TightPlace(kind="bend", at_mm=(x, y), radius_mm=radius)
        for radius, (x, y) in zip(radii[inner].tolist(), middle.tolist(), strict=True)
    ]


def _corners(ring: Ring, cutter_radius_mm: float) -> list[TightPlace]:
    pieces = pieces_of(ring)
    leave, arrive = pieces.heading(0.0), np.roll(pieces.heading(1.0), 1, axis=0)
    turn = np.arctan2(arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0], (arrive * leave).sum(axis=1))
    found = []
    for i in np.flatnonzero(turn < -KINK_RAD).tolist():
        half = (math.pi + float(turn[i])) / 2
        # Between straight sides; beside arcs it is an estimate.
        rest = cutter_radius_mm * (1.0 / max(math.sin(half), 1e-9) - 1.0)
        x, y = ring.starts[i].tolist()
        found.append(
            TightPlace(
                kind="corner",
                at_mm=(x, y),
                radius_mm=0.0,
                rest_mm=rest if math.isfinite(rest) else None,
            )
        )
    return found


def _outward(ring: Ring) -> tuple[FloatArray, FloatArray]:
    """Points (n, 2) all along a ring and unit vectors (n, 2) straight out of it."""
    pieces = pieces_of(ring)
    counts = np.maximum(1, np.ceil(pieces.lengths / _STEP_MM)).astype(np.intp)
    index = np.repeat(np.arange(len(pieces)), counts)
    share = np.concatenate([(np.arange(k) + 0.5) / k for k in counts.tolist()])
    step = pieces.at(index, share + 1e-4) - pieces.at(index, share - 1e-4)
    step /= np.hypot(step[:, 0], step[:, 1])[:, None]
    return pieces.at(index, share), np.column_stack([step[:, 1], -step[:, 0]])


def _gaps_mm(ring: Ring, points: FloatArray, out: FloatArray, width_mm: float) -> FloatArray:
    """How far each ray (n,) goes until it meets a wall that looks back; infinite beyond a width."""
    a = ring.flatten(_FLAT_MM)
    b = np.roll(a, -1, axis=0)
    tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)))
    rays = shapely.linestrings(np.stack([points + out * 1e-6, points + out * width_mm], axis=1))
    ray, chord = tree.query(rays, predicate="intersects")
    way = b[chord] - a[chord]
    normal = np.column_stack([way[:, 1], -way[:, 0]]) / np.hypot(way[:, 0], way[:, 1])[:, None]
    looks = (normal * out[ray]).sum(axis=1)
    back = looks < _FACING
    ray, chord, normal, looks = ray[back], chord[back], normal[back], looks[back]
    away = (normal * (a[chord] - points[ray])).sum(axis=1) / looks
    gaps = np.full(len(points), np.inf)
    np.minimum.at(gaps, ray[away > 1e-6], away[away > 1e-6])
    return gaps
