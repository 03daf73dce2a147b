"""Lengths and angles as people type them, turned into mm and radians; and lengths turned back into text."""

import json
import math
import re
from fractions import Fraction
from typing import Final

from scalegen.model import Lengths, Units

MM_PER_INCH: Final = Fraction(254, 10)
"""Exactly 25.4. Source: NBS Circular 572, addendum on the yard of 1959."""

LARGEST_MM: Final = 1e5

_PARTS: Final = 64
_LEAST_REST_IN: Final = 0.00005

_LENGTH_UNITS: Final[dict[str, Units]] = {"mm": "mm", "in": "in", '"': "in", "″": "in"}
_ANGLE_UNITS: Final = ("", "deg", "°")
_SLACK_MM: Final = 1e-9
_LONGEST_TEXT: Final = 60

_TAIL = re.compile(r"(?P<number>.*?)\s*(?P<unit>[^\W\d_]*|\"|''|″|”|°|%)", re.DOTALL)
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*(?:"
    r"(?P<decimal>(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
    r"|(?:(?P<whole>[0-9]+)(?:\s+|\s*-\s*))?(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)"
    r")"
)
_ALLOWED_LENGTH: Final = 'give a length such as 9.5, "9.5 mm", "0.375in" or "3/8in"'
_ALLOWED_ANGLE: Final = 'give an angle in degrees, such as 82 or "82 deg"'


class InputError(ValueError):
    """A single value cannot be used; the caller knows which field it stood in.

    Attributes:
        found: What is wrong with what was there.
        allowed: What may be there instead.
        hint: What was probably meant; may be empty.
    """

    def __init__(self, found: str, allowed: str = "", hint: str = "") -> None:
        text = f"{found}; {allowed}" if allowed else found
        super().__init__(f"{text} ({hint})" if hint else text)
        self.found = found
        self.allowed = allowed
        self.hint = hint


class LengthError(InputError):
    """A length, angle or size cannot be used."""


def describe(value: object) -> str:
    """A value as an error message shows it: short, on one line, never failing.

    Args:
        value: Anything a TOML file can hold.

    Returns:
        Such as ``"3,5"`` (quoted), ``true``, ``12.5``, ``an array`` or ``a table``.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = str(value) if len(value) <= _LONGEST_TEXT else f"{value[:_LONGEST_TEXT]}…"
        return json.dumps(text, ensure_ascii=False)
    if isinstance(value, int) and abs(value) > 10**15:
        return "a very large whole number"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, list | tuple):
        return "an array"
    if isinstance(value, dict):
        return "a table"
    return "nothing" if value is None else f"a {type(value).__name__}"


def split_unit(text: str) -> tuple[str, str]:
    """Part a typed quantity into its number and its unit.

    Args:
        text: Such as ``"3/16 in"``.

    Returns:
        Number and unit as typed, the unit in lower case; the unit is empty when there is none.
    """
    match = _TAIL.fullmatch(text.strip()) if len(text) <= _LONGEST_TEXT else None
    return (match["number"], match["unit"].lower()) if match else (text.strip(), "")


def parse_length(
    value: object,
    units: Units,
    *,
    minimum: float | None = None,
    above: float | None = None,
    maximum: float | None = None,
) -> float:
    """Read one length.

    Args:
        value: A number in ``units``, or text: decimal, fraction or whole number and fraction, with or
            without ``mm``, ``in`` or ``"``. Where ``units`` is mm, a fraction must state its unit.
        units: Unit of numbers and of text without a unit; limits are shown in it too.
        minimum: Smallest length allowed, mm.
        above: The length must be larger than this, mm.
        maximum: Largest length allowed, mm.

    Returns:
        The length in mm, rounded once only: ``"3/16in"`` is the float nearest to 4.7625.

    Raises:
        LengthError: Not a length, not finite, or outside the limits.
    """
    if isinstance(value, str):
        number, unit = split_unit(value)
        exact = _parse_number(value, number, unit in _LENGTH_UNITS or not unit, _ALLOWED_LENGTH)
        if not unit and units == "mm" and "/" in number:
            raise LengthError(
                f"{describe(value)} is a fraction without a unit",
                "fractions are mostly inches, but bare lengths are mm here",
                f'write "{number}in" or "{number} mm"',
            )
        unit_used = _LENGTH_UNITS.get(unit, units)
    else:
        exact = _exact(value, "a length", _ALLOWED_LENGTH)
        unit_used = units
    exact_mm = exact * MM_PER_INCH if unit_used == "in" else exact
    if abs(exact_mm) > LARGEST_MM:
        raise LengthError(
            f"{describe(value)} is too large",
            f"no length here goes beyond {LARGEST_MM / 1000:.0f} m",
            "is the unit right?",
        )
    length_mm = float(exact_mm)
    low = minimum is not None and length_mm < minimum - _SLACK_MM
    low = low or (above is not None and length_mm <= above)
    high = maximum is not None and length_mm > maximum + _SLACK_MM
    if low or high:
        limits = [
            f"{word} {format_length(limit, units)}"
            for word, limit in (("above", above), ("at least", minimum), ("at most", maximum))
            if limit is not None
        ]
        raise LengthError(
            f"{describe(value)} is too {'small' if low else 'large'}", f"it must be {' and '.join(limits)}"
        )
    return length_mm


def parse_angle(value: object, *, above_deg: float | None = None, below_deg: float | None = None) -> float:
    """Read one angle.

    Args:
        value: Degrees as a number, or text with or without ``deg`` or ``°``.
        above_deg: The angle must be larger than this, degrees.
        below_deg: The angle must be smaller than this, degrees.

    Returns:
        The angle in radians.

    Raises:
        LengthError: Not an angle, not finite, or outside the limits.
    """
    if isinstance(value, str):
        number, unit = split_unit(value)
        exact = _parse_number(value, number, unit in _ANGLE_UNITS, _ALLOWED_ANGLE)
    else:
        exact = _exact(value, "an angle", _ALLOWED_ANGLE)
    low = above_deg is not None and exact <= above_deg
    high = below_deg is not None and exact >= below_deg
    if low or high or abs(exact) > 360:
        limits = [f"above {above_deg:g}"] if above_deg is not None else ["at least -360"]
        limits += [f"below {below_deg:g}"] if below_deg is not None else ["at most 360"]
        raise LengthError(
            f"{describe(value)} is outside the range", f"it must be {' and '.join(limits)} degrees"
        )
    return math.radians(float(exact))


def format_length(mm: float, units: Lengths, digits: int | None = None) -> str:
    """Write a length with its unit.

    Args:
        mm: Length in mm.
        units: Unit to show it in, or "fraction" for :func:`format_fraction`.
        digits: Decimals, all of them shown; None shows up to 3 (mm) or 4 (in) and drops trailing zeros.
            Fractions have none.

    Returns:
        Such as ``"9.525 mm"``, ``"0.375 in"`` or ``"3/8 in"``.
    """
    if units == "fraction":
        return format_fraction(mm)
    number = mm / float(MM_PER_INCH) if units == "in" else mm
    if digits is None:
        text = f"{number:.{4 if units == 'in' else 3}f}".rstrip("0").rstrip(".")
    else:
        text = f"{number:.{digits}f}"
    if not text.strip("-0."):
        text = text.lstrip("-")
    return f"{text} {units}"


def format_fraction(mm: float) -> str:
    """Write a length in inches to the nearest 1/64, and how much more or less it is.

    Args:
        mm: Length in mm.

    Returns:
        Such as ``"1 3/8 in"``, or ``"15/64 in (+0.003)"`` for a length of 0.003 in more than that; a rest of
        less than 0.00005 in is left out. Half-way lengths go to the even number of 64ths.
    """
    count = round(Fraction(mm) / MM_PER_INCH * _PARTS)
    rest = float(Fraction(mm) / MM_PER_INCH - Fraction(count, _PARTS))
    whole, part = divmod(abs(count), _PARTS)
    fraction = Fraction(part, _PARTS)
    words = [str(whole)] if whole or not part else []
    words += [f"{fraction.numerator}/{fraction.denominator}"] if part else []
    text = f"{'-' if count < 0 else ''}{' '.join(words)} in"
    if abs(rest) < _LEAST_REST_IN:
        return text
    return f"{text} ({rest:+.{3 if abs(rest) >= 20 * _LEAST_REST_IN else 4}f})"


def unit_word(units: Lengths) -> Units:
    """The unit that lengths are shown in."""
    return "mm" if units == "mm" else "in"


def bare_length(mm: float, units: Lengths, digits: int | None = None) -> str:
    """As :func:`format_length`, without the unit, for columns whose heading has it."""
    return format_length(mm, units, digits).replace(f" {unit_word(units)}", "", 1)


def format_area(mm2: float, units: Lengths) -> str:
    """Write an area with its unit, for reading: no decimals in cm2, one in in2.

    Args:
        mm2: Area in mm2.
        units: Unit of lengths; areas are shown in cm2 or in2.

    Returns:
        Such as ``"210 cm2"`` or ``"32.6 in2"``; one digit more below 10.
    """
    unit, number, digits = ("cm2", mm2 / 100, 0) if units == "mm" else ("in2", mm2 / 25.4**2, 1)
    return f"{number:.{digits + (number < 10)}f} {unit}"


def _exact(value: object, what: str, allowed: str) -> Fraction:
    """A number as the exact fraction its decimals spell, so that converting it rounds only once."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise LengthError(f"{describe(value)} is not {what}", allowed)
    if isinstance(value, int):
        return Fraction(int(value))
    if not math.isfinite(value):
        raise LengthError(f"{describe(value)} is not a finite number", allowed)
    return Fraction(str(float(value)))


def _parse_number(value: str, number: str, unit_known: bool, allowed: str) -> Fraction:
    """The number part of a typed quantity; ``value`` is the whole of it, for the message."""
    what = "an angle" if allowed == _ALLOWED_ANGLE else "a length"
    if not value.strip():
        raise LengthError("there is nothing here", allowed)
    match = _NUMBER.fullmatch(number) if len(value) <= _LONGEST_TEXT else None
    if match is None:
        comma = re.fullmatch(r"[+-]?\s*[0-9]*,[0-9]+", number)
        raise LengthError(
            f"{describe(value)} is not {what}", allowed, "use a point, not a comma" if comma else ""
        )
    if not unit_known:
        raise LengthError(f"{describe(value)} has a unit that is not known here", allowed)
    sign = -1 if match["sign"] == "-" else 1
    if match["decimal"]:
        return sign * Fraction(match["decimal"])
    top, bottom = int(match["top"]), int(match["bottom"])
    if bottom == 0:
        raise LengthError(f"{describe(value)} divides by zero", allowed)
    if match["whole"] and top >= bottom:
        raise LengthError(f"{describe(value)} has a fraction of one or more after the whole number", allowed)
    return sign * (int(match["whole"] or 0) + Fraction(top, bottom))
