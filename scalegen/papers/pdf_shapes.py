"""Pictures drawn into a PDF: every place in points, every arc as Bézier curves, the same font everywhere."""

import unicodedata
from collections.abc import Callable, Sequence
from functools import singledispatch
from pathlib import Path

import numpy as np
import reportlab
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from scalegen.outline.ring import FloatArray
from scalegen.papers.bezier import arc_curves
from scalegen.report.picture_shapes import Curve, Disc, Label, Pen, Picture, Shape

PT_PER_MM = 72 / 25.4
REGULAR, BOLD = "Vera", "VeraBd"
"""The free fonts that come with the PDF library; the signs that are used are embedded."""

Point = Sequence[float] | FloatArray
Place = Callable[[Point], tuple[float, float]]


def load_fonts() -> None:
    """Make the fonts known to the PDF library."""
    folder = Path(reportlab.__file__).parent / "fonts"
    for name in (REGULAR, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))


def shown(text: str) -> str:
    """A text in signs that the fonts have: accents are dropped before a sign becomes a question mark."""
    return "".join(map(_sign, text))


def _sign(sign: str) -> str:
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    if ord(sign) in known and sign.isprintable():
        return sign
    plain = "".join(part for part in unicodedata.normalize("NFKD", sign) if ord(part) in known)
    return plain if plain.isprintable() and plain else "?"


def text_wide_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """How wide a text comes out."""
    return float(pdfmetrics.stringWidth(shown(text), BOLD if bold else REGULAR, size_mm))


def draw_picture(canvas: Canvas, picture: Picture, left_mm: float, bottom_mm: float) -> None:
    """Draw a picture at its size.

    Args:
        canvas: Page of the PDF library.
        picture: What to draw.
        left_mm: Where its left edge lies on the page.
        bottom_mm: Where its lower edge lies, from the foot of the page.
    """

    def place(spot: Point) -> tuple[float, float]:
        return (
            (left_mm + float(spot[0])) * PT_PER_MM,
            (bottom_mm + picture.height_mm - float(spot[1])) * PT_PER_MM,
        )

    left, top, right, bottom = picture.window_mm
    canvas.saveState()
    clip = canvas.beginPath()
    x, y = place((left, bottom))
    clip.rect(x, y, (right - left) * PT_PER_MM, (bottom - top) * PT_PER_MM)
    canvas.clipPath(clip, stroke=0, fill=0)
    for shape in picture.drawn:
        _draw(shape, canvas, place)
    canvas.restoreState()
    canvas.saveState()
    for shape in picture.over:
        _draw(shape, canvas, place)
    canvas.restoreState()


@singledispatch
def _draw(shape: Shape, _canvas: Canvas, _place: Place) -> None:
    raise TypeError(shape)


@_draw.register
def _(shape: Curve, canvas: Canvas, place: Place) -> None:
    path, rows = canvas.beginPath(), shape.rows
    path.moveTo(*place(rows[0]))
    ends = np.roll(rows, -1, axis=0) if shape.closed else rows[1:]
    for start, end in zip(rows, ends, strict=False):
        if start[2] == 0:
            path.lineTo(*place(end))
            continue
        for first, second, last in arc_curves(start[:2], end[:2], float(start[2])):
            path.curveTo(*place(first), *place(second), *place(last))
    if shape.closed:
        path.close()
    canvas.drawPath(path, **_paint(canvas, shape.pen, shape.fill))


@_draw.register
def _(shape: Disc, canvas: Canvas, place: Place) -> None:
    (x, y), r = shape.at_mm, shape.radius_mm
    rows = np.array([(x - r, y, 1.0), (x + r, y, 1.0)])
    _draw(Curve(rows=rows, closed=True, pen=shape.pen, fill=shape.fill), canvas, place)


@_draw.register
def _(shape: Label, canvas: Canvas, place: Place) -> None:
    canvas.setFillColor(shape.color)
    canvas.setFont(BOLD if shape.bold else REGULAR, shape.size_mm * PT_PER_MM)
    write = {
        "start": canvas.drawString,
        "middle": canvas.drawCentredString,
        "end": canvas.drawRightString,
    }
    write[shape.anchor](*place(shape.at_mm), shown(shape.text))


def _paint(canvas: Canvas, pen: Pen | None, fill: str) -> dict[str, int]:
    """Set pen and fill; what of both is used."""
    canvas.setLineJoin(1)
    if fill:
        canvas.setFillColor(fill)
    if pen is not None:
        canvas.setStrokeColor(pen.color)
        canvas.setLineWidth(pen.width_mm * PT_PER_MM)
        canvas.setDash([length * PT_PER_MM for length in pen.dash_mm] or [])
    return {"stroke": int(pen is not None), "fill": int(bool(fill))}
