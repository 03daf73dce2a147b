"""Loose lines and arcs, in any order and direction, joined end to end into closed contours (mm)."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from scalegen.errors import GeometryError
from scalegen.outline.near import near_pairs, nodes_of
from scalegen.outline.ring import FloatArray, Ring

EXACT_MM = 1e-6
GAP_MM = 0.05
MOST_CONTOURS = 1_200

_SAME_CONTOUR = 1e-6
_CIRCLE_MM = 1e-3

Place = tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Piece:
    """A chain of lines and arcs as one entity of a drawing gives it.

    Attributes:
        rows: float64 (n, 3) x, y, bulge in mm; row i is the start of the segment to row i + 1. In an open
            piece the last row is only an end point and its bulge means nothing.
        closed: The last row's segment leads back to the first row.
        name: What it is called in messages, such as "ARC".
    """

    rows: FloatArray
    closed: bool
    name: str


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A gap that was closed: its middle and how far apart the two ends were."""

    at_mm: Place
    size_mm: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Joined:
    """What came of joining.

    Attributes:
        contours: Closed contours, each once.
        loose: Chains that do not close, float64 (n, 3) rows each.
        gaps: Gaps closed within contours, exact joints not counted.
        branches: Places where more than two ends meet, so that the way on is not clear.
        repeats: How many pieces and contours lay exactly on another one and were left out.
        strays: Chains from a branch to a dead end, left out so that the branch is none any more.
        flat: Closed chains that enclose no area, left out.
    """

    contours: tuple[Ring, ...]
    loose: tuple[FloatArray, ...]
    gaps: tuple[Gap, ...]
    branches: tuple[Place, ...]
    repeats: int
    strays: int
    flat: int

    @property
    def open_ends(self) -> tuple[Place, ...]:
        """Both ends of every loose chain."""
        return tuple((float(row[0]), float(row[1])) for rows in self.loose for row in (rows[0], rows[-1]))


@dataclass(frozen=True, kw_only=True)
class _Chain:
    """Pieces in order; each is its number and whether it runs backwards."""

    steps: tuple[tuple[int, bool], ...]
    closed: bool

    @property
    def ends(self) -> tuple[int, int]:
        """Numbers of the first and the last end (end 2 i starts piece i, end 2 i + 1 finishes it)."""
        (first, first_back), (last, last_back) = self.steps[0], self.steps[-1]
        return 2 * first + first_back, 2 * last + 1 - last_back


@dataclass(frozen=True, kw_only=True)
class _Links:
    """Which end goes on with which, and the places where that is not clear."""

    partner: dict[int, int] = field(default_factory=dict)
    branch_ends: frozenset[int] = frozenset()
    branches: tuple[Place, ...] = ()


def join_pieces(pieces: Sequence[Piece], gap_mm: float = GAP_MM) -> Joined:
    """Join pieces end to end: exact joints first, then the nearest ends up to a distance.

    Two ends that are joined both move to the middle between them. An arc that ends there keeps the middle
    of its curve where it is, so nothing moves further than half the gap.

    Args:
        pieces: Any number, in mm.
        gap_mm: Largest gap that is closed.

    Returns:
        The contours, and everything that was done or left over.

    Raises:
        GeometryError: A coordinate is not finite or absurdly large, or there are too many contours.
    """
    cleaned = [piece for piece in map(_without_steps_of_zero, pieces) if len(piece.rows) >= 2]
    loops = [piece.rows for piece in cleaned if piece.closed]
    opened, repeats = _each_once([piece.rows for piece in cleaned if not piece.closed])
    opened, strays = _without_strays(opened, gap_mm)
    links = _close_gaps(opened, _exact_links(opened), gap_mm)
    gaps: list[Gap] = []
    loose: list[FloatArray] = []
    for chain in _chains(links, len(opened)):
        rows, closed_gaps = _assemble(chain, opened)
        if chain.closed:
            gaps.extend(closed_gaps)
        (loops if chain.closed else loose).append(rows)
    if len(loops) > MOST_CONTOURS:
        raise GeometryError(
            f"{len(loops)} closed contours, where {MOST_CONTOURS} can be looked through",
            remedy="leave only the outline and the pin holes in the drawing",
        )
    rings = [ring for ring in map(_ring, loops) if ring is not None]
    contours = _distinct(rings)
    return Joined(
        contours=tuple(contours),
        loose=tuple(loose),
        gaps=tuple(gaps),
        branches=links.branches,
        repeats=repeats + len(rings) - len(contours),
        strays=strays,
        flat=len(loops) - len(rings),
    )


def circle_of(ring: Ring) -> tuple[float, float, float] | None:
    """Centre and diameter (x, y, d) of a ring that is one full circle, None for any other ring."""
    if not ring.bulges.all():
        return None
    centers, radii = ring.centers, ring.radii
    center, radius = centers.mean(axis=0), float(radii.mean())
    off = max(float(np.abs(centers - center).max()), float(np.abs(radii - radius).max()))
    turned = float(ring.sweeps.sum())
    if off > _CIRCLE_MM or radius <= 0 or abs(turned - 2 * np.pi) > 1e-3:
        return None
    return float(center[0]), float(center[1]), 2 * radius


def arc_rows(center: Place, radius: float, start_rad: float, sweep_rad: float) -> FloatArray:
    """Rows of one arc, cut into parts of at most half a turn.

    Args:
        center: x, y.
        radius: Above 0, same unit as the centre.
        start_rad: Direction from the centre to the first point.
        sweep_rad: Angle turned through, positive counter-clockwise, within a full turn.

    Returns:
        float64 (n, 3), last row the end point with bulge 0.
    """
    count = max(1, int(np.ceil(abs(sweep_rad) / np.pi - 1e-9)))
    angles = start_rad + sweep_rad * np.arange(count + 1) / count
    bulges = np.full(count + 1, np.tan(sweep_rad / count / 4))
    bulges[-1] = 0.0
    return np.column_stack([center[0] + radius * np.cos(angles), center[1] + radius * np.sin(angles), bulges])


def _without_steps_of_zero(piece: Piece) -> Piece:
    """Leave out points that repeat the next one."""
    after = np.roll(piece.rows[:, :2], -1, axis=0)
    keep = np.hypot(*(after - piece.rows[:, :2]).T) > EXACT_MM
    if not piece.closed:
        keep[-1] = True
    return replace(piece, rows=piece.rows[keep])


def _turned(rows: FloatArray) -> FloatArray:
    """The same open chain travelled the other way round."""
    bulges = np.append(0.0 - rows[:-1, 2][::-1], 0.0)
    return np.column_stack([rows[::-1, :2], bulges])


def _length(rows: FloatArray) -> float:
    """Length of an open chain."""
    chords = np.hypot(*np.diff(rows[:, :2], axis=0).T)
    half = 2 * np.arctan(np.abs(rows[:-1, 2]))
    return float(np.sum(chords / np.sinc(half / np.pi)))


def _end_points(opened: Sequence[FloatArray]) -> FloatArray:
    """Ends of all chains, (2 n, 2): end 2 i starts chain i, end 2 i + 1 finishes it."""
    if not opened:
        return np.empty((0, 2))
    return np.vstack([rows[[0, -1], :2] for rows in opened])


def _each_once(opened: Sequence[FloatArray]) -> tuple[list[FloatArray], int]:
    """Leave out chains that lie exactly on another one; return the rest and how many went."""
    node = nodes_of(_end_points(opened), EXACT_MM)
    kept: dict[tuple[int, int, float, float, float], FloatArray] = {}
    for i, rows in enumerate(opened):
        a, b = sorted(node[2 * i : 2 * i + 2])
        middle = rows[:, :2].mean(axis=0) + _sagittas(rows).mean(axis=0)
        key = (a, b, round(_length(rows), 4), round(float(middle[0]), 4), round(float(middle[1]), 4))
        kept.setdefault(key, rows)
    return list(kept.values()), len(opened) - len(kept)


def _sagittas(rows: FloatArray) -> FloatArray:
    """From the middle of each chord to the middle of its arc, (n - 1, 2)."""
    step = np.diff(rows[:, :2], axis=0)
    return np.column_stack([step[:, 1], -step[:, 0]]) * rows[:-1, 2:] / 2


def _exact_links(opened: Sequence[FloatArray]) -> _Links:
    """Link the two ends of every node that has just two."""
    points = _end_points(opened)
    ends: dict[int, list[int]] = defaultdict(list)
    for end, node in enumerate(nodes_of(points, EXACT_MM)):
        ends[node].append(end)
    partner: dict[int, int] = {}
    for group in ends.values():
        if len(group) == 2:
            partner[group[0]], partner[group[1]] = group[1], group[0]
    crowded = [group for group in ends.values() if len(group) > 2]
    return _Links(
        partner=partner,
        branch_ends=frozenset(end for group in crowded for end in group),
        branches=tuple((float(points[g[0], 0]), float(points[g[0], 1])) for g in crowded),
    )


def _without_strays(opened: list[FloatArray], gap_mm: float) -> tuple[list[FloatArray], int]:
    """Leave out chains that lead from a branch to a dead end, until there are none."""
    total = 0
    while True:
        links = _exact_links(opened)
        if not links.branch_ends:
            return opened, total
        near = {end for _, i, j in near_pairs(_end_points(opened), gap_mm) for end in (i, j)}
        strays = [
            chain
            for chain in _chains(links, len(opened))
            if not chain.closed and _is_stray(chain.ends, links.branch_ends, near)
        ]
        if not strays:
            return opened, total
        gone = {number for chain in strays for number, _ in chain.steps}
        opened = [rows for i, rows in enumerate(opened) if i not in gone]
        total += len(strays)


def _is_stray(ends: tuple[int, int], branch_ends: Iterable[int], near: Iterable[int]) -> bool:
    """Whether one end of a chain is at a branch and the other has no other end near it."""
    return any(a in branch_ends and b not in branch_ends and b not in near for a, b in (ends, ends[::-1]))


def _close_gaps(opened: Sequence[FloatArray], links: _Links, gap_mm: float) -> _Links:
    """Link free ends to each other, nearest first; a chain never closes over most of its own length."""
    partner = dict(links.partner)
    free = [k for k in range(2 * len(opened)) if k not in partner and k not in links.branch_ends]
    for apart, a, b in near_pairs(_end_points(opened)[free], gap_mm):
        i, j = free[a], free[b]
        if i in partner or j in partner or (i // 2 == j // 2 and _length(opened[i // 2]) < 10 * apart):
            continue
        partner[i], partner[j] = j, i
    return replace(links, partner=partner)


def _chains(links: _Links, count: int) -> list[_Chain]:
    """Follow the links from piece to piece: open chains first, then closed ones."""
    used: set[int] = set()
    chains = []
    free = [end for end in range(2 * count) if end not in links.partner]
    for start in [*free, *range(0, 2 * count, 2)]:
        if start // 2 in used:
            continue
        steps, end = [], start
        while end // 2 not in used:
            used.add(end // 2)
            steps.append((end // 2, bool(end % 2)))
            leaving = end ^ 1
            if leaving not in links.partner:
                break
            end = links.partner[leaving]
        chains.append(_Chain(steps=tuple(steps), closed=start in links.partner))
    return chains


def _assemble(chain: _Chain, opened: Sequence[FloatArray]) -> tuple[FloatArray, list[Gap]]:
    """One table of rows for a chain, its ends drawn together; and the gaps this closed."""
    parts = [_turned(opened[i]) if back else opened[i] for i, back in chain.steps]
    joints = [(k, (k + 1) % len(parts)) for k in range(len(parts) if chain.closed else len(parts) - 1)]
    gaps = []
    for k, following in joints:
        end, start = parts[k][-1, :2], parts[following][0, :2]
        size, middle = float(np.hypot(*(end - start))), (end + start) / 2
        if size > EXACT_MM:
            gaps.append(Gap(at_mm=(float(middle[0]), float(middle[1])), size_mm=size))
        parts[k] = _with_end_at(parts[k], middle)
        parts[following] = _turned(_with_end_at(_turned(parts[following]), middle))
    last = [] if chain.closed else [parts[-1][-1:]]
    return np.vstack([part[:-1] for part in parts] + last), gaps


def _with_end_at(rows: FloatArray, point: FloatArray) -> FloatArray:
    """Move the end of an open chain; an arc there goes on through the middle it had."""
    moved = rows.copy()
    moved[-1, :2] = point
    if rows[-2, 2] != 0 and (rows[-1, :2] != point).any():
        a, b = rows[-2, :2], point
        middle = (a + rows[-1, :2]) / 2 + _sagittas(rows[-2:])[0]
        to_a, to_b = a - middle, b - middle
        seen = np.arctan2(to_a[0] * to_b[1] - to_a[1] * to_b[0], to_a @ to_b)
        # The arc's middle sees the chord under half of what is left of the full turn (Euclid III, 20).
        moved[-2, 2] = np.copysign(np.tan((np.pi - abs(seen)) / 2), -seen)
    return moved


def _ring(rows: FloatArray) -> Ring | None:
    """A ring, or None when the chain encloses nothing."""
    rows = _without_steps_of_zero(Piece(rows=rows, closed=True, name="")).rows
    try:
        return Ring.from_rows(rows)
    except GeometryError as error:
        if error.remedy:  # too large to be right, which is not for this function to pass over
            raise
        return None


def _distinct(rings: Sequence[Ring]) -> list[Ring]:
    """Leave out rings that lie exactly on an earlier one."""
    if not rings:
        return []
    sizes = np.array(
        [
            [*ring.bounds_mm, *ring.starts.mean(axis=0), np.sqrt(ring.area_mm2), ring.perimeter_mm]
            for ring in rings
        ]
    )
    kept: list[int] = []
    by_left: dict[int, list[int]] = defaultdict(list)
    for k, size in enumerate(sizes):
        cell = int(np.floor(size[0] / 1e-3))
        others = [i for near in (cell - 1, cell, cell + 1) for i in by_left.get(near, ())]
        if others and (np.abs(sizes[others] - size).max(axis=1) <= _SAME_CONTOUR).any():
            continue
        by_left[cell].append(k)
        kept.append(k)
    return [rings[k] for k in kept]
