"""The pattern reader."""

import copy
import datetime as dt
import math
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scalegen.errors import PatternError
from scalegen.fields.table import Table
from scalegen.model import Liner, Pattern
from scalegen.pattern.read import parse_pattern, pattern_from_data, read_pattern
from scalegen.pattern.tables import PATTERN

BROKEN = Path(__file__).parents[1] / "patterns"

FULL = """
name = "wren-2"
title = "Wren"
units = "in"
stock = "some-stack"
[tang]
outline = [[0, "-10 mm", 0.5], [4, -0.4], [4, 0.4], [0, 0.4]]
thickness = "1/8in"
[front]
at = 0.5
angle = 82
arc = { radius = 2, shape = "hollow" }
treatment = "bevel"
slope = 40
land = 0.05
allowance = "0.3 mm"
[scale]
thickness = "stack"
edge = { treatment = "chamfer", size = 0.04 }
trim = 0.03
back_allowance = 0.004
[[pin]]
at = [1.5, -0.1]
hardware = "pin 1/8in"
drill = "#30"
[[pin]]
at = ["60 mm", 0]
diameter = 0.25
hole = 0.257
"""

SMALL = """
name = "wren"
units = "mm"
[tang]
outline = [[0, -10], [100, -10], [100, 10], [0, 10]]
thickness = 3
[front]
at = 14
[scale]
thickness = 6
"""

HERE = Path("wren.toml")


def faults_of(text: str, path: Path = HERE) -> dict[str, str]:
    """Field path to the whole fault as text."""
    with pytest.raises(PatternError) as caught:
        parse_pattern(text, path)
    return {fault.field: str(fault) for fault in caught.value.faults}


def test_every_field_arrives_in_mm_and_radians() -> None:
    """A pattern with all fields must come out converted; an inch is 25.4 mm (NBS Circular 572)."""
    pattern = parse_pattern(FULL, HERE)
    front, (first, second) = pattern.front, pattern.pins
    assert (pattern.name, pattern.title, pattern.units, pattern.stock) == (
        "wren-2",
        "Wren",
        "in",
        "some-stack",
    )
    assert pattern.outline.rows[0] == (0.0, -10.0, 0.5)
    assert pattern.outline.rows[1] == pytest.approx((101.6, -10.16, 0.0), abs=1e-12)
    assert pattern.tang_mm == pytest.approx(3.175)
    assert (front.at_mm, front.arc_mm, front.arc_shape) == pytest.approx((12.7, 50.8, "hollow"))
    assert front.angle_rad == pytest.approx(math.radians(82))
    assert (front.treatment, front.slope_rad) == ("bevel", pytest.approx(math.radians(40)))
    assert (front.land_mm, front.allowance_mm) == pytest.approx((1.27, 0.3))
    assert pattern.thickness_mm is None
    assert (pattern.edge.treatment, pattern.edge.size_mm) == ("chamfer", pytest.approx(1.016))
    assert (pattern.trim_mm, pattern.back_allowance_mm) == pytest.approx((0.762, 0.1016))
    assert (first.at_mm, first.hardware, first.drill) == (pytest.approx((38.1, -2.54)), "pin 1/8in", "#30")
    assert (second.at_mm, second.diameter_mm) == ((60.0, 0.0), pytest.approx(6.35))
    assert second.hole_mm == pytest.approx(6.5278)


def test_what_is_left_out_has_a_default() -> None:
    """A pattern with only what is needed must get the documented defaults."""
    pattern = parse_pattern(SMALL, HERE)
    assert pattern.title == "wren"
    assert pattern.stock is None
    assert pattern.pins == ()
    assert (pattern.front.treatment, pattern.front.angle_rad, pattern.front.arc_mm) == (
        "square",
        math.pi / 2,
        None,
    )
    assert (pattern.edge.treatment, pattern.edge.size_mm) == ("square", 0.0)
    assert (pattern.trim_mm, pattern.back_allowance_mm) == (0.8, 0.0)


@pytest.mark.parametrize(
    ("written", "liner"),
    [
        ("{ step = 0.5 }", Liner(step_mm=0.5)),
        ("{ step = -0.5, sheets = 2 }", Liner(step_mm=-0.5, sheets=2)),
        ('{ step = "-1/32in" }', Liner(step_mm=-25.4 / 32)),
    ],
)
def test_a_liners_step_in_either_direction(written: str, liner: Liner) -> None:
    """A step must arrive in mm with its sign, in the file's unit or its own; without one there is none."""
    found = parse_pattern(f"{SMALL}liner = {written}\n", HERE).liner
    assert found is not None
    assert (found.step_mm, found.sheets) == (pytest.approx(liner.step_mm), liner.sheets)
    assert parse_pattern(SMALL, HERE).liner is None


@pytest.mark.parametrize(
    ("written", "field", "words"),
    [
        ("{ step = 0.04 }", "scale.liner.step", "0.05 mm or more"),
        ("{ step = 0 }", "scale.liner.step", "too small a step"),
        ("{ step = 21 }", "scale.liner.step", "20"),
        ("{ sheets = 1 }", "scale.liner.step", "is missing"),
        ("{ step = 1, sheets = 0 }", "scale.liner.sheets", "from 1"),
        ("0.5", "scale.liner", "{ step = 0.5 }"),
    ],
)
def test_a_faulty_step_is_named(written: str, field: str, words: str) -> None:
    """A step that can't be cut, a missing one and a bare number must be told with their field."""
    assert words in faults_of(f"{SMALL}liner = {written}\n")[field]


@pytest.mark.parametrize(
    ("name", "field", "words"),
    [
        ("bevel-without-slope", "front.slope", "is missing"),
        ("coordinate-not-finite", "tang.outline[3][2]", "nan"),
        ("decimal-comma", "tang.thickness", "point, not a comma"),
        ("drill-unknown", "pin[1].drill", "#80"),
        ("front-angle-flat", "front.angle", "above 20 and below 160"),
        ("key-misspelt", "tang.thicknes", 'did you mean "thickness"?'),
        ("length-is-true", "front.at", "true (yes or no)"),
        ("name-with-slash", "name", "file names"),
        ("outline-not-there", "tang.outline", "no such file"),
        ("outline-of-unread-kind", "tang.outline", "ending in .dxf"),
        ("pin-in-single-brackets", "pin", "two brackets"),
        ("pin-with-hardware-and-diameter", "pin[2]", "both hardware and diameter"),
        ("pin-with-hole-and-drill", "pin[1]", "both hole and drill"),
        ("pin-without-size", "pin[1]", "neither hardware nor diameter"),
        ("section-misspelt", "fronts", 'did you mean "front"?'),
        ("slope-on-round-front", "front.slope", 'belongs to treatment = "bevel"'),
        ("thickness-zero", "scale.thickness", "above 0 mm"),
        ("units-missing", "units", "is missing"),
        ("word-misspelt", "front.treatment", 'did you mean "bevel"?'),
    ],
)
def test_a_file_with_one_fault_names_that_one_alone(name: str, field: str, words: str) -> None:
    """One mistake must give one fault, at the field where it was made, with what to do."""
    path = BROKEN / f"{name}.toml"
    with pytest.raises(PatternError) as caught:
        read_pattern(path)
    (fault,) = caught.value.faults
    assert (fault.file, fault.field) == (str(path), field)
    assert words in str(fault)
    assert caught.value.exit_code == 3


def test_all_faults_are_told_at_once_in_the_order_of_the_file() -> None:
    """A file with many faults must have every one of them named, none twice."""
    with pytest.raises(PatternError, match=r"^10 faults") as caught:
        read_pattern(BROKEN / "many-faults.toml")
    assert [fault.field for fault in caught.value.faults] == [
        "name",
        "units",
        "colour",
        "tang.outline[2][3]",
        "tang.outline[3]",
        "tang.thickness",
        "front.at",
        "scale.thickness",
        "scale.edge.radius",
        "scale.edge.size",
    ]


def test_a_fault_names_its_line() -> None:
    """Every fault in a file must be told with the line to look at, a missing key with that of its table."""
    with pytest.raises(PatternError) as caught:
        read_pattern(BROKEN / "many-faults.toml")
    places = [str(fault).partition(": ")[0].rpartition(", line ")[2] for fault in caught.value.faults]
    assert places == ["2", "3", "4", "7", "7", "8", "10", "14", "15", "15"]


@pytest.mark.parametrize(
    ("key", "home"), [('stock = "x"', "at the top of the file"), ("trim = 1", "it goes under [scale]")]
)
def test_a_key_in_the_wrong_table_is_told_where_it_goes(key: str, home: str) -> None:
    """A key added at the end of the file lands in the last table; the fault must say where it belongs."""
    (fault,) = faults_of(f"{FULL}{key}\n").values()
    assert home in fault


@pytest.mark.parametrize(("typed", "way"), [("30", 'write "#30" or "30 mm"'), ("3.3", 'write "3.3 mm"')])
def test_a_drill_as_a_bare_number_is_told_how_to_say_which(typed: str, way: str) -> None:
    """A drill without quotes could be two drills, so the fault must show how to write either."""
    assert way in faults_of(FULL.replace('"#30"', typed))["pin[1].drill"]


@pytest.mark.parametrize(
    ("name", "line"), [("syntax-unclosed-quote", "line 2, column 15"), ("syntax-key-twice", "line 3, column")]
)
def test_a_syntax_error_gives_line_and_column(name: str, line: str) -> None:
    """A file that is not TOML must say where reading stopped."""
    with pytest.raises(PatternError, match="not valid TOML") as caught:
        read_pattern(BROKEN / f"{name}.toml")
    assert line in caught.value.where


def test_a_missing_file_suggests_the_one_that_was_meant(tmp_path: Path) -> None:
    """A misspelt file name must be answered with the name of the file that is there."""
    (tmp_path / "wren.toml").write_text(SMALL)
    with pytest.raises(PatternError, match="no such file") as caught:
        read_pattern(tmp_path / "wrenn.toml")
    assert "wren.toml" in caught.value.remedy


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"name = 'caf\xe9'\n", "not UTF-8"),
        (b"\xff\xfen\x00a\x00", "not UTF-8"),
        (b"a = " + b"[" * 50_000, "nested too deeply|not valid TOML"),
        (b"a = " + b"9" * 5_000 + b"\n", "cannot be read"),
        (b"a = 2024-02-31\n", "cannot be read|not valid TOML"),
    ],
)
def test_unreadable_content_is_one_clear_error(tmp_path: Path, data: bytes, words: str) -> None:
    """Bytes that are no TOML must end in one error that says why, never in a traceback."""
    path = tmp_path / "wren.toml"
    path.write_bytes(data)
    with pytest.raises(PatternError, match=words) as caught:
        read_pattern(path)
    assert str(path) in caught.value.where
    assert caught.value.remedy


def test_a_folder_is_not_a_pattern(tmp_path: Path) -> None:
    """Naming a folder must be told as such."""
    with pytest.raises(PatternError, match="a folder"):
        read_pattern(tmp_path)


@pytest.mark.parametrize("name", ["a" * 5000, "nul\x00.toml"])
def test_an_impossible_pattern_name_is_one_clear_error(tmp_path: Path, name: str) -> None:
    """A file name that no system takes must not end in a traceback."""
    with pytest.raises(PatternError, match="cannot be read"):
        read_pattern(tmp_path / name)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    """A file saved by a simple editor on Windows must read like any other."""
    path = tmp_path / "wren.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert read_pattern(path).name == "wren"


def test_an_outline_file_is_looked_for_beside_the_pattern(tmp_path: Path) -> None:
    """The outline's path must be relative to the pattern, and a near miss be suggested."""
    (tmp_path / "wren.dxf").touch()
    text = SMALL.replace("[[0, -10], [100, -10], [100, 10], [0, 10]]", '"wren.dxf"')
    pattern = parse_pattern(text, tmp_path / "wren.toml")
    assert pattern.outline.path == tmp_path / "wren.dxf"
    assert pattern.outline.rows == ()
    found = faults_of(text.replace("wren.dxf", "wrn.dxf"), tmp_path / "wren.toml")
    assert 'did you mean "wren.dxf"?' in found["tang.outline"]


@pytest.mark.parametrize("file", ["sub\\u0000.dxf", "a" * 5000 + ".dxf"])
def test_an_impossible_file_name_is_a_fault(tmp_path: Path, file: str) -> None:
    """A file name that no system takes must be a fault like any other."""
    text = SMALL.replace("[[0, -10], [100, -10], [100, 10], [0, 10]]", f'"{file}"')
    assert list(faults_of(text, tmp_path / "wren.toml")) == ["tang.outline"]


def test_a_treatment_that_is_misspelt_does_not_blame_its_keys() -> None:
    """While the treatment itself is unclear, keys that may belong to it must not be called wrong."""
    text = SMALL.replace("at = 14", 'at = 14\ntreatment = "rund"\nradius = 2')
    assert list(faults_of(text)) == ["front.treatment"]


def _fields(table: Table, raw: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Paths of all fields of a table, also of tables inside it, as steps into plain data."""
    for entry in table.fields:
        here = (*path, entry.name)
        yield here
        if entry.table is not None:
            inner = (*here, 0) if entry.many else here
            yield from _fields(entry.table, raw, inner)


TOML_VALUES = st.recursive(
    st.booleans()
    | st.integers()
    | st.integers(min_value=10**300, max_value=10**400)
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(
        ["1e400", "3/0in", "#0", "stack", "9" * 400, "-5", "0", "in", "a.dxf", "\x00.dxf", "~/x.dxf"]
    )
    | st.dates()
    | st.datetimes(timezones=st.just(dt.UTC))
    | st.times(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(where=st.sampled_from(list(_fields(PATTERN, None))), value=TOML_VALUES, key=st.text(max_size=6))
def test_any_value_in_any_field_is_read_or_is_a_fault(where: tuple[Any, ...], value: Any, key: str) -> None:
    """Whatever stands in a field, the answer must be a pattern or faults on one line each, no traceback."""
    data = copy.deepcopy(tomllib.loads(FULL))
    holder: Any = data
    for step in where[:-1]:
        holder = holder[step] if isinstance(step, int) else holder.setdefault(step, {})
    holder[where[-1]] = value
    holder.setdefault(key, value)
    answer = _read_or_refused(data)
    if isinstance(answer, PatternError):
        assert answer.faults
        assert all("\n" not in str(fault) and len(str(fault)) < 400 for fault in answer.faults)
        assert all(fault.found and fault.field for fault in answer.faults)
    else:
        assert answer.tang_mm > 0
        assert all(math.isfinite(x) for row in answer.outline.rows for x in row)


def _read_or_refused(data: dict[str, Any]) -> Pattern | PatternError:
    try:
        return pattern_from_data(data, HERE)
    except PatternError as error:
        return error
