"""A TOML file from disk as plain data, with one clear error when that cannot be done."""

import re
import tomllib
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

from scalegen.errors import PatternError
from scalegen.fields.words import closest, printable

_LARGEST_BYTES: Final = 8_000_000
_PLACE: Final = re.compile(r"^(?P<what>.*?) \(at line (?P<line>\d+), column (?P<column>\d+)\)$", re.DOTALL)
_COMMENT: Final = re.compile(r"\s#.*")
_KEY: Final = re.compile(r"(?P<key>[\w.-]+)\s*=\s*(?P<value>.*)")
_HEADER: Final = re.compile(r"\[{1,2}(?P<name>[\w.-]+)\]{1,2}")
_COMMA: Final = re.compile(r"[+-]?[0-9]*,[0-9]+")
_FRACTION: Final = re.compile(r"(?:[0-9]+[ -])?[0-9]+/[0-9]+")
_WITH_UNIT: Final = re.compile(r"[+-]?[0-9.][0-9./ -]*(?:\"|″|°|mm|in|deg)", re.IGNORECASE)
_SAID_TWICE: Final = re.compile("twice|overwrite|mutate|redefine", re.IGNORECASE)
_LONGEST_LINE: Final = 60
_GENERAL: Final = (
    "write key = value, text in quotes, decimals with a point; "
    "close every bracket; a key or [table] may appear only once"
)


class UnreadableError(PatternError):
    """A file is not TOML, or cannot be read at all.

    Args:
        message: What is wrong.
        file: The file as the user named it.
        remedy: What to do.
        line: Line where reading stopped, counted from 1; 0 when there is none.
        column: Column there.
    """

    def __init__(self, message: str, *, file: str, remedy: str, line: int = 0, column: int = 0) -> None:
        where = f"{file}, line {line}" if line else file
        super().__init__(message, where=f"{where}, column {column}" if column else where, remedy=remedy)
        self.line = line


def read_text(source: Traversable) -> str:
    """Text of a file the user named, or of one that comes with the program.

    Args:
        source: The file; UTF-8, with or without a byte order mark.

    Returns:
        Its text without the mark, line ends as they are in the file.

    Raises:
        UnreadableError: Not there, a folder, not readable, far too large, or not UTF-8.
    """
    file = str(source)
    try:
        if source.is_dir():
            raise UnreadableError(
                "this is a folder, so it cannot be read", file=file, remedy="name the .toml file inside it"
            )
        if isinstance(source, Path) and source.exists() and not source.is_file():
            raise UnreadableError("this is not an ordinary file", file=file, remedy="name a .toml file")
        with source.open("rb") as stream:
            data = stream.read(_LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableError("there is no such file", file=file, remedy=_nearby(Path(file))) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableError(
            f"cannot be read: {reason}", file=file, remedy="check the name and your right to read it"
        ) from None
    if len(data) > _LARGEST_BYTES:
        remedy = "check the name; such a file takes a few kilobytes"
        raise UnreadableError("too large for a file of this kind", file=file, remedy=remedy)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UnreadableError(
            "not UTF-8 text", file=file, line=line, remedy='save the file again as "UTF-8"'
        ) from None


def parse_toml(text: str, source: Traversable) -> dict[str, Any]:
    """TOML text as plain data.

    Args:
        text: The text.
        source: The file it came from, for messages.

    Returns:
        Tables as dicts, arrays as lists.

    Raises:
        UnreadableError: Not TOML, with line and column where the parser stopped.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), text, str(source)) from None
    except RecursionError:
        raise UnreadableError(
            "lists or tables are nested too deeply", file=str(source), remedy="remove the extra brackets"
        ) from None
    except ValueError as error:
        raise UnreadableError(
            f"holds a value that cannot be read: {error}",
            file=str(source),
            remedy="look for a date that does not exist, or a number that is too long",
        ) from None


def neighbour(path: Path, suffixes: tuple[str, ...] = ()) -> str:
    """The file beside a missing one that was probably meant, or an empty text.

    Args:
        path: The file that is not there.
        suffixes: Endings to choose from; every file counts when there are none.

    Raises:
        OSError: The folder is not there or cannot be read.
    """
    entries = [entry for entry in path.parent.iterdir() if entry.is_file()]
    return closest(path.name, [each.name for each in entries if not suffixes or each.suffix in suffixes])


def _nearby(path: Path) -> str:
    try:
        name = neighbour(path)
    except OSError:
        return f"check the name; the folder {path.parent} is not there either"
    return f"did you mean {path.with_name(name)}?" if name else "check the name and the folder"


def _syntax_error(message: str, text: str, file: str) -> UnreadableError:
    """What the parser said, in words for the one who typed it."""
    found = _PLACE.match(message)
    if found is None:
        return UnreadableError(
            f"not valid TOML: {printable(message)}",
            file=file,
            remedy=f"look at the end of the file; {_GENERAL}",
        )
    number, column = int(found["line"]), int(found["column"])
    line = _COMMENT.sub("", text.split("\n")[number - 1]).strip()
    advice = _advice(line, found["what"])
    return UnreadableError(
        f"not valid TOML: {printable(line[:_LONGEST_LINE] if advice else found['what'])}",
        file=file,
        line=number,
        column=column,
        remedy=advice or _GENERAL,
    )


def _advice(line: str, said: str) -> str:
    """What to do about a line that is not TOML, when it is one of the usual slips; otherwise nothing."""
    header, pair = _HEADER.fullmatch(line), _KEY.fullmatch(line)
    if _SAID_TWICE.search(said):
        if header:
            name = header["name"]
            return f"[{name}] may stand only once; several are written [[{name}]], two brackets each time"
        return f"{pair['key']} is there already; keep one of the two" if pair else ""
    if "Unclosed array" in said or header or (pair and _is_toml(line)):
        return "a comma or a closing ] is missing, here or in the list above"
    if pair is None:
        return ""
    key, value = pair["key"], pair["value"]
    if not value:
        return f"give {key} a value, or remove the line"
    if _COMMA.fullmatch(value):
        return f"decimals take a point: {key} = {value.replace(',', '.')}"
    if value.count('"') == 1 and value.startswith('"'):
        return "close the quotes after the text"
    if _FRACTION.fullmatch(value):
        return f'a fraction goes in quotes, with its unit: {key} = "{value}in"'
    if _WITH_UNIT.fullmatch(value):
        mark = "'" if '"' in value else '"'
        return f"what has a unit goes in quotes: {key} = {mark}{value}{mark}"
    if value[0].isalpha() and not {'"', "'"}.intersection(value):
        return f'text goes in quotes: {key} = "{value}"'
    return ""


def _is_toml(line: str) -> bool:
    try:
        tomllib.loads(line)
    except ValueError:
        return False
    return True
