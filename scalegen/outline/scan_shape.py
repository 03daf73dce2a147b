"""Edges of a scan, in mm, made into lines and arcs: noise smoothed, straight runs straight, corners sharp."""

from dataclasses import dataclass

import numpy as np

from scalegen.outline.fit import fit_arcs
from scalegen.outline.pieces import BoolArray
from scalegen.outline.ring import FloatArray
from scalegen.outline.scan_corners import find_corners, gap_points, stretches

_HALF = 7  # points on either side that smoothing takes in, at least
_WIDEST_MM = 0.9  # and at most this far: tighter curves would be drawn inward
_CALM_MM = 0.0012  # what is to be left of the noise
_SEED_MM = 4.0
_LEAST_RUN_MM = 5.0
_OFF_MM = 0.012
_TRIM_MM = 0.6
_SAG_MM = 0.003


@dataclass(frozen=True, kw_only=True, eq=False)
class Shape:
    """A contour as lines and arcs.

    Attributes:
        rows: float64 (n, 3) x, y, bulge of a closed chain, mm.
        corners: How many sharp corners it has.
        noise_mm: Standard deviation of single edge points across the edge.
    """

    rows: FloatArray
    corners: int
    noise_mm: float


def shape_of(points: FloatArray, blur_px: float, pixel_mm: float, tolerance_mm: float) -> Shape:
    """Fit lines and arcs to an edge.

    Args:
        points: float64 (n, 2) mm, closed, about one point a pixel.
        blur_px: Standard deviation of the blur the edge shows.
        pixel_mm: Size of a pixel.
        tolerance_mm: Largest distance between the smoothed edge and the fit.

    Raises:
        GeometryError: Too few points.
    """
    noise = noise_of(points)
    corners = find_corners(points, blur_px, pixel_mm, noise)
    closed = not corners
    half = _half_for(noise, pixel_mm)
    rows = []
    for stretch in stretches(points, corners, gap_points(blur_px, noise / pixel_mm)):
        even = straightened(smoothed(stretch, half, closed=closed), noise, closed=closed)
        fit = fit_arcs(_thinned(even, tolerance_mm, closed=closed), tolerance_mm, closed=closed)
        rows.append(fit.rows if closed else fit.rows[:-1])
    return Shape(rows=np.vstack(rows), corners=len(corners), noise_mm=noise)


def noise_of(points: FloatArray) -> float:
    """Standard deviation of points across the edge, from what smoothing changes; corners don't count."""
    step = np.roll(points, -3, axis=0) - np.roll(points, 3, axis=0)
    step = step / np.maximum(np.hypot(*step.T), 1e-12)[:, None]
    off = smoothed(points, _HALF, closed=True) - points
    across = off[:, 0] * step[:, 1] - off[:, 1] * step[:, 0]
    # The middle point has a share of the quadratic it is compared with.
    own = _kernel(_HALF)[_HALF]
    return 1.4826 * float(np.median(np.abs(across))) / float(np.sqrt(1 - own))


def _kernel(half: int) -> FloatArray:
    """Weights (2 half + 1,) that give the middle value of the best quadratic through evenly set values."""
    t = np.arange(-half, half + 1) / half
    powers = np.vander(t, 3, increasing=True)
    weights: FloatArray = np.linalg.pinv(powers)[0]
    return weights


def _half_for(noise_mm: float, pixel_mm: float) -> int:
    """Points on either side to smooth over, so that little noise is left.

    The middle of a quadratic through n values keeps 9 / (4 n) of their variance.
    """
    wanted = (2.25 * (noise_mm / _CALM_MM) ** 2 - 1) / 2
    return int(max(_HALF, min(wanted, _WIDEST_MM / pixel_mm)))


def smoothed(points: FloatArray, half: int, *, closed: bool) -> FloatArray:
    """Each point on the best quadratic through its neighbours; the ends of an open chain stay.

    Args:
        points: float64 (n, 2), evenly set.
        half: Neighbours on either side, fewer where there are not so many.
        closed: The last point is next to the first.
    """
    half = min(half, (len(points) - 1) // 2)
    if half < 2:
        return points
    kernel = _kernel(half)
    if closed:
        around = np.vstack([points[-half:], points, points[:half]])
        return np.column_stack([np.convolve(around[:, k], kernel, mode="valid") for k in (0, 1)])
    out = points.copy()
    out[half:-half] = np.column_stack([np.convolve(points[:, k], kernel, mode="valid") for k in (0, 1)])
    t = np.arange(2 * half + 1) / half - 1
    powers = np.vander(t, 3, increasing=True)
    ends = powers @ np.linalg.pinv(powers)
    out[:half] = (ends @ points[: 2 * half + 1])[:half]
    out[-half:] = (ends @ points[-2 * half - 1 :])[-half:]
    out[0], out[-1] = points[0], points[-1]
    return out


def _thinned(points: FloatArray, tolerance_mm: float, *, closed: bool) -> FloatArray:
    """Every so many points, the ends kept, so that noise between near points is not taken for turns."""
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    every = max(1, int(12 * tolerance_mm / max(step, 1e-9)))
    if every == 1 or len(points) < 8 * every:
        return points
    if closed:
        return points[::every]
    count = (len(points) - 1) // every
    return points[np.round(np.linspace(0, len(points) - 1, count + 1)).astype(np.intp)]


# ------------------------------------------------------------------------------------- straight runs


def straightened(points: FloatArray, noise_mm: float, *, closed: bool) -> FloatArray:
    """Points of each straight run put on the line through it.

    A run is straight when its points keep to a line and a parabola through them has no sag to speak of.

    Args:
        points: float64 (n, 2) mm, smoothed.
        noise_mm: Standard deviation of single points before smoothing.
        closed: The last point is next to the first.
    """
    length = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    limit = max(_OFF_MM, 1.5 * noise_mm)
    if not closed and _off(points) <= limit and _sags_little(points, noise_mm, length):
        return _on_line(points, (True, True))
    seed = max(8, round(_SEED_MM / max(length, 1e-9)))
    trim = max(1, round(_TRIM_MM / max(length, 1e-9)))
    out, free = points.copy(), np.ones(len(points), dtype=np.bool_)
    for first in range(0, len(points) - seed, max(1, seed // 2)):
        if not free[first : first + seed + 1].all():
            continue
        low, high = _grown(points, free, (first, first + seed), limit)
        # Ends that are corners belong to the run; others may already bend away.
        low += trim if low > 0 or closed else 0
        high -= trim if high < len(points) - 1 or closed else 0
        run = slice(low, high + 1)
        if high - low >= 8 and _means_straight(points[run], noise_mm, length):
            ends = (low == 0 and not closed, high == len(points) - 1 and not closed)
            out[run] = _on_line(points[run], ends)
            free[run] = False
    return out


def _grown(points: FloatArray, free: BoolArray, run: tuple[int, int], limit: float) -> tuple[int, int]:
    """The longest run around a first one whose points all keep to one line."""
    low, high = run
    step = max(4, (high - low) // 2)
    while step:
        for a, b in ((low, min(high + step, len(points) - 1)), (max(low - step, 0), high)):
            if (a, b) == (low, high) or not free[a : b + 1].all():
                continue
            if _off(points[a : b + 1]) <= limit:
                low, high = a, b
                break
        else:
            step //= 2
    return low, high


def _line(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Middle and direction of the best line."""
    middle = points.mean(axis=0)
    u, v = (points - middle).T
    angle = 0.5 * np.arctan2(2 * (u * v).sum(), (u**2 - v**2).sum())
    return middle, np.array([np.cos(angle), np.sin(angle)])


def _off(points: FloatArray) -> float:
    """Largest distance of points from their best line."""
    middle, along = _line(points)
    off = points - middle
    return float(np.abs(off[:, 0] * along[1] - off[:, 1] * along[0]).max())


def _means_straight(points: FloatArray, noise_mm: float, step_mm: float) -> bool:
    """Whether a run is long enough and its sag is no more than noise makes."""
    long = float(np.hypot(*(points[-1] - points[0]))) >= _LEAST_RUN_MM - 2 * _TRIM_MM
    return long and _sags_little(points, noise_mm, step_mm)


def _sags_little(points: FloatArray, noise_mm: float, step_mm: float) -> bool:
    """Whether a parabola through points has no more sag than noise makes."""
    middle, along = _line(points)
    off = points - middle
    x, y = off @ along, off @ np.array([-along[1], along[0]])
    half = float(np.abs(x).max())
    sag = abs(float(np.polynomial.polynomial.polyfit(x / half, y, 2)[2]))
    unsure = 1.5 * noise_mm / np.sqrt(2 * half / step_mm)
    return bool(sag <= max(_SAG_MM, 4 * unsure))


def _on_line(points: FloatArray, fixed: tuple[bool, bool]) -> FloatArray:
    """Points brought to a line, which goes through the ends that are fixed."""
    middle, along = _line(points)
    if all(fixed):
        middle, along = points[0], points[-1] - points[0]
        along = along / np.hypot(*along)
    elif any(fixed):
        corner = points[0] if fixed[0] else points[-1]
        away = middle - corner
        middle, along = corner, away / np.hypot(*away)
    out: FloatArray = middle + ((points - middle) @ along)[:, None] * along
    return out
