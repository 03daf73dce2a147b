"""Loose lines and arcs: points on them, how far points are from them, and cutting them.

This is the workshop behind offsets and clipping. Everything is vectorised over pieces. A piece is worked on
from its own start: with start S, unit heading u there, left normal n and signed curvature k, its line or
circle is k |p - S|^2 - 2 n.(p - S) = 0. That one form holds for lines (k = 0) and arcs alike and loses no
digits however large a radius is, which centre and radius would.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.outline.ring import FloatArray, Ring

IntArray = npt.NDArray[np.intp]
BoolArray = npt.NDArray[np.bool_]

SNAP_MM = 2e-6
"""Ends closer than this are one point; pieces shorter than this are only glue between others."""

_SLACK_MM = 1e-9
_NOTHING_MM = 1e-12
_BESIDE = 1e-7


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
    def curvature(self) -> FloatArray:
        """(m,) 1/mm, signed: positive where the piece turns counter-clockwise, 0 for lines."""
        return np.where(self.is_arc, np.sign(self.sweep) / np.where(self.is_arc, self.radius, 1.0), 0.0)

    @property
    def lengths(self) -> FloatArray:
        """(m,) mm."""
        straight = np.hypot(*(self.end - self.start).T)
        return np.where(self.is_arc, self.radius * np.abs(self.sweep), straight)

    def at(self, index: IntArray, t: FloatArray) -> FloatArray:
        """Points (k, 2) at shares ``t`` (k,) in [0, 1] along pieces ``index`` (k,)."""
        a, b = self.start[index], self.end[index]
        line = a + (b - a) * t[:, None]
        turn = self.sweep[index] * t
        # The chord from the start: its length is an arc length times a sine over its angle, never R - R.
        angle = self.first[index] + np.where(turn >= 0, 0.5, -0.5) * np.pi + turn / 2
        chord = self.radius[index] * np.abs(turn) * np.sinc(turn / (2 * np.pi))
        arc = a + chord[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
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
        arcs = np.flatnonzero(self.is_arc)
        swept = np.abs(self.sweep[arcs])
        for k in range(4):
            gap = k * np.pi / 2 - self.first[arcs]
            turn = np.where(self.sweep[arcs] >= 0, gap, -gap) % (2 * np.pi)
            hit = turn <= swept
            i = arcs[hit]
            reach = self.at(i, turn[hit] / swept[hit])
            low[i], high[i] = np.minimum(low[i], reach), np.maximum(high[i], reach)
        return np.column_stack([low, high])

    def shifted(self, distance_mm: float) -> "Pieces":
        """Every piece moved to its right by a distance; arcs keep their centre.

        An arc that this uses up has a radius of 0 or less, and is for the caller to leave out.
        """
        wider = np.where(self.sweep > 0, distance_mm, -distance_mm)
        return Pieces(
            start=self.start + distance_mm * right_of(self.heading(0.0)),
            end=self.end + distance_mm * right_of(self.heading(1.0)),
            center=self.center,
            radius=np.where(self.is_arc, self.radius + wider, 0.0),
            first=self.first,
            sweep=self.sweep,
            source=self.source,
        )

    def cut(self, index: IntArray, t: FloatArray) -> "Pieces":
        """All pieces, cut at shares ``t`` (k,) of pieces ``index`` (k,).

        Slivers stay, down to nothing: they are the glue between pieces on either side of them.
        """
        count = len(self)
        owner = np.concatenate([np.arange(count), index, np.arange(count)])
        share = np.concatenate([np.zeros(count), t, np.ones(count)])
        order = np.lexsort((share, owner))
        owner, share = owner[order], share[order]
        same = owner[:-1] == owner[1:]
        i, t0, t1 = owner[:-1][same], share[:-1][same], share[1:][same]
        keep = (t1 - t0) * self.lengths[i] > _NOTHING_MM
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


def right_of(heading: FloatArray) -> FloatArray:
    """Headings (m, 2) turned to the right by a quarter turn."""
    return np.column_stack([heading[:, 1], -heading[:, 0]])


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
    sweep = ring.sweeps
    chord = ring.ends - ring.starts
    quarter = np.where(sweep >= 0, 0.5, -0.5) * np.pi
    return Pieces(
        start=ring.starts,
        end=ring.ends,
        center=np.where(arc[:, None], ring.centers, 0.0),
        radius=np.where(arc, np.abs(ring.radii), 0.0),
        first=np.where(arc, np.arctan2(chord[:, 1], chord[:, 0]) - sweep / 2 - quarter, 0.0),
        sweep=sweep,
        source=np.arange(len(ring)),
    )


# ---------------------------------------------------------------------------------- distances, crossings


def gaps_mm(pieces: Pieces, points: FloatArray) -> FloatArray:
    """Distance (k,) of each point (k, 2) from the piece of the same index; ``pieces`` holds k."""
    u, n, bend = _frame(pieces)
    w = points - pieces.start
    forward, left = (w * u).sum(axis=1), (w * n).sum(axis=1)
    size = np.hypot(*(pieces.end - pieces.start).T)
    line: FloatArray = np.hypot(forward - forward.clip(0.0, size), left)
    if not pieces.is_arc.any():
        return line
    x, y = 1.0 - bend * left, bend * forward
    off = np.abs(bend * (w**2).sum(axis=1) - 2 * left) / (1 + np.hypot(x, y))
    turn = (np.arctan2(y, x) * np.sign(bend)) % (2 * np.pi)
    to_end = points - pieces.end
    ends = np.minimum(np.hypot(w[:, 0], w[:, 1]), np.hypot(to_end[:, 0], to_end[:, 1]))
    gaps: FloatArray = np.where(pieces.is_arc, np.where(turn <= np.abs(pieces.sweep), off, ends), line)
    return gaps


def sides(pieces: Pieces, points: FloatArray) -> FloatArray:
    """Right (positive) or left (negative) of each whole line or circle: (k, m) for points (k, 2)."""
    _, n, bend = _frame(pieces)
    w = points[:, None, :] - pieces.start[None]
    right: FloatArray = bend * (w**2).sum(axis=2) - 2 * (w * n[None]).sum(axis=2)
    return right


def crossings(
    a: Pieces, b: Pieces, pairs: tuple[IntArray, IntArray]
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Where pieces of ``a`` meet pieces of ``b``.

    Args:
        a: Pieces.
        b: Pieces, may be the same.
        pairs: Index arrays (k,) into a and b: which pairs to look at.

    Returns:
        (which pair, share along the piece of a, share along the piece of b), each (c,). Pieces that run
        over each other meet at the ends of what they share.
    """
    pa, pb = a[pairs[0]], b[pairs[1]]
    swap = np.abs(pa.curvature) > np.abs(pb.curvature)
    first, second = joined(pa, pb), joined(pb, pa)
    pick = np.arange(len(swap)) + np.where(swap, len(swap), 0)
    ok, beside, near, far = _meet(first[pick], second[pick])
    i, k = np.flatnonzero(ok), np.flatnonzero(beside)
    twice = np.flatnonzero(ok & (pa.is_arc | pb.is_arc))
    which = np.concatenate([i, twice, k, k, k, k])
    points = np.vstack([near[i], far[twice], pa.start[k], pa.end[k], pb.start[k], pb.end[k]])
    if len(k):
        on = np.maximum(gaps_mm(pa[which], points), gaps_mm(pb[which], points)) <= _SLACK_MM
        on[: len(i) + len(twice)] = True
        which, points = which[on], points[on]
    ta, in_a = _share(pa[which], points)
    tb, in_b = _share(pb[which], points)
    good = in_a & in_b
    return which[good], ta[good], tb[good]


def box_pairs(a: Pieces, b: Pieces) -> tuple[IntArray, IntArray]:
    """Pairs of pieces whose boxes touch."""
    p, q = a.boxes(), b.boxes()
    near = (p[:, None, :2] <= q[None, :, 2:] + SNAP_MM) & (q[None, :, :2] <= p[:, None, 2:] + SNAP_MM)
    i, j = np.nonzero(near[..., 0] & near[..., 1])
    return i, j


def _frame(p: Pieces) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Unit heading (m, 2) at the start, its left normal (m, 2) and signed curvature (m,)."""
    u = p.heading(0.0)
    return u, np.column_stack([-u[:, 1], u[:, 0]]), p.curvature


def _share(p: Pieces, points: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Share of each point along its own piece, and whether it lies on the piece (ends included)."""
    u, n, bend = _frame(p)
    w = points - p.start
    forward = (w * u).sum(axis=1)
    lengths = np.maximum(p.lengths, 1e-300)
    turn = np.arctan2(bend * forward, 1.0 - bend * (w * n).sum(axis=1)) * np.sign(bend) % (2 * np.pi)
    span = np.maximum(np.abs(p.sweep), 1e-300)
    # A point just before the start comes out just under a full turn.
    turn = np.where(turn - span > 2 * np.pi - turn, turn - 2 * np.pi, turn)
    t = np.where(p.is_arc, turn / span, forward / lengths)
    slack = _SLACK_MM / np.maximum(lengths, 1e-12)
    return t.clip(0.0, 1.0), (t >= -slack) & (t <= 1 + slack)


def _meet(a: Pieces, b: Pieces) -> tuple[BoolArray, BoolArray, FloatArray, FloatArray]:
    """Both places where each whole line or circle of ``a`` meets that of ``b``, the more bent one.

    What the two equations have in common once their squares are taken out is a line (the radical line);
    it is brought to a crossing with ``b``. A line that just touches counts as meeting.

    Returns:
        (whether they meet, whether they run side by side, first place, second place).
    """
    _, na, ka = _frame(a)
    _, nb, kb = _frame(b)
    ratio = np.where(kb == 0, 0.0, ka / np.where(kb == 0, 1.0, kb))
    delta = b.start - a.start
    g = ka[:, None] * delta - na + ratio[:, None] * nb
    e = ka * (delta**2).sum(axis=1) / 2 - (na * delta).sum(axis=1)
    size = np.hypot(g[:, 0], g[:, 1])
    ok = size > 1e-12
    size = np.where(ok, size, 1.0)
    g = g / size[:, None]
    foot = -(e / size)[:, None] * g
    along = np.column_stack([-g[:, 1], g[:, 0]])
    half = (nb * along).sum(axis=1)
    rest = kb * (foot**2).sum(axis=1) - 2 * (nb * foot).sum(axis=1)
    beside = np.where(kb == 0, np.abs(half), size) < _BESIDE
    inner = half**2 - kb * rest
    ok &= inner > -2 * _SLACK_MM * np.abs(kb)
    root = half + np.where(half >= 0, 1.0, -1.0) * np.sqrt(np.maximum(inner, 0.0))
    ok &= (np.abs(root) > 1e-12) | (kb != 0)
    # One root by division, the other from their product: no digits are lost when one of them is far away.
    crosses = (inner > 0) & (root != 0)
    bend = np.where(kb == 0, 1.0, kb)
    close = np.where(crosses, rest / np.where(crosses, root, 1.0), half / bend)
    other = np.where(kb == 0, close, root / bend)
    base = b.start + foot
    return ok, beside, base + along * close[:, None], base + along * other[:, None]
