"""Several patterns on the same sheets: one job, one folder."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scalegen.checks import by_level
from scalegen.errors import GeometryError, UsageError
from scalegen.export.drawings import footprints
from scalegen.form.volumes import Volumes
from scalegen.guard import guarded_together
from scalegen.laying import Interrupts, Progress, never, silent
from scalegen.machining.bridges import Bridges, Held, around_mm, plan_shared_bridges, tabs_asked
from scalegen.machining.mixed import Plan, shared_stages
from scalegen.machining.stages import plan_stages
from scalegen.model import Finding, JobSpec
from scalegen.pipeline import Job, write_job
from scalegen.report.bom import Part, bill_of
from scalegen.report.dxf_layers import bridges_of, dxf_layer_records, shared_layer_records
from scalegen.report.finishing import left_ridge_mm
from scalegen.report.goods import goods_record
from scalegen.report.made import Lot, Made
from scalegen.report.record import job_record, lot_record, stage_records
from scalegen.report.record_scale import Data
from scalegen.report.run_record import run_record
from scalegen.rests import laid_together_on_rests
from scalegen.sheet.layout import SheetLayout
from scalegen.shop.local import Local, under_scales
from scalegen.shop.measured import readings_of
from scalegen.study import Study, require_no_stops

_SAME_MM = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Wanted:
    """A pattern that was looked at, how many pairs of it are to be cut, and how many tabs hold each scale.

    Without a number of its own it has as many tabs as the job says.
    """

    study: Study
    pairs: int
    spares: int = 0
    tabs: int | None = None

    @property
    def name(self) -> str:
        """The pattern's."""
        return self.study.scale.pattern.name


def make_together(
    wanted: Sequence[Wanted],
    spec: JobSpec,
    progress: Progress = silent,
    interrupts: Interrupts = never,
) -> Job:
    """Make several patterns as one job, on the same sheets.

    Args:
        wanted: The patterns, two or more, all for the same stack.
        spec: Sheet, cutter, files; its own numbers of pairs say nothing.
        progress: Told the name of each step.
        interrupts: As for :func:`scalegen.pipeline.make_job`.

    Returns:
        The folder and the record; its keys for a single pattern are those of the first, ``lots`` has all.

    Raises:
        StopError: A check or the dry run found something that must not be cut.
        GeometryError: A solid can't be made soundly, or the kernel can't be loaded.
        UsageError: The patterns don't go together, or the cutter is not in the tables.
        SheetError: Not all pairs go on sheets.
        WriteError: The folder can't be written; an earlier one is untouched.
    """
    require_alike(wanted)
    for each in wanted:
        require_no_stops(each.study)
    first = wanted[0].study
    spec = replace(spec, pairs=wanted[0].pairs, spares=wanted[0].spares, fill=False)
    counts = [each.pairs + each.spares for each in wanted]
    progress("laying out sheets")
    with interrupts() as stop:
        laid = laid_together_on_rests([each.study for each in wanted], counts, spec, progress, stop)
    local, told = _under(wanted, laid.layouts, spec)
    plans = [
        Plan(scale=each.study.scale, stages=plan_stages(each.study.scale, spec, first.shop))
        for each in wanted
    ]
    bridges = _bridges(wanted, plans, laid.layouts, spec)
    held = [finding for each in bridges for finding in each.findings]
    findings = [finding for each in wanted for finding in _named(each)]
    study = replace(first, findings=by_level([*findings, *told, *laid.findings, *held]))
    require_no_stops(study)
    progress("cutting the sheets in thought")
    cut = guarded_together(plans, first.shop, laid.layouts, spec, [each.tabs for each in bridges])
    study = replace(study, findings=by_level([*study.findings, *cut.findings]))
    require_no_stops(study)
    lots = [_lot(each, plan) for each, plan in zip(wanted, plans, strict=True)]
    made = _made(first, spec, laid.layouts, lots, local=local, findings=study.findings, bridges=bridges)
    made = replace(made, runs=cut.runs)
    return write_job(made, spec.out / (spec.job or joined_name(wanted)), progress)


def joined_name(wanted: Sequence[Wanted]) -> str:
    """What a job is called that was given no name."""
    return "-".join(each.name for each in wanted)[:80].rstrip("-.")


def require_alike(wanted: Sequence[Wanted]) -> None:
    """Refuse patterns that can't be cut from one blank in one job.

    Raises:
        UsageError: Two have one name, or the stacks differ.
    """
    names = [each.name for each in wanted]
    for each in wanted:
        if names.count(each.name) > 1:
            raise UsageError(
                f'two patterns are called "{each.name}"',
                where=str(each.study.scale.pattern.path),
                remedy="give one another name; their labels and files would be mixed up",
            )
    first = wanted[0].study.scale.stack
    for each in wanted[1:]:
        stack = each.study.scale.stack
        if stack.name != first.name or abs(stack.used_mm - first.used_mm) > _SAME_MM:
            raise UsageError(
                f"{each.name} is for the stack {stack.name} of {stack.used_mm:.3f} mm, {names[0]} for"
                f" {first.name} of {first.used_mm:.3f} mm",
                where=str(each.study.scale.pattern.path),
                remedy="name one stack for all with --stock, or make them one by one",
            )


def _bridges(
    wanted: Sequence[Wanted], plans: Sequence[Plan], layouts: Sequence[SheetLayout], spec: JobSpec
) -> tuple[Bridges, ...]:
    """The tabs of every sheet, each pattern's as it asks for."""
    rules = wanted[0].study.shop.rules
    lots = [
        Held(
            scale=each.study.scale,
            asked=tabs_asked(spec if each.tabs is None else replace(spec, tabs=each.tabs), rules),
        )
        for each in wanted
    ]
    wide = max(around_mm(plan.stages) for plan in plans)
    return tuple(plan_shared_bridges(lots, layout, wide) for layout in layouts)


def _named(each: Wanted) -> list[Finding]:
    """A pattern's findings with its name."""
    return [
        replace(finding, where=f"{each.name}: {finding.where}" if finding.where else each.name)
        for finding in each.study.findings
    ]


def _own(layouts: Sequence[SheetLayout], name: str) -> list[SheetLayout]:
    """The sheets with the scales of one pattern alone."""
    return [
        replace(layout, placements=tuple(each for each in layout.placements if each.pattern == name))
        for layout in layouts
    ]


def _under(
    wanted: Sequence[Wanted], layouts: Sequence[SheetLayout], spec: JobSpec
) -> tuple[dict[str, Local], list[Finding]]:
    """The blank under every scale, and what there is to say about it."""
    local: dict[str, Local] = {}
    told: list[Finding] = []
    for each in wanted:
        study = each.study
        found, said = under_scales(
            study.blank,
            readings_of(spec),
            footprints(study.scale),
            _own(layouts, each.name),
            need_mm=study.facing.need_mm,
            units=study.scale.pattern.units,
        )
        local.update(found)
        told += said
    return local, told


def _made(
    first: Study,
    spec: JobSpec,
    layouts: tuple[SheetLayout, ...],
    lots: Sequence[Lot],
    *,
    local: dict[str, Local],
    findings: tuple[Finding, ...],
    bridges: tuple[Bridges, ...],
) -> Made:
    """The job, billed and recorded."""
    plans = [Plan(scale=lot.scale, stages=lot.stages) for lot in lots]
    shared = shared_stages(plans)
    stages = tuple(each.stage for each in shared)
    parts = [
        Part(
            scale=lot.scale,
            pairs=lot.pairs,
            spares=lot.spares,
            volumes_mm3=lot.volumes.finished_mm3,
            facing=lot.facing,
            ridge_mm=left_ridge_mm(lot.stages),
        )
        for lot in lots
    ]
    bom = bill_of(parts, spec.cutter, first.shop, layouts, stages)
    goods = [_more(lot, first, spec, layouts, bridges, alone=lot is not lots[0]) for lot in lots]
    record = job_record(
        scale=first.scale,
        blank=first.blank,
        facing=first.facing,
        local=local,
        spec=spec,
        layouts=layouts,
        volumes=lots[0].volumes,
        stages=stages,
        findings=findings,
        bom=bom,
        files=(),
        bridges=bridges,
        more={
            **{key: value for key, value in goods[0].items() if key != "stages"},
            "dxf_layers": shared_layer_records([lot.scale for lot in lots], shared, layouts, bridges),
        },
        lots=[
            {**lot_record(lot.scale, lot.volumes, lot.pairs, lot.spares), **more}
            for lot, more in zip(lots, goods, strict=True)
        ],
        areas_mm2={lot.scale.pattern.name: lot.scale.footprint.area_mm2 for lot in lots},
    )
    return Made(
        lots=tuple(lots),
        spec=spec,
        shop=first.shop,
        layouts=layouts,
        runs=(),
        findings=findings,
        bom=bom,
        record=record,
        bridges=bridges,
    )


def _more(
    lot: Lot,
    first: Study,
    spec: JobSpec,
    layouts: Sequence[SheetLayout],
    bridges: Sequence[Bridges],
    *,
    alone: bool,
) -> Data:
    """Layers of a pattern's drawings, how its pairs are glued and finished, what it went by.

    How the blanks are laminated stands with the first pattern; with others ``alone`` leaves it out.
    """
    own = _own(layouts, lot.scale.pattern.name)
    held = bridges_of(lot.scale.pattern.name, layouts, bridges)
    return {
        "stages": stage_records(lot.stages),
        "dxf_layers": dxf_layer_records(lot.scale, lot.stages, own, held),
        **goods_record(
            lot.scale,
            first.shop,
            () if alone else layouts,
            pairs=lot.pairs + lot.spares,
            facing=lot.facing,
            stages=lot.stages,
        ),
        "run": run_record(spec, lot.scale.pattern, first.shop.folder),
    }


def _lot(each: Wanted, plan: Plan) -> Lot:
    """A pattern's part of the job."""
    return Lot(
        scale=each.study.scale,
        volumes=_volumes(each),
        pairs=each.pairs,
        spares=each.spares,
        blank=each.study.blank,
        facing=each.study.facing,
        stages=plan.stages,
    )


def _volumes(each: Wanted) -> Volumes:
    if each.study.volumes is None:
        raise GeometryError("the scale's volumes are not known", where=each.name)
    return each.study.volumes
