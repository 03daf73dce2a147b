"""Options about the blank, as typed: its size, drawing or remnant, its grain, and what is kept out of it."""

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from scalegen.errors import UsageError
from scalegen.model import JobSpec, KeepOut, OutlineSource, Units
from scalegen.model.job import Rest
from scalegen.option_values import length_option, size_option, word_option
from scalegen.outline.blank import box_rows, read_blank
from scalegen.outline.read import READERS
from scalegen.sources import FileUnit
from scalegen.units import LengthError, describe, parse_angle, split_unit

_LONGEST_MM = 6000.0
_REMNANT = "remnant:"
_MOST_CONTOUR = 1_000_000


@dataclass(frozen=True, kw_only=True)
class SheetTyped:
    """Options about the blank as typed; None, or no sheets, where an option was not given."""

    sheets: tuple[str, ...] = ()
    units: str | None = None
    contour: str | None = None
    keep_out: tuple[str, ...] = ()
    grain: str | None = None


def on_sheet(spec: JobSpec, typed: SheetTyped, units: Units) -> JobSpec:
    """A job with the blank that was typed.

    Args:
        spec: What it starts from.
        typed: Options.
        units: Unit of bare numbers.

    Raises:
        UsageError: An option makes no sense; names it.
        PatternError: The drawing of the blank cannot be read, or it must be said which contour is meant.
    """
    spec = _blank(spec, typed, units)
    if typed.keep_out:
        spec = replace(spec, keep_out=tuple(_keep_out(text, units) for text in typed.keep_out))
    if typed.grain is not None:
        spec = replace(spec, grain_rad=_grain(typed.grain))
    return spec


def _blank(spec: JobSpec, typed: SheetTyped, units: Units) -> JobSpec:
    """Sizes, drawings and remnants; they take the place of whatever the job had.

    Remnants come first, each once, then in their order the others; the last of these is the kind of blank
    that is taken as often as needed.
    """
    for value, option in ((typed.units, "--sheet-units"), (typed.contour, "--sheet-contour")):
        if value is not None and not any(_is_file(text) for text in typed.sheets):
            raise UsageError(
                "no drawing of a sheet is named", where=option, remedy="name one, with --sheet FILE"
            )
    if not typed.sheets:
        return spec
    read = [_one(text.strip(), typed, units) for text in typed.sheets]
    *rests, own = sorted(read, key=lambda each: each.remnant is None)
    return replace(
        spec,
        sheet_mm=own.sheet_mm,
        sheet_shape=own.sheet_shape,
        remnant=own.remnant,
        rests=tuple(rests),
    )


def _is_file(text: str) -> bool:
    return Path(text.strip()).suffix.lower() in READERS


def _believable(size_mm: tuple[float, float], text: str, units: Units) -> tuple[float, float]:
    """The size of a sheet, where there are such sheets: a number in mm read as inches is soon too long."""
    if max(size_mm) <= _LONGEST_MM:
        return size_mm
    remedy = f"{_LONGEST_MM / 1000:.0f} m is the most; look the numbers over"
    if units == "in" and not split_unit(text)[1]:
        remedy = f'lengths without a unit are inches here; where mm are meant, write "{text.strip()}mm"'
    raise UsageError(f"{describe(text)} is {max(size_mm) / 1000:.1f} m long", where="--sheet", remedy=remedy)


def _one(text: str, typed: SheetTyped, units: Units) -> Rest:
    """One blank as typed."""
    file = Path(text)
    if text.lower().startswith(_REMNANT):
        number = text[len(_REMNANT) :].strip()
        if not number:
            raise UsageError(
                "the remnant has no number", where="--sheet", remedy="write it as on the piece: remnant:R3"
            )
        return Rest(remnant=number)
    if not _is_file(text):
        try:
            return Rest(sheet_mm=_believable(size_option(text, units, "--sheet"), text, units))
        except UsageError as error:
            if file.suffix and not re.match(r"[0-9.]", text):
                remedy = f"name a drawing ({', '.join(READERS)}), or write two lengths such as 300x150"
                raise UsageError(
                    f"{describe(text)} is not a sheet", where="--sheet", remedy=remedy
                ) from error
            raise
    source = OutlineSource(
        path=file,
        units=None if typed.units is None else word_option(typed.units, get_args(FileUnit), "--sheet-units"),
        contour=None if typed.contour is None else _contour(typed.contour),
    )
    shape, size_mm = read_blank(source, where="--sheet", contour_option="--sheet-contour N")
    return Rest(sheet_shape=shape, sheet_mm=size_mm)


def _contour(text: str) -> int:
    number = int(text) if re.fullmatch(r"[0-9]{1,7}", text.strip()) else 0
    if not 1 <= number <= _MOST_CONTOUR:
        raise UsageError(
            f"there is no contour {describe(text)}",
            where="--sheet-contour",
            remedy="the largest one has number 1",
        )
    return number


def _keep_out(text: str, units: Units) -> KeepOut:
    """X,Y,WxH: the lower left corner and the size of a box."""
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 3 or not all(parts):
        raise UsageError(
            f"{describe(text)} is not a place to keep out of",
            where="--keep-out",
            remedy="write the lower left corner and the size, such as 40,25,30x20; decimals take a point",
        )
    x, y = (length_option(part, units, "--keep-out", least_mm=-math.inf) for part in parts[:2])
    w, h = size_option(parts[2], units, "--keep-out")
    return KeepOut(rows=box_rows(x, y, w, h))


def _grain(text: str) -> float:
    try:
        return parse_angle(text, above_deg=-360, below_deg=360)
    except LengthError as error:
        raise UsageError(
            error.found,
            where="--grain",
            remedy=f"{error.allowed}: the direction of the grain against x, counter-clockwise",
        ) from error
