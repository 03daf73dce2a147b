"""A job and its record as dry runs."""

import copy
import json
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.errors import UsageError
from scalegen.machining.dry_run import pad_untouched
from scalegen.machining.stages import plan_stages
from scalegen.machining.target import pad_sides
from scalegen.model import Corner, JobSpec, Pad, Reading
from scalegen.pipeline import Study, lay_out, study_pattern
from scalegen.rehearsal import (
    cut_stages,
    layouts_of,
    pattern_file,
    rehearse_job,
    rehearse_sheet,
    require_same,
    spec_of,
    stage_named,
)
from scalegen.report.record import Data, asked_record, job_record, to_json
from scalegen.sheet.layout import SheetLayout

ROOT = Path(__file__).parents[2]
SISKIN = ROOT / "profiles" / "siskin.toml"
HERE = Path("out/siskin")
SPEC = JobSpec(pairs=2, sheet_mm=(130.0, 90.0), measured_mm=(6.9,), pad=Pad(width_mm=12.0, height_mm=12.0))


@pytest.fixture(scope="module")
def study() -> Study:
    """The first demo pattern."""
    return study_pattern(SISKIN, SPEC)


@pytest.fixture(scope="module")
def layouts(study: Study) -> tuple[SheetLayout, ...]:
    """Two pairs of it on two small blanks."""
    return lay_out(study, SPEC)


@pytest.fixture(scope="module")
def kept(study: Study, layouts: tuple[SheetLayout, ...]) -> Data:
    """The record of that job."""
    return record_of(study, layouts)


@pytest.fixture
def record(kept: Data) -> Data:
    """A copy of the record, to be changed."""
    return copy.deepcopy(kept)


def record_of(study: Study, layouts: tuple[SheetLayout, ...]) -> Data:
    """The record of a job, as it is read back, without solids or files."""
    assert study.volumes is not None
    made = job_record(
        scale=study.scale,
        spec=SPEC,
        layouts=layouts,
        volumes=study.volumes,
        stages=plan_stages(study.scale, SPEC, study.shop),
        findings=study.findings,
        bom=(),
        files=(),
    )
    data: Data = json.loads(to_json(made))
    return data


def test_every_sheet_of_a_job_is_cut_with_its_pad_whole(
    study: Study, layouts: tuple[SheetLayout, ...]
) -> None:
    """There is a dry run for each sheet, its pad where the layout has it, whole after every stage."""
    runs = rehearse_job(study, layouts, SPEC)
    assert len(runs) == len(layouts) == 2
    for run, layout in zip(runs, layouts, strict=True):
        assert run.target.pad == pad_sides(layout.pad)
        assert all(pad_untouched(shot, 6.9) for shot in run.shots)
        assert run.tape_mm == study.shop.rules.tape_mm


def test_stages_are_those_of_the_plan(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """Names of the dry run's stages, and the cutters, are those that the record lists."""
    run = rehearse_sheet(study, layouts[0], SPEC, cell_mm=0.5)
    planned = [(stage.name, stage.cutter) for stage in plan_stages(study.scale, SPEC, study.shop)]
    assert [(shot.name, shot.shape.name) for shot in run.shots] == planned


def test_a_run_may_stop_early(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """With a last stage, later ones are not cut, and those before are the same."""
    layout = layouts[0]
    all_of_it = rehearse_sheet(study, layout, SPEC, cell_mm=0.5)
    run = rehearse_sheet(study, layout, SPEC, cell_mm=0.5, last_stage=2)
    assert [shot.removed_mm3 for shot in run.shots] == [shot.removed_mm3 for shot in all_of_it.shots[:2]]


def test_a_cutter_that_is_not_there_is_named(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """An unknown cutter is refused with those there are."""
    with pytest.raises(UsageError, match="flat 9mm") as caught:
        rehearse_sheet(study, layouts[0], replace(SPEC, cutter="flat 9mm"))
    assert "flat 1/8in" in caught.value.remedy


def test_the_drills_of_the_shop_are_taken(study: Study, layouts: tuple[SheetLayout, ...]) -> None:
    """A blunter point goes less deep for the same full width: r / tan(half the angle), a right triangle."""
    rules = replace(study.shop.rules, drill_point_rad=2.6)
    blunt = replace(study, shop=replace(study.shop, rules=rules))
    layout = layouts[0]
    tips = [rehearse_sheet(each, layout, SPEC, cell_mm=0.5).shots[4].deepest_mm for each in (study, blunt)]
    assert tips[0] < tips[1] < -0.2


@pytest.mark.parametrize("origin", ["lower-left", "upper-right"])
def test_the_record_gives_the_sheets_back(
    study: Study, layouts: tuple[SheetLayout, ...], origin: Corner
) -> None:
    """From the record come the placements and the pad that were laid out, whatever corner is X0 Y0."""
    turned = tuple(replace(layout, origin=origin) for layout in layouts)
    for made, back in zip(turned, layouts_of(record_of(study, turned), HERE), strict=True):
        assert (back.length_mm, back.width_mm, back.origin) == (130.0, 90.0, origin)
        assert (back.pad.x_mm, back.pad.y_mm) == pytest.approx((made.pad.x_mm, made.pad.y_mm))
        assert [each.label for each in back.placements] == [each.label for each in made.placements]
        for mine, theirs in zip(back.placements, made.placements, strict=True):
            assert (mine.x_mm, mine.y_mm) == pytest.approx((theirs.x_mm, theirs.y_mm), abs=1e-8)
            assert mine.angle_rad == pytest.approx(theirs.angle_rad, abs=1e-9)


def test_the_record_gives_the_options_back(study: Study, record: Data) -> None:
    """Readings, stack, cutter and spacing are what they were."""
    spec = spec_of(record, HERE)
    assert (spec.measured_mm, spec.cutter, spec.stock) == ((6.9,), SPEC.cutter, study.scale.stack.name)
    assert spec.spacing_mm == SPEC.spacing_mm


def test_readings_with_places_come_back(record: Data) -> None:
    """A corner that no scale lies on must count as little the second time as it did the first."""
    readings = (Reading(thickness_mm=6.9, x_mm=10.0, y_mm=20.0), Reading(thickness_mm=6.95))
    record["asked"] = json.loads(to_json(asked_record(replace(SPEC, readings=readings, spacing_mm=5.0))))
    spec = spec_of(record, HERE)
    assert (spec.readings, spec.spacing_mm) == (readings, 5.0)


def test_other_stages_than_the_records_are_refused(study: Study, record: Data) -> None:
    """A ball that was sold since leaves another plan: a dry run of it would be of another job."""
    few = {name: cutter for name, cutter in study.shop.cutters.items() if cutter.kind == "flat"}
    changed = replace(study, shop=replace(study.shop, cutters=few))
    with pytest.raises(UsageError, match="stages differ"):
        require_same(record, changed, SPEC, SISKIN, HERE)


def test_the_same_pattern_is_taken(study: Study, record: Data) -> None:
    """A pattern that did not change passes, though its numbers went through a file."""
    require_same(record, study, SPEC, SISKIN, HERE)


def test_a_changed_pattern_is_refused_with_what_differs(study: Study, record: Data) -> None:
    """Another trim than the record's is named, with what to do."""
    record["pattern"]["trim_mm"] += 0.1
    with pytest.raises(
        UsageError, match=r"not what this job was made from: pattern\.trim_mm differs"
    ) as caught:
        require_same(record, study, SPEC, SISKIN, HERE)
    assert "make the job again" in caught.value.remedy


def test_a_damaged_record_is_told() -> None:
    """A record without the parts that are needed is called damaged, not a fault of the program."""
    broken: Data
    for broken in ({}, {"sheets": 3, "stages": []}, {"sheets": [{"outline_mm": []}], "stages": 1}):
        with pytest.raises(UsageError):
            layouts_of(broken, HERE)
        with pytest.raises(UsageError):
            spec_of(broken, HERE)


def test_the_pattern_is_looked_for_above_the_job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is found in profiles beside out; stated, it is taken as it is; nowhere, that is said."""
    (tmp_path / "profiles").mkdir()
    job = tmp_path / "out" / "wren"
    job.mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "out")
    record: Data = {"pattern": {"file": "wren.toml"}}
    with pytest.raises(UsageError, match=r"wren\.toml, is not found") as caught:
        pattern_file(record, job)
    assert "--pattern" in caught.value.remedy
    (tmp_path / "profiles" / "wren.toml").touch()
    assert pattern_file(record, job) == tmp_path / "profiles" / "wren.toml"
    assert pattern_file(record, job, Path("other.toml")) == Path("other.toml")


def test_stages_go_by_number_or_name() -> None:
    """A number, a whole name or its beginning name a stage; two of one name need the number."""
    names = ("face off", "pin holes", "pin holes", "outlines")
    assert [stage_named(text, names) for text in ("1", "Face  off", "out", " 4 ", "3")] == [1, 1, 4, 4, 3]
    with pytest.raises(UsageError, match="several stages") as caught:
        stage_named("pin holes", names)
    assert "2, 3" in caught.value.remedy
    for wrong in ("0", "5", "", "-1", "polish"):
        with pytest.raises(UsageError, match="there is no stage") as caught:
            stage_named(wrong, names)
        assert "4 outlines" in caught.value.remedy


def test_holes_drilled_from_the_back_are_no_stage_of_the_sheet() -> None:
    """Stages that are zeroed on a freed scale are left out."""
    stages = [
        {"name": "outlines", "touch_off": "reference pad"},
        {"name": "x", "touch_off": "back of the scale"},
    ]
    assert cut_stages({"stages": stages}, HERE) == ("outlines",)
