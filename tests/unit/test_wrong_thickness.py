"""Jobs run on a blank of another thickness."""

from dataclasses import replace

import numpy as np
import pytest

from scalegen.errors import UsageError
from scalegen.machining.cuts import grown
from scalegen.machining.cutter_shape import flat
from scalegen.machining.dry_run import Cut, DryRun, run_stages
from scalegen.machining.field import blank_field, box_mask
from scalegen.machining.target import Target
from scalegen.machining.wrong_thickness import on_blank, over_spread
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


def test_the_planned_blank_comes_out_as_planned() -> None:
    """Nothing is left, nothing is short, all parts are free."""
    found = on_blank(job(6.9, 5.4), 6.9)
    assert found.verdict == "everything comes out as planned"
    assert (found.uncut_mm, found.too_deep_mm, found.web_mm, found.not_free) == (0.0, 0.0, 0.0, ())


def test_a_thicker_blank_is_not_cut_free_when_zeroed_on_the_pad() -> None:
    """0.5 more above a cut of 0.2 below the blank leaves a web of 0.3, and 0.5 too much on the face."""
    found = on_blank(job(6.9, 5.4), 7.4)
    assert found.web_mm == pytest.approx(0.3, abs=1e-5)
    assert found.uncut_mm == pytest.approx(0.5, abs=1e-5)
    assert found.not_free == ("1L",)
    assert "1L not free: 0.3 mm still joins" in found.verdict


def test_a_slightly_thicker_blank_still_comes_free() -> None:
    """What the cut goes below the blank covers 0.15 more."""
    assert on_blank(job(6.9, 5.4), 7.05).not_free == ()


def test_a_thinner_blank_loses_face_and_bed_when_zeroed_on_the_pad() -> None:
    """0.6 less makes parts 0.6 lower and cuts the bed 0.8; its face sheet is the one that is thinner."""
    found = on_blank(job(6.9, 5.4), 6.3)
    assert found.too_deep_mm == pytest.approx(0.6, abs=1e-5)
    assert found.too_deep_mm2 == pytest.approx(18 * 12, rel=1e-6)
    assert found.into_bed_mm == pytest.approx(0.8, abs=1e-5)
    liner, face = found.layers
    assert (liner.left_mm, liner.planned_mm) == pytest.approx((1.3, 1.3), abs=1e-5)
    assert (face.left_mm, face.planned_mm) == pytest.approx((3.5, 4.1), abs=1e-5)


def test_zeroed_on_the_bed_only_what_is_not_there_is_missing() -> None:
    """Thicker is faced off; thinner than the part falls short by the difference, the bed is spared."""
    run = job(6.9, 5.4)
    assert on_blank(run, 7.4, reference="bed").verdict == "everything comes out as planned"
    short = on_blank(run, 5.0, reference="bed")
    assert short.too_deep_mm == pytest.approx(0.4, abs=1e-5)
    assert short.into_bed_mm == pytest.approx(0.2, abs=1e-5)


def test_a_hole_that_does_not_go_through_is_told() -> None:
    """A hole of the part that keeps a skin closes it, and does not hold the part."""
    run = job(6.9, 5.4)
    target = run.target
    parts_hole = target.solid.copy()
    window = target.field.window((20.0, 10.0, 24.0, 14.0))
    swept = run.shots[1].swept_mm.copy()
    swept[window] = -0.2
    parts_hole[window] = False
    field = run.shots[1].field
    heights = np.minimum(field.heights_mm, swept)
    shot = replace(run.shots[1], swept_mm=swept, field=field.changed(heights))
    holed = replace(run, target=replace(target, solid=parts_hole), shots=(run.shots[0], shot))
    found = on_blank(holed, 7.4)
    assert found.closed_holes == ("1L",)
    assert on_blank(holed, 6.9).closed_holes == ()


def test_the_spread_gives_three_cases() -> None:
    """Least, measured and most, each as if run alone; without spread there is one."""
    run = job(6.9, 5.4)
    cases = over_spread(run, 6.9, 0.3)
    assert [case.actual_mm for case in cases] == pytest.approx([6.6, 6.9, 7.2])
    assert [case.verdict for case in cases] == [on_blank(run, case.actual_mm).verdict for case in cases]
    assert len(over_spread(run, 6.9, 0.0)) == 1


@pytest.mark.parametrize("actual", [0.0, -1.0, float("nan"), float("inf")])
def test_no_blank_cannot_be_cut(actual: float) -> None:
    """A thickness must be above 0."""
    with pytest.raises(UsageError, match="above 0"):
        on_blank(job(6.9, 5.4), actual)
