"""A picture as a drawing that browsers and drawing programs open.

Source: W3C, Scalable Vector Graphics (SVG) 1.1, second edition, 8.3.8 for arcs (from memory).
"""

from collections.abc import Iterator
from functools import singledispatch
from html import escape

import numpy as np

from scalegen.report.picture_shapes import WHITE, Curve, Disc, Label, Pen, Picture

_FACE = "Helvetica, Arial, 'DejaVu Sans', sans-serif"


def picture_svg(picture: Picture) -> str:
    """Write a picture as SVG 1.1.

    Args:
        picture: The page.

    Returns:
        One document with its size in mm, without scripts or anything from outside; the same picture gives
        the same text on every machine.
    """
    width, height = _number(picture.width_mm), _number(picture.height_mm)
    left, top, right, bottom = picture.window_mm
    view = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    window = f'x="{_number(left)}" y="{_number(top)}"'
    window += f' width="{_number(right - left)}" height="{_number(bottom - top)}"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" {view}>',
        f'<clipPath id="window"><rect {window}/></clipPath>',
        f'<rect width="{width}" height="{height}" fill="{WHITE}"/>',
        f'<g font-family="{_FACE}" stroke-linejoin="round">',
        '<g clip-path="url(#window)">',
        *map(_element, picture.drawn),
        "</g>",
        *map(_element, picture.over),
        "</g>",
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


@singledispatch
def _element(shape: object) -> str:
    """One shape as an element."""
    raise TypeError(shape)


@_element.register
def _(shape: Curve) -> str:
    return f'<path d="{"".join(_path(shape))}"{_paint(shape.pen, shape.fill)}/>'


@_element.register
def _(shape: Disc) -> str:
    x, y = map(_number, shape.at_mm)
    return f'<circle cx="{x}" cy="{y}" r="{_number(shape.radius_mm)}"{_paint(shape.pen, shape.fill)}/>'


@_element.register
def _(shape: Label) -> str:
    x, y = map(_number, shape.at_mm)
    bold = ' font-weight="bold"' if shape.bold else ""
    anchor = "" if shape.anchor == "start" else f' text-anchor="{shape.anchor}"'
    text = escape(_clean(shape.text), quote=False)
    return (
        f'<text x="{x}" y="{y}" font-size="{_number(shape.size_mm)}"{bold}{anchor}'
        f' fill="{shape.color}">{text}</text>'
    )


def _path(curve: Curve) -> Iterator[str]:
    """The path data of a curve, piece by piece."""
    rows = curve.rows
    ends = np.roll(rows, -1, axis=0) if curve.closed else rows[1:]
    yield f"M{_number(rows[0, 0])} {_number(rows[0, 1])}"
    for start, end in zip(rows, ends, strict=False):
        bulge = float(start[2])
        place = f"{_number(end[0])} {_number(end[1])}"
        if bulge == 0:
            yield f"L{place}"
            continue
        chord = float(np.hypot(*(end[:2] - start[:2])))
        radius = _number(chord * (1 + bulge**2) / (4 * abs(bulge)))
        yield f"A{radius} {radius} 0 {int(abs(bulge) > 1)} {int(bulge > 0)} {place}"
    if curve.closed:
        yield "Z"


def _paint(pen: Pen | None, fill: str) -> str:
    """Attributes for line and fill."""
    painted = f' fill="{fill or "none"}"'
    if pen is None:
        return painted
    dash = f' stroke-dasharray="{" ".join(map(_number, pen.dash_mm))}"' if pen.dash_mm else ""
    return f'{painted} stroke="{pen.color}" stroke-width="{_number(pen.width_mm)}"{dash}'


def _number(value: float) -> str:
    """A length to a tenth of a micrometre, without zeros at its end."""
    text = f"{float(value):.4f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _clean(text: str) -> str:
    """A text without signs that XML does not allow."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
