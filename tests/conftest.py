"""What several test files need: jobs before their papers are drawn, without the kernel and without files."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from scalegen.machining.stages import plan_stages
from scalegen.model import JobSpec
from scalegen.model.words import Paper
from scalegen.pipeline import lay_out, study_pattern
from scalegen.rehearsal import rehearse_job
from scalegen.report.bom import bill
from scalegen.report.made import Lot, Made
from scalegen.report.record import job_record

PROFILES = Path(__file__).parents[1] / "profiles"


@cache
def made_of(
    path: Path, measured_mm: tuple[float, ...] = (), *, cut: bool = True, pairs: int = 2, spares: int = 1
) -> Made:
    """A job before its papers are drawn."""
    spec = JobSpec(pairs=pairs, spares=spares, measured_mm=measured_mm)
    study = study_pattern(path, spec)
    assert study.volumes is not None
    layouts = lay_out(study, spec)
    rows = bill(study.scale, spec, study.shop, layouts, study.volumes.finished_mm3)
    record = job_record(
        scale=study.scale,
        blank=study.blank,
        facing=study.facing,
        spec=spec,
        layouts=layouts,
        volumes=study.volumes,
        stages=plan_stages(study.scale, spec, study.shop),
        findings=study.findings,
        bom=rows,
        files=(),
    )
    lot = Lot(
        scale=study.scale,
        volumes=study.volumes,
        pairs=pairs,
        spares=spares,
        blank=study.blank,
        facing=study.facing,
    )
    return Made(
        lots=(lot,),
        spec=spec,
        shop=study.shop,
        layouts=tuple(layouts),
        runs=rehearse_job(study, layouts, spec) if cut else (),
        findings=study.findings,
        bom=tuple(rows),
        record=record,
    )


def demo_job(name: str, paper: Paper | None = None, *, cut: bool = True) -> Made:
    """A demo pattern's job on a size of paper; the harrier's blank is measured."""
    measured = (6.84, 6.9, 6.87) if name == "harrier" else ()
    made = made_of(PROFILES / f"{name}.toml", measured, cut=cut)
    return replace(made, spec=replace(made.spec, paper=paper))


@pytest.fixture(scope="session")
def paper_job() -> Callable[..., Made]:
    """Makes a demo's job by its name, and on a size of paper."""
    return demo_job


@pytest.fixture(scope="session")
def job_of() -> Callable[..., Made]:
    """Makes the job of a pattern file."""
    return made_of
