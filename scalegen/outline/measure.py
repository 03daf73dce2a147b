"""Questions asked of a ring: centroid, distance, inside, and what two rings share. No kernel."""

import numpy as np

from scalegen.outline.pieces import BoolArray, Pieces, box_pairs, crossings, gaps_mm, joined, pieces_of, sides
from scalegen.outline.ring import FloatArray, Ring, segment_excess

_CELLS_AT_ONCE = 400_000


def centroid_mm(ring: Ring) -> tuple[float, float]:
    """Centre of area.

    Source: Green's theorem over the polygon of chords; a circular segment's centroid lies
    4 R sin^3(t/2) / (3 (t - sin t)) from the centre (any handbook table of plane figures).
    """
    # Taken from a corner of the ring, so that a part far from the origin loses no digits.
    origin = ring.starts[0]
    a, b = ring.starts - origin, ring.ends - origin
    cross = a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]
    moment = ((a + b) * cross[:, None]).sum(axis=0) / 6
    area = 0.5 * float(cross.sum())
    arc = ring.bulges != 0
    turn = np.abs(ring.sweeps[arc])
    radius = np.abs(ring.radii[arc])
    segment = 0.5 * radius**2 * segment_excess(turn) * np.sign(ring.bulges[arc])
    step = (b - a)[arc]
    out = (
        np.column_stack([step[:, 1], -step[:, 0]]) * (np.sign(ring.bulges[arc]) / np.hypot(*step.T))[:, None]
    )
    # Seen from the middle of the chord: reach less the chord's distance from the centre.
    chord = 2 * np.sin(turn / 2) ** 3
    reach = radius * (2 * chord / (3 * segment_excess(turn)) - np.cos(turn / 2))
    # For flat arcs that difference loses its digits; two fifths of the sagitta is right to the second order.
    sagitta = radius * 2 * np.sin(turn / 4) ** 2
    reach = np.where(turn < 1e-2, 0.4 * sagitta, reach)
    moment = moment + (segment[:, None] * ((a + b)[arc] / 2 + out * reach[:, None])).sum(axis=0)
    x, y = origin + moment / (area + float(segment.sum()))
    return float(x), float(y)


def piece_distances_mm(pieces: Pieces, points: FloatArray) -> FloatArray:
    """Distances (k, m) from points (k, 2) to each of m pieces."""
    p = np.atleast_2d(points)
    which = np.tile(np.arange(len(pieces)), len(p))
    return gaps_mm(pieces[which], np.repeat(p, len(pieces), axis=0)).reshape(len(p), len(pieces))


def nearest_mm(pieces: Pieces, points: FloatArray, within_mm: float = np.inf) -> FloatArray:
    """Distance (k,) from each point (k, 2) to the nearest piece.

    Args:
        pieces: m pieces, at least one.
        points: k points.
        within_mm: Distances that are not below this are not looked into; they come out as this or more.
    """
    p = np.atleast_2d(points)
    out = np.full(len(p), within_mm)
    boxes = pieces.boxes()
    at_once = max(1, _CELLS_AT_ONCE // len(pieces))
    for k in range(0, len(p), at_once):
        part = p[k : k + at_once]
        # No piece is nearer than its box, and the nearest is no farther than the nearest start.
        apart = np.maximum(boxes[None, :, :2] - part[:, None], part[:, None] - boxes[None, :, 2:]).clip(0.0)
        bound_sq = (apart**2).sum(axis=2)
        start_sq = ((part[:, None] - pieces.start[None]) ** 2).sum(axis=2).min(axis=1)
        i, j = np.nonzero(bound_sq <= np.minimum(start_sq * (1 + 1e-9) + 1e-18, within_mm**2)[:, None])
        np.minimum.at(out, k + i, gaps_mm(pieces[j], part[i]))
    return out


def distances_mm(ring: Ring, points: FloatArray) -> FloatArray:
    """Distances (k,) from points (k, 2) to the curve itself, 0 on it, positive on both sides."""
    return nearest_mm(pieces_of(ring), points)


def inside(ring: Ring, points: FloatArray) -> BoolArray:
    """Which of the points (k, 2) lie inside; undefined within rounding of the curve.

    The polygon of chords is crossed by a ray; each arc then flips what lies between it and its chord. Both
    go by the same side of the chord, so that points on a chord, which is not the curve, come out right.
    """
    p = np.atleast_2d(points)
    a, b = ring.starts, ring.ends
    step = b - a
    y = p[:, None, 1]
    side = step[:, 0] * (y - a[:, 1]) - step[:, 1] * (p[:, None, 0] - a[:, 0])
    # The ray takes a point that is level with a corner as above it; on a chord it goes by the same rule.
    side = np.where(side == 0, np.where(step[:, 1] == 0, step[:, 0], -step[:, 1]), side)
    hit = ((a[:, 1] > y) != (b[:, 1] > y)) & (side * step[:, 1] > 0)
    arc = ring.bulges != 0
    if arc.any():
        left = ring.bulges[arc] > 0
        disc = (sides(pieces_of(ring)[arc], p) < 0) == left
        hit = np.concatenate([hit, disc & ((side[:, arc] < 0) == left)], axis=1)
    odd: BoolArray = hit.sum(axis=1) % 2 == 1
    return odd


def shared_area_mm2(a: Ring, b: Ring) -> float:
    """Area that two rings have in common, by Green's theorem over the boundary of what they share."""
    pa, pb = pieces_of(a), pieces_of(b)
    pairs = box_pairs(pa, pb)
    which, ta, tb = crossings(pa, pb, pairs)
    cut_a, cut_b = pa.cut(pairs[0][which], ta), pb.cut(pairs[1][which], tb)
    keep_a = inside(b, middles(cut_a))
    keep_b = inside(a, middles(cut_b))
    # A stretch that both share is counted once, from a.
    on_b = distances_mm(b, middles(cut_a)) < 1e-9
    on_a = distances_mm(a, middles(cut_b)) < 1e-9
    keep_a[on_b] = same_way(cut_a[on_b], pb)
    kept = joined(cut_a[keep_a], cut_b[keep_b & ~on_a])
    cross = kept.start[:, 0] * kept.end[:, 1] - kept.end[:, 0] * kept.start[:, 1]
    return float(0.5 * np.sum(cross + kept.radius**2 * segment_excess(kept.sweep)))


def middles(pieces: Pieces) -> FloatArray:
    """Middle points (m, 2) of pieces."""
    return pieces.at(np.arange(len(pieces)), np.full(len(pieces), 0.5))


def sampled(ring: Ring, step_mm: float) -> FloatArray:
    """Points (k, 2) all along the ring, at most ``step_mm`` apart; segment starts are among them."""
    pieces = pieces_of(ring)
    counts = np.maximum(1, np.ceil(pieces.lengths / step_mm)).astype(np.intp)
    index = np.repeat(np.arange(len(ring)), counts)
    share = np.concatenate([np.arange(k) / k for k in counts])
    return pieces.at(index, share)


def same_way(pieces: Pieces, other: Pieces) -> BoolArray:
    """Which pieces run the same way as the piece of ``other`` they lie on."""
    if not len(pieces):
        return np.zeros(0, dtype=np.bool_)
    points = middles(pieces)
    nearest = piece_distances_mm(other, points).argmin(axis=1)
    step = np.where(
        other.is_arc[nearest, None],
        np.column_stack([-(points - other.center[nearest])[:, 1], (points - other.center[nearest])[:, 0]])
        * np.sign(other.sweep[nearest])[:, None],
        other.end[nearest] - other.start[nearest],
    )
    same: BoolArray = (pieces.heading(0.5) * step).sum(axis=1) > 0
    return same
