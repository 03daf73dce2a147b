"""Words for messages: values and keys as a reader sees them, and the word that was probably meant."""

import datetime as dt
import json
import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from typing import Final

from scalegen import units

_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]{1,40}")
_LONGEST_SHOWN: Final = 40


def describe(value: object) -> str:
    """A value on one short line.

    Args:
        value: Anything a TOML file can hold.

    Returns:
        Such as ``"3,5"`` (quoted), ``12.5``, ``a list of 3 entries`` or ``a table``.
    """
    if isinstance(value, list | tuple):
        some = "1 entry" if len(value) == 1 else f"{len(value)} entries"
        return f"a list of {some}" if value else "an empty list"
    if isinstance(value, dt.date | dt.time):
        return f"{value.isoformat()} (a date or time)"
    return units.describe(value)


def show_key(name: str) -> str:
    """A key as it goes into a field path: quoted and cut when it is not a plain word."""
    if _BARE_KEY.fullmatch(name):
        return name
    return json.dumps(name if len(name) <= _LONGEST_SHOWN else f"{name[:_LONGEST_SHOWN]}...")


def printable(text: str) -> str:
    """The same text with every sign that would not show, or would break the line, spelt out."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


def closest(word: str, known: Iterable[str]) -> str:
    """The one of the known words that was probably meant, capitals aside, or an empty text."""
    by_lower = {each.lower(): each for each in known}
    near = get_close_matches(word[:_LONGEST_SHOWN].lower(), by_lower, n=1)
    return by_lower[near[0]] if near else ""


def suggest(word: str, known: Iterable[str]) -> str:
    """A question naming the known word that was probably meant, or nothing.

    Args:
        word: What was typed.
        known: What is known.

    Returns:
        Such as ``did you mean "thickness"?``, or an empty text.
    """
    near = closest(word, known)
    return f'did you mean "{near}"?' if near else ""


def quoted(words: Sequence[str]) -> str:
    """Words to choose from, such as ``"mm" or "in"``."""
    shown = [f'"{word}"' for word in words]
    return f"{', '.join(shown[:-1])} or {shown[-1]}" if len(shown) > 1 else "".join(shown)


def listed(words: Iterable[str]) -> str:
    """Words of a sentence, such as ``at, hardware and drill``."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
