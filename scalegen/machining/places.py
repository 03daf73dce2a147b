"""How findings about the cutting name places."""

from collections.abc import Sequence

from scalegen.model import Finding, Level, Units
from scalegen.units import format_length


def place_words(at_mm: tuple[float, float], units: Units) -> str:
    """A place by its x and y."""
    return f"x = {format_length(at_mm[0], units, 2)}, y = {format_length(at_mm[1], units, 2)}"


def listed_labels(labels: Sequence[str], most: int = 8) -> str:
    """Labels in a row; of many the first, and how many more."""
    if len(labels) <= most:
        return ", ".join(labels)
    return f"{', '.join(labels[: most - 1])} and {len(labels) - most + 1} more"


def found(code: str, level: Level, *words: str) -> Finding:
    """A finding by code, level, what it is about, where, message and remedy."""
    about, where, message, remedy = words
    return Finding(code=code, level=level, about=about, where=where, message=message, remedy=remedy)
