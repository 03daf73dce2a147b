"""A new pattern from an outline."""

from pathlib import Path

import ezdxf
import pytest

from scalegen.checks import EDGE_STOP
from scalegen.drafting import Drafted, Wish, draft_pattern
from scalegen.errors import PatternError, UsageError
from scalegen.model import JobSpec
from scalegen.outline_options import Said, look_at
from scalegen.pipeline import study_pattern

PROFILES = Path(__file__).parents[2] / "profiles"
NOTHING = Said()


def draw(path: Path, rows: list[tuple[float, ...]], holes: list[tuple[float, float, float]]) -> Path:
    """A drawing in mm of one outline with holes."""
    drawing = ezdxf.new("R2010", units=4)
    space = drawing.modelspace()
    space.add_lwpolyline([row if len(row) == 3 else (*row, 0) for row in rows], format="xyb", close=True)
    for x, y, d in holes:
        space.add_circle((x, y), d / 2)
    drawing.saveas(path)
    return path


def new(file: Path, folder: Path, *, said: Said = NOTHING, name: str = "wren", **more: str | None) -> Drafted:
    """Start a pattern."""
    source, found = look_at(file, said)
    return draft_pattern(Wish(name=name, source=source, found=found, folder=folder, **more))


BAR = [(0.0, -12.0), (110.0, -12.0), (110.0, 12.0), (0.0, 12.0)]


@pytest.mark.parametrize("name", ["harrier", "curlew"])
def test_the_demo_drawings_make_patterns_that_pass(tmp_path: Path, name: str) -> None:
    """From each demo drawing: a pattern without a stop, with a pin for each hole where the demo has one."""
    made = new(PROFILES / f"{name}.dxf", tmp_path)
    again = study_pattern(made.path, JobSpec())
    assert not again.stops
    true = study_pattern(PROFILES / f"{name}.toml", JobSpec()).scale.holes
    assert [hole.at_mm for hole in again.scale.holes] == [
        pytest.approx(hole.at_mm, abs=1e-3) for hole in true
    ]
    assert made.copied == tmp_path / f"{name}.dxf"
    assert made.copied.read_bytes() == (PROFILES / f"{name}.dxf").read_bytes()


def test_inches_stay_inches(tmp_path: Path) -> None:
    """From a drawing in inches: bare numbers in inches, also those that were typed (1 in = 25.4 mm)."""
    made = new(PROFILES / "curlew.dxf", tmp_path, tang="0.125", front_at="0.7")
    pattern = made.study.scale.pattern
    assert pattern.units == "in"
    assert pattern.tang_mm == pytest.approx(3.175)
    assert pattern.front.at_mm == pytest.approx(17.78)


def test_a_pin_that_would_split_out_is_left_out_and_told_of(tmp_path: Path) -> None:
    """A hole too near the edge stays in the file as a comment with the reason; the rest passes."""
    hole = 3.2
    near = 12 - 0.9 * EDGE_STOP * hole
    made = new(draw(tmp_path / "bar.dxf", BAR, [(40, 0, hole), (80, near, hole)]), tmp_path)
    assert not made.study.stops
    assert len(made.study.scale.holes) == 1
    text = made.path.read_text(encoding="utf-8")
    assert "# [[pin]]" in text
    assert "left out" in text
    assert made.pins_text == "1 pin (1 hole left out, see there)"


def test_a_hole_of_no_known_size_is_a_pin_of_its_diameter(tmp_path: Path) -> None:
    """Where nothing in the hardware table fits, the pin gets the hole's diameter."""
    made = new(draw(tmp_path / "bar.dxf", BAR, [(60, 0, 7.3)]), tmp_path)
    assert made.study.scale.pattern.pins[0].diameter_mm == pytest.approx(7.3)


def test_blade_and_tang_in_one_outline(tmp_path: Path) -> None:
    """Of an outline with the blade on it, the front must lie shortly ahead of the first pin."""
    whole = [(0.0, -14.0), (220.0, -14.0), (220.0, 14.0), (60.0, 14.0)]
    made = new(draw(tmp_path / "knife.dxf", whole, [(140, 0, 3.0), (190, 0, 3.0)]), tmp_path)
    assert 110 < made.study.scale.pattern.front.at_mm < 135
    assert not made.study.stops


def test_an_outline_far_from_zero_starts_at_its_front(tmp_path: Path) -> None:
    """Where the drawing's zero is far away, the pattern's must be at the front end, and the pins with it."""
    far = [(x + 500, y + 300) for x, y in BAR]
    made = new(draw(tmp_path / "far.dxf", far, [(560, 300, 3.0)]), tmp_path)
    pattern = made.study.scale.pattern
    assert pattern.outline.placing.zero == "front"
    assert pattern.pins[0].at_mm == pytest.approx((60, 0), abs=1e-3)
    again = study_pattern(made.path, JobSpec())
    assert again.outline.ring.bounds_mm == pytest.approx((0, -12, 110, 12), abs=1e-6)


def test_an_upright_outline_is_asked_about(tmp_path: Path) -> None:
    """An outline that stands upright is refused until it is said where the blade is."""
    upright = [(y, x) for x, y in BAR][::-1]
    file = draw(tmp_path / "up.dxf", upright, [(0, 50, 3.0)])
    with pytest.raises(PatternError, match="stands upright") as caught:
        new(file, tmp_path)
    assert "--front top or --front bottom" in caught.value.remedy
    assert not (tmp_path / "wren.toml").exists()
    made = new(file, tmp_path, said=Said(front="bottom"))
    assert made.study.scale.pattern.pins[0].at_mm == pytest.approx((50, 0), abs=1e-3)


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    """A pattern of that name, or another file of the drawing's name, stops it and stays as it was."""
    file = draw(tmp_path / "bar.dxf", BAR, [])
    made = new(file, tmp_path)
    before = made.path.read_bytes()
    with pytest.raises(UsageError, match="of this name already"):
        new(file, tmp_path)
    assert made.path.read_bytes() == before
    other = tmp_path / "other"
    other.mkdir()
    (other / "bar.dxf").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="another file of this name"):
        new(file, other)
    assert sorted(path.name for path in other.iterdir()) == ["bar.dxf"]
    assert (other / "bar.dxf").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", ["", "a/b", "-x", "ä"])
def test_a_name_that_will_not_do(tmp_path: Path, name: str) -> None:
    """A name that cannot go into file names is refused."""
    with pytest.raises(UsageError) as caught:
        new(draw(tmp_path / "bar.dxf", BAR, []), tmp_path, name=name)
    assert caught.value.where == "NAME"


def test_an_unknown_stock_is_named(tmp_path: Path) -> None:
    """A stack that is not in the tables is refused with those that are."""
    with pytest.raises(UsageError, match="no stack") as caught:
        new(draw(tmp_path / "bar.dxf", BAR, []), tmp_path, stock="granite")
    assert "paper-six" in caught.value.remedy
