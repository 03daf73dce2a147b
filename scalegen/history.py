"""A shop's history: every job that was made, with the time of day, in one small database.

It is a help and never in the way: what goes wrong with it is told as a warning, and the job stands.
"""

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.model import Units
from scalegen.units import format_length

FILE: Final = "history.sqlite"

_VERSION: Final = 1
_WAIT_S: Final = 3.0
_TABLE: Final = """
CREATE TABLE IF NOT EXISTS jobs (
    id INTEGER PRIMARY KEY,
    made_at TEXT NOT NULL,
    job TEXT NOT NULL,
    pattern TEXT NOT NULL,
    stack TEXT NOT NULL,
    pairs INTEGER NOT NULL,
    spares INTEGER NOT NULL,
    sheets INTEGER NOT NULL,
    measured_mm TEXT NOT NULL,
    used_mm REAL NOT NULL,
    cost REAL,
    currency TEXT,
    record_sha256 TEXT NOT NULL,
    run TEXT NOT NULL
)
"""
_COLUMNS: Final = (
    *("made_at", "job", "pattern", "stack", "pairs", "spares", "sheets", "measured_mm", "used_mm"),
    *("cost", "currency", "record_sha256", "run"),
)


class HistoryError(Exception):
    """The history cannot be read or written; the message says why and what to do."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One job that was made.

    Attributes:
        made_at: Local time with its offset from UTC, ISO 8601.
        job: Name of its folder.
        pattern: Name of its pattern.
        stack: Name of its stack.
        pairs: Pairs asked for.
        spares: Further pairs.
        sheets: Blanks it took.
        measured_mm: Readings of the bonded blank; empty when it was not measured.
        used_mm: Thickness it counted on.
        cost: Materials, in the shop's currency; None where nothing had a price.
        currency: Three letters, or None.
        record_sha256: Checksum of its record.
        run: What it went by, as in its record.
    """

    made_at: str
    job: str
    pattern: str
    stack: str
    pairs: int
    spares: int
    sheets: int
    measured_mm: tuple[float, ...]
    used_mm: float
    cost: float | None
    currency: str | None
    record_sha256: str
    run: Mapping[str, Any]


def entry_of(record: Mapping[str, Any], folder: Path, text: str, currency: str, now: datetime) -> Entry:
    """What the history keeps of a job.

    Args:
        record: The job's record.
        folder: Where it was made.
        text: The record as written.
        currency: The shop's.
        now: Time of day, with its zone.
    """
    total = next((row for row in record["bom"] if row["section"] == "total"), None)
    cost = total["cost"] if total else None
    return Entry(
        made_at=now.isoformat(timespec="seconds"),
        job=folder.name,
        pattern=record["pattern"]["name"],
        stack=record["pattern"]["stock"],
        pairs=record["pairs"],
        spares=record["spares"],
        sheets=len(record["sheets"]),
        measured_mm=tuple(record["stack"]["measured_mm"]),
        used_mm=record["stack"]["used_mm"],
        cost=cost,
        currency=currency if cost is not None else None,
        record_sha256=hashlib.sha256(text.encode()).hexdigest(),
        run=record.get("run") or {},
    )


def append(file: Path, entry: Entry) -> None:
    """Put a job at the end of a history; begins one where there is none.

    Raises:
        HistoryError: It cannot be written, is locked, damaged, or of a later version of the program.
    """
    values = [getattr(entry, name) for name in _COLUMNS]
    values[_COLUMNS.index("measured_mm")] = json.dumps(entry.measured_mm)
    values[_COLUMNS.index("run")] = json.dumps(entry.run, ensure_ascii=False, default=list)
    holders = ", ".join("?" * len(_COLUMNS))
    with _opened(file, write=True) as database:
        # All of it or nothing: what is not committed when the connection closes was never written.
        database.execute("BEGIN IMMEDIATE")
        if _version_of(database, file) == 0:
            database.execute(_TABLE)
            database.execute(f"PRAGMA user_version = {_VERSION}")
        database.execute(
            f"INSERT INTO jobs ({', '.join(_COLUMNS)}) VALUES ({holders})",  # noqa: S608 - our own column names
            values,
        )
        database.execute("COMMIT")


def entries(file: Path, pattern: str | None = None) -> tuple[Entry, ...]:
    """The jobs of a history, the oldest first.

    Args:
        file: The history; one that is not there has no jobs.
        pattern: Only jobs of this pattern.

    Raises:
        HistoryError: It cannot be read, is locked, damaged, or of a later version of the program.
        UsageError: No job of that pattern is in it.
    """
    found = _read(file, "ORDER BY id", ())
    if pattern is None:
        return found
    known = list(dict.fromkeys(entry.pattern for entry in found))
    if pattern not in known:
        there = f"the history has: {', '.join(known)}" if known else "the history has no jobs yet"
        raise UsageError(
            f'no job of a pattern "{pattern}" was made here',
            where="--pattern",
            remedy=f"{suggest(pattern, known)} {there}".strip(),
        )
    return tuple(entry for entry in found if entry.pattern == pattern)


def last_measured(file: Path, stack: str) -> Entry | None:
    """The latest job whose blank was of that stack and was measured, or None.

    Raises:
        HistoryError: The history cannot be read.
    """
    found = _read(file, "WHERE stack = ? AND measured_mm <> '[]' ORDER BY id DESC LIMIT 1", (stack,))
    return found[0] if found else None


def _read(file: Path, which: str, values: Sequence[str]) -> tuple[Entry, ...]:
    """Entries by the end of a query."""
    if not file.exists():
        return ()
    query = f"SELECT {', '.join(_COLUMNS)} FROM jobs {which}"  # noqa: S608 - our own names and endings
    with _opened(file, write=False) as database:
        if _version_of(database, file) == 0:
            return ()
        rows = database.execute(query, tuple(values)).fetchall()
        try:
            return tuple(_entry(dict(zip(_COLUMNS, row, strict=True))) for row in rows)
        except (TypeError, ValueError) as error:
            raise HistoryError(_damaged(file)) from error


def _entry(row: Mapping[str, Any]) -> Entry:
    measured = tuple(float(each) for each in json.loads(row["measured_mm"]))
    run = json.loads(row["run"])
    return Entry(**{**row, "measured_mm": measured, "run": run if isinstance(run, dict) else {}})


@contextmanager
def _opened(file: Path, *, write: bool) -> Iterator[sqlite3.Connection]:
    """A history, closed again whatever happens; every fault of it as :class:`HistoryError`."""
    done = "written" if write else "read"
    try:
        if write:
            file.parent.mkdir(parents=True, exist_ok=True)
        mode = "rwc" if write else "ro"
        database = sqlite3.connect(
            f"{file.resolve().as_uri()}?mode={mode}", timeout=_WAIT_S, uri=True, isolation_level=None
        )
        try:
            yield database
        finally:
            database.close()
    except sqlite3.OperationalError as error:
        raise HistoryError(f"the history cannot be {done}: {error} ({file})") from error
    except sqlite3.Error as error:
        raise HistoryError(_damaged(file)) from error
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise HistoryError(f"the history cannot be {done}: {reason} ({file})") from error


def _version_of(database: sqlite3.Connection, file: Path) -> int:
    number = int(database.execute("PRAGMA user_version").fetchone()[0])
    if number > _VERSION:
        raise HistoryError(f"the history is of a later version of the program ({file})")
    return number


def _damaged(file: Path) -> str:
    return f"the history is damaged ({file}); move it away, and the next job starts a new one"


# ------------------------------------------------------------------------------------------------ telling


def record_of(entry: Entry) -> dict[str, Any]:
    """A job of the history as data: lengths in mm."""
    return {name: getattr(entry, name) for name in _COLUMNS} | {"measured_mm": list(entry.measured_mm)}


def measured_record(entry: Entry) -> dict[str, Any]:
    """What was last measured, as data: which job, when, and its readings in mm."""
    whole = record_of(entry)
    return {name: whole[name] for name in ("job", "made_at", "pattern", "stack", "measured_mm")}


def suggestion(entry: Entry, units: Units) -> str:
    """What was last measured of a stack, as a hint: a blank's own readings are what counts."""
    low, high = min(entry.measured_mm), max(entry.measured_mm)
    sizes = [format_length(each, units, 3 if units == "in" else 2) for each in (low, high)]
    measured = sizes[0] if sizes[0] == sizes[1] else f"{sizes[0].rpartition(' ')[0]} to {sizes[1]}"
    return (
        f'the last blank of stack "{entry.stack}" measured {measured}, in job {entry.job} on'
        f" {entry.made_at[:10]}; no two are alike: measure this one, and give --measured T,T,..."
    )


def history_of(out: Path, tables: Path | None = None) -> Path:
    """Where the history is kept: beside the jobs, or in the ``out`` folder of the shop whose tables are used.

    Args:
        out: Folder that jobs go into.
        tables: Folder of the shop tables, looked beside when ``out`` has no history.
    """
    here = out / FILE
    if here.exists() or tables is None:
        return here
    shop = tables.parent / "out" / FILE
    return shop if shop.exists() else here
