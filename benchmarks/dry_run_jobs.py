"""Five mistakes on demo jobs and what each would do; what is left of the parts beside their exact volume."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from scalegen.machining.dry_run import DryRun
from scalegen.machining.field import volume_mm3
from scalegen.machining.touch_off import TouchOff, touch_off
from scalegen.machining.wrong_thickness import on_blank
from scalegen.model import JobSpec
from scalegen.pipeline import Study, lay_out, study_pattern
from scalegen.rehearsal import rehearse_sheet
from scalegen.sheet.layout import SheetLayout

_PROFILES = Path(__file__).parents[1] / "profiles"
_MEASURED_MM = {"siskin": 6.9, "harrier": 6.9, "curlew": 7.2}
_OFF_MM = 0.4


def mistakes() -> str:
    """The five mistakes on every demo, in rows."""
    lines = [f"{'job, mistake':<66}{'off, mm':>9}{'into bed':>9}  what comes of it"]
    for name in _MEASURED_MM:
        study, layout, spec = _job(name)
        run = rehearse_sheet(study, layout, spec, cell_mm=0.2)
        lines += [
            f"{f'{name}: {what}':<66}{off:9.3f}{bed:9.3f}  {said}" for what, off, bed, said in _rows(run)
        ]
    return "\n".join(lines)


def _rows(run: DryRun) -> Iterator[tuple[str, float, float, str]]:
    last, blank = len(run.shots), run.target.blank_mm
    faced = _lowered_place(run, 2, above_mm=0.3 * blank)
    found = touch_off(faced, 2, run)
    yield f"cutter of stage 2 zeroed on the faced surface, {found.height_mm:.2f} up", *_told(found)
    cut = _lowered_place(run, last, above_mm=0.0)
    found = touch_off(cut, last, run)
    yield f"cutter of stage {last} zeroed in an earlier cut, {found.height_mm:.2f} up", *_told(found)
    for way, actual in (("thinner", blank - _OFF_MM), ("thicker", blank + _OFF_MM)):
        wrong = on_blank(run, actual, reference="pad")
        yield (
            f"blank {_OFF_MM:g} {way} than planned, zeroed on its pad",
            -wrong.shift_mm,
            wrong.into_bed_mm,
            wrong.verdict,
        )
    # A pad faced like the rest is as high as the faced surface, and every later stage is zeroed on it.
    found = touch_off(faced, last, run)
    yield f"pad faced too: stage {last} zeroed on it, {found.height_mm:.2f} up", *_told(found)


def _told(found: TouchOff) -> tuple[float, float, str]:
    return found.depth_error_mm, found.into_bed_mm, found.verdict


def _lowered_place(run: DryRun, stage: int, *, above_mm: float) -> tuple[float, float]:
    """A place that is lower than the blank before a stage, and still stands above a height.

    Of such heights the commonest is taken; the lowest of all where none need be kept.
    """
    heights = run.before(stage).heights_mm
    lower = (heights > max(above_mm, 1e-3)) & (heights < run.target.blank_mm - 1e-3)
    lower = lower if lower.any() else heights >= run.target.blank_mm - 1e-3
    if above_mm:
        values, counts = np.unique(np.round(heights[lower], 3), return_counts=True)
        wanted = values[int(counts.argmax())]
    else:
        wanted = np.round(heights[lower].min(), 3)
    rows, cols = np.nonzero(lower & (np.abs(heights - wanted) < 1e-3))
    middle = len(rows) // 2
    return float(run.blank.xs_mm[cols[middle]]), float(run.blank.ys_mm[rows[middle]])


def volumes() -> str:
    """Each part's volume when all is cut beside that of the exact sections, for finer and finer cells."""
    lines = [
        f"{'job':<12}{'cell, mm':>9}{'exact, mm3':>12}{'worst part off, %':>19}{'taken off adds up to':>22}"
    ]
    for name in _MEASURED_MM:
        study, layout, spec = _job(name)
        if study.volumes is None:
            continue
        exact = sum(study.volumes.as_cut_mm3.values())
        for cell in (0.4, 0.2, 0.1):
            run = rehearse_sheet(study, layout, spec, cell_mm=cell)
            parts = [volume_mm3(run.last, run.target.parts == k) for k in range(len(run.target.labels))]
            worst = max((part / exact - 1 for part in parts), key=abs)
            taken = sum(shot.removed_mm3 for shot in run.shots)
            share = taken / (volume_mm3(run.blank) - volume_mm3(run.last))
            lines.append(f"{name:<12}{cell:9.2f}{exact:12.1f}{100 * worst:19.4f}{share:22.9f}")
    return "\n".join(lines)


def _job(name: str) -> tuple[Study, SheetLayout, JobSpec]:
    """Two pairs of a demo pattern on one blank a little thicker than its scales."""
    spec = JobSpec(pairs=2, measured_mm=(_MEASURED_MM[name],))
    study = study_pattern(_PROFILES / f"{name}.toml", spec)
    return study, lay_out(study, spec)[0], spec
