"""The commands about outlines, from the command line."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest

from scalegen.__main__ import main

ROOT = Path(__file__).parents[2]
Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def scalegen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Call:
    """Run the entry point in a shop folder: its code, output and errors."""
    shutil.copytree(ROOT / "shared", tmp_path / "shared")
    (tmp_path / "profiles").mkdir()

    def call(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.chdir(tmp_path)
        code = main([str(word) for word in words])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


def two_squares(path: Path, units: int = 4) -> Path:
    """Two outlines of one size."""
    drawing = ezdxf.new("R2010", units=units)
    for x in (0, 200):
        drawing.modelspace().add_lwpolyline(
            [(x, 0), (x + 100, 0), (x + 100, 20), (x, 20)], format="xy", close=True
        )
    drawing.saveas(path)
    return path


def test_show_outline_as_data(scalegen: Call, tmp_path: Path) -> None:
    """The promised keys with numbers that agree with the drawing's closed forms, and code 0."""
    drawing = ezdxf.new("R2010", units=4)
    drawing.modelspace().add_lwpolyline([(0, -10), (100, -10), (100, 10), (0, 10)], close=True)
    drawing.modelspace().add_circle((40, 0), 1.6)
    drawing.saveas(tmp_path / "bar.dxf")
    code, out, _ = scalegen("show", "outline", "bar.dxf", "--json")
    record = json.loads(out)
    assert code == 0
    assert {"units", "contours", "holes", "gaps", "findings"} <= set(record)
    first, second = record["contours"]
    assert first["area_mm2"] == pytest.approx(2000)
    assert first["perimeter_mm"] == pytest.approx(240)
    assert (first["segments"], first["inside_of"], second["inside_of"]) == (4, None, 1)
    assert record["holes"][0]["at_mm"] == pytest.approx([40, 0])
    assert record["holes"][0]["diameter_mm"] == pytest.approx(3.2)
    assert not (tmp_path / "out").exists()


def test_show_outline_draws_and_says_where(scalegen: Call, tmp_path: Path) -> None:
    """Without --json there are tables, and a picture whose place is told."""
    code, out, _ = scalegen("show", "outline", ROOT / "profiles" / "harrier.dxf")
    assert code == 0
    assert "picture: out/harrier-outline.svg" in out.replace("\\", "/")
    assert (tmp_path / "out" / "harrier-outline.svg").read_text(encoding="utf-8").startswith("<")


def test_two_that_fit_are_asked_about_and_drawn(scalegen: Call, tmp_path: Path) -> None:
    """Two equal outlines end with code 3, both as choices, and a picture; --contour settles it."""
    two_squares(tmp_path / "two.dxf")
    code, out, _ = scalegen("show", "outline", "two.dxf", "--json", "--picture", "two.svg")
    record = json.loads(out)
    assert code == 3
    assert record["choices"] == [1, 2]
    assert record["chosen"] is None
    assert any(f["level"] == "stop" and "--contour" in f["remedy"] for f in record["findings"])
    assert (tmp_path / "two.svg").exists()
    code, out, _ = scalegen("show", "outline", "two.dxf", "--json", "--contour", "2")
    assert code == 0
    assert json.loads(out)["chosen"] == 2


def test_a_unit_that_is_missing_is_asked_for(scalegen: Call, tmp_path: Path) -> None:
    """Without a unit: code 3, a stop in the same form that names --units; with it, code 0."""
    two_squares(tmp_path / "two.dxf", units=0)
    code, out, err = scalegen("show", "outline", "two.dxf", "--json")
    record = json.loads(out)
    assert code == 3
    assert record["contours"] == []
    assert "--units" in record["findings"][0]["remedy"]
    assert err.startswith("scalegen: ")
    code, out, _ = scalegen("show", "outline", "two.dxf", "--units", "in", "--contour", "1", "--json")
    assert code == 0
    assert json.loads(out)["contours"][0]["area_mm2"] == pytest.approx(2000 * 25.4**2)


def test_show_outline_of_a_pattern(scalegen: Call) -> None:
    """A pattern can be named too; then nothing else may be said about its outline."""
    siskin = ROOT / "profiles" / "siskin.toml"
    code, out, _ = scalegen("show", "outline", siskin, "--json")
    assert code == 0
    assert json.loads(out)["chosen"] == 1
    code, _, err = scalegen("show", "outline", siskin, "--flip")
    assert code == 2
    assert "says itself" in err


def test_a_picture_of_no_kind(scalegen: Call) -> None:
    """A picture that is neither .svg nor .png is refused."""
    code, _, err = scalegen("show", "outline", ROOT / "profiles" / "harrier.dxf", "--picture", "a.bmp")
    assert code == 2
    assert "--picture" in err


def test_new_makes_a_pattern_that_passes(scalegen: Call, tmp_path: Path) -> None:
    """A new pattern goes into profiles/, check passes it, and show pattern works as is said."""
    code, out, _ = scalegen("new", "wren", "--outline", ROOT / "profiles" / "harrier.dxf")
    assert code == 0
    assert "3 pins" in out
    assert scalegen("check", "profiles/wren.toml")[0] == 0
    assert scalegen("show", "pattern", "profiles/wren.toml", "--json")[0] == 0
    assert sorted(p.name for p in (tmp_path / "profiles").iterdir()) == ["harrier.dxf", "wren.toml"]


def test_new_leaves_nothing_behind_when_it_is_refused(scalegen: Call, tmp_path: Path) -> None:
    """An outline that must be chosen ends with code 3 and no file; with --contour it is in the pattern."""
    two_squares(tmp_path / "two.dxf")
    code, _, err = scalegen("new", "wren", "--outline", "two.dxf")
    assert code == 3
    assert "--contour" in err
    assert list((tmp_path / "profiles").iterdir()) == []
    assert scalegen("new", "wren", "--outline", "two.dxf", "--contour", "2")[0] == 0
    assert "contour = 2" in (tmp_path / "profiles" / "wren.toml").read_text(encoding="utf-8")
    assert scalegen("check", "profiles/wren.toml")[0] == 0


def test_new_as_data(scalegen: Call) -> None:
    """With --json, new prints the file and the findings."""
    code, out, _ = scalegen("new", "wren", "--outline", ROOT / "profiles" / "harrier.dxf", "--json")
    assert code == 0
    assert Path(json.loads(out)["file"]).name == "wren.toml"
