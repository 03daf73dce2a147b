"""Zeroing a cutter at any place of the blank."""

from dataclasses import replace

import numpy as np
import pytest

from scalegen.errors import UsageError
from scalegen.machining.cuts import grown
from scalegen.machining.cutter_shape import flat
from scalegen.machining.dry_run import Cut, DryRun, run_stages
from scalegen.machining.field import blank_field, box_mask
from scalegen.machining.target import Target
from scalegen.machining.touch_off import (
    cross_check,
    may_zero,
    probe_room_mm,
    touch_off,
    touch_off_map,
    within_travel,
)
from scalegen.model import Layer

PAD = (2.0, 2.0, 8.0, 8.0)
PART = (14.0, 6.0, 32.0, 18.0)
LINER = Layer(name="liner sheet", kind="liner", thickness_mm=1.3, density_g_cm3=1.8, color="#000000")
FACE = Layer(name="face sheet", kind="face", thickness_mm=1.0, density_g_cm3=1.3, color="#000000")


def job(
    blank_mm: float,
    part_mm: float,
    *,
    floor_mm: float = 0.2,
    tape_mm: float = 0.0,
    facing: bool = True,
    cell_mm: float = 0.25,
) -> DryRun:
    """One box of a part, faced off to its height and cut out with a flat cutter of 3 mm."""
    blank = blank_field(40.0, 24.0, blank_mm, cell_mm)
    part = box_mask(blank, PART)
    whole = np.where(part, np.float32(part_mm), np.float32(-floor_mm))
    whole[blank.window(PAD)] = blank_mm
    target = Target(
        field=blank.changed(whole),
        whole_mm=whole.copy(),
        blank_mm=blank_mm,
        floor_mm=floor_mm,
        blank=blank,
        parts=np.where(part, 0, -1).astype(np.int16),
        solid=part.copy(),
        labels=("1L",),
        pad=PAD,
    )
    path = grown(part, 1.5 + 1.5 * cell_mm, cell_mm) & ~grown(part, 1.5, cell_mm)
    outline = Cut(name="outlines", shape=flat(3.0), surface_mm=whole, where=path)
    face = Cut(
        name="face off",
        shape=flat(3.0),
        surface_mm=np.maximum(whole, np.float32(part_mm)),
        where=np.ones_like(part),
    )
    cuts = (face, outline) if facing else (outline,)
    layers = (LINER, replace(FACE, thickness_mm=blank_mm - LINER.thickness_mm))
    shots = run_stages(blank, cuts, PAD)
    return DryRun(target=target, shots=shots, layers=layers, tape_mm=tape_mm)


def test_on_the_pad_every_stage_is_right() -> None:
    """The pad keeps the blank's height, so a zero on it has no error and nothing is thinner."""
    run = job(6.9, 5.4)
    for stage in (1, 2):
        found = touch_off((5.0, 5.0), stage, run)
        assert found.depth_error_mm == 0
        assert found.verdict == "right: this place has the blank's full height"
        assert not any(layer.is_short for layer in found.thinnest_left_mm)


def test_a_zero_on_the_faced_surface_is_too_deep_by_the_facing() -> None:
    """After 1.5 mm of facing a zero anywhere but near the pad is 1.5 mm too deep."""
    run = job(6.9, 5.4)
    found = touch_off((20.0, 12.0), 2, run)
    assert found.depth_error_mm == pytest.approx(1.5, abs=1e-5)
    assert found.into_bed_mm == pytest.approx(1.7, abs=1e-5)
    assert found.verdict == "1.5 mm too deep; the bed is cut 1.7 mm"


def test_the_verdict_tells_error_liner_and_bed() -> None:
    """0.36 too deep with 0.5 of tape under a cut of 0.2 below the blank leaves 0.06 in the bed."""
    run = job(3.0, 3.0, floor_mm=0.2, tape_mm=0.5, facing=False)
    lowered = run.blank.heights_mm.copy()
    lowered[run.blank.window((30.0, 20.0, 31.0, 21.0))] = 2.64
    worn = replace(run, target=replace(run.target, blank=run.blank.changed(lowered)))
    found = touch_off((30.5, 20.5), 1, worn)
    assert found.verdict == "0.36 mm too deep; the bed is cut 0.06 mm"


def test_what_is_left_of_the_liner_is_told() -> None:
    """A stage that leaves exactly the liner leaves 0.9 of 1.3 mm when it is zeroed 0.4 mm too low."""
    run = job(1.7, 1.3)
    again = replace(run, shots=(run.shots[0], run.shots[0]))
    found = touch_off((20.0, 12.0), 2, again)
    assert found.depth_error_mm == pytest.approx(0.4, abs=1e-5)
    liner, face = found.thinnest_left_mm
    assert (liner.left_mm, liner.planned_mm) == pytest.approx((0.9, 1.3), abs=1e-5)
    assert (face.left_mm, face.planned_mm) == pytest.approx((0.0, 0.0), abs=1e-5)
    assert found.verdict == "0.4 mm too deep; 0.9 mm of liner left instead of 1.3 mm"


def test_where_nothing_is_left_the_bed_is_meant() -> None:
    """In the slot around a part the zero would be the tape or the bed."""
    run = job(6.9, 5.4, tape_mm=0.3)
    worn = replace(run, shots=(*run.shots, run.shots[-1]))
    found = touch_off((12.5, 12.0), 3, worn)
    assert found.depth_error_mm == pytest.approx(7.2, abs=1e-5)
    assert found.verdict.startswith("nothing is left to touch here")


def test_a_plate_rests_on_the_highest_spot_under_it() -> None:
    """Half over the pad, it has the pad's height, where the bare cutter would go down beside it."""
    run = job(6.9, 5.4)
    assert touch_off((9.5, 5.0), 2, run).depth_error_mm == pytest.approx(1.5, abs=1e-5)
    assert touch_off((9.5, 5.0), 2, run, probe_mm=6.0).depth_error_mm == 0


def test_inches_are_told_in_inches() -> None:
    """1.5 mm are 0.0591 in."""
    assert touch_off((20.0, 12.0), 2, job(6.9, 5.4), units="in").verdict.startswith("0.0591 in too deep")


@pytest.mark.parametrize(("at", "stage"), [((41.0, 5.0), 1), ((5.0, 5.0), 0), ((5.0, 5.0), 3)])
def test_places_and_stages_that_are_not_there_are_refused(at: tuple[float, float], stage: int) -> None:
    """Off the blank, before the first stage and after the last."""
    with pytest.raises(UsageError):
        touch_off(at, stage, job(6.9, 5.4))


@pytest.mark.parametrize("probe", [0.0, 4.0])
@pytest.mark.parametrize("stage", [1, 2])
def test_the_map_says_what_each_place_says(stage: int, probe: float) -> None:
    """Cell by cell the map is the error that is told for its middle."""
    run = job(6.9, 5.4, cell_mm=0.5)
    errors = touch_off_map(stage, run, probe_mm=probe)
    right = may_zero(stage, run, probe_mm=probe)
    for row, col in [(0, 0), (10, 10), (7, 19), (16, 9), (47, 79), (24, 40)]:
        at = (float(run.blank.xs_mm[col]), float(run.blank.ys_mm[row]))
        found = touch_off(at, stage, run, probe_mm=probe)
        assert errors[row, col] == pytest.approx(found.depth_error_mm, abs=1e-5)
        assert right[row, col] == (found.depth_error_mm == 0)


def test_room_on_the_pad_shrinks_with_a_nick() -> None:
    """A whole pad of 6 mm takes a plate of 6 mm; a cut through its middle leaves less than half."""
    run = job(6.9, 5.4)
    assert probe_room_mm(run.shots[0].field, PAD, 6.9) == pytest.approx(6.0)
    heights = run.blank.heights_mm.copy()
    heights[run.blank.window((4.5, 0.0, 5.5, 10.0))] = 5.0
    assert probe_room_mm(run.blank.changed(heights), PAD, 6.9) == pytest.approx(2.5, abs=0.3)
    gone = np.full_like(heights, 5.0)
    assert probe_room_mm(run.blank.changed(gone), PAD, 6.9) == 0


@pytest.mark.parametrize(
    ("travel", "reached"),
    [((0, 0, 40, 24), True), ((5, 5, 40, 24), True), ((6.1, 0, 40, 24), False), ((0, 0, 3.9, 24), False)],
)
def test_the_axis_must_stand_over_the_pad(travel: tuple[float, float, float, float], reached: bool) -> None:
    """A plate of 4 mm on a pad from 2 to 8 mm wants the axis between 4 and 6."""
    assert within_travel(PAD, travel, 4.0) is reached


def test_bed_and_pad_check_each_other() -> None:
    """Within 0.05 they agree (common practice, no source); beyond, its way tells what to look for."""
    assert cross_check(6.92, 6.9).agrees
    high, low = cross_check(7.2, 6.9), cross_check(6.5, 6.9)
    assert not high.agrees
    assert high.difference_mm == pytest.approx(0.3)
    assert "0.3 mm higher" in high.verdict
    assert "under the blank" in high.verdict
    assert "0.4 mm lower" in low.verdict
    assert "thinner" in low.verdict
