"""The groups of a DXF file, text or binary, as far as they can be made out; any bytes at all go in.

A DXF file is a list of groups, each a number that says what follows and a value. Nothing here knows what the
groups mean. A line that cannot be a group's number is stepped over and its place kept, so that whatever
stands there can be left out as damaged.

Source: the DXF reference, ASCII DXF Files, Binary DXF Files and Group Code Value Types (from memory).
"""

import re
import struct
from dataclasses import dataclass

import numpy as np

from scalegen.errors import PatternError

Value = bytes | float | int

LARGEST_BYTES = 64_000_000
MOST_GROUPS = 2_000_000
MOST_PACKED_GROUPS = 1_200_000  # these are taken one by one, which takes longer

_BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_CODES = range(-5, 1072)
_CODE = re.compile(rb"\s*[-+]?\d{1,4}\s*\Z")
_OTHER_KINDS = (
    (b"AC10", "a DWG file"),
    (b"%PDF", "a PDF file"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"PK\x03\x04", "a zip archive"),
    (b"ISO-10303-21", "a STEP file"),
    (b"<?xml", "an XML file, perhaps SVG"),
    (b"<svg", "an SVG file"),
    (b"solid ", "an STL file"),
)
# First code of each range and what its values are in a binary file: (t)ext, (d)ouble, (h) 16 bits,
# (i) 32 bits, (q) 64 bits, (b)yte, (c)hunk of bytes.
_RANGES = (
    (-5, "t"),
    (10, "d"),
    (60, "h"),
    (90, "i"),
    (100, "t"),
    (110, "d"),
    (160, "q"),
    (170, "h"),
    (210, "d"),
    (270, "h"),
    (290, "b"),
    (300, "t"),
    (310, "c"),
    (320, "t"),
    (370, "h"),
    (390, "t"),
    (400, "h"),
    (410, "t"),
    (420, "i"),
    (430, "t"),
    (440, "i"),
    (460, "d"),
    (470, "t"),
    (1004, "c"),
    (1005, "t"),
    (1010, "d"),
    (1060, "h"),
    (1071, "i"),
)
_STARTS = [start for start, _ in _RANGES]
_PACKED = {kind: struct.Struct(f"<{kind}") for kind in "dhiqb"}


class TooMuchError(Exception):
    """The drawing holds more than anybody can mean; says what."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Tags:
    """Groups in the order of the file.

    Attributes:
        codes: Group codes.
        values: One value for each code; bytes in a text file, text or number in a binary one.
        torn: Numbers of the groups before which something had to be stepped over.
        ended: The file ends as a drawing should, with EOF.
    """

    codes: list[int]
    values: list[Value]
    torn: tuple[int, ...]
    ended: bool


def read_tags(data: bytes, where: str) -> Tags:
    """Take a file apart.

    Args:
        data: All bytes of the file.
        where: Named in errors.

    Raises:
        PatternError: This is no DXF file.
        TooMuchError: It has more groups than can be gone through in a few seconds.
    """
    if b"SECTION" not in data:
        raise _no_drawing(data, where)
    if data.startswith(_BINARY):
        codes, values, torn = _binary_groups(data)
    else:
        codes, values, torn = _text_groups(data.removeprefix(b"\xef\xbb\xbf"))
    if not any(code == 0 and text_of(value) == "SECTION" for code, value in zip(codes, values, strict=True)):
        raise _no_drawing(data, where)
    ended = any(
        code == 0 and text_of(value) == "EOF" for code, value in zip(codes[-3:], values[-3:], strict=True)
    )
    return Tags(codes=codes, values=values, torn=tuple(torn), ended=ended)


def text_of(value: Value) -> str:
    """A value as text."""
    if not isinstance(value, bytes):
        return str(value)
    value = value.strip()
    try:
        return value.decode("utf-8")
    except UnicodeDecodeError:
        return value.decode("cp1252", "replace")


def _no_drawing(data: bytes, where: str) -> PatternError:
    """Say that this is no DXF file, and what it looks like instead."""
    start = data.lstrip()[:16]
    kind = next((name for mark, name in _OTHER_KINDS if start.startswith(mark)), "")
    looks = "the file is empty" if not start else f"it looks like {kind}" if kind else "it has no sections"
    return PatternError(
        f"this is not a DXF file that can be read ({looks})",
        where=where,
        remedy="open it in the drawing program and save it again as DXF, R2000 or later",
    )


def _text_groups(data: bytes) -> tuple[list[int], list[Value], list[int]]:
    """Codes, values, and where lines were stepped over, of a text file."""
    if data.count(b"\n") > 2 * MOST_GROUPS or data.count(b"\r") > 2 * MOST_GROUPS:
        raise TooMuchError(f"more than {2 * MOST_GROUPS} lines of text")
    lines: list[bytes] = data.splitlines()
    known: dict[bytes, int] = {}
    for line in set(lines[0::2]):
        code = _code(line)
        if code is not None:
            known[line] = code
    first = lines[0:-1:2]
    if all(line in known for line in first):
        return [known[line] for line in first], list(lines[1::2]), []
    codes: list[int] = []
    values: list[Value] = []
    torn: list[int] = []
    k = 0
    while k + 1 < len(lines):
        code = _code(lines[k])
        if code is None:
            if codes and torn[-1:] != [len(codes)]:
                torn.append(len(codes))
            k += 1
        else:
            codes.append(code)
            values.append(lines[k + 1])
            k += 2
    return codes, values, torn


def _code(line: bytes) -> int | None:
    """A group code, or None when the line is none."""
    if not _CODE.match(line):
        return None
    code = int(line)
    return code if code in _CODES else None


def _binary_groups(data: bytes) -> tuple[list[int], list[Value], list[int]]:
    """Codes and values of a binary file, up to its end or to the first thing that makes no sense."""
    codes: list[int] = []
    values: list[Value] = []
    at = len(_BINARY)
    # Old files give codes in one byte (255: two more follow), newer ones in two; the first is always 0.
    wide = data[at : at + 2] == b"\x00\x00"
    kinds = [_RANGES[int(k) - 1][1] for k in np.searchsorted(_STARTS, np.arange(1072), side="right")]
    try:
        while at < len(data):
            if wide or data[at] == 255:
                at += 0 if wide else 1
                code = data[at] | data[at + 1] << 8
                at += 2
            else:
                code = data[at]
                at += 1
            kind = kinds[code]
            if kind == "t":
                end = data.index(b"\x00", at)
                values.append(data[at:end])
                at = end + 1
            elif kind == "c":
                end = at + 1 + data[at]
                values.append(data[at + 1 : end])
                at = end
            else:
                packed = _PACKED[kind]
                values.append(packed.unpack_from(data, at)[0])
                at += packed.size
            codes.append(code)
            if len(codes) > MOST_PACKED_GROUPS:
                raise TooMuchError(f"more than {MOST_PACKED_GROUPS} numbers and words")
    except (IndexError, ValueError, struct.error):
        return codes, values, [len(codes)]
    return codes, values, []
