"""Writing into the table of remnants: pieces added, used ones set aside; comments and order stay."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from scalegen.errors import PatternError, UsageError
from scalegen.fields.files import parse_toml
from scalegen.fields.lines import line_numbers
from scalegen.fields.place import units_of
from scalegen.model import CurveRows, Remnant, Units

_NUMBER: Final = re.compile(r"R([0-9]{1,9})")
_HEADER: Final = re.compile(r"\[\[\s*remnant\s*\]\]")
_ROWS_IN_LINE: Final = 6
_MM_PER_UNIT: Final[Mapping[Units, float]] = {"mm": 1.0, "in": 25.4}
_DIGITS: Final[Mapping[Units, int]] = {"mm": 3, "in": 5}


@dataclass(frozen=True, kw_only=True)
class Change:
    """What is to become of a table of remnants.

    Attributes:
        text: The new text of the whole file.
        numbers: What each piece is called now; for one that was kept before, what it was called then.
        new: Which of the pieces were added.
        used: Numbers of remnants that were set aside as used up.
        gone: Numbers of remnants that should have been set aside and that the table has never had.
    """

    text: str
    numbers: tuple[str, ...]
    new: tuple[bool, ...]
    used: tuple[str, ...]
    gone: tuple[str, ...]


def with_remnants(
    text: str, path: Path, pieces: Sequence[Remnant], used: Mapping[str, str], *, again: bool = False
) -> Change:
    """Text of a table with pieces added under the next free numbers, and used remnants set aside.

    A remnant that is used up keeps its entry under ``[[used]]``, so that its number is not given to another
    piece and nothing is kept twice.

    Args:
        text: Of the file, a sound table; empty for a file that is not there.
        path: The file, for messages.
        pieces: What to add; their numbers say nothing.
        used: By the number of a remnant that was cut from, the job that it went into.
        again: Add pieces of jobs that were kept before, cut a second time.

    Returns:
        The new text and what became of each piece.

    Raises:
        UsageError: The table is written in a way that cannot be added to.
    """
    before = parse_toml(text, path) if text else {}
    units = units_of(before)
    entries = [*_entries(before, "remnant"), *_entries(before, "used")]
    known = {str(entry["piece"]): str(entry.get("number")) for entry in entries if "piece" in entry}
    known = {} if again else known
    taken = [_NUMBER.fullmatch(str(entry.get("number"))) for entry in entries]
    last = max((int(found[1]) for found in taken if found), default=0)
    numbers, new, blocks = [], [], []
    for piece in pieces:
        new.append(piece.piece not in known)
        if new[-1]:
            last += 1
            blocks.append(_block(piece, f"R{last}", units))
        numbers.append(f"R{last}" if new[-1] else known[piece.piece])
    live = [str(entry.get("number")) for entry in _entries(before, "remnant")]
    there = tuple(number for number in used if number in live)
    changed = _set_aside(text, path, {live.index(number): used[number] for number in there})
    changed = _added(changed, blocks, units)
    _require_whole(before, changed, path, blocks=len(blocks), aside=len(there))
    return Change(
        text=changed,
        numbers=tuple(numbers),
        new=tuple(new),
        used=there,
        gone=tuple(number for number in used if number not in {str(each.get("number")) for each in entries}),
    )


def _entries(data: Mapping[str, Any], label: str) -> list[Mapping[str, Any]]:
    """The rows of one kind, as they are."""
    return [entry for entry in data.get(label, []) if isinstance(entry, dict)]


def _set_aside(text: str, path: Path, jobs: Mapping[int, str]) -> str:
    """The text with the headers of some entries changed, and the job noted under each."""
    if not jobs:
        return text
    places, lines = line_numbers(text), text.splitlines(keepends=True)
    for index, job in sorted(jobs.items(), reverse=True):
        at = places.get(f"remnant[{index + 1}]", 0) - 1
        if at < 0 or not _HEADER.match(lines[at].lstrip()):
            raise _by_hand(path)
        end = "\r\n" if lines[at].endswith("\r\n") else "\n"
        header = _HEADER.sub("[[used]]", lines[at], count=1).rstrip("\r\n")
        lines[at : at + 1] = [header + end, f"by = {_text(job)}{end}"]
    return "".join(lines)


def _added(text: str, blocks: Sequence[str], units: Units) -> str:
    """The text with entries at its end."""
    if not blocks:
        return text
    start = text or f'units = "{units}"\n'
    start += "" if start.endswith("\n") else "\n"
    added = "".join(f"\n{block}" for block in blocks)
    return start + (added.replace("\n", "\r\n") if "\r\n" in start else added)


def _block(piece: Remnant, number: str, units: Units) -> str:
    """One entry."""
    lines = ["[[remnant]]", f"number = {_text(number)}", f"stack = {_text(piece.stack)}"]
    lines += [f"outline = {_rows(piece.outline, units)}"]
    if piece.zones:
        lines += ["zones = [", *(f"  {_rows(zone, units)}," for zone in piece.zones), "]"]
    if piece.measured_mm:
        lines += [f"measured = [{', '.join(_length(each, units) for each in piece.measured_mm)}]"]
    lines += [f"source = {_text(piece.source)}"] if piece.source else []
    lines += [f"piece = {_text(piece.piece)}"] if piece.piece else []
    return "\n".join(lines) + "\n"


def _rows(rows: CurveRows, units: Units) -> str:
    """Rows of an outline, a few in a line; bulges of 0 are left out."""
    shown = []
    for x, y, bulge in rows:
        bent = f", {bulge:.9g}" if bulge else ""
        shown.append(f"[{_length(x, units)}, {_length(y, units)}{bent}]")
    lines = [", ".join(shown[k : k + _ROWS_IN_LINE]) for k in range(0, len(shown), _ROWS_IN_LINE)]
    return f"[{lines[0]}]" if len(lines) == 1 else "[\n" + "".join(f"  {line},\n" for line in lines) + "]"


def _length(value_mm: float, units: Units) -> str:
    return f"{round(value_mm / _MM_PER_UNIT[units], _DIGITS[units]) + 0.0:g}"


def _text(value: str) -> str:
    """Text in quotes; names and sources are one line that can be printed."""
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _require_whole(before: Mapping[str, Any], text: str, path: Path, *, blocks: int, aside: int) -> None:
    """Make sure that nothing but what was meant has changed."""
    try:
        after = parse_toml(text, path) if text else {}
    except PatternError as error:
        raise _by_hand(path) from error
    old, new = _entries(before, "remnant"), _entries(after, "remnant")
    gone = [entry for entry in old if entry not in new]
    moved = [{key: value for key, value in entry.items() if key != "by"} for entry in _entries(after, "used")]
    kept = all(entry in moved for entry in gone)
    if not kept or len(new) != len(old) - aside + blocks:
        raise _by_hand(path)


def _by_hand(path: Path) -> UsageError:
    return UsageError(
        "this table is written in a way that cannot be added to",
        where=str(path),
        remedy="start each of its rows with a line of its own that says [[remnant]]",
    )
