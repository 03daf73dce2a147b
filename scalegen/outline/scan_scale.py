"""From pixels to millimetres: by resolution, by two marks, or by a card's four corners."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.outline.ring import FloatArray
from scalegen.outline.scan_edges import area_of

CARD_MM = (85.60, 53.98)
"""Width and height of a bank or identity card. Source: ISO/IEC 7810, format ID-1 (from memory)."""

MM_PER_INCH = 25.4

_SIDE_SHARE = 0.7  # middle part of a card's side that is looked at: its corners are round
_HULL_POINTS = 72
_STRAIGHT_PX = 1.5
_ASPECTS = (1.25, 2.0)
_MOST_TILT = 1.35  # one side against its opposite


@dataclass(frozen=True, kw_only=True, eq=False)
class Mapping:
    """How pixels become millimetres.

    Attributes:
        matrix: float64 (3, 3) in homogeneous coordinates, y up on both sides.
        how: In words, for the notes.
        straightened: It takes out perspective.
    """

    matrix: FloatArray
    how: str
    straightened: bool = False

    def to_mm(self, points_px: FloatArray) -> FloatArray:
        """Points (n, 2) in mm."""
        full = np.column_stack([points_px, np.ones(len(points_px))]) @ self.matrix.T
        out: FloatArray = full[:, :2] / full[:, 2:]
        return out

    def pixel_mm(self, at_px: FloatArray) -> float:
        """Size of a pixel at a place (2,): root of the area that one pixel there covers."""
        square = at_px + np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
        return float(np.sqrt(abs(area_of(self.to_mm(square)))))


def by_dpi(dpi: tuple[float, float], how: str) -> Mapping:
    """Pixels of a scanner; the picture's lower left corner becomes the origin."""
    x, y = MM_PER_INCH / dpi[0], MM_PER_INCH / dpi[1]
    return Mapping(matrix=np.array([[x, 0.0, x / 2], [0.0, y, y / 2], [0.0, 0.0, 1.0]]), how=how)


def by_marks(first: FloatArray, second: FloatArray, distance_mm: float) -> Mapping:
    """Two places (2,) px, y up, that are a known distance apart."""
    size = distance_mm / float(np.hypot(*(second - first)))
    return by_dpi(
        (MM_PER_INCH / size, MM_PER_INCH / size),
        f"two marks {distance_mm:g} mm apart ({MM_PER_INCH / size:.1f} pixels per inch)",
    )


def by_card(corners_px: FloatArray) -> Mapping:
    """A card's corners (4, 2) px, counter-clockwise, y up; the picture keeps its right side up."""
    first = int(np.argmin(corners_px.sum(axis=1)))
    corners = np.roll(corners_px, -first, axis=0)
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    lying = sides[0] + sides[2] > sides[1] + sides[3]
    w, h = CARD_MM if lying else CARD_MM[::-1]
    card = np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])
    tilt = max(sides[0] / sides[2], sides[2] / sides[0], sides[1] / sides[3], sides[3] / sides[1])
    return Mapping(
        matrix=homography(corners, card),
        how=f"the card beside it ({CARD_MM[0]:.2f} x {CARD_MM[1]:.2f} mm),"
        f" opposite sides up to {100 * (tilt - 1):.1f} % unlike",
        straightened=True,
    )


def homography(source: FloatArray, target: FloatArray) -> FloatArray:
    """The projective map (3, 3) that takes four points to four others.

    Args:
        source: (4, 2), no three in a line.
        target: (4, 2).

    Source: two linear equations for each pair of points, with the last entry set to 1; any textbook on
    projective geometry. The points are brought near the origin first, for the digits.
    """
    middle, size = source.mean(axis=0), float(np.abs(source - source.mean(axis=0)).max())
    near = (source - middle) / size
    rows, right = [], []
    for (x, y), (u, v) in zip(near, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    solved = np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)
    shift = np.array([[1 / size, 0, -middle[0] / size], [0, 1 / size, -middle[1] / size], [0, 0, 1]])
    out: FloatArray = solved @ shift
    return out


# -------------------------------------------------------------------------------------------- the card


def card_corners(contour: FloatArray) -> FloatArray | None:
    """Corners of a contour that is a card seen at a slant, or None for anything else.

    A straight line is fitted to the middle of each side; the corners are where these meet.

    Args:
        contour: (n, 2) px, counter-clockwise.

    Returns:
        (4, 2) px, counter-clockwise.
    """
    rough = _largest_four(_hull(contour))
    if rough is None or not 0.97 <= area_of(contour) / area_of(rough) <= 1.08:
        return None
    corners = rough
    for _ in range(2):
        lines = _side_lines(contour, corners)
        if lines is None:
            return None
        corners = _meeting(lines)
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    aspect = (sides[0] + sides[2]) / (sides[1] + sides[3])
    tilts = max(sides[0] / sides[2], sides[2] / sides[0], sides[1] / sides[3], sides[3] / sides[1])
    fits = _ASPECTS[0] <= max(aspect, 1 / aspect) <= _ASPECTS[1] and tilts <= _MOST_TILT
    # Round corners take 0.2 % off a card's rectangle.
    return corners if fits and 0.985 <= area_of(contour) / area_of(corners) <= 1.005 else None


def _hull(points: FloatArray) -> FloatArray:
    """Points (k, 2) of the convex hull that reach farthest in evenly spread directions."""
    angles = np.arange(_HULL_POINTS) * 2 * np.pi / _HULL_POINTS
    far = (points @ np.vstack([np.cos(angles), np.sin(angles)])).argmax(axis=0)
    keep = np.concatenate([[True], far[1:] != far[:-1]])
    hull: FloatArray = points[far[keep]]
    return hull[:-1] if len(hull) > 1 and (hull[0] == hull[-1]).all() else hull


def _largest_four(hull: FloatArray) -> FloatArray | None:
    """The four points (4, 2) of a hull, in order, that enclose most: for each diagonal the farthest two."""
    if len(hull) < 4:
        return None
    best, found = 0.0, None
    for i in range(len(hull) - 2):
        for k in range(i + 2, len(hull)):
            step = hull[k] - hull[i]
            off = step[0] * (hull[:, 1] - hull[i, 1]) - step[1] * (hull[:, 0] - hull[i, 0])
            size = float(off.max() - off.min())
            if size > best:
                best, found = size, (i, int(off.argmin()), k, int(off.argmax()))
    return hull[list(found)] if found is not None and len(set(found)) == 4 else None


def _side_lines(contour: FloatArray, corners: FloatArray) -> FloatArray | None:
    """Middle and direction (4, 2, 2) of the line along each side; None when a side is not straight."""
    lines = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.hypot(*(b - a)))
        along = (b - a) / max(length, 1e-9)
        u, off = (contour - a) @ along, (contour - a) @ np.array([-along[1], along[0]])
        half = _SIDE_SHARE / 2 * length
        near = contour[(np.abs(u - length / 2) <= half) & (np.abs(off) <= 0.03 * length + 2)]
        if len(near) < 20:
            return None
        middle = near.mean(axis=0)
        direction = np.linalg.svd(near - middle, full_matrices=False)[2][0]
        out = (near - middle) @ np.array([-direction[1], direction[0]])
        if np.sqrt(np.mean(out**2)) > _STRAIGHT_PX + 1e-3 * length:
            return None
        lines.append([middle, direction])
    return np.array(lines)


def _meeting(lines: FloatArray) -> FloatArray:
    """Where each line meets the one before it, (4, 2)."""
    corners: list[FloatArray] = []
    before: Sequence[FloatArray] = list(np.roll(lines, 1, axis=0))
    for (p, d), (q, e) in zip(before, lines, strict=True):
        across = d[0] * e[1] - d[1] * e[0]
        step = q - p
        corners.append(p + d * (step[0] * e[1] - step[1] * e[0]) / (across or 1e-12))
    return np.array(corners)
