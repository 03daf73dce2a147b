"""Flat paths in millimetres: lines and arcs as they are, other curves sampled and refitted to these."""

import itertools
from collections.abc import Sequence

import numpy as np
import shapely

from scalegen.errors import GeometryError
from scalegen.outline.biarc import chain, distances
from scalegen.outline.drawing import UnreadableError
from scalegen.outline.fit import fit_arcs
from scalegen.outline.join import Piece, arc_rows
from scalegen.outline.paths import Curve, FlatPath
from scalegen.outline.ring import FloatArray

TOLERANCE_MM = 0.005
SAMPLE_SHARE = 0.06
_LINE_SHARE = 0.45
MOST_ARC_SAMPLES = 3_000
MOST_SAMPLES = 30_000

_FINEST = 14
_FEWEST = 320
_PER_BREAK = (2, 8)
_ROUND_MM = 1e-4
_CLOSES_MM = 1e-6
_FLAT_BULGE, _ROUNDEST_BULGE = 1e-9, 1e4
_CORNER_RAD = 1e-3
_AT_ONCE = 200_000  # distances


def piece_of(
    path: FlatPath, scale_mm: float, tolerance_mm: float = TOLERANCE_MM, *, arcs: bool = True
) -> Piece:
    """Lines and arcs for one path.

    Args:
        path: In the drawing's unit.
        scale_mm: That unit in mm.
        tolerance_mm: Largest distance between a curve and the arcs that stand for it.
        arcs: Fit arcs; otherwise only straight lines, which is quicker.

    Returns:
        The piece; closed when the path says so or its ends meet.

    Raises:
        UnreadableError: A curve is too long or too involved to be followed, or has no length.
    """
    parts: list[FloatArray] = []
    for part in path.parts:
        if isinstance(part, Curve):
            parts += _fitted(part, scale_mm, tolerance_mm, arcs=arcs)
        else:
            parts.append(part * [scale_mm, scale_mm, 1.0])
    rows = np.vstack([*(part[:-1] for part in parts), parts[-1][-1:]])
    if not np.isfinite(rows).all():
        raise UnreadableError("a number is not finite")
    rows[np.abs(rows[:, 2]) < _FLAT_BULGE, 2] = 0.0
    if np.abs(rows[:, 2]).max() > _ROUNDEST_BULGE:
        raise UnreadableError("an arc with hardly anything left out of its circle")
    meets = bool(np.hypot(*(rows[-1] - rows[0])[:2]) <= _CLOSES_MM)
    if path.closed and not meets:
        raise UnreadableError("said to be closed, but its ends do not meet")
    # A line there and back has two rows as well, but nothing inside.
    closed = path.closed or (meets and (len(rows) > 3 or bool(rows[:-1, 2].any())))
    return Piece(rows=rows[:-1] if closed else rows, closed=closed, name=path.name)


def curves_off_mm(parts: Sequence[FloatArray | Curve], piece: Piece, scale_mm: float = 1.0) -> float:
    """Largest distance found from curves to the lines and arcs that stand for them.

    Args:
        parts: Curves in the drawing's unit, and rows, which are passed over.
        piece: Lines and arcs, mm.
        scale_mm: That unit in mm.
    """
    segments = chain(piece.rows, closed=piece.closed)
    worst = 0.0
    for part in parts:
        if not isinstance(part, Curve):
            continue
        t = part.breaks[:-1, None] + np.diff(part.breaks)[:, None] * np.linspace(0.0, 1.0, 16)
        for some in np.array_split(t.ravel(), max(1, t.size * len(segments) // _AT_ONCE)):
            worst = max(worst, float(distances(part.at(some) * scale_mm, segments).min(axis=1).max()))
    return worst


def _fitted(curve: Curve, scale_mm: float, tolerance_mm: float, *, arcs: bool) -> list[FloatArray]:
    """Rows for a curve, cut where its direction jumps; straight ones where it has very many bends."""
    sampled = _sampled(curve, scale_mm, SAMPLE_SHARE * tolerance_mm, MOST_ARC_SAMPLES) if arcs else None
    if sampled is None:
        arcs = False
        sampled = _sampled(curve, scale_mm, _LINE_SHARE * tolerance_mm, MOST_SAMPLES)
    if sampled is None:
        raise UnreadableError("a curve with too many bends")
    t, points = sampled
    size = float(np.ptp(points, axis=0).max())
    if size <= _CLOSES_MM:
        raise UnreadableError("it has no length")
    larger = max(1.0, size / 1000)
    tolerance = (1 - SAMPLE_SHARE) * tolerance_mm * larger
    round_rows = _as_one_arc(points)
    if round_rows is not None:
        return [round_rows]
    if not arcs:
        thinned = shapely.get_coordinates(
            shapely.LineString(points).simplify(_LINE_SHARE * tolerance_mm * larger)
        )
        return [np.column_stack([thinned, np.zeros(len(thinned))])]
    cuts = _jumps(curve, t)
    meets = bool(np.hypot(*(points[-1] - points[0])) <= _CLOSES_MM)
    try:
        if len(cuts) == 2 and meets:
            rows = fit_arcs(points[:-1], tolerance, closed=True).rows
            return [np.vstack([rows, [*rows[0, :2], 0.0]])]
        return [
            fit_arcs(points[a : b + 1], tolerance, closed=False).rows for a, b in itertools.pairwise(cuts)
        ]
    except GeometryError as error:
        raise UnreadableError(error.message) from error


def _sampled(curve: Curve, scale_mm: float, off_mm: float, most: int) -> tuple[FloatArray, FloatArray] | None:
    """Parameters and points (m, 2) in mm, so close that chords stay within a distance of the curve.

    Returns:
        None where that takes more than ``most``.
    """
    breaks = curve.breaks
    each = int(np.clip(_FEWEST // max(1, len(breaks) - 1), *_PER_BREAK))
    steps = np.arange(each) / each
    if (len(breaks) - 1) * each > most:
        return None
    t = np.append((breaks[:-1, None] + np.diff(breaks)[:, None] * steps).ravel(), breaks[-1])
    points = curve.at(t) * scale_mm
    if not np.isfinite(points).all() or np.abs(points).max() > 1e7:
        raise UnreadableError("a curve far beyond any handle")
    off_mm *= max(1.0, float(np.ptp(points, axis=0).max()) / 1000)
    open_ = np.ones(len(t) - 1, dtype=np.bool_)
    for _ in range(_FINEST):
        wide = np.flatnonzero(open_)
        middle_t = (t[wide] + t[wide + 1]) / 2
        middle = curve.at(middle_t) * scale_mm
        off = _off_chords(points[wide], points[wide + 1], middle)
        split = off > off_mm
        if not split.any():
            break
        if len(t) + split.sum() > most:
            return None
        open_[wide] = split
        at = wide[split] + 1
        open_ = np.insert(open_, at, True)
        t = np.insert(t, at, middle_t[split])
        points = np.insert(points, at, middle[split], axis=0)
    return t, points


def _off_chords(a: FloatArray, b: FloatArray, middle: FloatArray) -> FloatArray:
    """Distances (m,) of points from the chords a to b."""
    step = b - a
    length_sq = (step**2).sum(axis=1)
    share = ((middle - a) * step).sum(axis=1) / np.where(length_sq > 0, length_sq, 1.0)
    foot = a + np.clip(share, 0.0, 1.0)[:, None] * step
    return np.asarray(np.hypot(*(middle - foot).T))


def _jumps(curve: Curve, t: FloatArray) -> list[int]:
    """First and last sample and those between at which the direction jumps, which only breaks can do."""
    inner = curve.breaks[1:-1]
    low, high = np.diff(curve.breaks)[:-1], np.diff(curve.breaks)[1:]
    here = curve.at(inner)
    before = here - curve.at(inner - 1e-5 * low)
    after = curve.at(inner + 1e-5 * high) - here
    turn = np.abs(
        np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    )
    cuts = np.searchsorted(t, inner[turn > _CORNER_RAD])
    return [0, *(int(k) for k in cuts), len(t) - 1]


def _as_one_arc(points: FloatArray) -> FloatArray | None:
    """Rows of the one arc that all points lie on, or None.

    Source: circle by linear least squares, I. Kasa, IEEE Trans. Instrum. Meas. 25 (1976) (from memory).
    """
    middle = points.mean(axis=0)
    p = points - middle
    table = np.column_stack([2 * p, np.ones(len(p))])
    x, y, _ = np.linalg.lstsq(table, (p**2).sum(axis=1), rcond=None)[0]
    arm = p - [x, y]
    reach = np.hypot(*arm.T)
    radius = float(reach.mean())
    if np.abs(reach - radius).max() > _ROUND_MM or radius > 1e4:
        return None
    angles = np.unwrap(np.arctan2(arm[:, 1], arm[:, 0]))
    steps = np.diff(angles)
    if not ((steps > 0).all() or (steps < 0).all()) or abs(angles[-1] - angles[0]) > 2 * np.pi + 1e-9:
        return None
    rows = arc_rows((x + middle[0], y + middle[1]), radius, float(angles[0]), float(angles[-1] - angles[0]))
    rows[[0, -1], :2] = points[[0, -1]]
    return rows
