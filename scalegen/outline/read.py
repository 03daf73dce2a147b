"""An outline from a file or from typed rows: find the outer contour and the holes in it."""

import importlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import shapely

from scalegen.errors import GeometryError, PatternError
from scalegen.model import OutlineSource, Units
from scalegen.outline.crossing import self_crossings
from scalegen.outline.join import GAP_MM, Joined, Piece, Place, circle_of, join_pieces
from scalegen.outline.ring import Ring

Box = tuple[float, float, float, float]

_SCAN = "scalegen.outline.read_scan"
READERS = {
    ".dxf": "scalegen.outline.read_dxf",
    ".png": _SCAN,
    ".jpg": _SCAN,
    ".jpeg": _SCAN,
    ".tif": _SCAN,
    ".tiff": _SCAN,
}

_FLATTEN_MM = 0.002
_ROUNDING_MM = 1e-3
_EQUAL_AREA = 1e-6
_PLACES_SHOWN = 6


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """An entity that was not read.

    Attributes:
        kind: What it is, such as "SPLINE".
        reason: Why, such as "cannot be read yet".
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


@dataclass(frozen=True, kw_only=True)
class Outline:
    """A tang outline as read.

    Attributes:
        ring: The outer contour, mm.
        holes: Circles inside it: x, y, diameter in mm, from left to right.
        notes: Gaps that were closed, what was left out, what looks odd.
        units: The unit it came in and how that is known.
    """

    ring: Ring
    holes: tuple[tuple[float, float, float], ...]
    notes: tuple[str, ...]
    units: str


class Reader(Protocol):
    """A module that reads one kind of file; :data:`READERS` names one for each file ending."""

    def read_drawing(self, path: Path, *, units: Units | None, where: str) -> Drawing:
        """Read a file.

        Args:
            path: The file.
            units: Unit stated by the user, which goes before what the file says; None to go by the file.
            where: Named in errors.

        Raises:
            PatternError: The file cannot be read, or its unit is not known.
        """
        ...


def read_outline(
    source: OutlineSource, *, units: Units | None = None, where: str = "tang.outline"
) -> Outline:
    """Read a tang outline.

    Args:
        source: A file, or rows x, y, bulge in mm.
        units: Unit of the file's numbers, which goes before what source and file say; None to go by
            these. Typed rows are in mm already.
        where: Named in errors.

    Returns:
        The outer contour, the holes in it, and notes.

    Raises:
        PatternError: The file cannot be read, or has no contour, or more than one that could be meant.
    """
    if source.path is None:
        return _typed(source, where)
    where = f"{where}: {source.path}"
    drawing = _reader(source.path, where).read_drawing(source.path, units=units or source.units, where=where)
    return outline_from_drawing(drawing, where=where)


def _typed(source: OutlineSource, where: str) -> Outline:
    """An outline from rows in the pattern itself."""
    try:
        ring = Ring.from_rows(source.rows, where)
    except GeometryError as error:
        raise PatternError(error.message, where=error.where, remedy=error.remedy) from error
    return Outline(ring=_not_crossing(ring, where), holes=(), notes=(), units="millimetres (typed)")


def outline_from_drawing(drawing: Drawing, *, where: str) -> Outline:
    """Join a drawing's pieces and choose the outer contour and the holes.

    Args:
        drawing: Pieces in mm.
        where: Named in errors.

    Returns:
        The outline.

    Raises:
        PatternError: No contour, more than one that could be meant, or one too large to be right.
    """
    try:
        joined = join_pieces(drawing.pieces)
    except GeometryError as error:
        remedy = f"{error.remedy}; it was read in {drawing.units}"
        raise PatternError(error.message, where=where, remedy=remedy) from error
    if not joined.contours:
        raise _no_contour(joined, drawing, where)
    contours = sorted(joined.contours, key=lambda ring: -ring.area_mm2)
    outer = contours[0]
    shapes = [shapely.Polygon(ring.flatten(_FLATTEN_MM)) for ring in contours]
    _check_alone(contours, where)
    _check_not_around(outer, joined, drawing, where)
    _not_crossing(outer, where)
    holes, notes = _sort_rest(contours, shapes, unread=any(item.curve for item in drawing.left_out))
    return Outline(
        ring=outer,
        holes=tuple(sorted(holes)),
        notes=(*drawing.notes, *_left_out_notes(drawing.left_out), *_join_notes(joined), *notes),
        units=drawing.units,
    )


def _reader(path: Path, where: str) -> Reader:
    """The reader for a file's ending."""
    suffix = path.suffix.lower()
    if suffix not in READERS:
        raise PatternError(
            f"an outline cannot be read from a {suffix or 'file without an ending'} file",
            where=where,
            remedy=f"use one of: {', '.join(READERS)}",
        )
    reader: Reader = importlib.import_module(READERS[suffix])
    return reader


def _not_crossing(ring: Ring, where: str) -> Ring:
    """The ring itself, if it does not cross itself."""
    places = [(float(x), float(y)) for x, y in self_crossings(ring)]
    if not places:
        return ring
    raise PatternError(
        f"the outline crosses or touches itself at {_places(places)}",
        where=where,
        remedy="look for lines drawn past each other or a wrong bulge there, and trim them",
    )


def _no_contour(joined: Joined, drawing: Drawing, where: str) -> PatternError:
    """Say why there is no closed contour."""
    parts = ["no closed contour"]
    if not drawing.pieces:
        parts.append("there are no lines or arcs to read")
    if joined.branches:
        parts.append(f"more than two ends meet at {_places(joined.branches)}")
    if joined.open_ends:
        parts.append(f"open ends at {_places(joined.open_ends)}")
    if joined.flat:
        parts.append("some lines only lead there and back")
    parts += [*_left_out_notes(drawing.left_out), *drawing.notes]
    blame = sorted({item.kind for item in drawing.left_out if item.curve})
    remedy = (
        f"turn {', '.join(blame)} into lines and arcs before saving the drawing"
        if blame
        else f"draw the outline as one closed chain; ends up to {GAP_MM} mm apart are joined"
    )
    return PatternError("; ".join(parts), where=where, remedy=remedy)


def _check_alone(contours: Sequence[Ring], where: str) -> None:
    """Refuse two largest contours of equal area (neither can then contain the other)."""
    if len(contours) < 2:
        return
    first, second = contours[:2]
    if first.area_mm2 - second.area_mm2 > _EQUAL_AREA * first.area_mm2:
        return
    raise PatternError(
        f"two contours of one size could both be the outline: {_describe(first)} and {_describe(second)}",
        where=where,
        remedy="leave only one of them in the drawing",
    )


def _check_not_around(outer: Ring, joined: Joined, drawing: Drawing, where: str) -> None:
    """Refuse when something that could not be closed or read may be the real outline."""
    loose = [(rows[:, :2].min(axis=0), rows[:, :2].max(axis=0)) for rows in joined.loose]
    boxes = [("an open chain of lines", (*map(float, low), *map(float, high))) for low, high in loose]
    boxes += [(item.kind, item.box_mm) for item in drawing.left_out if item.curve and item.box_mm is not None]
    around = sorted({name for name, box in boxes if _covers(box, outer.bounds_mm)})
    only_circle = circle_of(outer) is not None and (boxes or any(i.curve for i in drawing.left_out))
    if not around and not only_circle:
        return
    why = f"{', '.join(around)} lies around it" if around else "other lines or curves beside it do not close"
    ends = f"; open ends at {_places(joined.open_ends)}" if joined.open_ends else ""
    notes = "".join(f"; {note}" for note in _left_out_notes(drawing.left_out))
    raise PatternError(
        f"the largest closed contour, {_describe(outer)}, is probably not the outline: {why}{ends}{notes}",
        where=where,
        remedy="close the outline, draw it with lines and arcs, and delete what does not belong to it",
    )


def _covers(box: tuple[float, ...], inner: Box) -> bool:
    """Whether one box reaches as far as another on all sides."""
    r = _ROUNDING_MM
    return (
        box[0] <= inner[0] + r
        and box[1] <= inner[1] + r
        and box[2] >= inner[2] - r
        and box[3] >= inner[3] - r
    )


def _sort_rest(
    contours: Sequence[Ring], shapes: Sequence[shapely.Polygon], *, unread: bool
) -> tuple[list[tuple[float, float, float]], list[str]]:
    """Holes among the smaller contours, and notes about the others."""
    outer = shapes[0].buffer(_ROUNDING_MM)
    holes, notes, inside = [], [], 0
    for ring, shape in zip(contours[1:], shapes[1:], strict=True):
        circle = circle_of(ring)
        within = bool(outer.contains(shape))
        inside += within
        if circle is not None and within:
            holes.append(circle)
            continue
        place = "inside the outline" if within else "across it" if outer.intersects(shape) else "outside it"
        notes.append(f"left out a contour {place}: {_describe(ring)}")
    x0, y0, x1, y1 = contours[0].bounds_mm
    if (inside > len(holes) or unread) and contours[0].area_mm2 > (1 - 1e-9) * (x1 - x0) * (y1 - y0):
        notes.append(
            "the outline is a plain rectangle around other contours; if it is a page border, delete it"
        )
    if max(x1 - x0, y1 - y0) > 600 or max(x1 - x0, y1 - y0) < 15:
        notes.append(f"the outline is {max(x1 - x0, y1 - y0):.4g} mm long; check the unit of the drawing")
    return holes, notes


def _left_out_notes(left_out: Sequence[LeftOut]) -> list[str]:
    """One note for each reason, with counts by kind."""
    reasons: dict[str, Counter[str]] = {}
    for item in left_out:
        reasons.setdefault(item.reason, Counter())[item.kind] += 1
    return [
        f"left out ({reason}): " + ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
        for reason, kinds in sorted(reasons.items())
    ]


def _join_notes(joined: Joined) -> list[str]:
    """Notes about gaps, loose ends, branches and repeats."""
    notes = [
        f"closed a gap of {gap.size_mm:.4f} mm at {_place(*gap.at_mm)}"
        for gap in joined.gaps
        if gap.size_mm >= _ROUNDING_MM
    ]
    slight = [gap.size_mm for gap in joined.gaps if gap.size_mm < _ROUNDING_MM]
    if slight:
        notes.append(f"drew {len(slight)} joints together that were up to {max(slight):.6f} mm open")
    if joined.loose:
        notes.append(f"left out {len(joined.loose)} open chains with ends at {_places(joined.open_ends)}")
    if joined.branches:
        notes.append(f"more than two ends meet at {_places(joined.branches)}")
    if joined.repeats:
        notes.append(f"left out {joined.repeats} repeats that lie exactly on other lines")
    if joined.strays:
        notes.append(f"left out {joined.strays} chains that branch off and end nowhere")
    if joined.flat:
        notes.append(f"left out {joined.flat} closed chains without any area")
    return notes


def _describe(ring: Ring) -> str:
    """A contour in words."""
    x0, y0, x1, y1 = ring.bounds_mm
    size = f"{x1 - x0:.3f} x {y1 - y0:.3f} mm around {_place((x0 + x1) / 2, (y0 + y1) / 2)}"
    return f"{'circle' if circle_of(ring) else f'{len(ring)} segments'}, {size}"


def _place(x: float, y: float) -> str:
    return f"({x:.3f}, {y:.3f})"


def _places(places: Sequence[Place]) -> str:
    """The first few places, and how many more."""
    shown = ", ".join(_place(*place) for place in places[:_PLACES_SHOWN])
    more = len(places) - _PLACES_SHOWN
    return f"{shown} and {more} more (mm)" if more > 0 else f"{shown} (mm)"
