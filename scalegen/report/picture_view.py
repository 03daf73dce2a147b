"""Which part of a drawing a page shows, how large, and where on the page a place of it comes to lie."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.outline.drawing import Box
from scalegen.outline.ring import FloatArray
from scalegen.report.picture_shapes import Spot

PAGE_MM = 280.0
MARGIN_MM = 10.0
_INSET_MM = 13.0
_TALLEST_MM, _LOWEST_MM = 165.0, 26.0
_SMALLEST_MM = 1e-3
_ROUND = (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0)


@dataclass(frozen=True, kw_only=True)
class View:
    """A piece of a drawing laid onto a page.

    Attributes:
        box_mm: What is shown, in the drawing.
        scale: Length on the page of one mm of the drawing.
        window_mm: Left, top, right and bottom of the window on the page.
    """

    box_mm: Box
    scale: float
    window_mm: tuple[float, float, float, float]

    def spot(self, place: Sequence[float]) -> Spot:
        """Where a place of the drawing lies on the page."""
        left, top, right, bottom = self.window_mm
        x0, y0, x1, y1 = self.box_mm
        x = (left + right) / 2 + (place[0] - (x0 + x1) / 2) * self.scale
        y = (top + bottom) / 2 - (place[1] - (y0 + y1) / 2) * self.scale
        return float(x), float(y)

    def rows(self, rows: FloatArray) -> FloatArray:
        """Rows x, y, bulge (n, 3) of the drawing on the page, whose y goes down."""
        left, top, right, bottom = self.window_mm
        x0, y0, x1, y1 = self.box_mm
        x = (left + right) / 2 + (rows[:, 0] - (x0 + x1) / 2) * self.scale
        y = (top + bottom) / 2 - (rows[:, 1] - (y0 + y1) / 2) * self.scale
        return np.column_stack([x, y, -rows[:, 2]])

    def holds(self, spot: Spot, rim_mm: float = 0.0) -> bool:
        """Whether a place on the page lies in the window, so far from its edge at least."""
        left, top, right, bottom = self.window_mm
        return left + rim_mm <= spot[0] <= right - rim_mm and top + rim_mm <= spot[1] <= bottom - rim_mm


def view_of(boxes: Sequence[Box], mains: Sequence[Box], top_mm: float) -> View:
    """A view of a drawing.

    Args:
        boxes: Boxes of all that could be shown, at least one.
        mains: Boxes of what it is about; what lies further from these than they are large is left away.
            Empty shows everything.
        top_mm: Where the window begins on the page.
    """
    x0, y0, x1, y1 = _union(boxes)
    if mains:
        u0, v0, u1, v1 = _union(mains)
        reach = span_mm((u0, v0, u1, v1))
        x0, y0, x1, y1 = max(x0, u0 - reach), max(y0, v0 - reach), min(x1, u1 + reach), min(y1, v1 + reach)
    wide, high = max(x1 - x0, _SMALLEST_MM), max(y1 - y0, _SMALLEST_MM)
    room = PAGE_MM - 2 * MARGIN_MM - 2 * _INSET_MM
    scale = round_scale(min(room / wide, _TALLEST_MM / high))
    height = max(high * scale, _LOWEST_MM) + 2 * _INSET_MM
    window = (MARGIN_MM, top_mm, PAGE_MM - MARGIN_MM, top_mm + height)
    return View(box_mm=(x0, y0, x1, y1), scale=scale, window_mm=window)


def round_scale(most: float) -> float:
    """The largest round scale that is not above one that would fit, such as 2.5 or 1 / 3."""
    if most >= 1:
        power = 10.0 ** math.floor(math.log10(most))
        return max(number * power for number in _ROUND if number * power <= most * (1 + 1e-9))
    power = 10.0 ** math.floor(math.log10(1 / most))
    fitting = [number * power for number in (*_ROUND, 10.0) if number * power >= (1 - 1e-9) / most]
    return 1 / fitting[0]


def scale_text(scale: float) -> str:
    """A scale in words, such as "2 : 1"."""
    return f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"


def rows_box(rows: FloatArray) -> Box:
    """The box of the corners of a chain (n, 3); its arcs may reach beyond it."""
    (x0, y0), (x1, y1) = rows[:, :2].min(axis=0), rows[:, :2].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def span_mm(box: Box) -> float:
    """The longer side of a box."""
    return max(box[2] - box[0], box[3] - box[1])


def meets(a: Box, b: Box) -> bool:
    """Whether two boxes share a place."""
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def _union(boxes: Sequence[Box]) -> Box:
    table = np.array(boxes, dtype=np.float64)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
