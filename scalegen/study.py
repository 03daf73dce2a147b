"""One pattern looked at from all sides: read, resolved against its stack, checked. Never loads the kernel."""

from dataclasses import dataclass
from pathlib import Path

from scalegen.checks import by_level, check_scale, check_tang_holes
from scalegen.design import Scale, design
from scalegen.errors import Fault, PatternError, StopError, UsageError
from scalegen.fields.words import suggest
from scalegen.form.volumes import Volumes, scale_volumes
from scalegen.model import Finding, JobSpec, Pattern, Shop
from scalegen.outline.read import Outline, read_outline
from scalegen.pattern.read import read_pattern
from scalegen.report.finishing import finishing_plan
from scalegen.report.finishing_views import finishing_findings
from scalegen.report.record import finding_records
from scalegen.report.record_scale import (
    Data,
    blank_record,
    pattern_record,
    pin_records,
    scale_record,
    stack_record,
)
from scalegen.shop import find_shared, load_shop, resolve_stack
from scalegen.shop.blank import BlankReport
from scalegen.shop.facing import Facing
from scalegen.shop.measured import counted_mm, measured_blank


@dataclass(frozen=True, kw_only=True, eq=False)
class Study:
    """One pattern looked at from all sides without the kernel.

    Attributes:
        shop: Tables it was resolved with.
        outline: Tang outline as read.
        scale: Every number of the scale.
        findings: What the checks have to say, stops first.
        volumes: Volumes by layer, or None when the shape can't be made.
        blank: What the readings of the blank tell; None when it was not measured.
        facing: What facing and flattening leave of the blank, by its readings or by the tables.
    """

    shop: Shop
    outline: Outline
    scale: Scale
    findings: tuple[Finding, ...]
    volumes: Volumes | None
    blank: BlankReport | None = None
    facing: Facing

    @property
    def stops(self) -> tuple[Finding, ...]:
        """Findings that stop a job."""
        return tuple(finding for finding in self.findings if finding.level == "stop")


def shop_for(pattern_path: Path, shop_folder: Path | None = None) -> Shop:
    """The shop tables for a pattern: a stated folder, the nearest ``shared/`` above it, or the bundled ones.

    Raises:
        PatternError: A table is faulty.
    """
    return load_shop(shop_folder or find_shared(pattern_path.resolve().parent))


def study_pattern(path: Path, spec: JobSpec, shop_folder: Path | None = None) -> Study:
    """Read a pattern, resolve it and check it. Never loads the kernel.

    Args:
        path: Pattern file.
        spec: For stock and readings.
        shop_folder: Folder of shop tables; None to look for one.

    Raises:
        PatternError: A file is faulty.
        GeometryError: Outline and front don't make a scale.
        UsageError: The stock asked for is not in the tables, or a reading can't be right.
    """
    pattern = read_pattern(path)
    shop = shop_for(path, shop_folder)
    return study(pattern, None, spec, shop)


def study(pattern: Pattern, outline: Outline | None, spec: JobSpec, shop: Shop) -> Study:
    """As :func:`study_pattern`, for a pattern at hand.

    Args:
        pattern: As read.
        outline: Its outline when it is known already; None to read it.
        spec: For stock and readings.
        shop: Tables.
    """
    if outline is None:
        outline = read_outline(pattern.outline, where=f"{pattern.path}: tang.outline")
    scale, findings = checked(pattern, outline, spec, shop)
    stopped = any(finding.level == "stop" for finding in findings)
    volumes = None if stopped else scale_volumes(scale)
    blank = measured_blank(
        shop,
        scale.stack,
        spec,
        need_mm=scale.thickness_mm + scale.back_allowance_mm,
        back_allowance_mm=scale.back_allowance_mm,
        units=pattern.units,
    )
    sanding = finishing_plan(scale, shop, 1, blank.facing)
    told = [*blank.findings, *finishing_findings(sanding, pattern.units)]
    return Study(
        shop=shop,
        outline=outline,
        scale=scale,
        findings=by_level([*findings, *told]),
        volumes=volumes,
        blank=blank.report,
        facing=blank.facing,
    )


def checked(
    pattern: Pattern, outline: Outline, spec: JobSpec, shop: Shop
) -> tuple[Scale, tuple[Finding, ...]]:
    """A pattern resolved, and what the checks say about it; the quick part of :func:`study`."""
    name = _stock_name(pattern, spec, shop)
    scale = design(pattern, outline.ring, resolve_stack(shop, name, spec.measured_mm), shop)
    counted = counted_mm(spec, scale.thickness_mm + scale.back_allowance_mm)
    if counted is not None:
        stack = resolve_stack(shop, name, spec.measured_mm, counted)
        scale = design(pattern, outline.ring, stack, shop)
    return scale, by_level(
        [*check_scale(scale, shop), *check_tang_holes(scale, outline.holes), *_outline_notes(outline)]
    )


def study_record(study: Study) -> Data:
    """A study as data: the keys of a job record that are known without building anything."""
    return {
        "pattern": pattern_record(study.scale),
        "stack": stack_record(study.scale),
        "blank": blank_record(study.blank, study.facing),
        "scale": scale_record(study.scale, study.volumes),
        "pins": pin_records(study.scale),
        "findings": finding_records(study.findings),
    }


def _stock_name(pattern: Pattern, spec: JobSpec, shop: Shop) -> str:
    """The stack to cut from: the one asked for, or the pattern's own, which must be in the tables."""
    if spec.stock is not None:
        return spec.stock
    known = ", ".join(sorted(shop.stacks))
    if pattern.stock is None:
        raise UsageError(
            "it is not said which stack to cut from",
            where=str(pattern.path),
            remedy=f'give --stock NAME, or write stock = "NAME" in the pattern; the stacks are: {known}',
        )
    if pattern.stock not in shop.stacks:
        fault = Fault(
            file=str(pattern.path),
            field="stock",
            found=f'there is no stack "{pattern.stock}" in the shop tables',
            allowed=f"the stacks are: {known}",
            hint=suggest(pattern.stock, shop.stacks),
        )
        raise PatternError("1 fault", faults=[fault])
    return pattern.stock


def _outline_notes(outline: Outline) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            code="outline-read",
            level="note",
            about="outline",
            where="",
            message=note,
            remedy="look whether the outline came in as you meant it",
        )
        for note in outline.notes
    )


def require_no_stops(study: Study) -> None:
    """Refuse a study with stop findings.

    Raises:
        StopError: Names each of them.
    """
    if not study.stops:
        return
    lines = [
        f"  - {f.about}{f' ({f.where})' if f.where else ''}: {f.message}; {f.remedy}" for f in study.stops
    ]
    many = f"{len(lines)} findings stop" if len(lines) > 1 else "a finding stops"
    raise StopError(
        "\n".join([f"{many} this job:", *lines]),
        where=str(study.scale.pattern.path),
        remedy="put right what is named above; nothing was written",
    )
