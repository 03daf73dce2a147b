"""What a paper is made of: headings, tables, boxes and pictures in their order, in no file format yet.

Rows first, looks second: a writer decides how a block looks, never what it says.
"""

from dataclasses import dataclass
from typing import Literal

from scalegen.model.words import Paper
from scalegen.report.picture_shapes import Picture

PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of a page. Source: ISO 216 (A4); ANSI/ASME Y14.1 (A, 8.5 in x 11 in)."""


@dataclass(frozen=True, kw_only=True)
class Heading:
    """A heading; ``level`` 1 opens a part of the paper, 2 a section of it."""

    text: str
    level: Literal[1, 2] = 2


@dataclass(frozen=True, kw_only=True)
class Text:
    """A paragraph; ``strong`` is for what must not be overlooked."""

    text: str
    strong: bool = False


@dataclass(frozen=True, kw_only=True)
class Number:
    """A number to be read from afar, and what it is."""

    value: str
    label: str


@dataclass(frozen=True, kw_only=True)
class Numbers:
    """Large numbers side by side, in boxes."""

    numbers: tuple[Number, ...]


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table.

    Attributes:
        heads: Heads of the columns.
        rows: Texts, as many in each row as there are heads.
        shares: How wide the columns are, against each other.
        right: Columns set to the right, counted from 0.
        strong: Columns that are read first.
        write_in: Whether empty cells are boxes to write in, high enough for a pencil.
        ticks: Whether each row begins with a box to tick.
        title: What it is, above it.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    right: tuple[int, ...] = ()
    strong: tuple[int, ...] = ()
    write_in: bool = False
    ticks: bool = False
    title: str = ""


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to do, with a box to tick: what, and its numbers."""

    number: int
    title: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Steps:
    """Things to do, in order."""

    steps: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawing:
    """A picture at its size on paper, with the words that tell the same to whoever does not see it."""

    picture: Picture
    alt: str


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A hazard, and what to do about it."""

    title: str
    text: str


@dataclass(frozen=True, kw_only=True)
class Cautions:
    """Hazards in one box; ``last`` is said under all of them."""

    cautions: tuple[Caution, ...]
    last: str


@dataclass(frozen=True, kw_only=True)
class PageBreak:
    """What follows begins on a page of its own."""


@dataclass(frozen=True, kw_only=True)
class Group:
    """Blocks that stay on one page where they fit on one."""

    blocks: tuple["Block", ...]


@dataclass(frozen=True, kw_only=True)
class Columns:
    """Blocks side by side in columns of the same width; on a narrow screen one below the other."""

    columns: tuple[tuple["Block", ...], ...]


Block = Heading | Text | Numbers | Table | Steps | Drawing | Cautions | PageBreak | Group | Columns


@dataclass(frozen=True, kw_only=True)
class Document:
    """A paper.

    Attributes:
        title: What it is about.
        kind: What kind of paper it is.
        foot: What stands at the foot of every page, before the page's number.
        paper: Its size.
        blocks: What it says.
    """

    title: str
    kind: str
    foot: str
    paper: Paper
    blocks: tuple[Block, ...]
