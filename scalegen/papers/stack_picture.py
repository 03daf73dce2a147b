"""The layer stack to scale: the blank as the pad keeps it, and beside it the scale as cut."""

from collections.abc import Sequence

import numpy as np

from scalegen.design import Scale
from scalegen.fields.words import printable
from scalegen.model import LayerKind, Units
from scalegen.papers.document import Drawing
from scalegen.papers.fitted import LEAST_TEXT_MM
from scalegen.report.picture_shapes import (
    BLACK,
    GREY,
    WHITE,
    Curve,
    Label,
    Pen,
    Picture,
    Shape,
    cut_text,
    text_width_mm,
)
from scalegen.report.picture_view import round_scale, scale_text
from scalegen.report.views import sizes_in

_WIDE_MM, _HIGH_MM = 180.0, 36.0
_PAD_X, _CUT_X, _BLOCK_MM, _TEXT_X = 22.0, 50.0, 25.0, 84.0
_TOP_MM, _FOOT_MM, _GAP_MM = 7.0, 3.0, 5.2
_FILLS: dict[LayerKind, str] = {"face": "#f0f0f0", "liner": "#b8b8b8", "spacer": "#dcdcdc", "bond": BLACK}
_LINE, _THIN = Pen(width_mm=0.4), Pen(color=GREY, width_mm=0.25)
_DASHED = Pen(width_mm=0.35, dash_mm=(1.6, 1.1))


def stack_picture(scale: Scale, units: Units, name: str = "") -> Drawing:
    """Draw the layers of a blank and of a scale cut from it.

    Args:
        scale: What is cut.
        units: Unit of its numbers.
        name: Whose scale it is, where there are several.

    Returns:
        A picture 180 mm wide whose heights are to scale, with the thickness of every layer.
    """
    stack, size = scale.stack, sizes_in(units)
    total = stack.used_mm
    zoom = round_scale(_HIGH_MM / total)
    base = _TOP_MM + total * zoom
    shapes: list[Shape] = [
        _label(_PAD_X + _BLOCK_MM / 2, _TOP_MM - 2.0, "pad", middle=True),
        _label(_CUT_X + _BLOCK_MM / 2, _TOP_MM - 2.0, "scale as cut", middle=True),
        *([_label(_TEXT_X, _TOP_MM - 2.0, name)] if name else []),
    ]
    top_cut = scale.back_allowance_mm + scale.thickness_mm
    bounds = np.concatenate([[0.0], np.cumsum([layer.thickness_mm for layer in stack.layers])])
    bounds[-1] = total
    texts, middles = [], []
    for layer, low, high in zip(stack.layers, bounds, bounds[1:], strict=False):
        fill = _FILLS[layer.kind]
        shapes.append(_box(_PAD_X, base - high * zoom, _PAD_X + _BLOCK_MM, base - low * zoom, fill))
        if low < top_cut:
            upper = base - min(float(high), top_cut) * zoom
            shapes.append(_box(_CUT_X, upper, _CUT_X + _BLOCK_MM, base - low * zoom, fill))
        left = min(float(high), top_cut) - max(float(low), scale.back_allowance_mm)
        texts.append(_layer_text(layer.kind, layer.name, size(float(high - low), 2), size(max(left, 0), 2)))
        middles.append(base - float(low + min(high, max(low, top_cut))) / 2 * zoom)
    shapes += _cut_lines(scale, base, zoom)
    shapes += _named(texts, middles)
    shapes += _heights(total, base, zoom, size(total, 2))
    height = base + _FOOT_MM + LEAST_TEXT_MM + 1.0
    shapes.append(
        _label(_PAD_X, height - 1.0, f"heights {scale_text(zoom)}; faces up, as the blank lies on the bed")
    )
    alt = f"layers from face to back: {'; '.join(reversed(texts))}; in all {size(total, 2)}"
    picture = Picture(
        width_mm=_WIDE_MM,
        height_mm=height,
        window_mm=(0.0, 0.0, _WIDE_MM, height),
        drawn=(),
        over=tuple(shapes),
    )
    return Drawing(picture=picture, alt=alt)


def _layer_text(kind: LayerKind, name: str, thick: str, left: str) -> str:
    if kind == "bond":
        return f"glue, {thick}"
    sizes = f": {thick}" + (f", finished {left}" if left != thick else "")
    room = _WIDE_MM - _TEXT_X - text_width_mm(sizes, LEAST_TEXT_MM)
    return cut_text(printable(name), LEAST_TEXT_MM, room) + sizes


def _cut_lines(scale: Scale, base: float, zoom: float) -> list[Shape]:
    """What is faced off above the scale, and where its back is flattened to."""
    shapes: list[Shape] = []
    left, right = _CUT_X, _CUT_X + _BLOCK_MM
    top_cut = scale.back_allowance_mm + scale.thickness_mm
    if scale.faced_off_mm > 0.0:
        upper, lower = base - scale.stack.used_mm * zoom, base - top_cut * zoom
        sides = [[(left, lower), (left, upper), (right, upper), (right, lower)]]
        shapes += [_line(points, _DASHED) for points in sides]
    if scale.back_allowance_mm > 0.0:
        y = base - scale.back_allowance_mm * zoom
        shapes.append(_line([(left - 3.0, y), (right + 3.0, y)], _DASHED))
    return shapes


def _heights(total: float, base: float, zoom: float, text: str) -> list[Shape]:
    """A dimension line at the pad's left."""
    x, top = _PAD_X - 4.0, base - total * zoom
    ticks = [[(x - 1.5, y), (_PAD_X - 0.5, y)] for y in (top, base)]
    shapes: list[Shape] = [_line(points, _THIN) for points in ([(x, top), (x, base)], *ticks)]
    number, unit = text.split(" ")
    y = (top + base) / 2
    return [
        *shapes,
        Label(at_mm=(x - 2.0, y), text=number, size_mm=5.2, anchor="end", bold=True),
        Label(at_mm=(x - 2.0, y + 5.0), text=unit, size_mm=LEAST_TEXT_MM, anchor="end"),
    ]


def _named(texts: Sequence[str], middles: Sequence[float]) -> list[Shape]:
    """The layers' names at the right, each with a line to its layer, none on another."""
    shapes: list[Shape] = []
    for text, wanted, y in zip(texts, middles, spread(middles, _GAP_MM), strict=True):
        right = _CUT_X + _BLOCK_MM
        shapes.append(_line([(right, wanted), (right + 4.0, wanted), (_TEXT_X - 1.5, y)], _THIN))
        shapes.append(_label(_TEXT_X, y + 0.35 * LEAST_TEXT_MM, text))
    return shapes


def spread(wanted: Sequence[float], gap: float) -> list[float]:
    """Places as near to those wanted as may be while neighbours, from the last one down, keep a gap.

    Args:
        wanted: Falling, as layers from the underside up on a page whose y goes down.
        gap: Least distance between neighbours.
    """
    places = list(wanted)
    for _ in range(len(places) * 20):
        moved = False
        for k in range(len(places) - 1):
            lack = gap - (places[k] - places[k + 1])
            if lack > 1e-6:
                places[k] += lack / 2
                places[k + 1] -= lack / 2
                moved = True
        if not moved:
            break
    return places


def _box(x0: float, y0: float, x1: float, y1: float, fill: str) -> Curve:
    rows = np.array([(x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0)])
    return Curve(rows=rows, closed=True, pen=_LINE, fill=fill or WHITE)


def _line(points: Sequence[tuple[float, float]], pen: Pen) -> Curve:
    return Curve(rows=np.array([(x, y, 0.0) for x, y in points]), closed=False, pen=pen)


def _label(x: float, y: float, text: str, *, middle: bool = False) -> Label:
    return Label(at_mm=(x, y), text=text, size_mm=LEAST_TEXT_MM, anchor="middle" if middle else "start")
