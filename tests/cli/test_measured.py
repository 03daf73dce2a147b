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


def test_a_blank_that_was_not_measured_goes_by_the_tables(scalegen: Call) -> None:
    """Without readings the record has no mean and no plane, but facing and layers by the worst case."""
    blank = json.loads(scalegen("show", "pattern", SISKIN, "--json")[1])["blank"]
    assert (blank["readings"], blank["mean_mm"], blank["plane"], blank["bond_mm"]) == (0, None, None, None)
    assert blank["faced_mm"]["most"] - blank["faced_mm"]["least"] == pytest.approx(2 * blank["worst_case_mm"])
    assert [layer["kind"] for layer in blank["layers_left"]] == ["liner", "bond", "face"]


def test_sheets_measured_give_the_film(scalegen: Call, tmp_path: Path) -> None:
    """With the sheets' readings check tells film, facing and layers, as data and as rows."""
    table(tmp_path / "blank.csv")
    words = ("check", SISKIN, "--measured", "blank.csv", "--sheets-measured", "0.81,5.97")
    (found,) = json.loads(scalegen(*words, "--json")[1])
    blank = found["blank"]
    assert blank["bond_mm"] == pytest.approx(6.9 + 0.02 - 0.025 - 6.78)
    assert blank["enough_everywhere"] is True
    code, out, _ = scalegen(*words)
    assert code == 0
    for row in ("bond line", "faced off", "left of glass liner 0.8mm", "left of paper face 6mm"):
        assert row in out


def test_another_number_of_sheets_is_refused(scalegen: Call) -> None:
    """One reading for two sheets ends with code 2 and names the sheets in their order."""
    code, _, err = scalegen("check", SISKIN, "--measured", "6.9", "--sheets-measured", "0.81")
    assert code == 2
    assert "from back to face: glass liner 0.8mm, paper face 6mm" in err


def test_sheets_that_leave_no_room_for_glue_are_told(scalegen: Call) -> None:
    """Sheets of 7 mm in a blank of 6.9 mm are told of by check."""
    words = ("check", SISKIN, "--measured", "6.9", "--sheets-measured", "0.9,6.1", "--json")
    findings = json.loads(scalegen(*words)[1])[0]["findings"]
    assert "bond-below-zero" in [finding["code"] for finding in findings]


def test_each_placement_has_its_own_thickness(
    scalegen: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A job's record and its table tell least, mean and most under every scale, by the plane put in.

    Siskin's 6.2 mm are had everywhere; the plane gains 0.02 mm over 100 mm along, loses 0.05 mm across.
    """
    monkeypatch.setenv("COLUMNS", "160")
    table(tmp_path / "blank.csv")
    words = ("make", SISKIN, "--measured", "blank.csv", "--pairs", "2", "--formats", "dxf")
    assert scalegen(*words)[0] == 0
    code, out, _ = scalegen("show", "job", "out/siskin", "--part", "sheets")
    assert code == 0
    record = json.loads((tmp_path / "out" / "siskin" / "job.json").read_text(encoding="utf-8"))
    places = record["sheets"][0]["placements"]
    assert len(places) == 4
    for place in places:
        local = place["local_mm"]
        assert local["least"] < local["mean"] < local["most"]
        at_zero = 6.9 + 0.0002 * place["x_mm"] - 0.0005 * place["y_mm"]
        # The scale's own zero lies before its front, within 20 mm of it, and a scale is under 130 mm long.
        assert abs(local["mean"] - at_zero) < 0.0002 * 150 + 0.0005 * 40
        assert f"{place['label']}: {local['least']:.3f} to {local['most']:.3f}" in out
    assert len({place["local_mm"]["mean"] for place in places}) > 1


def test_a_scale_where_the_blank_is_too_thin_stops_the_job(scalegen: Call, tmp_path: Path) -> None:
    """A blank read at its thick end only, too thin at the other, is told by scale; nothing is written.

    It gains 0.3 mm over 100 mm along, from 6.31 mm at x = 250, where 6.3 mm are needed; the first right scale
    of the harrier ends before x = 150 mm, where there are 6.01 mm.
    """
    rows = [(x, y, 6.31 + 0.003 * (x - 250)) for x in (250, 270, 290) for y in (20, 130)]
    text = "".join(f"{x},{y},{t:.5f}\n" for x, y, t in rows)
    (tmp_path / "blank.csv").write_text(f"x_mm,y_mm,thickness_mm\n{text}", encoding="utf-8")
    code, _, err = scalegen(
        "make", SISKIN.with_name("harrier.toml"), "--measured", "blank.csv", "--pairs", "2"
    )
    assert code == 6
    assert "scale 1R (x = " in err
    assert "even at its thickest" in err
    assert not (tmp_path / "out" / "harrier").exists()


def thin_corner(path: Path, low_mm: float, *, at: tuple[int, int]) -> Path:
    """Twelve readings of an even blank of 305 x 152 mm, thin about one of them."""
    spots = [(x, y) for x in (15, 105, 200, 290) for y in (15, 76, 137)]
    rows = [f"{x},{y},{low_mm if (x, y) == at else 6.9}\n" for x, y in spots]
    path.write_text("x_mm,y_mm,thickness_mm\n" + "".join(rows), encoding="utf-8")
    return path


@pytest.mark.parametrize(("at", "stops"), [((290, 137), False), ((105, 15), True)], ids=["waste", "scale"])
def test_a_thin_corner_stops_a_job_only_where_a_scale_lies(
    scalegen: Call, tmp_path: Path, at: tuple[int, int], stops: bool
) -> None:
    """One pair beside the pad must be cut from a blank that is too thin far off, and not where it lies."""
    thin_corner(tmp_path / "blank.csv", 6.0, at=at)
    options = ("--measured", "blank.csv", "--sheet", "305x152mm", "--formats", "dxf")
    code, _, err = scalegen("make", SISKIN, *options)
    assert code == (6 if stops else 0), err
    assert ("short" in err) == stops
    if not stops:
        record = json.loads((tmp_path / "out" / "siskin" / "job.json").read_text(encoding="utf-8"))
        codes = {finding["code"] for finding in record["findings"]}
        assert "stack-thin-in-places" in codes
        assert record["stack"]["used_mm"] == pytest.approx(6.2)
        assert min(record["stack"]["measured_mm"]) == 6.0
