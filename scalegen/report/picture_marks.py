"""Marks for places in a drawing, a legend that explains lines and marks, and a scale bar."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from scalegen.model import Units
from scalegen.outline.ring import FloatArray
from scalegen.report.picture_shapes import (
    BLACK,
    GREY,
    RED,
    WHITE,
    Curve,
    Disc,
    Label,
    Pen,
    Shape,
    Spot,
    cut_text,
    text_width_mm,
)

TEXT_MM = 3.5
LINE_MM = 5.6
MARK_MM = 1.7

OUTLINE = Pen(width_mm=0.8)
THIN = Pen(width_mm=0.25)
PLAIN = Pen(color=GREY, width_mm=0.25)
BORDER = Pen(color=GREY, width_mm=0.3, dash_mm=(2.4, 1.4))
LOOSE = Pen(color=RED, width_mm=0.35, dash_mm=(1.1, 0.8))
_MARK = Pen(color=RED, width_mm=0.4)
_HALO = Pen(color=WHITE, width_mm=1.0)
_AXES = Pen(color=GREY, width_mm=0.35)
_SWATCH_MM, _GAP_MM = 9.0, 6.0
_ROUND = (1.0, 2.0, 5.0)
_ARM_MM, _TIP_MM = 9.0, 1.6


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A line of the legend: what stands beside the text, a line's pen or a mark's name, and the text."""

    sample: Pen | str
    text: str


def mark(kind: str, at_mm: Spot) -> list[Shape]:
    """A mark with a white rim.

    Args:
        kind: "gap" is a square, "open end" a ring, "branch" a triangle, "crossing" a ring with hairs.
        at_mm: Its middle on the page.

    Raises:
        KeyError: There is no such mark.
    """
    ring = Disc(at_mm=at_mm, radius_mm=0.9 * MARK_MM, pen=_MARK)
    if kind == "open end":
        return [replace(ring, pen=_HALO), ring]
    if kind == "crossing":
        hairs = [((0.9 * x, 0.9 * y), (1.65 * x, 1.65 * y)) for x, y in ((1, 0), (0, 1), (-1, 0), (0, -1))]
        return [ring, *(_stroke(at_mm, hair, closed=False) for hair in hairs)]
    corners = {
        "gap": ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)),
        "branch": ((0.0, -1.15), (1.0, 0.75), (-1.0, 0.75)),
    }[kind]
    outline = _stroke(at_mm, corners, closed=True)
    return [replace(outline, pen=_HALO), outline]


def _stroke(at_mm: Spot, points: Sequence[Spot], *, closed: bool) -> Curve:
    """A line of a mark; points in its own size."""
    rows = _rows([(at_mm[0] + MARK_MM * x, at_mm[1] + MARK_MM * y) for x, y in points])
    return Curve(rows=rows, closed=closed, pen=_MARK)


def axes_cross(at_mm: Spot) -> list[Shape]:
    """The drawing's zero point: arms along x and y with arrow heads."""
    x, y = at_mm
    arms = [[(x - 3, y), (x + _ARM_MM, y)], [(x, y + 3), (x, y - _ARM_MM)]]
    heads = [
        [(x + _ARM_MM - _TIP_MM, y - 0.9), (x + _ARM_MM, y), (x + _ARM_MM - _TIP_MM, y + 0.9)],
        [(x - 0.9, y - _ARM_MM + _TIP_MM), (x, y - _ARM_MM), (x + 0.9, y - _ARM_MM + _TIP_MM)],
    ]
    lines: list[Shape] = [Curve(rows=_rows(points), closed=False, pen=_AXES) for points in (*arms, *heads)]
    return [
        *lines,
        Label(at_mm=(x + _ARM_MM - 0.6, y - 1.5), text="x", size_mm=TEXT_MM, color=GREY),
        Label(at_mm=(x + 1.4, y - _ARM_MM + 1.6), text="y", size_mm=TEXT_MM, color=GREY),
    ]


def legend(
    entries: Sequence[Entry], left_mm: float, top_mm: float, width_mm: float
) -> tuple[list[Shape], float]:
    """Samples with their texts, row by row.

    Args:
        entries: What to explain.
        left_mm: Left edge on the page.
        top_mm: Upper edge on the page.
        width_mm: Width that rows may take.

    Returns:
        The shapes, and the height they take.
    """
    shapes: list[Shape] = []
    x, y = left_mm, top_mm + LINE_MM / 2
    for entry in entries:
        text = cut_text(entry.text, TEXT_MM, width_mm - _SWATCH_MM)
        wide = _SWATCH_MM + text_width_mm(text, TEXT_MM)
        if x > left_mm and x + wide > left_mm + width_mm:
            x, y = left_mm, y + LINE_MM
        shapes += _sample(entry.sample, x, y)
        shapes.append(Label(at_mm=(x + _SWATCH_MM, y + 0.35 * TEXT_MM), text=text, size_mm=TEXT_MM))
        x += wide + _GAP_MM
    return shapes, y + LINE_MM / 2 - top_mm


def _sample(sample: Pen | str, x: float, y: float) -> list[Shape]:
    if isinstance(sample, str):
        return mark(sample, (x + 3.8, y))
    return [Curve(rows=_rows([(x, y), (x + 7.5, y)]), closed=False, pen=sample)]


def scale_bar(
    page_mm_per_mm: float, left_mm: float, base_mm: float, most_mm: float, units: Units = "mm"
) -> list[Shape]:
    """A bar of a round length with its length written above it.

    Args:
        page_mm_per_mm: Length on the page of one mm of the drawing.
        left_mm: Left end on the page.
        base_mm: Height of the bar on the page.
        most_mm: Longest that the bar may be on the page.
        units: Unit that its length is round in.
    """
    unit_mm = 25.4 if units == "in" else 1.0
    length = round_length_mm(most_mm / page_mm_per_mm / unit_mm)
    wide = length * unit_mm * page_mm_per_mm
    pen = Pen(color=BLACK, width_mm=0.4)
    ticks = [[(left_mm + s * wide, base_mm), (left_mm + s * wide, base_mm - 1.6)] for s in (0.0, 0.5, 1.0)]
    lines = [[(left_mm, base_mm), (left_mm + wide, base_mm)], *ticks]
    bar: list[Shape] = [Curve(rows=_rows(points), closed=False, pen=pen) for points in lines]
    text = f"{length:.10f}".rstrip("0").rstrip(".")
    return [*bar, Label(at_mm=(left_mm, base_mm - 2.6), text=f"{text} {units}", size_mm=TEXT_MM)]


def round_length_mm(most_mm: float) -> float:
    """The longest of 1, 2 or 5 times a power of ten that is not above a length."""
    power = 10.0 ** math.floor(math.log10(most_mm))
    fitting = [number * power for number in (*_ROUND, 10.0) if number * power <= most_mm * (1 + 1e-9)]
    return fitting[-1] if fitting else power / 2


def _rows(points: Sequence[Spot]) -> FloatArray:
    return np.array([(x, y, 0.0) for x, y in points])
