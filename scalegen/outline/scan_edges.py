"""Edges of a region to a fraction of a pixel.

A first contour runs where neighbouring pixels, joined by straight lines, pass the picture's level. Each of
its points is then moved across the edge to where the picture passes the middle between what it shows on
either side of that very place, so that uneven light does not shift the edge. The centre of the pixel in
column i and row j is at x = i, y = j.
"""

from dataclasses import dataclass

import numpy as np

from scalegen.outline.pieces import BoolArray, IntArray
from scalegen.outline.ring import FloatArray
from scalegen.outline.scan_load import Grey
from scalegen.outline.scan_regions import Region, Tones

REACH_PX = 5.0
_STEP_PX = 0.5
_FARTHEST_PX = 2.0
_ALONG = 8  # points on either side over which the levels beside the edge are taken together


@dataclass(frozen=True, kw_only=True, eq=False)
class Edge:
    """One closed edge, about one point for each pixel of its length.

    Attributes:
        points: float64 (n, 2) px; what is bright lies on the left.
        blur_px: Width of the edge as the standard deviation of the blur that it shows.
    """

    points: FloatArray
    blur_px: float


def area_of(points: FloatArray) -> float:
    """Signed area of a polygon (n, 2), counter-clockwise positive."""
    x, y = (points - points[0]).T
    return float(0.5 * (x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def contours_of(tones: Tones, region: Region) -> list[FloatArray]:
    """Closed contours of a region where the picture passes its level, longest first.

    Returns:
        Tables (n, 2) in px with the region on the left: the outer one counter-clockwise, holes clockwise.
    """
    mask = region.mask
    tail, head, heading, points = _cracks(tones, region, mask)
    following = _following(tail, head, heading).tolist()
    seen = bytearray(len(following))
    loops = []
    for first in range(len(following)):
        if seen[first]:
            continue
        loop, k = [], first
        while not seen[k]:
            seen[k] = 1
            loop.append(k)
            k = following[k]
        loops.append(points[loop])
    return sorted(loops, key=len, reverse=True)


def _cracks(tones: Tones, region: Region, mask: BoolArray) -> tuple[IntArray, IntArray, IntArray, FloatArray]:
    """Sides between a pixel of the region and one outside it: from node, to node, direction, crossing.

    Directions are 0 for +x, 1 for +y, 2 for -x, 3 for -y. Node r, c is the lower left of pixel r, c.
    """
    x0, y0 = region.box_px[0] - 1, region.box_px[1] - 1
    wide = mask.shape[1] + 1
    groups = []
    for heading, (down, right) in enumerate(((-1, 0), (0, 1), (1, 0), (0, -1))):
        r, c = np.nonzero(mask & ~np.roll(mask, (-down, -right), axis=(0, 1)))
        nodes = {
            0: ((r, c), (r, c + 1)),
            1: ((r, c + 1), (r + 1, c + 1)),
            2: ((r + 1, c + 1), (r + 1, c)),
            3: ((r + 1, c), (r, c)),
        }[heading]
        within = tones.grey[r + y0, c + x0].astype(np.float64)
        height, width = tones.grey.shape
        row, column = r + down + y0, c + right + x0
        on_picture = (row >= 0) & (row < height) & (column >= 0) & (column < width)
        beyond = tones.grey[row.clip(0, height - 1), column.clip(0, width - 1)].astype(np.float64)
        share = np.where(on_picture, (within - tones.level) / np.where(on_picture, within - beyond, 1.0), 0.5)
        points = np.column_stack([c + x0 + share * right, r + y0 + share * down])
        ids = [row_id * wide + column_id for row_id, column_id in nodes]
        groups.append((ids[0], ids[1], np.full(len(r), heading), points))
    tail, head, headings, crossing = (np.concatenate(part) for part in zip(*groups, strict=True))
    return tail, head, headings, crossing


def _following(tail: IntArray, head: IntArray, heading: IntArray) -> IntArray:
    """Which side comes next; where two regions' corners touch, the one that turns left."""
    order = np.argsort(tail * 4 + heading)
    keys = (tail * 4 + heading)[order]
    out = np.full(len(tail), -1)
    for turn in (3, 0, 1):  # right, straight on, left: the last one found counts
        wanted = head * 4 + (heading + turn) % 4
        k = np.searchsorted(keys, wanted).clip(0, len(keys) - 1)
        found = keys[k] == wanted
        out[found] = order[k[found]]
    return out


# ------------------------------------------------------------------------------------------ refining


def resampled(points: FloatArray, step: float) -> FloatArray:
    """Points (m, 2) evenly along a closed polygon, about ``step`` apart."""
    closed = np.vstack([points, points[:1]])
    run = np.insert(np.cumsum(np.hypot(*np.diff(closed, axis=0).T)), 0, 0.0)
    count = max(8, round(float(run[-1]) / step))
    at = np.arange(count) * run[-1] / count
    return np.column_stack([np.interp(at, run, closed[:, k]) for k in (0, 1)])


def refined(tones: Tones, contour: FloatArray) -> Edge:
    """Move a contour's points to the middle of the edge that they lie on.

    Args:
        tones: The picture.
        contour: (n, 2) px, closed.
    """
    points, offsets = contour, np.arange(-REACH_PX, REACH_PX + 0.1, _STEP_PX)
    for _ in range(2):
        points = resampled(points, 1.0)
        share = _profiles(tones.grey, points, offsets)
        points = points + _shifts(share, offsets)[:, None] * _outward(points)
    points = resampled(points, 1.0)
    return Edge(points=points, blur_px=_blur(_profiles(tones.grey, points, offsets), offsets))


def _outward(points: FloatArray) -> FloatArray:
    """Unit normals (n, 2) to the right, from chords three points to either side."""
    step = np.roll(points, -3, axis=0) - np.roll(points, 3, axis=0)
    step = step / np.maximum(np.hypot(*step.T), 1e-12)[:, None]
    return np.column_stack([step[:, 1], -step[:, 0]])


def _profiles(grey: Grey, points: FloatArray, offsets: FloatArray) -> FloatArray:
    """Grey levels (n, k) across the edge, -1/2 at the level found inside and 1/2 at that outside."""
    at = points[:, None] + offsets[None, :, None] * _outward(points)[:, None]
    seen = sampled_grey(grey, at.reshape(-1, 2)).reshape(len(points), len(offsets))
    inner, outer = _averaged(seen[:, :5].mean(axis=1)), _averaged(seen[:, -5:].mean(axis=1))
    contrast = inner - outer
    contrast = np.where(contrast > 1.0, contrast, 1.0)
    share: FloatArray = ((inner + outer) / 2)[:, None] - seen
    return share / contrast[:, None]


def _averaged(values: FloatArray) -> FloatArray:
    """Running median (n,) round a closed edge, so that a corner nearby does not count."""
    reach = min(_ALONG, (len(values) - 1) // 2)
    around = np.concatenate([values[-reach:], values, values[:reach]]) if reach else values
    out: FloatArray = np.median(np.lib.stride_tricks.sliding_window_view(around, 2 * reach + 1), axis=1)
    return out


def sampled_grey(grey: Grey, points: FloatArray) -> FloatArray:
    """Grey levels (k,) at points (k, 2) px, linear between pixels, the border's own beyond it."""
    height, width = grey.shape
    x, y = points[:, 0].clip(0, width - 1.001), points[:, 1].clip(0, height - 1.001)
    c, r = x.astype(np.intp), y.astype(np.intp)
    u, v = x - c, y - r
    low = grey[r, c] * (1 - u) + grey[r, c + 1] * u
    high = grey[r + 1, c] * (1 - u) + grey[r + 1, c + 1] * u
    out: FloatArray = low * (1 - v) + high * v
    return out


def _shifts(share: FloatArray, offsets: FloatArray) -> FloatArray:
    """Distance (n,) outward from each point to the nearest place where its profile passes the middle."""
    a, b = share[:, :-1], share[:, 1:]
    rising = (a <= 0) & (b > 0)
    at = offsets[:-1] + _STEP_PX * -a / np.where(rising, b - a, 1.0)
    at = np.where(rising, at, np.inf)
    nearest = np.take_along_axis(at, np.abs(at).argmin(axis=1)[:, None], axis=1)[:, 0]
    return np.where(np.abs(nearest) <= _FARTHEST_PX, nearest, 0.0)


def _blur(share: FloatArray, offsets: FloatArray) -> float:
    """Half the distance in which the typical profile goes from 16 to 84 hundredths, px.

    For an edge blurred by a normal distribution that is its standard deviation.
    """
    typical = np.maximum.accumulate(np.median(share, axis=0))
    typical = typical + np.arange(len(typical)) * 1e-9
    low, high = np.interp([-0.3413, 0.3413], typical, offsets)
    return float(high - low) / 2
