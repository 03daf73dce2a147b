"""Parallel curves of a ring, exact in lines and arcs: grow, shrink, open, close.

The parallel curve of lines and arcs is again lines and arcs. Every segment is shifted, an arc is set about
each corner where the shift opens a gap, everything is cut at every crossing, and the pieces that keep their
full distance from the ring are chained. Source of the areas it is checked by: Steiner's formula.
"""

import numpy as np

from scalegen.errors import GeometryError
from scalegen.outline.chain import chained
from scalegen.outline.measure import middles, nearest_mm
from scalegen.outline.pieces import (
    Pieces,
    box_pairs,
    crossings,
    joined,
    pieces_of,
    right_of,
)
from scalegen.outline.ring import FloatArray, Ring

_KEEP_SLACK_MM = 5e-10
_LEAST_MM = 1e-9
_LEAST_MM2 = 1e-4
_THIN_MM = 4e-6
_NUDGES_MM = (0.0, 1e-7, -1e-7, 4e-7)
_LOOSE_MM = 5e-3
_CUSP_RAD = 1e-4


def offset(ring: Ring, distance_mm: float) -> tuple[Ring, ...]:
    """All contours at a distance from a ring, largest area first.

    Args:
        ring: Counter-clockwise, not crossing itself.
        distance_mm: Outwards when positive, inwards when negative. Corners are rounded.

    Returns:
        Counter-clockwise contours around material and clockwise ones around holes that growing closed in;
        empty when shrinking leaves nothing. What is smaller than 1e-4 mm2 is left out. Where contours would
        only just touch, the distance is taken up to 4e-7 mm larger or smaller, which settles whether they do.

    Raises:
        GeometryError: The pieces don't close to rings (the ring crosses itself).
    """
    if distance_mm == 0:
        return (ring,)
    source = pieces_of(ring)
    for nudge in _NUDGES_MM:
        rings, loose = _contours(source, distance_mm + np.copysign(nudge, distance_mm))
        if loose <= _LOOSE_MM:
            return rings
    raise GeometryError(
        f"no clean parallel curve at {distance_mm:g} mm",
        where="outline",
        remedy="look for places where the outline touches itself, or change the distance a little",
    )


def _contours(source: Pieces, d: float) -> tuple[tuple[Ring, ...], float]:
    """Contours at a distance, and the length of pieces that found no place in one."""
    raw = _raw(source, d)
    i, j = box_pairs(raw, raw)
    pairs = (i[i < j], j[i < j])
    which, ti, tj = crossings(raw, raw, pairs)
    cut = raw.cut(np.concatenate([pairs[0][which], pairs[1][which]]), np.concatenate([ti, tj]))
    least = abs(d) - _KEEP_SLACK_MM
    rings, loose = chained(cut[nearest_mm(source, middles(cut), least) >= least])
    rings = [r for r in rings if abs(r.area_mm2) > _LEAST_MM2 + _THIN_MM * r.perimeter_mm]
    return tuple(sorted(rings, key=lambda r: -r.area_mm2)), loose


def _raw(source: Pieces, d: float) -> Pieces:
    """Every segment shifted by ``d`` to its right, and an arc about each corner that opens."""
    right_start, right_end = right_of(source.heading(0.0)), right_of(source.heading(1.0))
    shifted = source.shifted(d)
    after = np.roll(right_start, -1, axis=0)
    turn = _turns(source, right_end, after)
    corner = turn * d > _LEAST_MM
    tips = Pieces(
        start=shifted.end[corner],
        end=(source.end + d * after)[corner],
        center=source.end[corner],
        radius=np.full(int(corner.sum()), abs(d)),
        first=np.arctan2(*(d * right_end[corner])[:, ::-1].T),
        sweep=turn[corner],
        source=source.source[corner],
    )
    return joined(shifted[~source.is_arc | (shifted.radius > _LEAST_MM)], tips)


def _turns(source: Pieces, right_end: FloatArray, after: FloatArray) -> FloatArray:
    """Signed angle (m,) the ring turns through at the end of each piece, from -pi to pi.

    At a cusp the turn is half a turn either way; which one it is shows in how the two sides bend apart.
    """
    cross = right_end[:, 0] * after[:, 1] - right_end[:, 1] * after[:, 0]
    turn = np.arctan2(cross, (right_end * after).sum(axis=1))
    bend = source.curvature + np.roll(source.curvature, -1)
    cusp = (np.abs(turn) > np.pi - _CUSP_RAD) & (bend != 0)
    return np.where(cusp, np.where(bend < 0, np.pi, -np.pi), turn)


# ----------------------------------------------------------------------------- grow, shrink, open, close


def grow(ring: Ring, distance_mm: float, where: str = "outline") -> Ring:
    """The ring grown outwards by a distance, corners rounded.

    Raises:
        GeometryError: Growing closes the outline onto itself around a pocket.
    """
    rings = offset(ring, distance_mm)
    if len(rings) != 1:
        hole = rings[-1]
        x0, y0, x1, y1 = hole.bounds_mm
        raise GeometryError(
            f"growing by {distance_mm:g} mm closes the outline onto itself"
            f" around x = {(x0 + x1) / 2:.1f}, y = {(y0 + y1) / 2:.1f}",
            where=where,
            remedy="make the trim allowance smaller or open the pocket in the outline",
        )
    return rings[0]


def shrink(ring: Ring, distance_mm: float) -> tuple[Ring, ...]:
    """What is left of the ring at least a distance inside it, largest first; may be several or none."""
    return tuple(r for r in offset(ring, -distance_mm) if r.area_mm2 > 0)


def opened(ring: Ring, radius_mm: float) -> tuple[Ring, ...]:
    """What a disc of this radius can reach inside the ring; convex corners get at least this radius.

    One ring for each part that shrinking leaves. Two of them overlap where a neck is too narrow for the disc
    but short enough for it to look through from both sides.
    """
    return tuple(grow(part, radius_mm) for part in shrink(ring, radius_mm))


def closed(ring: Ring, radius_mm: float) -> Ring:
    """The ring with every place filled that a disc of this radius outside can't reach.

    Raises:
        GeometryError: The filling closes the outline onto itself around a pocket.
    """
    parts = shrink(grow(ring, radius_mm), radius_mm)
    return parts[0]
