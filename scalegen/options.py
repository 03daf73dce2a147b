"""Options of the command line, as typed, into a job.

Lengths are in the pattern's units unless they carry their own.
"""

import re
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import Literal, get_args

from scalegen.errors import UsageError
from scalegen.model import Corner, JobSpec, Pad, Reading, Units
from scalegen.model.job import (
    FORMATS,
    MOST_SEED,
    MOST_TABS,
    MOST_TURNS,
    TURNS,
    Effort,
    PadCorner,
    Pairing,
    turns_of,
)
from scalegen.model.words import ACCEPTABLE, Paper
from scalegen.option_values import FILL, Word, count_option, length_option, size_option, word_option
from scalegen.sheet_options import SheetTyped, on_sheet
from scalegen.shop.readings import read_readings
from scalegen.units import describe

_LONGEST_REASON = 300
_READING_FILES = {".csv", ".tsv", ".txt"}
_TOLERANCE_MM = (0.001, 1.0)
_WHOLE = re.compile(r"[0-9]+")
_WHOLE_WITH_UNIT = re.compile(r"[0-9]+\s*(?:mm|in|\"|″)?", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Typed:
    """Options of ``make`` and ``check`` as typed; None where an option was not given."""

    together: bool = False
    pairs: str | None = None
    spares: str | None = None
    stock: str | None = None
    measured: str | None = None
    sheets_measured: str | None = None
    on_sheet: SheetTyped = field(default_factory=SheetTyped)
    margin: str | None = None
    spacing: str | None = None
    cutter: str | None = None
    pad: str | None = None
    pad_corner: str | None = None
    second_pad: str | None = None
    origin: str | None = None
    out: Path | None = None
    name: str | None = None
    units: str | None = None
    step: str | None = None
    tolerance: str | None = None
    formats: str | None = None
    paper: str | None = None
    turns: str | None = None
    pairing: str | None = None
    effort: str | None = None
    seed: str | None = None
    accept: tuple[str, ...] = ()
    left_over: str | None = None
    tabs: str | None = None


def merged(spec: JobSpec, typed: Typed, units: Units) -> JobSpec:
    """A job with every option that was typed put in place of what it had.

    Args:
        spec: From a batch file, or the defaults.
        typed: Options.
        units: Unit of bare numbers.

    Raises:
        UsageError: An option makes no sense; names it.
    """

    def word(text: str | None, kept: Word, known: tuple[Word, ...], option: str) -> Word:
        return kept if text is None else word_option(text, known, option)

    measured_mm, placed = spec.measured_mm, spec.readings
    if typed.measured is not None:
        placed = _from_file(typed.measured, units)
        measured_mm = (
            tuple(each.thickness_mm for each in placed) if placed else readings(typed.measured, units)
        )
    schemas: tuple[Literal["AP214", "AP242"], ...] = ("AP214", "AP242")
    fill = (typed.pairs or "").strip().lower() == FILL
    pairs, pairs_each = _counts(None if fill else typed.pairs, "--pairs", 1)
    spares, spares_each = _counts(typed.spares, "--spares", 0)
    tabs, tabs_each = _counts(typed.tabs, "--tabs", 0, MOST_TABS)
    spacing_mm = spec.spacing_mm
    if typed.spacing is not None:
        spacing_mm = length_option(typed.spacing, units, "--spacing", least_mm=0.0)
    spec = on_sheet(spec, typed.on_sheet, units)
    return replace(
        spec,
        together=spec.together or typed.together,
        pairs=pairs or spec.pairs,
        pairs_each=spec.pairs_each if typed.pairs is None else pairs_each,
        spares_each=spec.spares_each if typed.spares is None else spares_each,
        fill=fill if typed.pairs is not None else spec.fill,
        spares=spec.spares if spares is None else spares,
        stock=spec.stock if typed.stock is None else typed.stock.strip(),
        measured_mm=measured_mm,
        readings=placed,
        sheets_measured_mm=spec.sheets_measured_mm
        if typed.sheets_measured is None
        else readings(typed.sheets_measured, units, "--sheets-measured"),
        margin_mm=spec.margin_mm
        if typed.margin is None
        else length_option(typed.margin, units, "--margin", least_mm=0.0),
        spacing_mm=spacing_mm,
        cutter=spec.cutter if typed.cutter is None else typed.cutter.strip(),
        pad=_pad(spec.pad, typed, units),
        origin=word(typed.origin, spec.origin, get_args(Corner), "--origin"),
        out=typed.out or spec.out,
        job=spec.job if typed.name is None else job_name(typed.name),
        file_units=word(typed.units, spec.file_units, get_args(Units), "--units"),
        step_schema=word(typed.step, spec.step_schema, schemas, "--step"),
        stl_tolerance_mm=spec.stl_tolerance_mm
        if typed.tolerance is None
        else _tolerance(typed.tolerance, units),
        formats=spec.formats if typed.formats is None else _formats(typed.formats),
        paper=spec.paper if typed.paper is None else word_option(typed.paper, get_args(Paper), "--paper"),
        turns_rad=spec.turns_rad if typed.turns is None else _turns(typed.turns),
        pairing=word(typed.pairing, spec.pairing, get_args(Pairing), "--pairing"),
        effort=word(typed.effort, spec.effort, get_args(Effort), "--effort"),
        left_over_mm=spec.left_over_mm
        if typed.left_over is None
        else size_option(typed.left_over, units, "--left-over"),
        accept=_accept(spec.accept, typed.accept),
        seed=spec.seed if typed.seed is None else count_option(typed.seed, "--seed", 0, MOST_SEED),
        tabs=spec.tabs if typed.tabs is None else tabs,
        tabs_each=spec.tabs_each if typed.tabs is None else tabs_each,
    )


def readings(text: str, units: Units, option: str = "--measured") -> tuple[float, ...]:
    """Readings of a stack or its sheets in mm, separated by commas or semicolons.

    Where decimals are written with a comma, "6,9" is one reading and not two. So whole numbers that a bare
    comma joins are refused, and so are commas within readings that semicolons separate.

    Raises:
        UsageError: A reading is not a length above 0, or it can't be told where one ends.
    """
    parts = [part.strip() for part in text.split(";" if ";" in text else ",")]
    for first, second in pairwise(text.split(",") if ";" not in text else ()):
        if _WHOLE.fullmatch(first.strip()) and _WHOLE_WITH_UNIT.fullmatch(second):
            raise UsageError(
                f"{describe(f'{first.strip()},{second}')} may be one reading or two",
                where=option,
                remedy=f'decimals take a point: "{first.strip()}.{second}"; between whole numbers put ";"',
            )
    if "" in parts:
        raise UsageError(
            f"{describe(text)} has a reading missing" if any(parts) else "there is no reading",
            where=option,
            remedy='write readings with commas between them, such as "6.85,6.9"',
        )
    return tuple(length_option(part, units, option, least_mm=None) for part in parts)


def _from_file(text: str, units: Units) -> tuple[Reading, ...]:
    """Readings with their places from a file, when that is what is named; else none."""
    path = Path(text.strip())
    return read_readings(path, units) if path.suffix.lower() in _READING_FILES else ()


def job_name(text: str) -> str:
    """A name that can be a folder's: letters, digits, "-", "_" and "." inside.

    Raises:
        UsageError: It can't.
    """
    if not re.fullmatch(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,78}[A-Za-z0-9_-])?", text):
        raise UsageError(
            f"{describe(text)} cannot name a job folder",
            where="--name",
            remedy='use letters, digits, "-", "_" and "." inside, without spaces, 80 at most',
        )
    return text


def _pad(pad: Pad, typed: Typed, units: Units) -> Pad:
    if typed.pad is not None:
        width, height = size_option(typed.pad, units, "--pad")
        pad = replace(pad, width_mm=width, height_mm=height)
    if typed.pad_corner is not None:
        pad = replace(pad, corner=word_option(typed.pad_corner, get_args(PadCorner), "--pad-corner"))
    if typed.second_pad is not None:
        pad = replace(pad, second=word_option(typed.second_pad, get_args(Corner), "--second-pad"))
    if pad.second == pad.corner:
        others = [corner for corner in get_args(Corner) if corner != pad.corner]
        raise UsageError(
            f"both pads are to stand in the {pad.corner} corner",
            where="--second-pad" if typed.second_pad or typed.pad_corner else "pad.second",
            remedy=f"choose another corner for one of them; for the second there are {', '.join(others)}",
        )
    return pad


def _tolerance(text: str, units: Units) -> float:
    low, high = _TOLERANCE_MM
    value = length_option(text, units, "--tolerance", least_mm=0.0)
    if not low <= value <= high:
        raise UsageError(
            f"{describe(text)} is not from {low:g} mm to {high:g} mm",
            where="--tolerance",
            remedy="0.02 mm is fine enough for milling; smaller makes larger files",
        )
    return value


def _counts(
    text: str | None, option: str, least: int, *most: int
) -> tuple[int | None, tuple[tuple[str, int], ...]]:
    """One number for all patterns, or a number for each: "6", or "siskin=4,harrier=2"."""
    if text is None:
        return None, ()
    if "=" not in text:
        return count_option(text, option, least, *most), ()
    each: dict[str, int] = {}
    for part in re.split("[,;]", text):
        name, _, number = part.partition("=")
        if not name.strip() or name.strip() in each:
            raise UsageError(
                f"{describe(text)} does not give each pattern its number once",
                where=option,
                remedy=f"write names and numbers, such as {option} siskin=4,harrier=2",
            )
        each[name.strip()] = count_option(number, option, least, *most)
    return None, tuple(each.items())


def _accept(kept: tuple[tuple[str, str], ...], typed: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Stops that are accepted, each with its reason in words."""
    reasons, said = dict(kept), set[str]()
    for text in typed:
        code, sign, why = text.partition("=")
        reason = why.strip().strip("\"'").strip()
        known = word_option(code, ACCEPTABLE, "--accept")
        if not sign or not reason or not reason.isprintable() or len(reason) > _LONGEST_REASON:
            raise UsageError(
                f"it is not said why {known} may be accepted"
                if not reason
                else f"the reason for {known} is no line of {_LONGEST_REASON} letters at most",
                where="--accept",
                remedy=f'write --accept {known}="the reason"',
            )
        if known in said:
            raise UsageError(
                f"two reasons are given for {known}, and a job keeps one",
                where="--accept",
                remedy=f'give it once, with both in one line: --accept {known}="the reasons"',
            )
        said.add(known)
        reasons[known] = reason
    return tuple(reasons.items())


def _turns(text: str) -> tuple[float, ...]:
    """A word for turns, or degrees with commas between them."""
    parts = [part.strip().removesuffix("deg").strip() for part in re.split(r"[,;]", text)]
    if not any(re.fullmatch(r"[+-]?[0-9].*", part) for part in parts):
        return TURNS[word_option(text, tuple(TURNS), "--turns")]
    numbers = [float(part) for part in parts if re.fullmatch(r"[+-]?[0-9]{1,3}(\.[0-9]{1,6})?", part)]
    if len(numbers) < len(parts) or not all(-360 <= number <= 360 for number in numbers):
        raise UsageError(
            f"{describe(text)} is not a list of turns",
            where="--turns",
            remedy=f"write degrees from -360 to 360, such as 0,90,180, or one of: {', '.join(TURNS)}",
        )
    turns = turns_of(numbers)
    if len(turns) > MOST_TURNS:
        raise UsageError(
            f"{len(turns)} turns are too many",
            where="--turns",
            remedy=f'give {MOST_TURNS} at most, or "free"',
        )
    return turns


def _formats(text: str) -> tuple[str, ...]:
    names = [part.strip() for part in re.split(r"[,;]", text)]
    return tuple(dict.fromkeys(word_option(name, FORMATS, "--formats") for name in names))
