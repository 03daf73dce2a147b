"""Parallel curves of a ring, exact in lines and arcs: grow, shrink, open, close.

The parallel curve of lines and arcs is again lines and arcs. Every segment is shifted, an arc is set about
each corner where the shift opens a gap, everything is cut at every crossing, and the pieces that keep their
full distance from the ring are chained. Source of the areas it is checked by: Steiner's formula.
"""

import numpy as np

from scalegen.errors import GeometryError
from scalegen.outline.measure import middles, piece_distances_mm
from scalegen.outline.pieces import SNAP_MM, FloatArray, Pieces, box_pairs, chain, crossings, joined, pieces_of
from scalegen.outline.ring import Ring

_KEEP_SLACK_MM = 5e-10
_ROWS_AT_ONCE = 512


def offset(ring: Ring, distance_mm: float) -> tuple[Ring, ...]:
    """All contours at a distance from a ring, largest area first.

    Args:
        ring: Counter-clockwise, not crossing itself.
        distance_mm: Outwards when positive, inwards when negative. Corners are rounded.

    Returns:
        Counter-clockwise contours around material and clockwise ones around holes that growing closed in;
        empty when shrinking leaves nothing.
    """
    if distance_mm == 0:
        return (ring,)
    source = pieces_of(ring)
    raw = _raw(source, distance_mm)
    i, j = box_pairs(raw, raw)
    pairs = (i[i < j], j[i < j])
    which, ti, tj = crossings(raw, raw, pairs)
    cut = raw.cut(np.concatenate([pairs[0][which], pairs[1][which]]), np.concatenate([ti, tj]))
    kept = cut[_clear(cut, source, abs(distance_mm))]
    rings = [r for r in chain(kept) if abs(r.area_mm2) > 1e-6]
    return tuple(sorted(rings, key=lambda r: -r.area_mm2))


def _clear(cut: Pieces, source: Pieces, distance_mm: float) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    """Which pieces keep their full distance from the source."""
    points = middles(cut)
    gaps = [
        piece_distances_mm(source, points[k : k + _ROWS_AT_ONCE]).min(axis=1)
        for k in range(0, len(points), _ROWS_AT_ONCE)
    ]
    return np.concatenate([np.zeros(0), *gaps]) >= distance_mm - _KEEP_SLACK_MM


def _raw(source: Pieces, d: float) -> Pieces:
    """Every segment shifted by ``d`` to its right, and an arc about each corner that opens."""
    arc = source.is_arc
    right_start, right_end = _right(source.heading(0.0)), _right(source.heading(1.0))
    grow = np.where(source.sweep > 0, d, -d)
    radius = np.where(arc, source.radius + grow, 0.0)
    stays = ~arc | (radius > SNAP_MM)
    shifted = Pieces(
        start=source.start + d * right_start,
        end=source.end + d * right_end,
        center=source.center,
        radius=radius,
        first=source.first,
        sweep=source.sweep,
        source=source.source,
    )
    after = np.roll(right_start, -1, axis=0)
    cross = right_end[:, 0] * after[:, 1] - right_end[:, 1] * after[:, 0]
    turn = np.arctan2(cross, (right_end * after).sum(axis=1))
    shifted = _bridged(shifted, stays, turn * d)
    corner = (turn * d > 0) & (np.abs(turn * d) > SNAP_MM)
    tips = Pieces(
        start=(source.end + d * right_end)[corner],
        end=(source.end + d * after)[corner],
        center=source.end[corner],
        radius=np.full(int(corner.sum()), abs(d)),
        first=np.arctan2(*(d * right_end[corner])[:, ::-1].T),
        sweep=turn[corner],
        source=source.source[corner],
    )
    return joined(shifted[stays], tips)


def _bridged(shifted: Pieces, stays: "np.ndarray[tuple[int], np.dtype[np.bool_]]", gap: FloatArray) -> Pieces:
    """Neighbours whose ends fall apart by less than the snap distance are made to meet."""
    near = stays & np.roll(stays, -1) & (np.abs(gap) <= SNAP_MM)
    meet = (shifted.end + np.roll(shifted.start, -1, axis=0)) / 2
    end = np.where(near[:, None], meet, shifted.end)
    start = np.where(np.roll(near, 1)[:, None], np.roll(meet, 1, axis=0), shifted.start)
    return Pieces(
        start=start,
        end=end,
        center=shifted.center,
        radius=shifted.radius,
        first=shifted.first,
        sweep=shifted.sweep,
        source=shifted.source,
    )


def _right(heading: FloatArray) -> FloatArray:
    return np.column_stack([heading[:, 1], -heading[:, 0]])


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
    """What a disc of this radius can reach inside the ring; convex corners get at least this radius."""
    return tuple(grow(part, radius_mm) for part in shrink(ring, radius_mm))


def closed(ring: Ring, radius_mm: float) -> Ring:
    """The ring with every place filled that a disc of this radius outside can't reach.

    Raises:
        GeometryError: The filling closes the outline onto itself around a pocket.
    """
    return shrink(grow(ring, radius_mm), radius_mm)[0]
