"""Options as people type them become a job, or are refused by their own name."""

import math
from pathlib import Path
from typing import Any

import pytest

from scalegen.cli_jobs import counted
from scalegen.errors import UsageError
from scalegen.model import JobSpec, KeepOut, Pad, Units
from scalegen.options import Typed, job_name, merged, readings
from scalegen.sheet_options import SheetTyped

IN = 25.4
BATCH = JobSpec(
    pairs=4,
    spares=2,
    stock="linen-quarter",
    measured_mm=(6.8,),
    sheet_mm=(200.0, 100.0),
    margin_mm=5.0,
    cutter="flat 3mm",
    spacing_mm=6.0,
    pad=Pad(corner="upper-right", width_mm=15.0, height_mm=10.0),
    origin="upper-left",
    out=Path("results"),
    job="monday",
    file_units="in",
    step_schema="AP242",
    stl_tolerance_mm=0.05,
    formats=("dxf",),
)


def one(option: str, text: str) -> Typed:
    """A single option, typed."""
    if option == "sheet":
        return Typed(on_sheet=SheetTyped(sheets=(text,)))
    options: dict[str, Any] = {option: text}
    return Typed(**options)


def test_nothing_typed_changes_nothing() -> None:
    """A batch file's job stays as it is."""
    assert merged(BATCH, Typed(), "mm") == BATCH


def test_everything_typed_takes_effect() -> None:
    """Every option lands in its own field."""
    typed = Typed(
        pairs="6",
        spares="1",
        stock="paper-six",
        measured="6.85,6.9",
        sheets_measured="0.81,5.97",
        on_sheet=SheetTyped(sheets=("300x150",), keep_out=("10,20,30x5",), grain="-30"),
        second_pad="upper-right",
        margin="4",
        spacing="5.5",
        cutter="flat 1/8in",
        pad="20x25",
        pad_corner="lower-right",
        origin="upper-right",
        out=Path("there"),
        name="job-2",
        units="mm",
        step="AP214",
        tolerance="0.01",
        formats="step, STL",
        turns="0, 90,180",
        pairing="Mirrored",
        effort="normal",
        seed="3",
        accept=("part-not-free=the web is sawn", 'pad-touched="a spare pad is there"'),
        left_over="100x40",
        tabs="4",
    )
    assert merged(BATCH, typed, "mm") == JobSpec(
        pairs=6,
        spares=1,
        stock="paper-six",
        measured_mm=(6.85, 6.9),
        sheets_measured_mm=(0.81, 5.97),
        sheet_mm=(300.0, 150.0),
        margin_mm=4.0,
        cutter="flat 1/8in",
        spacing_mm=5.5,
        keep_out=(KeepOut(rows=((10, 20, 0), (40, 20, 0), (40, 25, 0), (10, 25, 0))),),
        grain_rad=-math.pi / 6,
        pad=Pad(corner="lower-right", width_mm=20.0, height_mm=25.0, second="upper-right"),
        origin="upper-right",
        out=Path("there"),
        job="job-2",
        file_units="mm",
        step_schema="AP214",
        stl_tolerance_mm=0.01,
        formats=("step", "stl"),
        turns_rad=(0.0, math.pi / 2, math.pi),
        pairing="mirrored",
        effort="normal",
        seed=3,
        accept=(("part-not-free", "the web is sawn"), ("pad-touched", "a spare pad is there")),
        left_over_mm=(100.0, 40.0),
        tabs=4,
    )


@pytest.mark.parametrize(
    ("text", "units", "size"),
    [
        ("12in x 6in", "mm", (12 * IN, 6 * IN)),
        ("12x6in", "mm", (12 * IN, 6 * IN)),
        ("12x6", "in", (12 * IN, 6 * IN)),
        ("300mm x 150mm", "in", (300.0, 150.0)),
        ("300x150mm", "in", (300.0, 150.0)),
        ("300 X 150", "mm", (300.0, 150.0)),
        ("300×150", "mm", (300.0, 150.0)),
        ("11 7/8in x 6in", "mm", (11.875 * IN, 6 * IN)),
        ("30x6in", "mm", (30 * IN, 6 * IN)),
    ],
)
def test_sizes_with_units(text: str, units: Units, size: tuple[float, float]) -> None:
    """Bare numbers are in the pattern's units; a unit after the second length holds for both."""
    assert merged(JobSpec(), one("sheet", text), units).sheet_mm == pytest.approx(size)
    pad = merged(JobSpec(), Typed(pad=text), units).pad
    assert (pad.width_mm, pad.height_mm) == pytest.approx(size)


@pytest.mark.parametrize(
    ("text", "units", "expected"),
    [
        ("0.27in", "mm", (0.27 * IN,)),
        ("0.27", "in", (0.27 * IN,)),
        ("6.85,6.9", "mm", (6.85, 6.9)),
        ("6.85, 6.9 ,7", "mm", (6.85, 6.9, 7.0)),
        ("7; 7", "mm", (7.0, 7.0)),
        ("7, 8", "mm", (7.0, 8.0)),
        ("6.9;6.8", "mm", (6.9, 6.8)),
        ("1/4in", "mm", (6.35,)),
        ("1/4,9/32", "in", (6.35, 9 / 32 * IN)),
        ("6.9mm,0.27in", "in", (6.9, 0.27 * IN)),
    ],
)
def test_readings(text: str, units: Units, expected: tuple[float, ...]) -> None:
    """Readings come one or many, in any unit."""
    assert readings(text, units) == pytest.approx(expected)


@pytest.mark.parametrize("text", ["6,9", "3,5", "0,27", "6,85", "6,9 mm", "6,9,6,8", "6,9;6,8", "6,9in"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_decimal_commas_are_never_taken_for_two_readings(text: str, units: Units) -> None:
    """Where 6,9 means 6.9, cutting for a stack of 6 mm would be a costly guess."""
    with pytest.raises(UsageError) as caught:
        readings(text, units)
    assert caught.value.where == "--measured"
    assert "point" in caught.value.remedy


NONSENSE = ("3/0in", "nan", "inf", "-2", "1e400", "3,5", "", "x", "1/8", "5 cm", "−3", "0x10", "1e-400in5")


@pytest.mark.parametrize("text", NONSENSE)
@pytest.mark.parametrize("option", ["margin", "spacing", "measured", "tolerance"])
def test_nonsense_lengths_are_refused_by_name(option: str, text: str) -> None:
    """A length that can't be one is refused with the option's name and something to do."""
    with pytest.raises(UsageError) as caught:
        merged(JobSpec(), one(option, text), "mm")
    assert caught.value.where == f"--{option}"
    assert caught.value.exit_code == 2
    assert caught.value.remedy or ";" in caught.value.message


@pytest.mark.parametrize(
    "text",
    [
        "300",
        "300x",
        "x150",
        "300x150x6",
        "300 by 150",
        "0x150",
        "-300x150",
        "nanx5",
        "3/0inx2in",
        "",
        "1e400x5",
        "3,5x4",
    ],
)
@pytest.mark.parametrize("option", ["sheet", "pad"])
def test_nonsense_sizes_are_refused_by_name(option: str, text: str) -> None:
    """A size is two lengths above 0."""
    with pytest.raises(UsageError) as caught:
        merged(JobSpec(), one(option, text), "mm")
    assert caught.value.where == f"--{option}"


@pytest.mark.parametrize(("option", "least"), [("pairs", 1), ("spares", 0)])
def test_counts(option: str, least: int) -> None:
    """Whole numbers within limits are taken, all else is refused."""
    for good in (str(least), "1000", " 7 ", "+3"):
        assert getattr(merged(JobSpec(), one(option, good), "mm"), option) == int(good)
    for bad in (str(least - 1), "1001", "2.5", "two", "", "1e2", "99999999999999999999", "²"):
        with pytest.raises(UsageError, match=f"whole number from {least} to 1000") as caught:
            merged(JobSpec(), one(option, bad), "mm")
        assert caught.value.where == f"--{option}"


@pytest.mark.parametrize(
    ("option", "text", "hint"),
    [
        ("origin", "lowerleft", 'did you mean "lower-left"?'),
        ("pad_corner", "uper-right", 'did you mean "upper-right"?'),
        ("units", "inch", 'did you mean "in"?'),
        ("units", "cm", "use one of: mm, in"),
        ("step", "AP203", 'did you mean "AP2'),
        ("formats", "step,stp", 'did you mean "step"?'),
        ("formats", "step,", "use one of: step, stl, dxf"),
    ],
)
def test_unknown_words_are_refused_with_what_was_meant(option: str, text: str, hint: str) -> None:
    """A word that is not known names the option, the choices and the nearest one."""
    with pytest.raises(UsageError) as caught:
        merged(JobSpec(), one(option, text), "mm")
    assert caught.value.where == f"--{option.replace('_', '-')}"
    assert hint in caught.value.remedy
    assert "use one of: " in caught.value.remedy


@pytest.mark.parametrize(
    ("option", "text", "field", "value"),
    [
        ("origin", "Upper-Left", "origin", "upper-left"),
        ("origin", "upper left", "origin", "upper-left"),
        ("units", "IN", "file_units", "in"),
        ("step", "ap242", "step_schema", "AP242"),
        ("formats", "DXF,dxf", "formats", ("dxf",)),
    ],
)
def test_words_may_be_in_capitals(option: str, text: str, field: str, value: object) -> None:
    """Capitals are no reason to refuse."""
    assert getattr(merged(JobSpec(), one(option, text), "mm"), field) == value


def test_a_corner_alone_keeps_the_pad_size_and_the_other_way_round() -> None:
    """Size and corner of the pad are set apart."""
    assert merged(BATCH, Typed(pad_corner="lower-left"), "mm").pad == Pad(
        corner="lower-left", width_mm=15.0, height_mm=10.0
    )
    assert merged(BATCH, Typed(pad="9x8"), "mm").pad == Pad(corner="upper-right", width_mm=9.0, height_mm=8.0)


@pytest.mark.parametrize("text", ["0.0009", "1.001", "500", "0"])
def test_mesh_tolerances_are_kept_within_sense(text: str) -> None:
    """A mesh can't be endlessly fine, and one that is off by more than 1 mm is of no use."""
    with pytest.raises(UsageError, match=r"from 0\.001 mm to 1 mm"):
        merged(JobSpec(), Typed(tolerance=text), "mm")
    assert merged(JobSpec(), Typed(tolerance="0.001"), "in").stl_tolerance_mm == pytest.approx(0.0254)


@pytest.mark.parametrize("text", ["a", "job-2", "2024_knife.v2", "a" * 80])
def test_job_names_that_can_be_folders(text: str) -> None:
    """Plain names are kept as they are."""
    assert job_name(text) == text


@pytest.mark.parametrize(
    "text", ["", "my job", "a/b", "..", ".hidden", "-x", "a.", "a" * 81, "a\nb", "ü", "a\\b", "C:x"]
)
def test_job_names_that_cannot(text: str) -> None:
    """Names that would leave the folder, hide it, or trouble another system are refused."""
    with pytest.raises(UsageError, match="cannot name a job folder") as caught:
        job_name(text)
    assert caught.value.where == "--name"


def test_readings_of_sheets_are_refused_by_their_own_option() -> None:
    """A fault in what the sheets measured names that option, not the blank's."""
    with pytest.raises(UsageError) as caught:
        merged(BATCH, Typed(sheets_measured="0.8,thick"), "mm")
    assert caught.value.where == "--sheets-measured"


def test_pairs_may_be_a_word_and_a_number_takes_it_back() -> None:
    """As many as go stands in a job beside its number; a number typed later counts again."""
    full = merged(BATCH, Typed(pairs=" Max "), "mm")
    assert full.fill
    assert merged(full, Typed(spares="0"), "mm").fill
    counted = merged(full, Typed(pairs="5"), "mm")
    assert (counted.fill, counted.pairs) == (False, 5)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("grain", [0, 180]),
        ("Quarter", [0, 90, 180, 270]),
        ("free", [15 * k for k in range(24)]),
        ("180; 0;0", [0, 180]),
        ("-90, 12.5deg", [12.5, 270]),
    ],
)
def test_turns_are_a_word_or_degrees(text: str, degrees: list[float]) -> None:
    """Words stand for lists; degrees are kept once each, from 0 to below a full turn."""
    found = merged(JobSpec(), Typed(turns=text), "mm").turns_rad
    assert [math.degrees(turn) for turn in found] == pytest.approx(degrees)


@pytest.mark.parametrize(
    ("option", "text", "words"),
    [
        ("turns", "0,left", "is not a list of turns"),
        ("turns", "0,400", "from -360 to 360"),
        ("turns", "", "use one of: grain, quarter, free"),
        ("turns", ",".join(map(str, range(73))), "72 at most"),
        ("pairing", "apart", "use one of: adjacent, mirrored, free"),
        ("effort", "hard", "use one of: quick, normal, thorough"),
        ("seed", "-1", "from 0 to 2147483647"),
        ("seed", "1.5", "is not a whole number"),
        ("tabs", "21", "from 0 to 20"),
        ("tabs", "some", "is not a whole number"),
        ("pairs", "most", "--pairs max is as many as one sheet takes"),
    ],
)
def test_what_cannot_be_arranged_is_refused(option: str, text: str, words: str) -> None:
    """The message names the option and what it takes."""
    with pytest.raises(UsageError) as told:
        merged(JobSpec(), one(option, text), "mm")
    assert str(told.value).startswith(f"--{option}")
    assert words in str(told.value)


@pytest.mark.parametrize(
    ("typed", "message", "remedy"),
    [
        ("part-not-free", "not said why part-not-free", '--accept part-not-free="the reason"'),
        ("part-not-free=", "not said why part-not-free", '--accept part-not-free="the reason"'),
        ("part-not-free='  '", "not said why part-not-free", '--accept part-not-free="the reason"'),
        ("part-not-fre=because", "is not known here", 'did you mean "part-not-free"?'),
        ("pin-edge=because", "is not known here", "pad-touched"),
        ("part-not-free=" + 301 * "x", "no line of 300 letters", '--accept part-not-free="the reason"'),
    ],
)
def test_a_stop_is_accepted_in_words_alone(typed: str, message: str, remedy: str) -> None:
    """Without a reason, or for a stop that cannot be accepted, the option is refused."""
    with pytest.raises(UsageError) as caught:
        merged(JobSpec(), Typed(accept=(typed,)), "mm")
    assert message in str(caught.value)
    assert remedy in caught.value.remedy


@pytest.mark.parametrize("second", ["because of that", "the tape holds it"])
def test_a_stop_is_accepted_once(second: str) -> None:
    """Two reasons for one stop are refused, alike or not; reasons for two stops are kept."""
    first = "part-not-free=the tape holds it"
    with pytest.raises(UsageError, match="two reasons are given for part-not-free") as caught:
        merged(JobSpec(), Typed(accept=(first, f"part-not-free={second}")), "mm")
    assert (caught.value.where, caught.value.exit_code) == ("--accept", 2)
    both = merged(JobSpec(), Typed(accept=(first, f"pad-touched={second}")), "mm")
    assert dict(both.accept) == {"part-not-free": "the tape holds it", "pad-touched": second}


def test_words_typed_go_before_those_of_a_batch_file() -> None:
    """One reason for each stop, the typed one; others stay."""
    kept = JobSpec(accept=(("pad-touched", "old"), ("layer-thin", "kept")))
    spec = merged(kept, Typed(accept=("pad-touched=new",)), "mm")
    assert dict(spec.accept) == {"pad-touched": "new", "layer-thin": "kept"}


def test_each_pattern_may_have_its_number() -> None:
    """Numbers by name for pairs and spares; the plain number stays what it was."""
    spec = merged(
        JobSpec(pairs=5), Typed(pairs="siskin=4, harrier=2", spares="harrier=1", together=True), "mm"
    )
    assert (spec.together, spec.pairs) == (True, 5)
    assert spec.pairs_each == (("siskin", 4), ("harrier", 2))
    assert spec.spares_each == (("harrier", 1),)
    assert merged(spec, Typed(pairs="3"), "mm").pairs_each == ()


def test_each_pattern_may_have_its_tabs() -> None:
    """Tabs by name; a pattern without a number of its own has as many as the shop says."""
    spec = merged(JobSpec(tabs=4), Typed(tabs="siskin=2, harrier=0"), "mm")
    assert (spec.tabs, spec.tabs_each) == (None, (("siskin", 2), ("harrier", 0)))
    assert [counted(spec, name).tabs for name in ("siskin", "harrier", "curlew")] == [2, 0, None]
    again = merged(spec, Typed(tabs="3"), "mm")
    assert (again.tabs, again.tabs_each) == (3, ())
    with pytest.raises(UsageError, match="from 0 to 20"):
        merged(JobSpec(), Typed(tabs="siskin=21"), "mm")


@pytest.mark.parametrize("text", ["siskin=", "siskin=0", "=4", "siskin=4,siskin=2", "siskin=4,harrier"])
def test_numbers_by_name_that_make_no_sense_are_refused(text: str) -> None:
    """A missing name or number, a name twice: refused with the option's name."""
    with pytest.raises(UsageError) as caught:
        merged(JobSpec(), Typed(pairs=text), "mm")
    assert caught.value.where == "--pairs"
