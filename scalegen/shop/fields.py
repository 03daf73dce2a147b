"""Kinds of fields that a table row can have: what each is called, how it is read, what is allowed."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import partial
from typing import Any, Final

from scalegen.model import Units
from scalegen.units import InputError, describe, parse_length

_LONGEST_NAME: Final = 60
_LONGEST_TEXT: Final = 300


class CellError(InputError):
    """A cell of a table cannot be used, and it is not a length."""


class _Needed:
    """Marks a field that has no default."""


NEEDED: Final = _Needed()


@dataclass(frozen=True, kw_only=True)
class Field:
    """One field of a row.

    Attributes:
        key: What it is called in the file.
        name: What it is called in the record.
        parse: Turns the cell into the record's value; raises :class:`InputError`.
        allowed: What to give when the field is missing.
        default: Value when the field is missing, or ``NEEDED``.
    """

    key: str
    name: str
    parse: Callable[[object, Units], Any]
    allowed: str
    default: Any = NEEDED


def suggest(word: str, known: Sequence[str]) -> str:
    """A question naming the known word that was probably meant, or nothing.

    Args:
        word: What was typed.
        known: What is known.

    Returns:
        Such as ``did you mean "thickness"?``, or an empty text.
    """
    near = get_close_matches(word, known, n=1)
    return f'did you mean "{near[0]}"?' if near else ""


def length(
    key: str,
    *,
    above: float | None = None,
    minimum: float | None = None,
    maximum: float | None = None,
    default: Any = NEEDED,  # noqa: ANN401 - whatever the record holds
) -> Field:
    """A length; its record name is ``<key>_mm``. The limits are in mm."""
    parse = partial(_length, above=above, minimum=minimum, maximum=maximum)
    allowed = 'give a length such as 6, "6 mm" or "1/4in"'
    return Field(key=key, name=f"{key}_mm", parse=parse, allowed=allowed, default=default)


def number(
    key: str,
    *,
    name: str = "",
    above: float | None = None,
    minimum: float | None = None,
    maximum: float | None = None,
    default: Any = NEEDED,  # noqa: ANN401 - whatever the record holds
) -> Field:
    """A plain number, such as a density or a price."""
    ways = (("above", above), ("at least", minimum), ("at most", maximum))
    limits = " and ".join(f"{word} {limit:g}" for word, limit in ways if limit is not None)
    allowed = f"give a number {limits}".rstrip()
    parse = partial(_number, above=above, minimum=minimum, maximum=maximum, allowed=allowed)
    return Field(key=key, name=name or key, parse=parse, allowed=allowed, default=default)


def count(key: str, *, minimum: int, maximum: int) -> Field:
    """A whole number."""
    allowed = f"give a whole number from {minimum} to {maximum}"
    return Field(
        key=key, name=key, parse=partial(_count, low=minimum, high=maximum, allowed=allowed), allowed=allowed
    )


def title(key: str) -> Field:
    """A name that files and papers will show: one line, no blanks around it."""
    allowed = f"give a name of 1 to {_LONGEST_NAME} letters on one line, without blanks around it"
    parse = partial(_text, longest=_LONGEST_NAME, allowed=allowed)
    return Field(key=key, name=key, parse=parse, allowed=allowed)


def remark(key: str) -> Field:
    """Free text on one line; empty when missing."""
    allowed = f"give text of 1 to {_LONGEST_TEXT} letters on one line, or leave it out"
    parse = partial(_text, longest=_LONGEST_TEXT, allowed=allowed)
    return Field(key=key, name=key, parse=parse, allowed=allowed, default="")


def choice(key: str, words: Sequence[str]) -> Field:
    """One of a few words."""
    allowed = "give one of " + ", ".join(f'"{word}"' for word in words)
    return Field(
        key=key, name=key, parse=partial(_choice, words=tuple(words), allowed=allowed), allowed=allowed
    )


def names(key: str, words: Sequence[str] = ()) -> Field:
    """A list of names, none twice unless ``words`` is empty; only these ``words`` when there are any."""
    allowed = 'give a list of names, such as ["one", "two"]'
    if words:
        allowed = "give a list of some of " + ", ".join(f'"{word}"' for word in words)
    return Field(
        key=key, name=key, parse=partial(_names, words=tuple(words), allowed=allowed), allowed=allowed
    )


def color(key: str) -> Field:
    """A colour as ``#rrggbb``."""
    allowed = 'give a colour as "#rrggbb", such as "#c0a060"'
    return Field(
        key=key, name=key, parse=partial(_spelt, form=r"#[0-9a-fA-F]{6}", allowed=allowed), allowed=allowed
    )


def currency(key: str) -> Field:
    """A currency by its three letters."""
    allowed = 'give three capital letters, such as "EUR"'
    return Field(key=key, name=key, parse=partial(_spelt, form=r"[A-Z]{3}", allowed=allowed), allowed=allowed)


def _length(
    value: object, units: Units, *, above: float | None, minimum: float | None, maximum: float | None
) -> float:
    return parse_length(value, units, above=above, minimum=minimum, maximum=maximum)


def _number(
    value: object,
    _units: Units,
    *,
    above: float | None,
    minimum: float | None,
    maximum: float | None,
    allowed: str,
) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise CellError(f"{describe(value)} is not a number", allowed)
    low = (above is not None and not value > above) or (minimum is not None and not value >= minimum)
    high = not abs(value) <= 1e9 or (maximum is not None and value > maximum)
    if low or high:
        raise CellError(f"{describe(value)} is out of range", allowed)
    return float(value)


def _count(value: object, _units: Units, *, low: int, high: int, allowed: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise CellError(f"{describe(value)} will not do", allowed)
    return int(value)


def _text(value: object, _units: Units, *, longest: int, allowed: str) -> str:
    if not isinstance(value, str):
        raise CellError(f"{describe(value)} is not text", allowed)
    if not 1 <= len(value) <= longest or value != value.strip() or not value.isprintable():
        raise CellError(f"{describe(value)} will not do", allowed)
    return str(value)


def _choice(value: object, _units: Units, *, words: tuple[str, ...], allowed: str) -> str:
    if not isinstance(value, str) or value not in words:
        hint = suggest(value, words) if isinstance(value, str) else ""
        raise CellError(f"{describe(value)} is not known here", allowed, hint)
    return str(value)


def _names(value: object, units: Units, *, words: tuple[str, ...], allowed: str) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not value:
        raise CellError(f"{'an empty list' if value == [] else describe(value)} will not do", allowed)
    if words:
        chosen = tuple(_choice(item, units, words=words, allowed=allowed) for item in value)
        if len(set(chosen)) < len(chosen):
            raise CellError("a name is there twice", allowed)
        return chosen
    return tuple(_text(item, units, longest=_LONGEST_NAME, allowed=allowed) for item in value)


def _spelt(value: object, _units: Units, *, form: str, allowed: str) -> str:
    if not isinstance(value, str) or not re.fullmatch(form, value):
        raise CellError(f"{describe(value)} will not do", allowed)
    return str(value)
