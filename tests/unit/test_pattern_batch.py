"""The batch reader."""

import math
from pathlib import Path

import pytest

from scalegen.errors import PatternError
from scalegen.model import JobSpec, Pad
from scalegen.pattern.batch import is_batch, read_batch

FULL = """
units = "in"
[job]
patterns = ["a.toml", "sub/b.toml"]
pairs = 4
spares = 1
stock = "linen-quarter"
measured = [0.27, "6.9 mm"]
sheets_measured = ["0.81 mm", 0.235]
out = "cut"
name = "tuesday"
accept = { part-not-free = "the web is sawn", pad-touched = "a spare pad is there" }
[sheet]
size = [12, "150 mm"]
margin = 0.1
spacing = 0.2
cutter = "flat 1/4in"
origin = "upper-right"
turns = [0, 90, 180]
pairing = "mirrored"
effort = "thorough"
seed = 7
left_over = [100, 40]
tabs = 3
[pad]
corner = "lower-right"
size = [1, 0.5]
[files]
units = "in"
step = "AP242"
stl_tolerance = "0.01 mm"
formats = ["step", "dxf"]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with two (empty) patterns in it."""
    (tmp_path / "sub").mkdir()
    (tmp_path / "a.toml").touch()
    (tmp_path / "sub" / "b.toml").touch()
    return tmp_path


def written(folder: Path, text: str) -> Path:
    """A batch file with this text."""
    path = folder / "batch.toml"
    path.write_text(text)
    return path


def faults_of(path: Path) -> dict[str, str]:
    """Field path to the whole fault as text."""
    with pytest.raises(PatternError) as caught:
        read_batch(path)
    return {fault.field: str(fault) for fault in caught.value.faults}


def test_every_field_arrives_in_mm(folder: Path) -> None:
    """A batch file with all fields must come out converted, its paths beside it."""
    patterns, job = read_batch(written(folder, FULL))
    assert patterns == (folder / "a.toml", folder / "sub" / "b.toml")
    assert job.measured_mm == pytest.approx((6.858, 6.9))
    assert job.sheets_measured_mm == pytest.approx((0.81, 5.969))
    assert job.sheet_mm == pytest.approx((304.8, 150.0))
    assert (job.margin_mm, job.spacing_mm) == pytest.approx((2.54, 5.08))
    assert (job.pad.width_mm, job.pad.height_mm, job.pad.corner) == pytest.approx((25.4, 12.7, "lower-right"))
    assert (job.pairs, job.spares, job.stock, job.job) == (4, 1, "linen-quarter", "tuesday")
    assert job.accept == (("part-not-free", "the web is sawn"), ("pad-touched", "a spare pad is there"))
    assert (job.out, job.cutter, job.origin) == (folder / "cut", "flat 1/4in", "upper-right")
    assert (job.file_units, job.step_schema, job.stl_tolerance_mm) == ("in", "AP242", 0.01)
    assert job.formats == ("step", "dxf")
    assert job.turns_rad == pytest.approx((0.0, math.pi / 2, math.pi))
    assert (job.pairing, job.effort, job.seed, job.fill) == ("mirrored", "thorough", 7, False)
    assert job.left_over_mm == pytest.approx((2540, 1016))
    assert job.tabs == 3


def test_pairs_may_be_as_many_as_go_and_turns_a_word(folder: Path) -> None:
    """The word "max" fills one sheet instead of counting, and a word stands for a list of turns."""
    text = 'units = "mm"\n[job]\npatterns = ["a.toml"]\npairs = "max"\n[sheet]\nturns = "quarter"\n'
    job = read_batch(written(folder, text))[1]
    assert job.fill
    assert job.turns_rad == pytest.approx([0.0, math.pi / 2, math.pi, 1.5 * math.pi])


@pytest.mark.parametrize(
    ("line", "field", "words"),
    [
        ('[job]\npairs = "most"', "job.pairs", '"max" for as many as one sheet takes'),
        ("[sheet]\nturns = 90", "sheet.turns", "a list of turns in degrees"),
        ("[sheet]\nturns = [0, 400]", "sheet.turns[2]", "400"),
        (f"[sheet]\nturns = {list(range(73))}", "sheet.turns", "give 72 at most"),
        ('[sheet]\npairing = "apart"', "sheet.pairing", '"adjacent"'),
        ('[sheet]\neffort = "hard"', "sheet.effort", '"thorough"'),
        ("[sheet]\nseed = -1", "sheet.seed", "-1"),
    ],
)
def test_faults_of_the_arrangement_are_named(folder: Path, line: str, field: str, words: str) -> None:
    """A key that tells how to arrange is refused by its name, with what it takes."""
    job = '[job]\npatterns = ["a.toml"]\n'
    text = line.replace("[job]\n", job) if line.startswith("[job]") else job + line
    found = faults_of(written(folder, f'units = "mm"\n{text}\n'))
    assert list(found) == [field]
    assert words in found[field]


def test_what_is_left_out_is_as_in_the_job_record(folder: Path) -> None:
    """A batch file with patterns only must give the record's defaults; one reading may stand alone."""
    text = 'units = "mm"\n[job]\npatterns = ["a.toml"]\n'
    assert read_batch(written(folder, text))[1] == JobSpec()
    patterns, job = read_batch(written(folder, text + "measured = 6.9\n[pad]\ncorner = 'upper-left'\n"))
    assert len(patterns) == 1
    assert job.measured_mm == (6.9,)
    assert job.pad == Pad(corner="upper-left")


def test_all_faults_are_told_at_once(folder: Path) -> None:
    """Every fault of a batch file must be named with its field, counted from 1."""
    path = written(
        folder,
        """
        [job]
        patterns = ["a.toml", "c.toml", "a.dxf"]
        pairs = 0
        spares = 1.5
        measured = [6.9, -1, true]
        [sheet]
        size = [300]
        orgin = "lower-left"
        [pad]
        corner = "bottom"
        [files]
        formats = ["step", "stll"]
        step = "ap214"
        """,
    )
    found = faults_of(path)
    assert list(found) == [
        "job.patterns[2]",
        "job.patterns[3]",
        "job.pairs",
        "job.spares",
        "job.measured[2]",
        "job.measured[3]",
        "sheet.size",
        "sheet.orgin",
        "pad.corner",
        "files.formats[2]",
        "files.step",
        "units",
    ]
    assert 'did you mean "origin"?' in found["sheet.orgin"]
    assert 'did you mean "stl"?' in found["files.formats[2]"]
    assert 'did you mean "AP214"?' in found["files.step"]


def test_a_pattern_named_twice_is_a_fault(folder: Path) -> None:
    """The same pattern twice would write the same files twice, so it must be refused."""
    path = written(folder, 'units = "mm"\n[job]\npatterns = ["a.toml", "a.toml"]\n')
    assert "raise pairs" in faults_of(path)["job.patterns[2]"]


@pytest.mark.parametrize("name", ["./a.toml", "sub/../a.toml", "link.toml"])
def test_one_pattern_under_two_names_is_a_fault(folder: Path, name: str) -> None:
    """However a pattern is written, naming it a second time must be refused as the same file."""
    (folder / "link.toml").symlink_to(folder / "a.toml")
    path = written(folder, f'units = "mm"\n[job]\npatterns = ["a.toml", "sub/b.toml", "{name}"]\n')
    found = faults_of(path)
    assert list(found) == ["job.patterns[3]"]
    assert "entries 1 and 3" in found["job.patterns[3]"]
    assert "line 3" in found["job.patterns[3]"]


def test_empty_lists_are_faults(folder: Path) -> None:
    """A job without patterns, readings or formats must be refused where the list stands empty."""
    text = 'units = "mm"\n[job]\npatterns = []\nmeasured = []\n[files]\nformats = []\n'
    assert set(faults_of(written(folder, text))) == {"job.patterns", "job.measured", "files.formats"}


@pytest.mark.parametrize(
    ("text", "answer"),
    [("[job]\n", True), ("job = 3\n", False), ('name = "wren"\n', False), ("[job", False)],
)
def test_a_job_table_makes_a_batch_file(tmp_path: Path, text: str, answer: bool) -> None:
    """Only a readable file with a [job] table must count as a batch file."""
    assert is_batch(written(tmp_path, text)) is answer


def test_a_missing_file_is_no_batch_file(tmp_path: Path) -> None:
    """Asking about a file that is not there must be answered, not raised."""
    assert not is_batch(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("accept", "field"),
    [
        ("{ pin-edge-distance = 'because' }", "job.accept.pin-edge-distance"),
        ("{ pad-touched = ' ' }", "job.accept.pad-touched"),
        ("['pad-touched']", "job.accept"),
    ],
)
def test_a_stop_is_accepted_in_words_alone(folder: Path, accept: str, field: str) -> None:
    """Stops that cannot be accepted, and reasons that are none, are faults."""
    text = f'units = "mm"\n[job]\npatterns = ["a.toml"]\naccept = {accept}\n'
    assert list(faults_of(written(folder, text))) == [field]


def test_each_pattern_may_have_its_number(folder: Path) -> None:
    """Pairs, spares and tabs as a table by pattern, and whether the patterns share their sheets."""
    path = folder / "batch.toml"
    head = 'units = "mm"\n[job]\npatterns = ["a.toml", "sub/b.toml"]\n'
    path.write_text(
        head + "together = true\npairs = { a = 4, b = 2 }\nspares = { b = 1 }\n[sheet]\ntabs = { b = 3 }\n",
        encoding="utf-8",
    )
    _, job = read_batch(path)
    assert (job.together, job.pairs_each, job.spares_each) == (True, (("a", 4), ("b", 2)), (("b", 1),))
    assert (job.tabs, job.tabs_each) == (None, (("b", 3),))
    path.write_text(head + "pairs = 3\n", encoding="utf-8")
    assert (read_batch(path)[1].together, read_batch(path)[1].pairs_each) == (False, ())


@pytest.mark.parametrize(
    ("line", "field", "saying"),
    [
        ("pairs = { a = 0 }", "job.pairs.a", "out of range"),
        ("pairs = {}", "job.pairs", "no pattern"),
        ('pairs = { a = "4" }', "job.pairs.a", "not a whole number"),
        ('spares = "max"', "job.spares", "not a number"),
        ("[sheet]\ntabs = { a = 21 }", "sheet.tabs.a", "out of range"),
        ('[sheet]\ntabs = "some"', "sheet.tabs", "not a number of tabs"),
        ('together = "yes"', "job.together", "true or false"),
    ],
)
def test_numbers_by_pattern_are_looked_at(folder: Path, line: str, field: str, saying: str) -> None:
    """Each fault names the pattern it is about."""
    path = folder / "batch.toml"
    path.write_text(f'units = "mm"\n[job]\npatterns = ["a.toml"]\n{line}\n', encoding="utf-8")
    with pytest.raises(PatternError) as caught:
        read_batch(path)
    (fault,) = caught.value.faults
    assert fault.field == field
    assert saying in str(fault)
