"""The dry run as a guard of a job."""

from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.errors import StopError
from scalegen.guard import Guarded, guarded
from scalegen.machining.dry_run import pad_untouched
from scalegen.machining.stages import plan_stages
from scalegen.machining.tabs import Tab
from scalegen.model import Finding, JobSpec, OwnStage, Pad
from scalegen.pipeline import Study, lay_out, make_job, study_pattern
from scalegen.sheet.layout import SheetLayout

HARRIER = Path(__file__).parents[2] / "profiles" / "harrier.toml"
SPEC = JobSpec(measured_mm=(6.9,), sheet_mm=(160.0, 90.0), pad=Pad(width_mm=12.0, height_mm=12.0))
NOT_FREE = (
    OwnStage(name="face", does="face off"),
    OwnStage(name="shape", does="shape"),
    OwnStage(name="holes", does="pin holes"),
    OwnStage(name="outlines", does="outlines", allowance_mm=0.4),
)


@pytest.fixture(scope="module")
def study() -> Study:
    """A demo pattern with a bevel that comes down near the liner."""
    return study_pattern(HARRIER, SPEC)


@pytest.fixture(scope="module")
def layouts(study: Study) -> tuple[SheetLayout, ...]:
    """One pair on one blank."""
    return lay_out(study, SPEC)


def look(study: Study, layouts: tuple[SheetLayout, ...], spec: JobSpec = SPEC) -> Guarded:
    """The job as planned, or as the shop states it, looked at."""
    return guarded(study, layouts, spec, plan_stages(study.scale, spec, study.shop))


def told(found: Guarded) -> dict[str, Finding]:
    """Findings by code."""
    return {finding.code: finding for finding in found.findings}


def measured(*readings: float) -> Study:
    """The pattern on a blank with other readings."""
    return study_pattern(HARRIER, replace(SPEC, measured_mm=readings))


def test_a_sound_job_passes_with_a_run_for_each_sheet(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """No stop, no warning; the runs are of these sheets, pads whole."""
    found = look(study, layouts)
    assert [finding for finding in found.findings if finding.level != "note"] == []
    assert len(found.runs) == len(layouts)
    assert all(pad_untouched(shot, 6.9) for run in found.runs for shot in run.shots)


def test_parts_that_do_not_come_free_stop_the_job(
    study: Study, layouts: tuple[SheetLayout, ...], tmp_path: Path
) -> None:
    """Outlines that leave 0.2 mm: both parts are named, and how to accept it; nothing is written."""
    shop = replace(study.shop, stages=NOT_FREE)
    stated = replace(study, shop=shop)
    stops = [finding for finding in look(stated, layouts).findings if finding.level == "stop"]
    assert [(stop.code, stop.about) for stop in stops] == [("part-not-free", "1L, 1R")]
    assert "the outlines end 0.2 mm above the underside" in stops[0].message
    assert '--accept part-not-free="the reason"' in stops[0].remedy
    with pytest.raises(StopError, match="not cut free"):
        make_job(stated, replace(SPEC, out=tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_a_stop_that_is_accepted_is_a_warning_in_those_words(
    study: Study, layouts: tuple[SheetLayout, ...]
) -> None:
    """The reason stands in the finding itself, so whatever shows it shows the reason."""
    stated = replace(study, shop=replace(study.shop, stages=NOT_FREE))
    spec = replace(SPEC, accept=(("part-not-free", "I saw the last web by hand"),))
    found = look(stated, layouts, spec).findings
    warnings = [finding for finding in found if finding.code == "part-not-free"]
    assert [finding.level for finding in warnings] == ["warning"]
    assert all('accepted: "I saw the last web by hand"' in finding.message for finding in warnings)
    assert not any(finding.level == "stop" for finding in found)


def test_the_tabs_of_the_job_are_those_that_are_left(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """Tabs already planned are cut around as they are, and no others are thought up for them."""
    stages = plan_stages(study.scale, SPEC, study.shop)
    tab = Tab(x_mm=1.0, y_mm=2.0, out_rad=0.0, height_mm=0.5, length_mm=1.0)
    spec = replace(SPEC, tabs=2)
    assert guarded(study, layouts, spec, stages, [(tab,)]).runs[0].tabs == (tab,)
    assert guarded(study, layouts, spec, stages, [()]).runs[0].tabs == ()


def test_what_is_accepted_in_vain_is_noted(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """An accepted stop that does not come is told, so that it is not kept by mistake."""
    found = told(look(study, layouts, replace(SPEC, accept=(("pad-touched", "an old habit"),))))
    assert found["accept-unused"].message == "pad-touched is accepted, and there is no such stop in this job"


def test_a_blank_that_differs_too_much_from_itself_is_told(layouts: tuple[SheetLayout, ...]) -> None:
    """Readings 0.3 mm apart leave 0.3 - 0.2 = 0.1 mm under parts where the pad is thicker: by hand."""
    found = told(look(measured(6.9, 7.2), layouts))
    assert "0.1 mm still joins them to the blank" in found["blank-thicker"].message
    assert found["blank-thicker"].level == "warning"
    assert "blank-thicker" not in told(look(measured(6.9, 7.08), layouts))


def test_a_spread_that_can_cost_the_liner_stops(layouts: tuple[SheetLayout, ...]) -> None:
    """The bevel ends 1.3 mm up; 1 mm lower 0.3 mm of the 0.8 mm liner is left, and 0.8 mm lower 0.5 mm."""
    assert told(look(measured(6.6, 7.6), layouts))["layer-thin"].level == "stop"
    assert "layer-thin" not in told(look(measured(6.6, 7.4), layouts))


def test_files_by_the_tables_would_spoil_another_blank(layouts: tuple[SheetLayout, ...]) -> None:
    """On a blank of 7.2 mm a job planned for the tables' 6.9 mm leaves 0.3 mm too much, and parts hang on."""
    note = told(look(measured(7.2), layouts))["nominal-plan"]
    assert note.level == "note"
    assert "up to 0.3 mm too much is left" in note.message
    assert "not free: 0.1 mm" in note.message
    assert "nominal-plan" not in told(look(measured(6.9), layouts))


def test_work_that_no_stage_does_is_told(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """Without a stage for holes the scale would come without; the plan itself leaves nothing out."""
    shop = replace(study.shop, stages=tuple(each for each in NOT_FREE if each.does != "pin holes"))
    assert 'does "pin holes"' in told(look(replace(study, shop=shop), layouts))["stage-missing"].message


def test_a_little_spread_is_not_worth_a_word(layouts: tuple[SheetLayout, ...]) -> None:
    """Readings 0.06 mm apart neither hold parts nor cut deeper than the shop allows; 0.4 mm apart they do."""
    quiet = look(measured(6.84, 6.9), layouts).findings
    assert [finding for finding in quiet if finding.about == "blank"] == []
    # 0.2 mm below the blank and 0.4 mm of spread are more than the shop's 0.5 mm.
    assert "blank-thinner" in told(look(measured(6.9, 7.3), layouts))
