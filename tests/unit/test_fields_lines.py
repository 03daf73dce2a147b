"""Finding the line of a field in a TOML text."""

import datetime as dt
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scalegen.errors import Fault
from scalegen.fields.lines import line_numbers, with_lines
from scalegen.fields.words import show_key

TEXT = '''\
# [not] = "a table"
name = "a # [[b]] = 'c'" # comment = 1
title = """
[no] = table
\\""" still = "inside" """
"two words".x = 'it''s'

[tang]
outline = [ # rows
  [0, -10.5], [100, -10],

  [100, 10], # a, b, c
]
when = 1979-05-27 07:32:00.5
front.arc = { radius = 2, shape = ["hollow"] }

[[pin]]
at = [1, 2]
[pin.more]
x = 1
[[pin]] # second
  at = [
    3,
    4]
[[ pin . parts ]]
a = """"quoted""""
[[pin.parts]]
b = {}
c = +1.5e-3
'''.replace("'it''s'", "'it is'")


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("field", "line"),
    [
        ("name", 2),
        ("title", 3),
        ('"two words".x', 6),
        ("tang", 8),
        ("tang.outline", 9),
        ("tang.outline[1]", 10),
        ("tang.outline[2][2]", 10),
        ("tang.outline[3][1]", 12),
        ("tang.when", 14),
        ("tang.front.arc.shape[1]", 15),
        ("pin[1]", 17),
        ("pin[1].at[2]", 18),
        ("pin[1].more.x", 20),
        ("pin[2]", 21),
        ("pin[2].at", 22),
        ("pin[2].at[2]", 24),
        ("pin[2].parts[1].a", 26),
        ("pin[2].parts[2].c", 29),
    ],
)
def test_each_field_is_found_on_its_line(field: str, line: int, end: str) -> None:
    """Lines counted by hand must be found, whatever strings and comments hold and however lines end."""
    text = TEXT.replace("\n", end)
    tomllib.loads(text)
    assert line_numbers(text)[field] == line


def paths_of(value: Any, base: str = "") -> Iterator[tuple[str, str]]:
    """Path of every key and entry below a value, with the key itself (empty for entries)."""
    if isinstance(value, dict):
        for key, inner in value.items():
            here = f"{base}.{show_key(key)}" if base else show_key(key)
            yield here, key
            yield from paths_of(inner, here)
    elif isinstance(value, list):
        for number, inner in enumerate(value, start=1):
            yield f"{base}[{number}]", ""
            yield from paths_of(inner, f"{base}[{number}]")


KEYS = st.text("ab-_1", min_size=1, max_size=4) | st.text("a.\"' #[]={}\\é", max_size=4)
DATA = st.recursive(
    st.booleans()
    | st.integers(-99, 99)
    | st.floats(allow_nan=False)
    | st.text("ab\"'#[]{}=,.\\\n\té", max_size=8)
    | st.dates(min_value=dt.date(1900, 1, 1)),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.dictionaries(KEYS, DATA, max_size=4))
def test_exactly_the_fields_that_the_standard_reader_finds_have_lines(data: dict[str, Any]) -> None:
    """Of any file written by tomlkit, the fields found must be those that the standard library reads."""
    text = tomlkit.dumps(data)
    expected = dict(paths_of(tomllib.loads(text)))
    found = line_numbers(text)
    assert found.keys() == expected.keys()
    lines = text.split("\n")
    for path, key in expected.items():
        if key.isascii() and key.replace("-", "_").isidentifier():
            assert key in lines[found[path] - 1]


def test_a_fault_gets_the_line_of_what_is_around_it() -> None:
    """A missing key must point at its table, a wrong entry at itself, and both stay faults as they were."""
    entry = Fault(file="a.toml", field="tang.outline[3][1]", found="x", allowed="y", hint="z")
    missing = Fault(file="a.toml", field="pin[2].drill", found="is missing", allowed="")
    whole = Fault(file="a.toml", field="units", found="is missing", allowed="")
    placed = with_lines([entry, missing, whole], TEXT)
    assert [str(fault) for fault in placed] == [
        "a.toml, line 12: tang.outline[3][1]: x; y (z)",
        "a.toml, line 21: pin[2].drill: is missing",
        "a.toml: units: is missing",
    ]
    first = placed[0]
    assert (first.file, first.field, first.line) == ("a.toml", "tang.outline[3][1]", 12)


@pytest.mark.parametrize("field", ['"a.b"[1]', '"a\\"]"', "[1]", "...", "a b"])
def test_a_field_that_is_not_in_the_text_stays_without_a_line(field: str) -> None:
    """Whatever a field path looks like, looking for it must end, and find nothing that is not there."""
    fault = Fault(file="a.toml", field=field, found="x", allowed="")
    assert with_lines([fault], "b = 1\n") == (fault,)


def test_text_that_is_no_toml_does_not_hang() -> None:
    """Text cut off anywhere must still be gone through to its end."""
    for stop in range(len(TEXT)):
        assert isinstance(line_numbers(TEXT[:stop]), dict)
