"""What a dry run finds fault with, and that the remedy makes it go away."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.machining.dry_run import DryRun
from scalegen.machining.field import box_mask
from scalegen.machining.findings import dry_run_findings
from scalegen.model import JobSpec, Pad
from scalegen.outline.ring import Ring
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


def codes(run: DryRun, study: Study, cutter: str = "flat 1/8in", **rules: object) -> list[str]:
    """Codes of the findings, with some rules of the shop changed."""
    shop = study.shop
    found = dry_run_findings(
        run,
        study.scale,
        cutter=shop.cutters[cutter],
        cutters=shop.cutters,
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
    """Without the last stage no part is free, and each is named."""
    assert codes(replace(run, shots=run.shots[:-1]), study).count("part-not-free") == 2


def test_the_shop_limits_are_held(run: DryRun, study: Study) -> None:
    """0.2 mm below the blank is less than 0.3 and more than 0.1; both stages that go through are named."""
    assert codes(run, study, below_least_mm=0.3) == ["last-cut-shallow"] * 2
    assert codes(run, study, below_most_mm=0.1) == ["last-cut-deep"] * 2


def test_plate_and_travel(run: DryRun, study: Study) -> None:
    """A plate of 15 mm finds no room on a pad of 12, and a travel of 5 mm does not reach it."""
    assert codes(run, study, probe_mm=12.0) == []
    assert codes(run, study, probe_mm=15.0) == ["pad-room"]
    assert codes(run, study, travel_mm=(5.0, 5.0)) == ["pad-travel"]


def test_a_place_that_is_too_tight_is_named(run: DryRun, study: Study) -> None:
    """A sharp inside corner is told with its place; a wide bay is not."""
    notch = np.array([[0, 0], [40, 0], [40, 20], [25, 20], [20, 12], [15, 20], [0, 20]], dtype=float)
    ring = Ring(np.column_stack([notch, np.zeros(len(notch))]))
    scale = replace(study.scale, as_cut=ring)
    found = dry_run_findings(
        run,
        scale,
        cutter=study.shop.cutters["flat 1/8in"],
        cutters=study.shop.cutters,
        rules=study.shop.rules,
    )
    (tight,) = [each for each in found if "sharp inside corner" in each.message]
    assert tight.where == "x = 20.00 mm, y = 12.00 mm"


def test_a_hole_that_nothing_enters_is_named(run: DryRun, study: Study) -> None:
    """Without a drill a hole of 2 mm can't be made with cutters of 3 mm and more; with one of 1 mm it can."""
    holes = tuple(replace(hole, drill=None, hole_mm=2.0) for hole in study.scale.holes[:1])
    scale = replace(study.scale, holes=holes)
    thin = replace(study.shop.cutters["flat 3mm"], name="thin", diameter_mm=1.0)
    for cutters, expected in ((study.shop.cutters, 1), ({**study.shop.cutters, "thin": thin}, 0)):
        found = dry_run_findings(
            run,
            scale,
            cutter=study.shop.cutters["flat 1/8in"],
            cutters=cutters,
            rules=study.shop.rules,
        )
        assert [each.code for each in found].count("hole-no-cutter") == expected
