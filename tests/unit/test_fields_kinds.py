"""Kinds of values."""

import datetime as dt
import math
from typing import Any

import pytest

from scalegen.fields import kinds
from scalegen.fields.place import Place, Refused
from scalegen.fields.table import Kind
from scalegen.fields.words import describe, listed, quoted, show_key, suggest

PLACE = Place(file="a.toml", field="x")
LENGTH = kinds.length(above=0, word="stack")
NAMES = kinds.many(kinds.text(9, what="a name", exact=True), "a list of names")
SETS = kinds.many(kinds.choice(("number", "letter")), "a list of sets", numbered=False, once="name it once")
ROW = kinds.row((kinds.length(), kinds.length(), kinds.number(maximum=9)), "a row", least=2)


@pytest.mark.parametrize(
    ("kind", "value", "expected"),
    [
        (LENGTH, "stack", None),
        (LENGTH, "1/8in", 3.175),
        (kinds.angle(0, 90), "45 deg", math.pi / 4),
        (kinds.number(above=0), 3, 3.0),
        (kinds.whole(1, 9), 9, 9),
        (kinds.text(9), "  a b ", "a b"),
        (kinds.spelt("[A-Z]{3}", 3, "letters"), "EUR", "EUR"),
        (kinds.choice(("mm", "in")), "in", "in"),
        (ROW, [1, 2], (1.0, 2.0)),
        (ROW, [1, 2, 3], (1.0, 2.0, 3.0)),
        (NAMES, ["a", "a"], ("a", "a")),
        (kinds.many(LENGTH, "lengths", alone=True), 2, (2.0,)),
    ],
)
def test_good_values_are_read(kind: Kind, value: object, expected: Any) -> None:
    """What a kind takes must come out as the record holds it."""
    assert kind.read(value, PLACE) == expected


@pytest.mark.parametrize(
    ("kind", "value", "field", "words"),
    [
        (LENGTH, "Stak", "x", 'did you mean "stack"?'),
        (LENGTH, "3,5", "x", 'or "stack" (use a point, not a comma)'),
        (LENGTH, False, "x", "false (yes or no) is an answer"),
        (LENGTH, 0, "x", "above 0 mm"),
        (kinds.angle(0, 90), 90, "x", "above 0 and below 90"),
        (kinds.number(minimum=1, maximum=5), "3", "x", "leave out the quotes"),
        (
            kinds.number(minimum=1, maximum=5),
            0.5,
            "x",
            "out of range; give a number at least 1 and at most 5",
        ),
        (kinds.number(), math.nan, "x", "out of range"),
        (kinds.number(), 10**400, "x", "out of range"),
        (kinds.whole(1, 9), 2.0, "x", "2.0 is not a whole number"),
        (kinds.whole(1, 9), True, "x", "true is not a whole number"),
        (kinds.whole(1, 9), 10, "x", "out of range; give a whole number from 1 to 9"),
        (kinds.text(9), 3, "x", "text goes in quotes"),
        (kinds.text(9), "  ", "x", "nothing in the quotes"),
        (kinds.text(9), "a" * 10, "x", "1 to 9 letters"),
        (kinds.text(9), "a\nb", "x", "on one line"),
        (kinds.text(9, exact=True), " a", "x", "without blanks"),
        (kinds.spelt("[a-z]+", 3, "letters", "small ones"), "EUR", "x", "give letters (small ones)"),
        (kinds.choice(("AP1", "AP2")), "ap2x", "x", 'did you mean "AP2"?'),
        (kinds.choice(("mm", "in")), 3, "x", '3 is not known here; give "mm" or "in"'),
        (ROW, [1], "x", "a list of 1 entry will not do; give a row"),
        (ROW, [1, 2, 3, 4], "x", "a list of 4 entries"),
        (ROW, [1, 2, 10], "x[3]", "at most 9"),
        (NAMES, [], "x", "an empty list"),
        (NAMES, "a", "x", 'put it in brackets: ["a"]'),
        (NAMES, ["a", 3], "x[2]", "3 is not text"),
        (SETS, ["number", "leter"], "x", 'did you mean "letter"?'),
        (SETS, ["number", "letter", "number"], "x", "is there twice, as entries 1 and 3; name it once"),
    ],
)
def test_bad_values_are_refused_where_they_stand(kind: Kind, value: object, field: str, words: str) -> None:
    """A value that a kind does not take must give one fault that says where, what and what to do."""
    with pytest.raises(Refused) as caught:
        kind.read(value, PLACE)
    (fault,) = caught.value.faults
    assert fault.field == field
    assert words in str(fault)


def test_every_bad_entry_of_a_list_is_told() -> None:
    """Faults of a list must name all bad entries, not the first alone."""
    with pytest.raises(Refused) as caught:
        kinds.many(ROW, "rows").read([[1, "x", "y"], [1, 2], 5], PLACE)
    assert [fault.field for fault in caught.value.faults] == ["x[1][2]", "x[1][3]", "x[3]"]


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ([], "an empty list"),
        ([1], "a list of 1 entry"),
        ({}, "a table"),
        (dt.date(2024, 2, 29), "2024-02-29 (a date or time)"),
        (dt.time(7, 30), "07:30:00 (a date or time)"),
        ("a", '"a"'),
    ],
)
def test_values_are_described_as_a_reader_sees_them(value: object, words: str) -> None:
    """Every value that TOML has must be put in words."""
    assert describe(value) == words


def test_words_make_sentences() -> None:
    """Lists of words must read as a sentence, and a near miss be named as it is spelt."""
    assert quoted(("a",)) == '"a"'
    assert quoted(("a", "b", "c")) == '"a", "b" or "c"'
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert suggest("PIN 3mn", {"Pin 3mm": 1, "tube": 2}) == 'did you mean "Pin 3mm"?'
    assert suggest("zzz", ["Pin 3mm"]) == ""
    assert show_key("a.b") == '"a.b"'
    assert len(show_key("x" * 1000)) < 60
