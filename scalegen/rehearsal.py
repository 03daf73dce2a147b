"""A job cut in thought: from a study and its layouts, or from the record of a job, to dry runs.

Nothing here reads a pattern: whoever calls brings the study, so that a job just laid out and one made last
year go the same way.
"""

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from scalegen.design import Scale
from scalegen.errors import GeometryError, UsageError
from scalegen.machining.bridges import around_mm, plan_bridges, tabs_asked
from scalegen.machining.cuts import plan_cuts, rehearse
from scalegen.machining.dry_run import DryRun
from scalegen.machining.field import CELL_MM
from scalegen.machining.mixed import Plan, mixed_cuts, mixed_target, shared_stages
from scalegen.machining.stages import PAD, plan_stages
from scalegen.machining.tabs import Tab
from scalegen.machining.target import target_of
from scalegen.model import JobSpec, Reading, Shop
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved
from scalegen.report.record import stage_records, to_json
from scalegen.report.record_scale import Data, pattern_record, pin_records, stack_record
from scalegen.sheet.layout import PadBox, Placement, SheetLayout, Zone
from scalegen.units import describe

_AGAIN = 'make the job again with "scalegen make"'
_DAMAGE = (AttributeError, GeometryError, IndexError, KeyError, TypeError, ValueError)
_HOLDERS = ("", "profiles")


class Studied(Protocol):
    """What is needed of a study: the scale, and the shop's tables."""

    @property
    def scale(self) -> Scale:
        """Every number of the scale."""

    @property
    def shop(self) -> Shop:
        """The tables that it was resolved with."""


def rehearse_job(study: Studied, layouts: Sequence[SheetLayout], spec: JobSpec) -> tuple[DryRun, ...]:
    """Cut every sheet of a job in thought.

    Args:
        study: The scale and the shop's tables.
        layouts: Where the scales and the pad lie on each blank.
        spec: For the cutter that goes round the parts.

    Returns:
        One dry run for each sheet, in their order.

    Raises:
        UsageError: The cutter is not in the tables, or a blank has too many cells.
        GeometryError: The edge treatment does not fit the outline or the thickness.
    """
    return tuple(rehearse_sheet(study, layout, spec) for layout in layouts)


def rehearse_sheet(
    study: Studied,
    layout: SheetLayout,
    spec: JobSpec,
    *,
    cell_mm: float = CELL_MM,
    last_stage: int | None = None,
    tabs: Sequence[Tab] | None = None,
) -> DryRun:
    """Cut one sheet of a job in thought.

    Args:
        study: As in :func:`rehearse_job`.
        layout: Where the scales and the pad lie.
        spec: For the cutter that goes round the parts.
        cell_mm: Side of a cell.
        last_stage: Stop after this stage, counted from 1; None to cut all.
        tabs: Bridges that stay, in the sheet frame; None for those that job and shop ask for.

    Raises:
        UsageError: As in :func:`rehearse_job`.
        GeometryError: As in :func:`rehearse_job`.
    """
    scale, shop = study.scale, study.shop
    stages = plan_stages(scale, spec, shop)
    target = target_of(scale, layout, cell_mm=cell_mm)
    if tabs is None:
        tabs = plan_bridges(scale, layout, tabs_asked(spec, shop.rules), around_mm(stages)).tabs
    cuts = plan_cuts(scale, layout, target, stages, tabs=tabs)
    return rehearse(target, cuts[:last_stage], scale.stack.layers, tape_mm=shop.rules.tape_mm, tabs=tabs)


def rehearse_together(
    plans: Sequence[Plan],
    shop: Shop,
    layout: SheetLayout,
    *,
    cell_mm: float = CELL_MM,
    last_stage: int | None = None,
    tabs: Sequence[Tab] = (),
) -> DryRun:
    """Cut one sheet of a job of several patterns in thought.

    Args:
        plans: Scale and stages of each pattern.
        shop: The shop's tables.
        layout: Where the scales and the pad lie.
        cell_mm: Side of a cell.
        last_stage: Stop after this stage, counted from 1; None to cut all.
        tabs: Bridges that stay, in the sheet frame.

    Raises:
        UsageError: A blank has too many cells.
        GeometryError: An edge treatment does not fit its outline or the thickness.
    """
    target = mixed_target(plans, layout, cell_mm)
    cuts = mixed_cuts(plans, shared_stages(plans), layout, target, tabs=tabs)
    layers = plans[0].scale.stack.layers
    return rehearse(target, cuts[:last_stage], layers, tape_mm=shop.rules.tape_mm, tabs=tabs)


# ------------------------------------------------------------------------------------- from a record


def pattern_file(record: Data, folder: Path, stated: Path | None = None) -> Path:
    """The pattern file that a job was made from.

    The record has the file's name alone, so that it says the same on every machine. It is looked for beside
    the job, in every folder above it and in the ``profiles`` folder there, then where the command runs.

    Args:
        record: Of the job.
        folder: The job's.
        stated: What the user says; taken as it is.

    Raises:
        UsageError: It is nowhere there.
    """
    if stated is not None:
        return stated
    try:
        name = str(record["pattern"]["file"])
    except _DAMAGE as error:
        raise _damaged(folder) from error
    for place in (*folder.resolve().parents, Path.cwd()):
        for holder in _HOLDERS:
            path = place / holder / name
            if path.is_file():
                return path
    raise UsageError(
        f"the pattern file of this job, {name}, is not found in the folders above it",
        where=str(folder),
        remedy="say where it is, with --pattern FILE",
    )


def spec_of(record: Data, folder: Path) -> JobSpec:
    """The options of a job that its dry run needs: stack, readings, cutter, spacing.

    Raises:
        UsageError: The record is damaged.
    """
    try:
        asked = record["asked"]
        return JobSpec(
            pairs=record["pairs"],
            spares=record["spares"],
            stock=record["pattern"]["stock"],
            measured_mm=tuple(map(float, record["stack"]["measured_mm"])),
            readings=tuple(
                Reading(thickness_mm=thickness, x_mm=x, y_mm=y) for x, y, thickness in asked["readings_mm"]
            ),
            cutter=asked["cutter"],
            spacing_mm=asked["spacing_mm"],
        )
    except _DAMAGE as error:
        raise _damaged(folder) from error


def layouts_of(record: Data, folder: Path, cutter_mm: float = 0.0) -> tuple[SheetLayout, ...]:
    """The sheets of a job as its record has them, in the sheet frame.

    Args:
        record: Of the job.
        folder: Named in errors.
        cutter_mm: Diameter of the cutter, told as the spacing; records do not keep what was asked for.

    Raises:
        UsageError: The record is damaged.
    """
    try:
        return tuple(_layout(sheet, cutter_mm) for sheet in record["sheets"])
    except _DAMAGE as error:
        raise _damaged(folder) from error


def tabs_of(record: Data, folder: Path) -> tuple[tuple[Tab, ...], ...]:
    """The tabs of every sheet of a job as its record has them, in the sheet frame.

    Raises:
        UsageError: The record is damaged.
    """
    try:
        return tuple(tuple(_tabs(sheet)) for sheet in record["sheets"])
    except _DAMAGE as error:
        raise _damaged(folder) from error


def cut_stages(record: Data, folder: Path) -> tuple[str, ...]:
    """Names of the stages that are cut from the blank, in order.

    Holes drilled into scales that were turned over are zeroed on the scale, and are not among them.

    Raises:
        UsageError: The record is damaged.
    """
    try:
        return tuple(stage["name"] for stage in record["stages"] if stage["touch_off"] == PAD)
    except _DAMAGE as error:
        raise _damaged(folder) from error


def stage_named(typed: str, names: Sequence[str]) -> int:
    """The number of a stage, from 1, by its number or its name.

    Raises:
        UsageError: There is no such stage, or there are several.
    """
    text = " ".join(typed.lower().split())
    listing = ", ".join(f"{number} {name}" for number, name in enumerate(names, 1))
    found = [k for k, name in enumerate(names, 1) if text in {str(k), name.lower()}]
    found = found or [k for k, name in enumerate(names, 1) if text and name.lower().startswith(text)]
    if len(found) == 1:
        return found[0]
    if found:
        raise UsageError(
            f'several stages are called "{typed.strip()}"',
            where="--stage",
            remedy=f"give one by its number: {', '.join(map(str, found))}",
        )
    raise UsageError(
        f"there is no stage {describe(typed)}", where="--stage", remedy=f"the stages are: {listing}"
    )


def require_same(record: Data, study: Studied, spec: JobSpec, file: Path, folder: Path) -> None:
    """Refuse a pattern that is no longer what a job was made from.

    Args:
        record: Of the job.
        study: What the pattern file and the shop's tables say now.
        spec: Of the job.
        file: Pattern file, for the message.
        folder: The job's.

    Raises:
        UsageError: Pattern, stack, pins or stages differ; says which.
    """
    scale = study.scale
    now = {
        "pattern": pattern_record(scale),
        "stack": stack_record(scale),
        "pins": pin_records(scale),
        "stages": stage_records(plan_stages(scale, spec, study.shop)),
    }
    # As the record was written, so that rounding is the same.
    plain = json.loads(to_json(now))
    changed = list(_differences(plain, {key: record.get(key) for key in plain}))
    if not changed:
        return
    shown = ", ".join(changed[:4]) + (" and more" if len(changed) > 4 else "")
    raise UsageError(
        f"{file.name} or the shop tables are not what this job was made from: {shown} differ"
        f"{'s' if len(changed) == 1 else ''}",
        where=str(folder),
        remedy=f"put them back as they were, or {_AGAIN}; a dry run of something else would mislead you",
    )


def _differences(now: object, then: object, path: str = "") -> list[str]:
    """Names of what differs, down to single fields; the file's own name may have changed."""
    if isinstance(now, Mapping) and isinstance(then, Mapping):
        keys = [key for key in now if (path, key) != ("pattern", "file")]
        inner = (_differences(now[key], then.get(key), f"{path}.{key}" if path else key) for key in keys)
        return [name for names in inner for name in names]
    return [] if now == then else [path]


def _layout(sheet: Mapping[str, Any], cutter_mm: float) -> SheetLayout:
    rows, edge = sheet.get("outline_rows"), _edge(sheet)
    x0, y0, x1, y1 = edge.bounds_mm
    pad, *more = (
        PadBox(x_mm=pad["x_mm"] - x0, y_mm=pad["y_mm"] - y0, w_mm=pad["w_mm"], h_mm=pad["h_mm"])
        for pad in sheet.get("pads") or [sheet["pad"]]
    )
    return SheetLayout(
        name=sheet["name"],
        length_mm=x1 - x0,
        width_mm=y1 - y0,
        margin_mm=0.0,
        spacing_mm=cutter_mm,
        pad=pad,
        more_pads=tuple(more),
        outline=moved(edge, -x0, -y0) if rows else None,
        zones=tuple(
            Zone(ring=moved(Ring.from_rows(zone["outline_rows"]), -x0, -y0), kind=zone["kind"])
            for zone in sheet.get("zones", ())
        ),
        grain_rad=math.radians(sheet.get("grain_deg", 0.0)),
        origin=sheet["origin"],
        placements=tuple(
            Placement(
                label=place["label"],
                pattern=place["pattern"],
                side=place["side"],
                x_mm=place["x_mm"] - x0,
                y_mm=place["y_mm"] - y0,
                angle_rad=math.radians(place["angle_deg"]),
            )
            for place in sheet["placements"]
        ),
    )


def _edge(sheet: Mapping[str, Any]) -> Ring:
    """Edge of a blank, from the job's origin."""
    return Ring.from_rows(sheet.get("outline_rows") or sheet["outline_mm"])


def _tabs(sheet: Mapping[str, Any]) -> Iterator[Tab]:
    x0, y0, *_ = _edge(sheet).bounds_mm
    for place in sheet["placements"]:
        for tab in place.get("tabs", ()):
            yield Tab(
                x_mm=tab["x_mm"] - x0,
                y_mm=tab["y_mm"] - y0,
                out_rad=math.radians(tab["angle_deg"]),
                width_mm=tab["width_mm"],
                height_mm=tab["height_mm"],
                length_mm=tab["length_mm"],
            )


def _damaged(folder: Path) -> UsageError:
    return UsageError("the job record is damaged", where=str(folder), remedy=_AGAIN)
