"""A table of points as people type and export it: separators, decimal commas, headers and remarks."""

import codecs
import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from scalegen.errors import Fault, PatternError

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
"""Source for the inch: NBS Circular 572, addendum on the yard of 1959."""

MOST_ROWS = 200_000
MOST_LINES = 500_000

_NAMES = {
    "millimeter": "mm", "millimetre": "mm", "millimeters": "mm", "millimetres": "mm",
    "centimeters": "cm", "centimetres": "cm", "inch": "in", "inches": "in", '"': "in", "″": "in",
}  # fmt: skip
_HEADER = re.compile(r"[\"']?\s*([xy])(?:[\s_./(\[-]+([a-z\"″]+)[\s)\]]*|\s*)[\"']?\s*", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_WORD = re.compile(r"[a-z″\"]+")
_REMARKS = ("#", "%", "//")
_LARGEST = 1e7
_FAULTS_SHOWN = 20
_MOST_FAULTS = 1000
_LONGEST_ROW = 10_000
_LONGEST_NAME = 40
_ALLOWED = "one x and one y in each row, such as 12.5, 3.75"


@dataclass(frozen=True, kw_only=True)
class Table:
    """What a table says.

    Attributes:
        points: x, y in the table's unit, in order.
        unit: "mm", "cm", "m" or "in" when the table says so, else empty.
        smooth: What the table asks for, None when it says nothing.
        other_columns: Columns that are neither x nor y.
    """

    points: tuple[tuple[float, float], ...]
    unit: str
    smooth: bool | None
    other_columns: int


@dataclass(kw_only=True)
class _Reading:
    """State while rows are read."""

    points: list[tuple[float, float]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    columns: tuple[int, int] | None = None
    width: int = 2
    units: set[str] = field(default_factory=set)
    smooth: bool | None = None


def read_table(data: bytes, name: str, where: str) -> Table:
    """Take a table apart.

    Args:
        data: All bytes of the file.
        name: The file as the user named it, for faults.
        where: Named in errors.

    Raises:
        PatternError: Not a text table, rows that cannot be read (each by its line), or contradicting units.
    """
    text = _text(data, where)
    if text.count("\n") + text.count("\r") > 2 * MOST_LINES:
        raise _refusal(f"more than {MOST_LINES} lines", where, "keep only the points of the outline")
    lines = text.splitlines()
    separator = _separator(lines)
    reading = _Reading()
    for number, line in enumerate(lines, start=1):
        row = line.strip()
        if row.startswith(_REMARKS):
            _remark(row, reading)
        elif row.strip(";,\t "):
            _row(_cells(line[:_LONGEST_ROW], separator), number, name, reading, cut=len(line) > _LONGEST_ROW)
        if len(reading.points) > MOST_ROWS:
            raise _refusal(f"more than {MOST_ROWS} points", where, "leave out some of them")
        if len(reading.faults) == _MOST_FAULTS:
            break
    if reading.faults:
        count = len(reading.faults)
        text = f"the table has {count} faulty row{'s' if count > 1 else ''}"
        text += " or more" if count == _MOST_FAULTS else ""
        text += f"; the first {_FAULTS_SHOWN} are shown" if count > _FAULTS_SHOWN else ""
        raise PatternError(text, faults=reading.faults[:_FAULTS_SHOWN], where=where)
    if len(reading.units) > 1:
        named = " and ".join(sorted(reading.units))
        raise _refusal(f"the table names two units, {named}", where, "keep one of them for x and y")
    return Table(
        points=tuple(reading.points),
        unit=next(iter(reading.units), ""),
        smooth=reading.smooth,
        other_columns=max(0, reading.width - 2),
    )


def _refusal(message: str, where: str, remedy: str) -> PatternError:
    return PatternError(message, where=where, remedy=remedy)


def _text(data: bytes, where: str) -> str:
    """The file's text."""
    marked = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "cp1252", "latin-1"):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise _refusal("not a text table", where, "save the points as CSV: x and y in two columns")


def _separator(lines: Sequence[str]) -> str:
    """Tab, semicolon, comma, or empty for blanks, by the first rows that hold something."""
    telling = (line for line in lines if line.strip() and not line.strip().startswith(_REMARKS))
    rows = [line[:_LONGEST_ROW] for line in itertools.islice(telling, 50)]
    for mark in ("\t", ";"):
        if any(mark in row for row in rows):
            return mark
    # In "1,5 2,5" the commas are decimal ones: a comma that separates has its number to itself.
    if rows and all(len(row.split()) == 2 and row.split()[0].count(",") == 1 for row in rows[-1:]):
        first = rows[-1].split()[0]
        return "," if first.endswith(",") else ""
    return "," if any("," in row for row in rows) else ""


def _cells(line: str, separator: str) -> list[str]:
    """Cells of a row, quotes and empty cells at the end left out."""
    cells = line.split(separator) if separator else line.split()
    cells = [cell.strip().strip("\"'").strip() for cell in cells]
    if separator != ",":
        cells = [_with_point(cell) for cell in cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _with_point(cell: str) -> str:
    """A decimal comma made a point."""
    return cell.replace(",", ".") if cell.count(",") == 1 and "." not in cell else cell


def _remark(row: str, reading: _Reading) -> None:
    """Take what a remark asks for: straight, smooth, or a unit."""
    text = row.lstrip("#%/ ").lower().strip()
    if text in {"straight", "smooth"}:
        reading.smooth = text == "smooth"
    name, _, value = text.partition(":") if ":" in text else text.partition("=")
    words = _WORD.findall(value)
    if name.strip() in {"unit", "units"} and words and _unit(words[0]):
        reading.units.add(_unit(words[0]))


def _unit(word: str) -> str:
    """A unit by any of its names, empty when it is none."""
    low = word.lower()
    low = _NAMES.get(low, low)
    return low if low in MM_PER_UNIT else ""


def _row(cells: list[str], line: int, name: str, reading: _Reading, *, cut: bool) -> None:
    """Take one row: the header when it is the first, else a point."""
    values = [_value(cell) for cell in cells]
    first = not reading.points and not reading.faults and reading.columns is None
    if first and None in values[:2] and _header(cells, reading):
        return
    at = reading.columns or (0, 1)
    found = ""
    if cut:
        found = f"more than {_LONGEST_ROW} characters in the row"
    elif len(cells) <= max(at):
        found = f"{len(cells)} value{'s' if len(cells) != 1 else ''} in the row"
    elif reading.columns is None and len(cells) > 2:
        found = f"{len(cells)} values in the row and no header that names x and y"
    else:
        for k in at:
            if values[k] is None:
                found = found or f"{cells[k][:30]!r} is not a usable number"
    if found:
        reading.faults.append(Fault(file=name, field="", found=found, allowed=_ALLOWED, line=line))
        return
    x, y = values[at[0]], values[at[1]]
    if x is not None and y is not None:
        reading.points.append((x, y))


def _value(cell: str) -> float | None:
    """A number, or None."""
    if _NUMBER.fullmatch(cell.replace("\u2212", "-")) is None:
        return None
    value = float(cell.replace("\u2212", "-"))
    return value if math.isfinite(value) and abs(value) <= _LARGEST else None


def _header(cells: list[str], reading: _Reading) -> bool:
    """Take a header; whether it was one."""
    places: dict[str, int] = {}
    for k, cell in enumerate(cells):
        match = _HEADER.fullmatch(cell[:_LONGEST_NAME])
        if match is None:
            continue
        if match[2] and not _unit(match[2]):
            continue
        places.setdefault(match[1].lower(), k)
        if match[2]:
            reading.units.add(_unit(match[2]))
    if set(places) != {"x", "y"}:
        return False
    reading.columns = (places["x"], places["y"])
    reading.width = len(cells)
    return True
