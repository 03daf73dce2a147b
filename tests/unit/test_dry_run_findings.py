"""What a dry run finds fault with, and that the remedy makes it go away."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.machining.dry_run import DryRun
from scalegen.machining.field import box_mask
from scalegen.machining.findings import dry_run_findings
from scalegen.machining.places import listed_labels
from scalegen.machining.stages import plan_stages
from scalegen.model import JobSpec, Pad
from scalegen.pipeline import Study, lay_out, study_pattern
from scalegen.rehearsal import rehearse_sheet

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
SPEC = JobSpec(
    measured_mm=(6.9,), sheet_mm=(130.0, 90.0), margin_mm=6.0, pad=Pad(width_mm=12.0, height_mm=12.0)
)


@pytest.fixture(scope="module")
def study() -> Study:
    """The first demo pattern."""
    return study_pattern(SISKIN, SPEC)


@pytest.fixture(scope="module")
def run(study: Study) -> DryRun:
    """One pair of it with room all around."""
    return rehearse_sheet(study, lay_out(study, SPEC)[0], SPEC, cell_mm=0.25)


def codes(run: DryRun, study: Study, **rules: object) -> list[str]:
    """Codes of the findings, with some rules of the shop changed."""
    shop = study.shop
    found = dry_run_findings(
        run,
        study.scale,
        stages=plan_stages(study.scale, SPEC, shop),
        rules=replace(shop.rules, **rules),  # type: ignore[arg-type] - any field of the record
    )
    assert all(each.message and each.remedy and each.about for each in found)
    return [each.code for each in found]


def test_a_sound_job_has_nothing_to_say(run: DryRun, study: Study) -> None:
    """The demo pattern with a wide margin and a thin cutter comes out without a finding."""
    assert codes(run, study) == []


def test_a_cut_into_the_pad_stops(run: DryRun, study: Study) -> None:
    """A pad lowered at one cell in the second stage is named with that stage, once."""
    heights = run.shots[1].field.heights_mm.copy()
    heights[run.blank.window((7.0, 7.0, 7.3, 7.3))] -= 0.4
    worn = replace(run.shots[1], field=run.blank.changed(heights), pad_mm=6.5)
    cut = replace(run, shots=(run.shots[0], worn, *(replace(shot, pad_mm=6.5) for shot in run.shots[2:])))
    assert codes(cut, study).count("pad-touched") == 1


def test_a_pad_on_a_loose_piece_is_told(run: DryRun, study: Study) -> None:
    """A moat around the pad after the first stage cuts it off the blank, while others are still to come."""
    x0, y0, x1, y1 = run.target.pad
    wide, narrow = (box_mask(run.blank, (x0 - r, y0 - r, x1 + r, y1 + r)) for r in (2.0, 1.0))
    moat = wide & ~narrow
    shots = tuple(
        replace(s, field=s.field.changed(np.where(moat, np.float32(-0.2), s.field.heights_mm)))
        for s in run.shots
    )
    cut = replace(run, shots=shots)
    found = [each for each in codes(cut, study) if each == "pad-loose"]
    assert found == ["pad-loose"]


def test_parts_that_hang_on_stop(run: DryRun, study: Study) -> None:
    """Without the last stage no part is free, and those that hang together are named in one finding."""
    plan = plan_stages(study.scale, SPEC, study.shop)
    cut = replace(run, shots=run.shots[:-1])
    found = dry_run_findings(cut, study.scale, stages=plan, rules=study.shop.rules)
    (stuck,) = [each for each in found if each.code == "part-not-free"]
    assert (stuck.level, stuck.about) == ("stop", "1L, 1R")


def test_of_many_labels_the_first_are_listed() -> None:
    """Nine labels make eight words: seven of them, and how many more."""
    assert listed_labels(["1L", "1R"]) == "1L, 1R"
    assert listed_labels([str(k) for k in range(9)]) == "0, 1, 2, 3, 4, 5, 6 and 2 more"


def test_the_shop_limits_are_held(run: DryRun, study: Study) -> None:
    """0.2 mm below the blank is less than 0.3 and more than 0.1; both stages that go through are named."""
    assert codes(run, study, below_least_mm=0.3) == ["last-cut-shallow"] * 2
    assert codes(run, study, below_most_mm=0.1) == ["last-cut-deep"] * 2


def test_plate_and_travel(run: DryRun, study: Study) -> None:
    """A plate of 15 mm finds no room on a pad of 12, and a travel of 5 mm does not reach it."""
    assert codes(run, study, probe_mm=12.0) == []
    assert codes(run, study, probe_mm=15.0) == ["pad-room"]
    assert codes(run, study, travel_mm=(5.0, 5.0)) == ["pad-travel"]


def test_a_part_that_is_cut_into_stops_and_says_where(run: DryRun, study: Study) -> None:
    """A furrow of 0.4 mm in the first part is named with depth and place; 0.004 mm is not worth a word."""
    rows, cols = np.nonzero((run.target.parts == 0) & run.target.solid)
    row, col = int(rows[len(rows) // 2]), int(cols[len(cols) // 2])
    for deep, count in ((0.4, 1), (0.004, 0)):
        heights = run.last.heights_mm.copy()
        heights[row, col] -= deep
        cut = replace(run, shots=(*run.shots[:-1], replace(run.shots[-1], field=run.blank.changed(heights))))
        assert codes(cut, study).count("part-cut-into") == count


def test_a_liner_that_is_cut_into_stops(run: DryRun, study: Study) -> None:
    """A part cut down to 0.3 mm has 0.3 of 0.8 mm of its liner left: less than half. Hand arithmetic."""
    heights = run.last.heights_mm.copy()
    row, col = np.argwhere((run.target.parts == 1) & run.target.solid)[50]
    heights[row, col] = 0.3
    cut = replace(run, shots=(*run.shots[:-1], replace(run.shots[-1], field=run.blank.changed(heights))))
    found = dry_run_findings(
        cut, study.scale, stages=plan_stages(study.scale, SPEC, study.shop), rules=study.shop.rules
    )
    (thin,) = [each for each in found if each.code == "layer-thin"]
    assert (thin.level, thin.about) == ("stop", "glass liner 0.8mm")
    assert "0.3 mm is left of it where 0.8 mm is planned" in thin.message
