"""Parsers for single values: each turns raw TOML data into what a record holds, or refuses it."""

import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from scalegen.errors import Fault
from scalegen.pattern.schema import (
    Field,
    Parser,
    Place,
    Refused,
    Table,
    closest,
    describe,
    read_table,
)
from scalegen.shop.drills import find_drill
from scalegen.units import LengthError, parse_angle, parse_length

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")
_LONGEST_NAME = 60
_LONGEST_TEXT = 200
_LARGEST_BULGE = 1000.0
RIGHT_ANGLE_RAD = math.pi / 2


def length(*, above: float | None = None, minimum: float | None = None, word: str | None = None) -> Parser:
    """Parser of a length in mm; ``word`` is a text that stands for None, such as "stack"."""

    def parse(value: object, place: Place) -> float | None:
        if word is not None and value == word:
            return None
        allowed = length_words(above=above, minimum=minimum, word=word)
        meant = closest(value, [word]) if word is not None and isinstance(value, str) else ""
        if meant:
            raise place.refuse(value, allowed, f'did you mean "{meant}"?')
        return _measured(
            lambda: parse_length(value, place.units, above=above, minimum=minimum), value, place, allowed
        )

    return parse


def length_words(*, above: float | None = None, minimum: float | None = None, word: str | None = None) -> str:
    """What :func:`length` takes, in words."""
    limit = "" if above is None else f" above {above:g}"
    limit = limit if minimum is None else f" of {minimum:g} or more"
    return f'must be a length{limit}, such as 3.2 or "1/8in"' + (f', or "{word}"' if word else "")


def angle(above_deg: float, below_deg: float) -> Parser:
    """Parser of an angle in degrees, strictly between two limits, to radians."""
    allowed = angle_words(above_deg, below_deg)

    def parse(value: object, place: Place) -> float:
        return _measured(
            lambda: parse_angle(value, above_deg=above_deg, below_deg=below_deg), value, place, allowed
        )

    return parse


def angle_words(above_deg: float, below_deg: float) -> str:
    """What :func:`angle` takes, in words."""
    return f"must be an angle in degrees, above {above_deg:g} and below {below_deg:g}"


def _measured(take: Callable[[], float], value: object, place: Place, allowed: str) -> float:
    """Call a parser of the units room and turn its refusal into a fault here."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise place.refuse(value, allowed)
    try:
        return take()
    except LengthError as error:
        raise Refused(place.fault(error.found, error.allowed, error.hint)) from None


def choice(*words: str) -> Parser:
    """Parser of one word out of a few."""
    allowed = choice_words(*words)

    def parse(value: object, place: Place) -> str:
        if isinstance(value, str) and value in words:
            return value
        by_lower = {word.lower(): word for word in words}
        guess = closest(value, list(by_lower)) if isinstance(value, str) else ""
        raise place.refuse(value, allowed, f'did you mean "{by_lower[guess]}"?' if guess else "")

    return parse


def choice_words(*words: str) -> str:
    """What :func:`choice` takes, in words."""
    quoted = [f'"{word}"' for word in words]
    return f"must be {', '.join(quoted[:-1])} or {quoted[-1]}"


def text(value: object, place: Place) -> str:
    """One line of text that is not empty."""
    if isinstance(value, str) and value.strip() and value.isprintable() and len(value) <= _LONGEST_TEXT:
        return value.strip()
    raise place.refuse(value, f"must be one line of text, at most {_LONGEST_TEXT} characters")


def name(value: object, place: Place) -> str:
    """A name that can be part of a file name on every system."""
    if isinstance(value, str) and len(value) <= _LONGEST_NAME and _NAME.fullmatch(value):
        return value
    raise place.refuse(
        value,
        f'must be letters (a-z), digits, "-" and "_", starting with a letter or digit, '
        f"at most {_LONGEST_NAME} characters",
        "it goes into file names; use title for free text" if isinstance(value, str) else "",
    )


def whole(minimum: int, maximum: int) -> Parser:
    """Parser of a whole number between two limits, both allowed."""

    def parse(value: object, place: Place) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and minimum <= value <= maximum:
            return value
        raise place.refuse(value, f"must be a whole number from {minimum} to {maximum}")

    return parse


def pair(part: Parser, words: str) -> Parser:
    """Parser of two values, such as [x, y]; ``words`` names them."""

    def parse(value: object, place: Place) -> tuple[Any, Any]:
        if not isinstance(value, list) or len(value) != 2:
            raise place.refuse(value, f"must be {words}")
        first, second = _each(value, part, place)
        return first, second

    return parse


def many(part: Parser, words: str, *, alone: bool = False) -> Parser:
    """Parser of a list that is not empty; ``alone`` also takes one value without brackets."""

    def parse(value: object, place: Place) -> tuple[Any, ...]:
        if alone and not isinstance(value, list):
            return (part(value, place),)
        if not isinstance(value, list) or not value:
            raise place.refuse(value, f"must be {words}")
        return _each(value, part, place)

    return parse


def _each(items: Sequence[object], part: Parser, place: Place) -> tuple[Any, ...]:
    """Every item through one parser, with the faults of all of them."""
    faults: list[Fault] = []
    values = []
    for number, item in enumerate(items, start=1):
        try:
            values.append(part(item, place.item(number)))
        except Refused as refusal:
            faults.extend(refusal.faults)
    if faults:
        raise Refused(*faults)
    return tuple(values)


def distinct(part: Parser, hint: str) -> Parser:
    """Parser of a list by ``part`` in which nothing may stand twice."""

    def parse(value: object, place: Place) -> tuple[Any, ...]:
        found: tuple[Any, ...] = part(value, place)
        faults = [
            place.item(number).fault(f"{describe(str(item))} stands here twice", hint)
            for number, item in enumerate(found, start=1)
            if item in found[: number - 1]
        ]
        if faults:
            raise Refused(*faults)
        return found

    return parse


def drill(value: object, place: Place) -> str:
    """A drill by its designation; the designation as the tables spell it."""
    allowed = 'must be a drill, such as "#30", "F", "9/64in" or "3.3 mm"'
    if not isinstance(value, str):
        raise place.refuse(value, allowed)
    try:
        return find_drill(value).designation
    except LengthError as error:
        raise Refused(place.fault(error.found, error.allowed, error.hint)) from None


def file_beside(suffixes: Sequence[str], what: str) -> Parser:
    """Parser of a file name relative to the file it is written in; the file must be there.

    Args:
        suffixes: Endings that can be read, such as ".dxf".
        what: What the file is, for messages.
    """
    endings = " or ".join(suffixes)

    def parse(value: object, place: Place) -> Path:
        allowed = f"must be the name of {what}, ending in {endings}"
        if not isinstance(value, str) or not value or not value.isprintable():
            raise place.refuse(value, allowed)
        path = place.folder / value
        if path.suffix.lower() not in suffixes:
            raise place.refuse(value, allowed)
        try:
            there = path.is_file()
        except (OSError, ValueError):
            there = False
        if not there:
            raise place.refuse(value, f"there is no such file in {path.parent}", _neighbour(path))
        return path

    return parse


def folder_beside(value: object, place: Place) -> Path:
    """A folder name relative to the file it is written in; it need not be there yet."""
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise place.refuse(value, "must be the name of a folder")
    return place.folder / value


def _neighbour(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.suffix == path.suffix]
    except (OSError, ValueError):
        return "the folder is not there either"
    guess = closest(path.name, names)
    return f'did you mean "{guess}"?' if guess else "check the name; it is looked for beside this file"


def outline_row(value: object, place: Place) -> tuple[float, float, float]:
    """One row [x, y] or [x, y, bulge]; lengths in mm, the bulge without a unit."""
    allowed = "must be a row [x, y] or [x, y, bulge]"
    if not isinstance(value, list) or len(value) not in (2, 3):
        raise place.refuse(value, allowed)
    x, y = _each(value[:2], length(), place)
    bulge = value[2] if len(value) == 3 else 0.0
    if isinstance(bulge, bool) or not isinstance(bulge, (int, float)) or not _is_bulge(bulge):
        raise place.item(3).refuse(
            bulge, f"must be a bulge: tan(angle / 4), a number from -{_LARGEST_BULGE:g} to {_LARGEST_BULGE:g}"
        )
    return x, y, float(bulge)


def _is_bulge(value: float) -> bool:
    return abs(value) <= _LARGEST_BULGE and math.isfinite(value)


def subtable(
    key: str,
    table: Table,
    *,
    to: str = "",
    needed: bool = False,
) -> Field:
    """Field whose value is a table."""
    keys = ", ".join(table.by_name)
    return Field(
        name=key,
        parse=lambda value, place: read_table(value, table, place),
        to=to,
        needed=needed,
        allowed=f"must be a table [{key}] with keys {keys}",
        table=table,
    )


def subtables(key: str, table: Table, *, to: str = "") -> Field:
    """Field whose value is a list of tables, each under its own [[key]]; none at all is allowed."""

    def parse(value: object, place: Place) -> tuple[Any, ...]:
        if not isinstance(value, list):
            hint = f"write [[{key}]] with two brackets" if isinstance(value, dict) else ""
            raise place.refuse(value, f"must be tables under [[{key}]]", hint)
        return _each(value, lambda item, there: read_table(item, table, there), place)

    return Field(name=key, parse=parse, to=to, default=(), table=table, many=True)
