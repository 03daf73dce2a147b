"""What a run went by: options as resolved, checksums of its files, readings, versions; no clock in it."""

import hashlib
import math
import platform
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from importlib.metadata import PackageNotFoundError, version
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

from scalegen import __version__
from scalegen.model import JobSpec, Pattern
from scalegen.shop.load import REMNANTS_FILE, TABLE_FILES, bundled_tables

_KERNEL: Final = "cadquery-ocp"
_PLACE: Final = ("out", "job")
_READINGS: Final = ("measured_mm", "readings", "sheets_measured_mm")


def run_record(spec: JobSpec, pattern: Pattern, tables: Path | None) -> dict[str, Any]:
    """What a run went by, ready for the job record.

    Args:
        spec: Options and batch file merged, pairs counted.
        pattern: As read; its file and its outline's file are summed up.
        tables: Folder of the shop tables, or None for those that come with the program.

    Returns:
        The keys ``options`` (lengths in mm, angles in degrees, without where the job goes and its
        name there),
        ``readings``, ``files`` (name and SHA-256 of each file the run went by) and ``versions``.
    """
    options = {key: value for key, value in asdict(spec).items() if key not in {*_READINGS, *_PLACE}}
    if spec.sheet_shape is not None:
        options["sheet_shape"] = {
            "outline": spec.sheet_shape.outline,
            "holes": spec.sheet_shape.holes,
            "source": Path(spec.sheet_shape.source).name,
        }
    return {
        "options": dict(_in_degrees(options)),
        "readings": {
            "measured_mm": list(spec.measured_mm),
            "places": [
                [each.x_mm, each.y_mm, each.thickness_mm] for each in spec.readings if each.x_mm is not None
            ],
            "sheets_measured_mm": list(spec.sheets_measured_mm),
        },
        "files": dict(_sums(pattern, tables)),
        "versions": {
            "scalegen": __version__,
            "python": platform.python_version(),
            "kernel": _version(_KERNEL),
        },
    }


def _in_degrees(options: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Options with their angles in degrees, as the rest of a record has them."""
    for key, value in options.items():
        if not key.endswith("_rad"):
            yield key, value
        elif isinstance(value, tuple):
            yield f"{key.removesuffix('_rad')}_deg", [math.degrees(each) for each in value]
        else:
            yield f"{key.removesuffix('_rad')}_deg", math.degrees(value)


def _sums(pattern: Pattern, tables: Path | None) -> Iterator[tuple[str, str | None]]:
    """Name and checksum of every file that was read; None for one that cannot be read any more."""
    yield pattern.path.name, _sha256(pattern.path)
    if pattern.outline.path is not None:
        yield pattern.outline.path.name, _sha256(pattern.outline.path)
    folder: Traversable = bundled_tables() if tables is None else tables
    for name in (*TABLE_FILES, REMNANTS_FILE):
        table = folder.joinpath(name)
        if name in TABLE_FILES or table.is_file():
            yield f"shared/{name}", _sha256(table)


def _sha256(file: Traversable) -> str | None:
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest()
    except OSError:
        return None


def _version(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None
