"""Touch-off and dry run as users ask for them, on a job folder that holds its record alone."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from scalegen.cli import app
from scalegen.errors import UsageError, WriteError
from scalegen.machining.stages import plan_stages
from scalegen.model import JobSpec, Pad
from scalegen.pipeline import lay_out, study_pattern
from scalegen.report.record import job_record, to_json

ROOT = Path(__file__).parents[2]
KEYS = ["stage", "at_mm", "height_mm", "depth_error_mm", "thinnest_left_mm", "into_bed_mm", "verdict"]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with one job of the first demo pattern: 6.9 mm measured, faced to 6.2."""
    folder = tmp_path_factory.mktemp("shop")
    for name in ("profiles", "shared"):
        shutil.copytree(ROOT / name, folder / name)
    spec = JobSpec(
        measured_mm=(6.9,),
        sheet_mm=(120.0, 80.0),
        pad=Pad(width_mm=12.0, height_mm=12.0),
        origin="upper-right",
    )
    study = study_pattern(folder / "profiles" / "siskin.toml", spec)
    assert study.volumes is not None
    record = job_record(
        scale=study.scale,
        spec=spec,
        layouts=lay_out(study, spec),
        volumes=study.volumes,
        stages=plan_stages(study.scale, spec, study.shop),
        findings=(),
        bom=(),
        files=(),
    )
    job = folder / "out" / "siskin"
    job.mkdir(parents=True)
    (job / "job.json").write_text(to_json(record), encoding="utf-8")
    return folder


def run(*words: str | Path) -> str:
    """Standard output of a command that ends well."""
    result = CliRunner().invoke(app, ["show", *map(str, words)])
    if result.exception is not None:
        raise result.exception
    return result.output


def test_a_zero_on_the_faced_blank(shop: Path) -> None:
    """0.7 faced off, so 0.7 too deep; 0.2 below the blank and 0.3 of tape leave 0.6 in the bed."""
    out = run("touch-off", shop / "out" / "siskin", "--at=-3,-4", "--stage", "outlines", "--json")
    found = json.loads(out)
    assert list(found) == KEYS
    assert (found["stage"], found["at_mm"]) == (6, [-3.0, -4.0])
    assert found["height_mm"] == pytest.approx(6.2, abs=1e-5)
    assert found["depth_error_mm"] == pytest.approx(0.7, abs=1e-5)
    assert found["into_bed_mm"] == pytest.approx(0.7 + 0.2 - 0.3, abs=1e-5)
    assert found["thinnest_left_mm"]["glass liner 0.8mm"] == pytest.approx(0.8)
    assert found["verdict"] == "0.7 mm too deep; the bed is cut 0.6 mm"


def test_a_zero_on_the_pad_is_right_in_inches_too(shop: Path) -> None:
    """The pad lies in the lower left; counted from the upper right that is far to the left and down."""
    out = run("touch-off", shop / "out" / "siskin", "--at", "-4.33in,-2.8in", "--stage", "2")
    assert "right: this place has the blank's full height" in out


def test_the_card_tells_where_and_what_is_read(shop: Path) -> None:
    """Without a place every stage comes with the pad, two readings and the limits."""
    out = run("touch-off", shop / "out" / "siskin")
    assert "x = -109.83 mm, y = -69.83 mm from the upper-right corner" in " ".join(out.split())
    card = json.loads(run("touch-off", shop / "out" / "siskin", "--json"))
    assert [row["pad_reads_mm"] for row in card["stages"]] == [0] * 6
    assert [row["second_reads_mm"] for row in card["stages"]] == pytest.approx([-0.7] * 6, abs=1e-5)
    assert {row["limits"] for row in card["stages"]} == {"kept"}


def test_the_dry_run_of_a_blank_that_is_thicker(shop: Path, tmp_path: Path) -> None:
    """7.2 for 6.9, zeroed on the pad, leaves 0.3 too much and holds parts by 0.3 - 0.2: hand arithmetic."""
    picture = tmp_path / "stages.svg"
    words = ("dry-run", shop / "out" / "siskin", "--measured", "7.2", "--picture", picture)
    (sheet,) = json.loads(run(*words, "--json"))["sheets"]
    assert [row["pad_untouched"] for row in sheet["stages"]] == [True] * 6
    on_pad, on_bed = sheet["measured"]
    assert on_pad["uncut_mm"] == pytest.approx(0.3, abs=1e-5)
    assert on_pad["web_mm"] == pytest.approx(0.1, abs=1e-5)
    assert on_pad["not_free"] == ["1L", "1R"]
    assert (on_bed["zeroed_on"], on_bed["not_free"]) == ("bed", [])
    assert picture.read_text(encoding="utf-8").count("left after") == 6
    out = run(*words[:4])
    assert "not free" in out
    assert "Dry run of sheet-1" in out


@pytest.mark.parametrize(
    ("words", "message", "remedy"),
    [
        (
            ("--at", "5,5", "--stage", "1"),
            "off the sheet",
            "x from -120 mm to 0 mm and y from -80 mm to 0 mm",
        ),
        (("--at", "5", "--stage", "1"), "is not a place", "put a comma between"),
        (("--at=-5,5,2", "--stage", "1"), "is not a place", "decimals take a point"),
        (("--at=-5,", "--stage", "1"), "is not a place", "put a comma between"),
        (("--at=-5,y", "--stage", "1"), '"y"', "give a length"),
        (("--at=-5,-5",), "not said before which stage", "6 outlines"),
        (("--at=-5,-5", "--stage", "9"), 'there is no stage "9"', "6 outlines"),
        (("--sheet", "2"), 'there is no sheet "2"; the job has 1', "give 1"),
    ],
)
def test_what_makes_no_sense_is_answered(
    shop: Path, words: tuple[str, ...], message: str, remedy: str
) -> None:
    """Each wrong word is named, with what to give instead."""
    with pytest.raises(UsageError) as caught:
        run("touch-off", shop / "out" / "siskin", *words)
    assert message in str(caught.value)
    assert remedy in caught.value.remedy


@pytest.mark.parametrize("name", ["taken", "taken/below"])
def test_a_file_in_place_of_a_folder_is_told_first(shop: Path, tmp_path: Path, name: str) -> None:
    """Nothing is printed before, the option to change is named, and the file is as it was."""
    (tmp_path / "taken").write_text("kept", encoding="utf-8")
    words = ["show", "dry-run", str(shop / "out" / "siskin"), "--stl", str(tmp_path / name)]
    result = CliRunner().invoke(app, words)
    assert isinstance(result.exception, WriteError)
    assert result.output == ""
    assert result.exception.where == str(tmp_path / "taken")
    assert "choose another --stl" in result.exception.remedy
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "kept"


def test_a_folder_without_a_job_is_refused(shop: Path) -> None:
    """The jobs that lie in it are offered."""
    for command in ("touch-off", "dry-run"):
        with pytest.raises(UsageError, match="there is no job here") as caught:
            run(command, shop / "out")
        assert "siskin" in caught.value.remedy


def test_a_pattern_that_changed_since_is_refused(shop: Path, tmp_path: Path) -> None:
    """A thinner scale than the record's is not rehearsed as if it were the job's."""
    copy = tmp_path / "shop"
    shutil.copytree(shop, copy)
    pattern = copy / "profiles" / "siskin.toml"
    text = pattern.read_text(encoding="utf-8")
    changed = text.replace("thickness = 6.2", "thickness = 5.8")
    assert changed != text
    pattern.write_text(changed, encoding="utf-8")
    with pytest.raises(
        UsageError, match=r"siskin\.toml or the shop tables are not what this job was made from"
    ):
        run("dry-run", copy / "out" / "siskin")
