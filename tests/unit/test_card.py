"""The touch-off card, on a sheet small enough to work out by hand."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.machining.card import card_of, reading_spot
from scalegen.machining.dry_run import DryRun
from scalegen.model import JobSpec, Pad, ShopRules
from scalegen.pipeline import lay_out, study_pattern
from scalegen.rehearsal import rehearse_sheet

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
RULES = ShopRules(
    slip_fit_mm=0.05,
    drill_series=(),
    clearance_mm=1,
    saw_kerf_mm=1,
    tape_waste=1,
    currency="EUR",
    tape_mm=0.3,
)


@pytest.fixture(scope="module")
def run() -> DryRun:
    """One pair of the first demo pattern: a blank of 6.9 mm faced to 6.2, tape of 0.3 mm under it."""
    spec = JobSpec(measured_mm=(6.9,), sheet_mm=(130.0, 90.0), pad=Pad(width_mm=12.0, height_mm=10.0))
    study = study_pattern(SISKIN, spec)
    return rehearse_sheet(study, lay_out(study, spec)[0], spec, cell_mm=0.25)


def test_the_pad_reads_nothing_and_the_face_what_was_faced_off(run: DryRun) -> None:
    """After every stage the pad reads 0 and the part's face 6.2 - 6.9: hand arithmetic."""
    for row in card_of(run, RULES).rows:
        assert row.pad_mm == 0
        assert row.spot_mm == pytest.approx(6.2 - 6.9, abs=1e-5)


def test_the_second_spot_is_level_and_on_the_first_part(run: DryRun) -> None:
    """It lies on solid material of the part it names."""
    spot = reading_spot(run)
    row, col = run.blank.cell_at(spot.at_mm)
    assert spot.label == "1L"
    assert run.target.parts[row, col] == 0
    assert run.target.solid[row, col]


def test_how_far_below_the_blank(run: DryRun) -> None:
    """The outline goes 0.2 below; a drill's point 1.55 / tan 59 deg more, and so far beyond the tape."""
    drill, outline = card_of(run, RULES).rows[-2:]
    point = 1.55 / math.tan(math.radians(59))
    assert (drill.full_below_mm, drill.below_mm) == pytest.approx((0.2, 0.2 + point), abs=1e-5)
    assert drill.into_bed_mm == pytest.approx(point - 0.1, abs=1e-5)
    assert outline.below_mm == pytest.approx(0.2, abs=1e-5)
    assert outline.into_bed_mm == 0


def test_the_shop_limits_how_far(run: DryRun) -> None:
    """0.2 below is too little where 0.25 is the least, too much where 0.15 is the most, else kept."""
    least, most = replace(RULES, below_least_mm=0.25), replace(RULES, below_least_mm=0, below_most_mm=0.15)
    for rules, words in ((least, "too little"), (most, "too much"), (RULES, "")):
        assert [row.limits for row in card_of(run, rules).rows] == ["", "", "", "", words, words]


def test_a_plate_needs_room_on_the_pad(run: DryRun) -> None:
    """A pad of 12 x 10 takes a plate of 10 and none of 11; travel that ends before it does not reach."""
    assert card_of(run, RULES).room.room_mm == pytest.approx(10.0)
    assert card_of(run, replace(RULES, probe_mm=10.0)).room.fits
    assert not card_of(run, replace(RULES, probe_mm=11.0)).room.fits
    assert card_of(run, RULES).room.in_travel is None
    assert card_of(run, replace(RULES, travel_mm=(100.0, 80.0))).room.in_travel
    assert card_of(run, replace(RULES, travel_mm=(2.0, 2.0))).room.in_travel is False


def test_from_the_bed_the_pad_reads_stack_and_tape(run: DryRun) -> None:
    """The second reference: 6.9 mm of blank on 0.3 mm of tape, where the pad stands to the end."""
    card = card_of(run, RULES)
    assert card.pad_above_bed_mm == pytest.approx(6.9 + 0.3, abs=1e-9)
    assert run.shots[-1].pad_mm + card.tape_mm == pytest.approx(card.pad_above_bed_mm, abs=1e-5)
