"""Rows of a shop table become records, every fault noted on the way and none raised."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Generic, TypeVar

from scalegen.errors import Fault
from scalegen.fields.place import Place
from scalegen.fields.table import Table, look_over
from scalegen.fields.words import describe

Record = TypeVar("Record")

Complaint = tuple[str, str, str]
"""Key of a field, what is wrong there, what to do."""


@dataclass(frozen=True, kw_only=True)
class RowKind(Generic[Record]):
    """One kind of row.

    Attributes:
        label: What the rows are called in the file, as in ``[[sheet]]``; empty for the file's top level.
        table: Its fields.
        make: Builds the record from the fields' values by name.
        key: The field that tells the rows apart.
        complaints: What is wrong with a record although each of its fields is fine.
    """

    label: str
    table: Table
    make: Callable[..., Record]
    key: str = "name"
    complaints: Callable[[Record], Iterator[Complaint]] = field(default=lambda _record: iter(()))


@dataclass(frozen=True, kw_only=True)
class Rows(Generic[Record]):
    """Rows of one kind: ``records`` by key, ``places`` by key (of faulty rows too) and faults."""

    records: dict[str, Record]
    places: dict[str, Place]
    faults: tuple[Fault, ...]


def read_rows(content: Mapping[str, Any], kind: RowKind[Record], file: Place) -> Rows[Record]:
    """Read all rows of one kind.

    Args:
        content: What could be read at the top level of the file.
        kind: What the rows are like.
        file: The file.

    Returns:
        The rows that could be read and the faults of all; places count rows from 1, as in ``sheet[1]``.
    """
    records: dict[str, Record] = {}
    places: dict[str, Place] = {}
    faults: list[Fault] = []
    for count, raw in enumerate(content.get(kind.label, []), start=1):
        place = file.key(kind.label).item(count)
        name = raw.get(kind.key) if isinstance(raw, dict) else None
        row = read_row(raw, kind, place)
        faults += [_naming(fault, name) for fault in row[1]]
        if not isinstance(name, str):
            continue
        if name in places:
            words = f"{describe(name)} is there already, in {places[name].field}"
            faults.append(place.key(kind.key).fault(words, "give each its own"))
            continue
        places[name] = place
        if row[0] is not None:
            records[name] = row[0]
    return Rows(records=records, places=places, faults=tuple(faults))


def read_row(raw: object, kind: RowKind[Record], place: Place) -> tuple[Record | None, tuple[Fault, ...]]:
    """Read one row.

    Args:
        raw: What is there.
        kind: What it should be like.
        place: Its place in the file.

    Returns:
        The record, None when a field of it cannot be used, and the faults.
    """
    if not isinstance(raw, dict):
        return None, (
            place.fault(f"{describe(raw)} where a row belongs", f"start each row with [[{kind.label}]]"),
        )
    reading = look_over(raw, kind.table, place)
    if not reading.whole:
        return None, reading.faults
    record = kind.make(**reading.values)
    complaints = [place.key(key).fault(found, allowed) for key, found, allowed in kind.complaints(record)]
    return record, (*reading.faults, *complaints)


def _naming(fault: Fault, name: object) -> Fault:
    """The same fault with the row's name, which is easier to find than its number."""
    if not isinstance(name, str) or not name:
        return fault
    hint = f"in {describe(name)}"
    return replace(fault, hint=f"{hint}; {fault.hint}" if fault.hint else hint)
