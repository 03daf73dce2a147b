"""The table of remnants: what it may hold, and what is wrong with it."""

import shutil
from pathlib import Path

import pytest

import scalegen
from scalegen.errors import Fault, PatternError
from scalegen.model import Reading, Remnant
from scalegen.shop.load import REMNANTS_FILE, load_shop

BUNDLED = Path(scalegen.__file__).parent / "data" / "shared"
SQUARE = "outline = [[0, 0], [50, 0], [50, 50], [0, 50]]\n"
HEAD = '[[remnant]]\nnumber = "R1"\nstack = "paper-six"\n'


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    """A shop's own copy of the bundled tables."""
    return shutil.copytree(BUNDLED, tmp_path / "shared")


def _read(shared: Path, text: str) -> dict[str, Remnant]:
    (shared / REMNANTS_FILE).write_text(text, encoding="utf-8")
    return load_shop(shared).remnants


def _faults(shared: Path, text: str) -> tuple[Fault, ...]:
    with pytest.raises(PatternError) as caught:
        _read(shared, text)
    return caught.value.faults


def test_a_new_shop_has_kept_nothing(shared: Path) -> None:
    """The starter table is empty, and a shop may do without it."""
    assert load_shop(None).remnants == {}
    assert load_shop(shared).remnants == {}
    (shared / REMNANTS_FILE).unlink()
    assert load_shop(shared).remnants == {}


def test_the_entry_in_the_comment_can_be_used(shared: Path) -> None:
    """What the starter shows how to write is read as it stands once its # are taken off."""
    lines = (BUNDLED / REMNANTS_FILE).read_text(encoding="utf-8").splitlines()
    shown = [line.removeprefix("#   ") for line in lines if line.startswith("#   ")]
    (remnant,) = _read(shared, "\n".join(shown)).values()
    assert remnant.number == "R1"
    assert len(remnant.outline) == 6
    assert len(remnant.zones) == 1
    assert remnant.measured_mm == (6.84, 6.88)


def test_lengths_are_in_the_units_of_the_table(shared: Path) -> None:
    """Inches become mm in outline, zones and readings; a bulge stays the number it is."""
    text = 'units = "in"\n' + HEAD + "outline = [[0, 0], [2, 0, 0.5], [2, 2], [0, 2]]\n"
    text += "zones = [[[0.5, 0.5, 1], [1, 0.5, 1]]]\n"
    text += 'readings = [[1, 1, 0.27], [1, "30 mm", "6.9 mm"]]\nsource = "a job"\n'
    remnant = _read(shared, text)["R1"]
    assert remnant.outline == ((0, 0, 0), (pytest.approx(50.8), 0, 0.5), (50.8, 50.8, 0), (0, 50.8, 0))
    assert remnant.zones == (((12.7, 12.7, 1), (25.4, 12.7, 1)),)
    assert remnant.measured_mm == pytest.approx((6.858, 6.9))
    assert remnant.readings[1] == Reading(x_mm=25.4, y_mm=30.0, thickness_mm=6.9)
    assert remnant.source == "a job"


@pytest.mark.parametrize(
    ("text", "field", "saying"),
    [
        (HEAD, "remnant[1].outline", "missing"),
        (HEAD + "outline = [[0, 0], [50, 0]]", "remnant[1].outline", "three points"),
        (HEAD + "outline = [[0, 0], [50, 0], [100, 0]]", "remnant[1].outline", "no area"),
        (HEAD + "outline = [[0, 0], [50, 0], [0, 50], [60, 50]]", "remnant[1].outline", "crosses or touches"),
        (HEAD + "outline = [[0, 0], [0, 0], [50, 0], [0, 50]]", "remnant[1].outline", "coincide"),
        (HEAD + 'outline = "rest.dxf"', "remnant[1].outline", "not a list"),
        (HEAD + "outline = [[0, 0], [50], [0, 50]]", "remnant[1].outline[2]", "[x, y]"),
        (
            HEAD + SQUARE + "zones = [[[0, 0], [9, 0], [0, 9], [12, 9]]]",
            "remnant[1].zones",
            "entry 1 crosses",
        ),
        (HEAD + SQUARE + "zones = [[[0, 0], [9]]]", "remnant[1].zones[1][2]", "[x, y]"),
        (HEAD + SQUARE + "measured = -1", "remnant[1].measured", "-1"),
        (HEAD + SQUARE + "measured = 6\nreadings = [[1, 1, 6]]", "remnant[1]", "both measured and readings"),
        (HEAD + SQUARE + "readings = [[1, 6]]", "remnant[1].readings[1]", "[x, y, thickness]"),
        (HEAD.replace("paper-six", "paper-sx") + SQUARE, "remnant[1].stack", 'did you mean "paper-six"?'),
        (HEAD.replace("R1", "R 1") + SQUARE, "remnant[1].number", "as on the piece"),
        (2 * (HEAD + SQUARE), "remnant[2].number", "there already"),
        (HEAD + SQUARE + "colour = 3", "remnant[1].colour", "not a field"),
        ("remnant = 3", "remnant", "[[remnant]]"),
    ],
)
def test_faults_are_named_by_their_place(shared: Path, text: str, field: str, saying: str) -> None:
    """Each fault says where it is and what to do, and nothing else is wrong."""
    (fault,) = _faults(shared, text)
    assert fault.field == field
    assert saying in str(fault)
