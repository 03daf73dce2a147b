"""Options about a file with an outline."""

import math
from pathlib import Path

import pytest

from scalegen.errors import ScalegenError, UsageError
from scalegen.outline.placing import placed
from scalegen.outline_options import Said, look_at

BAR = "x_mm,y_mm\n0,0\n100,0\n100,20\n0,20\n"


@pytest.fixture
def bar(tmp_path: Path) -> Path:
    """A table of four corners."""
    path = tmp_path / "bar.csv"
    path.write_text(f"# straight\n{BAR}", encoding="utf-8")
    return path


REFUSED = [
    (Said(units="ell"), "--units", "use one of: mm, cm, m, in, px"),
    (Said(contour=0), "--contour", "number 1"),
    (Said(rotate="askew"), "--rotate", "level"),
    (Said(front="butt"), "--front", "left, right, top, bottom"),
    (Said(zero="centre"), "--zero", "drawing, front"),
    (Said(points="curved"), "--points", "smooth, straight"),
    (Said(tolerance="0"), "--tolerance", "0.001 mm"),
    (Said(tolerance="1in"), "--tolerance", "0.1 mm at most"),
    (Said(dpi=3), "--dpi", "300 or 600"),
    (Said(dpi=300, card=True), "--card", "keep only one"),
    (Said(marks="1,2,3,4"), "--marks", "150mm"),
    (Said(marks="1,2,3,x,150mm"), "--marks", "150mm"),
    (Said(marks="1,2,3,4,-5mm"), "--marks", "above 0"),
    (Said(tone="grey"), "--tone", "dark, light, auto"),
]


@pytest.mark.parametrize(("said", "option", "remedy"), REFUSED)
def test_senseless_options_are_named(bar: Path, said: Said, option: str, remedy: str) -> None:
    """An option that makes no sense must be named, with what to give instead."""
    with pytest.raises(UsageError) as caught:
        look_at(bar, said)
    assert caught.value.where == option
    assert remedy in str(caught.value)


def test_what_is_said_comes_into_the_source(bar: Path) -> None:
    """Every option must be kept in the source, so that a pattern can repeat it."""
    said = Said(units="in", contour=1, rotate="12.5", front="Top", flip=True, zero="front", points="straight")
    source, _ = look_at(bar, said)
    assert (source.units, source.contour, source.hints.smooth) == ("in", 1, False)
    assert source.placing.rotate_rad == pytest.approx(math.radians(12.5))
    assert (source.placing.front, source.placing.flip, source.placing.zero) == ("top", True, "front")


def test_marks_are_two_places_and_a_length(bar: Path) -> None:
    """Marks must be taken with any separator, the distance with its own unit (1 in = 25.4 mm)."""
    source, _ = look_at(bar, Said(marks="120, 340; 1890 352 = 6in"))
    marks = source.hints.scan.marks
    assert marks is not None
    assert (marks.first_px, marks.second_px, marks.distance_mm) == ((120, 340), (1890, 352), 152.4)


def test_level_is_a_number_that_can_be_repeated(tmp_path: Path) -> None:
    """A bar askew is laid level, by a turn rounded to a thousandth of a degree."""
    turn = math.radians(-33)
    corners = [(0, 0), (100, 0), (100, 20), (0, 20)]
    rows = [
        (x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)) for x, y in corners
    ]
    path = tmp_path / "askew.csv"
    path.write_text("# straight\nx_mm,y_mm\n" + "".join(f"{x},{y}\n" for x, y in rows), encoding="utf-8")
    source, found = look_at(path, Said(rotate="level"))
    assert math.degrees(source.placing.rotate_rad) == pytest.approx(33, abs=1e-9)
    x0, y0, x1, y1 = placed(found, source.placing).contours[0].bounds_mm
    assert (x1 - x0, y1 - y0) == pytest.approx((100, 20), abs=0.01)


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    """A file that no reader is for is refused with the endings that there are readers for."""
    path = tmp_path / "a.doc"
    path.write_text("x", encoding="utf-8")
    with pytest.raises(ScalegenError, match=r"\.dxf, \.svg"):
        look_at(path, Said())
