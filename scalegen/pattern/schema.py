"""Tables of fields: what a file may hold, and every fault in what it does hold.

A :class:`Table` lists its :class:`Field` s; :func:`read_table` takes plain data through it. A parser
either returns a value or raises :class:`Refused` with its faults; a table collects the faults of all its
fields before it raises, so a user sees everything at once.

Field paths count list entries from 1: ``pin[2].at`` is the ``at`` of the second ``[[pin]]``.
"""

import datetime as dt
import difflib
import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from scalegen.errors import Fault
from scalegen.model import Units

_BARE_KEY = re.compile(r"^[A-Za-z0-9_-]{1,40}$")
_LONGEST_SHOWN = 40
ABSENT = object()


class Refused(ValueError):  # noqa: N818 - it is a way to hand faults up, not an error a user sees
    """A value is not what its field takes; carries one fault or many."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = faults


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a value stands: ``field`` inside ``file``; ``folder`` and ``units`` explain what it means."""

    file: str
    folder: Path
    units: Units = "mm"
    field: str = ""

    def key(self, name: str) -> "Place":
        """The place of a key inside this one."""
        shown = show_key(name)
        return replace(self, field=f"{self.field}.{shown}" if self.field else shown)

    def item(self, number: int) -> "Place":
        """The place of an entry inside this one; ``number`` counts from 1."""
        return replace(self, field=f"{self.field}[{number}]")

    def fault(self, found: str, allowed: str, hint: str = "") -> Fault:
        """A fault at this place."""
        return Fault(file=self.file, field=self.field, found=found, allowed=allowed, hint=hint)

    def refuse(self, value: object, allowed: str, hint: str = "") -> Refused:
        """An error saying that ``value`` at this place is not ``allowed``."""
        return Refused(self.fault(describe(value), allowed, hint))


Parser = Callable[[object, Place], Any]


@dataclass(frozen=True, kw_only=True)
class Field:
    """One key of a table.

    Attributes:
        name: Key in the file.
        parse: Turns the raw value into the record's, or raises :class:`Refused`.
        to: Name in the parsed values; the key itself when empty.
        needed: Must be there.
        default: Value when the key is not there; left out of the values when ABSENT.
        only_for: Another key of the same table and the words of it that this key belongs to.
        allowed: What the key takes, for the message that it is missing.
        table: The table inside, when the value is a table or a list of tables.
        many: The value is a list of tables.
    """

    name: str
    parse: Parser
    to: str = ""
    needed: bool = False
    default: Any = ABSENT
    only_for: tuple[str, tuple[str, ...]] | None = None
    allowed: str = ""
    table: "Table | None" = None
    many: bool = False

    @property
    def target(self) -> str:
        """Name in the parsed values."""
        return self.to or self.name


@dataclass(frozen=True, kw_only=True)
class Table:
    """All keys of one table.

    Attributes:
        fields: The keys.
        one_of: Groups of keys of which exactly one must be there.
        not_both: Groups of keys of which at most one may be there.
    """

    fields: tuple[Field, ...]
    one_of: tuple[tuple[str, ...], ...] = ()
    not_both: tuple[tuple[str, ...], ...] = ()
    by_name: Mapping[str, Field] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {entry.name: entry for entry in self.fields})


def read_table(raw: object, table: Table, place: Place) -> dict[str, Any]:
    """Take plain data through a table of fields.

    Args:
        raw: What the TOML reader gave, expected to be a mapping.
        table: The fields.
        place: Where the table stands.

    Returns:
        Parsed values by each field's target, defaults filled in.

    Raises:
        Refused: With every fault found, those of keys in the order of the file first.
    """
    if not isinstance(raw, Mapping):
        keys = ", ".join(table.by_name)
        raise place.refuse(raw, f"must be a table with keys {keys}")
    faults: list[Fault] = []
    values: dict[str, Any] = {}
    broken: set[str] = set()
    guessed: set[str] = set()
    for key, item in raw.items():
        entry = table.by_name.get(key)
        if entry is None:
            guess = closest(key, [name for name in table.by_name if name not in raw])
            guessed.add(guess)
            faults.append(_unknown(place.key(key), table, guess))
            continue
        try:
            values[entry.target] = entry.parse(item, place.key(key))
        except Refused as refusal:
            faults.extend(refusal.faults)
            broken.add(key)
    choices = _choices(values, table, broken)
    faults.extend(_misplaced(raw, table, choices, place))
    faults.extend(_missing(raw, table, choices, guessed, place))
    faults.extend(_counted(raw, table, guessed, place))
    if faults:
        raise Refused(*faults)
    for entry in table.fields:
        if entry.name not in raw and entry.default is not ABSENT:
            values[entry.target] = entry.default
    return values


def closest(word: str, words: Sequence[str]) -> str:
    """The one of ``words`` that was probably meant, or an empty string."""
    close = difflib.get_close_matches(word.lower(), words, n=1)
    return close[0] if close else ""


def describe(value: object) -> str:
    """A value and its type on one short line, for a message."""
    match value:
        case bool():
            return f"{str(value).lower()} (yes or no)"
        case str():
            text = value if len(value) <= _LONGEST_SHOWN else f"{value[:_LONGEST_SHOWN]}..."
            return f"{json.dumps(text, ensure_ascii=not text.isprintable())} (text)"
        case int():
            return f"{value} (a number)" if abs(value) < 10**12 else "a whole number with very many digits"
        case float():
            return f"{value!r} (a number)"
        case Mapping():
            return f"a table with {_count(len(value), 'key')}"
        case list() | tuple():
            return f"a list of {_count(len(value), 'entry')}"
        case dt.date() | dt.time():
            return f"{value.isoformat()} (a date or time)"
        case _:
            return f"a value of type {type(value).__name__}"


def show_key(name: str) -> str:
    """A key as it goes into a field path: quoted and cut when it is not a plain word."""
    if _BARE_KEY.match(name):
        return name
    return json.dumps(name if len(name) <= _LONGEST_SHOWN else f"{name[:_LONGEST_SHOWN]}...")


def _count(number: int, noun: str) -> str:
    plural = f"{noun[:-1]}ies" if noun.endswith("ry") else f"{noun}s"
    return f"{number} {noun if number == 1 else plural}"


def _unknown(place: Place, table: Table, guess: str) -> Fault:
    known = f"the keys here are {', '.join(table.by_name)}"
    return place.fault("unknown key", known, f"did you mean {guess}?" if guess else "")


def _choices(values: Mapping[str, Any], table: Table, broken: set[str]) -> dict[str, Any]:
    """The word each key that others depend on has; None when that key is faulty."""
    named = {entry.only_for[0] for entry in table.fields if entry.only_for}
    found: dict[str, Any] = {}
    for name in named:
        entry = table.by_name[name]
        found[name] = None if name in broken else values.get(entry.target, entry.default)
    return found


def _misplaced(
    raw: Mapping[str, object], table: Table, choices: Mapping[str, Any], place: Place
) -> Iterator[Fault]:
    for entry in table.fields:
        if entry.name not in raw or entry.only_for is None:
            continue
        name, words = entry.only_for
        if choices[name] is not None and choices[name] not in words:
            owner = " or ".join(f'{name} = "{word}"' for word in words)
            yield place.key(entry.name).fault(
                f'does not go with {name} = "{choices[name]}"',
                f"belongs to {owner}",
                f"remove {entry.name}, or change {name}",
            )


def _missing(
    raw: Mapping[str, object],
    table: Table,
    choices: Mapping[str, Any],
    guessed: set[str],
    place: Place,
) -> Iterator[Fault]:
    for entry in table.fields:
        if not entry.needed or entry.name in raw or entry.name in guessed:
            continue
        if entry.only_for is not None and choices[entry.only_for[0]] not in entry.only_for[1]:
            continue
        yield place.key(entry.name).fault("is missing", entry.allowed)


def _counted(raw: Mapping[str, object], table: Table, guessed: set[str], place: Place) -> Iterator[Fault]:
    for group in (*table.one_of, *table.not_both):
        there = [name for name in group if name in raw]
        if len(there) > 1:
            yield place.fault(f"has both {' and '.join(there)}", "give only one of them")
        elif not there and group in table.one_of and not guessed.intersection(group):
            yield place.fault(f"has neither {' nor '.join(group)}", "give one of them")
