"""How a view box is fitted into the place it has, and how large the whole drawing really is."""

import re
from dataclasses import dataclass

import numpy as np

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.ring import FloatArray
from scalegen.outline.svg_values import MM_PER_PX, MM_PER_UNIT, Length, length, number

_ALIGN = re.compile(r"x(Min|Mid|Max)Y(Min|Mid|Max)")
_LARGEST = 1e12
_SHARES = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


@dataclass(frozen=True, kw_only=True)
class ViewBox:
    """The part of the drawing, in its own units, that is shown."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, kw_only=True)
class Size:
    """The real size of the drawing.

    Attributes:
        matrix: mm, y up, from user units: float64 (3, 3); None when the file does not say.
        how: How the size is known, or what is missing.
        notes: What the user should know about it.
    """

    matrix: FloatArray | None
    how: str
    notes: tuple[str, ...] = ()


def view_box(values: dict[str, str]) -> ViewBox | None:
    """The view box of an element, None when it has none.

    Raises:
        UnreadableError: It is not four numbers, or has no width or height.
    """
    text = values.get("viewBox", "").strip()
    if not text or text == "none":
        return None
    words = [word for word in re.split(r"[\s,]+", text) if word]
    if len(words) != 4:
        raise UnreadableError(f"the viewBox {text[:40]!r} is not four numbers")
    x, y, width, height = (number(word) for word in words)
    if min(width, height) <= 0:
        raise UnreadableError(f"the viewBox {text[:40]!r} has no width or height")
    return ViewBox(x=x, y=y, width=width, height=height)


def fitted(box: ViewBox, width: float, height: float, ratio: str) -> FloatArray:
    """The map that puts a view box into a place at (0, 0).

    Args:
        box: The view box.
        width: Of the place.
        height: Of the place.
        ratio: The ``preserveAspectRatio`` attribute.

    Raises:
        UnreadableError: The place has no size, or the attribute cannot be read.

    Source: SVG 1.1, 7.8.
    """
    if not (width > 0 and height > 0):
        raise UnreadableError("it is shown in a place without width or height")
    sx, sy = width / box.width, height / box.height
    if not max(sx, sy, abs(box.x * sx), abs(box.y * sy)) <= _LARGEST:
        raise UnreadableError("the viewBox is beyond reason for the place it is shown in")
    words = [word for word in ratio.split() if word != "defer"] or ["xMidYMid"]
    if words[0] == "none":
        return np.array([[sx, 0, -box.x * sx], [0, sy, -box.y * sy], [0, 0, 1.0]])
    align = _ALIGN.fullmatch(words[0])
    if align is None or words[1:] not in (["meet"], ["slice"], []):
        raise UnreadableError(f"preserveAspectRatio {ratio[:40]!r} cannot be read")
    scale = max(sx, sy) if words[1:] == ["slice"] else min(sx, sy)
    x = (width - box.width * scale) * _SHARES[align[1]]
    y = (height - box.height * scale) * _SHARES[align[2]]
    return np.array([[scale, 0, x - box.x * scale], [0, scale, y - box.y * scale], [0, 0, 1.0]])


def size_of(values: dict[str, str]) -> Size:
    """The real size of a drawing by the attributes of its outermost element.

    Raises:
        UnreadableError: One of them cannot be read.
    """
    box = view_box(values)
    width, height = _absolute(values.get("width", "")), _absolute(values.get("height", ""))
    if width is None and height is None:
        shown = [f"{name} = {values[name][:20]!r}" for name in ("width", "height") if name in values]
        return Size(matrix=None, how=f"({', '.join(shown)})" if shown else "(no width, no height)")
    unit = next(item.unit for item in (width, height) if item is not None)
    notes = [_PIXELS] if unit == "px" else []
    flip = np.diag([1.0, -1.0, 1.0])
    if box is None:
        how = "width or height with a unit but no viewBox: 96 units per inch"
        return Size(matrix=flip @ np.diag([MM_PER_PX, MM_PER_PX, 1.0]), how=how, notes=(_PIXELS,))
    w, h = _mm(width), _mm(height)
    if w is None or h is None:
        missing = "width" if w is None else "height"
        notes.append(f"only one of width and height has a real size; the {missing} follows from the viewBox")
    w = w if w is not None else (h or 0.0) * box.width / box.height
    h = h if h is not None else w * box.height / box.width
    matrix = flip @ fitted(box, w, h, values.get("preserveAspectRatio", ""))
    x, y = abs(matrix[0, 0]), abs(matrix[1, 1])
    if abs(x - y) > 1e-9 * max(x, y):
        notes.append("the drawing is stretched: its units are not as long along x as along y")
        return Size(matrix=matrix, how=f"{x:.7g} mm per unit along x, {y:.7g} mm along y", notes=tuple(notes))
    return Size(matrix=matrix, how=f"width, height and viewBox: {x:.7g} mm per unit", notes=tuple(notes))


_PIXELS = (
    "one pixel was taken as 1/96 inch, as CSS has it; check the size, "
    "some programs write 72 or 90 to the inch"
)


def _absolute(text: str) -> Length | None:
    """A length with a real unit, None for anything else."""
    if text.strip() in {"", "auto"}:
        return None
    found = length(text)
    return found if found.unit in MM_PER_UNIT else None


def _mm(item: Length | None) -> float | None:
    return None if item is None else item.value * MM_PER_UNIT[item.unit]
