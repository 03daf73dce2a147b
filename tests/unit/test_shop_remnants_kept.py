"""Adding to the table of remnants and setting used ones aside, with everything else left as it is."""

import tomllib
from pathlib import Path

import pytest

import scalegen
from scalegen.errors import UsageError
from scalegen.model import Remnant
from scalegen.shop.load import REMNANTS_FILE
from scalegen.shop.remnants import Change, with_remnants

PATH = Path("remnants.toml")
STARTER = (Path(scalegen.__file__).parent / "data" / "shared" / REMNANTS_FILE).read_text(encoding="utf-8")
PIECE = Remnant(
    number="",
    stack="paper-six",
    outline=((0, 0, 0.25), (50.8, 0, 0), (50.8, 25.4, 0), (0, 25.4, 0)),
    zones=(((10, 10, 0), (12, 10, 0), (12, 12, 0)),),
    measured_mm=(6.85,),
    source="siskin, sheet-1",
    piece="0a1b/sheet-1/1",
)
OTHER = Remnant(number="", stack="paper-six", outline=((0, 0, 1), (40, 0, 1)), piece="0a1b/sheet-2/1")
OWN = """# mine
units = "mm"

# the good one
[[remnant]]  # in the drawer
number = "R7"
stack = "paper-six"
outline = [[0, 0], [50, 0], [50, 50]]   # [[remnant]]

[[remnant]]
number = "corner"
stack = 'paper-six'
outline = [[0, 0], [60, 0], [60, 60]]
"""


def _with(text: str, *pieces: Remnant, used: dict[str, str] | None = None, again: bool = False) -> Change:
    return with_remnants(text, PATH, pieces, used or {}, again=again)


@pytest.mark.parametrize("text", ["", STARTER, OWN])
def test_what_was_there_stays_byte_for_byte(text: str) -> None:
    """New entries come at the end; not a letter of what was there is changed."""
    change = _with(text, PIECE, OTHER)
    assert change.text.startswith(text)
    entries = tomllib.loads(change.text)["remnant"][-2:]
    assert [entry["number"] for entry in entries] == list(change.numbers)
    assert entries[0]["outline"] == [[0, 0, 0.25], [50.8, 0], [50.8, 25.4], [0, 25.4]]
    assert entries[0]["zones"] == [[[10, 10], [12, 10], [12, 12]]]
    assert (entries[0]["measured"], entries[0]["source"]) == ([6.85], "siskin, sheet-1")
    assert entries[1]["outline"] == [[0, 0, 1], [40, 0, 1]]


def test_numbers_go_on_after_the_highest_ever_given() -> None:
    """R1 in an empty table; after R7, R8, even once R7 is used up."""
    assert _with("", PIECE, OTHER).numbers == ("R1", "R2")
    assert _with(OWN, PIECE).numbers == ("R8",)
    aside = _with(OWN, used={"R7": "siskin"})
    assert _with(aside.text, PIECE).numbers == ("R8",)


def test_the_same_piece_is_never_kept_twice() -> None:
    """A piece that is there, used up or not, keeps its number; only on being told is it kept again."""
    once = _with(OWN, PIECE)
    twice = _with(once.text, PIECE, OTHER)
    assert (twice.numbers, twice.new) == (("R8", "R9"), (False, True))
    aside = _with(once.text, used={"R8": "harrier"})
    later = _with(aside.text, PIECE)
    assert (later.text, later.numbers, later.new) == (aside.text, ("R8",), (False,))
    more = _with(once.text, PIECE, again=True)
    assert (more.numbers, more.new) == (("R9",), (True,))


def test_a_used_one_is_set_aside_with_its_comments() -> None:
    """Only its header changes, and a line says which job it went into."""
    change = _with(OWN, used={"R7": 'the "big" one'})
    assert change.used == ("R7",)
    assert change.text == OWN.replace(
        "[[remnant]]  # in the drawer\n", '[[used]]  # in the drawer\nby = "the \\"big\\" one"\n', 1
    )
    assert [each["number"] for each in tomllib.loads(change.text)["remnant"]] == ["corner"]


def test_one_that_is_not_there_is_told() -> None:
    """A used remnant that the table does not have, or no more, changes nothing."""
    change = _with(OWN, used={"R3": "siskin"})
    assert (change.text, change.used, change.gone) == (OWN, (), ("R3",))


def test_both_at_once_and_line_ends_of_the_file() -> None:
    """A file with CR LF keeps them throughout."""
    change = _with(OWN.replace("\n", "\r\n"), PIECE, used={"corner": "siskin", "R7": "siskin"})
    assert change.text.count("\n") == change.text.count("\r\n")
    data = tomllib.loads(change.text)
    assert [entry["number"] for entry in data["used"]] == ["R7", "corner"]
    assert [entry["number"] for entry in data["remnant"]] == ["R8"]


def test_a_table_in_inches_gets_inches() -> None:
    """1 in is 25.4 mm by definition; bulges have no unit."""
    entry = tomllib.loads(_with('units = "in"\n', PIECE).text)["remnant"][0]
    assert entry["outline"] == [[0, 0, 0.25], [2, 0], [2, 1], [0, 1]]
    assert entry["measured"] == [pytest.approx(6.85 / 25.4, abs=5e-6)]


@pytest.mark.parametrize(
    "text",
    [
        'remnant = [{ number = "R1", stack = "s", outline = [[0, 0], [1, 0], [1, 1]] }]\n',
        'remnant = [\n  { number = "R1", stack = "[[remnant]]", outline = [[0, 0], [1, 0], [1, 1]] },\n]\n',
    ],
)
def test_a_table_on_one_line_is_refused(text: str) -> None:
    """Rows written as a list in brackets cannot be added to; the message says how to write them."""
    with pytest.raises(UsageError, match="cannot be added to"):
        _with(text, PIECE)
    with pytest.raises(UsageError, match="cannot be added to"):
        _with(text, used={"R1": "siskin"})
