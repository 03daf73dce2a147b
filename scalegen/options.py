"""Options of the command line, as typed, into a job; lengths in the pattern's units unless they carry their own."""

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, TypeVar, get_args

from scalegen.errors import UsageError
from scalegen.export import WRITERS
from scalegen.model import Corner, JobSpec, Pad, Units
from scalegen.units import LengthError, parse_length

Word = TypeVar("Word", bound=str)

_MOST_PAIRS = 1000


@dataclass(frozen=True, kw_only=True)
class Typed:
    """Options of ``make`` and ``check`` as typed; None where an option was not given."""

    pairs: int | None = None
    spares: int | None = None
    stock: str | None = None
    measured: str | None = None
    sheet: str | None = None
    margin: str | None = None
    spacing: str | None = None
    cutter: str | None = None
    pad: str | None = None
    pad_corner: str | None = None
    origin: str | None = None
    out: Path | None = None
    name: str | None = None
    units: str | None = None
    step: str | None = None
    tolerance: str | None = None
    formats: str | None = None


def merged(spec: JobSpec, typed: Typed, units: Units) -> JobSpec:
    """A job with every option that was typed put in place of what it had.

    Args:
        spec: From a batch file, or the defaults.
        typed: Options.
        units: Unit of bare numbers.

    Raises:
        UsageError: An option makes no sense; names it.
    """
    pad = spec.pad
    if typed.pad is not None:
        width, height = _size(typed.pad, units, "--pad")
        pad = replace(pad, width_mm=width, height_mm=height)
    if typed.pad_corner is not None:
        pad = Pad(
            corner=_word(typed.pad_corner, get_args(Corner), "--pad-corner"),
            width_mm=pad.width_mm,
            height_mm=pad.height_mm,
        )
    schemas: tuple[Literal["AP214", "AP242"], ...] = ("AP214", "AP242")
    return replace(
        spec,
        pairs=spec.pairs if typed.pairs is None else _count(typed.pairs, "--pairs", 1),
        spares=spec.spares if typed.spares is None else _count(typed.spares, "--spares", 0),
        stock=typed.stock or spec.stock,
        measured_mm=spec.measured_mm if typed.measured is None else readings(typed.measured, units),
        sheet_mm=spec.sheet_mm if typed.sheet is None else _size(typed.sheet, units, "--sheet"),
        margin_mm=spec.margin_mm if typed.margin is None else _length(typed.margin, units, "--margin", 0.0),
        spacing_mm=spec.spacing_mm if typed.spacing is None else _length(typed.spacing, units, "--spacing", 0.0),
        cutter=typed.cutter or spec.cutter,
        pad=pad,
        origin=spec.origin if typed.origin is None else _word(typed.origin, get_args(Corner), "--origin"),
        out=typed.out or spec.out,
        job=spec.job if typed.name is None else job_name(typed.name),
        file_units=spec.file_units if typed.units is None else _word(typed.units, get_args(Units), "--units"),
        step_schema=spec.step_schema if typed.step is None else _word(typed.step, schemas, "--step"),
        stl_tolerance_mm=spec.stl_tolerance_mm
        if typed.tolerance is None
        else _length(typed.tolerance, units, "--tolerance", 0.001),
        formats=spec.formats if typed.formats is None else _formats(typed.formats),
    )


def readings(text: str, units: Units) -> tuple[float, ...]:
    """Readings of a stack in mm, separated by commas or semicolons.

    Raises:
        UsageError: A reading is not a length above 0.
    """
    parts = [part.strip() for part in re.split(r"[,;]", text)]
    return tuple(_length(part, units, "--measured", None) for part in parts)


def job_name(text: str) -> str:
    """A name that can be a folder's: letters, digits, "-", "_" and "." inside.

    Raises:
        UsageError: It can't.
    """
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}", text):
        raise UsageError(
            f'"{text}" cannot name a job folder',
            where="--name",
            remedy='use letters, digits, "-", "_" and "."',
        )
    return text


def _length(text: str, units: Units, option: str, least: float | None) -> float:
    try:
        if least is None:
            return parse_length(text, units, above=0.0)
        return parse_length(text, units, minimum=least)
    except LengthError as error:
        raise UsageError(f"{error.found}; {error.allowed}", where=option, remedy=error.hint) from error


def _size(text: str, units: Units, option: str) -> tuple[float, float]:
    parts = re.split(r"\s*[x×]\s*", text.strip())
    if len(parts) != 2:
        raise UsageError(
            f'"{text}" is not a size', where=option, remedy='write length x width, such as "300x150" or "12in x 6in"'
        )
    first, second = (_length(part, units, option, None) for part in parts)
    return first, second


def _count(number: int, option: str, least: int) -> int:
    if not least <= number <= _MOST_PAIRS:
        raise UsageError(f"{number} is not between {least} and {_MOST_PAIRS}", where=option)
    return number


def _word(text: str, known: tuple[Word, ...], option: str) -> Word:
    for word in known:
        if word == text:
            return word
    raise UsageError(f'"{text}" is not known', where=option, remedy=f"use one of {', '.join(known)}")


def _formats(text: str) -> tuple[str, ...]:
    names = tuple(dict.fromkeys(part.strip().lower() for part in text.split(",")))
    return tuple(_word(name, tuple(WRITERS), "--formats") for name in names)
