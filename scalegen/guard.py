"""The dry run as a guard: every sheet of a job cut in thought, and what that finds, before it is written."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from scalegen.checks import by_level
from scalegen.design import Scale, design
from scalegen.errors import ScalegenError
from scalegen.machining.dry_run import DryRun
from scalegen.machining.findings import dry_run_findings
from scalegen.machining.fit import fit_findings
from scalegen.machining.mixed import Plan, shared_stages
from scalegen.machining.stages import Stage, missing_works
from scalegen.machining.tabs import Tab
from scalegen.machining.thickness import WORTH_A_WORD_MM, nominal_finding, thickness_findings
from scalegen.machining.works import gap_mm
from scalegen.model import Finding, JobSpec, Shop
from scalegen.model.words import ACCEPTABLE
from scalegen.rehearsal import Studied, rehearse_sheet, rehearse_together
from scalegen.sheet.layout import SheetLayout
from scalegen.shop import resolve_stack

CELL_MM = 0.2
"""Side of a cell: fine enough for pad, parts and layers, and quick."""

_NOMINAL_CELL_MM = 0.4


@dataclass(frozen=True, kw_only=True, eq=False)
class Guarded:
    """The sheets cut in thought, one run for each, and what that finds, stops first."""

    runs: tuple[DryRun, ...]
    findings: tuple[Finding, ...]


def guarded(
    study: Studied,
    layouts: Sequence[SheetLayout],
    spec: JobSpec,
    stages: Sequence[Stage],
    tabs: Sequence[Sequence[Tab]] | None = None,
) -> Guarded:
    """Cut every sheet of a job in thought, as planned and on blanks of other thickness.

    Args:
        study: The scale and the shop's tables.
        layouts: Its sheets.
        spec: For the cutter, and what is accepted in words.
        stages: The plan.
        tabs: Bridges of each sheet; None for those that job and shop ask for.

    Raises:
        UsageError: The cutter is not in the tables, or a blank has too many cells.
    """
    runs = tuple(
        rehearse_sheet(study, layout, spec, cell_mm=CELL_MM, tabs=None if tabs is None else tabs[k])
        for k, layout in enumerate(layouts)
    )
    found = dict.fromkeys(_findings(study, layouts, spec, stages, runs))
    return Guarded(runs=runs, findings=by_level([*_accepted(list(found), spec)]))


def guarded_together(
    plans: Sequence[Plan],
    shop: Shop,
    layouts: Sequence[SheetLayout],
    spec: JobSpec,
    tabs: Sequence[Sequence[Tab]],
) -> Guarded:
    """As :func:`guarded`, for a job of several patterns; the tables' thickness is not tried.

    Args:
        plans: Scale and stages of each pattern.
        shop: The shop's tables.
        layouts: The sheets.
        spec: For the spacing, and what is accepted in words.
        tabs: Bridges of each sheet.

    Raises:
        UsageError: A blank has too many cells.
    """
    runs = tuple(
        rehearse_together(plans, shop, layout, cell_mm=CELL_MM, tabs=own)
        for layout, own in zip(layouts, tabs, strict=True)
    )
    stages = tuple(each.stage for each in shared_stages(plans))
    first = plans[0].scale
    found: list[Finding] = []
    for layout, run in zip(layouts, runs, strict=True):
        found += dry_run_findings(run, first, stages=stages, rules=shop.rules, sheet=layout.name)
    for plan in plans:
        found += fit_findings(plan.scale, plan.stages, shop.abrasives.values(), gap_mm=gap_mm(spec, shop))
        found += _missing(plan.scale, spec, shop)
    telling = _first_of_each(plans, layouts)
    for k in telling:
        told = thickness_findings(runs[k], first.stack, shop.rules, first.pattern.units)
        found += [replace(each, where=layouts[k].name if len(telling) > 1 else "") for each in told]
    return Guarded(runs=runs, findings=by_level([*_accepted(list(dict.fromkeys(found)), spec)]))


def _first_of_each(plans: Sequence[Plan], layouts: Sequence[SheetLayout]) -> list[int]:
    """Numbers of the first sheet with each pattern: between them they stand for all."""
    on_sheet = [{place.pattern for place in layout.placements} for layout in layouts]
    firsts = [[k for k, names in enumerate(on_sheet) if plan.name in names][:1] for plan in plans]
    return sorted({k for first in firsts for k in first})


def _missing(scale: Scale, spec: JobSpec, shop: Shop) -> Iterator[Finding]:
    """Work that a scale needs and none of the shop's own stages does."""
    for does in missing_works(scale, spec, shop):
        yield Finding(
            code="stage-missing",
            level="warning",
            about="stages",
            where="",
            message=f'the shop\'s own stages have none that does "{does}", and this scale needs it',
            remedy="add one to stages.toml",
        )


def _findings(
    study: Studied,
    layouts: Sequence[SheetLayout],
    spec: JobSpec,
    stages: Sequence[Stage],
    runs: Sequence[DryRun],
) -> Iterator[Finding]:
    scale, shop = study.scale, study.shop
    for layout, run in zip(layouts, runs, strict=True):
        yield from dry_run_findings(run, scale, stages=stages, rules=shop.rules, sheet=layout.name)
    yield from fit_findings(scale, stages, shop.abrasives.values(), gap_mm=gap_mm(spec, shop))
    yield from _missing(scale, spec, shop)
    if not runs:
        return
    # All sheets are of one stack and one plan, so the first stands for all.
    units = scale.pattern.units
    yield from thickness_findings(runs[0], scale.stack, shop.rules, units)
    nominal = _nominal_run(study, layouts[0], spec)
    if nominal is not None:
        told = nominal_finding(nominal, scale.stack.used_mm, units)
        if told is not None:
            yield told


def _nominal_run(study: Studied, layout: SheetLayout, spec: JobSpec) -> DryRun | None:
    """The same sheet planned for what the tables add up to; None where that is no plan, or no other one."""
    scale, shop = study.scale, study.shop
    need = scale.pattern.thickness_mm
    nominal = scale.stack.nominal_mm
    if abs(scale.stack.used_mm - nominal) < WORTH_A_WORD_MM:
        return None
    if need is not None and need + scale.back_allowance_mm > nominal:
        return None
    try:
        other = design(scale.pattern, scale.tang, resolve_stack(shop, scale.stack.name), shop)
        return rehearse_sheet(
            _Planned(scale=other, shop=shop), layout, spec, cell_mm=_NOMINAL_CELL_MM, tabs=()
        )
    except ScalegenError:
        # A shape that the tables' thickness cannot give is no plan that anybody could have cut by.
        return None


@dataclass(frozen=True, kw_only=True, eq=False)
class _Planned:
    """A scale and the tables: all that a dry run needs of a study."""

    scale: Scale
    shop: Shop


def _accepted(findings: Sequence[Finding], spec: JobSpec) -> Iterator[Finding]:
    """Findings, with those stops turned into warnings that the job accepts in words."""
    reasons = dict(spec.accept)
    for finding in findings:
        if finding.level != "stop" or finding.code not in ACCEPTABLE:
            yield finding
        elif finding.code in reasons:
            words = f'{finding.message}; accepted: "{reasons[finding.code]}"'
            yield replace(finding, level="warning", message=words)
        else:
            say = f'{finding.remedy}; or say why it may be, with --accept {finding.code}="the reason"'
            yield replace(finding, remedy=say)
    stops = {finding.code for finding in findings if finding.level == "stop"}
    for code in reasons:
        if code not in stops:
            yield Finding(
                code="accept-unused",
                level="note",
                about="accept",
                where="",
                message=f"{code} is accepted, and there is no such stop in this job",
                remedy="leave it out",
            )
