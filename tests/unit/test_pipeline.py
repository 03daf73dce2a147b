"""The pipeline as a library: look, lay out, make."""

import json
import shutil
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from scalegen.errors import GeometryError, PatternError, SheetError, StopError, UsageError
from scalegen.model import JobSpec
from scalegen.pipeline import (
    Job,
    Study,
    lay_out,
    make_job,
    make_pattern,
    require_no_stops,
    shop_for,
    study_pattern,
)

ROOT = Path(__file__).parents[2]
SISKIN = ROOT / "profiles" / "siskin.toml"
DXF_ONLY = JobSpec(formats=("dxf",))


@cache
def siskin() -> Study:
    """The siskin, looked at once."""
    return study_pattern(SISKIN, JobSpec())


def edited(folder: Path, *changes: tuple[str, str]) -> Path:
    """A copy of the siskin with some text replaced."""
    text = SISKIN.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "siskin.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_study_has_everything_a_job_needs() -> None:
    """Scale, findings, volumes and the tables it was resolved with."""
    study = siskin()
    assert study.scale.pattern.name == "siskin"
    assert study.stops == ()
    assert study.volumes is not None
    assert set(study.volumes.finished_mm3) == {span.name for span in study.scale.spans}
    assert study.shop.folder == ROOT / "shared"


def test_a_study_never_loads_the_kernel() -> None:
    """Looking is quick: a fresh process studies and lays out a pattern without the CAD kernel."""
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from scalegen.model import JobSpec\n"
        "from scalegen.pipeline import lay_out, study_pattern, study_record\n"
        f"study = study_pattern(Path({str(SISKIN)!r}), JobSpec(pairs=2))\n"
        "lay_out(study, JobSpec(pairs=2)); study_record(study)\n"
        "sys.exit(any(name.split('.')[0] in ('OCP', 'cadquery') for name in sys.modules))\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Job, list[str], Path]:
    """The siskin made once, with the steps it told of."""
    out = tmp_path_factory.mktemp("made")
    steps: list[str] = []
    job = make_job(siskin(), replace(DXF_ONLY, pairs=2, out=out), steps.append)
    return job, steps, out


def test_a_job_is_written_and_told(made: tuple[Job, list[str], Path]) -> None:
    """The folder holds what the record lists, with the sizes it lists, and nothing else."""
    job, _, out = made
    assert job.folder == out / "siskin"
    written = json.loads((job.folder / "job.json").read_text(encoding="utf-8"))
    assert written["pairs"] == job.record["pairs"] == 2
    listed = {row["path"]: row["bytes"] for row in written["files"]}
    found = {path.name: path.stat().st_size for path in job.folder.iterdir() if path.name != "job.json"}
    assert listed == found
    assert set(listed) == {"sheet-1.dxf", "sheet-1.svg", "sheet-1.png", "bom.csv", "bom.json"}


def test_progress_tells_every_step_in_order(made: tuple[Job, list[str], Path]) -> None:
    """A caller can show what is being done."""
    _, steps, _ = made
    assert steps == [
        "laying out sheets",
        "cutting the sheets in thought",
        "building solids",
        "writing sheet-1.dxf",
        "drawing the sheets",
        "writing the bill of materials",
    ]


def test_making_again_gives_the_same_bytes(made: tuple[Job, list[str], Path], tmp_path: Path) -> None:
    """The short way through does the same, in another place, byte for byte."""
    job, _, _ = made
    again = make_pattern(SISKIN, replace(DXF_ONLY, pairs=2, out=tmp_path, job="other"))
    assert again.folder == tmp_path / "other"
    for path in job.folder.iterdir():
        assert (again.folder / path.name).read_bytes() == path.read_bytes()


def test_a_stop_finding_is_refused_with_all_that_stops(tmp_path: Path) -> None:
    """Every stop is named with place and remedy, and nothing is written."""
    path = edited(tmp_path, ("at = [35, -0.6]", "at = [35, 8]"), ("thickness = 6.2 ", "thickness = 7.2 "))
    study = study_pattern(path, JobSpec())
    assert study.volumes is None
    assert {finding.code for finding in study.stops} == {"pin-breaks-out", "stack-too-thin"}
    with pytest.raises(StopError) as caught:
        make_job(study, replace(DXF_ONLY, out=tmp_path / "out"))
    assert "2 findings stop this job" in caught.value.message
    assert caught.value.message.count("\n  - ") == 2
    assert "x = 35.00 mm" in caught.value.message
    assert not (tmp_path / "out").exists()
    require_no_stops(siskin())


def test_the_stock_of_the_job_goes_before_the_patterns_own() -> None:
    """An option can put another stack in place of the pattern's."""
    assert study_pattern(SISKIN, JobSpec(stock="maple-spacer")).scale.stack.name == "maple-spacer"


def test_without_a_stock_the_choices_are_named(tmp_path: Path) -> None:
    """A pattern that names no stack asks for one."""
    path = edited(tmp_path, ('stock = "paper-six"  ', "# "))
    with pytest.raises(UsageError, match="not said which stack") as caught:
        study_pattern(path, JobSpec())
    assert "linen-quarter, maple-spacer, paper-six" in caught.value.remedy


def test_a_stock_misspelt_in_the_pattern_is_a_fault_of_the_pattern(tmp_path: Path) -> None:
    """The file and field are named, with what was probably meant."""
    path = edited(tmp_path, ('"paper-six"', '"paper-sex"'))
    with pytest.raises(PatternError) as caught:
        study_pattern(path, JobSpec())
    (fault,) = caught.value.faults
    assert (fault.file, fault.field, fault.hint) == (str(path), "stock", 'did you mean "paper-six"?')
    with pytest.raises(UsageError, match='no stack "paper-sex"'):
        study_pattern(SISKIN, JobSpec(stock="paper-sex"))


def test_pins_are_held_against_the_holes_of_the_drawing(tmp_path: Path) -> None:
    """A pin moved away from its hole in the drawn tang is found."""
    shutil.copy(ROOT / "profiles" / "harrier.dxf", tmp_path)
    text = (ROOT / "profiles" / "harrier.toml").read_text(encoding="utf-8")
    path = tmp_path / "harrier.toml"
    path.write_text(text.replace("at = [80, 0.8]", "at = [80.3, 0.8]"), encoding="utf-8")
    found = {finding.code: finding for finding in study_pattern(path, JobSpec()).findings}
    assert found["pin-off-tang-hole"].about == "pin 2"
    clean = study_pattern(ROOT / "profiles" / "harrier.toml", JobSpec()).findings
    assert "pin-off-tang-hole" not in {finding.code for finding in clean}


def test_tables_come_from_the_nearest_shop_or_a_stated_one(tmp_path: Path) -> None:
    """A shared folder above the pattern is found; a stated one goes before; else the bundled ones."""
    assert shop_for(SISKIN).folder == ROOT / "shared"
    assert shop_for(tmp_path / "x.toml").folder is None
    shutil.copytree(ROOT / "shared", tmp_path / "shared")
    assert shop_for(tmp_path / "profiles" / "x.toml").folder == tmp_path / "shared"
    assert shop_for(tmp_path / "x.toml", ROOT / "shared").folder == ROOT / "shared"


# --------------------------------------------------------------------------------------------- sheets


def test_the_sheet_is_the_smallest_of_the_stacks_sheets() -> None:
    """Without a size the blank is as large as the sheets allow."""
    (layout,) = lay_out(siskin(), JobSpec())
    assert (layout.length_mm, layout.width_mm) == (300.0, 150.0)
    maple = study_pattern(SISKIN, JobSpec(stock="maple-spacer"))
    assert lay_out(maple, JobSpec())[0].length_mm == 280.0


def test_spacing_is_cutter_and_clearance_unless_stated() -> None:
    """The cutter has to pass between two parts: 3.175 + 1 mm by the tables."""
    assert lay_out(siskin(), JobSpec())[0].spacing_mm == pytest.approx(4.175)
    assert lay_out(siskin(), JobSpec(cutter="flat 6mm"))[0].spacing_mm == pytest.approx(7.0)
    assert lay_out(siskin(), JobSpec(spacing_mm=3.175))[0].spacing_mm == 3.175


def test_a_spacing_that_the_cutter_does_not_pass_is_refused() -> None:
    """Less than the cutter's diameter would cut into the neighbour."""
    with pytest.raises(SheetError, match=r"3 mm between parts is less than the cutter's 3\.175 mm"):
        lay_out(siskin(), JobSpec(spacing_mm=3.0))


def test_an_unknown_cutter_is_refused_with_what_was_meant() -> None:
    """The nearest name and all of them are told."""
    with pytest.raises(UsageError, match='no cutter "flat 1/8"') as caught:
        lay_out(siskin(), JobSpec(cutter="flat 1/8"))
    assert 'did you mean "flat 1/8in"?' in caught.value.remedy
    assert "taper 6mm" in caught.value.remedy


def test_a_machine_without_the_kernels_libraries_is_told_what_to_install(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A kernel that can't be loaded must end in a remedy, with nothing written."""

    def missing(name: str) -> None:
        raise ImportError(f"libGL.so.1: cannot open shared object file ({name})")

    monkeypatch.setattr("scalegen.pipeline.importlib.import_module", missing)
    spec = JobSpec(out=tmp_path / "out")
    with pytest.raises(GeometryError, match=r"libGL\.so\.1") as caught:
        make_job(study_pattern(SISKIN, spec), spec)
    assert "apt-get install libgl1" in caught.value.remedy
    assert not list((tmp_path / "out").iterdir())


def test_an_interrupt_while_the_kernel_loads_stays_an_interrupt(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A kernel stopped while it loads reports a failed import; the user asked to stop, and that is said."""

    def stopped(name: str) -> None:
        raise ImportError(f"initialization failed ({name})") from KeyboardInterrupt()

    monkeypatch.setattr("scalegen.pipeline.importlib.import_module", stopped)
    spec = JobSpec(out=tmp_path / "out")
    with pytest.raises(KeyboardInterrupt):
        make_job(study_pattern(SISKIN, spec), spec)
    assert not list((tmp_path / "out").iterdir())
