"""The way from a pattern file to a job folder, step by step: the public API.

    study = study_pattern(Path("profiles/siskin.toml"), JobSpec(pairs=6))   # no kernel
    job = make_job(study, JobSpec(pairs=6))                                 # writes out/siskin/
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from scalegen.checks import check_scale
from scalegen.design import Scale, design
from scalegen.errors import GeometryError, SheetError, StopError, UsageError
from scalegen.export.drawings import footprints
from scalegen.export.files import describe_files, job_folder, save_bytes
from scalegen.form.volumes import Volumes, scale_volumes
from scalegen.machining.stages import plan_stages
from scalegen.model import Finding, JobSpec, Pattern, Shop, Stack
from scalegen.outline.read import Outline, read_outline
from scalegen.pattern.read import read_pattern
from scalegen.report.bom import bill
from scalegen.report.record import (
    Data,
    finding_records,
    job_record,
    pattern_record,
    pin_records,
    scale_record,
    stack_record,
    to_json,
)
from scalegen.report.tables import bom_csv, bom_json_rows
from scalegen.sheet.layout import SheetLayout
from scalegen.sheet.rows import arrange
from scalegen.sheet.verify import verify
from scalegen.shop import find_shared, load_shop, resolve_stack

Progress = Callable[[str], None]


def silent(step: str) -> None:
    """Progress that says nothing."""
    del step


@dataclass(frozen=True, kw_only=True, eq=False)
class Study:
    """One pattern looked at from all sides without the kernel.

    Attributes:
        shop: Tables it was resolved with.
        outline: Tang outline as read.
        scale: Every number of the scale.
        findings: What the checks have to say, stops first.
        volumes: Volumes by layer, or None when the shape can't be made.
    """

    shop: Shop
    outline: Outline
    scale: Scale
    findings: tuple[Finding, ...]
    volumes: Volumes | None

    @property
    def stops(self) -> tuple[Finding, ...]:
        """Findings that stop a job."""
        return tuple(finding for finding in self.findings if finding.level == "stop")


@dataclass(frozen=True, kw_only=True, eq=False)
class Job:
    """A job that was written: where, and its record as in ``job.json``."""

    folder: Path
    record: Data


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
        UsageError: The stock is not in the tables.
    """
    pattern = read_pattern(path)
    shop = shop_for(path, shop_folder)
    stack = resolve_stack(shop, _stock_name(pattern, spec, shop), spec.measured_mm)
    outline = read_outline(pattern.outline, where=f"{path}: tang.outline")
    scale = design(pattern, outline.ring, stack, shop)
    findings = (*check_scale(scale, shop), *_outline_notes(outline))
    stopped = any(finding.level == "stop" for finding in findings)
    volumes = None if stopped else scale_volumes(scale)
    return Study(shop=shop, outline=outline, scale=scale, findings=findings, volumes=volumes)


def study_record(study: Study) -> Data:
    """A study as data: the keys of a job record that are known without building anything."""
    return {
        "pattern": pattern_record(study.scale),
        "stack": stack_record(study.scale),
        "scale": scale_record(study.scale, study.volumes),
        "pins": pin_records(study.scale),
        "findings": finding_records(study.findings),
    }


def _stock_name(pattern: Pattern, spec: JobSpec, shop: Shop) -> str:
    name = spec.stock or pattern.stock
    if name is None:
        raise UsageError(
            "no stock is named",
            where=str(pattern.path),
            remedy=f'give --stock NAME or write stock = "NAME"; the tables have {", ".join(sorted(shop.stacks))}',
        )
    return name


def _outline_notes(outline: Outline) -> tuple[Finding, ...]:
    return tuple(
        Finding(code="outline-read", level="note", about="outline", where="", message=note, remedy="look at it")
        for note in outline.notes
    )


# --------------------------------------------------------------------------------------------- sheets


def lay_out(study: Study, spec: JobSpec) -> tuple[SheetLayout, ...]:
    """Pairs and spares on as many blanks as they need, checked by independent means.

    Raises:
        SheetError: Not even one pair fits, or the layout does not pass the check.
        UsageError: The cutter is not in the tables.
    """
    cutter = study.shop.cutters.get(spec.cutter)
    if cutter is None:
        raise UsageError(
            f'cutter "{spec.cutter}" is not in the tables',
            where="--cutter",
            remedy=f"use one of {', '.join(sorted(study.shop.cutters))}",
        )
    clearance = study.shop.rules.clearance_mm
    spacing = cutter.diameter_mm + clearance if spec.spacing_mm is None else spec.spacing_mm
    keep_clear = cutter.diameter_mm + clearance
    length, width = spec.sheet_mm or _sheet_size(study.scale.stack, study.shop)
    rings = footprints(study.scale)
    pairs = spec.pairs + spec.spares
    layouts = arrange(
        rings,
        pattern=study.scale.pattern.name,
        pairs=pairs,
        length_mm=length,
        width_mm=width,
        margin_mm=spec.margin_mm,
        spacing_mm=spacing,
        pad=spec.pad,
        origin=spec.origin,
        keep_clear_mm=keep_clear,
    )
    faults = verify(
        layouts,
        rings,
        spacing_mm=spacing,
        margin_mm=spec.margin_mm,
        keep_clear_mm=keep_clear,
        pairs=pairs,
    )
    if faults:
        raise SheetError(f"the layout did not pass its check: {'; '.join(faults)}", where="sheet")
    return layouts


def _sheet_size(stack: Stack, shop: Shop) -> tuple[float, float]:
    """The largest blank that the stack's sheets make as they are bought."""
    sheets = [shop.sheets[name] for name in shop.stacks[stack.name].sheets]
    return min(s.length_mm for s in sheets), min(s.width_mm for s in sheets)


# ----------------------------------------------------------------------------------------------- make


def make_job(study: Study, spec: JobSpec, progress: Progress = silent) -> Job:
    """The main job: build, gate, lay out, and write a whole job folder.

    Args:
        study: A pattern that was looked at.
        spec: What to make.
        progress: Told the name of each step.

    Returns:
        The folder and the record.

    Raises:
        StopError: A check found something that must not be cut.
        GeometryError: A solid can't be made soundly.
        SheetError: The parts don't go on the sheet.
        WriteError: The folder can't be written; an earlier one is untouched.
    """
    require_no_stops(study)
    volumes = study.volumes
    if volumes is None:
        raise GeometryError("the scale's volumes are not known", where="scale")
    progress("laying out sheets")
    layouts = lay_out(study, spec)
    progress("building solids")
    from scalegen.export.outputs import outputs
    from scalegen.solids.scales import scale_solids

    solids = scale_solids(study.scale, volumes)
    rows = bill(study.scale, spec, study.shop, layouts, volumes.finished_mm3)
    target = spec.out / (spec.job or study.scale.pattern.name)
    with job_folder(target) as folder:
        from scalegen.export import WRITERS

        for output in outputs(study.scale, solids, layouts, spec):
            progress(f"writing {output.name}")
            WRITERS[output.format](folder / output.name, output.content)
        progress("writing the bill of materials")
        save_bytes(folder / "bom.csv", bom_csv(rows, study.scale.pattern.units).encode())
        save_bytes(folder / "bom.json", to_json(bom_json_rows(rows)).encode())
        record = job_record(
            scale=study.scale,
            spec=spec,
            layouts=layouts,
            volumes=volumes,
            stages=plan_stages(study.scale, spec),
            findings=study.findings,
            bom=rows,
            files=describe_files(folder),
        )
        save_bytes(folder / "job.json", to_json(record).encode())
    return Job(folder=target, record=record)


def require_no_stops(study: Study) -> None:
    """Refuse a study with stop findings.

    Raises:
        StopError: Names each of them.
    """
    if study.stops:
        lines = [f"{f.about} ({f.where}): {f.message}; {f.remedy}" for f in study.stops]
        many = f"{len(lines)} findings stop" if len(lines) > 1 else "a finding stops"
        raise StopError(
            f"{many} this job: " + " | ".join(lines), where=str(study.scale.pattern.path), remedy="nothing was written"
        )


def make_pattern(
    path: Path, spec: JobSpec, shop_folder: Path | None = None, progress: Progress = silent
) -> Job:
    """Study a pattern and make it: :func:`study_pattern`, then :func:`make_job`."""
    progress("reading and checking")
    return make_job(study_pattern(path, spec, shop_folder), spec, progress)


