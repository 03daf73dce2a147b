"""A TOML file from disk as plain data, with one clear error when that cannot be done."""

import difflib
import re
import tomllib
from pathlib import Path
from typing import Any

from scalegen.errors import PatternError

_PLACE = re.compile(r"^(?P<what>.*?) \(at line (?P<line>\d+), column (?P<column>\d+)\)$", re.DOTALL)
_LARGEST_BYTES = 8_000_000


def read_text(path: Path) -> str:
    """Text of a file the user named.

    Args:
        path: The file; UTF-8, with or without a byte order mark.

    Returns:
        Its text without the mark, line ends as they are in the file.

    Raises:
        PatternError: Not there, a folder, not readable, far too large, or not UTF-8.
    """
    try:
        if path.is_dir():
            raise PatternError(
                "this is a folder", where=str(path), remedy="name the .toml file inside it, not the folder"
            )
        if path.exists() and not path.is_file():
            raise PatternError("this is not an ordinary file", where=str(path), remedy="name a .toml file")
        if path.stat().st_size > _LARGEST_BYTES:
            raise PatternError(
                "too large to be a pattern or batch file",
                where=str(path),
                remedy="check the name; a pattern takes a few kilobytes",
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise PatternError("there is no such file", where=str(path), remedy=_nearby(path)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise PatternError(
            f"cannot be read: {reason}", where=str(path), remedy="check the name and your right to read it"
        ) from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise PatternError(
            "not UTF-8 text", where=f"{path}, line {line}", remedy='save the file again as "UTF-8"'
        ) from None


def parse_toml(text: str, path: Path) -> dict[str, Any]:
    """TOML text as plain data.

    Args:
        text: The text.
        path: The file it came from, for messages.

    Returns:
        Tables as dicts, arrays as lists.

    Raises:
        PatternError: Not TOML, with line and column where the parser stopped.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), path) from None
    except RecursionError:
        raise PatternError(
            "lists or tables are nested too deeply", where=str(path), remedy="remove the extra brackets"
        ) from None
    except ValueError as error:
        raise PatternError(
            f"holds a value that cannot be read: {error}",
            where=str(path),
            remedy="look for a date that does not exist, or a number with very many digits",
        ) from None


def _syntax_error(message: str, path: Path) -> PatternError:
    found = _PLACE.match(message)
    what = found["what"] if found else message
    where = f"{path}, line {found['line']}, column {found['column']}" if found else str(path)
    return PatternError(
        f"not valid TOML: {what}",
        where=where,
        remedy="text goes in quotes, decimals take a point, a key or [table] may appear only once",
    )


def _nearby(path: Path) -> str:
    """What to do about a missing file, with the name that was probably meant."""
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except OSError:
        return f"check the name; the folder {path.parent} is not there either"
    close = difflib.get_close_matches(path.name, names, n=1)
    return f"did you mean {path.with_name(close[0])}?" if close else "check the name and the folder"
