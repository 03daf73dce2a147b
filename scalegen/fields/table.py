"""Tables of fields: what a file may hold, and every fault in what it does hold.

A :class:`Table` lists its fields; :func:`look_over` takes plain data through it and notes each fault on
the way; :func:`read_table` does the same and raises them all at once.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from scalegen.errors import Fault
from scalegen.fields.place import Place, Refused
from scalegen.fields.words import closest, describe, listed
from scalegen.units import InputError

NEEDED: Final = object()
"""Default of a field that must be there."""

ABSENT: Final = object()
"""Default of a field that is left out of the values when it is not there."""


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of value.

    Attributes:
        parse: Turns a raw value at a place into the record's. Raises :class:`~scalegen.units.InputError`
            about the value itself, or :class:`Refused` with faults inside it.
        allowed: What to give, for messages.
        suffix: What the record's name for it ends in, such as "_mm".
        table: The table inside, when the value is a table or a list of tables.
        many: The value is a list of tables.
    """

    parse: Callable[[object, Place], Any]
    allowed: str
    suffix: str = ""
    table: "Table | None" = None
    many: bool = False

    def read(self, value: object, place: Place) -> Any:  # noqa: ANN401 - whatever the record holds
        """As ``parse``, but every way to refuse is :class:`Refused`."""
        try:
            return self.parse(value, place)
        except InputError as error:
            raise Refused(place.fault(error.found, error.allowed, error.hint)) from None


@dataclass(frozen=True, kw_only=True)
class Field:
    """One key of a table; :func:`need` and :func:`may` make them.

    Attributes:
        name: Key in the file.
        kind: What it takes.
        target: Name in the record.
        default: Value when the key is not there, or NEEDED, or ABSENT.
        only_for: Another key of the same table and the words of it that this key belongs to.
    """

    name: str
    kind: Kind
    target: str
    default: object
    only_for: tuple[str, tuple[str, ...]] | None = None

    @property
    def table(self) -> "Table | None":
        """The table inside, when the value is a table or a list of tables."""
        return self.kind.table

    @property
    def many(self) -> bool:
        """Whether the value is a list of tables."""
        return self.kind.many


def need(
    name: str, kind: Kind, *, to: str = "", only_for: tuple[str, tuple[str, ...]] | None = None
) -> Field:
    """A field that must be there; ``to`` is its name in the record when that is not key and suffix."""
    return Field(name=name, kind=kind, target=to or name + kind.suffix, default=NEEDED, only_for=only_for)


def may(
    name: str,
    kind: Kind,
    *,
    to: str = "",
    default: object = ABSENT,
    only_for: tuple[str, tuple[str, ...]] | None = None,
) -> Field:
    """A field that may be left out; otherwise as :func:`need`."""
    return Field(name=name, kind=kind, target=to or name + kind.suffix, default=default, only_for=only_for)


@dataclass(frozen=True, kw_only=True)
class Table:
    """All keys of one table.

    Attributes:
        fields: The keys.
        one_of: Groups of keys of which exactly one must be there.
        not_both: Groups of keys of which at most one may be there.
        by_name: The fields by key.
    """

    fields: tuple[Field, ...]
    one_of: tuple[tuple[str, ...], ...] = ()
    not_both: tuple[tuple[str, ...], ...] = ()
    by_name: Mapping[str, Field] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {entry.name: entry for entry in self.fields})


def table_of(
    *fields: Field, one_of: tuple[tuple[str, ...], ...] = (), not_both: tuple[tuple[str, ...], ...] = ()
) -> Table:
    """A table with these fields."""
    return Table(fields=fields, one_of=one_of, not_both=not_both)


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What was found in a table.

    Attributes:
        values: What could be read, by each field's target, defaults filled in.
        faults: Every fault: those of keys in the order of the file, then what is missing.
        whole: Every field that must be there could be read, even when something else is wrong.
    """

    values: Mapping[str, Any]
    faults: tuple[Fault, ...]
    whole: bool


def read_table(raw: object, table: Table, place: Place) -> Mapping[str, Any]:
    """Take plain data through a table of fields.

    Args:
        raw: What the TOML reader gave, expected to be a mapping.
        table: The fields.
        place: Where the table stands.

    Returns:
        Values by each field's target, defaults filled in.

    Raises:
        Refused: With every fault found.
    """
    reading = look_over(raw, table, place)
    if reading.faults:
        raise Refused(*reading.faults)
    return reading.values


def look_over(raw: object, table: Table, place: Place) -> Reading:
    """As :func:`read_table`, with the faults beside what could be read."""
    if not isinstance(raw, Mapping):
        fault = place.fault(f"{describe(raw)} is not a table", f"give {listed(table.by_name)} in a table")
        return Reading(values={}, faults=(fault,), whole=False)
    faults: list[Fault] = []
    values: dict[str, Any] = {}
    guessed: set[str] = set()
    for key, item in raw.items():
        entry = table.by_name.get(key)
        if entry is None:
            free = [name for name in table.by_name if name not in raw]
            near = closest(key, free) or closest(key, table.by_name)
            guessed.add(near)
            faults.append(_unknown(key, table, place, near))
            continue
        try:
            values[entry.target] = entry.kind.read(item, place.key(key))
        except Refused as refusal:
            faults.extend(refusal.faults)
    # A default must not stand in for a key that is there but faulty.
    spare = {entry.target: entry.default for entry in table.fields if entry.name not in raw}
    values |= {target: value for target, value in spare.items() if value not in (NEEDED, ABSENT)}
    missing = [entry for entry in table.fields if _lacks(entry, raw, values, table)]
    faults.extend(_misplaced(raw, table, values, place))
    faults.extend(
        place.key(entry.name).fault("is missing", entry.kind.allowed)
        for entry in missing
        if entry.name not in guessed
    )
    faults.extend(_counted(raw, table, guessed, place))
    broken = any(entry.name in raw and entry.target not in values for entry in table.fields)
    return Reading(values=values, faults=tuple(faults), whole=not missing and not broken)


def homes(table: Table) -> dict[str, str]:
    """Where each key of a file goes, for the reader who put it elsewhere.

    Args:
        table: The fields of the whole file.

    Returns:
        By key: such as "under [scale]", or the top of the file for keys outside all tables.
    """
    places: dict[str, list[str]] = {}
    for entry in table.fields:
        if entry.table is None:
            places.setdefault(entry.name, []).append("at the top of the file, ahead of the first [table]")
            continue
        head = f"under [[{entry.name}]]" if entry.many else f"under [{entry.name}]"
        for inner in entry.table.fields:
            places.setdefault(inner.name, []).append(head)
    return {key: " or ".join(found) for key, found in places.items()}


def _unknown(key: str, table: Table, place: Place, near: str) -> Fault:
    """The fault of a key that nothing reads, with the key or the place that was probably meant."""
    there = place.key(key)
    if key in place.homes:
        return there.fault("does not go here", f"it goes {place.homes[key]}")
    hint = f'did you mean "{near}"?' if near else ""
    return there.fault("not a field known here", f"the fields here are {listed(table.by_name)}", hint)


def _chosen(entry: Field, values: Mapping[str, Any], table: Table) -> object:
    """The word of the key that a field depends on; None when that key is faulty."""
    return values.get(table.by_name[entry.only_for[0]].target) if entry.only_for else None


def _lacks(entry: Field, raw: Mapping[str, object], values: Mapping[str, Any], table: Table) -> bool:
    """Whether a field must be there and is not."""
    if entry.default is not NEEDED or entry.name in raw:
        return False
    return entry.only_for is None or _chosen(entry, values, table) in entry.only_for[1]


def _misplaced(
    raw: Mapping[str, object], table: Table, values: Mapping[str, Any], place: Place
) -> Iterator[Fault]:
    """Faults of keys that do not go with the word chosen beside them."""
    for entry in table.fields:
        chosen = _chosen(entry, values, table)
        if entry.name not in raw or entry.only_for is None or chosen is None:
            continue
        name, words = entry.only_for
        if chosen not in words:
            yield place.key(entry.name).fault(
                f'does not go with {name} = "{chosen}"',
                "it belongs to " + " or ".join(f'{name} = "{word}"' for word in words),
                f"remove {entry.name}, or change {name}",
            )


def _counted(raw: Mapping[str, object], table: Table, guessed: set[str], place: Place) -> Iterator[Fault]:
    """Faults of keys that exclude each other, or of which one must be there."""
    for group in (*table.one_of, *table.not_both):
        there = [name for name in group if name in raw]
        if len(there) > 1:
            yield place.fault(f"has both {' and '.join(there)}", "give only one of them")
        elif not there and group in table.one_of and not guessed.intersection(group):
            yield place.fault(f"has neither {' nor '.join(group)}", "give one of them")
