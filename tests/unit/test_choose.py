"""Choosing the outer contour: borders left aside, doubt asked about, numbers obeyed."""

from pathlib import Path

import numpy as np
import pytest
from ezdxf import filemanagement

from scalegen.errors import PatternError
from scalegen.model import OutlineSource
from scalegen.outline.choose import choose, contours_of
from scalegen.outline.read import read_outline, survey
from scalegen.outline.ring import Ring


def box(x: float, y: float, long: float, wide: float) -> Ring:
    """A rectangle."""
    return Ring.from_rows([(x, y), (x + long, y), (x + long, y + wide), (x, y + wide)])


def tang(x: float = 0, y: float = 0, long: float = 100, wide: float = 25) -> Ring:
    """Straight sides and half circles at both ends, ``long`` between the centres."""
    return Ring.from_rows([(x, y, 0), (x + long, y, 1), (x + long, y + wide, 0), (x, y + wide, 1)])


def circle(x: float, y: float, d: float = 4) -> Ring:
    """A full circle."""
    return Ring.from_rows([(x - d / 2, y, 1), (x + d / 2, y, 1)])


def test_contours_are_numbered_by_area_and_know_what_they_lie_in() -> None:
    """The largest must be number 1, and each must name the smallest contour around it."""
    contours = contours_of([circle(20, 10), box(-50, -50, 297, 210), tang(), circle(300, 0, 5)])
    assert [c.number for c in contours] == [1, 2, 3, 4]
    assert [c.inside_of for c in contours] == [None, 1, None, 2]
    assert [c.rectangle for c in contours] == [True, False, False, False]
    assert contours[3].circle == pytest.approx((20, 10, 4))


@pytest.mark.parametrize(
    ("frame", "wanted"),
    [
        (box(-50, -50, 297, 210), 2),  # ISO 216 A4
        (box(-60, -60, 279.4, 215.9), 2),  # ANSI A
        (box(-20, -60, 140, 130), 2),  # wider than any tang, mostly filled
    ],
)
def test_a_page_border_is_not_the_tang(frame: Ring, wanted: int) -> None:
    """A rectangle the size of a sheet, or too wide for a tang, must be passed over for the shape in it."""
    choice = choose(contours_of([frame, tang()]))
    assert choice.number == wanted
    assert choice.borders == (1,)
    assert "page border" in choice.note


def test_two_borders_in_each_other_are_both_passed_over() -> None:
    """A sheet and a frame drawn within it must both be left aside."""
    choice = choose(contours_of([box(-50, -50, 297, 210), box(-45, -45, 287, 200), tang(), circle(20, 10)]))
    assert choice.number == 3
    assert choice.borders == (1, 2)


def test_two_tangs_on_one_sheet_are_asked_about() -> None:
    """Two shapes of similar size beside each other must not be decided by size."""
    choice = choose(contours_of([box(-50, -50, 297, 210), tang(), tang(0, 50, 90, 22)]))
    assert choice.number is None
    assert choice.choices == (2, 3)


def test_an_offset_inside_the_outline_is_asked_about() -> None:
    """A contour that fills most of another could be meant as well."""
    choice = choose(contours_of([tang(), tang(0, 1, 100, 23)]))
    assert choice.number is None
    assert choice.choices == (1, 2)


def test_a_rectangular_tang_with_slots_stays_the_outline() -> None:
    """Holes and slots in a plain rectangle must not make it a border."""
    choice = choose(contours_of([box(0, 0, 110, 25), circle(20, 12), tang(40, 10, 30, 6)]))
    assert choice.number == 1


@pytest.fixture
def two(tmp_path: Path) -> OutlineSource:
    """A drawing of two tangs with a hole each, an open line and a gap of 0.02 mm in the smaller one."""
    doc = filemanagement.new("R2000", units=4)
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (100, 0, 0.2), (100, 25), (0, 25)], format="xyb", close=True)
    space.add_circle((20, 12), 2)
    space.add_lwpolyline([(0, 50), (90, 50), (90, 72), (0, 72), (0, 50.02)])
    space.add_circle((20, 60), 3)
    space.add_line((200, 0), (210, 0))
    doc.saveas(tmp_path / "two.dxf")
    return OutlineSource(path=tmp_path / "two.dxf")


def test_a_number_settles_what_was_asked(two: OutlineSource) -> None:
    """Without a number both must be listed; with one, that contour and the holes in it must come."""
    with pytest.raises(PatternError, match=r"1: 4 segments.* and 2: 4 segments") as caught:
        read_outline(two)
    assert "--contour" in caught.value.remedy
    outline = read_outline(two, contour=2)
    assert outline.ring.area_mm2 == pytest.approx(90 * 22, abs=1)
    assert outline.holes == ((20.0, 60.0, 6.0),)
    assert len(read_outline(two, contour=1).holes) == 1


@pytest.mark.parametrize("number", [0, -1, 5])
def test_a_number_that_is_not_there_is_refused(two: OutlineSource, number: int) -> None:
    """The refusal must list what can be chosen."""
    with pytest.raises(PatternError, match=f"no contour {number}; 1: ") as caught:
        read_outline(two, contour=number)
    assert caught.value.exit_code == 3


def test_a_survey_tells_everything_without_choosing(two: OutlineSource) -> None:
    """Contours, gaps, open ends and the reason must be there as data when nothing can be chosen."""
    found = survey(two)
    assert found.chosen is None
    assert found.choices == (1, 2)
    assert "more than one contour" in found.reason
    assert [c.inside_of for c in found.contours] == [None, None, 2, 1]
    (gap,) = found.gaps
    assert gap.size_mm == pytest.approx(0.02)
    assert sorted(found.open_ends) == [(200, 0), (210, 0)]
    assert survey(two, contour=1).holes == (pytest.approx((20, 12, 4)),)


def test_a_survey_of_a_crossing_outline_names_the_places(tmp_path: Path) -> None:
    """The places must be data, the outline refused even when chosen by number."""
    doc = filemanagement.new("R2000", units=4)
    doc.modelspace().add_lwpolyline([(0, 0), (100, 20), (100, 0), (0, 21)], close=True)
    doc.saveas(tmp_path / "x.dxf")
    for number in (None, 1):
        found = survey(OutlineSource(path=tmp_path / "x.dxf"), contour=number)
        assert found.chosen is None
        x = 21 / (0.2 + 0.21)  # where y = 0.2 x meets y = 21 - 0.21 x
        assert np.array(found.crossings) == pytest.approx(np.array([[x, 0.2 * x]]))
