"""Values as SVG attributes spell them: numbers, lengths, transform lists and style declarations."""

import math
import re
from dataclasses import dataclass

import numpy as np

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.ring import FloatArray

MM_PER_UNIT = {
    "px": 25.4 / 96,
    "in": 25.4,
    "cm": 10.0,
    "mm": 1.0,
    "q": 0.25,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
}
"""Source: CSS Values and Units, absolute lengths (1in = 2.54cm = 96px = 72pt = 6pc, 1Q = 1cm / 40)."""

MM_PER_PX = MM_PER_UNIT["px"]

NUMBER = r"(?>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
"""Once found it is never given back in part, or 30 would do for the two numbers 3 and 0."""

_LARGEST = 1e9
_LENGTH = re.compile(rf"({NUMBER})\s*([A-Za-z%]*)")
_CALL = re.compile(r"[\s,]*([A-Za-z]+)\s*\(([^()]*)\)\s*")
_ARGUMENT = re.compile(rf"[\s,]*({NUMBER})([A-Za-z%]*)\s*")
_ANGLES = {"": math.pi / 180, "deg": math.pi / 180, "rad": 1.0, "grad": math.pi / 200, "turn": 2 * math.pi}
_MOST_CALLS = 1000


@dataclass(frozen=True, kw_only=True)
class Length:
    """A number and its unit in lower case; "" is user units, "%" a share."""

    value: float
    unit: str


def number(text: str) -> float:
    """A finite number of ordinary size.

    Raises:
        UnreadableError: It is not one.
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not abs(value) <= _LARGEST:
        raise UnreadableError(f"{text[:30]!r} is not a usable number")
    return value


def length(text: str) -> Length:
    """A length as written.

    Raises:
        UnreadableError: It is not one.
    """
    match = _LENGTH.fullmatch(text.strip())
    if match is None:
        raise UnreadableError(f"{text[:30]!r} is not a length")
    return Length(value=number(match[1]), unit=match[2].lower())


def user_length(text: str, whole: float | None) -> float:
    """A length in user units, of which one is a CSS pixel.

    Args:
        text: As written.
        whole: What 100 % is, None when it is not known.

    Raises:
        UnreadableError: It is no length, or depends on something that is not in the file.
    """
    found = length(text)
    if not found.unit:
        return found.value
    if found.unit == "%" and whole is not None:
        return found.value / 100 * whole
    if found.unit not in MM_PER_UNIT:
        raise UnreadableError(f"the length {text[:30]!r} depends on something that is not in the file")
    return found.value * MM_PER_UNIT[found.unit] / MM_PER_PX


# ----------------------------------------------------------------------------------------- transforms


def transform(text: str) -> FloatArray:
    """The map that a transform list stands for, the attribute's as well as the style's spelling.

    Args:
        text: Such as ``"translate(3 4) rotate(30deg)"``.

    Returns:
        float64 (3, 3), to be put before column vectors x, y, 1.

    Raises:
        UnreadableError: An unknown function, wrong arguments, or a flat map.
    """
    result = np.eye(3)
    if text.strip().lower() in {"", "none"}:
        return result
    at, count = 0, 0
    while at < len(text):
        match = _CALL.match(text, at)
        count += 1
        if match is None or count > _MOST_CALLS:
            raise UnreadableError(f"the transform {text[:60]!r} cannot be read")
        result = result @ _call(match[1], _arguments(match[2], match[1]))
        at = match.end()
    if not np.isfinite(result).all() or np.abs(result).max() > _LARGEST:
        raise UnreadableError("a transform with numbers beyond reason")
    return result


def _arguments(text: str, name: str) -> list[Length]:
    found, at = [], 0
    while at < len(text):
        match = _ARGUMENT.match(text, at)
        if match is None:
            raise UnreadableError(f"the transform {name}({text[:40]}) cannot be read")
        found.append(Length(value=number(match[1]), unit=match[2].lower()))
        at = match.end()
    return found


def _call(name: str, given: list[Length]) -> FloatArray:
    """One function of a transform list.

    Source: SVG 1.1, 7.6 (matrix, translate, scale, rotate, skewX, skewY); CSS Transforms 1 adds the
    single-axis forms, skew and units.
    """
    low, count = name.lower(), len(given)
    if low == "matrix" and count == 6:
        a, b, c, d, e, f = (_plain(item) for item in given)
        return np.array([[a, c, e], [b, d, f], [0, 0, 1]])
    if low in {"translate", "translatex", "translatey"} and count in ({1, 2} if low == "translate" else {1}):
        x, y = _distance(given[0]), _distance(given[1]) if count == 2 else 0.0
        return _moved(0.0, x) if low == "translatey" else _moved(x, y)
    if low in {"scale", "scalex", "scaley"} and count in ({1, 2} if low == "scale" else {1}):
        x = _plain(given[0])
        y = _plain(given[1]) if count == 2 else x
        return np.diag([1.0 if low == "scaley" else x, 1.0 if low == "scalex" else y, 1.0])
    if low == "rotate" and count in {1, 3}:
        turned = _turned(_angle(given[0]))
        if count == 1:
            return turned
        x, y = _distance(given[1]), _distance(given[2])
        return _moved(x, y) @ turned @ _moved(-x, -y)
    if low in {"skewx", "skewy", "skew"} and count in ({1, 2} if low == "skew" else {1}):
        first, second = math.tan(_angle(given[0])), math.tan(_angle(given[1])) if count == 2 else 0.0
        x, y = (0.0, first) if low == "skewy" else (first, second)
        return np.array([[1.0, x, 0.0], [y, 1.0, 0.0], [0.0, 0.0, 1.0]])
    raise UnreadableError(f"the transform {name[:20]}() with {count} numbers is not known")


def _moved(x: float, y: float) -> FloatArray:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])


def _turned(angle_rad: float) -> FloatArray:
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _plain(item: Length) -> float:
    if item.unit:
        raise UnreadableError(f"a transform cannot have the unit {item.unit[:10]!r} here")
    return item.value


def _distance(item: Length) -> float:
    return user_length(f"{item.value!r}{item.unit}", None)


def _angle(item: Length) -> float:
    if item.unit not in _ANGLES:
        raise UnreadableError(f"an angle cannot have the unit {item.unit[:10]!r}")
    return item.value * _ANGLES[item.unit]


def around_origin(matrix: FloatArray, text: str) -> FloatArray:
    """A transform taken about another origin than (0, 0).

    Args:
        matrix: (3, 3).
        text: The style's ``transform-origin``; two lengths.

    Raises:
        UnreadableError: It depends on the box of the shape.
    """
    words = text.split()
    if len(words) == 1 and words[0] not in {"left", "top"}:
        raise UnreadableError(f"the transform-origin {text[:30]!r} depends on the size of the shape")
    x, y = (0.0 if word in {"left", "top"} else user_length(word, None) for word in [*words, "0"][:2])
    return _moved(x, y) @ matrix @ _moved(-x, -y)


# ------------------------------------------------------------------------------------------------ style


def declarations(text: str) -> dict[str, str]:
    """Properties of a style attribute or of one rule; names in lower case."""
    found = {}
    for part in re.sub(r"/\*.*?(?:\*/|$)", " ", text, flags=re.DOTALL).split(";"):
        name, colon, value = part.partition(":")
        if colon:
            plain, mark, tail = value.rpartition("!")
            important = mark and tail.strip().lower() == "important"
            found[name.strip().lower()] = (plain if important else value).strip()
    return found
