"""Dense points refitted to a few straight lines and arcs that go on from each other without a kink.

Straight runs become lines. The rest is followed by arcs that swing from one side of the points to the other;
where a few biarcs through the points will do, as where arcs were drawn, these are kept. Corners stay corners.
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from scalegen.errors import GeometryError
from scalegen.outline.biarc import biarc, deviation_of, kinks, merged, turn, unit
from scalegen.outline.cover import Smooth, covered
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.swing import swung

CORNER_RAD = 0.35

_STRAIGHT = 0.15  # of the tolerance: how far points of a straight run may be off it
_FEW = 4  # biarcs; so few may be the arcs that were drawn, which pass through the points
_REACHES = (8, 5, 3, 2, 1)  # points taken on either side to estimate a tangent
_BETWEEN_PLACES = 0.995


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """Lines and arcs fitted to points.

    Attributes:
        rows: float64 (n, 3) x, y, bulge in mm, as in a ring. In an open fit the last row is the end point.
        closed: The last row's segment leads back to the first row.
        kinks: Rows at which the direction jumps: the corners.
        deviation_mm: Largest distance found from a point to the fit, or from the fit to the polyline
            through the points.
    """

    rows: FloatArray
    closed: bool
    kinks: tuple[int, ...]
    deviation_mm: float

    @property
    def ring(self) -> Ring:
        """The fit as a ring; turned counter-clockwise, so its rows may come in another order.

        Raises:
            GeometryError: The fit is open, or encloses nothing.
        """
        if not self.closed:
            raise GeometryError("an open chain is not an outline", where="fit")
        return Ring.from_rows(self.rows, "fit")


@dataclass(frozen=True, kw_only=True, eq=False)
class _Path:
    """Points in order from one joint to the last, and what is known about them.

    Attributes:
        points: (n, 2); for a closed curve the last repeats the first.
        turns: (n,) signed angle from the edge before to the edge after; inf at open ends.
        corners: (n,) whether the direction may jump here.
        seam: The curve is closed and smooth where its points begin and end.
    """

    points: FloatArray
    turns: FloatArray
    corners: FloatArray
    seam: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class _Span:
    """Segments over some of the points: ``rows`` (k, 3) without the end point."""

    rows: FloatArray
    deviation_mm: float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Stretch:
    """Points between two joints.

    Attributes:
        points: (n, 2).
        around: The same with ``pad`` more points before and after, for tangents.
        pad: How many.
        first: Tangent that the first point must have, or None.
        last: Tangent that the last point must have, or None.
    """

    points: FloatArray
    around: FloatArray
    pad: int
    first: FloatArray | None
    last: FloatArray | None


def fit_arcs(
    points: FloatArray, tolerance_mm: float = 0.005, *, closed: bool = True, corner_rad: float = CORNER_RAD
) -> Fit:
    """Fit straight lines and arcs to points of a curve.

    The fit passes through corners and the ends of an open chain. It goes on without a kink everywhere but at
    corners: points where the polyline turns by more than ``corner_rad`` while it turns less beside them, and
    points where two edges meet that are too long to be anything but straight.

    Args:
        points: float64 (m, 2) in mm along the curve, close enough together to show its shape; a repeated
            first point at the end is dropped.
        tolerance_mm: Largest deviation, points to fit and fit to polyline.
        closed: The last point leads back to the first.
        corner_rad: Turn at one point that makes it a corner.

    Returns:
        The fit and the deviation it reached.

    Raises:
        GeometryError: Too few points, or coordinates that are not finite.
    """
    given = _cleaned(points, 0.01 * tolerance_mm, closed=closed)
    path = _path(given, tolerance_mm, corner_rad, closed=closed)
    path, runs = _from_a_run(path, _straight_runs(path, tolerance_mm))
    joints = sorted(
        {0, len(path.points) - 1, *np.flatnonzero(path.corners), *(k for run in runs for k in run)}
    )
    spans: list[_Span] = []
    for a, b in itertools.pairwise(joints):
        if (a, b) in runs:
            spans.append(_line_span(path.points[a : b + 1]))
        else:
            spans += _curve_spans(_stretch(path, a, b, runs), tolerance_mm)
    rows = merged(np.vstack([*(span.rows for span in spans), [[*path.points[-1], 0.0]]]))
    jumps = kinks(rows, closed=closed)
    rows = rows[:-1] if closed else rows
    deviation = max(span.deviation_mm for span in spans)
    return Fit(rows=rows, closed=closed, kinks=jumps, deviation_mm=deviation)


# ---------------------------------------------------------------------------------------- the points


def _cleaned(points: FloatArray, apart_mm: float, *, closed: bool) -> FloatArray:
    """Points without those that only repeat the one before."""
    table = np.array(points, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] != 2 or not np.isfinite(table).all():
        raise GeometryError("needs finite points, one x and y each", where="fit")
    keep = [0]
    for k in range(1, len(table)):
        if np.hypot(*(table[k] - table[keep[-1]])) > apart_mm:
            keep.append(k)
    while closed and len(keep) > 1 and np.hypot(*(table[keep[-1]] - table[0])) <= apart_mm:
        keep.pop()
    if len(keep) < (3 if closed else 2):
        raise GeometryError("too few points that differ", where="fit")
    return table[keep]


def _path(points: FloatArray, tolerance_mm: float, corner_rad: float, *, closed: bool) -> _Path:
    """Find corners, and let a closed curve begin at one, or else where it turns most."""
    if not closed:
        inner = turn(points[1:-1] - points[:-2], points[2:] - points[1:-1])
        turns = np.concatenate([[np.inf], inner, [np.inf]])
        corners = _corners(points, turns, tolerance_mm, corner_rad)
        return _Path(points=points, turns=turns, corners=corners, seam=False)
    edges = np.roll(points, -1, axis=0) - points
    turns = turn(np.roll(edges, 1, axis=0), edges)
    around = np.vstack([points[-1:], points, points[:2]])
    corners = _corners(around, np.concatenate([turns[-1:], turns, turns[:2]]), tolerance_mm, corner_rad)[1:-2]
    first = int(np.argmax(np.abs(turns) + 10.0 * corners))
    order = (first + np.arange(len(points) + 1)) % len(points)
    return _Path(points=points[order], turns=turns[order], corners=corners[order], seam=not corners[first])


def _corners(points: FloatArray, turns: FloatArray, tolerance_mm: float, corner_rad: float) -> FloatArray:
    """Which points are corners: a large turn that stands alone, or that no arc within tolerance makes."""
    size = np.abs(turns)
    beside = np.maximum(np.append(size[1:], 0.0), np.insert(size[:-1], 0, 0.0))
    lengths = np.hypot(*np.diff(points, axis=0).T)
    longer = np.maximum(np.append(lengths, 0.0), np.insert(lengths, 0, 0.0))
    bulky = longer * np.minimum(size, np.pi) / 8 > tolerance_mm
    return np.asarray((size > corner_rad) & ((size > 2 * beside) | bulky | ~np.isfinite(size)))


# ------------------------------------------------------------------------------------- straight runs


def _straight_runs(path: _Path, tolerance_mm: float) -> set[tuple[int, int]]:
    """First and last point of each run that can only be meant as a straight line."""
    runs, i, last = set(), 0, len(path.points) - 1
    while i < last:
        stop = i + 1 + int(np.argmax(path.corners[i + 1 :])) if path.corners[i + 1 :].any() else last
        run = _trimmed(path.points, i, _straight_reach(path.points, i, stop, _STRAIGHT * tolerance_mm))
        if _is_straight(path, *run, tolerance_mm):
            runs.add(run)
            i = run[1]
        else:
            i += 1
    return runs


def _from_a_run(path: _Path, runs: set[tuple[int, int]]) -> tuple[_Path, set[tuple[int, int]]]:
    """Let a smooth closed curve begin where a straight run does, so that nothing is cut at the seam."""
    if not path.seam or not runs:
        return path, runs
    first, count = min(runs)[0], len(path.points) - 1
    order = (first + np.arange(count + 1)) % count
    moved = replace(path, points=path.points[order], turns=path.turns[order], corners=path.corners[order])
    return moved, {(i - first, j - first) for i, j in runs}


def _off_line(points: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """Distances of points from the straight line through a and b."""
    along = (b - a) / np.hypot(*(b - a))
    off = points - a
    return np.asarray(np.abs(along[0] * off[:, 1] - along[1] * off[:, 0]))


def _straight_reach(points: FloatArray, i: int, stop: int, off_mm: float) -> int:
    """Last point up to which all points lie along one straight line from point i."""

    def straight(j: int) -> bool:
        return bool(_off_line(points[i : j + 1], points[i], points[j]).max() <= off_mm)

    return _farthest(straight, i + 1, stop, 4)


def _trimmed(points: FloatArray, i: int, j: int) -> tuple[int, int]:
    """Take off end points that already bend away from the line the inner points make."""
    inner = slice(i + (j - i) // 6, j + 1 - (j - i) // 6)
    if j - i < 6:
        return i, j
    middle = points[inner].mean(axis=0)
    along = np.linalg.svd(points[inner] - middle)[2][0]
    off = _off_line(points[i : j + 1], middle, middle + along)
    allowed = max(2.5 * float(off[inner.start - i : inner.stop - i].max()), 1e-7)
    good = np.flatnonzero(off <= allowed)
    return i + int(good[0]), i + int(good[-1])


def _is_straight(path: _Path, i: int, j: int, tolerance_mm: float) -> bool:
    """Whether a curve through the run's ends, as they turn, would bulge out of the tolerance."""
    if j <= i:
        return False
    chord = path.points[j] - path.points[i]
    length, bends = float(np.hypot(*chord)), []
    for end, step in ((i, -1), (j, 1)):
        if path.corners[end]:
            continue
        other = end + step
        if not 0 <= other < len(path.points):  # the seam of a closed curve
            other = len(path.points) - 2 if step < 0 else 1
        edge = path.points[other] - path.points[end]
        share = length / (length + float(np.hypot(*edge)))
        bends.append(abs(float(turn(step * edge, chord))) * share)
    return length * min(bends, default=np.pi) / 4 > tolerance_mm


def _line_span(points: FloatArray) -> _Span:
    """One straight segment over all points."""
    off = float(_off_line(points, points[0], points[-1]).max())
    return _Span(rows=np.array([[*points[0], 0.0]]), deviation_mm=off)


# ------------------------------------------------------------------------------------------ tangents


def _stretch(path: _Path, a: int, b: int, runs: set[tuple[int, int]]) -> _Stretch:
    """The curved part between two joints; straight neighbours give their direction to its ends."""
    points, last = path.points, len(path.points) - 1
    if path.seam and not runs:
        pad = min(_REACHES[0], last - 1)
        around = np.vstack([points[last - pad : last], points, points[1 : pad + 1]])
        return _Stretch(points=points, around=around, pad=pad, first=None, last=None)
    forced: list[FloatArray | None] = [None, None]
    for i, j in runs:
        chord = (points[j] - points[i]) / np.hypot(*(points[j] - points[i]))
        if not path.corners[a] and (j == a or (path.seam and j == last and a == 0)):
            forced[0] = chord
        if not path.corners[b] and (i == b or (path.seam and i == 0 and b == last)):
            forced[1] = chord
    inner = points[a : b + 1]
    return _Stretch(points=inner, around=inner, pad=0, first=forced[0], last=forced[1])


def _tangent(points: FloatArray, k: int, tolerance_mm: float) -> FloatArray:
    """Unit tangent at point k from a cubic through its neighbours, as many as follow one closely."""
    for off_mm in (0.1 * tolerance_mm, tolerance_mm):
        for reach in _REACHES:
            near = points[max(0, k - reach) : k + reach + 1]
            frame = near[-1] - near[0]
            frame = frame / max(float(np.hypot(*frame)), 1e-300)
            left = np.array([-frame[1], frame[0]])
            x, y = (near - points[k]) @ frame, (near - points[k]) @ left
            if len(near) < 2 or (np.diff(x) <= 0.3 * np.hypot(*np.diff(near, axis=0).T)).any():
                continue
            scale = float(np.abs(x).max())
            powers = np.vander(x / scale, min(4, max(2, len(near) - (len(near) > 3))), increasing=True)
            factors = np.linalg.lstsq(powers, y, rcond=None)[0]
            if np.abs(powers @ factors - y).max() <= off_mm:
                tangent = frame + left * factors[1] / scale
                return np.asarray(tangent / np.hypot(*tangent))
    chord = points[min(k + 1, len(points) - 1)] - points[max(k - 1, 0)]
    return np.asarray(chord / max(float(np.hypot(*chord)), 1e-300))


def _tangents(points: FloatArray, off_mm: float) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """What :func:`_tangent` finds where the largest reach will do, for all points (n, 2) at once.

    Returns:
        Unit tangents (n, 2), and (n,) where they hold.
    """
    reach, n = _REACHES[0], len(points)
    tangents, sure = np.zeros((n, 2)), np.zeros(n, dtype=np.bool_)
    if n <= 2 * reach:
        return tangents, sure
    inner = np.arange(reach, n - reach)
    near = points[inner[:, None] + np.arange(-reach, reach + 1)]
    frame = near[:, -1] - near[:, 0]
    frame = frame / np.maximum(np.hypot(*frame.T), 1e-300)[:, None]
    off = near - points[inner][:, None]
    x = (off * frame[:, None]).sum(axis=2)
    y = off[..., 1] * frame[:, :1] - off[..., 0] * frame[:, 1:]
    step = np.diff(near, axis=1)
    along = (np.diff(x, axis=1) > 0.3 * np.hypot(step[..., 0], step[..., 1])).all(axis=1)
    scale = np.maximum(np.abs(x).max(axis=1), 1e-300)
    powers = (x / scale[:, None])[..., None] ** np.arange(4)
    normal = np.einsum("nij,nik->njk", powers, powers) + 1e-13 * np.eye(4)
    factors = np.linalg.solve(normal, np.einsum("nij,ni->nj", powers, y)[..., None])
    fits = np.abs((powers @ factors)[..., 0] - y).max(axis=1) <= off_mm
    slope = factors[:, 1, 0] / scale
    left = np.column_stack([-frame[:, 1], frame[:, 0]])
    tangent = frame + left * slope[:, None]
    tangents[inner] = tangent / np.maximum(np.hypot(*tangent.T), 1e-300)[:, None]
    sure[inner] = along & fits
    return tangents, sure


def _angles(stretch: _Stretch, tolerance_mm: float) -> FloatArray:
    """Directions (n,) of the tangents at the points of a stretch, without jumps of a full turn."""
    last = len(stretch.points) - 1
    tangents, sure = _tangents(stretch.around, 0.1 * tolerance_mm)
    for k in map(int, np.flatnonzero(~sure)):
        tangents[k] = _tangent(stretch.around, k, tolerance_mm)
    tangents = tangents[stretch.pad : stretch.pad + last + 1]
    for k, forced in ((0, stretch.first), (last, stretch.last)):
        if forced is not None:
            tangents[k] = forced
    return np.unwrap(np.arctan2(tangents[:, 1], tangents[:, 0]))


# ----------------------------------------------------------------------------------- covering a stretch


def _curve_spans(stretch: _Stretch, tolerance_mm: float) -> list[_Span]:
    """Cover a stretch with biarcs, or by straight lines where points are too far apart for these."""
    points, last = stretch.points, len(stretch.points) - 1
    if last == 1 and stretch.first is None and stretch.last is None:
        return [_line_span(points)]
    angles = _angles(stretch, tolerance_mm)
    free = (stretch.pad == 0 and stretch.first is None, stretch.pad == 0 and stretch.last is None)
    smooth = Smooth(points=points, angles_rad=angles, free=free, closed=stretch.pad > 0)
    # What long arcs are off is found at closely spaced places; between them it may be a little more.
    arcs = swung(smooth, _BETWEEN_PLACES * tolerance_mm)
    swings = [] if arcs is None else [_Span(rows=arcs.rows[:-1], deviation_mm=arcs.deviation_mm)]
    if arcs is not None and len(arcs.rows) > 2 * _FEW:
        return swings
    spans = _biarc_spans(smooth, tolerance_mm)
    return swings if swings and len(spans) > _FEW else spans


def _biarc_spans(smooth: Smooth, tolerance_mm: float) -> list[_Span]:
    """Biarcs with their joints on points; straight lines where points are too far apart for them."""
    points, spans = smooth.points, []
    joints = covered(smooth, tolerance_mm)
    for a, b in itertools.pairwise(joints):
        inner = points[a.at : b.at + 1]
        rows = biarc(inner[0], unit(a.angle_rad), inner[-1], unit(b.angle_rad), b.share)
        off = deviation_of(rows, inner, tolerance_mm)
        fits = off <= tolerance_mm
        spans.append(_Span(rows=rows[:-1], deviation_mm=off) if fits else _line_span(inner))
    return spans


def _farthest(fits: Callable[[int], bool], low: int, high: int, step: int) -> int:
    """Largest number that fits, taking it that smaller ones fit too; ``low`` is not asked about."""
    good, bad = low, high + 1
    while good < high:
        probe = min(good + step, high)
        if not fits(probe):
            bad = probe
            break
        good, step = probe, 2 * step
    while bad - good > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if fits(middle) else (good, middle)
    return good
