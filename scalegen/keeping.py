"""What a job left over, into the shop's table of remnants; the remnant it was cut from is set aside there."""

import hashlib
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from scalegen.errors import UsageError
from scalegen.export.files import JOB_FILE
from scalegen.fields.files import read_text
from scalegen.fields.whole import replace_text
from scalegen.model import CurveRows, Remnant, Shop, Units
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved
from scalegen.report.record import read_job
from scalegen.report.record_scale import Data
from scalegen.shop import find_shared, load_shop
from scalegen.shop.load import REMNANTS_FILE, check_remnants
from scalegen.shop.remnants import with_remnants
from scalegen.units import format_length

_DAMAGE = (AttributeError, IndexError, KeyError, TypeError, ValueError)
_FACED_MM = 1e-3
_DIGEST = 8


@dataclass(frozen=True, kw_only=True)
class Keeping:
    """What came of it.

    Attributes:
        file: The table.
        pieces: What was left over, with the numbers it has in the table now.
        new: Which of the pieces were added; the others are there from an earlier time.
        used: Numbers of remnants that were set aside as used up.
        gone: Numbers of remnants that the job was cut from and that the table does not know.
    """

    file: Path
    pieces: tuple[Remnant, ...]
    new: tuple[bool, ...]
    used: tuple[str, ...]
    gone: tuple[str, ...]


def keep_left_over(
    folder: Path, shop_folder: Path | None = None, *, sheet: int | None = None, again: bool = False
) -> Keeping:
    """Write what a job left over into the shop's table of remnants, all of it or nothing.

    Args:
        folder: Job folder.
        shop_folder: Folder of shop tables; None for the nearest ``shared/`` above the job.
        sheet: Only this sheet, from 1; None for all.
        again: Keep pieces of a job that were kept before, because it was cut once more.

    Raises:
        UsageError: There is no job, its record is damaged, there is no shop folder to write to, or the stack
            is not in its tables.
        PatternError: A shop table is faulty.
        WriteError: The table can't be written; it is as it was.
    """
    record = read_job(folder)
    where = folder.parent if folder.name == JOB_FILE else folder
    shared = shop_folder or find_shared(where)
    if shared is None:
        raise UsageError(
            "there is no shop folder to keep it in; the tables that come with the program stay as they are",
            where=str(folder),
            remedy='lay one out with "scalegen init DIR", and name its tables with --shop DIR/shared',
        )
    shop = load_shop(shared)
    try:
        pieces, used = _pieces(record, where, sheet)
    except _DAMAGE as error:
        raise UsageError(
            "the job record is damaged, or an older version wrote it",
            where=str(folder),
            remedy='make the job again with "scalegen make"',
        ) from error
    _require_stack(record, shop, shared)
    file = shared / REMNANTS_FILE
    text = read_text(file) if file.exists() else ""
    change = with_remnants(text, file, pieces, used, again=again)
    if change.text != text:
        replace_text(file, change.text, check_remnants)
    kept = tuple(replace(piece, number=number) for piece, number in zip(pieces, change.numbers, strict=True))
    return Keeping(file=file, pieces=kept, new=change.new, used=change.used, gone=change.gone)


def keeping_record(keeping: Keeping) -> Data:
    """What was kept as data."""
    return {
        "file": str(keeping.file),
        "kept": [
            {
                "number": piece.number,
                "new": new,
                "stack": piece.stack,
                "outline": [list(row) for row in piece.outline],
                "zones": [[list(row) for row in zone] for zone in piece.zones],
                "measured_mm": list(piece.measured_mm),
                "source": piece.source,
            }
            for piece, new in zip(keeping.pieces, keeping.new, strict=True)
        ],
        "used": list(keeping.used),
        "gone": list(keeping.gone),
    }


def keeping_lines(keeping: Keeping, units: Units) -> Iterator[str]:
    """What was kept in words, line by line."""
    if not keeping.pieces:
        yield "nothing was left over that is worth keeping"
    for piece, new in zip(keeping.pieces, keeping.new, strict=True):
        x0, y0, x1, y1 = Ring.from_rows(piece.outline).bounds_mm
        size = f"{format_length(x1 - x0, units)} x {format_length(y1 - y0, units)}"
        if new:
            yield f"kept as {piece.number}: {size}, {piece.source}; write the number on it"
        else:
            yield f"kept before as {piece.number}: {size}, {piece.source}"
    if keeping.pieces and not all(keeping.new):
        yield "if the job was cut once more, add --again"
    yield from (f"{number} is used up: its entry is under [[used]] now" for number in keeping.used)
    yield from (f"{number}, which this was cut from, is not in the table" for number in keeping.gone)
    if any(keeping.new) or keeping.used:
        yield f"written to {keeping.file}"


def _pieces(record: Data, folder: Path, sheet: int | None) -> tuple[tuple[Remnant, ...], dict[str, str]]:
    """What a job left over, and by the numbers of the remnants it was cut from, the job's name."""
    job = folder.resolve().name
    mark = hashlib.sha256((folder / JOB_FILE).read_bytes()).hexdigest()[:_DIGEST]
    sheets = record["sheets"]
    if sheet is not None and not 1 <= sheet <= len(sheets):
        raise UsageError(
            f"there is no sheet {sheet}; the job has {len(sheets)}",
            where="--sheet",
            remedy="give a number from 1, or leave it out",
        )
    measured_mm, faced = _thickness(record)
    found, used = [], {}
    for each in sheets if sheet is None else [sheets[sheet - 1]]:
        if each["remnant"] is not None:
            used[str(each["remnant"])] = job
        for count, piece in enumerate(each["left_over"], start=1):
            outline, *zones = _moved(piece, -math.radians(each["grain_deg"]))
            found.append(
                Remnant(
                    number="",
                    stack=record["pattern"]["stock"],
                    outline=outline,
                    zones=tuple(zones),
                    measured_mm=measured_mm,
                    source=f"{job}, {each['name']}{_of(each)}{faced}",
                    piece=f"{mark}/{each['name']}/{count}",
                )
            )
    return tuple(found), used


def _of(sheet: Data) -> str:
    """The remnant that a piece was part of."""
    return "" if sheet["remnant"] is None else f" of {sheet['remnant']}"


def _thickness(record: Data) -> tuple[tuple[float, ...], str]:
    """How thick the waste of a job is, and a word about it where it was faced off with the scales."""
    stack = record["stack"]
    left_mm = min(
        lot["scale"]["thickness_mm"] + lot["pattern"]["back_allowance_mm"] for lot in record["lots"]
    )
    if stack["used_mm"] - left_mm > _FACED_MM:
        return (float(left_mm),), ", faced off: measure it"
    return tuple(map(float, stack["measured_mm"])), ""


def _moved(piece: Data, turn_rad: float) -> Iterator[CurveRows]:
    """Outline and holes of a piece, turned until its grain lies along x, its box's corner moved to 0, 0."""
    rings = [moved(Ring.from_rows(rows), 0.0, 0.0, turn_rad) for rows in (piece["outline"], *piece["zones"])]
    x0, y0, _, _ = rings[0].bounds_mm
    for ring in rings:
        yield tuple((x - x0, y - y0, bulge) for x, y, bulge in ring.rows.tolist())


def _require_stack(record: Data, shop: Shop, shared: Path) -> None:
    """Refuse a stack that the tables do not have: the table of remnants could not be read any more."""
    stack = record["pattern"]["stock"]
    if stack not in shop.stacks:
        raise UsageError(
            f'the job was cut from a stack "{stack}", which these tables do not have',
            where=str(shared),
            remedy=f"name its tables with --shop DIR; the stacks here are {', '.join(sorted(shop.stacks))}",
        )
