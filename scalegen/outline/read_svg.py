"""An SVG drawing as lines and arcs in mm.

Nothing outside the file is ever opened. The y axis is turned to point up. A drawing that does not say how
large it is gets refused, unless the user states the length of its units.
"""

import contextlib
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from scalegen.errors import PatternError
from scalegen.outline.drawing import NO_HINTS, Box, Drawing, LeftOut, UnreadableError, file_bytes, too_much
from scalegen.outline.join import Piece
from scalegen.outline.ring import FloatArray
from scalegen.outline.svg_refit import (
    Bent,
    bent_of,
    careful_piece,
    plain_piece,
    quick_pieces,
    reached_mm,
    samples_needed,
)
from scalegen.outline.svg_segments import mapped
from scalegen.outline.svg_tree import Node, read_tree
from scalegen.outline.svg_values import declarations
from scalegen.outline.svg_view import Size, size_of
from scalegen.outline.svg_walk import TooMuchError, Walk, walk
from scalegen.sources import FILE_UNITS, FileUnit, Hints

MOST_ARCS = 100_000
MOST_CAREFUL = 2000
"""Points that careful work may take in all; what is left over is followed curve by curve."""
LARGEST_MM = 1e5

_WORTH_TRYING = 8
_MOST_CHOSEN = 60
_LARGEST_FILE = 64_000_000


def read_drawing(path: Path, *, units: FileUnit | None, where: str, hints: Hints = NO_HINTS) -> Drawing:
    """Read what an SVG file shows.

    Args:
        path: The file, compressed with gzip or not.
        units: Length of one user unit as stated by the user, which goes before what the file says; None to
            go by the file.
        where: Named in errors.
        hints: Its tolerance is used.

    Returns:
        Pieces in mm; what is hidden or no curve is left out with a note.

    Raises:
        PatternError: The file cannot be read, or its real size is not known.
    """
    root = read_tree(file_bytes(path, _LARGEST_FILE, where), where)
    try:
        found = walk(root)
    except TooMuchError as error:
        raise too_much(str(error), where) from error
    matrix, name, notes = _scale(root, units, found, where)
    made = _pieces(found, matrix, hints.tolerance_mm, where)
    left_out = [replace(item, box_mm=_box(item.box_mm, matrix)) for item in found.left_out]
    return Drawing(
        pieces=tuple(made.pieces),
        units=name,
        notes=(*notes, *_root_notes(root), *_notes(found, made, hints.tolerance_mm)),
        left_out=(*left_out, *made.unfit),
    )


# ------------------------------------------------------------------------------------------------- size


def _scale(
    root: Node, units: FileUnit | None, found: Walk, where: str
) -> tuple[FloatArray, str, tuple[str, ...]]:
    """The map to mm with y up, the unit's name and how it is known, and notes."""
    try:
        size = size_of(root.values)
    except UnreadableError as error:
        size = Size(matrix=None, how=f"({error})")
    if units is not None:
        name, scale = FILE_UNITS[units]
        differs = size.matrix is not None and abs(abs(size.matrix[0, 0]) - scale) > 1e-6 * scale
        note = f"the file says {size.how}; one unit was read as one of {name}, as stated"
        return np.diag([scale, -scale, 1.0]), f"{name} (stated)", (note,) if differs else ()
    if size.matrix is None:
        raise _asked(size.how, _longest(found), where)
    return size.matrix, f"millimetres ({size.how})", size.notes


def _asked(how: str, longest: float, where: str) -> PatternError:
    sizes = ""
    if longest:
        sizes = (
            f"; one unit as mm makes the drawing {_text(longest)} long, as an inch {_text(25.4 * longest)}"
        )
        sizes += f", at 96 to the inch {_text(longest * 25.4 / 96)}"
    return PatternError(
        f"the drawing does not say its real size {how}",
        where=where,
        remedy="say the length of one unit: --units mm or --units in, or px for 1/96 in; in the pattern,"
        " under [tang], "
        f'outline_units = "mm" or "in"; or give the drawing a width and height in mm{sizes}',
    )


def _text(length_mm: float) -> str:
    return f"{length_mm:.4g} mm" if length_mm < 1000 else f"{length_mm / 1000:.4g} m"


def _longest(found: Walk) -> float:
    """Longer side of everything shown, in user units."""
    if not found.shown:
        return 0.0
    points = np.vstack([item.subpath.points() for item in found.shown])
    return float(np.ptp(points, axis=0).max())


def _box(box: Box | None, matrix: FloatArray) -> Box | None:
    """A box in mm."""
    if box is None:
        return None
    corners = np.array([[box[0], box[1]], [box[2], box[3]]]) @ matrix[:2, :2].T + matrix[:2, 2]
    (x0, y0), (x1, y1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    return x0, y0, x1, y1


# ----------------------------------------------------------------------------------------------- pieces


@dataclass(kw_only=True)
class _Made:
    """Pieces in mm, what could not be followed, and what there is to say about curves."""

    pieces: list[Piece] = field(default_factory=list)
    unfit: list[LeftOut] = field(default_factory=list)
    curved: Counter[str] = field(default_factory=Counter)
    reached_mm: float = 0.0
    quick: int = 0


def _pieces(found: Walk, matrix: FloatArray, tolerance_mm: float, where: str) -> _Made:
    """Pieces of everything shown, in the order of the drawing."""
    made = _Made()
    bents, lines = [], []
    for item in found.shown:
        bent = bent_of(mapped(item.subpath, matrix), item.tag)
        if np.abs(bent.points).max() <= LARGEST_MM:
            bents.append(bent)
            lines.append(item.line)
        else:
            made.unfit.append(_unfit(bent, "far beyond any handle", item.line))
    done = [plain_piece(bent, tolerance_mm) if bent.steps else None for bent in bents]
    left = [k for k, bent in enumerate(bents) if done[k] is None and bent.steps]
    made.curved = Counter(f"<{bents[k].name}>" for k in left)
    for k in _largest(left, bents, tolerance_mm):
        # What is too involved to be followed carefully is left for the quick way.
        with contextlib.suppress(UnreadableError, np.linalg.LinAlgError):
            done[k], made.reached_mm = _careful(bents[k], tolerance_mm, made.reached_mm)
    left = [k for k in left if done[k] is None]
    try:
        quick = quick_pieces([bents[k] for k in left], tolerance_mm, MOST_ARCS)
    except UnreadableError as error:
        raise too_much(str(error), where) from error
    for k, piece in zip(left, quick, strict=True):
        if isinstance(piece, Piece):
            done[k] = piece
            made.quick += 1
        else:
            made.unfit.append(_unfit(bents[k], str(piece), lines[k]))
    made.pieces = [piece for piece in done if piece is not None]
    return made


def _careful(bent: Bent, tolerance_mm: float, before_mm: float) -> tuple[Piece, float]:
    """A piece of few arcs, and the largest distance from a curve so far."""
    piece = careful_piece(bent, tolerance_mm)
    reached = reached_mm(bent, piece)
    if reached > tolerance_mm:
        raise UnreadableError("not followed")
    return piece, max(before_mm, reached)


def _largest(numbers: list[int], bents: list[Bent], tolerance_mm: float) -> list[int]:
    """The largest subpaths, as many as there is work to be spent on: one of them is the outline."""
    left, chosen = MOST_CAREFUL, []
    for k in sorted(numbers, key=lambda k: (-round(bents[k].size_mm, 6), k)):
        needed = samples_needed(bents[k], tolerance_mm)
        if needed <= left:
            chosen.append(k)
            left -= needed
        if left < _WORTH_TRYING or len(chosen) == _MOST_CHOSEN:
            break
    return chosen


def _unfit(bent: Bent, reason: str, line: int) -> LeftOut:
    (x0, y0), (x1, y1) = bent.points.min(axis=0).tolist(), bent.points.max(axis=0).tolist()
    return LeftOut(
        kind=f"<{bent.name}>", reason=f"{reason}, line {line}", curve=True, box_mm=(x0, y0, x1, y1)
    )


def _root_notes(root: Node) -> list[str]:
    """A word about a transform of the whole drawing, which SVG 1.1 does not know and SVG 2 does."""
    own = declarations(root.values.get("style", "")).get("transform", root.values.get("transform", ""))
    if own.strip() in {"", "none"}:
        return []
    return ["the outermost <svg> has a transform, which was not applied; check the size of the outline"]


def _notes(found: Walk, made: _Made, tolerance_mm: float) -> list[str]:
    """What to say about curves, clipping, animation and styles."""
    notes = []
    if made.curved.total():
        named = ", ".join(f"{count} {tag}" for tag, count in sorted(made.curved.items()))
        reached = f" (reached {made.reached_mm:.4f})" if not made.quick else ""
        notes.append(f"made lines and arcs, within {tolerance_mm:g} mm{reached}, of curves in: {named}")
    if made.quick:
        notes.append(
            f"{made.quick} of them were followed curve by curve, which makes more arcs; they are as near"
        )
    if found.clipped:
        notes.append(
            f"{found.clipped} elements have a clip path or mask, which is not applied: they are whole here"
        )
    if found.moving:
        notes.append(f"{found.moving} animations are not followed")
    if found.unread_rules:
        notes.append(f"{found.unread_rules} style rules are too involved and were passed over")
    return notes
