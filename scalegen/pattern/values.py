"""Kinds of values that only patterns and batch files have."""

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Final

from scalegen.fields.files import neighbour
from scalegen.fields.kinds import choice, curve, length, many, number, row, spelt, whole
from scalegen.fields.place import Place, Refused
from scalegen.fields.table import Kind
from scalegen.fields.words import describe, suggest
from scalegen.model.job import MOST_TABS, MOST_TURNS, TURNS, turns_of
from scalegen.shop.drills import find_drill
from scalegen.units import InputError

_LONGEST_NAME: Final = 60
_WIDEST_STEP_MM: Final = 20.0

NAME: Final = spelt(
    r"[A-Za-z0-9][A-Za-z0-9_-]*",
    _LONGEST_NAME,
    f'a name of letters a-z, digits, "-" and "_", a letter or digit first, at most {_LONGEST_NAME} in all',
    "it goes into file names; other text can go into title",
)
POINT: Final = row((length(), length()), "a point [x, y], such as [30, 1.5]")

LEAST_STEP_MM: Final = 0.05
"""A step between layers is at least this wide; less can be neither cut nor seen. Our choice; common practice,
no source."""


def _step() -> Kind:
    """A length to either side, wide enough for a step."""
    inner = length(minimum=-_WIDEST_STEP_MM, maximum=_WIDEST_STEP_MM)
    allowed = f"{inner.allowed}, of {LEAST_STEP_MM:g} mm or more; with a minus the liner is set in"

    def parse(value: object, place: Place) -> float:
        step_mm: float = inner.parse(value, place)
        if abs(step_mm) < LEAST_STEP_MM:
            raise InputError(f"{describe(value)} is too small a step", allowed)
        return step_mm

    return Kind(parse=parse, allowed=allowed, suffix=inner.suffix)


STEP: Final = _step()

LEAST_STATION_MM: Final = 1.0
"""Stations along the handle stand at least this far apart."""


def _stations(size: Kind, what: str) -> Kind:
    """Rows [x, size] along the handle, x growing."""
    rows = many(row((length(), size), f"a row [x, {what}]"), f"a list of rows [x, {what}], x growing")

    def parse(value: object, place: Place) -> tuple[tuple[float, float], ...]:
        found = rows.parse(value, place)
        for count, (one, other) in enumerate(pairwise(found), start=2):
            if other[0] < one[0] + LEAST_STATION_MM:
                fault = place.item(count).fault(
                    f"x does not grow by {LEAST_STATION_MM:g} mm from the row before",
                    "put the rows in the order of x, from front to butt",
                )
                raise Refused(fault)
        return tuple((x, size_mm) for x, size_mm in found)

    return Kind(parse=parse, allowed=rows.allowed)


SWELL_STATIONS: Final = _stations(length(above=0), "thickness")
EDGE_STATIONS: Final = _stations(length(minimum=0), "size")


def file_beside(suffixes: Sequence[str], what: str) -> Kind:
    """A file named relative to the one it is written in; it must be there.

    Args:
        suffixes: Endings that can be read, such as ".dxf".
        what: What the file is, for messages.
    """
    allowed = f"give the name of {what} ending in {' or '.join(suffixes)}"

    def parse(value: object, place: Place) -> Path:
        path = place.folder / _path_text(value, allowed)
        if path.suffix.lower() not in suffixes:
            raise InputError(f"{describe(value)} is not a file that can be read here", allowed)
        try:
            there = path.is_file()
        except (OSError, ValueError):
            there = False
        if not there:
            raise InputError(
                f"{describe(value)}: there is no such file in {path.parent}",
                "check the name",
                _near(path),
            )
        return path

    return Kind(parse=parse, allowed=allowed)


def folder_beside(what: str) -> Kind:
    """A folder named relative to the file it is written in; it need not be there yet."""
    allowed = f"give the name of a folder {what}"
    return Kind(parse=lambda value, place: place.folder / _path_text(value, allowed), allowed=allowed)


def _path_text(value: object, allowed: str) -> str:
    if not isinstance(value, str):
        raise InputError(f"{describe(value)} is not text", allowed, "text goes in quotes")
    if not value.strip() or not value.isprintable():
        raise InputError(f"{describe(value)} is not a name", allowed)
    return value


def _near(path: Path) -> str:
    try:
        name = neighbour(path, (path.suffix,))
    except (OSError, ValueError):
        return "the folder is not there either"
    return f'did you mean "{name}"?' if name else "it is looked for beside this file"


def _drill(value: object, _place: Place) -> str:
    """A drill by its designation, as the tables spell it; a bare number is told how to say which."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise InputError(f"{describe(value)} is not a drill", DRILL.allowed)
    return find_drill(value if isinstance(value, str) else describe(value)).designation


DRILL: Final = Kind(parse=_drill, allowed='give a drill, such as "#30", "F", "9/64in" or "3.3 mm"')

_OUTLINE_ROWS: Final = curve()


def outline(suffixes: Sequence[str]) -> Kind:
    """Either the name of a drawing or rows typed into the pattern; bulges of 0 are filled in."""
    drawing = file_beside(suffixes, "a drawing")

    def parse(value: object, place: Place) -> Path | tuple[tuple[float, float, float], ...]:
        if isinstance(value, list):
            rows: tuple[tuple[float, float, float], ...] = _OUTLINE_ROWS.parse(value, place)
            return rows
        path: Path = drawing.parse(value, place)
        return path

    return Kind(parse=parse, allowed=f"{drawing.allowed}, or {_OUTLINE_ROWS.allowed.removeprefix('give ')}")


FILL: Final = "max"
"""Stands for as many pairs as one sheet takes."""


Counts = tuple[tuple[str, int], ...]


def _counts(least: int, most: int = 10_000, *, what: str = "pairs", fill: bool = False) -> Kind:
    """A number of pairs or tabs, or a table with one for each pattern; or, where that is allowed, a word."""
    number_of = whole(least, most)
    allowed = f"{number_of.allowed}, or one for each pattern, such as {{ siskin = 4, harrier = 2 }}"
    allowed += f', or "{FILL}" for as many as one sheet takes' if fill else ""

    def parse(value: object, place: Place) -> int | str | Counts:
        if isinstance(value, str):
            if fill and value == FILL:
                return value
            words = [FILL] if fill else []
            raise InputError(f"{describe(value)} is not a number of {what}", allowed, suggest(value, words))
        if isinstance(value, dict):
            each = {name: number_of.read(number, place.key(name)) for name, number in value.items()}
            if not each:
                raise InputError("there is no pattern in it", allowed)
            return tuple(each.items())
        found: int = number_of.parse(value, place)
        return found

    return Kind(parse=parse, allowed=allowed)


def _turns() -> Kind:
    """Turns a scale may take on the sheet: a word, or a list of degrees."""
    word = choice(tuple(TURNS))
    each = number(minimum=-360, maximum=360, what="a turn in degrees")
    listed = many(each, "a list of turns in degrees, such as [0, 90, 180]")
    allowed = f"{word.allowed}, or {listed.allowed.removeprefix('give ')}"

    def parse(value: object, place: Place) -> tuple[float, ...]:
        if isinstance(value, list):
            turns = turns_of(listed.parse(value, place))
            if len(turns) > MOST_TURNS:
                raise InputError(f"{len(turns)} turns are too many", f"give {MOST_TURNS} at most")
            return turns
        if isinstance(value, str):
            return TURNS[word.parse(value, place)]
        raise InputError(f"{describe(value)} will not do", allowed)

    return Kind(parse=parse, allowed=allowed)


PAIRS: Final = _counts(1, fill=True)
SPARES: Final = _counts(0)
TABS: Final = _counts(0, MOST_TABS, what="tabs")
TURNS_LIST: Final = _turns()
