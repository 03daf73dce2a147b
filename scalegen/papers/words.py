"""What several parts of a paper say in the same words: sizes, places, counts."""

from collections.abc import Sequence

from scalegen.model import Units
from scalegen.report.made import Made
from scalegen.report.views import sizes_in
from scalegen.units import bare_length, unit_word


def units_of(made: Made) -> Units:
    """The unit that a job's papers are read in: the one asked for, or that of its first pattern."""
    return unit_word(made.spec.paper_units or made.lots[0].scale.pattern.units)


def to_cut(mm: float, made: Made, digits: int = 2) -> str:
    """A length that is cut by hand, without its unit; as a fraction too where papers are read so."""
    text = bare(mm, units_of(made), digits)
    return f"{text} = {bare_length(mm, 'fraction')}" if made.spec.paper_units == "fraction" else text


def bare(mm: float, units: Units, digits: int = 2) -> str:
    """A length without its unit, for columns whose head names it; never minus nothing."""
    text = sizes_in(units)(mm, digits).removesuffix(f" {units}")
    return text.lstrip("-") if not text.strip("-0.") else text


def place(at_mm: tuple[float, float], units: Units) -> str:
    """A place on the sheet, such as "X 12.0, Y 30.5"."""
    return f"X {bare(at_mm[0], units, 1)}, Y {bare(at_mm[1], units, 1)}"


def plural(count: int, word: str) -> str:
    """Such as "1 pair" or "7 pairs"."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def listed(words: Sequence[str]) -> str:
    """Words of a sentence, each once, such as "P120, P180 and P220"."""
    once = list(dict.fromkeys(words))
    return once[0] if len(once) == 1 else f"{', '.join(once[:-1])} and {once[-1]}" if once else ""


def pairs_in(made: Made) -> int:
    """All pairs of a job, spares included."""
    return sum(lot.pairs + lot.spares for lot in made.lots)
