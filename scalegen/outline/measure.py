"""Questions asked of a ring: centroid, distance, inside, and what two rings share. No kernel."""

import numpy as np

from scalegen.outline.pieces import BoolArray, Pieces, box_pairs, crossings, joined, pieces_of
from scalegen.outline.ring import FloatArray, Ring


def centroid_mm(ring: Ring) -> tuple[float, float]:
    """Centre of area.

    Source: Green's theorem; a circular segment's centroid is 4 R sin^3(t/2) / (3 (t - sin t)) from the
    centre (any handbook table of plane figures).
    """
    a, b = ring.starts, ring.ends
    cross = a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]
    moment = ((a + b) * cross[:, None]).sum(axis=0) / 6
    area = ring.area_mm2
    t = ring.sweeps
    for i in np.flatnonzero(t):
        radius = abs(ring.radii[i])
        turn = abs(t[i])
        excess = turn - np.sin(turn) if turn > 1e-3 else turn**3 / 6 - turn**5 / 120
        segment = np.sign(t[i]) * radius**2 * excess / 2
        reach = 4 * radius * np.sin(turn / 2) ** 3 / (3 * excess)
        step = b[i] - a[i]
        out = np.array([step[1], -step[0]]) * np.sign(t[i]) / np.hypot(*step)
        moment = moment + segment * (ring.centers[i] + out * reach)
    return float(moment[0] / area), float(moment[1] / area)


def piece_distances_mm(pieces: Pieces, points: FloatArray) -> FloatArray:
    """Distances (k, m) from points (k, 2) to each piece."""
    a = pieces.start[None]
    step = (pieces.end - pieces.start)[None]
    size_sq = np.maximum((step**2).sum(axis=2), 1e-300)
    p = points[:, None, :]
    t = (((p - a) * step).sum(axis=2) / size_sq).clip(0.0, 1.0)
    gap = p - (a + t[..., None] * step)
    line = np.hypot(gap[..., 0], gap[..., 1])
    if not pieces.is_arc.any():
        return line
    away = p - pieces.center[None]
    reach = np.hypot(away[..., 0], away[..., 1])
    turn = np.arctan2(away[..., 1], away[..., 0]) - pieces.first
    turn = np.where(pieces.sweep >= 0, turn, -turn) % (2 * np.pi)
    to_start = p - a
    to_end = p - pieces.end[None]
    ends = np.minimum(np.hypot(to_start[..., 0], to_start[..., 1]), np.hypot(to_end[..., 0], to_end[..., 1]))
    arc = np.where(turn <= np.abs(pieces.sweep), np.abs(reach - pieces.radius), ends)
    return np.where(pieces.is_arc[None], arc, line)


def distances_mm(ring: Ring, points: FloatArray) -> FloatArray:
    """Distances (k,) from points (k, 2) to the curve itself, 0 on it, positive on both sides."""
    nearest: FloatArray = piece_distances_mm(pieces_of(ring), np.atleast_2d(points)).min(axis=1)
    return nearest


def inside(ring: Ring, points: FloatArray) -> BoolArray:
    """Which of the points (k, 2) lie inside; undefined within rounding of the curve.

    The polygon of chords is crossed by a ray; each arc then flips what lies between it and its chord.
    """
    p = np.atleast_2d(points)
    a, b = ring.starts[None], ring.ends[None]
    x, y = p[:, None, 0], p[:, None, 1]
    spans = (a[..., 1] > y) != (b[..., 1] > y)
    rise = np.where(spans, b[..., 1] - a[..., 1], 1.0)
    hit = spans & (x < a[..., 0] + (y - a[..., 1]) / rise * (b[..., 0] - a[..., 0]))
    odd: BoolArray = hit.sum(axis=1) % 2 == 1
    for i in np.flatnonzero(ring.bulges):
        away = p - ring.centers[i]
        disc = np.hypot(away[:, 0], away[:, 1]) < abs(ring.radii[i])
        step = ring.ends[i] - ring.starts[i]
        rel = p - ring.starts[i]
        side = step[0] * rel[:, 1] - step[1] * rel[:, 0]
        odd ^= disc & (side < 0 if ring.bulges[i] > 0 else side > 0)
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
    t = kept.sweep
    excess = np.where(np.abs(t) < 1e-3, t**3 / 6 - t**5 / 120, t - np.sin(t))
    return float(0.5 * np.sum(cross + kept.radius**2 * excess))


def middles(pieces: Pieces) -> FloatArray:
    """Middle points (m, 2) of pieces."""
    return pieces.at(np.arange(len(pieces)), np.full(len(pieces), 0.5))


def sampled(ring: Ring, step_mm: float) -> FloatArray:
    """Points (k, 2) all along the ring, at most ``step_mm`` apart on each segment; segment starts included."""
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
