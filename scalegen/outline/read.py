"""An outline from a file or from typed rows: find the outer contour and the holes in it."""

import importlib
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from scalegen.errors import GeometryError, PatternError
from scalegen.model import OutlineSource
from scalegen.outline.drawing import Drawing
from scalegen.outline.placing import placed
from scalegen.outline.ring import Ring
from scalegen.outline.survey import Survey, survey_drawing, survey_rows
from scalegen.sources import FileUnit, Hints

_POINTS, _SCAN = "scalegen.outline.read_points", "scalegen.outline.read_scan"
READERS = {
    ".dxf": "scalegen.outline.read_dxf",
    ".svg": "scalegen.outline.read_svg",
    ".svgz": "scalegen.outline.read_svg",
    ".csv": _POINTS,
    ".tsv": _POINTS,
    ".txt": _POINTS,
    ".png": _SCAN,
    ".jpg": _SCAN,
    ".jpeg": _SCAN,
    ".tif": _SCAN,
    ".tiff": _SCAN,
}


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

    def read_drawing(self, path: Path, *, units: FileUnit | None, where: str, hints: Hints) -> Drawing:
        """Read a file.

        Args:
            path: The file.
            units: Unit stated by the user, which goes before what the file says; None to go by the file.
            where: Named in errors.
            hints: What the user says to readers of some kinds of files.

        Raises:
            PatternError: The file cannot be read, or its unit is not known.
        """
        ...


def read_outline(
    source: OutlineSource,
    *,
    units: FileUnit | None = None,
    contour: int | None = None,
    where: str = "tang.outline",
) -> Outline:
    """Read a tang outline and lay it into the pattern's axes.

    Args:
        source: A file, or rows x, y, bulge in mm, and what is said about it.
        units: Unit of the file's numbers, which goes before what source and file say; None to go by
            these. Typed rows are in mm already.
        contour: Number of the contour to take, counted from the largest, 1 first; None to go by the source.
        where: Named in errors.

    Returns:
        The outer contour, the holes in it, and notes.

    Raises:
        PatternError: The file cannot be read, or has no contour, or more than one that could be meant.
    """
    found = survey(source, units=units, contour=contour, where=where)
    return outline_of(found, where=place_of(source, where))


def survey(
    source: OutlineSource,
    *,
    units: FileUnit | None = None,
    contour: int | None = None,
    where: str = "tang.outline",
) -> Survey:
    """Everything in a file that has to do with outlines, for looking at and choosing from.

    Args:
        source: As in :func:`read_outline`.
        units: As there.
        contour: As there.
        where: Named in errors.

    Returns:
        What was found, laid into the pattern's axes; why it cannot be used is told in it rather than raised.

    Raises:
        PatternError: The file cannot be read at all, or its unit is not known.
    """
    return placed(survey_unplaced(source, units=units, contour=contour, where=where), source.placing)


def survey_unplaced(
    source: OutlineSource,
    *,
    units: FileUnit | None = None,
    contour: int | None = None,
    where: str = "tang.outline",
) -> Survey:
    """As :func:`survey`, but left in the drawing's own axes."""
    if source.path is None:
        try:
            return survey_rows(source.rows, where=where)
        except GeometryError as error:
            raise PatternError(error.message, where=error.where, remedy=error.remedy) from error
    where = place_of(source, where)
    reader = _reader(source.path, where)
    drawing = reader.read_drawing(source.path, units=units or source.units, where=where, hints=source.hints)
    return survey_drawing(drawing, contour=source.contour if contour is None else contour)


def outline_from_drawing(drawing: Drawing, *, contour: int | None = None, where: str) -> Outline:
    """Join a drawing's pieces and choose the outer contour and the holes.

    Args:
        drawing: Pieces in mm.
        contour: Number of the contour to take; None to find it.
        where: Named in errors.

    Returns:
        The outline, in the drawing's own axes.

    Raises:
        PatternError: No contour, more than one that could be meant, or one too large to be right.
    """
    return outline_of(survey_drawing(drawing, contour=contour), where=where)


def outline_of(found: Survey, *, where: str) -> Outline:
    """The outline of a survey.

    Raises:
        PatternError: It has none that can be used as it is.
    """
    if found.chosen is None or found.reason:
        raise PatternError(found.reason, where=where, remedy=found.remedy)
    ring = found.contours[found.chosen - 1].ring
    return Outline(ring=ring, holes=found.holes, notes=found.notes, units=found.units)


def place_of(source: OutlineSource, where: str) -> str:
    """How a source is called in messages."""
    return where if source.path is None else f"{where}: {source.path}"


def _reader(path: Path, where: str) -> Reader:
    """The reader for a file's ending."""
    suffix = path.suffix.lower()
    if suffix not in READERS:
        raise PatternError(
            f"an outline cannot be read from a {suffix} file"
            if suffix
            else "an outline cannot be read from a file without an ending",
            where=where,
            remedy=f"use one of: {', '.join(READERS)}",
        )
    reader: Reader = importlib.import_module(READERS[suffix])
    return reader
