"""On which line of a TOML text each field stands.

The TOML readers hand over values only, so the text is gone through a second time, and only once there are
faults to place. The text has been read before and is known to be sound.
"""

import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from scalegen.errors import Fault
from scalegen.fields.words import show_key

_TOKEN: Final = re.compile(
    r"""
    (?P<skip> [ \t\r]+ | \#[^\n]* )
    | (?P<newline> \n )
    | (?P<text> \"{3}(?:\\.|[^\\])*?\"{3}(?!\") | '{3}.*?'{3}(?!') | "(?:\\.|[^"\\\n])*" | '[^'\n]*' )
    | (?P<mark> [\[\]{},=.] )
    | (?P<word> [^\s\[\]{},=.\#"']+ )
    """,
    re.VERBOSE | re.DOTALL,
)
_LAST_STEP: Final = re.compile(r'(?:\[\d+\]|\.?(?:[A-Za-z0-9_-]+|"(?:\\.|[^"\\])*"))$')
_END: Final = ("newline", "\n", 0)


def with_lines(faults: Sequence[Fault], text: str) -> tuple[Fault, ...]:
    """The same faults, each with its line.

    Args:
        faults: Faults of one file.
        text: The TOML text of that file.

    Returns:
        The line is filled in for each fault whose field, or the table or list around it, is in the text; the
        others are as they were.
    """
    numbers = line_numbers(text)
    return tuple(_with_line(fault, numbers) for fault in faults)


def line_numbers(text: str) -> dict[str, int]:
    """Lines of all fields.

    Args:
        text: TOML that has been read without a complaint.

    Returns:
        By field path, entries of lists counted from 1, as in ``pin[2].at[1]``: the line where it starts.
    """
    return _Scan(text).lines


def _with_line(fault: Fault, numbers: dict[str, int]) -> Fault:
    field = fault.field
    while field and field not in numbers:
        shorter = _LAST_STEP.sub("", field, count=1)
        field = shorter if shorter != field else ""
    if not field:
        return fault
    return replace(fault, line=numbers[field])


class _Scan:
    """One walk over a text; ``lines`` is what it finds."""

    def __init__(self, text: str) -> None:
        self.lines: dict[str, int] = {}
        self._counts: dict[str, int] = {}
        self._tokens = _tokens(text)
        self._next = 0
        table = ""
        while not self._done():
            if self._skipped("\n"):
                continue
            if self._skipped("["):
                table = self._header(is_list=self._skipped("["))
            else:
                self._assignment(table)

    def _done(self) -> bool:
        return self._next >= len(self._tokens)

    def _peek(self) -> tuple[str, str, int]:
        return _END if self._done() else self._tokens[self._next]

    def _skipped(self, mark: str) -> bool:
        """Whether the next token is this mark; if so it is taken."""
        kind, text, _ = self._peek()
        found = kind != "text" and text == mark
        self._next += found
        return found

    def _path(self, base: str, end: str) -> str:
        """Take a key with dots up to the mark after it; note the line of each of its steps."""
        path = base
        while not self._done() and not self._skipped(end):
            kind, text, line = self._peek()
            self._next += 1
            if kind == "mark":
                continue
            # A step into a list of tables means the newest table of that list.
            path = f"{path}[{self._counts[path]}]" if path in self._counts else path
            key = show_key(next(iter(tomllib.loads(f"{text} = 0"))) if kind == "text" else text)
            path = f"{path}.{key}" if path else key
            self.lines.setdefault(path, line)
        return path

    def _header(self, *, is_list: bool) -> str:
        line = self._peek()[2]
        path = self._path("", "]")
        if not is_list:
            return path
        self._skipped("]")
        self._counts[path] = self._counts.get(path, 0) + 1
        entry = f"{path}[{self._counts[path]}]"
        self.lines[entry] = line
        return entry

    def _assignment(self, table: str) -> None:
        self._value(self._path(table, "="))

    def _value(self, path: str) -> None:
        """Take a value; note the line of each entry of a list and of each key of a table in it."""
        if self._skipped("["):
            count = 0
            while not self._done() and not self._skipped("]"):
                if self._skipped("\n") or self._skipped(","):
                    continue
                count += 1
                entry = f"{path}[{count}]"
                self.lines[entry] = self._peek()[2]
                self._value(entry)
        elif self._skipped("{"):
            while not self._done() and not self._skipped("}"):
                if not self._skipped("\n") and not self._skipped(","):
                    self._assignment(path)
        else:
            self._next += 1
            while self._peek()[0] in ("text", "word") or self._peek()[1] == ".":
                self._next += 1


def _tokens(text: str) -> list[tuple[str, str, int]]:
    """Tokens of a TOML text: kind, text and line; blanks and comments left out."""
    found = []
    line = 1
    for match in _TOKEN.finditer(text):
        if match.lastgroup and match.lastgroup != "skip":
            found.append((match.lastgroup, match.group(), line))
        line += match.group().count("\n")
    return found
