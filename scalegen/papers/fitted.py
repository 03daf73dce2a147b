"""A picture cut down to its window and laid onto paper, its letters no smaller than can be read there."""

from dataclasses import replace

import numpy as np

from scalegen.outline.ring import FloatArray
from scalegen.report.picture_shapes import Curve, Disc, Pen, Picture, Shape

LEAST_TEXT_MM = 3.6
"""Height of the smallest letters' em square on paper: about 10 points."""


def fitted(picture: Picture, width_mm: float, rim_mm: float = 8.0) -> Picture:
    """What a picture shows in its window, cut down to its curves and laid out so wide.

    Args:
        picture: Its ``drawn`` shapes are kept.
        width_mm: Width on paper.
        rim_mm: Room around the curves for letters beside them, in the picture's own size.

    Returns:
        A picture that is all window. Lines keep at least half of their width, letters stay readable.
    """
    left, top, right, bottom = _bounds(picture, rim_mm)
    scale = width_mm / (right - left)
    high = (bottom - top) * scale
    move = _Move(left, top, scale)
    return Picture(
        width_mm=width_mm,
        height_mm=high,
        window_mm=(0.0, 0.0, width_mm, high),
        drawn=tuple(move.shape(each) for each in picture.drawn),
        over=(),
    )


def _bounds(picture: Picture, rim_mm: float) -> tuple[float, float, float, float]:
    """The box of the corners of all curves with a rim, no larger than the window."""
    left, top, right, bottom = picture.window_mm
    corners = np.vstack([each.rows[:, :2] for each in picture.drawn if isinstance(each, Curve)])
    (x0, y0), (x1, y1) = corners.min(axis=0) - rim_mm, corners.max(axis=0) + rim_mm
    return max(left, float(x0)), max(top, float(y0)), min(right, float(x1)), min(bottom, float(y1))


class _Move:
    def __init__(self, left: float, top: float, scale: float) -> None:
        self._left, self._top, self._scale = left, top, scale

    def shape(self, shape: Shape) -> Shape:
        if isinstance(shape, Curve):
            return replace(shape, rows=self._rows(shape.rows), pen=self._pen(shape.pen))
        at = self._spot(shape.at_mm)
        if isinstance(shape, Disc):
            radius = shape.radius_mm * self._scale
            return replace(shape, at_mm=at, radius_mm=radius, pen=self._pen(shape.pen))
        size = max(shape.size_mm * self._scale, LEAST_TEXT_MM)
        return replace(shape, at_mm=at, size_mm=size)

    def _spot(self, spot: tuple[float, float]) -> tuple[float, float]:
        return (spot[0] - self._left) * self._scale, (spot[1] - self._top) * self._scale

    def _rows(self, rows: FloatArray) -> FloatArray:
        moved = rows.copy()
        moved[:, 0] = (rows[:, 0] - self._left) * self._scale
        moved[:, 1] = (rows[:, 1] - self._top) * self._scale
        return moved

    def _pen(self, pen: Pen | None) -> Pen | None:
        return pen and replace(pen, width_mm=pen.width_mm * max(0.5, self._scale))
