"""What stands in a DXF file: its header, layers, blocks and entities, still as groups.

Source: the DXF reference, HEADER, TABLES, BLOCKS and ENTITIES sections (from memory).
"""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.dxf_tags import Tags, TooMuchError, Value, text_of

Place3 = tuple[float, float, float]

MOST_RECORDS = 100_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Record:
    """One entity, or another thing between two groups of code 0.

    Attributes:
        kind: Such as "LINE".
        codes: Its groups' codes, without the one of code 0.
        values: Their values.
        damaged: Something was stepped over inside it, or the file ends in it.
        parts: For a POLYLINE its vertices.
    """

    kind: str
    codes: list[int]
    values: list[Value]
    damaged: bool = False
    parts: "tuple[Record, ...]" = ()

    def text(self, code: int, default: str = "") -> str:
        """First value of a code, as text."""
        return text_of(self.values[self.codes.index(code)]) if code in self.codes else default

    def number(self, code: int, default: float | None = None) -> float:
        """First value of a code.

        Raises:
            UnreadableError: It is missing and has no default, or is not a finite number.
        """
        if code in self.codes:
            return _number(self.values[self.codes.index(code)])
        if default is None:
            raise UnreadableError("damaged")
        return default

    def whole(self, code: int, default: int = 0) -> int:
        """First value of a code, as a whole number."""
        return int(self.number(code, default))

    def numbers(self, code: int) -> list[float]:
        """All values of a code."""
        return [_number(v) for c, v in zip(self.codes, self.values, strict=True) if c == code]

    def place(self, code: int, default: Place3 | None = None) -> Place3:
        """x, y, z from a code and those ten and twenty above it."""
        if code not in self.codes and default is not None:
            return default
        return self.number(code), self.number(code + 10), self.number(code + 20, 0.0)

    def places(self, code: int) -> list[Place3]:
        """All points from a code and those ten and twenty above it."""
        x, y, z = (self.numbers(code + step) for step in (0, 10, 20))
        if len(x) != len(y) or len(z) not in {0, len(x)}:
            raise UnreadableError("damaged")
        return list(zip(x, y, z or [0.0] * len(x), strict=True))


@dataclass(frozen=True, kw_only=True)
class Block:
    """A named group of entities; ``base`` is its own origin."""

    base: Place3
    records: tuple[Record, ...]
    outside: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Content:
    """The parts of a file that matter for outlines.

    Attributes:
        header: Variables by name, the first value of each.
        off: Layers that are off, in small letters.
        frozen: Layers that are frozen, in small letters.
        blocks: Blocks by name in small letters.
        entities: Entities of the model space.
        paper: How many entities are in paper space.
        notes: What the user should know about the file itself.
    """

    header: dict[str, Value] = field(default_factory=dict)
    off: frozenset[str] = frozenset()
    frozen: frozenset[str] = frozenset()
    blocks: dict[str, Block] = field(default_factory=dict)
    entities: tuple[Record, ...] = ()
    paper: int = 0
    notes: tuple[str, ...] = ()


def read_content(tags: Tags) -> Content:
    """Sort a file's groups into header, layers, blocks and entities."""
    sections: dict[str, list[Record]] = {"TABLES": [], "BLOCKS": [], "ENTITIES": []}
    header: dict[str, Value] = {}
    section, closed = "", True
    for record in _records(tags):
        if record.kind == "SECTION":
            section, closed = record.text(2).upper(), False
            if section == "HEADER":
                header.update(_variables(record))
        elif record.kind == "ENDSEC":
            section, closed = "", True
        elif section in sections:
            sections[section].append(record)
    if not tags.ended and not closed and section in sections and sections[section]:
        # Whether the last one is whole cannot be known.
        sections[section][-1] = replace(sections[section][-1], damaged=True)
    everything = _grouped(sections["ENTITIES"])
    entities = tuple(record for record in everything if not _on_paper(record))
    blocks, paper = _blocks(sections["BLOCKS"])
    off, frozen = _layers(sections["TABLES"])
    return Content(
        header=header,
        off=off,
        frozen=frozen,
        blocks=blocks,
        entities=entities,
        paper=paper + len(everything) - len(entities),
        notes=_damage(tags, cut=not closed),
    )


def _number(value: Value) -> float:
    try:
        number = float(value)
    except ValueError:
        raise UnreadableError("damaged") from None
    if not -1e300 < number < 1e300:
        raise UnreadableError("a number is not finite")
    return number


def _records(tags: Tags) -> Iterator[Record]:
    """Cut the groups at each code 0."""
    starts = [k for k, code in enumerate(tags.codes) if code == 0]
    if len(starts) > MOST_RECORDS:
        raise TooMuchError(f"{len(starts)} entities, blocks, layers and the like; {MOST_RECORDS} can be read")
    for start, stop in zip(starts, [*starts[1:], len(tags.codes)], strict=True):
        # What is stepped over just before the next code 0 may have belonged here.
        torn = bool(tags.torn) and bisect_left(tags.torn, start + 1) != bisect_left(tags.torn, stop + 1)
        yield Record(
            kind=text_of(tags.values[start]).upper(),
            codes=tags.codes[start + 1 : stop],
            values=tags.values[start + 1 : stop],
            damaged=torn,
        )


def _variables(record: Record) -> dict[str, Value]:
    """Header variables: a name with code 9, then its first value."""
    names = [k for k, code in enumerate(record.codes[:-1]) if code == 9]
    return {text_of(record.values[k]): record.values[k + 1] for k in names}


def _grouped(records: list[Record]) -> list[Record]:
    """Give each POLYLINE its vertices, and drop what only closes such a row."""
    out: list[Record] = []
    k = 0
    while k < len(records):
        record = records[k]
        k += 1
        if record.kind == "POLYLINE":
            first = k
            while k < len(records) and records[k].kind == "VERTEX":
                k += 1
            vertices = tuple(records[first:k])
            torn = record.damaged or any(vertex.damaged for vertex in vertices)
            record = replace(record, parts=vertices, damaged=torn)
        if record.kind not in {"SEQEND", "VERTEX"}:
            out.append(record)
    return out


def _on_paper(record: Record) -> bool:
    try:
        return record.whole(67) == 1
    except UnreadableError:
        return False


def _blocks(records: list[Record]) -> tuple[dict[str, Block], int]:
    """Blocks by name, and how many entities those of paper space hold."""
    blocks: dict[str, Block] = {}
    paper, k = 0, 0
    while k < len(records):
        head = records[k]
        k += 1
        if head.kind != "BLOCK":
            continue
        first = k
        while k < len(records) and records[k].kind not in {"BLOCK", "ENDBLK"}:
            k += 1
        name, inside = head.text(2).lower(), _grouped(records[first:k])
        if name.startswith(("*paper_space", "$paper_space")):
            paper += len(inside)
            continue
        try:
            base, flags = head.place(10, (0.0, 0.0, 0.0)), head.whole(70)
        except UnreadableError:
            continue
        blocks[name] = Block(base=base, records=tuple(inside), outside=bool(flags & 4))
    return blocks, paper


def _layers(records: list[Record]) -> tuple[frozenset[str], frozenset[str]]:
    """Layers that are off (colour below 0) and frozen (first bit of the flags)."""
    off, frozen = set(), set()
    for record in records:
        if record.kind != "LAYER":
            continue
        try:
            name = record.text(2).lower()
            if record.number(62, 7) < 0:
                off.add(name)
            if record.whole(70) & 1:
                frozen.add(name)
        except UnreadableError:
            continue
    return frozenset(off), frozenset(frozen)


def _damage(tags: Tags, *, cut: bool) -> tuple[str, ...]:
    """Notes about a damaged file."""
    notes = []
    if tags.torn:
        notes.append(f"the file is damaged in {len(tags.torn)} places; what stands there was left out")
    if cut and not tags.ended:
        notes.append("the file is cut short; whatever came after is missing")
    return tuple(notes)
