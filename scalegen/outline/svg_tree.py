"""The elements of an SVG file, read without ever looking outside the file and within fixed bounds."""

import gzip
import io
import zlib
from dataclasses import dataclass, field
from xml.parsers import expat

from scalegen.errors import PatternError

MOST_ELEMENTS = 60_000
DEEPEST = 400

_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"
_LARGEST_BYTES = 64_000_000
_LARGEST_WITH_ENTITIES = 4_000_000
_LONGEST_ENTITY = 120
_MOST_ENTITIES = 100
_MOST_ATTRIBUTES = 600_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Node:
    """An element.

    Attributes:
        tag: Local name; empty when it belongs to another vocabulary than SVG.
        values: Attributes by local name; ``href`` also for the older ``xlink:href``.
        children: Elements inside, in order.
        line: Line of the file it begins on.
        text: What stands between its tags, kept for ``style`` only.
    """

    tag: str
    values: dict[str, str]
    line: int
    children: list["Node"] = field(default_factory=list)
    text: list[str] = field(default_factory=list)


class _RefusedError(Exception):
    """The file is refused for a reason; carried through the parser."""


class _TooMuchError(_RefusedError):
    """The reason is that there is too much in it."""


class _Builder:
    """Callbacks of the parser: builds the tree and keeps to the bounds."""

    def __init__(self, parser: expat.XMLParserType, size: int) -> None:
        self.root: Node | None = None
        self._parser = parser
        self._size = size
        self._open: list[Node] = []
        self._count = 0
        self._entities = 0

    def start(self, name: str, values: dict[str, str]) -> None:
        self._count += 1
        if self._count > MOST_ELEMENTS or len(self._open) > DEEPEST:
            many = self._count > MOST_ELEMENTS
            raise _TooMuchError(
                f"more than {MOST_ELEMENTS} elements" if many else f"more than {DEEPEST} levels deep"
            )
        node = Node(tag=_local(name), values=_attributes(values), line=self._parser.CurrentLineNumber)
        if self._open:
            self._open[-1].children.append(node)
        else:
            self.root = node
        self._open.append(node)

    def end(self, _: str) -> None:
        self._open.pop()

    def data(self, text: str) -> None:
        if self._open and self._open[-1].tag == "style":
            self._open[-1].text.append(text)

    def entity(
        self,
        name: str,
        is_parameter: bool,
        value: str | None,
        _base: str | None,
        _system: str | None,
        _public: str | None,
        _notation: str | None,
    ) -> None:
        self._entities += 1
        if value is None or is_parameter:
            raise _RefusedError(f"the entity {name[:40]!r} stands for something outside the file")
        if len(value) > _LONGEST_ENTITY or "&" in value or "<" in value or self._entities > _MOST_ENTITIES:
            raise _RefusedError(f"the entity {name[:40]!r} is more than a short text")
        if self._size > _LARGEST_WITH_ENTITIES:
            raise _RefusedError("a file with entities must be smaller")


def read_tree(data: bytes, where: str) -> Node:
    """The outermost element.

    Args:
        data: All bytes of the file, compressed with gzip or not.
        where: Named in errors.

    Raises:
        PatternError: It is not well-formed XML, not SVG, too large, or refers to something outside itself.
    """
    data = _unpacked(data, where)
    parser = expat.ParserCreate(namespace_separator="\n")
    builder = _Builder(parser, len(data))
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.data
    parser.EntityDeclHandler = builder.entity
    try:
        parser.Parse(data, True)
    except _TooMuchError as error:
        raise _too_large(f"line {parser.CurrentLineNumber}: {error}", where) from error
    except _RefusedError as error:
        raise _refusal(f"line {parser.CurrentLineNumber}: {error}", where) from error
    except expat.ExpatError as error:
        raise _refusal(f"not a sound SVG file: {error}", where) from error
    except (ValueError, LookupError) as error:
        raise _refusal("not a sound SVG file: its text encoding is not usable", where) from error
    if builder.root is None or builder.root.tag != "svg":
        found = "nothing" if builder.root is None else f"<{builder.root.tag or 'another vocabulary'}>"
        raise _refusal(f"not an SVG drawing: it begins with {found}", where)
    return builder.root


def _unpacked(data: bytes, where: str) -> bytes:
    """The file's text, unpacked when it is compressed."""
    if data[:2] == b"\x1f\x8b":
        try:
            with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:
                data = packed.read(_LARGEST_BYTES + 1)
        except (OSError, EOFError, zlib.error) as error:
            raise _refusal("the compressed file is damaged", where) from error
    if len(data) > _LARGEST_BYTES:
        raise _too_large(f"more than {_LARGEST_BYTES // 1_000_000} MB", where)
    if data.count(b"=") > _MOST_ATTRIBUTES:
        raise _too_large(f"more than {_MOST_ATTRIBUTES} attributes", where)
    return data


def _too_large(what: str, where: str) -> PatternError:
    return PatternError(
        f"the drawing is too large: {what}",
        where=where,
        remedy="leave only the outline and the pin holes in it and save it under another name",
    )


def _local(name: str) -> str:
    """Name without its vocabulary, empty for elements of others."""
    vocabulary, separator, local = name.rpartition("\n")
    return local if not separator or vocabulary == _SVG else ""


def _attributes(values: dict[str, str]) -> dict[str, str]:
    found = {name: text for name, text in values.items() if "\n" not in name}
    old = values.get(f"{_XLINK}\nhref")
    if old is not None:
        found.setdefault("href", old)
    return found


def _refusal(message: str, where: str) -> PatternError:
    return PatternError(message, where=where, remedy="save the drawing again as plain SVG")
