"""Single arcs and biarcs as rows x, y, bulge: making, measuring and merging them.

Source: for the biarc with equal tangent lengths, K. M. Bolton, "Biarc curves", Computer-Aided Design 7
(1975), from memory; the formula used here is derived at :func:`biarc`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.outline.ring import FloatArray

KINK_RAD = 1e-6
WIDEST_BULGE = 1.0 + 1e-6

LINE_BULGE = 1e-7  # an arc this flat is a line: its ends differ by less than a kink
_SAME_RAD = 1e-7
_WIDEST_RAD = 1.5


def turn(before: FloatArray, after: FloatArray) -> FloatArray:
    """Signed angles from one direction to another, vectors in the last axis."""
    cross = before[..., 0] * after[..., 1] - before[..., 1] * after[..., 0]
    return np.asarray(np.arctan2(cross, (before * after).sum(axis=-1)), dtype=np.float64)


def wrapped(angle: float) -> float:
    """An angle brought to (-pi, pi]."""
    return float(np.remainder(angle + np.pi, 2 * np.pi) - np.pi)


def unit(angle_rad: float) -> FloatArray:
    """The direction at an angle, (2,)."""
    return np.array([np.cos(angle_rad), np.sin(angle_rad)])


def biarc(p: FloatArray, t: FloatArray, q: FloatArray, u: FloatArray, share: float = 1.0) -> FloatArray:
    """Rows of two arcs from p along t to q along u: start, joint and end, (3, 3).

    The arcs' tangents have the lengths r d and d, with r the share. With v = q - p the joint is
    (p + r q + r d (t - u)) / (1 + r), and that the tangents' tips p + r d t and q - d u lie (1 + r) d apart
    gives 2 r (1 - t.u) d^2 + 2 v.(r t + u) d - v.v = 0, whose positive root is taken.
    """
    v = q - p
    along, open_by = float(v @ (share * t + u)), 2 * share * (1 - float(t @ u))
    root = along + np.sqrt(along**2 + open_by * float(v @ v))
    d = float(v @ v) / max(root, 1e-300)
    joint = (p + share * (q + d * (t - u))) / (1 + share)
    bulges = np.tan(np.array([float(turn(t, joint - p)), float(turn(q - joint, u))]) / 2)
    bulges[np.abs(bulges) < LINE_BULGE] = 0.0
    return np.array([[*p, bulges[0]], [*joint, bulges[1]], [*q, 0.0]])


def headings(angles_rad: FloatArray) -> FloatArray:
    """Unit vectors, with one more axis than the angles."""
    return np.stack([np.cos(angles_rad), np.sin(angles_rad)], axis=-1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Biarcs:
    """Many biarcs as :func:`biarc` makes them.

    Attributes:
        joints: (k, 2) where the two arcs of each meet.
        chords_mm: (k, 2) lengths of the arcs' chords.
        halves_rad: (k, 2) half the angles that the arcs turn through.
        tangents_rad: (k,) directions at the joints.
    """

    joints: FloatArray
    chords_mm: FloatArray
    halves_rad: FloatArray
    tangents_rad: FloatArray

    def off(self, points: FloatArray) -> FloatArray:
        """Largest distances (k,) of points (k, m, 2) along the biarcs; inf for one that turns too far.

        Both arcs are measured from their joint: with w from there to a point, n the left normal and c the
        curvature, the distance from the circle is f / (1 + sqrt(1 + c f)) with f = c w.w - 2 n.w.
        """
        curvature = 2 * np.sin(self.halves_rad) / np.maximum(self.chords_mm, 1e-300)
        tangent = headings(self.tangents_rad)
        w = points - self.joints[:, None]
        ahead = (w * tangent[:, None]).sum(axis=2)
        left = w[..., 1] * tangent[:, :1] - w[..., 0] * tangent[:, 1:]
        c = np.where(ahead > 0, curvature[:, 1:], curvature[:, :1])
        f = c * (w**2).sum(axis=2) - 2 * left
        off = np.abs(f / (1 + np.sqrt(np.maximum(1 + c * f, 0.0)))).max(axis=1)
        wild = np.abs(self.halves_rad).max(axis=1) > _WIDEST_RAD
        return np.asarray(np.where(wild | ~np.isfinite(off), np.inf, off))


def biarcs(
    p: FloatArray, q: FloatArray, angles_rad: tuple[FloatArray, FloatArray], share: FloatArray
) -> Biarcs:
    """Biarcs from places p (k, 2) to q (k, 2) that begin and end in directions (k,), with shares (k,)."""
    t, u = headings(angles_rad[0]), headings(angles_rad[1])
    v = q - p
    r = share[:, None]
    along, square = (v * (r * t + u)).sum(axis=1), (v**2).sum(axis=1)
    root = along + np.sqrt(along**2 + 2 * r[:, 0] * (1 - (t * u).sum(axis=1)) * square)
    d = (square / np.maximum(root, 1e-300))[:, None]
    joint = (p + r * (q + d * (t - u))) / (1 + r)
    one, two = joint - p, q - joint
    first = turn(t, one)
    tangent = angles_rad[0] + 2 * first
    second = turn(headings(tangent), two)
    return Biarcs(
        joints=joint,
        chords_mm=np.column_stack([np.hypot(*one.T), np.hypot(*two.T)]),
        halves_rad=np.column_stack([first, second]),
        tangents_rad=tangent,
    )


def chain(rows: FloatArray, *, closed: bool) -> FloatArray:
    """Segments of rows: start x, y, end x, y, bulge, (k, 5)."""
    ends = np.roll(rows[:, :2], -1, axis=0)
    table = np.column_stack([rows[:, :2], ends, rows[:, 2]])
    return table if closed else table[:-1]


def distances(points: FloatArray, segments: FloatArray) -> FloatArray:
    """Distances from m points to k segments, (m, k)."""
    a, step, bulge = segments[:, :2], segments[:, 2:4] - segments[:, :2], segments[:, 4]
    off = points[:, None, :] - a  # (m, k, 2)
    length_sq = np.maximum((step**2).sum(axis=1), 1e-300)
    t = np.clip((off * step).sum(axis=2) / length_sq, 0.0, 1.0)
    out = np.hypot(off[..., 0] - t * step[:, 0], off[..., 1] - t * step[:, 1])
    bent = np.flatnonzero(bulge)
    if not len(bent):
        return np.asarray(out)
    b, chord = bulge[bent], step[bent]
    right = np.column_stack([chord[:, 1], -chord[:, 0]])
    center = chord / 2 - right * ((1 - b**2) / (4 * b))[:, None]  # from the start
    radius = np.sqrt(length_sq[bent]) * (1 + b**2) / (4 * np.abs(b))
    outward = right * np.sign(b)[:, None] / np.sqrt(length_sq[bent])[:, None]
    arm = off[:, bent] - center
    reach = np.hypot(arm[..., 0], arm[..., 1])
    inside = (arm * outward).sum(axis=2) >= reach * np.cos(2 * np.arctan(np.abs(b)))
    ends = np.minimum(
        np.hypot(off[:, bent, 0], off[:, bent, 1]),
        np.hypot(off[:, bent, 0] - chord[:, 0], off[:, bent, 1] - chord[:, 1]),
    )
    out[:, bent] = np.where(inside, np.abs(reach - radius), ends)
    return np.asarray(out)


def samples(segments: FloatArray, count: int) -> FloatArray:
    """Points on each of k segments, (k * count, 2).

    With h half the angle turned through, the point at part s of the arc is the start plus the chord turned
    back by (1 - s) h and shortened to sin(s h) / sin(h).
    """
    s = np.linspace(0.0, 1.0, count)[None, :]
    half = 2 * np.arctan(segments[:, 4])[:, None]
    tiny = np.abs(half) < 1e-9
    safe = np.where(tiny, 1.0, half)
    part = np.where(tiny, s, np.sin(s * safe) / np.sin(safe))
    angle = -(1 - s) * half
    dx, dy = (segments[:, 2:4] - segments[:, :2]).T[:, :, None]
    x = segments[:, :1] + part * (np.cos(angle) * dx - np.sin(angle) * dy)
    y = segments[:, 1:2] + part * (np.sin(angle) * dx + np.cos(angle) * dy)
    return np.column_stack([x.ravel(), y.ravel()])


def deviation_of(rows: FloatArray, points: FloatArray, enough_mm: float) -> float:
    """Largest distance between two arcs and the polyline they stand for, both ways; inf for a wild one."""
    if not np.isfinite(rows).all() or np.abs(rows[:, 2]).max() > WIDEST_BULGE:
        return float("inf")
    arcs = chain(rows, closed=False)
    forward = float(distances(points, arcs).min(axis=1).max())
    if forward > enough_mm:
        return forward
    on_arcs = samples(arcs, min(4 * len(points), 240))
    polyline = chain(np.column_stack([points, np.zeros(len(points))]), closed=False)
    return max(forward, float(distances(on_arcs, polyline).min(axis=1).max()))


def deviation_along(rows: FloatArray, at: FloatArray, points: FloatArray) -> float:
    """Largest distance between a chain of arcs and the polyline it stands for, both ways.

    Args:
        rows: (k + 1, 3), the last one the end point.
        at: (k + 1,) the polyline's number beside each row: whole ones are points, halves lie between two.
        points: (n, 2) the polyline.
    """
    if not np.isfinite(rows).all() or np.abs(rows[:, 2]).max() > WIDEST_BULGE:
        return float("inf")
    arcs = chain(rows, closed=False)
    polyline = chain(np.column_stack([points, np.zeros(len(points))]), closed=False)
    low, high = np.floor(at[:-1]).astype(np.intp), np.ceil(at[1:]).astype(np.intp)
    worst = 0.0
    for k in range(len(arcs)):
        beside = points[low[k] : high[k] + 1]
        on_arc = samples(arcs[k : k + 1], min(4 * len(beside) + 8, 240))
        worst = max(
            worst,
            float(distances(beside, arcs[max(k - 1, 0) : k + 2]).min(axis=1).max()),
            float(distances(on_arc, polyline[max(low[k] - 1, 0) : high[k] + 1]).min(axis=1).max()),
        )
    return worst


def directions(rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Directions at the start and the end of each segment of an open chain, (k,) rad each."""
    step = np.diff(rows[:, :2], axis=0)
    chord = np.arctan2(step[:, 1], step[:, 0])
    half = 2 * np.arctan(rows[:-1, 2])
    return chord - half, chord + half


def _jump(before: float, after: float) -> float:
    """Size of the angle between two directions."""
    return abs(wrapped(after - before))


def merged(rows: FloatArray) -> FloatArray:
    """Join segments that go on as the same line or the same arc."""
    out: list[Sequence[float]] = [rows[0]]
    for k in range(1, len(rows) - 1):
        both = np.array([out[-1], rows[k], rows[k + 1]])
        start, end = directions(both)
        chord = rows[k + 1, :2] - both[0, :2]
        half = wrapped(np.arctan2(chord[1], chord[0]) - start[0])
        smooth = _jump(end[0], start[1]) < KINK_RAD
        straight = both[0, 2] == 0 and both[1, 2] == 0
        same = _jump(start[0] + 2 * half, end[1]) < _SAME_RAD and straight == (abs(half) < _SAME_RAD)
        if smooth and same and abs(np.tan(half / 2)) < WIDEST_BULGE:
            out[-1] = [both[0, 0], both[0, 1], 0.0 if straight else float(np.tan(half / 2))]
        else:
            out.append(rows[k])
    return np.array([*out, rows[-1]])


def kinks(rows: FloatArray, *, closed: bool) -> tuple[int, ...]:
    """Rows of an open chain (its end repeats its start if closed) where the direction jumps."""
    start, end = directions(rows)
    inner = [k for k in range(1, len(start)) if _jump(end[k - 1], start[k]) > KINK_RAD]
    return (0, *inner) if closed and _jump(end[-1], start[0]) > KINK_RAD else tuple(inner)
