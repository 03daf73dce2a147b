"""A DXF drawing of any version, text or binary, whole or damaged, as lines and arcs in mm.

The file is taken apart here, without a drawing library: so nothing is dropped silently, whatever cannot be
made out is counted, and any bytes at all lead to an answer or to one refusal.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from scalegen.outline.drawing import NO_HINTS, Box, Drawing, LeftOut, UnreadableError, file_bytes, too_much
from scalegen.outline.dxf_blocks import curves_of
from scalegen.outline.dxf_records import Content, read_content
from scalegen.outline.dxf_tags import LARGEST_BYTES, TooMuchError, read_tags
from scalegen.outline.dxf_units import unit_of
from scalegen.outline.join import Piece
from scalegen.outline.paths import Curve, FlatPath
from scalegen.outline.refit import curves_off_mm, piece_of
from scalegen.sources import FileUnit, Hints

MOST_FITS = 400
MOST_MADE = 60_000
_LEAST_COUNTS, _UNFIT_COUNTS = 25, 5_000
_MOST_MEASURED = 20
MOST_FITTED = 400  # lines and arcs made of curves; further curves become short lines, which is quicker


@dataclass(frozen=True, kw_only=True)
class _Pieces:
    """Pieces in mm, paths that could not be followed, and what there is to say about curves.

    ``straight`` of them became straight lines only; ``reached_mm`` is how far arcs are from the largest.
    """

    pieces: tuple[Piece, ...]
    unfit: tuple[LeftOut, ...]
    straight: int
    reached_mm: float


def read_drawing(path: Path, *, units: FileUnit | None, where: str, hints: Hints = NO_HINTS) -> Drawing:
    """Read the model space of a DXF file.

    Args:
        path: The file, text or binary.
        units: Unit stated by the user, which goes before what the file says; None to go by the file.
        where: Named in errors.
        hints: Its tolerance is used.

    Returns:
        Pieces in mm; what is hidden, in paper space or no curve is left out with a note.

    Raises:
        PatternError: The file cannot be read, or its unit is not known.
    """
    data = file_bytes(path, LARGEST_BYTES, where)
    try:
        content = read_content(read_tags(data, where))
        paths, left_out = curves_of(content)
    except TooMuchError as error:
        raise too_much(str(error), where) from error
    name, scale, unit_note = unit_of(content.header, units, _longest(paths), where)
    made = _pieces(paths, scale, hints.tolerance_mm, where)
    scaled = [replace(item, box_mm=_scaled(item.box_mm, scale)) for item in left_out]
    notes = [*content.notes, *_content_notes(content, paths), *_curve_notes(paths, made, hints.tolerance_mm)]
    return Drawing(
        pieces=made.pieces,
        units=name,
        notes=(*notes, unit_note) if unit_note else tuple(notes),
        left_out=(*scaled, *made.unfit),
    )


def _pieces(paths: Sequence[FlatPath], scale: float, tolerance_mm: float, where: str) -> _Pieces:
    """Pieces in mm; arcs are fitted to the largest curves first."""
    curved = [k for k, path in enumerate(paths) if any(isinstance(part, Curve) for part in path.parts)]
    if len(curved) > MOST_FITS:
        raise too_much(f"more than {MOST_FITS} splines and ellipses", where)
    curved.sort(key=lambda k: -float(np.ptp(paths[k].corners(), axis=0).max()))
    numbers = set(curved)
    straight = sorted(set(range(len(paths))) - numbers)
    pieces: dict[int, Piece] = {}
    unfit: list[LeftOut] = []
    fitted = short = 0
    for k in (*straight, *curved):
        if fitted > MOST_MADE:
            raise too_much(f"its splines and ellipses make more than {MOST_MADE} lines and arcs", where)
        path = paths[k]
        try:
            pieces[k] = piece_of(path, scale, tolerance_mm, arcs=fitted < MOST_FITTED)
        except (UnreadableError, ArithmeticError, np.linalg.LinAlgError) as reason:
            (x0, y0), (x1, y1) = path.corners().min(axis=0) * scale, path.corners().max(axis=0) * scale
            box = (float(x0), float(y0), float(x1), float(y1))
            unfit.append(LeftOut(kind=path.name, reason=str(reason), curve=True, box_mm=box))
            fitted += _UNFIT_COUNTS
        else:
            bent = k in numbers
            short += bent and fitted >= MOST_FITTED
            fitted += bent * max(len(pieces[k].rows), _LEAST_COUNTS)
    measured = [k for k in curved[:_MOST_MEASURED] if k in pieces]
    reached = [curves_off_mm(paths[k].parts, pieces[k], scale) for k in measured]
    return _Pieces(
        pieces=tuple(pieces[k] for k in sorted(pieces)),
        unfit=tuple(unfit),
        straight=short,
        reached_mm=max(reached, default=0.0),
    )


def _longest(paths: Sequence[FlatPath]) -> float:
    """Longer side of everything, in the drawing's unit."""
    boxes = [(corners.min(axis=0), corners.max(axis=0)) for corners in (path.corners() for path in paths)]
    if not boxes:
        return 0.0
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    return float((high - low).max())


def _content_notes(content: Content, paths: Sequence[FlatPath]) -> list[str]:
    """What to say about paper space, heights, and curves that stand for others."""
    notes = []
    if content.paper:
        notes.append(f"{content.paper} entities are in paper space, which is not read")
    heights = Counter(round(path.height, 6) for path in paths)
    if len(heights) > 1:
        notes.append(
            f"lines and curves lie at {len(heights)} heights, z = {min(heights):g} to "
            f"{max(heights):g} in the "
            "drawing's unit; they were taken as one flat drawing"
        )
    return notes


def _curve_notes(paths: Sequence[FlatPath], made: _Pieces, tolerance_mm: float) -> list[str]:
    """What became of splines and ellipses."""
    kinds = Counter(path.name for path in paths if any(isinstance(part, Curve) for part in path.parts))
    if not kinds:
        return []
    named = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    which = f", the {_MOST_MEASURED} largest" if kinds.total() > _MOST_MEASURED else ""
    notes = [
        f"made lines and arcs, within {tolerance_mm:g} mm (reached {made.reached_mm:.4f}{which}), of: {named}"
    ]
    if made.straight:
        notes.append(
            f"{made.straight} of these, the smaller ones, became short straight lines instead of arcs"
        )
    return notes


def _scaled(box: Box | None, scale: float) -> Box | None:
    """A box in mm."""
    return None if box is None else (box[0] * scale, box[1] * scale, box[2] * scale, box[3] * scale)
