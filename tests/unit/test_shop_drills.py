"""Finding and choosing drills. The published values are checked in tests/validation/test_drills.py."""

import pytest

from scalegen.shop.drills import DRILLS, choose_drill, find_drill
from scalegen.units import LengthError


@pytest.mark.parametrize(
    ("text", "designation", "diameter_mm"),
    [
        ("#30", "#30", 3.2639),
        (" # 7 ", "#7", 5.1054),
        ("F", "F", 6.5278),
        ("f", "F", 6.5278),
        ("9/64in", "9/64in", 3.571875),
        ('9/64"', "9/64in", 3.571875),
        ("2/8 in", "1/4in", 6.35),
        ("0.25in", "1/4in", 6.35),
        ("0.1285in", "#30", 3.2639),
        ("0.234in", "A", 5.9436),
        ("3.3 mm", "3.3 mm", 3.3),
        ("3.3mm", "3.3 mm", 3.3),
        ("3 mm", "3.0 mm", 3.0),
        ("2.05 mm", "2.05 mm", 2.05),
        ("1in", "1in", 25.4),
    ],
)
def test_drills_are_found_by_what_is_engraved(text: str, designation: str, diameter_mm: float) -> None:
    """Every way of naming a drill finds it (sizes: inches of the published table times 25.4)."""
    drill = find_drill(text)
    assert drill.designation == designation
    assert drill.diameter_mm == pytest.approx(diameter_mm, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "saying"),
    [
        ("30", r'write "#30" or "30 mm"'),
        ("3.3", r'write "3\.3 mm" or "3\.3in"'),
        ("9/64", r'write "9/64in"'),
        ("#0", "nearest is #1"),
        ("#81", "nearest is #80"),
        ("#1000000000000", "not a drill"),
        ("3.04 mm", r"nearest is 3\.0 mm"),
        ("0.129in", "nearest is #30"),
        ("3,3 mm", "use a point"),
        ("AA", "not a drill"),
        ("Ä", "not a drill"),
        ("", "not a drill"),
        ("-3 mm", "not a drill"),
        ("0 mm", "not a drill"),
    ],
)
def test_unknown_drills_are_refused_with_a_way_on(text: str, saying: str) -> None:
    """A drill that no series has is refused, and the message names what to write instead."""
    with pytest.raises(LengthError, match=saying):
        find_drill(text)


def test_every_drill_is_found_by_its_designation() -> None:
    """The designation printed on the papers is one that can be typed."""
    for series in DRILLS.values():
        for drill in series:
            assert find_drill(drill.designation) == drill


def test_the_order_of_series_decides_between_equal_sizes() -> None:
    """E and 1/4 in are the same size: the series named first gets the job."""
    letter = choose_drill(6.35, ["letter", "fraction"])
    fraction = choose_drill(6.35, ["fraction", "letter"])
    assert letter is not None
    assert fraction is not None
    assert (letter.designation, fraction.designation) == ("E", "1/4in")


def test_a_size_that_meets_the_least_exactly_will_do() -> None:
    """Dust in the last digits of a sum does not cost a drill size."""
    drill = choose_drill(1.1 + 2.2, ["metric"])  # 3.3000000000000003
    assert drill is not None
    assert drill.designation == "3.3 mm"


def test_no_drill_is_chosen_beyond_the_series() -> None:
    """Above the largest drill, or without any series, nothing is chosen."""
    assert choose_drill(14.0, ["metric"]) is None
    assert choose_drill(3.0, []) is None
