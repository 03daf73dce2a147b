"""What a picture is made of: a page of curves, discs and labels, in no file format yet.

Places are in mm on the page, from its upper left corner, x to the right and y down. Bulges are meant in
these axes: tan(theta / 4), positive where the arc turns from x towards y.
"""

import math
from dataclasses import dataclass
from typing import Literal
from unicodedata import east_asian_width

from scalegen.outline.ring import FloatArray

Anchor = Literal["start", "middle", "end"]
Spot = tuple[float, float]

BLACK, GREY, PALE, WHITE, RED = "#111111", "#767676", "#f0f0f0", "#ffffff", "#c0271b"

_WIDE_SIGN, _SIGN = 1.0, 0.58


@dataclass(frozen=True, kw_only=True)
class Pen:
    """How a line is drawn: ``dash_mm`` is drawn and left out by turns, empty for a solid line."""

    color: str = BLACK
    width_mm: float = 0.25
    dash_mm: tuple[float, float] | tuple[()] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """A chain of lines and arcs.

    Attributes:
        rows: float64 (n, 3) x, y, bulge on the page, n >= 2; of an open one the last bulge says nothing.
        closed: Whether the last row leads back to the first.
        pen: How it is drawn; None draws no line.
        fill: "#rrggbb" of what it encloses, or nothing.
    """

    rows: FloatArray
    closed: bool
    pen: Pen | None
    fill: str = ""


@dataclass(frozen=True, kw_only=True)
class Disc:
    """A full circle of ``radius_mm`` around ``at_mm``."""

    at_mm: Spot
    radius_mm: float
    pen: Pen | None
    fill: str = ""


@dataclass(frozen=True, kw_only=True)
class Label:
    """A line of text: ``at_mm`` is on its base line, ``size_mm`` the height of its em square."""

    at_mm: Spot
    text: str
    size_mm: float
    anchor: Anchor = "start"
    color: str = BLACK
    bold: bool = False


Shape = Curve | Disc | Label


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """A page.

    Attributes:
        width_mm: Size of the page.
        height_mm: Size of the page.
        window_mm: Left, top, right and bottom of the part that ``drawn`` is cut off at.
        drawn: What lies in the window, undermost first.
        over: What lies on top, anywhere on the page.
    """

    width_mm: float
    height_mm: float
    window_mm: tuple[float, float, float, float]
    drawn: tuple[Shape, ...]
    over: tuple[Shape, ...]


def text_width_mm(text: str, size_mm: float) -> float:
    """About how wide a text is in a plain sans-serif face, rather too wide than too narrow."""
    signs = sum(_WIDE_SIGN if east_asian_width(sign) in "WF" else _SIGN for sign in text)
    return signs * size_mm


def cut_text(text: str, size_mm: float, width_mm: float) -> str:
    """A text that fits into a width, its middle left out where it does not."""
    if text_width_mm(text, size_mm) <= width_mm:
        return text
    keep = max(2, math.floor(width_mm / (_SIGN * size_mm)) - 1)
    cut = _without_middle(text, keep)
    while keep > 2 and text_width_mm(cut, size_mm) > width_mm:
        keep -= 1
        cut = _without_middle(text, keep)
    return cut


def _without_middle(text: str, keep: int) -> str:
    """The ends of a text, so many signs together, at least 2."""
    return f"{text[: keep - keep // 2]}…{text[-(keep // 2) :]}"
