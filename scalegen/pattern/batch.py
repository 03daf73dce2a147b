"""A batch file: which patterns to make, how many, on which sheet, into which files."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from scalegen.errors import Fault, PatternError
from scalegen.fields.files import parse_toml, read_text
from scalegen.model import JobSpec, KeepOut, Pad
from scalegen.model.job import Rest
from scalegen.outline.blank import box_rows, disc_rows, read_blank
from scalegen.pattern.read import outline_source, read_file
from scalegen.pattern.tables import BATCH
from scalegen.pattern.values import FILL

_ABOUT_OUTLINE = ("outline", "outline_units", "contour", "points", "scan", "tolerance_mm")


def read_batch(path: Path) -> tuple[tuple[Path, ...], JobSpec]:
    """Read a batch file.

    Args:
        path: The file. Patterns and the folder for results are relative to it.

    Returns:
        The pattern files in the order given, and the job; what the file leaves out is as in
        :class:`~scalegen.model.JobSpec`.

    Raises:
        PatternError: The file cannot be read, is not TOML, or holds faults; ``faults`` has all of them,
            with field paths that count list entries from 1. The patterns themselves are not opened.
    """
    text = read_text(path)
    parsed = read_file(parse_toml(text, path), BATCH, path, text)
    job = dict(parsed["job"])
    patterns: tuple[Path, ...] = job.pop("patterns")
    if job.get("pairs") == FILL:
        del job["pairs"]
        job["fill"] = True
    for key in ("pairs", "spares"):
        if isinstance(job.get(key), tuple):
            job[f"{key}_each"] = job.pop(key)
    job["accept"] = tuple(job.get("accept", {}).items())
    spec = JobSpec(**job, **_sheet(parsed.get("sheet", {}), path), **parsed.get("files", {}))
    pad = dict(parsed.get("pad", {}))
    if "size_mm" in pad:
        pad["width_mm"], pad["height_mm"] = pad.pop("size_mm")
    return patterns, replace(spec, pad=Pad(**pad))


def _sheet(parsed: Mapping[str, Any], path: Path) -> dict[str, Any]:
    """What is said about the blank, its drawing read."""
    said = dict(parsed)
    said["rests"] = tuple(_rest(each, k, path) for k, each in enumerate(said.get("rests", ()), 1))
    told = {key: said.pop(key) for key in _ABOUT_OUTLINE if key in said}
    if isinstance(said.get("tabs"), tuple):
        said["tabs_each"] = said.pop("tabs")
    said["keep_out"] = tuple(_keep_out(zone, k, path) for k, zone in enumerate(said.get("keep_out", ()), 1))
    if "outline" in told:
        where = f"{path}: sheet.outline"
        said["sheet_shape"], said["sheet_mm"] = read_blank(
            outline_source(told), where=where, contour_option="contour"
        )
    elif told:
        key = next(iter(told)).removesuffix("_mm")
        fault = Fault(
            file=str(path),
            field=f"sheet.{key}",
            found="there is no drawing of the sheet",
            allowed='name one, such as outline = "rest.dxf", or leave this out',
        )
        raise PatternError("1 fault", faults=[fault])
    return said


def _rest(parsed: Mapping[str, Any], number: int, path: Path) -> Rest:
    """A blank that is used first: a remnant, a size or a drawing."""
    if "outline" not in parsed:
        return Rest(sheet_mm=parsed.get("sheet_mm"), remnant=parsed.get("remnant"))
    told = {key: parsed[key] for key in _ABOUT_OUTLINE if key in parsed}
    where = f"{path}: sheet.use[{number}].outline"
    shape, size_mm = read_blank(outline_source(told), where=where, contour_option="contour")
    return Rest(sheet_shape=shape, sheet_mm=size_mm)


def _keep_out(zone: Mapping[str, Any], number: int, path: Path) -> KeepOut:
    """A zone by its corner and size, its middle and radius, or its rows."""
    rows = zone.get("rows")
    if rows is None and "at_mm" not in zone:
        fault = Fault(
            file=str(path),
            field=f"sheet.keep_out[{number}].at",
            found="is missing",
            allowed="give [x, y]: the lower left corner with size, the middle with radius",
        )
        raise PatternError("1 fault", faults=[fault])
    if rows is None:
        x, y = zone["at_mm"]
        rows = disc_rows(x, y, zone["radius_mm"]) if "radius_mm" in zone else box_rows(x, y, *zone["size_mm"])
    return KeepOut(rows=rows, kind=zone["kind"])


def is_batch(path: Path) -> bool:
    """Whether a file is a batch file: it has a [job] table. False when it cannot be read at all."""
    try:
        return isinstance(parse_toml(read_text(path), path).get("job"), dict)
    except PatternError:
        return False
