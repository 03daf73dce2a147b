"""Tables of fields."""

import pytest

from scalegen.fields.kinds import choice, length, section, sections, whole
from scalegen.fields.place import Place, Refused, units_of
from scalegen.fields.table import homes, look_over, may, need, read_table, table_of

EDGE = table_of(
    may("form", choice(("round", "flat")), default="flat"),
    need("radius", length(above=0), only_for=("form", ("round",))),
)
PART = table_of(may("hole", length()), may("drill", whole(1, 80)), one_of=(("hole", "drill"),))
THING = table_of(
    need("thickness", length(above=0)),
    may("count", whole(1, 9), default=2),
    may("spare", whole(1, 9)),
    may("edge", section("edge", EDGE)),
    may("part", sections("part", PART), to="parts", default=()),
)
PLACE = Place(file="a.toml", homes=homes(THING))


def test_values_come_by_the_name_in_the_record() -> None:
    """Targets, units in names, defaults and fields left out must be as the table says."""
    raw = {"thickness": "1in", "part": [{"drill": 3}]}
    assert read_table(raw, THING, PLACE) == {"thickness_mm": 25.4, "count": 2, "parts": ({"drill": 3},)}


def test_what_could_be_read_stands_beside_the_faults() -> None:
    """One bad field must neither hide the others nor get its default."""
    reading = look_over({"thickness": 3, "count": 0, "colour": 1}, THING, PLACE)
    assert reading.values == {"thickness_mm": 3.0, "parts": ()}
    assert [fault.field for fault in reading.faults] == ["count", "colour"]
    assert not reading.whole
    assert look_over({"thickness": 3, "colour": 1}, THING, PLACE).whole
    assert not look_over({}, THING, PLACE).whole


@pytest.mark.parametrize(
    ("raw", "field", "words"),
    [
        ({}, "thickness", "is missing; give a length"),
        ({"thicknes": 3}, "thicknes", 'did you mean "thickness"?'),
        ({"Thickness": 3}, "Thickness", 'did you mean "thickness"?'),
        ({"thickness": 3, "radius": 3}, "radius", "does not go here; it goes under [edge]"),
        ({"thickness": 3, "drill": 3}, "drill", "it goes under [[part]]"),
        ({"thickness": 3, "edge": {"count": 1}}, "edge.count", "at the top of the file"),
        ({"thickness": 3, "edge": 2}, "edge", "start it with [edge]; it holds form and radius"),
        ({"thickness": 3, "edge": {"form": "round"}}, "edge.radius", "is missing"),
        ({"thickness": 3, "edge": {"radius": 1}}, "edge.radius", 'does not go with form = "flat"'),
        ({"thickness": 3, "edge": {"form": "rond", "radius": 1}}, "edge.form", 'did you mean "round"?'),
        ({"thickness": 3, "part": {}}, "part", "two brackets"),
        ({"thickness": 3, "part": [7]}, "part[1]", "7 is not a table"),
        ({"thickness": 3, "part": [{"drill": 1}, {}]}, "part[2]", "neither hole nor drill"),
        ({"thickness": 3, "part": [{"drill": 1, "hole": 1}]}, "part[1]", "both hole and drill"),
        ({"thickness": 3, "part": [{"dril": 1}]}, "part[1].dril", 'did you mean "drill"?'),
        ({"thickness": 3, "a\nb": 1}, '"a\\nb"', "not a field known here"),
    ],
)
def test_one_mistake_is_one_fault(raw: object, field: str, words: str) -> None:
    """Each mistake must be told once, at its own field, with what to do."""
    (fault,) = look_over(raw, THING, PLACE).faults
    assert fault.field == field
    assert words in str(fault)
    assert "\n" not in str(fault)


def test_all_faults_are_raised_together() -> None:
    """Faults of tables inside must come up with the others, those of keys in the order of the file first."""
    with pytest.raises(Refused) as caught:
        read_table({"part": [{"drill": 0}, {"hole": "x"}], "count": "2"}, THING, PLACE)
    assert [fault.field for fault in caught.value.faults] == [
        "part[1].drill",
        "part[2].hole",
        "count",
        "thickness",
    ]


def test_signs_that_do_not_show_are_spelt_out() -> None:
    """A message must stay on one line and show every sign, also one that turns the writing direction."""
    fault = PLACE.fault("a\u2028b\u202e", "", "c\n")
    assert (fault.found, fault.hint) == ("a\\u2028b\\u202e", "c\\n")


def test_only_a_known_unit_counts() -> None:
    """Bare lengths must be mm unless the file says "in"."""
    assert [units_of(data) for data in ({}, {"units": "in"}, {"units": "cm"})] == ["mm", "in", "mm"]
