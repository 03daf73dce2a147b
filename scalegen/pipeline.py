"""The way from a pattern file to a job folder, step by step: the public API.

study = study_pattern(Path("profiles/siskin.toml"), JobSpec(pairs=6))   # no kernel
job = make_job(study, JobSpec(pairs=6))                                 # writes out/siskin/
"""

import importlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from scalegen.checks import by_level
from scalegen.errors import GeometryError
from scalegen.export import WRITERS
from scalegen.export.drawings import footprints
from scalegen.export.files import JOB_FILE, describe_files, job_folder, save_bytes
from scalegen.guard import guarded
from scalegen.laying import Interrupts, Progress, lay_out, never, silent
from scalegen.looks import LOOKED_AT, looked_at
from scalegen.machining.bridges import around_mm, plan_bridges, tabs_asked
from scalegen.machining.stages import plan_stages
from scalegen.machining.tabs import Tab
from scalegen.model import JobSpec
from scalegen.papers import paper_files
from scalegen.report.bom import bill
from scalegen.report.dxf_layers import dxf_layer_records
from scalegen.report.goods import goods_record
from scalegen.report.made import Lot, Made
from scalegen.report.record import file_records, job_record, to_json
from scalegen.report.record_scale import Data
from scalegen.report.run_record import run_record
from scalegen.report.sheet_picture import sheet_pictures
from scalegen.report.tables import bom_csv, bom_json_rows
from scalegen.rests import laid_on_rests
from scalegen.shop.local import under_scales
from scalegen.shop.measured import readings_of
from scalegen.solids.look import Looks
from scalegen.study import (
    Study,
    checked,
    require_no_stops,
    shop_for,
    study,
    study_pattern,
    study_record,
)

__all__ = (
    "Job",
    "Progress",
    "Study",
    "checked",
    "lay_out",
    "make_job",
    "make_pattern",
    "require_kernel",
    "require_no_stops",
    "shop_for",
    "silent",
    "study",
    "study_pattern",
    "study_record",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Job:
    """A job that was written: where, and its record as in ``job.json``."""

    folder: Path
    record: Data


def make_job(study: Study, spec: JobSpec, progress: Progress = silent, interrupts: Interrupts = never) -> Job:
    """The main job: build, gate, lay out, and write a whole job folder.

    Args:
        study: A pattern that was looked at.
        spec: What to make.
        progress: Told the name of each step.
        interrupts: Opened while sheets are laid out; what it hands over says when to end that with the best
            so far.

    Returns:
        The folder and the record.

    Raises:
        StopError: A check or the dry run found something that must not be cut.
        GeometryError: A solid can't be made soundly, or the kernel can't be loaded.
        UsageError: The cutter is not in the tables.
        SheetError: The parts don't go on the sheet.
        WriteError: The folder can't be written; an earlier one is untouched.
    """
    require_no_stops(study)
    volumes = study.volumes
    if volumes is None:
        raise GeometryError("the scale's volumes are not known", where="scale")
    progress("laying out sheets")
    with interrupts() as stop:
        laid = laid_on_rests(study, spec, progress, stop)
    layouts, spec = laid.layouts, laid.spec
    local, told = under_scales(
        study.blank,
        readings_of(spec),
        footprints(study.scale),
        layouts,
        need_mm=study.facing.need_mm,
        units=study.scale.pattern.units,
    )
    stages = plan_stages(study.scale, spec, study.shop)
    asked, wide = tabs_asked(spec, study.shop.rules), around_mm(stages)
    bridges = tuple(plan_bridges(study.scale, layout, asked, wide) for layout in layouts)
    held = [finding for each in bridges for finding in each.findings]
    study = replace(study, findings=by_level([*study.findings, *told, *laid.findings, *held]))
    require_no_stops(study)
    progress("cutting the sheets in thought")
    cut = guarded(study, layouts, spec, stages, [each.tabs for each in bridges])
    study = replace(study, findings=by_level([*study.findings, *cut.findings]))
    require_no_stops(study)
    rows = bill(
        study.scale,
        spec,
        study.shop,
        layouts,
        volumes.finished_mm3,
        facing=study.facing,
        stages=stages,
    )
    lot = Lot(
        scale=study.scale,
        volumes=volumes,
        pairs=spec.pairs,
        spares=spec.spares,
        blank=study.blank,
        facing=study.facing,
        stages=stages,
    )
    record = job_record(
        scale=study.scale,
        blank=study.blank,
        facing=study.facing,
        local=local,
        spec=spec,
        layouts=layouts,
        volumes=volumes,
        stages=stages,
        findings=study.findings,
        bom=rows,
        files=(),
        bridges=bridges,
        more={
            "dxf_layers": dxf_layer_records(study.scale, stages, layouts, bridges),
            **goods_record(
                study.scale,
                study.shop,
                layouts,
                pairs=spec.pairs + spec.spares,
                facing=study.facing,
                stages=stages,
            ),
            "run": run_record(spec, study.scale.pattern, study.shop.folder),
        },
    )
    made = Made(
        lots=(lot,),
        spec=spec,
        shop=study.shop,
        layouts=layouts,
        runs=cut.runs,
        findings=study.findings,
        bom=tuple(rows),
        record=record,
        bridges=bridges,
    )
    return write_job(made, spec.out / (spec.job or study.scale.pattern.name), progress)


def write_job(made: Made, target: Path, progress: Progress = silent) -> Job:
    """Write a job that is laid out and billed: a whole job folder.

    Args:
        made: The job.
        target: The folder.
        progress: Told the name of each step.

    Raises:
        GeometryError: A solid can't be made soundly, or the kernel can't be loaded.
        WriteError: The folder can't be written; an earlier one is untouched.
    """
    # Where nothing can be written is found before the long work begins.
    with job_folder(target) as folder:
        looks = _write_solids(made, folder, progress)
        _write_looks(made, looks, folder, progress)
        _write_papers(made, folder, progress)
        record = {**made.record, "files": file_records(describe_files(folder))}
        save_bytes(folder / JOB_FILE, to_json(record).encode())
    return Job(folder=target, record=record)


def _tabs(made: Made) -> dict[str, tuple[Tab, ...]]:
    """Tabs by the sheets' names."""
    if not made.bridges:
        return {}
    return {layout.name: each.tabs for layout, each in zip(made.layouts, made.bridges, strict=True)}


def _write_solids(made: Made, folder: Path, progress: Progress) -> tuple[Looks, ...]:
    """Build every solid, write the exchange files, and keep what pictures are drawn from if any are."""
    progress("building solids")
    # The kernel is loaded here and not before: a study does without it.
    require_kernel()
    from scalegen.export.outputs import outputs  # noqa: PLC0415 - as said
    from scalegen.solids.scales import scale_solids  # noqa: PLC0415 - as said

    bodies = [(lot.scale, scale_solids(lot.scale, lot.volumes)) for lot in made.lots]
    for output in outputs(*bodies[0], made.layouts, made.spec, _tabs(made), others=bodies[1:]):
        progress(f"writing {output.name}")
        WRITERS[output.format](folder / output.name, output.content)
    if not LOOKED_AT & set(made.spec.formats):
        return ()
    from scalegen.solids.look_mesh import looks_of  # noqa: PLC0415 - as said

    return tuple(looks_of(scale, solids) for scale, solids in bodies)


def _write_looks(made: Made, looks: Sequence[Looks], folder: Path, progress: Progress) -> None:
    """Draw what the job will look like."""
    if not looks:
        return
    for name, draw in looked_at(made, looks):
        progress(f"drawing {name}")
        save_bytes(folder / name, draw())


def _write_papers(made: Made, folder: Path, progress: Progress) -> None:
    """Write what people look at and what they order from."""
    scale = made.lots[0].scale
    progress("drawing the sheets")
    for name, data in sheet_pictures(scale, made.layouts, _tabs(made), [lot.scale for lot in made.lots[1:]]):
        save_bytes(folder / name, data)
    progress("writing the bill of materials")
    save_bytes(folder / "bom.csv", bom_csv(made.bom, scale.pattern.units).encode())
    save_bytes(folder / "bom.json", to_json(bom_json_rows(made.bom)).encode())
    if "papers" in made.spec.formats:
        progress("writing the shop sheet and the template")
        for name, data in paper_files(made):
            save_bytes(folder / name, data)


def require_kernel() -> None:
    """Load the CAD kernel, or say what the machine lacks.

    Raises:
        GeometryError: A library of the system is missing.
    """
    try:
        importlib.import_module("OCP")
    except ImportError as error:
        if _interrupted(error):
            raise KeyboardInterrupt from error
        raise GeometryError(
            f"the CAD kernel cannot be loaded: {error}",
            where="kernel",
            remedy="a machine without a screen may lack two libraries; on Debian and Ubuntu:"
            " apt-get install libgl1 libx11-6",
        ) from error


def _interrupted(error: BaseException | None) -> bool:
    """Whether an interrupt is at the root: a kernel stopped while it loads calls it a failed import."""
    while error is not None:
        if isinstance(error, KeyboardInterrupt) or "KeyboardInterrupt" in str(error):
            return True
        error = error.__cause__ or error.__context__
    return False


def make_pattern(
    path: Path, spec: JobSpec, shop_folder: Path | None = None, progress: Progress = silent
) -> Job:
    """Study a pattern and make it: :func:`study_pattern`, then :func:`make_job`."""
    progress("reading and checking")
    return make_job(study_pattern(path, spec, shop_folder), spec, progress)
