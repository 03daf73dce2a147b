"""Tables of measured points."""

import math
from pathlib import Path

import numpy as np
import pytest

from scalegen.errors import PatternError
from scalegen.model import Units
from scalegen.outline.drawing import Drawing
from scalegen.outline.read import outline_from_drawing
from scalegen.outline.read_points import read_drawing
from scalegen.outline.read_points_order import first_crossing
from scalegen.outline.read_points_spline import corners_of
from scalegen.sources import Hints

SQUARE = [(0, 0), (40, 0), (40, 20), (0, 20)]


def read(folder: Path, text: str | bytes, units: Units | None = None, smooth: bool | None = None) -> Drawing:
    """A drawing from the text of a table."""
    path = folder / "a.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_drawing(path, units=units, where="a.csv", hints=Hints(smooth=smooth))


def area(drawing: Drawing) -> float:
    """Area of the outline."""
    return outline_from_drawing(drawing, where="a").ring.area_mm2


@pytest.mark.parametrize(
    "text",
    [
        "x_mm,y_mm\n0,0\n40,0\n40,20\n0,20\n",
        "x (mm);y (mm)\n0;0\n40,0;0\n40,0;20,0\n0;20\n",
        "Y [mm]\tX [mm]\tnote\n0\t0\ta\n0\t40\tb\n20\t40\n20\t0\td\n",
        "# units: mm\n0 0\n40 0\n40 20\n\n0 20\n",
        "# units = mm\n0,0 0,0\n40,0 0,0\n40,0 20,0\n0,0 20,0\n",
        '"x_cm","y_cm"\r\n"0","0"\r\n"4","0"\r\n"4","2"\r\n"0","2"\r\n"0","0"\r\n',
        "x_mm,y_mm\n0,20\n0,20\n40,20\n40,0\n0,0\n0,20\n",
        "\ufeffx,y\n% unit: mm\n0,0\n4e1,0\n+40,20\n0,20.0\n",
    ],
)
def test_the_same_rectangle_however_it_is_written(tmp_path: Path, text: str) -> None:
    """Separators, decimal commas, headers, order of columns, direction and repeats make no difference."""
    assert area(read(tmp_path, text)) == pytest.approx(800)


def test_utf16_is_read(tmp_path: Path) -> None:
    """Spreadsheets also write UTF-16."""
    assert area(read(tmp_path, "x_mm\ty_mm\n0\t0\n40\t0\n0\t20\n".encode("utf-16"))) == pytest.approx(400)


def test_inches(tmp_path: Path) -> None:
    """Columns in inches are 25.4 mm to the unit."""
    assert area(read(tmp_path, "x_in,y_in\n0,0\n2,0\n2,1\n0,1\n")) == pytest.approx(2 * 25.4**2)


def test_stated_unit_goes_first_and_is_noted(tmp_path: Path) -> None:
    """A stated unit wins over the header, with a note."""
    drawing = read(tmp_path, "x_in,y_in\n0,0\n2,0\n2,1\n0,1\n", units="mm")
    assert area(drawing) == pytest.approx(2)
    assert "inches" in drawing.notes[0]


def test_without_a_unit_it_asks(tmp_path: Path) -> None:
    """No unit anywhere: refused, with the setting and how long it would be either way."""
    with pytest.raises(
        PatternError,
        match=r"--units mm or --units in(.|\n)*outline_units(.|\n)*40 mm long, as inches 1016 mm",
    ):
        read(tmp_path, "x,y\n0,0\n40,0\n40,20\n")


def test_bad_rows_are_named_by_line(tmp_path: Path) -> None:
    """Every faulty row is in the one refusal, with its line and what is there."""
    with pytest.raises(PatternError) as caught:
        read(tmp_path, "x_mm,y_mm\n0,0\n4o,0\n40\n40,nan\n0,20\n")
    assert [fault.line for fault in caught.value.faults] == [3, 4, 5]
    assert "'4o'" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "0 different points"),
        ("x_mm,y_mm\n1,1\n1,1\n2,2\n", "2 different points"),
        ("x_mm,y_in\n0,0\n1,0\n1,1\n", "two units, in and mm"),
        ("# units: mm\n0,0,5\n1,0,5\n1,1,5\n", "no header"),
        (b"PK\x03\x04\x00\x00\x00", "not a text table"),
    ],
)
def test_refused(tmp_path: Path, text: str | bytes, words: str) -> None:
    """Too few points, contradicting units, columns without a name and other kinds of files are refused."""
    with pytest.raises(PatternError, match=words):
        read(tmp_path, text)


def table(points: list[tuple[float, float]], first: str = "") -> str:
    """The text of a table in mm."""
    return first + "x_mm,y_mm\n" + "".join(f"{x:.9f},{y:.9f}\n" for x, y in points)


def circle(count: int, radius: float = 10) -> list[tuple[float, float]]:
    """Points on a circle."""
    angles = [2 * math.pi * k / count for k in range(count)]
    return [(radius * math.cos(a), radius * math.sin(a)) for a in angles]


def test_smooth_circle(tmp_path: Path) -> None:
    """A periodic cubic spline through 24 points of a circle keeps its area (pi r^2) to 1 part in 10,000."""
    assert area(read(tmp_path, table(circle(24)))) == pytest.approx(math.pi * 100, rel=1e-4)


def test_smooth_ellipse(tmp_path: Path) -> None:
    """Through 60 points of an ellipse the area is pi a b to 1 part in 10,000."""
    angles = [2 * math.pi * k / 60 for k in range(60)]
    points = [(55 * math.cos(a), 12 * math.sin(a)) for a in angles]
    assert area(read(tmp_path, table(points))) == pytest.approx(math.pi * 55 * 12, rel=1e-4)


@pytest.mark.parametrize(("first", "more"), [("# straight\n", {}), ("", {"smooth": False})])
def test_straight_on_request(tmp_path: Path, first: str, more: dict[str, bool]) -> None:
    """Asked for in the table or by the caller, points are joined by straight lines."""
    found = area(read(tmp_path, table(circle(24), first), **more))
    assert found == pytest.approx(12 * 100 * math.sin(2 * math.pi / 24))


def test_half_disc_keeps_its_corners(tmp_path: Path) -> None:
    """A curve with two corners is smooth between them: half a disc, everywhere as near as stated.

    The arcs may be 0.005 mm off the spline. The spline's slope at its ends comes from a cubic through four
    points a = pi / 16 apart, which is a^3 / 4 off (remainder of interpolation, closed form); over the first
    chord that moves the curve by 4 / 27 of chord times slope, 0.00055 mm.
    """
    points = [(10 * math.cos(math.pi * k / 16), 10 * math.sin(math.pi * k / 16)) for k in range(17)]
    drawing = read(tmp_path, table(points))
    ring = outline_from_drawing(drawing, where="a").ring
    around = ring.flatten(1e-4)
    round_side = around[around[:, 1] > 1e-6]
    allowed = 0.005 + 10 * (math.pi / 16) * (math.pi / 16) ** 3 / 4 * 4 / 27
    assert np.abs(np.hypot(*round_side.T) - 10).max() < 1.02 * allowed
    assert abs(ring.area_mm2 - 50 * math.pi) < allowed * 10 * math.pi
    for corner in ((10, 0), (-10, 0)):
        assert np.hypot(*(drawing.pieces[0].rows[:, :2] - corner).T).min() < 1e-9


def sides(count: int = 20) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Points along the spine and along the belly of an oval 110 x 26 mm, each from front to butt."""
    angles = [math.pi * (k + 0.5) / count for k in range(count)]
    spine = [(55 - 55 * math.cos(a), 13 * math.sin(a)) for a in angles]
    return spine, [(x, -y) for x, y in spine]


@pytest.mark.parametrize("smooth", [False, True])
def test_spine_and_belly_both_from_front_to_butt(tmp_path: Path, smooth: bool) -> None:
    """Both sides measured from front to butt give the outline that going round gives, and it is said."""
    spine, belly = sides()
    drawing = read(tmp_path, table([*spine, *belly]), smooth=smooth)
    assert area(drawing) == pytest.approx(area(read(tmp_path, table([*spine, *belly[::-1]]), smooth=smooth)))
    assert any("points 21 to 40 in the opposite order" in note for note in drawing.notes)


def test_sides_that_share_their_ends(tmp_path: Path) -> None:
    """Front and butt may stand in both runs."""
    spine, belly = sides()
    front, butt = (0.0, 0.0), (110.0, 0.0)
    text = table([front, *spine, butt, front, *belly, butt])
    round_text = table([front, *spine, butt, *belly[::-1]])
    assert area(read(tmp_path, text)) == pytest.approx(area(read(tmp_path, round_text)))


def test_going_round_is_left_as_it_is(tmp_path: Path) -> None:
    """An outline that does not cross itself is never put into another order."""
    spine, belly = sides()
    for points in ([*spine, *belly[::-1]], [*belly, *spine[::-1]]):
        assert not any("order" in note for note in read(tmp_path, table(points)).notes)


def test_no_order_is_refused_with_a_place(tmp_path: Path) -> None:
    """Points in no order: the first crossing, worked out by hand, and what to do."""
    # The diagonals of a square cross in its middle; two spikes keep any turning from helping.
    points = [(0, 0), (40, 40), (40, 0), (0, 40), (20, 5), (35, 39), (5, 39)]
    with pytest.raises(
        PatternError, match=r"point 1 to 2 meets .* 3 to 4 at \(20.000, 20.000\)(.|\n)*round the outline"
    ):
        read(tmp_path, table([(float(x), float(y)) for x, y in points]))


def test_a_line_back_on_itself_is_a_crossing() -> None:
    """A spike without width is found although only neighbours meet in it."""
    points = np.array([(0, 0), (10, 0), (10, 5), (10, 2), (0, 5)], dtype=float)
    found = first_crossing(points)
    assert found is not None
    assert (found.first, found.second) == (2, 3)


def test_so_many_points_that_none_can_tell(tmp_path: Path) -> None:
    """A hatch of long lines beside each other is refused after a fixed amount of looking."""
    points = [(0.001 * k + 90 * (k % 2), 0.001 * k + 50 * (k % 2)) for k in range(2200)]
    with pytest.raises(PatternError, match="cannot be put in order"):
        read(tmp_path, table([*points, (200.0, -5.0)], "# straight\n"))


def test_few_arcs_through_forty_points(tmp_path: Path) -> None:
    """A smooth curve through 40 points of a 110 mm oval needs at most 60 segments, within what is stated."""
    spine, belly = sides()
    drawing = read(tmp_path, table([*spine, *belly[::-1]]))
    assert len(drawing.pieces[0].rows) <= 60
    assert "reached 0.00" in drawing.notes[0]


def test_endless_faults_and_rows_are_bounded(tmp_path: Path) -> None:
    """A table of faults stops at a thousand; a row without end and too many lines are said to be that."""
    with pytest.raises(PatternError, match="1000 faulty rows or more"):
        read(tmp_path, "x_mm,y_mm\n" + "a,b\n" * 2000)
    with pytest.raises(PatternError, match="more than 10000 characters"):
        read(tmp_path, "x_mm,y_mm\n" + "1," * 20_000)
    with pytest.raises(PatternError, match="more than 500000 lines"):
        read(tmp_path, "\n" * 1_000_001)


def test_corners_are_turns_that_stand_out() -> None:
    """Four square corners are corners; eight points on a circle, at 45 degrees each, are not."""
    assert corners_of(np.array(SQUARE, dtype=float)) == [0, 1, 2, 3]
    assert corners_of(np.array(circle(8))) == []


def test_many_points(tmp_path: Path) -> None:
    """More points than a spline is laid through are fitted as they are."""
    assert area(read(tmp_path, table(circle(1200)))) == pytest.approx(math.pi * 100, rel=2e-4)
