"""A design carried over to a stack of another thickness, as a user does it."""

import json
import math
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scalegen.__main__ import main
from scalegen.model import JobSpec, Restock
from scalegen.pattern.read import read_pattern
from scalegen.pipeline import study_pattern
from scalegen.restock import compare

PROFILES = Path(__file__).parents[2] / "profiles"
INCH = 25.4
Call = Callable[..., tuple[int, str, str]]


SHAPED = """
name = "shaped"
units = "mm"
stock = "paper-six"

[tang]
outline = [[-10, -8], [52, -8], [52, 8], [-10, 8]]
thickness = 3

[front]
at = 2
angle = 84
treatment = "bevel"
slope = 40
land = 1.2

[scale]
thickness = 6.2
crown = { radius = 30 }
swell = [[4, 5.6], [30, 6.2], [48, 5.8]]
edge = { treatment = "round", radius = 1.5 }
trim = 0.8

[[pin]]
at = [26, 0]
hardware = "pin 3mm"
"""


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A folder with the demo patterns and a small crowned, swelled one."""
    for path in PROFILES.iterdir():
        shutil.copy(path, tmp_path)
    (tmp_path / "shaped.toml").write_text(SHAPED, encoding="utf-8")
    return tmp_path


@pytest.fixture
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave volumes and what hangs on them out, which take nearly all the time and matter elsewhere."""
    monkeypatch.setattr("scalegen.study.scale_volumes", lambda _: None)


@pytest.fixture
def restock(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run a command: its code, output and errors."""

    def call(*words: str | Path, command: str = "restock") -> tuple[int, str, str]:
        code = main([command, *(str(word) for word in words)])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


def compared(restock: Call, *words: str | Path) -> dict[str, Any]:
    """Before, after and what changed."""
    code, out, err = restock(*words, "--json")
    assert code == 0, err
    data: dict[str, Any] = json.loads(out)
    return data


def test_a_bevel_keeps_its_slope_and_its_run_goes_by_trigonometry(bench: Path, restock: Call) -> None:
    """From 9.525 to 8.56 mm the run must go from (T - land) / tan 40 to that of the thinner scale."""
    data = compared(restock, bench / "harrier.toml", "--from", "9.525", "--measured", "8.56")
    assert data["before"]["thickness_mm"] == pytest.approx(6.2)
    assert data["after"]["thickness_mm"] == pytest.approx(6.2 - 0.965)
    for side, top in (("before", 6.2), ("after", 5.235)):
        assert data[side]["bevel_run_mm"] == pytest.approx((top - 1.2) / math.tan(math.radians(40)))
        assert data[side]["pin_1_cut_length_mm"] == pytest.approx(4 + 2 * top + 1.6)
    changed = {each["field"]: each for each in data["changed"]}
    assert set(changed["bevel_run_mm"]) == {"field", "before", "after", "rule"}
    assert changed["bevel_run_mm"]["rule"] == "as the slope is kept"
    assert "bevel_slope_deg" not in changed
    assert "faced_off_mm" not in changed


@pytest.mark.usefixtures("light")
def test_a_run_may_be_kept_instead(bench: Path, restock: Call) -> None:
    """With the run kept the slope must be atan((T - land) / run)."""
    words = ("--from", "9.525", "--measured", "8.56", "--rule", "bevel=keep run")
    data = compared(restock, bench / "harrier.toml", *words)
    run = 5.0 / math.tan(math.radians(40))
    assert data["after"]["bevel_run_mm"] == pytest.approx(run)
    assert data["after"]["bevel_slope_deg"] == pytest.approx(math.degrees(math.atan2(5.235 - 1.2, run)))


@pytest.mark.usefixtures("light")
def test_a_crown_by_each_rule(bench: Path, restock: Call) -> None:
    """Kept, a crown stays; shared, its height goes with the thickness; with its sides kept it takes it all.

    Source: circle, height = R - sqrt(R^2 - w^2).
    """
    words = (bench / "shaped.toml", "--from", "9.0", "--measured", "8.7")
    kept = compared(restock, *words)
    assert kept["after"]["crown_radius_mm"] == pytest.approx(30.0)
    assert kept["after"]["crown_height_mm"] == pytest.approx(kept["before"]["crown_height_mm"])
    height, top = kept["before"]["crown_height_mm"], kept["before"]["thickness_mm"]
    half = math.sqrt(30**2 - (30 - height) ** 2)
    shared = compared(restock, *words, "--rule", "crown=share")
    sides = compared(restock, *words, "--rule", "crown=keep sides")
    for data, want in ((shared, height * (top - 0.3) / top), (sides, height - 0.3)):
        assert data["after"]["crown_height_mm"] == pytest.approx(want)
        assert data["after"]["crown_radius_mm"] == pytest.approx((half**2 + want**2) / (2 * want))


@pytest.mark.parametrize("name", ["siskin", "shaped"])
def test_the_same_stack_changes_nothing(bench: Path, restock: Call, name: str) -> None:
    """Carried over to the stack it was made for, a pattern must not change."""
    words = (bench / f"{name}.toml", "--from", "9.0mm", "--measured", "9.0mm")
    assert compared(restock, *words)["changed"] == []


@pytest.mark.usefixtures("light")
@pytest.mark.parametrize("rules", [(), ("swell=share", "sizes=share", "land=share")])
def test_there_and_back_is_the_first_pattern_again(
    bench: Path, restock: Call, rules: tuple[str, ...]
) -> None:
    """A variant carried back to the first stack must have the first numbers again, and never other places."""
    more = [word for rule in rules for word in ("--rule", rule)]
    code, out, err = restock(
        bench / "shaped.toml", "--from", "9.0", "--measured", "8.6", "--save", "thin", *more
    )
    assert code == 0, err
    assert "scalegen make" in out
    back = restock(bench / "thin.toml", "--from", "8.6", "--measured", "9.0", "--save", "again", *more)
    assert back[0] == 0, back[2]
    first, thin, again = (read_pattern(bench / f"{name}.toml") for name in ("shaped", "thin", "again"))
    # The swell's own highest place stands a little above its highest station.
    assert again.thickness_mm == pytest.approx(first.thickness_mm, abs=2e-3)
    assert again.edge.size_mm == pytest.approx(first.edge.size_mm, abs=2e-3)
    assert [t for _, t in again.face.swell] == pytest.approx([t for _, t in first.face.swell], abs=2e-3)
    assert thin.thickness_mm == pytest.approx(5.8, abs=0.01)
    for other in (thin, again):
        assert other.outline == first.outline
        assert (other.trim_mm, other.back_allowance_mm) == (first.trim_mm, first.back_allowance_mm)
        assert [pin.at_mm for pin in other.pins] == [pin.at_mm for pin in first.pins]
        assert (other.front.at_mm, other.front.angle_rad) == (first.front.at_mm, first.front.angle_rad)


@pytest.mark.usefixtures("light")
def test_a_variant_keeps_the_comments_and_never_writes_over(bench: Path, restock: Call) -> None:
    """The variant's file must say where it is from, keep the text, and be refused where one is already."""
    words = (bench / "harrier.toml", "--from", "9.525", "--measured", "8.56", "--save")
    assert restock(*words, "slim")[0] == 0
    text = (bench / "slim.toml").read_text(encoding="utf-8")
    assert text.startswith("# Variant of harrier.toml for a stack of 8.56 mm")
    assert "# Rules: thickness = follow, bevel = keep slope, " in text
    assert "# tube for a lanyard" in text
    assert "thickness = 5.235" in text
    code, _, err = restock(*words, "slim")
    assert (code, "is there already" in err) == (2, True)
    assert restock(*words, "slim", "--force")[0] == 0
    assert restock(*words, "harrier", "--force")[0] == 2
    assert restock(bench / "slim.toml", "--measured", "8.56", command="check")[0] == 0


@pytest.mark.usefixtures("light")
@pytest.mark.parametrize("stack", ["0.337in", "1/4in", "12mm"])
@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_a_design_for_three_eighths(bench: Path, restock: Call, name: str, stack: str) -> None:
    """A design for 3/8 in stock must go through on 0.337 in, 1/4 in and 12 mm, or say why not.

    Common practice, no source: a guess of the bonded thickness is off by up to a tenth.
    """
    code, out, err = restock(bench / f"{name}.toml", "--from", "3/8in", "--measured", stack, "--json")
    assert code in {0, 4, 6}, err
    data = json.loads(out)
    if code:
        assert "what to do" in err
        assert any(finding["level"] == "stop" for finding in data["after"]["findings"])
    moved = {"0.337in": 0.337 - 0.375, "1/4in": 0.25 - 0.375, "12mm": 12 / INCH - 0.375}[stack] * INCH
    assert data["after"]["thickness_mm"] - data["before"]["thickness_mm"] == pytest.approx(moved)


def test_rules_that_are_none_are_refused(bench: Path, restock: Call) -> None:
    """A misspelt rule must be refused with those there are."""
    code, _, err = restock(bench / "harrier.toml", "--measured", "8", "--rule", "bevel=keep slop")
    assert code == 2
    assert "keep slope or keep run" in err


@pytest.mark.usefixtures("light")
def test_a_scale_as_thick_as_its_stack_always_follows_it(bench: Path, restock: Call) -> None:
    """Where the thickness is "stack", asking to keep it must not be reported as kept."""
    text = (bench / "harrier.toml").read_text(encoding="utf-8")
    whole = text.replace("thickness = 6.2", 'thickness = "stack"')
    assert whole != text
    (bench / "whole.toml").write_text(whole, encoding="utf-8")
    words = ("--from", "6.5", "--measured", "6.3", "--rule", "thickness=keep")
    data = compared(restock, bench / "whole.toml", *words)
    changed = {each["field"]: each for each in data["changed"]}
    assert changed["thickness_mm"]["after"] - changed["thickness_mm"]["before"] == pytest.approx(-0.2)
    assert changed["thickness_mm"]["rule"] == "follows the stack"


@pytest.mark.usefixtures("light")
def test_places_never_move(bench: Path) -> None:
    """Outlines, front line and pins must be the same to the last digit on another stack."""
    before = study_pattern(bench / "shaped.toml", JobSpec(measured_mm=(9.0,)))
    after = compare(before, JobSpec(measured_mm=(8.4,))).after
    for ring in ("tang", "finished", "as_cut"):
        assert (getattr(before.scale, ring).rows == getattr(after.scale, ring).rows).all()
    assert [hole.at_mm for hole in after.scale.holes] == [hole.at_mm for hole in before.scale.holes]
    assert [hole.hole_mm for hole in after.scale.holes] == [hole.hole_mm for hole in before.scale.holes]


def test_what_must_not_be_cut_is_not_kept(bench: Path, restock: Call) -> None:
    """A stack that leaves nothing of the bevel must stop with code 6, and no variant be written."""
    code, _, err = restock(bench / "harrier.toml", "--from", "6.9", "--measured", "1.8", "--save", "flat")
    assert code == 6, err
    assert "what to do" in err
    assert not (bench / "flat.toml").exists()


@pytest.mark.usefixtures("light")
def test_a_liner_keeps_its_step_and_its_wall_follows(bench: Path, restock: Call) -> None:
    """Over a thinner stack the step must stay in number and file, and the wall above it shrink.

    By hand: the liner ends 0.7 mm above the back. At first the front's land of 3.5 mm comes lowest, over the
    thinner stack the flange of the 2.5 mm round-over on 5.7 mm; on a scale of 3.2 mm there is no room.
    """
    text = (PROFILES / "harrier.toml").read_text(encoding="utf-8")
    text = text.replace("land = 1.2", "land = 3.5").replace("trim =", "liner = { step = -0.5 }\ntrim =")
    (bench / "harrier.toml").write_text(text, encoding="utf-8")
    words = (bench / "harrier.toml", "--from", "6.9", "--measured", "6.4")
    data = compared(restock, *words)
    assert (data["before"]["liner_step_mm"], data["after"]["liner_step_mm"]) == (-0.5, -0.5)
    assert data["before"]["wall_over_liner_mm"] == pytest.approx(3.5 - 0.7)
    assert data["after"]["wall_over_liner_mm"] == pytest.approx(5.7 - 2.5 - 0.7)
    changed = {each["field"]: each["rule"] for each in data["changed"]}
    assert changed["wall_over_liner_mm"] == "what edge and front leave above the liner"
    assert "liner_step_mm" not in changed
    code, _, err = restock(*words, "--save", "thin")
    assert code == 0, err
    assert read_pattern(bench / "thin.toml").liner == read_pattern(bench / "harrier.toml").liner
    thin = compare(study_pattern(bench / "harrier.toml", JobSpec()), JobSpec(measured_mm=(3.9,)))
    assert "liner-step-does-not-fit" in {stop.code for stop in thin.after.stops}


@pytest.mark.usefixtures("light")
def test_a_rule_of_the_command_line_is_kept_in_the_variant(bench: Path, restock: Call) -> None:
    """The variant must go by the rules it was made with: under [restock], and on the next stack too."""
    words = (bench / "shaped.toml", "--from", "9.0", "--measured", "8.7", "--rule", "crown=keep sides")
    code, _, err = restock(*words, "--save", "thin")
    assert code == 0, err
    assert '[restock]\ncrown = "keep sides"' in (bench / "thin.toml").read_text(encoding="utf-8")
    assert read_pattern(bench / "thin.toml").restock == Restock(crown="keep sides")
    data = compared(restock, bench / "thin.toml", "--from", "8.7", "--measured", "8.6")
    assert data["after"]["crown_height_mm"] == pytest.approx(data["before"]["crown_height_mm"] - 0.1)


@pytest.mark.usefixtures("light")
def test_sheets_measured_before_bonding_tell_the_film_of_glue(bench: Path, restock: Call) -> None:
    """A stack of 6.85 mm from sheets of 0.79 and 5.96 mm has 0.10 mm of glue; make must be told of both."""
    words = (bench / "harrier.toml", "--measured", "6.85", "--sheets-measured", "0.79,5.96")
    assert compared(restock, *words)["after"]["bond_line_mm"] == pytest.approx(0.10)
    code, out, err = restock(*words, "--save", "slim")
    assert code == 0, err
    assert "--measured 6.85 --sheets-measured 0.79,5.96" in out


def test_stops_are_told_in_one_object(bench: Path, restock: Call) -> None:
    """With --json the comparison alone must be printed, its findings in it, and the code must say stop."""
    code, out, _ = restock(bench / "harrier.toml", "--measured", "3.0", "--json")
    assert code == 6
    record = json.loads(out)
    assert {"stop"} <= {finding["level"] for finding in record["after"]["findings"]}
