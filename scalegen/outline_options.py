"""Options about a file with an outline, as typed, into what is said about it."""

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from scalegen.errors import UsageError
from scalegen.model import OutlineSource, Units
from scalegen.option_values import length_option, word_option
from scalegen.outline.placing import level_rad
from scalegen.outline.read import survey_unplaced
from scalegen.outline.survey import Survey
from scalegen.sources import FileUnit, FrontSide, Hints, Marks, Placing, ScanSettings, Tone, Zero
from scalegen.units import LengthError, describe, parse_angle

_DPI = (25.0, 9600.0)
_LEVEL = "level"
_LARGEST_TOLERANCE_MM = 0.1


@dataclass(frozen=True, kw_only=True)
class Said:
    """Options as typed; None where an option was not given."""

    units: str | None = None
    contour: int | None = None
    rotate: str | None = None
    front: str | None = None
    flip: bool = False
    zero: str | None = None
    points: str | None = None
    tolerance: str | None = None
    dpi: float | None = None
    card: bool = False
    marks: str | None = None
    tone: str | None = None


def look_at(file: Path, said: Said) -> tuple[OutlineSource, Survey]:
    """A file read as the options say.

    Args:
        file: With an outline.
        said: Options.

    Returns:
        The source with all that is said about it, and what was found, still in the drawing's own axes; lay
        it with :func:`~scalegen.outline.placing.placed`.

    Raises:
        UsageError: An option makes no sense; names it.
        PatternError: The file cannot be read.
    """
    units = None if said.units is None else word_option(said.units, get_args(FileUnit), "--units")
    if said.contour is not None and said.contour < 1:
        raise UsageError(
            f"there is no contour {said.contour}", where="--contour", remedy="the largest one has number 1"
        )
    placing = Placing(
        rotate_rad=_rotation(said.rotate),
        front="left" if said.front is None else word_option(said.front, get_args(FrontSide), "--front"),
        flip=said.flip,
        zero="drawing" if said.zero is None else word_option(said.zero, get_args(Zero), "--zero"),
    )
    source = OutlineSource(
        path=file,
        units=units,
        contour=said.contour,
        hints=_hints(said, "in" if units == "in" else "mm"),
        placing=placing,
    )
    found = survey_unplaced(source, where="outline")
    if said.rotate == _LEVEL:
        # Three decimals in degrees hold 0.01 mm over 500 mm.
        turn = math.radians(round(math.degrees(_level(found)), 3))
        source = replace(source, placing=replace(placing, rotate_rad=turn))
    return source, found


def _level(found: Survey) -> float:
    """The turn that lays the outline level, rad; none when it is not known which one is the outline."""
    number = found.chosen or (found.choices[0] if len(found.choices) == 1 else None)
    return level_rad(found.contours[number - 1].ring) if number else 0.0


def _rotation(text: str | None) -> float:
    if text is None or text == _LEVEL:
        return 0.0
    try:
        return parse_angle(text, above_deg=-360, below_deg=360)
    except LengthError as error:
        raise UsageError(
            error.found,
            where="--rotate",
            remedy=f'{error.allowed}, counter-clockwise, or "{_LEVEL}" to lay the outline level',
        ) from error


def _hints(said: Said, units: Units) -> Hints:
    ways = [name for name, given in _ways(said) if given]
    if len(ways) > 1:
        raise UsageError(
            f"each of {' and '.join(ways)} gives the scale", where=ways[1], remedy="keep only one of them"
        )
    if said.dpi is not None and not _DPI[0] <= said.dpi <= _DPI[1]:
        raise UsageError(
            f"{said.dpi:g} is no resolution to read a tang from",
            where="--dpi",
            remedy=f"give {_DPI[0]:g} to {_DPI[1]:g}; 300 or 600 is usual",
        )
    points = None if said.points is None else word_option(said.points, ("smooth", "straight"), "--points")
    tolerance_mm = Hints.tolerance_mm
    if said.tolerance is not None:
        tolerance_mm = length_option(said.tolerance, units, "--tolerance", least_mm=0.001)
        if tolerance_mm > _LARGEST_TOLERANCE_MM:
            raise UsageError(
                f"{describe(said.tolerance)} is too coarse for an outline",
                where="--tolerance",
                remedy=f"give {_LARGEST_TOLERANCE_MM:g} mm at most; 0.005 mm is usual",
            )
    return Hints(
        scan=ScanSettings(
            dpi=said.dpi,
            card=said.card,
            marks=None if said.marks is None else _marks(said.marks, units),
            tang="auto" if said.tone is None else word_option(said.tone, get_args(Tone), "--tone"),
        ),
        smooth=None if points is None else points == "smooth",
        tolerance_mm=tolerance_mm,
    )


def _ways(said: Said) -> list[tuple[str, bool]]:
    return [
        ("--dpi", said.dpi is not None),
        ("--card", said.card),
        ("--marks", said.marks is not None),
    ]


def _marks(text: str, units: Units) -> Marks:
    """Two places in pixels and the distance between them."""
    parts = [part for part in re.split(r"[,;=\s]+", text.strip()) if part]
    try:
        x0, y0, x1, y1 = (float(part) for part in parts[:4])
    except ValueError:
        parts = []
    if len(parts) != 5 or not all(0 <= value < 1e6 for value in (x0, y0, x1, y1)):
        raise UsageError(
            f"{describe(text)} are not two marks and their distance",
            where="--marks",
            remedy="write the first mark's column and row in pixels, the second's, and the distance, such as"
            " --marks 120,340,1890,352,150mm",
        )
    distance_mm = length_option(parts[4], units, "--marks", least_mm=None)
    return Marks(first_px=(x0, y0), second_px=(x1, y1), distance_mm=distance_mm)
