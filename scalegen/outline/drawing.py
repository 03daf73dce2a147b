"""What a reader of one kind of file hands over: loose pieces and what there is to say about them."""

from dataclasses import dataclass
from pathlib import Path

from scalegen.errors import PatternError
from scalegen.outline.join import Piece
from scalegen.sources import Hints

NO_HINTS = Hints()

Box = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """An entity that was not read.

    Attributes:
        kind: What it is, such as "SPLINE".
        reason: Why, such as "not flat".
        curve: It may be part of an outline (a text is not).
        box_mm: Where it is, or None when that is not known.
    """

    kind: str
    reason: str
    curve: bool
    box_mm: Box | None = None


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """What a reader hands over: pieces in mm, in no order, and what it has to say.

    Attributes:
        pieces: Lines and arcs.
        units: The unit the file is in and how that is known, such as "inches ($INSUNITS = 1)".
        notes: What the user should know about the reading.
        left_out: Entities that are not among the pieces.
    """

    pieces: tuple[Piece, ...]
    units: str
    notes: tuple[str, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


class UnreadableError(Exception):
    """One entity cannot be taken; says why. Caught where entities are walked through, never seen outside."""


def too_much(what: str, where: str) -> PatternError:
    """The refusal of a drawing that holds more than can be read."""
    return PatternError(
        f"the file holds too much: {what}",
        where=where,
        remedy="leave only the outline and the pin holes in it, as plain lines and curves, and save it"
        " as a new file",
    )


def file_bytes(path: Path, largest: int, where: str) -> bytes:
    """All bytes of a file.

    Raises:
        PatternError: It cannot be opened, or is larger than ``largest`` bytes.
    """
    try:
        if path.stat().st_size > largest:
            raise too_much(f"more than {largest // 1_000_000} MB", where)
        return path.read_bytes()
    except OSError as error:
        raise PatternError(
            f"the file cannot be opened: {error.strerror or error}",
            where=where,
            remedy="check name and folder",
        ) from error
