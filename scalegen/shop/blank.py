"""A measured blank in numbers: how thick, how uneven, how much glue, and how it stands to its tolerances."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from scalegen.errors import UsageError
from scalegen.model import Adhesive, Finding, Reading, SheetStock, Units
from scalegen.shop.plane import LEAST_FOR_PLANE, Plane, fit_plane, off_mm, outliers
from scalegen.units import format_length

BOND_LESS_MM: Final = 0.05
BOND_MORE_MM: Final = 0.1
"""How much less or more than the glue's usual film is warned of: more than callipers alone put in, and a film
that is starved or thick in a published range of 0.05 to 0.25 mm. The limits are our choice."""

_DUST_MM: Final = 1e-6


@dataclass(frozen=True, kw_only=True)
class BlankReport:
    """What readings of a bonded blank tell.

    Attributes:
        count: How many readings there are.
        used_mm: The smallest of all readings, which the job counts on.
        used_without_outliers_mm: The smallest that does not stand out.
        mean_mm: Mean of all readings.
        mean_without_outliers_mm: Mean of those that do not stand out; glue and tolerances go by it.
        spread_mm: Largest of all readings less the smallest.
        plane: Plane of the readings that do not stand out, None when they tell of none.
        outliers: Indices of readings that stand out, counted from 0; reported, never dropped.
        nominal_mm: Sheets of the tables and their films of glue.
        bond_lines: Films of glue.
        film_mm: What each film is by the tables.
        bond_mm: What each film came out as, by the sheets' own readings; below 0 when these add up to more
            than the blank; None without such readings or without glue.
        worst_case_mm: Sum of the sheets' tolerances, plus or minus.
        root_sum_square_mm: Root of the sum of their squares, plus or minus: what is likely when they are
            independent of each other.
    """

    count: int
    used_mm: float
    used_without_outliers_mm: float
    mean_mm: float
    mean_without_outliers_mm: float
    spread_mm: float
    plane: Plane | None
    outliers: tuple[int, ...]
    nominal_mm: float
    bond_lines: int
    film_mm: float
    bond_mm: float | None
    worst_case_mm: float
    root_sum_square_mm: float

    @property
    def along_x_mm_per_100_mm(self) -> float | None:
        """Gain in thickness over 100 mm along the blank, None without a plane."""
        return None if self.plane is None else 100 * self.plane.slope_x

    @property
    def across_y_mm_per_100_mm(self) -> float | None:
        """Gain in thickness over 100 mm across the blank, None without a plane."""
        return None if self.plane is None else 100 * self.plane.slope_y

    @property
    def off_nominal_mm(self) -> float:
        """Mean of the readings that do not stand out, less nominal."""
        return self.mean_without_outliers_mm - self.nominal_mm

    @property
    def share_of_worst_case(self) -> float | None:
        """Where that stands in the worst case: 0 nominal, 1 and -1 the limits; None without tolerances."""
        return self.off_nominal_mm / self.worst_case_mm if self.worst_case_mm else None

    @property
    def share_of_root_sum_square(self) -> float | None:
        """Where that stands in the root of the sum of squares, as :attr:`share_of_worst_case`."""
        return self.off_nominal_mm / self.root_sum_square_mm if self.root_sum_square_mm else None


def blank_report(
    stack_sheets: Sequence[SheetStock],
    adhesive: Adhesive,
    readings: Sequence[Reading],
    sheet_readings_mm: Sequence[float] = (),
) -> BlankReport:
    """Judge a blank by its readings.

    Args:
        stack_sheets: Sheets from back to face, at least one.
        adhesive: Glue between them.
        readings: Readings of the bonded blank, at least one.
        sheet_readings_mm: What each sheet measured before it was bonded, in the same order; empty when
            they were not measured.

    Returns:
        The report.

    Raises:
        UsageError: No sheets or no readings; or readings of sheets that are not one for each, or no
            thickness.
    """
    if not stack_sheets:
        raise UsageError("there are no sheets in the stack", where="stock", remedy="name a stack with sheets")
    if not readings:
        remedy = "measure the bonded blank at a few places"
        raise UsageError("there are no readings of the blank", where="measured", remedy=remedy)
    require_sheet_readings(stack_sheets, sheet_readings_mm)
    thicknesses_mm = [reading.thickness_mm for reading in readings]
    out = outliers(readings, fit_plane(readings))
    kept = [reading for k, reading in enumerate(readings) if k not in set(out)]
    kept_mm = [reading.thickness_mm for reading in kept]
    mean_kept_mm = math.fsum(kept_mm) / len(kept_mm)
    lines = len(stack_sheets) - 1
    bond_mm = (mean_kept_mm - math.fsum(sheet_readings_mm)) / lines if sheet_readings_mm and lines else None
    return BlankReport(
        count=len(readings),
        used_mm=min(thicknesses_mm),
        used_without_outliers_mm=min(kept_mm),
        mean_mm=math.fsum(thicknesses_mm) / len(thicknesses_mm),
        mean_without_outliers_mm=mean_kept_mm,
        spread_mm=max(thicknesses_mm) - min(thicknesses_mm),
        plane=fit_plane(kept),
        outliers=out,
        nominal_mm=math.fsum(sheet.thickness_mm for sheet in stack_sheets) + lines * adhesive.bond_mm,
        bond_lines=lines,
        film_mm=adhesive.bond_mm,
        bond_mm=bond_mm,
        worst_case_mm=math.fsum(sheet.tolerance_mm for sheet in stack_sheets),
        root_sum_square_mm=math.hypot(*(sheet.tolerance_mm for sheet in stack_sheets)),
    )


def blank_findings(
    report: BlankReport, readings: Sequence[Reading], units: Units = "mm"
) -> tuple[Finding, ...]:
    """What a report has to say to the one who measured.

    Args:
        report: Report on the readings.
        readings: The same readings in the same order.
        units: Unit that lengths are shown in.

    Returns:
        A warning for each reading that stands out, and one when the sheets add up to more than the blank or
        leave far less or more for the glue than its usual film.
    """
    return (*_outlier_findings(report, readings, units), *_bond_findings(report, units))


def require_sheet_readings(sheets: Sequence[SheetStock], sheet_readings_mm: Sequence[float]) -> None:
    """Refuse readings of sheets that are not one thickness for each.

    Args:
        sheets: Sheets from back to face.
        sheet_readings_mm: Their readings in the same order; empty when they were not measured.

    Raises:
        UsageError: Another number of readings, with the sheets named in order; or no thickness.
    """
    if sheet_readings_mm and len(sheet_readings_mm) != len(sheets):
        names = ", ".join(sheet.name for sheet in sheets)
        count = len(sheet_readings_mm)
        raise UsageError(
            f"{count} {'reading' if count == 1 else 'readings'} of sheets for a stack of {len(sheets)}",
            where="sheets measured",
            remedy=f"give one reading for each, from back to face: {names}",
        )
    for sheet, reading_mm in zip(sheets, sheet_readings_mm, strict=False):
        if not (math.isfinite(reading_mm) and reading_mm > 0):
            raise UsageError(
                f'a reading of {reading_mm:g} mm for "{sheet.name}" is not a thickness',
                where="sheets measured",
                remedy="measure the sheet before it is bonded and give its thickness above 0",
            )


def _outlier_findings(report: BlankReport, readings: Sequence[Reading], units: Units) -> Iterator[Finding]:
    placed = sum(reading.x_mm is not None for reading in readings)
    distances_mm = off_mm(readings, report.plane if placed >= LEAST_FOR_PLANE else None)
    usual_mm = median(float(each) for k, each in enumerate(distances_mm) if k not in report.outliers)
    for k in report.outliers:
        reading = readings[k]
        gap_mm = float(distances_mm[k]) - usual_mm
        line = f" (line {reading.line})" if reading.line else ""
        shown = format_length(reading.thickness_mm, units)
        gap = f"{format_length(abs(gap_mm), units)} {'above' if gap_mm > 0 else 'below'}"
        yield Finding(
            code="reading-outlier",
            level="warning",
            about="blank",
            where=_where(reading, units),
            message=f"reading {k + 1}{line}, {shown}, stands {gap} the others",
            remedy="measure there again",
        )


def _bond_findings(report: BlankReport, units: Units) -> Iterator[Finding]:
    if report.bond_mm is None:
        return
    where = "bond lines" if report.bond_lines > 1 else "bond line"
    if report.bond_mm < -_DUST_MM:
        lacking = format_length(-report.bond_mm * report.bond_lines, units)
        yield Finding(
            code="bond-below-zero",
            level="warning",
            about="blank",
            where=where,
            message=f"the sheets as measured add up to {lacking} more than the blank: no room for glue",
            remedy="measure the sheets and the blank again with the same gauge",
        )
        return
    off_mm = report.bond_mm - report.film_mm
    if -BOND_LESS_MM - _DUST_MM <= off_mm <= BOND_MORE_MM + _DUST_MM:
        return
    bond, film = (
        format_length(each, units, 3 + (units == "in")) for each in (report.bond_mm, report.film_mm)
    )
    many = " each" if report.bond_lines > 1 else ""
    starved = "clamp more lightly next time, a starved joint is weak"
    thick = "clamp more evenly next time and look for grit or a bow between the sheets"
    yield Finding(
        code="bond-unlike-table",
        level="warning",
        about="blank",
        where=where,
        message=f"sheets and blank as measured leave {bond} for the glue{many}, whose usual film is {film}",
        remedy=f"measure again with the same gauge; if it is so, {starved if off_mm < 0 else thick}",
    )


def _where(reading: Reading, units: Units) -> str:
    if reading.x_mm is None or reading.y_mm is None:
        return ""
    return f"x = {format_length(reading.x_mm, units)}, y = {format_length(reading.y_mm, units)}"
