"""A dry run in rows."""

from pathlib import Path

import pytest

from scalegen.machining.dry_run import DryRun
from scalegen.machining.field import volume_mm3
from scalegen.machining.summary import stage_rows
from scalegen.model import JobSpec, Pad
from scalegen.pipeline import lay_out, study_pattern
from scalegen.rehearsal import rehearse_sheet

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"


@pytest.fixture(scope="module")
def run() -> DryRun:
    """One pair of the first demo pattern."""
    spec = JobSpec(measured_mm=(6.9,), sheet_mm=(130.0, 90.0), pad=Pad(width_mm=12.0, height_mm=10.0))
    study = study_pattern(SISKIN, spec)
    return rehearse_sheet(study, lay_out(study, spec)[0], spec, cell_mm=0.25)


def test_what_is_taken_off_is_what_is_gone(run: DryRun) -> None:
    """The stages' volumes add up to the difference of the blank before and after."""
    rows = stage_rows(run)
    gone = volume_mm3(run.blank) - volume_mm3(run.last)
    assert sum(row.removed_mm3 for row in rows) == pytest.approx(gone, rel=1e-6)


def test_parts_are_held_until_they_are_cut_out(run: DryRun) -> None:
    """Both parts hang in the blank until the outlines, which set them free."""
    rows = stage_rows(run)
    assert [row.held for row in rows] == [("1L", "1R")] * 5 + [()]
    assert [row.loosened for row in rows] == [()] * 5 + [("1L", "1R")]


def test_rest_goes_down_to_nothing_to_speak_of(run: DryRun) -> None:
    """Before fronts and edges are cut, edges stand 2 mm too high; afterwards only a cell's error is left."""
    rows = stage_rows(run)
    assert rows[0].rest_mm >= 1.9
    assert rows[-1].rest_mm < 0.1
    assert rows[0].rest_mm3 > rows[-1].rest_mm3


def test_the_pad_is_said_to_be_whole(run: DryRun) -> None:
    """No stage of a planned job touches the pad, and the ring planned around it stays."""
    assert all(row.pad_untouched and row.pad_ring_mm >= 0.25 for row in stage_rows(run))
