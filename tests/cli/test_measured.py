"""Readings of the blank with their places, from a table, through the command line."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from scalegen.__main__ import main

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def scalegen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Call:
    """Run the entry point in an empty folder: its code, output and errors."""

    def call(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.chdir(tmp_path)
        code = main([str(word) for word in words])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


def table(path: Path, bad_mm: float = 0.0) -> Path:
    """Nine readings of a blank that gains 0.02 mm over 100 mm along and loses 0.05 mm over 100 mm across."""
    rows = [(x, y, 6.9 + 0.0002 * x - 0.0005 * y) for x in (10, 100, 190) for y in (10, 50, 90)]
    rows[4] = (*rows[4][:2], rows[4][2] + bad_mm)
    text = "".join(f"{x},{y},{t:.5f}\n" for x, y, t in rows)
    path.write_text(f"x_mm,y_mm,thickness_mm\n{text}", encoding="utf-8")
    return path


def test_a_table_of_readings_tells_the_taper(scalegen: Call, tmp_path: Path) -> None:
    """The plane must come back as it was put in, and the smallest reading must be the one counted on."""
    table(tmp_path / "blank.csv")
    code, out, _ = scalegen("show", "pattern", SISKIN, "--measured", "blank.csv", "--json")
    record = json.loads(out)
    assert code == 0
    assert record["stack"]["used_mm"] == pytest.approx(6.9 + 0.002 - 0.045)
    plane = record["blank"]["plane"]
    assert plane["along_x_mm_per_100_mm"] == pytest.approx(0.02, abs=1e-6)
    assert plane["across_y_mm_per_100_mm"] == pytest.approx(-0.05, abs=1e-6)
    assert record["blank"]["outliers"] == []
    assert "taper of the blank" in scalegen("show", "pattern", SISKIN, "--measured", "blank.csv")[1]


def test_a_reading_that_stands_out_is_named(scalegen: Call, tmp_path: Path) -> None:
    """A slip of 0.4 mm must be told of with its line, and must not tilt the plane."""
    table(tmp_path / "blank.csv", bad_mm=-0.4)
    code, out, _ = scalegen("check", SISKIN, "--measured", "blank.csv", "--json")
    assert code == 0
    told = [f for f in json.loads(out)[0]["findings"] if f["code"] == "reading-outlier"]
    assert len(told) == 1
    assert "reading 5 (line 6)" in told[0]["message"]
    record = json.loads(scalegen("show", "pattern", SISKIN, "--measured", "blank.csv", "--json")[1])
    assert record["blank"]["plane"]["along_x_mm_per_100_mm"] == pytest.approx(0.02, abs=1e-3)


def test_a_table_that_is_not_there(scalegen: Call) -> None:
    """A file of readings that cannot be read ends with code 3 and its name."""
    code, _, err = scalegen("check", SISKIN, "--measured", "none.csv")
    assert code == 3
    assert "none.csv" in err


def test_bare_readings_have_no_plane(scalegen: Call) -> None:
    """Readings without places give mean and tolerances, and no plane."""
    record = json.loads(scalegen("show", "pattern", SISKIN, "--measured", "6.84,6.9", "--json")[1])
    assert record["blank"]["plane"] is None
    assert record["blank"]["mean_mm"] == pytest.approx(6.87)
    assert json.loads(scalegen("show", "pattern", SISKIN, "--json")[1])["blank"] is None
