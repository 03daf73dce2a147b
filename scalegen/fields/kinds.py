"""Kinds of values that fields can take: how each is read, and what to give."""

import math
import re
from collections.abc import Callable, Hashable, Sequence
from typing import Any

from scalegen.errors import Fault
from scalegen.fields.place import Place, Refused
from scalegen.fields.table import Kind, Table, read_table
from scalegen.fields.words import describe, listed, quoted, suggest
from scalegen.units import InputError, LengthError, parse_angle, parse_length

_LARGEST: float = 1e9
_LARGEST_BULGE: float = 1000.0


def length(
    *,
    above: float | None = None,
    minimum: float | None = None,
    maximum: float | None = None,
    word: str | None = None,
) -> Kind:
    """A length in mm within limits in mm; ``word`` is a text that stands for None, such as "stack"."""
    other = f', or "{word}"' if word is not None else ""

    def parse(value: object, place: Place) -> float | None:
        if word is not None and value == word:
            return None
        try:
            return parse_length(value, place.units, above=above, minimum=minimum, maximum=maximum)
        except LengthError as error:
            hint = error.hint
            if isinstance(value, bool):
                hint = f"{describe(value)} (yes or no) is an answer, not a number"
            elif word is not None and isinstance(value, str):
                hint = suggest(value, [word]) or hint
            raise LengthError(error.found, error.allowed + other, hint) from None

    return Kind(parse=parse, allowed=f'give a length, such as 3.2, "3.2 mm" or "1/8in"{other}', suffix="_mm")


def angle(above_deg: float, below_deg: float) -> Kind:
    """An angle typed in degrees, strictly between two limits, in radians."""
    return Kind(
        parse=lambda value, _: parse_angle(value, above_deg=above_deg, below_deg=below_deg),
        allowed=f"give an angle above {above_deg:g} and below {below_deg:g} degrees",
        suffix="_rad",
    )


def number(
    *, above: float | None = None, minimum: float | None = None, maximum: float | None = None, what: str = ""
) -> Kind:
    """A plain number, such as a density or a price; ``what`` says more about it for messages."""
    ways = (("above", above), ("at least", minimum), ("at most", maximum))
    limits = " and ".join(f"{way} {limit:g}" for way, limit in ways if limit is not None)
    allowed = f"give {what or 'a number'} {limits}".rstrip()

    def parse(value: object, _place: Place) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"{describe(value)} is not a number", allowed, _unquote(value))
        low = (above is not None and not value > above) or (minimum is not None and not value >= minimum)
        if low or not abs(value) <= _LARGEST or (maximum is not None and value > maximum):
            raise InputError(f"{describe(value)} is out of range", allowed)
        return float(value)

    return Kind(parse=parse, allowed=allowed)


def whole(minimum: int, maximum: int) -> Kind:
    """A whole number between two limits, both allowed."""
    allowed = f"give a whole number from {minimum} to {maximum}"

    def parse(value: object, _place: Place) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise InputError(f"{describe(value)} is not a whole number", allowed, _unquote(value))
        if not minimum <= value <= maximum:
            raise InputError(f"{describe(value)} is out of range", allowed)
        return value

    return Kind(parse=parse, allowed=allowed)


def yes_no() -> Kind:
    """True or false."""
    allowed = "give true or false, without quotes"

    def parse(value: object, _place: Place) -> bool:
        if not isinstance(value, bool):
            raise InputError(f"{describe(value)} is neither", allowed)
        return value

    return Kind(parse=parse, allowed=allowed)


def text(longest: int, *, what: str = "text", exact: bool = False) -> Kind:
    """One line of text; blanks around it are taken off, or refused when it is ``exact``."""
    allowed = f"give {what} of 1 to {longest} letters on one line"
    allowed += ", without blanks around it" if exact else ""

    def parse(value: object, _place: Place) -> str:
        if not isinstance(value, str):
            raise InputError(f"{describe(value)} is not text", allowed, "text goes in quotes")
        inner = value.strip()
        if not inner:
            raise InputError("there is nothing in the quotes", allowed)
        if len(inner) > longest or not value.isprintable() or (exact and inner != value):
            raise InputError(f"{describe(value)} will not do", allowed)
        return inner

    return Kind(parse=parse, allowed=allowed)


def spelt(form: str, longest: int, what: str, hint: str = "") -> Kind:
    """Text that must match the pattern ``form`` as a whole; ``what`` says so in words."""
    allowed = f"give {what}"

    def parse(value: object, _place: Place) -> str:
        if not isinstance(value, str):
            raise InputError(f"{describe(value)} is not text", allowed, "text goes in quotes")
        if len(value) > longest or not re.fullmatch(form, value):
            raise InputError(f"{describe(value)} will not do", allowed, hint)
        return value

    return Kind(parse=parse, allowed=allowed)


def choice(words: Sequence[str]) -> Kind:
    """One word out of a few."""
    allowed = f"give {quoted(words)}"

    def parse(value: object, _place: Place) -> str:
        if isinstance(value, str) and value in words:
            return value
        hint = suggest(value, words) if isinstance(value, str) else ""
        raise InputError(f"{describe(value)} is not known here", allowed, hint)

    return Kind(parse=parse, allowed=allowed)


def row(parts: Sequence[Kind], what: str, *, least: int = 0) -> Kind:
    """A list with one entry of each kind, such as a point; the last few may be left out down to ``least``."""
    allowed = f"give {what}"

    def parse(value: object, place: Place) -> tuple[Any, ...]:
        if not isinstance(value, list) or not (least or len(parts)) <= len(value) <= len(parts):
            raise InputError(f"{describe(value)} will not do", allowed)
        return _each(value, parts, place)

    return Kind(parse=parse, allowed=allowed, suffix=parts[0].suffix)


def many(
    part: Kind,
    what: str,
    *,
    alone: bool = False,
    numbered: bool = True,
    once: str = "",
    same: Callable[[Any], Hashable] = lambda item: item,
) -> Kind:
    """A list that is not empty.

    Args:
        part: Kind of the entries.
        what: What to give, for messages.
        alone: One entry may stand without brackets.
        numbered: Faults name the entry by its number; otherwise the whole list, which then is short.
        once: What to do when an entry is there twice; empty when that is allowed.
        same: What tells two entries apart.
    """
    allowed = f"give {what}"

    def parse(value: object, place: Place) -> tuple[Any, ...]:
        if alone and not isinstance(value, list):
            return (part.read(value, place),)
        if not isinstance(value, list):
            hint = f"put it in brackets: [{describe(value)}]" if isinstance(value, str) else ""
            raise InputError(f"{describe(value)} is not a list", allowed, hint)
        if not value:
            raise InputError("an empty list will not do", allowed)
        found = _each(value, [part] * len(value), place, numbered=numbered)
        first: dict[Hashable, int] = {}
        faults = []
        for count, key in enumerate(map(same, found), start=1):
            if once and key in first:
                where = place.item(count) if numbered else place
                words = f"{describe(value[count - 1])} is there twice, as entries {first[key]} and {count}"
                faults.append(where.fault(words, once))
            first.setdefault(key, count)
        if faults:
            raise Refused(*faults)
        return found

    return Kind(parse=parse, allowed=allowed, suffix=part.suffix)


def curve() -> Kind:
    """A closed outline typed as rows [x, y] or [x, y, bulge]; bulges of 0 are filled in."""
    what = "the bulge of an arc, tan(angle / 4),"
    bulge = number(minimum=-_LARGEST_BULGE, maximum=_LARGEST_BULGE, what=what)
    each = row((length(), length(), bulge), "a row [x, y] or [x, y, bulge]", least=2)
    listed_rows = many(each, "a list of rows [x, y] or [x, y, bulge]")

    def parse(value: object, place: Place) -> tuple[tuple[float, float, float], ...]:
        return tuple((*found, 0.0)[:3] for found in listed_rows.parse(value, place))

    return Kind(parse=parse, allowed=listed_rows.allowed)


def section(name: str, table: Table, *, like: str = "") -> Kind:
    """A table of its own, ``[name]``; a small one that goes on one line shows ``like`` what."""
    allowed = (
        f"write {name} = {like}" if like else f"start it with [{name}]; it holds {listed(table.by_name)}"
    )

    def parse(value: object, place: Place) -> Any:  # noqa: ANN401 - a mapping of whatever the fields hold
        if not isinstance(value, dict):
            raise InputError(f"{describe(value)} will not do", allowed)
        return read_table(value, table, place)

    return Kind(parse=parse, allowed=allowed, table=table)


def sections(name: str, table: Table) -> Kind:
    """A list of tables, each under its own ``[[name]]``; none at all is allowed."""
    entry = Kind(parse=lambda value, place: read_table(value, table, place), allowed="")

    def parse(value: object, place: Place) -> tuple[Any, ...]:
        items = rows(name).read(value, place)
        return _each(items, [entry] * len(items), place)

    return Kind(parse=parse, allowed=rows(name).allowed, table=table, many=True)


def rows(name: str) -> Kind:
    """A list of what stands under each ``[[name]]``, as it is."""
    allowed = f"start each row with [[{name}]]"

    def parse(value: object, _place: Place) -> list[object]:
        if not isinstance(value, list):
            hint = "two brackets on each side, not one" if isinstance(value, dict) else ""
            raise InputError(f"{describe(value)} where rows belong", allowed, hint)
        return value

    return Kind(parse=parse, allowed=allowed)


def _each(
    items: Sequence[object], parts: Sequence[Kind], place: Place, *, numbered: bool = True
) -> tuple[Any, ...]:
    """Every item through its kind, with the faults of all of them."""
    faults: list[Fault] = []
    values = []
    for count, (item, part) in enumerate(zip(items, parts, strict=False), start=1):
        try:
            values.append(part.read(item, place.item(count) if numbered else place))
        except Refused as refusal:
            faults.extend(refusal.faults)
    if faults:
        raise Refused(*faults)
    return tuple(values)


def _unquote(value: object) -> str:
    """What to do about a number in quotes."""
    if not isinstance(value, str):
        return ""
    try:
        return "leave out the quotes" if math.isfinite(float(value)) else ""
    except ValueError:
        return ""
