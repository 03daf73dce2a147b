"""An edge treatment as it runs along the lip: how large it is at every place, growing and fading.

Sizes are given at stations of x along the spine and the belly. Between them the size goes over smoothly and
never beyond its neighbours (monotone cubic pieces); where it fades to nothing it does so at an angle, as a
cutter leaves the work, so that the treatment ends at a point instead of in an endless sliver.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from scalegen.errors import GeometryError
from scalegen.model import Edge
from scalegen.outline.pieces import IntArray, Pieces, gaps_mm, pieces_of
from scalegen.outline.ring import FloatArray, Ring

_SAME_MM = 1e-9
_CHORD_MM = 1e-3
_STEPS = 33


@dataclass(frozen=True, kw_only=True, eq=False)
class EdgeRun:
    """The lip in pieces, and the size of the edge treatment along each.

    Attributes:
        pieces: The lip, cut wherever the size changes its rule.
        sizes: (k, 4) cubic of the size in mm over the share t in [0, 1] along each piece, constant first.
    """

    pieces: Pieces
    sizes: FloatArray

    @property
    def is_steady(self) -> bool:
        """Whether the size is the same everywhere."""
        return bool((self.sizes[:, 1:] == 0).all() and np.ptp(self.sizes[:, 0]) < _SAME_MM)

    def size_mm(self, index: IntArray, share: FloatArray) -> FloatArray:
        """Sizes (n,) at shares along pieces."""
        c = self.sizes[index]
        size: FloatArray = c[:, 0] + share * (c[:, 1] + share * (c[:, 2] + share * c[:, 3]))
        return np.maximum(size, 0.0)

    def feet(self, points: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """The nearest places of the lip.

        Args:
            points: (n, 2).

        Returns:
            Piece (n,), share along it (n,), and distance inside the lip (n,), negative outside.
        """
        if not len(points):
            return np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0)
        # The nearest chord of a fine polygon names the piece, or the one before or after it.
        tree, owners = self._chords
        near = owners[tree.nearest(shapely.points(points))]
        n = len(self.pieces)
        tried = np.stack([(near + step) % n for step in (-1, 0, 1)])
        gaps = np.stack([gaps_mm(self.pieces[index], points) for index in tried])
        best = gaps.argmin(axis=0)
        row = np.arange(len(points))
        index = tried[best, row]
        share, left = _share_and_left(self.pieces[index], points)
        return index, share, np.where(left >= 0, 1.0, -1.0) * gaps[best, row]

    @cached_property
    def _chords(self) -> "tuple[shapely.STRtree, IntArray]":
        """Chords that keep within a micron of the lip, and the piece each belongs to."""
        p = self.pieces
        turn = np.sqrt(8 * _CHORD_MM / np.maximum(p.radius, 1e-9))
        count = np.where(p.is_arc, np.ceil(np.abs(p.sweep) / turn), 1).astype(int)
        owners = np.repeat(np.arange(len(p)), count)
        first = np.concatenate([np.arange(c) / c for c in count.tolist()])
        last = first + 1 / np.repeat(count, count)
        ends = np.stack([p.at(owners, first), p.at(owners, last)], axis=1)
        return shapely.STRtree(shapely.linestrings(ends)), owners


def _share_and_left(p: Pieces, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Share along its own piece of each point's foot, and how far left of it the point lies."""
    w = points - p.start
    u = p.heading(0.0)
    forward, left = (w * u).sum(axis=1), (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0])
    lengths = np.maximum(p.lengths, 1e-300)
    line = forward / lengths
    if not p.is_arc.any():
        return line.clip(0.0, 1.0), left
    arm = points - p.center
    turn = np.arctan2(arm[:, 1], arm[:, 0]) - p.first
    sweep = np.where(p.is_arc, p.sweep, 1.0)
    middle = turn - sweep / 2
    turn = sweep / 2 + (middle + np.pi) % (2 * np.pi) - np.pi
    inner = (p.radius - np.hypot(arm[:, 0], arm[:, 1])) * np.sign(sweep)
    share = np.where(p.is_arc, turn / sweep, line)
    # Where the foot is an end of an arc, only the heading there tells left from right.
    tip = np.where((share > 0.5)[:, None], p.end, p.start)
    u = np.where((share > 0.5)[:, None], p.heading(1.0), u)
    w = points - tip
    beyond = (share < 0) | (share > 1)
    inner = np.where(beyond, u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0], inner)
    return share.clip(0.0, 1.0), np.where(p.is_arc, inner, left)


def edge_run(edge: Edge, lip: Ring, size_mm: float) -> EdgeRun:
    """Lay the sizes of an edge treatment along its lip.

    Args:
        edge: As the pattern says it.
        lip: Smooth ring, counter-clockwise.
        size_mm: Size where it does not change.

    Raises:
        GeometryError: A station lies beyond the butt.
    """
    pieces = pieces_of(lip)
    if not edge.changes:
        sizes = np.zeros((len(pieces), 4))
        sizes[:, 0] = size_mm
        return EdgeRun(pieces=pieces, sizes=sizes)
    at, value = _stations(edge, pieces)
    total = float(pieces.lengths.sum())
    starts = np.concatenate([[0.0], np.cumsum(pieces.lengths)])
    index = np.searchsorted(starts, at, side="right") - 1
    index = np.clip(index, 0, len(pieces) - 1)
    share = (at - starts[index]) / pieces.lengths[index]
    inner = (share * pieces.lengths[index] > 1e-6) & ((1 - share) * pieces.lengths[index] > 1e-6)
    cut = pieces.cut(index[inner], share[inner])
    ends = np.cumsum(cut.lengths)
    knots, slopes = _slopes(at, value, total)
    return EdgeRun(pieces=cut, sizes=_cubics(ends, cut.lengths, knots, slopes, total))


def _stations(edge: Edge, pieces: Pieces) -> tuple[FloatArray, FloatArray]:
    """Arc lengths along the lip (k,), growing, and sizes (k,) of all stations."""
    starts = np.concatenate([[0.0], np.cumsum(pieces.lengths)])
    total = starts[-1]
    t = np.linspace(0.0, 1.0, _STEPS)[:-1]
    i = np.repeat(np.arange(len(pieces)), len(t))
    x = pieces.at(i, np.tile(t, len(pieces)))[:, 0]
    s = starts[i] + np.tile(t, len(pieces)) * pieces.lengths[i]
    butt, nose = float(s[x.argmax()]), float(s[x.argmin()])
    places: dict[float, float] = {}
    for side, stations in (("spine", edge.spine), ("belly", edge.belly)):
        # A ring goes round counter-clockwise: from the butt along the spine to the nose, then the belly.
        first, span = (butt, (nose - butt) % total) if side == "spine" else (nose, (butt - nose) % total)
        order = np.argsort((s - first) % total)
        along, over = ((s - first) % total)[order], x[order]
        keep = along <= span
        along, over = along[keep], over[keep]
        if side == "spine":
            along, over = span - along[::-1], over[::-1]
        for at, size in stations:
            if at > over[-1] + 1e-6:
                raise GeometryError(
                    f"the edge on the {side} has a station at x = {at:g} mm, beyond the butt at"
                    f" x = {over[-1]:.2f} mm",
                    where=f"scale.edge.{side}",
                    remedy="put it on the handle",
                )
            k = int((over >= at).argmax())
            reach = along[0] if k == 0 else np.interp(at, over[k - 1 : k + 1], along[k - 1 : k + 1])
            place = (first + (span - reach if side == "spine" else reach)) % total
            places[round(float(place), 9)] = size
    found = sorted(places.items())
    return np.array([at for at, _ in found]), np.array([size for _, size in found])


def _slopes(at: FloatArray, value: FloatArray, total: float) -> tuple[FloatArray, FloatArray]:
    """Knots (k + 1, 2) of arc length and size once around, and the slopes (k, 2) at both ends of each span.

    Source: monotone piecewise cubic interpolation after Fritsch and Butland (harmonic means of the chords'
    slopes); from memory.
    """
    knots = np.column_stack([np.append(at, at[0] + total), np.append(value, value[0])])
    chord = np.diff(knots[:, 1]) / np.diff(knots[:, 0])
    before = np.roll(chord, 1)
    same = before * chord > 0
    safe = np.where(same, before + chord, 1.0)
    slope = np.where(same, 2 * before * chord / safe, 0.0)
    ends = np.column_stack([slope, np.roll(slope, -1)])
    # Where it begins or ends at nothing, it does so at an angle.
    low = knots[:, 1] <= _SAME_MM
    ends[:, 0] = np.where(low[:-1], 1.5 * chord, ends[:, 0])
    ends[:, 1] = np.where(low[1:], 1.5 * chord, ends[:, 1])
    return knots, ends


def _cubics(
    ends: FloatArray, lengths: FloatArray, knots: FloatArray, slopes: FloatArray, total: float
) -> FloatArray:
    """The size along each piece as a cubic of its share; no piece reaches over a knot."""
    middle = ends - lengths / 2
    wrapped = np.where(middle < knots[0, 0], middle + total, middle)
    k = np.clip(np.searchsorted(knots[:, 0], wrapped) - 1, 0, len(slopes) - 1)
    span = knots[k + 1, 0] - knots[k, 0]
    v0, v1 = knots[k, 1], knots[k + 1, 1]
    m0, m1 = slopes[k, 0] * span, slopes[k, 1] * span
    hermite = np.column_stack([v0, m0, 3 * (v1 - v0) - 2 * m0 - m1, 2 * (v0 - v1) + m0 + m1])
    # From the share of the span to the share of the piece: w = a + b t.
    a, b = (wrapped - lengths / 2 - knots[k, 0]) / span, lengths / span
    c0, c1, c2, c3 = hermite.T
    sizes = np.column_stack(
        [
            c0 + a * (c1 + a * (c2 + a * c3)),
            b * (c1 + a * (2 * c2 + 3 * a * c3)),
            b**2 * (c2 + 3 * a * c3),
            b**3 * c3,
        ]
    )
    sizes[np.abs(sizes) < 1e-13] = 0.0
    return sizes


def crests(run: EdgeRun, index: IntArray, share: FloatArray, inset_mm: FloatArray) -> FloatArray:
    """Points (n, 2) at distances (n,) inside the lip beside shares (n,) of pieces (n,)."""
    return run.pieces.at(index, share) + inset_mm[:, None] * left_at(run.pieces, index, share)


def left_at(pieces: Pieces, index: IntArray, share: FloatArray) -> FloatArray:
    """Unit normals (n, 2) to the left of pieces (n,) at shares (n,)."""
    step = pieces.end[index] - pieces.start[index]
    size = np.hypot(step[:, 0], step[:, 1])
    line = step / np.where(size > 0, size, 1.0)[:, None]
    angle = pieces.first[index] + pieces.sweep[index] * share
    turn = -np.sign(pieces.sweep[index])
    arc = np.column_stack([np.cos(angle), np.sin(angle)]) * turn[:, None]
    left: FloatArray = np.where(pieces.is_arc[index, None], arc, np.column_stack([-line[:, 1], line[:, 0]]))
    return left
