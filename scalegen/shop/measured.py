"""From a job's readings to everything they tell about its blank."""

from dataclasses import dataclass

from scalegen.model import Finding, JobSpec, Reading, SheetStock, Shop, Stack, Units
from scalegen.shop.blank import BlankReport, blank_findings, blank_report, require_sheet_readings
from scalegen.shop.facing import UNSEEN_MM, Facing, face_blank

_LEAST_READINGS = 3


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A job's blank as measured.

    Attributes:
        report: What the readings tell; None when the blank was not measured.
        facing: What facing and flattening leave, by the readings or by the tables.
        findings: What there is to say about the readings.
    """

    report: BlankReport | None
    facing: Facing
    findings: tuple[Finding, ...]


def measured_blank(
    shop: Shop,
    stack: Stack,
    spec: JobSpec,
    *,
    need_mm: float,
    back_allowance_mm: float,
    units: Units = "mm",
) -> Measured:
    """Judge a job's blank.

    Args:
        shop: Tables.
        stack: The blank, resolved with the job's readings.
        spec: For readings and the blank's size.
        need_mm: Finished thickness where it is thickest, and the back allowance.
        back_allowance_mm: Taken off the back.
        units: Unit that lengths are shown in.

    Raises:
        UsageError: The readings of the sheets are not one for each.
    """
    sheets = stack_sheets(shop, stack)
    require_sheet_readings(sheets, spec.sheets_measured_mm)
    readings = readings_of(spec)
    report, findings = None, _sheets_alone(spec)
    if readings:
        adhesive = shop.adhesives[shop.stacks[stack.name].adhesive]
        report = blank_report(sheets, adhesive, readings, spec.sheets_measured_mm)
        findings = (*blank_findings(report, readings, units), *_without_places(spec))
    facing = face_blank(
        stack,
        sheets,
        report,
        sheet_readings_mm=spec.sheets_measured_mm,
        size_mm=spec.sheet_mm or sheet_size_mm(shop, stack),
        need_mm=need_mm,
        back_allowance_mm=back_allowance_mm,
    )
    return Measured(report=report, facing=facing, findings=findings)


def counted_mm(spec: JobSpec, need_mm: float) -> float | None:
    """What to count on where a blank is too thin in places only: what the scales need.

    Whether a scale lies on such a place is told once it is known where they lie, so that a thin corner
    nobody uses stops nothing.

    Args:
        spec: For the readings; all must have their places.
        need_mm: Finished thickness and back allowance.

    Returns:
        The need; None where the smallest reading is enough, the largest is not, or places are not known.
    """
    read_mm = [reading.thickness_mm for reading in spec.readings]
    placed = all(reading.x_mm is not None for reading in spec.readings)
    if len(read_mm) < _LEAST_READINGS or not placed:
        return None
    return need_mm if min(read_mm) < need_mm - UNSEEN_MM and max(read_mm) >= need_mm else None


def readings_of(spec: JobSpec) -> tuple[Reading, ...]:
    """A job's readings of the blank, with places where these are known."""
    return spec.readings or tuple(Reading(thickness_mm=each) for each in spec.measured_mm)


def stack_sheets(shop: Shop, stack: Stack) -> tuple[SheetStock, ...]:
    """The sheets of a stack, from back to face."""
    return tuple(shop.sheets[name] for name in shop.stacks[stack.name].sheets)


def sheet_size_mm(shop: Shop, stack: Stack) -> tuple[float, float]:
    """The largest blank that a stack's sheets make as they are bought: length and width."""
    sheets = stack_sheets(shop, stack)
    return min(sheet.length_mm for sheet in sheets), min(sheet.width_mm for sheet in sheets)


def _sheets_alone(spec: JobSpec) -> tuple[Finding, ...]:
    """A note when the sheets were measured and the blank was not."""
    if not spec.sheets_measured_mm:
        return ()
    return (
        Finding(
            code="bond-unknown",
            level="note",
            about="blank",
            where="",
            message="the sheets were measured, the bonded blank was not: the scale goes by the tables",
            remedy="measure the blank and give its readings with --measured; the glue's film follows",
        ),
    )


def _without_places(spec: JobSpec) -> tuple[Finding, ...]:
    """A note when readings came with places that go for none of several blanks."""
    if not (spec.rests and spec.readings):
        return ()
    return (
        Finding(
            code="readings-without-places",
            level="note",
            about="blank",
            where="",
            message=f"there are blanks of several kinds, so the places of the {len(spec.readings)} readings"
            " are not used: the smallest reading is counted on everywhere",
            remedy="make each blank a job of its own, with its own readings, to use their places",
        ),
    )
