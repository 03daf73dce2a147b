"""Files of readings of a blank."""

from pathlib import Path

import pytest

from scalegen.errors import PatternError
from scalegen.model import Units
from scalegen.shop.readings import MOST_READINGS, Reading, read_readings

IN = 25.4  # mm, NBS Circular 572


def read(folder: Path, text: str | bytes, units: Units = "mm") -> tuple[Reading, ...]:
    """Readings from a file's text."""
    path = folder / "blank.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_readings(path, units)


def numbers(readings: tuple[Reading, ...]) -> list[tuple[float | None, float | None, float]]:
    """x, y and thickness of each, without the lines."""
    return [(each.x_mm, each.y_mm, each.thickness_mm) for each in readings]


@pytest.mark.parametrize(
    "text",
    [
        "x_mm,y_mm,thickness_mm\n10,20.5,7.42\n200,40,7.5\n",
        "thickness_mm,y_mm,x_mm\n7.42,20.5,10\n7.5,40,200\n",
        "X (mm);Y (mm);Thickness (mm)\n10;20,5;7,42\n200;40;7,5\n",
        "x\ty\treading\tnote\r\n10\t20,5\t7,42\tcorner\r\n200\t40\t7,5\r\n",
        "x y t\n10 20,5 7,42\n200 40 7,5\n",
        "10, 20.5, 7.42\n\n200, 40, 7.5   # far end\n",
        "# a maker's remark\n10;20,5;7,42\n;;\n// another\n200;40;7,5;\n",
        "10 20.5 7.42 mm\n200 40 7.5\n",
        '"10","20,5","7,42"\n"200","40","7,5"\n',
        "no #,x,y,reading\n1,10,20.5,7.42\n2,200,40,7.5\n",
        "\ufeff% units: mm\rx,y,t\r10,20.5,7.42\r200,40,7.5",
    ],
)
def test_the_same_readings_however_they_are_written(tmp_path: Path, text: str) -> None:
    """Separators, decimal commas, headers, order of columns, remarks and line ends make no difference."""
    assert numbers(read(tmp_path, text)) == [(10, 20.5, 7.42), (200, 40, 7.5)]


def test_readings_without_places(tmp_path: Path) -> None:
    """One value in a row is a thickness, and x and y are left open, line by line."""
    assert read(tmp_path, "# calliper\n7.42\n\n7.5\n") == (
        Reading(thickness_mm=7.42, line=2),
        Reading(thickness_mm=7.5, line=4),
    )


@pytest.mark.parametrize("text", ["thickness\n7,42\n", "x_mm,y_mm,t_mm\n,,7.42\n", "7.42;;\n"])
def test_a_reading_may_lack_its_place(tmp_path: Path, text: str) -> None:
    """A lone column may have decimal commas, and a row may leave x and y empty together."""
    assert numbers(read(tmp_path, text)) == [(None, None, 7.42)]


@pytest.mark.parametrize(
    ("text", "units", "expected"),
    [
        ("0.25\n", "in", (None, None, 0.25 * IN)),
        ("0.25\n", "mm", (None, None, 0.25)),
        ("# units: in\n0.25\n", "mm", (None, None, 0.25 * IN)),
        ("# units = mm\n0.25\n", "in", (None, None, 0.25)),
        ("x_in,y_in,thickness_mm\n2,1,7.4\n", "mm", (2 * IN, IN, 7.4)),
        ("# units: in\nx_mm,y_mm,t\n2,1,0.25\n", "mm", (2, 1, 0.25 * IN)),
        ('2in;1in;1/4"\n', "mm", (2 * IN, IN, 0.25 * IN)),
    ],
)
def test_units(
    tmp_path: Path, text: str, units: Units, expected: tuple[float | None, float | None, float]
) -> None:
    """A unit is the value's own, else its column's, else the remark's, else the pattern's."""
    assert numbers(read(tmp_path, text, units)) == [pytest.approx(expected)]


def test_utf16_is_read(tmp_path: Path) -> None:
    """Spreadsheets also write UTF-16."""
    assert numbers(read(tmp_path, "x\ty\tt\n1\t2\t7,4\n".encode("utf-16"))) == [(1, 2, 7.4)]


def test_every_fault_is_named_by_its_line(tmp_path: Path) -> None:
    """All faulty rows come in one refusal, each with its line, its field and what is there."""
    text = "x,y,t\n10,10,7.4\n10,1o,7.4\n10,10\n10,10,-7.4\n10,10,0\n10,10,nan\n10,10,inf\n"
    text += "1,2,7,4\nnan,1,7\n,5,7\n"
    with pytest.raises(PatternError) as caught:
        read(tmp_path, text)
    faults = caught.value.faults
    assert [(fault.line, fault.field) for fault in faults] == [
        (3, "y"),
        (4, "thickness"),
        (5, "thickness"),
        (6, "thickness"),
        (7, "thickness"),
        (8, "thickness"),
        (9, ""),
        (10, "x"),
        (11, "x"),
    ]
    shown = str(caught.value)
    assert "blank.csv, line 3" in shown
    assert 'y: "1o"' in shown
    assert "must be above 0 mm" in shown


def test_many_faults_are_cut_short_and_counted(tmp_path: Path) -> None:
    """Thirty faulty rows: the count is told, twenty are shown."""
    with pytest.raises(PatternError, match=r"30 things are wrong .* the first 20") as caught:
        read(tmp_path, "7.4\n" + "1x\n" * 30)
    assert len(caught.value.faults) == 20


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no readings in it"),
        ("# only a remark\n\n;;\n", "no readings in it"),
        ("x,y,t\n", "no reading below it"),
        ("7,42\n7,38\n", "decimals take a point"),
        ("6.85,6.9,6.87\n6.8,6.9,6.9\n", "three readings each"),
        ("x_cm,y_cm,t\n1,2,7\n", '"x_cm" has a unit that is not known'),
        ("x,t\n1,7\n", "a column for x but none for y"),
        ("x,y\n1,7\n", "no column of readings"),
        ("t,reading\n7,7\n", "two columns for thickness"),
        ("Blank twelve\n7.4\n", 'put "#" before lines that are remarks'),
        ("# units: cm\n0.7\n", '"cm" is not a unit'),
        ("# units: mm\n# units: in\n7\n", "in here and mm further up"),
        ("7.4\n" + "7" * 2000 + "\n", "2,000 characters long"),
        ("nan\n7.4\n", '"nan" is not a length'),
        (b"PK\x03\x04\x00\x00", "not a text file"),
        (b"7" * 4_000_001, "too large"),
        ("7.4\n" * (MOST_READINGS + 1), "more than 10,000"),
    ],
)
def test_refused(tmp_path: Path, text: str | bytes, words: str) -> None:
    """What can't be read, or could be read in two ways, is refused with the reason."""
    with pytest.raises(PatternError) as caught:
        read(tmp_path, text)
    assert words in str(caught.value)


def test_as_many_as_are_allowed(tmp_path: Path) -> None:
    """The largest number of readings is still read."""
    assert len(read(tmp_path, "7.4\n" * MOST_READINGS)) == MOST_READINGS


def test_places_near_the_corner_are_not_taken_for_readings(tmp_path: Path) -> None:
    """One place away from the thickness shows that rows hold places, and a header always does."""
    assert len(read(tmp_path, "7,7,7.4\n100,7,7.4\n")) == 2
    assert numbers(read(tmp_path, "x,y,t\n7,7,7.4\n")) == [(7, 7, 7.4)]


def test_a_missing_file_is_refused_with_the_one_meant(tmp_path: Path) -> None:
    """A slip in the name points to the file beside it; a folder is no file."""
    read(tmp_path, "7.4\n")
    with pytest.raises(PatternError, match=r"did you mean .*blank\.csv"):
        read_readings(tmp_path / "blnak.csv", "mm")
    with pytest.raises(PatternError, match="not an ordinary file"):
        read_readings(tmp_path, "mm")
    with pytest.raises(PatternError, match=r"folder .* is not there"):
        read_readings(tmp_path / "none" / "blank.csv", "mm")
