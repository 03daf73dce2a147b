"""A batch file: which patterns to make, how many, on which sheet, into which files."""

from dataclasses import replace
from pathlib import Path

from scalegen.errors import PatternError
from scalegen.fields.files import parse_toml, read_text
from scalegen.model import JobSpec, Pad
from scalegen.pattern.read import read_file
from scalegen.pattern.tables import BATCH
from scalegen.pattern.values import FILL


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
    job["accept"] = tuple(job.get("accept", {}).items())
    spec = JobSpec(**job, **parsed.get("sheet", {}), **parsed.get("files", {}))
    pad = dict(parsed.get("pad", {}))
    if "size_mm" in pad:
        pad["width_mm"], pad["height_mm"] = pad.pop("size_mm")
    return patterns, replace(spec, pad=Pad(**pad))


def is_batch(path: Path) -> bool:
    """Whether a file is a batch file: it has a [job] table. False when it cannot be read at all."""
    try:
        return isinstance(parse_toml(read_text(path), path).get("job"), dict)
    except PatternError:
        return False
