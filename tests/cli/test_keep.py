"""Keeping what a job left over, as users do it."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from scalegen.__main__ import main
from scalegen.shop import load_shop

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with one pair of the siskin made from a sheet with room to spare."""
    folder = tmp_path_factory.mktemp("work") / "shop"
    assert main(["init", str(folder)]) == 0
    words = ["make", str(folder / "profiles" / "siskin.toml"), "--sheet", "260x140", "--formats", "dxf"]
    assert main([*words, "--measured", "6.3,6.2", "--out", str(folder / "out"), "--quiet"]) == 0
    return folder


@pytest.fixture
def shop(made: Path, tmp_path: Path) -> Path:
    """A copy of it, to be changed."""
    return Path(shutil.copytree(made, tmp_path / "shop"))


@pytest.fixture
def keep(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run the command: its code, output and errors."""

    def call(*words: str | Path) -> tuple[int, str, str]:
        code = main(["keep", *map(str, words)])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


def test_what_is_kept_is_what_the_record_says(shop: Path, keep: Call) -> None:
    """The table holds the piece of the record, moved to its own corner, and where it came from."""
    record = json.loads((shop / "out" / "siskin" / "job.json").read_text(encoding="utf-8"))
    (piece,) = record["sheets"][0]["left_over"]
    code, out, err = keep(shop / "out" / "siskin")
    assert (code, err) == (0, "")
    assert "kept as R1: " in out
    (kept,) = load_shop(shop / "shared").remnants.values()
    low = [min(row[axis] for row in piece["outline"]) for axis in (0, 1)]
    expected = [(x - low[0], y - low[1], bulge) for x, y, bulge in piece["outline"]]
    assert [value for row in kept.outline for value in row] == pytest.approx(
        [value for row in expected for value in row], abs=6e-4
    )
    assert kept.measured_mm == (6.3, 6.2)
    assert (kept.stack, kept.source) == ("paper-six", "siskin, sheet-1")


def test_a_piece_that_was_faced_off_is_as_thick_as_the_scales(shop: Path, keep: Call) -> None:
    """6 mm and 0.2 mm to take off the back are left of a blank of 6.5 mm, whatever it measured before."""
    job = shop / "out" / "siskin" / "job.json"
    record = json.loads(job.read_text(encoding="utf-8"))
    record["stack"]["used_mm"] = 6.5
    job.write_text(json.dumps(record), encoding="utf-8")
    assert keep(shop / "out" / "siskin")[0] == 0
    (kept,) = load_shop(shop / "shared").remnants.values()
    assert kept.measured_mm == (pytest.approx(6.2),)
    assert "faced off" in kept.source


def test_a_piece_is_turned_until_its_grain_lies_along_x(shop: Path, keep: Call) -> None:
    """With the grain a quarter turn from x, long and wide change places."""
    job = shop / "out" / "siskin" / "job.json"
    record = json.loads(job.read_text(encoding="utf-8"))
    (piece,) = record["sheets"][0]["left_over"]
    record["sheets"][0]["grain_deg"] = 90.0
    job.write_text(json.dumps(record), encoding="utf-8")
    assert keep(shop / "out" / "siskin")[0] == 0
    (kept,) = load_shop(shop / "shared").remnants.values()

    def spans(rows: list[list[float]]) -> list[float]:
        return [max(row[axis] for row in rows) - min(row[axis] for row in rows) for axis in (0, 1)]

    assert spans([list(row) for row in kept.outline]) == pytest.approx(
        spans(piece["outline"])[::-1], abs=1e-3
    )


def test_twice_keeps_once(shop: Path, keep: Call) -> None:
    """Called again, nothing is written and the number it has is told; --again keeps another."""
    keep(shop / "out" / "siskin")
    text = (shop / "shared" / "remnants.toml").read_bytes()
    code, out, _ = keep(shop / "out" / "siskin")
    assert code == 0
    assert "kept before as R1" in out
    assert (shop / "shared" / "remnants.toml").read_bytes() == text
    data = json.loads(keep(shop / "out" / "siskin", "--again", "--json")[1])
    assert [(each["number"], each["new"]) for each in data["kept"]] == [("R2", True)]
    assert list(load_shop(shop / "shared").remnants) == ["R1", "R2"]


def test_a_job_cut_from_a_remnant_uses_it_up(shop: Path, keep: Call) -> None:
    """The remnant named in the record is set aside; what is left of it gets a number of its own."""
    keep(shop / "out" / "siskin")
    job = shop / "out" / "siskin" / "job.json"
    record = json.loads(job.read_text(encoding="utf-8"))
    record["sheets"][0]["remnant"] = "R1"
    job.write_text(json.dumps(record), encoding="utf-8")
    code, out, _ = keep(shop / "out" / "siskin")
    assert code == 0
    assert "R1 is used up" in out
    assert list(load_shop(shop / "shared").remnants) == ["R2"]
    again = keep(shop / "out" / "siskin")[1]
    assert "used up" not in again
    assert "kept before as R2" in again
    assert load_shop(shop / "shared").remnants["R2"].source.startswith("siskin, sheet-1 of R1")
    record["sheets"][0]["remnant"] = "R9"
    job.write_text(json.dumps(record), encoding="utf-8")
    assert "R9, which this was cut from, is not in the table" in keep(shop / "out" / "siskin")[1]


def test_the_bundled_tables_are_never_written(shop: Path, tmp_path: Path, keep: Call) -> None:
    """A job outside of any shop folder is refused, and told what to do."""
    away = Path(shutil.copytree(shop / "out" / "siskin", tmp_path / "away" / "siskin"))
    code, _, err = keep(away)
    assert code == 2
    assert "no shop folder" in err
    assert "--shop" in err
    assert keep(away, "--shop", shop / "shared")[0] == 0


@pytest.mark.parametrize(
    ("spoil", "words", "expected"),
    [
        (lambda shop: (shop / "out" / "siskin" / "job.json").unlink(), (), (2, "there is no job here")),
        (
            lambda shop: (shop / "shared" / "remnants.toml").write_text("[[remnant]\n", encoding="utf-8"),
            (),
            (3, "remnants.toml"),
        ),
        (
            lambda shop: (shop / "shared" / "stock.toml").write_text(
                (shop / "shared" / "stock.toml").read_text(encoding="utf-8").replace("paper-six", "paper-7"),
                encoding="utf-8",
            ),
            (),
            (2, 'a stack "paper-six", which these tables do not have'),
        ),
        (lambda _: None, ("--sheet", "2"), (2, "there is no sheet 2; the job has 1")),
        (lambda _: None, ("--sheet", "0"), (2, "there is no sheet 0")),
        (lambda _: None, ("--sheet", "x"), (2, '--sheet: "x" is not the number of a sheet')),
        (lambda _: None, ("--sheet", "1.5"), (2, '--sheet: "1.5" is not the number of a sheet')),
    ],
)
def test_what_is_wrong_is_told_and_nothing_written(
    shop: Path, keep: Call, spoil: Callable[[Path], object], words: tuple[str, ...], expected: tuple[int, str]
) -> None:
    """A missing job, a broken table, another shop's stack, a sheet that is not there."""
    spoil(shop)
    before = (shop / "shared" / "remnants.toml").read_bytes()
    found, _, err = keep(shop / "out" / "siskin", *words)
    assert found == expected[0]
    assert expected[1] in err
    assert "Traceback" not in err
    assert (shop / "shared" / "remnants.toml").read_bytes() == before


def test_a_record_of_an_older_version_is_told_so(shop: Path, keep: Call) -> None:
    """A record without what was left over is no fault of the program."""
    job = shop / "out" / "siskin" / "job.json"
    record = json.loads(job.read_text(encoding="utf-8"))
    del record["sheets"][0]["left_over"]
    job.write_text(json.dumps(record), encoding="utf-8")
    code, _, err = keep(shop / "out" / "siskin")
    assert code == 2
    assert "older version" in err
