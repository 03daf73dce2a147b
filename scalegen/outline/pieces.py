"""Loose lines and arcs: where they cross, cutting them there, and chaining them into rings.

This is the workshop behind offsets and clipping. Everything is vectorised over pieces; a piece keeps its
centre and radius as numbers of their own, so nearly straight arcs stay well conditioned.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.outline.ring import FloatArray, Ring

IntArray = npt.NDArray[np.intp]
BoolArray = npt.NDArray[np.bool_]

SNAP_MM = 2e-6
"""Ends closer than this are one point; pieces shorter than this are left out."""

_SLACK_MM = 1e-9


@dataclass(frozen=True, eq=False, kw_only=True)
class Pieces:
    """m lines and arcs.

    Attributes:
        start: (m, 2) mm.
        end: (m, 2) mm.
        center: (m, 2) mm; 0 for lines.
        radius: (m,) mm, positive; 0 for lines.
        first: (m,) rad, angle of the start seen from the centre.
        sweep: (m,) rad, signed turn; 0 for lines.
        source: (m,) index of what each piece came from.
    """

    start: FloatArray
    end: FloatArray
    center: FloatArray
    radius: FloatArray
    first: FloatArray
    sweep: FloatArray
    source: IntArray

    def __len__(self) -> int:
        return len(self.radius)

    def __getitem__(self, pick: "IntArray | BoolArray | slice") -> "Pieces":
        return Pieces(
            start=self.start[pick],
            end=self.end[pick],
            center=self.center[pick],
            radius=self.radius[pick],
            first=self.first[pick],
            sweep=self.sweep[pick],
            source=self.source[pick],
        )

    @property
    def is_arc(self) -> BoolArray:
        """(m,) True for arcs."""
        return self.radius > 0

    @property
    def lengths(self) -> FloatArray:
        """(m,) mm."""
        straight = np.hypot(*(self.end - self.start).T)
        return np.where(self.is_arc, self.radius * np.abs(self.sweep), straight)

    def at(self, index: IntArray, t: FloatArray) -> FloatArray:
        """Points (k, 2) at shares ``t`` (k,) in [0, 1] along pieces ``index`` (k,)."""
        a, b = self.start[index], self.end[index]
        line = a + (b - a) * t[:, None]
        angle = self.first[index] + self.sweep[index] * t
        arc = self.center[index] + self.radius[index, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        return np.where(self.is_arc[index, None], arc, line)

    def heading(self, t: float) -> FloatArray:
        """Unit tangents (m, 2) at share ``t`` of every piece."""
        step = self.end - self.start
        size = np.hypot(*step.T)
        line = step / np.where(size > 0, size, 1.0)[:, None]
        angle = self.first + self.sweep * t
        arc = np.column_stack([-np.sin(angle), np.cos(angle)]) * np.sign(self.sweep)[:, None]
        return np.where(self.is_arc[:, None], arc, line)

    def boxes(self) -> FloatArray:
        """(m, 4) x0, y0, x1, y1; generous for arcs: the box of the start, end and turning points."""
        low = np.minimum(self.start, self.end)
        high = np.maximum(self.start, self.end)
        for k in range(4):
            axis = k * np.pi / 2
            turn = np.where(self.sweep >= 0, axis - self.first, self.first - axis) % (2 * np.pi)
            hit = self.is_arc & (turn <= np.abs(self.sweep))
            reach = self.center + self.radius[:, None] * np.array([np.cos(axis), np.sin(axis)])
            low = np.where(hit[:, None], np.minimum(low, reach), low)
            high = np.where(hit[:, None], np.maximum(high, reach), high)
        return np.column_stack([low, high])

    def cut(self, index: IntArray, t: FloatArray) -> "Pieces":
        """All pieces, cut at shares ``t`` (k,) of pieces ``index`` (k,); slivers are left out."""
        count = len(self)
        owner = np.concatenate([np.arange(count), index, np.arange(count)])
        share = np.concatenate([np.zeros(count), t, np.ones(count)])
        order = np.lexsort((share, owner))
        owner, share = owner[order], share[order]
        same = owner[:-1] == owner[1:]
        i, t0, t1 = owner[:-1][same], share[:-1][same], share[1:][same]
        keep = (t1 - t0) * self.lengths[i] > SNAP_MM / 2
        i, t0, t1 = i[keep], t0[keep], t1[keep]
        return Pieces(
            start=np.where((t0 == 0)[:, None], self.start[i], self.at(i, t0)),
            end=np.where((t1 == 1)[:, None], self.end[i], self.at(i, t1)),
            center=self.center[i],
            radius=self.radius[i],
            first=self.first[i] + self.sweep[i] * t0,
            sweep=self.sweep[i] * (t1 - t0),
            source=self.source[i],
        )


def joined(*groups: Pieces) -> Pieces:
    """All pieces of several groups, in order."""
    return Pieces(
        start=np.concatenate([g.start for g in groups]),
        end=np.concatenate([g.end for g in groups]),
        center=np.concatenate([g.center for g in groups]),
        radius=np.concatenate([g.radius for g in groups]),
        first=np.concatenate([g.first for g in groups]),
        sweep=np.concatenate([g.sweep for g in groups]),
        source=np.concatenate([g.source for g in groups]),
    )


def pieces_of(ring: Ring) -> Pieces:
    """The segments of a ring as pieces; ``source`` is the segment's index."""
    arc = ring.bulges != 0
    center = np.where(arc[:, None], ring.centers, 0.0)
    radius = np.where(arc, np.abs(ring.radii), 0.0)
    away = ring.starts - center
    return Pieces(
        start=ring.starts,
        end=ring.ends,
        center=center,
        radius=radius,
        first=np.where(arc, np.arctan2(away[:, 1], away[:, 0]), 0.0),
        sweep=ring.sweeps,
        source=np.arange(len(ring)),
    )


# ---------------------------------------------------------------------------------------- crossings


def crossings(a: Pieces, b: Pieces, pairs: tuple[IntArray, IntArray]) -> tuple[IntArray, FloatArray, FloatArray]:
    """Where pieces of ``a`` meet pieces of ``b``.

    Args:
        a: Pieces.
        b: Pieces, may be the same.
        pairs: Index arrays (k,) into a and b: which pairs to look at.

    Returns:
        (which pair, share along the piece of a, share along the piece of b), each (c,). Overlapping
        collinear or concentric pieces give no crossing of their own: their ends are met by neighbours.
    """
    i, j = pairs
    arc_a, arc_b = a.is_arc[i], b.is_arc[j]
    found: list[tuple[IntArray, FloatArray]] = []
    for mask, meet in (
        (~arc_a & ~arc_b, _line_line),
        (~arc_a & arc_b, _line_arc),
        (arc_a & arc_b, _arc_arc),
    ):
        k = np.flatnonzero(mask)
        if len(k):
            found += [(k[ok], points[ok]) for ok, points in meet(a[i[k]], b[j[k]])]
    k = np.flatnonzero(arc_a & ~arc_b)
    if len(k):
        found += [(k[ok], points[ok]) for ok, points in _line_arc(b[j[k]], a[i[k]])]
    if not found:
        return np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0)
    which = np.concatenate([k for k, _ in found])
    points = np.concatenate([p for _, p in found])
    ta, in_a = _share(a[i[which]], points)
    tb, in_b = _share(b[j[which]], points)
    ok = in_a & in_b
    return which[ok], ta[ok], tb[ok]


def box_pairs(a: Pieces, b: Pieces) -> tuple[IntArray, IntArray]:
    """Pairs of pieces whose boxes touch."""
    p, q = a.boxes(), b.boxes()
    apart = (
        (p[:, None, 0] > q[None, :, 2] + SNAP_MM)
        | (q[None, :, 0] > p[:, None, 2] + SNAP_MM)
        | (p[:, None, 1] > q[None, :, 3] + SNAP_MM)
        | (q[None, :, 1] > p[:, None, 3] + SNAP_MM)
    )
    i, j = np.nonzero(~apart)
    return i, j


def _share(p: Pieces, points: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Share of each point along its own piece, and whether it lies on the piece (ends included)."""
    step = p.end - p.start
    size_sq = np.maximum((step**2).sum(axis=1), 1e-300)
    line = ((points - p.start) * step).sum(axis=1) / size_sq
    away = points - p.center
    turn = np.arctan2(away[:, 1], away[:, 0]) - p.first
    turn = np.where(p.sweep >= 0, turn, -turn) % (2 * np.pi)
    span = np.maximum(np.abs(p.sweep), 1e-300)
    # A point just before the start comes out just under a full turn.
    turn = np.where(turn - span > 2 * np.pi - turn, turn - 2 * np.pi, turn)
    t = np.where(p.is_arc, turn / span, line)
    slack = _SLACK_MM / np.maximum(p.lengths, 1e-12)
    return t.clip(0.0, 1.0), (t >= -slack) & (t <= 1 + slack)


def _line_line(a: Pieces, b: Pieces) -> list[tuple[BoolArray, FloatArray]]:
    u, v, w = a.end - a.start, b.end - b.start, b.start - a.start
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    ok = np.abs(cross) > 1e-12 * np.hypot(*u.T) * np.hypot(*v.T)
    t = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / np.where(ok, cross, 1.0)
    return [(ok, a.start + u * t[:, None])]


def _line_arc(a: Pieces, b: Pieces) -> list[tuple[BoolArray, FloatArray]]:
    step = a.end - a.start
    size = np.hypot(*step.T)
    u = step / np.maximum(size, 1e-300)[:, None]
    w = b.center - a.start
    along = (w * u).sum(axis=1)
    off = w[:, 0] * u[:, 1] - w[:, 1] * u[:, 0]
    rest = (b.radius - np.abs(off)) * (b.radius + np.abs(off))
    # A line that just touches the circle is tangent: one place, not none.
    ok = rest > -2 * _SLACK_MM * b.radius
    reach = np.sqrt(np.maximum(rest, 0.0))
    return [(ok, a.start + u * (along - reach)[:, None]), (ok, a.start + u * (along + reach)[:, None])]


def _arc_arc(a: Pieces, b: Pieces) -> list[tuple[BoolArray, FloatArray]]:
    gap = b.center - a.center
    d = np.hypot(*gap.T)
    ok = d > 1e-9
    u = gap / np.where(ok, d, 1.0)[:, None]
    along = ((a.radius - b.radius) * (a.radius + b.radius) / np.where(ok, d, 1.0) + d) / 2
    rest = (a.radius - np.abs(along)) * (a.radius + np.abs(along))
    ok &= rest > -2 * _SLACK_MM * np.minimum(a.radius, b.radius)
    reach = np.sqrt(np.maximum(rest, 0.0))
    foot = a.center + u * along[:, None]
    side = np.column_stack([-u[:, 1], u[:, 0]]) * reach[:, None]
    return [(ok, foot - side), (ok, foot + side)]


# ----------------------------------------------------------------------------------------- chaining


def chain(p: Pieces) -> list[Ring]:
    """Rings made of pieces that follow each other end to start.

    Ends within ``SNAP_MM`` are one point. Dead ends are pruned first, so a stray sliver does no harm;
    where a point has several ways on, the leftmost is taken, which keeps touching lobes apart. Rings keep
    the direction of their pieces: counter-clockwise around material, clockwise around a hole.
    """
    if not len(p):
        return []
    node = _clusters(np.concatenate([p.start, p.end]))
    tail, head = node[: len(p)], node[len(p) :]
    alive = (tail != head) | (np.abs(p.sweep) > np.pi)
    while True:
        count = node.max() + 1
        incoming = np.bincount(head[alive], minlength=count)
        outgoing = np.bincount(tail[alive], minlength=count)
        dead = alive & ((incoming[tail] == 0) | (outgoing[head] == 0))
        if not dead.any():
            break
        alive &= ~dead
    points = _centers(node, np.concatenate([p.start, p.end]))
    leave, arrive = p.heading(0.0), p.heading(1.0)
    free = {int(i) for i in np.flatnonzero(alive)}
    ways: dict[int, list[int]] = {}
    for i in sorted(free):
        ways.setdefault(int(tail[i]), []).append(i)
    rings = []
    while free:
        walk = [min(free)]
        free.discard(walk[0])
        while int(head[walk[-1]]) != int(tail[walk[0]]):
            here = [i for i in ways.get(int(head[walk[-1]]), []) if i in free]
            if not here:
                walk = []
                break
            d = arrive[walk[-1]]
            turn = [float(np.arctan2(d[0] * leave[i, 1] - d[1] * leave[i, 0], d @ leave[i])) for i in here]
            walk.append(here[int(np.argmax(turn))])
            free.discard(walk[-1])
        if len(walk) > 1 or (walk and abs(p.sweep[walk[0]]) > np.pi):
            starts = points[tail[walk]]
            bulges = np.tan(p.sweep[walk] / 4)
            rings.append(Ring(np.column_stack([starts, bulges])))
    return rings


def _clusters(points: FloatArray) -> IntArray:
    """Number of the cluster each point (k, 2) belongs to; points within SNAP_MM share one."""
    order = np.lexsort((points[:, 1], points[:, 0]))
    label = np.arange(len(points))
    x = points[order, 0]
    last = np.searchsorted(x, x + SNAP_MM, side="right")
    for a in np.flatnonzero(last > np.arange(len(x)) + 1):
        near = order[a + 1 : last[a]]
        close = near[np.hypot(*(points[near] - points[order[a]]).T) <= SNAP_MM]
        for other in close:
            low, high = sorted((label[order[a]], label[other]))
            if low != high:
                label[label == high] = low
    return np.unique(label, return_inverse=True)[1].astype(np.intp)


def _centers(node: IntArray, points: FloatArray) -> FloatArray:
    count = np.bincount(node).astype(float)
    return np.column_stack([np.bincount(node, weights=points[:, k]) / count for k in (0, 1)])
