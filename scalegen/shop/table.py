"""Reading one table file: rows into records, every fault noted on the way and none raised."""

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib.resources.abc import Traversable
from typing import Any, Generic, TypeVar

from scalegen.errors import Fault
from scalegen.model import Units
from scalegen.shop.fields import NEEDED, CellError, Field, suggest
from scalegen.units import InputError, describe

Record = TypeVar("Record")

Complaint = tuple[str, str, str]
"""Key of a field, what is wrong there, what is allowed instead."""


@dataclass(frozen=True, kw_only=True)
class TableFile:
    """A table file once read: its name for messages, the unit of bare lengths, and what it holds.

    ``readable`` is False when nothing could be read from it, so that nothing is missed in it either.
    """

    file: str
    units: Units
    content: Mapping[str, Any]
    readable: bool = True


@dataclass(frozen=True, kw_only=True)
class RowKind(Generic[Record]):
    """One kind of row.

    Attributes:
        label: What the rows are called in the file, as in ``[[sheet]]``; empty for the file's top level.
        fields: Its fields.
        make: Builds the record from the fields' values by name.
        key: The field that tells the rows apart.
        complaints: What is wrong with a record although each of its fields is fine.
    """

    label: str
    fields: tuple[Field, ...]
    make: Callable[..., Record]
    key: str = "name"
    complaints: Callable[[Record], Iterator[Complaint]] = field(default=lambda _record: iter(()))


@dataclass(frozen=True, kw_only=True)
class Row(Generic[Record]):
    """One row once read: its ``record``, None when a field of it cannot be used, and its faults."""

    record: Record | None
    faults: tuple[Fault, ...]


@dataclass(frozen=True, kw_only=True)
class Rows(Generic[Record]):
    """Rows of one kind: ``records`` by key, ``places`` of each, ``named`` (faulty rows too) and faults."""

    records: dict[str, Record]
    places: dict[str, str]
    named: frozenset[str]
    faults: tuple[Fault, ...]


def open_table(source: Traversable, file: str, labels: Sequence[str]) -> tuple[TableFile, tuple[Fault, ...]]:
    """Read a TOML file as far as its top level.

    Args:
        source: The file.
        file: Its name in messages.
        labels: Keys that may stand at its top level beside ``units``.

    Returns:
        The table, empty when it cannot be read, and the faults found.
    """
    empty = TableFile(file=file, units="mm", content={}, readable=False)
    try:
        content = tomllib.loads(source.read_bytes().decode("utf-8-sig"))
    except FileNotFoundError:
        hint = '"scalegen init" lays out a folder that has every table'
        return empty, (Fault(file=file, field="", found="no such file", allowed="", hint=hint),)
    except OSError as error:
        reason = error.strerror or "the system refused it"
        return empty, (Fault(file=file, field="", found=f"cannot be read: {reason}", allowed=""),)
    except UnicodeDecodeError as error:
        where = f"byte {error.start} is not UTF-8"
        return empty, (
            Fault(file=file, field="", found=where, allowed="", hint="save the file as UTF-8 text"),
        )
    except tomllib.TOMLDecodeError as error:
        return empty, (Fault(file=file, field="", found=f"not a TOML file: {error}", allowed=""),)
    except (ValueError, RecursionError) as error:
        text = "nested too deeply" if isinstance(error, RecursionError) else "a number in it is too long"
        return empty, (Fault(file=file, field="", found=f"not a TOML file: {text}", allowed=""),)
    faults = _unknown_keys(content, ("units", *labels), file, "")
    units: Units = "in" if content.get("units") == "in" else "mm"
    if content.get("units", units) != units:
        found = f"{describe(content['units'])} is not a unit known here"
        faults += (Fault(file=file, field="units", found=found, allowed='give "mm" or "in"'),)
    return TableFile(file=file, units=units, content=content), faults


def read_rows(table: TableFile, kind: RowKind[Record]) -> Rows[Record]:
    """Read all rows of one kind.

    Args:
        table: The file's content.
        kind: What the rows are like.

    Returns:
        The rows that could be read and the faults of all; places count rows from 1, as in ``sheet[1]``.
    """
    raw = table.content.get(kind.label, [])
    if not isinstance(raw, list):
        found = f"{describe(raw)} where rows belong"
        fault = Fault(
            file=table.file, field=kind.label, found=found, allowed=f"start each row with [[{kind.label}]]"
        )
        return Rows(records={}, places={}, named=frozenset(), faults=(fault,))
    records: dict[str, Record] = {}
    places: dict[str, str] = {}
    faults: list[Fault] = []
    for index, row in enumerate(raw, start=1):
        place = f"{kind.label}[{index}]"
        read = read_row(table, kind, row, place)
        name = row.get(kind.key) if isinstance(row, dict) else None
        faults += [_naming(fault, name) for fault in read.faults]
        if isinstance(name, str) and name in places:
            found = f"{describe(name)} is there already, in {places[name]}"
            faults.append(
                Fault(
                    file=table.file,
                    field=f"{place}.{kind.key}",
                    found=found,
                    allowed="each needs its own name",
                )
            )
            continue
        if isinstance(name, str):
            places[name] = place
            if read.record is not None:
                records[name] = read.record
    return Rows(records=records, places=places, named=frozenset(places), faults=tuple(faults))


def read_row(table: TableFile, kind: RowKind[Record], row: object, place: str) -> Row[Record]:
    """Read one row.

    Args:
        table: The file it stands in.
        kind: What it should be like.
        row: What is there.
        place: Its place in the file; empty for the top level, whose keys :func:`open_table` has seen to.

    Returns:
        The row.
    """
    if not isinstance(row, dict):
        found = f"{describe(row)} where a row belongs"
        fault = Fault(
            file=table.file, field=place, found=found, allowed=f"start each row with [[{kind.label}]]"
        )
        return Row(record=None, faults=(fault,))
    known = [each.key for each in kind.fields]
    faults = list(_unknown_keys(row, known, table.file, place)) if place else []
    values: dict[str, Any] = {}
    for each in kind.fields:
        try:
            if each.key in row:
                values[each.name] = each.parse(row[each.key], table.units)
            elif each.default is NEEDED:
                raise CellError("missing", each.allowed)
            else:
                values[each.name] = each.default
        except InputError as error:
            faults.append(_fault(table.file, _path(place, each.key), error))
    if len(values) < len(kind.fields):
        return Row(record=None, faults=tuple(faults))
    record = kind.make(**values)
    faults += [
        Fault(file=table.file, field=_path(place, key), found=found, allowed=allowed)
        for key, found, allowed in kind.complaints(record)
    ]
    return Row(record=record, faults=tuple(faults))


def _path(place: str, key: str) -> str:
    shown = key if key.isprintable() and len(key) <= 60 else describe(key)
    return f"{place}.{shown}" if place else shown


def _naming(fault: Fault, name: object) -> Fault:
    """The same fault with the row's name, which is easier to find than its number."""
    if not isinstance(name, str) or not name:
        return fault
    hint = f"in {describe(name)}"
    return replace(fault, hint=f"{hint}; {fault.hint}" if fault.hint else hint)


def _fault(file: str, path: str, error: InputError) -> Fault:
    return Fault(file=file, field=path, found=error.found, allowed=error.allowed, hint=error.hint)


def _unknown_keys(
    content: Mapping[str, Any], known: Sequence[str], file: str, place: str
) -> tuple[Fault, ...]:
    """A fault for each key that nothing reads."""
    return tuple(
        Fault(
            file=file,
            field=_path(place, key),
            found="not a field known here",
            allowed=f"known: {', '.join(known)}",
            hint=suggest(key, known),
        )
        for key in content
        if key not in known
    )
