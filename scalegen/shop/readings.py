"""A file of readings: how thick a bonded blank is, and where, as people type and export it."""

import codecs
import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from scalegen.errors import Fault, PatternError
from scalegen.fields.files import neighbour
from scalegen.model import Reading, Units
from scalegen.units import LengthError, describe, parse_length

MOST_READINGS: Final = 10_000

_LARGEST_BYTES: Final = 4_000_000
_LONGEST_ROW: Final = 1000
_FAULTS_SHOWN: Final = 20
_SUFFIXES: Final = (".csv", ".tsv", ".txt")
_REMARKS: Final = ("#", "%", "//")
_UNITS: Final[dict[str, Units]] = {
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "in": "in", "inch": "in", "inches": "in", '"': "in", "″": "in",
}  # fmt: skip
_COLUMN = re.compile(r"(x|y|t|thickness|readings?)(?:[\s_./(\[-]+([^\s)\]]*)[)\]]?)?", re.IGNORECASE)
_STATED = re.compile(r"[#%/\s]*units?\s*[:=]\s*([^\s,;.]*).*", re.IGNORECASE)
_NUMBER_AHEAD = re.compile(r"[+\-−]?[.,]?[0-9]")
_APART_FROM_UNIT = re.compile(r"\s+[(\[]?(mm|in|inch|inches|\"|″)[)\]]?(?=\s|$)", re.IGNORECASE)
_ROW: Final = "write one reading in each row, or x, y and reading"
_HEADER: Final = "name the columns x_mm, y_mm and thickness_mm (or x_in, y_in, thickness_in)"


@dataclass(frozen=True, kw_only=True)
class _Form:
    """How a file's rows are to be read: ``columns`` is None without a header, ``width`` then 0."""

    file: str
    separator: str
    columns: Mapping[str, int] | None
    width: int
    units: Mapping[str, Units]


def read_readings(path: Path, units: Units) -> tuple[Reading, ...]:
    """Readings from a text table.

    A header names the columns in any order: ``x_mm, y_mm, thickness_mm``, or ``x, y, t``, or only
    ``reading``; other columns are passed over. Without one, a row holds one reading, or x, y and reading.
    Separators are tabs, semicolons, commas or blanks; decimals may have a comma wherever a comma does not
    part the columns. Lines that start with ``#``, ``%`` or ``//`` are remarks; ``# units: in`` is heeded.

    Args:
        path: The file.
        units: Unit of numbers for which neither their column, nor a remark, nor they themselves state one.

    Returns:
        1 to 10,000 readings in the order of the file.

    Raises:
        PatternError: Not a readable text table, or faulty rows, each named by its line.
    """
    file = str(path)
    lines = re.split(r"\r\n|\r|\n", _text(path))
    rows = list(_content(lines))
    if not rows:
        raise PatternError("there are no readings in it", where=file, remedy=_ROW)
    form = _form(rows[0], [text for _, text in rows], file, _stated_unit(lines, file) or units)
    if form.columns is not None:
        del rows[0]
    if len(rows) > MOST_READINGS:
        remedy = "leave out some; twenty well spread over a blank say enough"
        raise PatternError(f"more than {MOST_READINGS:,} readings", where=file, remedy=remedy)
    found, faults = [], []
    for line, text in rows:
        reading = _reading(text, line, form)
        if isinstance(reading, Reading):
            found.append(reading)
        else:
            faults.extend(reading)
    if faults:
        raise _refusal(faults, file)
    if not found:
        raise PatternError("there is a header but no reading below it", where=file, remedy=_ROW)
    if form.columns is None:
        _refuse_three_in_a_row(found, file)
    return tuple(found)


def _refusal(faults: Sequence[Fault], file: str) -> PatternError:
    """One error for all faults, the first twenty of them shown."""
    text = f"{len(faults)} thing{'s are' if len(faults) > 1 else ' is'} wrong in the readings"
    text += f"; the first {_FAULTS_SHOWN} are shown" if len(faults) > _FAULTS_SHOWN else ""
    return PatternError(text, faults=faults[:_FAULTS_SHOWN], where=file)


def _text(path: Path) -> str:
    """The file's text: UTF-8, UTF-16 with its mark, or the old Western code page."""
    file = str(path)
    try:
        if path.exists() and not path.is_file():
            raise PatternError("this is not an ordinary file", where=file, remedy="name a CSV or text file")
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise PatternError("there is no such file", where=file, remedy=_nearby(path)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        remedy = "check the name and your right to read it"
        raise PatternError(f"cannot be read: {reason}", where=file, remedy=remedy) from None
    if len(data) > _LARGEST_BYTES:
        raise PatternError("too large for a file of readings", where=file, remedy="check the name")
    wide = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise PatternError("not a text file", where=file, remedy="save the readings as CSV")


def _nearby(path: Path) -> str:
    try:
        name = neighbour(path, _SUFFIXES)
    except (OSError, ValueError):
        return f"check the name; the folder {path.parent} is not there either"
    return f"did you mean {path.with_name(name)}?" if name else "check the name and the folder"


def _content(lines: Sequence[str]) -> Iterator[tuple[int, str]]:
    """Line number and text of every row that is neither blank nor a remark; remarks at the end taken off."""
    for number, line in enumerate(lines, start=1):
        if line.lstrip().startswith(_REMARKS):
            continue
        # A header may have a column "no #": such a mark ends the cell.
        text = re.sub(r"\s#[^,;\t].*", "", line).rstrip()
        if text.strip(";,\t \"'"):
            yield number, text


def _stated_unit(lines: Sequence[str], file: str) -> Units | None:
    """The unit that remarks state, None when they don't."""
    stated: Units | None = None
    for number, line in enumerate(lines, start=1):
        if not line.lstrip().startswith(_REMARKS):
            continue
        match = _STATED.fullmatch(line[:_LONGEST_ROW])
        if match is None:
            continue
        unit = _UNITS.get(match[1].lower())
        found = ""
        if unit is None:
            found = f"{describe(match[1])} is not a unit that is known here"
        elif stated not in (None, unit):
            found = f"the unit is {unit} here and {stated} further up"
        if found:
            fault = Fault(file=file, field="units", found=found, allowed="write mm or in, once", line=number)
            raise _refusal([fault], file)
        stated = unit
    return stated


def _form(first: tuple[int, str], texts: Sequence[str], file: str, units: Units) -> _Form:
    """How to read the rows, by the header when the first row is one, else by all of them."""
    line, text = first
    headed = _is_header(text)
    judged = texts[:1] if headed else texts
    separator = next((mark for mark in "\t;," if any(mark in each for each in judged)), "")
    columns: dict[str, int] = {}
    of_column: dict[str, Units] = dict.fromkeys(("x", "y", "thickness"), units)
    if not headed:
        return _Form(file=file, separator=separator, columns=None, width=0, units=of_column)
    cells = _cells(text, separator)
    for k, cell in enumerate(cells):
        match = _COLUMN.fullmatch(cell)
        if match is None:
            continue
        what = match[1].lower() if match[1].lower() in {"x", "y"} else "thickness"
        unit = _UNITS.get(match[2].lower()) if match[2] else units
        if unit is None:
            raise _header_refusal(f"column {describe(cell)} has a unit that is not known here", line, file)
        if what in columns:
            raise _header_refusal(f"two columns for {what}", line, file)
        columns[what] = k
        of_column[what] = unit
    if "thickness" not in columns:
        raise _header_refusal(f"no column of readings in {describe(text.strip())}", line, file)
    if len(columns) == 2:
        lone = next(each for each in columns if each != "thickness")
        raise _header_refusal(f"a column for {lone} but none for {'y' if lone == 'x' else 'x'}", line, file)
    return _Form(file=file, separator=separator, columns=columns, width=len(cells), units=of_column)


def _header_refusal(found: str, line: int, file: str) -> PatternError:
    hint = 'put "#" before lines that are remarks'
    fault = Fault(file=file, field="header", found=found, allowed=_HEADER, hint=hint, line=line)
    return _refusal([fault], file)


def _is_header(text: str) -> bool:
    """Whether a row is made of words, none of which starts as a number does or stands for one."""
    words = [word.strip("\"'").lower() for word in re.split(r"[\s,;]+", text.strip())]
    if any(_NUMBER_AHEAD.match(word) for word in words):
        return False
    left = {word.lstrip("+-−") for word in words if word} - {"nan", "inf", "infinity"}
    return any(sign.isalpha() for word in left for sign in word)


def _cells(text: str, separator: str) -> list[str]:
    """Cells of a row, decimal commas made points."""
    if not separator:
        # A unit stays with what stands before it.
        cells = _APART_FROM_UNIT.sub(r"_\1" if _is_header(text) else r"\1", text).split()
    else:
        cells = next(csv.reader([text], delimiter=separator, skipinitialspace=separator != "\t"), [])
    cells = [cell.strip().strip("'").removeprefix('"').strip().replace("−", "-") for cell in cells]
    return [cell.replace(",", ".") if cell.count(",") == 1 and "." not in cell else cell for cell in cells]


def _reading(text: str, line: int, form: _Form) -> Reading | list[Fault]:
    """One row's reading, or what is wrong with it."""

    def fault(found: str, allowed: str, field: str = "", hint: str = "") -> Fault:
        return Fault(file=form.file, field=field, found=found, allowed=allowed, hint=hint, line=line)

    if len(text) > _LONGEST_ROW:
        return [fault(f"the row is {len(text):,} characters long", _ROW)]
    parts = _parts(text, form)
    if isinstance(parts, int):
        comma = form.separator == "," or (not form.separator and "," in text)
        hint = 'decimals take a point, or put ";" between the columns' if comma else ""
        wanted = f"the header has {form.width} columns" if form.columns is not None else _ROW
        return [fault(f"{parts} values in the row", wanted, hint=hint)]
    values: dict[str, float] = {}
    faults = []
    for what, cell in parts.items():
        try:
            above = 0.0 if what == "thickness" else None
            values[what] = parse_length(cell, form.units[what], above=above)
        except LengthError as error:
            faults.append(fault(error.found, error.allowed, what, error.hint))
    if faults:
        return faults
    return Reading(thickness_mm=values["thickness"], x_mm=values.get("x"), y_mm=values.get("y"), line=line)


def _parts(text: str, form: _Form) -> dict[str, str] | int:
    """What a row holds by its meaning, or how many values there are when that does not fit."""
    cells = _cells(text if form.columns is not None else text.strip(), form.separator)
    while cells and not cells[-1]:
        cells.pop()
    if form.columns is None:
        names = {1: ("thickness",), 3: ("x", "y", "thickness")}.get(len(cells))
        return dict(zip(names, cells, strict=True)) if names else len(cells)
    if len(cells) > form.width:
        return len(cells)
    cells += [""] * (form.width - len(cells))
    parts = {what: cells[k] for what, k in form.columns.items()}
    if not parts.get("x") and not parts.get("y"):
        parts = {"thickness": parts["thickness"]}
    return parts


def _refuse_three_in_a_row(readings: Sequence[Reading], file: str) -> None:
    """Refuse rows of three readings, which would pass for x, y and reading.

    No blank is measured only at places whose x and y both are within a factor of 2 of its thickness.
    """
    if all(
        reading.x_mm is not None
        and reading.y_mm is not None
        and all(0.5 <= place / reading.thickness_mm <= 2 for place in (reading.x_mm, reading.y_mm))
        for reading in readings
    ):
        raise PatternError(
            "the rows look like three readings each, not like x, y and reading",
            where=file,
            remedy='write one reading in each row; if they are places, put "x, y, thickness" above them',
        )
