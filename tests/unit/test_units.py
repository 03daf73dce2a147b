"""Lengths and angles as typed."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalegen.model import Units
from scalegen.units import (
    InputError,
    LengthError,
    describe,
    format_length,
    parse_angle,
    parse_length,
    split_unit,
)


@pytest.mark.parametrize(
    ("value", "units", "expected_mm"),
    [
        # Inch = 25.4 mm exactly: NBS Circular 572, addendum of 1959. The products are worked out by hand.
        (9.5, "mm", 9.5),
        (3, "mm", 3.0),
        (0.375, "in", 9.525),
        (0.009, "in", 0.2286),
        (1, "in", 25.4),
        ("9.5", "mm", 9.5),
        ("9.5", "in", 241.3),
        ("9.5 mm", "in", 9.5),
        ("9.5mm", "in", 9.5),
        ("9.5 MM", "in", 9.5),
        ("0.375in", "mm", 9.525),
        ('3/8"', "mm", 9.525),
        ('0.25 "', "mm", 6.35),
        ("1/2″", "mm", 12.7),
        ("3/16in", "mm", 4.7625),
        ("3/16 in", "mm", 4.7625),
        ("3/8", "in", 9.525),
        ("1 1/4 in", "mm", 31.75),
        ("1-1/4in", "mm", 31.75),
        ("-1-1/4in", "mm", -31.75),
        ("+2", "mm", 2.0),
        ("-0.5 mm", "mm", -0.5),
        (".5in", "mm", 12.7),
        ("5.", "mm", 5.0),
        ("1e-3in", "mm", 0.0254),
        ("  6 mm  ", "mm", 6.0),
    ],
)
def test_lengths_read_as_typed(value: object, units: Units, expected_mm: float) -> None:
    """Every form that people type gives the float nearest to its exact length."""
    assert parse_length(value, units) == expected_mm


@pytest.mark.parametrize(
    ("value", "saying"),
    [
        ("3/0in", "divides by zero"),
        ("nan", "not a length"),
        ("inf", "not a length"),
        (math.nan, "not a finite number"),
        (math.inf, "not a finite number"),
        (-math.inf, "not a finite number"),
        ("1e400", "too large"),
        ("1e400in", "too large"),
        ("1e9999999999", "not a length"),
        (1e300, "too large"),
        pytest.param(10**5000, "too large", id="huge whole number"),
        (-100_000.1, "too large"),
        ("3,5", "use a point, not a comma"),
        ("3,5 mm", "use a point, not a comma"),
        ("", "nothing here"),
        ("   ", "nothing here"),
        ("mm", "not a length"),
        ("9.5 cm", "unit that is not known"),
        ("9.5°", "unit that is not known"),
        ("9.5 mm2", "not a length"),
        ("1 2 mm", "not a length"),
        ("1-5/4in", "fraction of one or more"),
        ("3/8", "fraction without a unit"),
        ("0.5/2in", "not a length"),
        ("1_000", "not a length"),
        ("٣ mm", "not a length"),
        ("0x10", "not a length"),
        pytest.param("9" * 5000, "not a length", id="many digits"),
        pytest.param("a" * 200_000 + "1", "not a length", id="many letters"),
        (True, "true is not a length"),
        (None, "nothing is not a length"),
        ([1], "an array is not a length"),
        ({"a": 1}, "a table is not a length"),
        (Decimal(1), "a Decimal is not a length"),
    ],
)
def test_what_is_not_a_length_is_refused(value: object, saying: str) -> None:
    """What cannot be read is refused with one short line that says why."""
    with pytest.raises(LengthError) as caught:
        parse_length(value, "mm")
    text = str(caught.value)
    assert saying in text
    assert "\n" not in text
    assert len(text) < 250


@pytest.mark.parametrize(
    ("value", "limits", "limit_shown"),
    [
        (0, {"above": 0.0}, "above 0 mm"),
        (-1, {"minimum": 0.0}, "at least 0 mm"),
        ("1in", {"maximum": 25.0}, "at most 25 mm"),
        (9, {"above": 1.0, "maximum": 5.0}, "above 1 mm and at most 5 mm"),
    ],
)
def test_limits_are_kept_and_shown(value: object, limits: dict[str, float], limit_shown: str) -> None:
    """A length outside its limits is refused, and the message shows the limits."""
    with pytest.raises(LengthError, match=limit_shown):
        parse_length(value, "mm", **limits)


def test_limits_are_shown_in_the_unit_of_the_file() -> None:
    """In an inch file the limits are shown in inches."""
    with pytest.raises(LengthError, match=r"at most 0\.5 in"):
        parse_length(3, "in", maximum=12.7)


def test_a_length_on_its_limit_is_allowed() -> None:
    """Minimum and maximum belong to the range."""
    assert parse_length("1/2in", "mm", minimum=12.7, maximum=12.7) == 12.7
    assert parse_length(-1e5, "mm") == -1e5


def test_the_error_keeps_its_parts() -> None:
    """What was found, what is allowed and the hint can be had apart, for a fault with a field."""
    with pytest.raises(InputError) as caught:
        parse_length("3,5", "mm")
    error = caught.value
    assert error.found == '"3,5" is not a length'
    assert "9.5 mm" in error.allowed
    assert error.hint == "use a point, not a comma"


@given(st.one_of(st.text(), st.floats(), st.integers(), st.none(), st.booleans(), st.lists(st.text())))
def test_no_value_makes_anything_but_a_length_error(value: object) -> None:
    """Whatever stands in a field, reading it gives a finite length within 100 m or a LengthError."""
    each: tuple[Units, ...] = ("mm", "in")
    for units in each:
        try:
            length_mm = parse_length(value, units)
        except LengthError:
            continue
        assert abs(length_mm) <= 1e5


@given(st.integers(min_value=0, max_value=20), st.integers(min_value=1, max_value=63))
def test_whole_and_fraction_agree_with_the_decimal(whole: int, count: int) -> None:
    """A whole number and 64ths is the same length as the decimal it stands for (exact in binary)."""
    assert parse_length(f"{whole}-{count}/64in", "mm") == parse_length(whole + count / 64, "in")


@pytest.mark.parametrize(
    ("value", "degrees"), [(82, 82.0), (82.5, 82.5), ("82 deg", 82.0), ("82°", 82.0), ("-10", -10.0)]
)
def test_angles_read_as_typed(value: object, degrees: float) -> None:
    """An angle is typed in degrees and comes out in radians."""
    assert parse_angle(value) == pytest.approx(degrees * math.pi / 180, rel=1e-15)


@pytest.mark.parametrize("value", [0, 90, 400, "82 mm", "1,5", "", True, None, math.nan, [1], "x"])
def test_wrong_angles_are_refused(value: object) -> None:
    """What is not an angle between the limits, both excluded, is refused."""
    with pytest.raises(LengthError):
        parse_angle(value, above_deg=0, below_deg=90)


def test_angle_limits_are_shown() -> None:
    """The message says between which angles it must be."""
    with pytest.raises(LengthError, match="above 20 and below 160 degrees"):
        parse_angle(170, above_deg=20, below_deg=160)
    with pytest.raises(LengthError, match="at least -360 and at most 360 degrees"):
        parse_angle(361)


@pytest.mark.parametrize(
    ("length_mm", "units", "digits", "text"),
    [
        (9.525, "mm", None, "9.525 mm"),
        (9.525, "in", None, "0.375 in"),
        (10.0, "mm", None, "10 mm"),
        (100.0, "mm", None, "100 mm"),
        (-0.00001, "mm", None, "0 mm"),
        (-0.00001, "mm", 2, "0.00 mm"),
        (6.35, "in", 4, "0.2500 in"),
        (9.5, "mm", 0, "10 mm"),
        (-2.5, "mm", 1, "-2.5 mm"),
    ],
)
def test_lengths_are_written_with_their_unit(
    length_mm: float, units: Units, digits: int | None, text: str
) -> None:
    """A written length has its unit, the digits asked for, and no negative zero."""
    assert format_length(length_mm, units, digits) == text


@given(st.floats(min_value=-1e4, max_value=1e4), st.sampled_from(["mm", "in"]))
def test_a_written_length_reads_back(length_mm: float, units: Units) -> None:
    """Reading a written length gives it back to half of the last digit shown."""
    back_mm = parse_length(format_length(length_mm, units), "mm")
    assert abs(back_mm - length_mm) <= (0.00005 * 25.4 if units == "in" else 0.0005) + 1e-9


def test_unit_is_parted_from_number() -> None:
    """The unit is what follows the number, with or without a blank."""
    assert split_unit("3/16 IN") == ("3/16", "in")
    assert split_unit("12") == ("12", "")


def test_values_are_shown_short() -> None:
    """An error shows a long text only in part, and on one line."""
    assert len(describe("x" * 1000)) < 80
    assert describe("a\nb") == '"a\\nb"'
    assert describe(12.5) == "12.5"
    assert describe(10**30) == "a very large whole number"
