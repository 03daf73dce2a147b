"""Change fields of a pattern file while its comments, order and layout stay as the user left them."""

import re
from collections.abc import Mapping, MutableMapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item
from tomlkit.items import Table as TomlTable

from scalegen.errors import PatternError, UsageError
from scalegen.fields.files import parse_toml, read_text
from scalegen.fields.table import Field, Table
from scalegen.fields.whole import replace_text
from scalegen.fields.words import closest
from scalegen.pattern.read import pattern_from_data
from scalegen.pattern.tables import PATTERN

_LONE_LINE_FEED = re.compile(r"(?<!\r)\n")
_BY_HAND = "put that right in the file first"
_STEP = re.compile(r"(?P<key>[A-Za-z0-9_-]+)(?:\[(?P<number>[1-9][0-9]{0,3})\])?")


@dataclass(frozen=True, kw_only=True)
class _Step:
    """One step of a field path: a key, and which entry of its list (from 1) when it is one."""

    key: str
    number: int | None
    inline: bool


def edited_text(path: Path, changes: Mapping[str, object]) -> str:
    """Text of a pattern file with some fields changed or added.

    Args:
        path: The file; it is left alone.
        changes: New values by field path, such as ``{"scale.thickness": 6.2, "pin[2].at": [30, 1.5]}``.
            List entries count from 1; one past the last adds a ``[[pin]]``. Bare numbers are in the
            file's units. None removes the field.

    Returns:
        The new text; everything that was not changed is as it was. Whether the new values are sound is
        not checked here.

    Raises:
        UsageError: A path is not a field of a pattern file, or a value has no TOML form.
        PatternError: The file cannot be read or is not TOML.
    """
    text = read_text(path)
    parse_toml(text, path)
    document = _document(text, path)
    for where, value in changes.items():
        steps = _steps(where)
        holder = _holder(document, steps, where)
        if value is None:
            holder.pop(steps[-1].key, None)
        else:
            _put(holder, steps[-1].key, _item(value, where))
    changed = tomlkit.dumps(document)
    return _LONE_LINE_FEED.sub("\r\n", changed) if "\r\n" in text else changed


def write_edited(path: Path, changes: Mapping[str, object]) -> None:
    """Change fields of a pattern file on disk, all or nothing.

    The new text is written beside the file, read back and checked as a pattern, and only then put in its
    place.

    Args:
        path: The file.
        changes: As for :func:`edited_text`.

    Raises:
        UsageError: As for :func:`edited_text`.
        PatternError: The file cannot be read, or would be faulty after the change; it is untouched.
        WriteError: The folder or file cannot be written; the file is untouched.
    """
    text = edited_text(path, changes)
    replace_text(path, text, lambda spare: _check(spare, path))


def _check(spare: Path, path: Path) -> None:
    """Read a file as the pattern at ``path``."""
    pattern_from_data(parse_toml(read_text(spare), path), path)


def _document(text: str, path: Path) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise PatternError(f"not valid TOML: {error}", where=str(path), remedy="simplify that line") from None


def _steps(where: str) -> list[_Step]:
    """Take a field path apart and check it against the fields a pattern file may have."""
    table: Table | None = PATTERN
    steps: list[_Step] = []
    for part in where.split("."):
        found = _STEP.fullmatch(part)
        if found is None or table is None:
            raise _unknown(where, table, part)
        field = table.by_name.get(found["key"])
        if field is None or field.many != (found["number"] is not None):
            raise _unknown(where, table, found["key"])
        number = int(found["number"]) if found["number"] else None
        steps.append(_Step(key=field.name, number=number, inline=len(steps) > 0))
        table = field.table
    if table is not None and len(steps) == 1:
        # Small tables inside a section may be set whole; a section is more than one line and may not.
        names = ", ".join(table.by_name)
        raise UsageError(f"{where} is a whole table", remedy=f"name one field in it: {names}")
    return steps


def _unknown(where: str, table: Table | None, key: str) -> UsageError:
    if table is None:
        return UsageError(
            f"{where} is not a field of a pattern file", remedy="the field before it ends there"
        )
    names = [_shown(field) for field in table.fields]
    guess = closest(key, list(table.by_name))
    meant = f"did you mean {_shown(table.by_name[guess])}? " if guess else ""
    return UsageError(
        f"{where} is not a field of a pattern file", remedy=f"{meant}The fields there: {', '.join(names)}"
    )


def _shown(field: Field) -> str:
    return f"{field.name}[1]" if field.many else field.name


def _holder(document: Any, steps: list[_Step], where: str) -> MutableMapping[str, Any]:  # noqa: ANN401 - tomlkit
    """The table that the last step's key stands in, made when it is not there yet."""
    holder: Any = document
    for step in steps[:-1]:
        if step.number is not None:
            holder = _entry(holder, step, where)
            continue
        if step.key not in holder:
            _put(holder, step.key, tomlkit.inline_table() if step.inline else tomlkit.table())
        holder = holder[step.key]
        if not isinstance(holder, MutableMapping):
            raise UsageError(f"{step.key} is not a table, so {where} cannot be set in it", remedy=_BY_HAND)
    found: MutableMapping[str, Any] = holder
    return found


def _put(holder: MutableMapping[str, Any], key: str, item: Item) -> None:
    """Set a key; a new one goes right after the last key, ahead of comments that lead to what follows."""
    tail = []
    if key not in holder and isinstance(holder, TomlTable):
        body = holder.value.body
        while body and body[-1][0] is None:
            tail.append(body.pop())
        holder[key] = item
        body.extend(reversed(tail))
    else:
        holder[key] = item


def _entry(holder: Any, step: _Step, where: str) -> Any:  # noqa: ANN401 - tomlkit
    """One table of a list of tables; one past the last is added."""
    entries = holder.get(step.key)
    if entries is None:
        entries = holder[step.key] = tomlkit.aot()
    if not isinstance(entries, AoT):
        raise UsageError(f"{step.key} is not written as [[{step.key}]]", remedy=_BY_HAND, where=where)
    number = step.number or 1
    if number == len(entries) + 1:
        added = tomlkit.table()
        added.trivia.indent = "\n"
        entries.append(added)
        entries = holder[step.key]
    if number > len(entries):
        raise UsageError(
            f"there are {len(entries)} entries of {step.key}",
            where=where,
            remedy=f"count from 1; {step.key}[{len(entries) + 1}] adds one",
        )
    return entries[number - 1]


def _item(value: object, where: str) -> Item:
    try:
        if not isinstance(value, Mapping):
            return tomlkit.item(value)
        inline = tomlkit.inline_table()
        inline.update(value)
    except (TOMLKitError, ValueError, TypeError) as error:
        raise UsageError(f"{where}: this value cannot stand in a TOML file: {error}") from None
    return inline
