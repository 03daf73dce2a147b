"""The table of a shop's own stages: what it may hold, and what is wrong with it."""

import re
import shutil
from pathlib import Path

import pytest

import scalegen
from scalegen.errors import Fault, PatternError
from scalegen.model import OwnStage
from scalegen.shop.load import STAGES_FILE, load_shop

BUNDLED = Path(scalegen.__file__).parent / "data" / "shared"
HEAD = '[[stage]]\nname = "first"\n'


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    """A shop's own copy of the bundled tables."""
    return shutil.copytree(BUNDLED, tmp_path / "shared")


def _read(shared: Path, text: str) -> tuple[OwnStage, ...]:
    (shared / STAGES_FILE).write_text(text, encoding="utf-8")
    return load_shop(shared).stages


def _faults(shared: Path, text: str) -> tuple[Fault, ...]:
    with pytest.raises(PatternError) as caught:
        _read(shared, text)
    return caught.value.faults


def test_a_new_shop_has_its_jobs_planned(shared: Path) -> None:
    """The starter table has no stage, and a shop may do without it."""
    assert load_shop(None).stages == ()
    assert load_shop(shared).stages == ()
    (shared / STAGES_FILE).unlink()
    assert load_shop(shared).stages == ()


def test_the_example_in_the_starter_table_can_be_used(shared: Path) -> None:
    """With its marks taken off the example is read, in its order."""
    text = (shared / STAGES_FILE).read_text(encoding="utf-8")
    lines = text[text.index("# [[stage]]") :].splitlines()
    example = "\n".join(re.sub("^# ?", "", line) for line in lines if not line.startswith("units"))
    does = [stage.does for stage in _read(shared, 'units = "mm"\n' + example)]
    assert does == ["face off", "rough", "shape", "feet", "pin holes", "outlines"]


def test_lengths_may_carry_their_unit(shared: Path) -> None:
    """A stage with everything that it may state."""
    text = (
        HEAD + 'does = "rough"\ncutter = "flat 3mm"\nallowance = "0.01in"\ndepth_per_pass = 1\nstepover = 2\n'
    )
    (stage,) = _read(shared, text)
    assert stage == OwnStage(
        name="first",
        does="rough",
        cutter="flat 3mm",
        allowance_mm=0.254,
        depth_per_pass_mm=1.0,
        stepover_mm=2.0,
    )


@pytest.mark.parametrize(
    ("text", "field", "saying"),
    [
        (HEAD, "stage[1].does", "is missing"),
        (HEAD + 'does = "mill"', "stage[1].does", '"outlines"'),
        (HEAD + 'does = "rough"\ncutter = "flat 4mm"', "stage[1].cutter", 'did you mean "flat 6mm"?'),
        (
            HEAD + 'does = "rough"\ncutter = "flat 3mm"\nstepover = 3.5',
            "stage[1].stepover",
            "give 3 mm at most",
        ),
        (
            HEAD + 'does = "shape"\ncutter = "taper 6mm"\nstepover = 2',
            "stage[1].stepover",
            "give 1 mm at most",
        ),
        (HEAD + 'does = "shape"\nstepover = 1\nscallop = 0.1', "stage[1]", "both stepover and scallop"),
        (HEAD + 'does = "rough"\nscallop = 0.1', "stage[1].scallop", "leaves no ridges"),
        (HEAD + 'does = "pin holes"\nallowance = 0.1', "stage[1].allowance", "in one go"),
        (HEAD + 'does = "rough"\ndepth_per_pass = 0', "stage[1].depth_per_pass", "above 0"),
        (2 * (HEAD + 'does = "rough"\n'), "stage[2].name", "there already"),
    ],
)
def test_faults_are_named_by_their_place(shared: Path, text: str, field: str, saying: str) -> None:
    """Each fault says where it is and what to do, and nothing else is wrong."""
    (fault,) = _faults(shared, text)
    assert fault.field == field
    assert saying in str(fault)
