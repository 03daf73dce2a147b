"""Volumes of bodies that are heights above a plan: integrals over the plan, without the kernel.

The body's walls stand upright on rings of lines and arcs. The volume under its top is the integral of the
height over the plan, taken part by part so that every part is smooth but for a few creases: over the walls'
ring at the depth of the flange, over the lip for what stands above the flange, along the lip for what the
edge treatment takes away, and over every hole. Cells are quartered until they settle.

Source: Gauss-Legendre product rules with adaptive quartering, as in any textbook on cubature.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from scalegen.design import Bore
from scalegen.errors import GeometryError
from scalegen.form.bores import by_center, merged
from scalegen.form.draped import DrapedPlan
from scalegen.form.run import EdgeRun, crests
from scalegen.outline.front import clip_behind
from scalegen.outline.pieces import IntArray, Pieces, joined, pieces_of
from scalegen.outline.ring import FloatArray, Ring

Heights = Callable[[FloatArray], FloatArray]
"""Points (n, 2) to heights (n,)."""
Rule = Callable[[IntArray, FloatArray, FloatArray], FloatArray]
"""Cell numbers (n,) and places u, v in [0, 1] (n,) to values (n, k), the mapping's own area in them."""

_NODES, _PORTION = 6, 256
_DEEPEST = 11
_CELL_MM, _STRIP_ROWS, _BAND_ROWS = 3.0, 6, 2
_SETTLED_SHARE = 3e-8
_SAME_MM = 1e-9
_NEAR_SHARE, _NARROW_MM, _CREASE_MM = 0.3, 0.01, 0.1
_CORNERS = ((0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0))


def draped_volumes_mm3(plan: DrapedPlan, heights_mm: Sequence[float]) -> tuple[float, ...]:
    """Volumes of a draped body between successive heights.

    Args:
        plan: The body.
        heights_mm: k + 1 heights from bottom to top.

    Returns:
        k volumes.

    Raises:
        GeometryError: The front takes the whole body away.
    """
    cut = _Cut(plan=plan, low=np.array(heights_mm[:-1]), high=np.array(heights_mm[1:]))
    drop = plan.seat_drop_mm
    scale = plan.base.area_mm2 * (plan.top_mm - plan.bottom_mm) * _SETTLED_SHARE
    total = _over_ring(cut, plan.base, (drop,), scale)
    if plan.run is not None and plan.lip is not None:
        total = total + _over_ring(cut, plan.lip, (0.0, drop), scale)
        total = total - _along_lip(plan, plan.run, cut, scale)
    for center, bores in by_center(plan.bores).items():
        total = total - _of_hole(plan, np.array(center), bores, cut, scale)
    if plan.grooves is not None:
        # They stay in the topmost layer, clear of everything else that is cut.
        total[-1] -= plan.grooves.volume_mm3
    return tuple(float(each) for each in total)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Cut:
    """Slabs of a body between heights ``low`` (k,) and ``high`` (k,)."""

    plan: DrapedPlan
    low: FloatArray
    high: FloatArray

    def of(self, top_mm: FloatArray) -> FloatArray:
        """How much of each slab (n, k) lies under tops (n,)."""
        share: FloatArray = np.clip(top_mm[:, None], self.low, self.high) - self.low
        return share

    def under(self, points: FloatArray, drops_mm: Sequence[float | FloatArray]) -> list[FloatArray]:
        """How much of each slab (n, k) lies behind the front and so far below the face, for each depth."""
        plan = self.plan
        behind, face = plan.nose.behind_mm(points), plan.face.height_mm(points)
        limit = plan.nose.limit_mm(np.maximum(behind, 0.0), face)
        limit = np.where(behind >= 0, limit, plan.bottom_mm)
        return [self.of(np.minimum(face - drop, limit)) for drop in drops_mm]

    def creases_mm(self, points: FloatArray, drops_mm: Sequence[float]) -> FloatArray:
        """Numbers (n, m) that change sign where the height of what is under points (n, 2) has a crease."""
        plan = self.plan
        behind, face = plan.nose.behind_mm(points), plan.face.height_mm(points)
        limit = plan.nose.limit_mm(np.maximum(behind, 0.0), face)
        found = [limit - face + drop for drop in drops_mm]
        for top in (limit, *(face - drop for drop in drops_mm)):
            found += [top - height for height in self.low[1:]]
        return np.column_stack([_rooted(plan, behind), *found])

    def between(self, bottom_mm: float, top_mm: FloatArray) -> FloatArray:
        """How much of each slab (n, k) lies above a height and under tops (n,)."""
        low = np.maximum(self.low, bottom_mm)
        return np.maximum(np.clip(top_mm[:, None], self.low, self.high) - low, 0.0)


def _rooted(plan: DrapedPlan, behind_mm: FloatArray) -> FloatArray:
    """Distances (n,) behind the front where its height rises like a square root there; else as if far off."""
    return behind_mm if plan.nose.front.treatment == "round" else np.full(len(behind_mm), np.inf)


def _behind(plan: DrapedPlan, ring: Ring) -> tuple[Ring, ...]:
    parts = clip_behind(ring, plan.nose.curve, -plan.nose.allowance_mm)
    if not parts:
        raise GeometryError("the front takes the whole scale away", where="front.at")
    return parts


def _over_ring(cut: _Cut, ring: Ring, drops_mm: Sequence[float], scale_mm3: float) -> FloatArray:
    """Integral (k,) over what of a ring lies behind the front.

    Args:
        cut: The body and its slabs.
        ring: Walls or lip.
        drops_mm: Depth below the face of what is taken; of what is taken off it again, where two are given.
        scale_mm3: How far off the whole may be.
    """
    plan = cut.plan
    strips = [_strips(part) for part in _behind(plan, ring)]
    low, high = (joined(*(pair[side] for _, *pair in strips)) for side in (0, 1))
    x0, x1 = np.vstack([span for span, *_ in strips]).T
    cells = _Cells(np.ceil((x1 - x0) / _CELL_MM).astype(int), _STRIP_ROWS)

    def place(i: IntArray, u: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
        k, u, v = cells.within(i, u, v)
        # The smooth step takes the square roots at the ends of arcs out of the integrand.
        step, slope = u * u * (3 - 2 * u), 6 * u * (1 - u)
        x = x0[k] + (x1[k] - x0[k]) * step
        below, above = _y_at(low[k], x), _y_at(high[k], x)
        area = (x1[k] - x0[k]) * slope * (above - below) * cells.share(i)
        return np.column_stack([x, below + (above - below) * v]), area

    def rule(k: IntArray, u: FloatArray, v: FloatArray) -> FloatArray:
        points, area = place(k, u, v)
        first, *rest = cut.under(points, drops_mm)
        return (first - rest[0] if rest else first) * area[:, None]

    def edges(k: IntArray, u: FloatArray, v: FloatArray) -> FloatArray:
        return cut.creases_mm(place(k, u, v)[0], drops_mm)

    return settled(rule, cells.count, scale_mm3, edges)


class _Cells:
    """Squares cut into so many columns each, and rows: coarse cells may all miss a narrow crease."""

    def __init__(self, columns: IntArray, rows: int) -> None:
        self.columns, self.rows = np.maximum(columns, 1), rows
        self.owner = np.repeat(np.arange(len(columns)), self.columns * rows)
        self.count = len(self.owner)
        first = np.cumsum(self.columns * rows) - self.columns * rows
        self.column, self.row = np.divmod(np.arange(self.count) - first[self.owner], rows)

    def within(self, i: IntArray, u: FloatArray, v: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """The square of each cell and the place in it."""
        k = self.owner[i]
        return k, (self.column[i] + u) / self.columns[k], (self.row[i] + v) / self.rows

    def share(self, i: IntArray) -> FloatArray:
        """Share of its square that each cell covers."""
        share: FloatArray = 1.0 / (self.columns[self.owner[i]] * self.rows)
        return share


def _strips(ring: Ring) -> tuple[FloatArray, Pieces, Pieces]:
    """Upright strips that a ring's inside is made of.

    Between two neighbouring x of ends and turning points, pieces run across without crossing each other.

    Returns:
        (n, 2) x from and to, the n pieces below and the n pieces above.
    """
    pieces = _turning(pieces_of(ring))
    left = np.minimum(pieces.start[:, 0], pieces.end[:, 0])
    right = np.maximum(pieces.start[:, 0], pieces.end[:, 0])
    edges = np.unique(np.concatenate([left, right]))
    edges = edges[np.concatenate([[True], np.diff(edges) > _SAME_MM])]
    spans, below, above = [], [], []
    for a, b in pairwise(edges.tolist()):
        middle = (a + b) / 2
        across = np.flatnonzero((left < middle) & (middle < right))
        order = across[_y_at(pieces[across], np.full(len(across), middle)).argsort()]
        spans += [(a, b)] * (len(order) // 2)
        below += order[0::2].tolist()
        above += order[1::2].tolist()
    return np.array(spans), pieces[np.array(below)], pieces[np.array(above)]


def _turning(pieces: Pieces) -> Pieces:
    """Pieces cut where they turn back in x."""
    index, share = [], []
    for k in np.flatnonzero(pieces.is_arc).tolist():
        for angle in (0.0, np.pi):
            gap = angle - float(pieces.first[k])
            sweep = float(pieces.sweep[k])
            turn = (gap if sweep > 0 else -gap) % (2 * np.pi)
            if 1e-9 < turn < abs(sweep) - 1e-9:
                index.append(k)
                share.append(turn / abs(sweep))
    return pieces.cut(np.array(index, dtype=np.intp), np.array(share)) if index else pieces


def _y_at(pieces: Pieces, x: FloatArray) -> FloatArray:
    """Heights y (n,) of n pieces that do not turn back, each at its own x (n,)."""
    a, b = pieces.start, pieces.end
    run = b[:, 0] - a[:, 0]
    share = (x - a[:, 0]) / np.where(run == 0, 1.0, run)
    line = a[:, 1] + (b[:, 1] - a[:, 1]) * share.clip(0.0, 1.0)
    middle = np.sin(pieces.first + pieces.sweep / 2)
    off = x - pieces.center[:, 0]
    arc = pieces.center[:, 1] + np.sign(middle) * np.sqrt(np.maximum(pieces.radius**2 - off**2, 0.0))
    y: FloatArray = np.where(pieces.is_arc, arc, line)
    return y


# --------------------------------------------------------------------------------------- edge and holes


def _along_lip(plan: DrapedPlan, run: EdgeRun, cut: "_Cut", scale_mm3: float) -> FloatArray:
    """What the edge treatment takes away of each slab, (k,)."""
    live = np.flatnonzero((run.sizes != 0).any(axis=1))
    cells = _Cells(np.ceil(run.pieces.lengths[live] / _CELL_MM).astype(int), _BAND_ROWS)

    def rule(i: IntArray, u: FloatArray, v: FloatArray) -> FloatArray:
        k, u, v = cells.within(i, u, v)
        k = live[k]
        size = run.size_mm(k, u)
        inset = plan.inset_mm(size, v)
        points = crests(run, k, u, inset)
        tops, treated = cut.under(points, (0.0, plan.depth_mm(size, inset)))
        speed = run.pieces.lengths[k] * (1 - run.pieces.curvature[k] * inset)
        area = speed * plan.inset_rate_mm(size, v)
        return (tops - treated) * (area * cells.share(i))[:, None]

    def behind(i: IntArray, u: FloatArray, v: FloatArray) -> FloatArray:
        k, u, v = cells.within(i, u, v)
        points = crests(run, live[k], u, plan.inset_mm(run.size_mm(live[k], u), v))
        return plan.nose.behind_mm(points)

    # The front may take no more than a corner of a cell, between all its nodes.
    return settled(rule, cells.count, scale_mm3, behind)


def _of_hole(
    plan: DrapedPlan, center: FloatArray, bores: Sequence[Bore], cut: "_Cut", scale_mm3: float
) -> FloatArray:
    """What the bores about one centre take out of each slab, (k,)."""
    radii = sorted({bore.diameter_mm / 2 for bore in bores})
    total = np.zeros(len(cut.low))
    for inner, outer in pairwise([0.0, *radii]):
        spans = merged([(b.bottom_mm, b.top_mm) for b in bores if b.diameter_mm / 2 >= outer])

        total = total + settled(_of_ring(plan, center, (inner, outer), spans, cut), 8, scale_mm3)
    return total


def _of_ring(
    plan: DrapedPlan,
    center: FloatArray,
    radii_mm: tuple[float, float],
    spans: Sequence[tuple[float, float]],
    cut: "_Cut",
) -> Rule:
    """What is taken out between two radii about a centre and within spans of height, in eight sectors."""
    inner, outer = radii_mm
    top_of = plan.face_at_mm if plan.is_clear(center, outer) else plan.top_at_mm

    def rule(k: IntArray, u: FloatArray, v: FloatArray) -> FloatArray:
        away, angle = inner + (outer - inner) * u, (k + v) * np.pi / 4
        points = center + away[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        top = top_of(points)
        taken = np.zeros((len(k), len(cut.low)))
        for low, high in spans:
            taken += cut.between(low, np.minimum(top, high))
        return taken * ((outer - inner) * away * np.pi / 4)[:, None]

    return rule


# -------------------------------------------------------------------------------------------- cubature


def settled(rule: Rule, count: int, within: float, edge: Rule | None = None) -> FloatArray:
    """Integral of a rule over ``count`` unit squares, each quartered until it settles.

    Args:
        rule: Values at places of cells.
        count: Cells to begin with.
        within: How far off all that is left unsettled may be, in the unit of the integral.
        edge: Numbers (n, m) that change sign where the values end, or have a crease that may run between
            the nodes of a cell; cells across are quartered until they are narrow. Beside the first of them
            the values may change like a square root, so cells there are no wider than they are near.

    Returns:
        (k,) integral.
    """
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    nodes, weights = (nodes + 1) / 2, weights / 2
    u, v = (each.ravel() for each in np.meshgrid(nodes, nodes, indexing="ij"))
    w = np.outer(weights, weights).ravel()

    def of(cells: IntArray, corner: FloatArray, size: float) -> FloatArray:
        # Portions that stay in the processor's cache take less than half the time.
        starts = range(0, len(cells), _PORTION)
        return np.concatenate([some(cells[i : i + _PORTION], corner[i : i + _PORTION], size) for i in starts])

    def some(cells: IntArray, corner: FloatArray, size: float) -> FloatArray:
        k = np.repeat(cells, len(w))
        values = rule(
            k,
            (corner[:, :1] + size * u).ravel(),
            (corner[:, 1:] + size * v).ravel(),
        )
        each: FloatArray = np.einsum("cwk,w->ck", values.reshape(len(cells), len(w), -1), w) * size**2
        return each

    cells, corner = np.arange(count), np.zeros((count, 2))
    whole = of(cells, corner, 1.0) if count else np.zeros((0, 1))
    total, size = np.zeros(whole.shape[1]), 1.0
    for level in range(_DEEPEST):
        if not len(cells):
            break
        size /= 2
        inner = np.repeat(cells, 4)
        places = (corner[:, None, :] + size * np.array(_CORNERS)).reshape(-1, 2)
        parts = of(inner, places, size)
        finer = parts.reshape(len(cells), 4, -1).sum(axis=1)
        # Creases halve their share of the cells' area each time: so may what is let go.
        open_ = np.abs(finer - whole).max(axis=1) > within / (count * 2.0**level)
        if edge is not None:
            open_ |= _beside(edge, cells, corner, 2 * size)
        open_ &= level < _DEEPEST - 1
        total = total + finer[~open_].sum(axis=0)
        again = np.repeat(open_, 4)
        cells, corner, whole = inner[again], places[again], parts[again]
    return total


def _beside(edge: Rule, cells: IntArray, corner: FloatArray, size: float) -> npt.NDArray[np.bool_]:
    """Which cells lie nearer to an edge than they are wide, and are not yet narrow."""
    far = np.stack([edge(cells, *(corner + size * np.array(c)).T) for c in _CORNERS])
    far = far.reshape(len(_CORNERS), len(cells), -1)
    with np.errstate(invalid="ignore"):
        near, width = np.abs(far).min(axis=0), far.max(axis=0) - far.min(axis=0)
        across = (far.min(axis=0) < 0) & (far.max(axis=0) > 0)
        # Beside the first, the values themselves change fast; at the others they only turn.
        across[:, 0] |= near[:, 0] < _NEAR_SHARE * width[:, 0]
        narrow = np.full(far.shape[2], _CREASE_MM)
        narrow[0] = _NARROW_MM
        beside: npt.NDArray[np.bool_] = (across & (width > narrow)).any(axis=1)
    return beside
