"""The whole job as plain data: what ``job.json`` holds. Lengths in mm, angles in degrees, all keys there."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from scalegen import __version__
from scalegen.design import Scale
from scalegen.errors import PatternError, ScalegenError, UsageError
from scalegen.export.files import JOB_FILE, WrittenFile
from scalegen.form.volumes import Volumes
from scalegen.machining.bridges import Bridge, Bridges
from scalegen.machining.stages import Stage
from scalegen.model import BomRow, Finding, JobSpec
from scalegen.outline.transform import moved
from scalegen.report.record_scale import (
    Data,
    blank_record,
    pattern_record,
    pin_records,
    scale_record,
    stack_record,
)
from scalegen.report.tables import bom_json_rows
from scalegen.sheet.layout import LeftOver, PadBox, SheetLayout
from scalegen.shop.blank import BlankReport
from scalegen.shop.facing import Facing
from scalegen.shop.local import Local

_DIGITS = 9
_FLAT_MM = 0.01
_KEYS = {
    *("scalegen", "pattern", "pairs", "spares", "stack", "scale"),
    *("pins", "sheets", "stages", "findings", "bom", "files"),
}


def job_record(
    *,
    scale: Scale,
    blank: BlankReport | None = None,
    facing: Facing | None = None,
    local: Mapping[str, Local] | None = None,
    spec: JobSpec,
    layouts: Sequence[SheetLayout],
    volumes: Volumes,
    stages: Sequence[Stage],
    findings: Sequence[Finding],
    bom: Sequence[BomRow],
    files: Sequence[WrittenFile],
    bridges: Sequence[Bridges] = (),
    more: Mapping[str, object] | None = None,
    lots: Sequence[Data] = (),
    areas_mm2: Mapping[str, float] | None = None,
) -> Data:
    """Everything about a finished job, ready for :func:`to_json`; ``local`` goes by the scales' labels.

    ``more`` is put in as it is, such as how the job is glued and finished. ``lots`` are those of a job of
    several patterns, the first one's with them, and ``areas_mm2`` their footprints by name.
    """
    tabs = [bridge for sheet in bridges for bridge in sheet.bridges]
    areas = {scale.pattern.name: scale.footprint.area_mm2, **(areas_mm2 or {})}
    return {
        "scalegen": __version__,
        "pattern": pattern_record(scale),
        "pairs": spec.pairs,
        "spares": spec.spares,
        "asked": asked_record(spec),
        "stack": stack_record(scale),
        "blank": blank_record(blank, facing),
        "scale": scale_record(scale, volumes),
        "pins": pin_records(scale),
        "lots": list(lots) or [lot_record(scale, volumes, spec.pairs, spec.spares)],
        "sheets": [_sheet_record(layout, areas, local or {}, tabs) for layout in layouts],
        "stages": stage_records(stages),
        "findings": finding_records(findings),
        "bom": bom_json_rows(bom),
        **(more or {}),
        "files": file_records(files),
    }


def asked_record(spec: JobSpec) -> Data:
    """What was asked for and shows nowhere else, so that a job can be looked at again as it was.

    Readings are x, y and thickness; x and y are None where only the thickness was noted.
    """
    return {
        "cutter": spec.cutter,
        "spacing_mm": spec.spacing_mm,
        "readings_mm": [[each.x_mm, each.y_mm, each.thickness_mm] for each in spec.readings],
        "accept": dict(spec.accept),
    }


def lot_record(scale: Scale, volumes: Volumes, pairs: int, spares: int) -> Data:
    """One pattern's part of a job."""
    return {
        "pattern": pattern_record(scale),
        "pairs": pairs,
        "spares": spares,
        "scale": scale_record(scale, volumes),
        "pins": pin_records(scale),
    }


def stage_records(stages: Sequence[Stage]) -> list[Data]:
    """The plan, stage by stage; heights above the bed, None where a stage has no such thing."""
    return [
        {
            "name": stage.name,
            "does": stage.does,
            "cutter": stage.cutter,
            "kind": stage.kind,
            "at_hand": stage.is_at_hand,
            "touch_off": stage.touch_off,
            "z_zero_mm": stage.z_zero_mm,
            "from_mm": stage.from_mm,
            "to_mm": stage.to_mm,
            "deepest_mm": stage.deepest_mm,
            "allowance_mm": stage.allowance_mm,
            "depth_per_pass_mm": stage.depth_per_pass_mm,
            "stepover_mm": stage.stepover_mm,
            "scallop_mm": stage.scallop_mm,
            "passes": stage.passes,
            "reason": stage.reason,
            "surface_error_if_zeroed_elsewhere_mm": stage.surface_error_if_zeroed_elsewhere_mm,
        }
        for stage in stages
    ]


def file_records(files: Sequence[WrittenFile]) -> list[Data]:
    """Files of a job with their checksums."""
    return [{"path": f.path, "sha256": f.sha256, "bytes": f.bytes} for f in files]


def finding_records(findings: Sequence[Finding]) -> list[Data]:
    """Findings as data."""
    return [
        {
            "code": f.code,
            "level": f.level,
            "about": f.about,
            "where": f.where,
            "message": f.message,
            "remedy": f.remedy,
        }
        for f in findings
    ]


def error_record(error: ScalegenError) -> Data:
    """An error as data: what ``--json`` prints in place of a result."""
    faults = error.faults if isinstance(error, PatternError) else ()
    return {
        "exit_code": error.exit_code,
        "message": error.message,
        "where": error.where,
        "remedy": error.remedy,
        "faults": [asdict(fault) for fault in faults],
    }


def _sheet_record(
    layout: SheetLayout, areas: Mapping[Any, float], local: Mapping[str, Local], tabs: Sequence[Bridge] = ()
) -> Data:
    x0, y0 = layout.to_origin_frame(0.0, 0.0)
    claim = layout.claim
    return {
        "name": layout.name,
        "remnant": layout.remnant,
        "outline_mm": moved(layout.edge, x0, y0).flatten(_FLAT_MM).tolist(),
        "outline_rows": None if layout.outline is None else moved(layout.outline, x0, y0).rows.tolist(),
        "zones": [
            {"kind": zone.kind, "outline_rows": moved(zone.ring, x0, y0).rows.tolist()}
            for zone in layout.zones
        ],
        "grain_deg": math.degrees(layout.grain_rad),
        "origin": layout.origin,
        "pad": _pad_record(layout, layout.pad),
        "pads": [_pad_record(layout, pad) for pad in layout.pads],
        "placements": [_placement_record(layout, k, local, tabs) for k in range(len(layout.placements))],
        "left_over": [_left_over_record(piece, layout) for piece in layout.left_over],
        "utilisation": layout.utilisation(areas),
        "bound_pairs": claim.bound_pairs if claim else None,
        "bound_reason": claim.bound_reason if claim else None,
        "proven": claim.proven if claim else None,
        "effort": claim.effort if claim else None,
        "seed": claim.seed if claim else None,
    }


def _left_over_record(piece: LeftOver, layout: SheetLayout) -> Data:
    """A piece left over: rows x, y, bulge from the sheet's origin, and its area without holes."""
    outline, *zones = (
        [[*layout.to_origin_frame(x, y), bulge] for x, y, bulge in rows]
        for rows in (piece.outline, *piece.zones)
    )
    return {"outline": outline, "zones": zones, "area_mm2": piece.area_mm2}


def _pad_record(layout: SheetLayout, pad: PadBox) -> Data:
    x, y = layout.to_origin_frame(pad.x_mm, pad.y_mm)
    return {"x_mm": x, "y_mm": y, "w_mm": pad.w_mm, "h_mm": pad.h_mm}


def _placement_record(
    layout: SheetLayout, index: int, local: Mapping[str, Local], tabs: Sequence[Bridge]
) -> Data:
    place = layout.placements[index]
    under = local.get(place.label)
    x, y = layout.to_origin_frame(place.x_mm, place.y_mm)
    return {
        "label": place.label,
        "pattern": place.pattern,
        "side": place.side,
        "x_mm": x,
        "y_mm": y,
        "angle_deg": math.degrees(place.angle_rad),
        "local_mm": {"least": under.least_mm, "mean": under.mean_mm, "most": under.most_mm}
        if under
        else None,
        "tabs": [_tab_record(layout, bridge) for bridge in tabs if bridge.label == place.label],
    }


def _tab_record(layout: SheetLayout, bridge: Bridge) -> Data:
    """One tab: on the left scale's own outline, and on the sheet from its origin corner."""
    tab = bridge.tab
    x, y = layout.to_origin_frame(tab.x_mm, tab.y_mm)
    return {
        "at_mm": list(bridge.own_mm),
        "along_mm": bridge.along_mm,
        "x_mm": x,
        "y_mm": y,
        "angle_deg": math.degrees(tab.out_rad),
        "width_mm": tab.width_mm,
        "height_mm": tab.height_mm,
        "length_mm": tab.length_mm,
        "to": bridge.to,
    }


def read_job(folder: Path) -> Data:
    """The record of a job that was made.

    Raises:
        UsageError: The folder holds no job, or one that can't be read.
    """
    path = folder if folder.name == JOB_FILE and folder.is_file() else folder / JOB_FILE
    remedy = 'make the job again with "scalegen make"'
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError) as error:
        raise UsageError("there is no job here", where=str(folder), remedy=_jobs_in(folder)) from error
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise UsageError(f"the job cannot be read: {reason}", where=str(path), remedy=remedy) from error
    except (ValueError, RecursionError) as error:
        raise UsageError("the job record is damaged", where=str(path), remedy=remedy) from error
    if not isinstance(data, dict) or not data.keys() >= _KEYS:
        raise UsageError("this is not a job record", where=str(path), remedy=remedy)
    return data


def _jobs_in(folder: Path) -> str:
    """What to give instead of a folder without a job: those that lie in it, or where they are made."""
    try:
        found = sorted(str(path.parent) for path in folder.glob(f"*/{JOB_FILE}"))
    except OSError:
        found = []
    if found:
        return f"give one of the job folders in it: {', '.join(found[:8])}"
    return 'give a folder that "scalegen make" wrote, such as out/siskin'


def to_json(data: object) -> str:
    """Data as text with a fixed layout; numbers to a nanometre, so that equal jobs give equal bytes."""
    return json.dumps(_rounded(data), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return round(value, _DIGITS) + 0.0
    if isinstance(value, Mapping):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(inner) for inner in value]
    return value
