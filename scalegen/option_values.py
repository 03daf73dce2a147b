"""Single values of options, as typed, into lengths, sizes, counts and words."""

import math
import re
from typing import TypeVar

from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.model import Units
from scalegen.units import LengthError, describe, parse_length, split_unit

Word = TypeVar("Word", bound=str)

MOST_PAIRS = 1000
FILL = "max"
_MEANT = {"inch": "in", "inches": "in", '"': "in", "millimetre": "mm", "millimeter": "mm", "stp": "step"}


def length_option(text: str, units: Units, option: str, *, least_mm: float | None) -> float:
    """A length of at least so much, mm; above 0 where no least is given, of any sign for minus infinity.

    Raises:
        UsageError: It is none; names the option.
    """
    try:
        if least_mm is None:
            return parse_length(text, units, above=0.0)
        if least_mm == -math.inf:
            return parse_length(text, units)
        return parse_length(text, units, minimum=least_mm)
    except LengthError as error:
        allowed, hint = error.allowed, error.hint
        if allowed.startswith("give "):
            remedy = f"{allowed} ({hint})" if hint else allowed
            raise UsageError(error.found, where=option, remedy=remedy) from error
        raise UsageError(f"{error.found}; {allowed}", where=option, remedy=hint) from error


def size_option(text: str, units: Units, option: str) -> tuple[float, float]:
    """Two lengths with an x between, mm.

    Raises:
        UsageError: It is none; names the option.
    """
    parts = re.split(r"\s*[x×*]\s*", text.strip(), flags=re.IGNORECASE)
    if len(parts) != 2 or not all(parts):
        raise UsageError(
            f"{describe(text)} is not a size",
            where=option,
            remedy='write two lengths with an x between, such as "300x150" or "12in x 6in"',
        )
    # "12x6in" is inches both ways.
    unit = split_unit(parts[1])[1]
    if unit and not split_unit(parts[0])[1]:
        parts[0] += unit
    first, second = (length_option(part, units, option, least_mm=None) for part in parts)
    return first, second


def count_option(text: str, option: str, least: int, most: int = MOST_PAIRS) -> int:
    """A whole number within limits.

    Raises:
        UsageError: It is none; names the option.
    """
    number = int(text) if re.fullmatch(r"\s*[+-]?[0-9]{1,10}\s*", text) else None
    if number is None or not least <= number <= most:
        word = f"; {option} {FILL} is as many as one sheet takes" if option == "--pairs" else ""
        raise UsageError(
            f"{describe(text)} is not a whole number from {least} to {most}",
            where=option,
            remedy=f"write it in digits, such as {option} 6{word}",
        )
    return number


def word_option(text: str, known: tuple[Word, ...], option: str) -> Word:
    """One of a few words.

    Raises:
        UsageError: It is none of them; names the option.
    """
    typed = text.strip().lower()
    for word in known:
        if typed in {word.lower(), word.lower().replace("-", " ")}:
            return word
    meant = _MEANT.get(typed, "")
    hint = f'did you mean "{meant}"? ' if meant in known else suggest(text, known)
    raise UsageError(
        f"{describe(text)} is not known here",
        where=option,
        remedy=f"{hint.strip()} use one of: {', '.join(known)}".strip(),
    )
