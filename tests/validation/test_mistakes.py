"""Mistakes that happen at the machine, on a demo job, held against hand arithmetic.

Siskin: a blank of 6.9 for a scale of 6.2, so 0.7 is faced off. Drills of 3.1 mm with points of 118 degrees,
the last cuts 0.2 below the blank, tape of 0.3 mm under it.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.machining.dry_run import DryRun
from scalegen.machining.touch_off import touch_off, touch_off_map
from scalegen.machining.wrong_thickness import on_blank
from scalegen.model import JobSpec
from scalegen.pipeline import lay_out, study_pattern
from scalegen.rehearsal import rehearse_sheet

ROOT = Path(__file__).parents[2]
BLANK, SCALE, BELOW, TAPE = 6.9, 6.2, 0.2, 0.3
POINT = 3.1 / 2 / math.tan(math.radians(59))


@pytest.fixture(scope="module")
def run() -> DryRun:
    """Two pairs of the demo, cut in thought."""
    spec = JobSpec(pairs=2, sheet_mm=(210.0, 80.0), measured_mm=(BLANK,))
    study = study_pattern(ROOT / "profiles" / "siskin.toml", spec)
    assert (study.scale.thickness_mm + study.scale.back_allowance_mm) == pytest.approx(SCALE)
    return rehearse_sheet(study, lay_out(study, spec)[0], spec, cell_mm=0.25)


def test_zeroed_on_the_faced_surface(run: DryRun) -> None:
    """Everything 6.9 - 6.2 too deep, wherever it is faced and no more; the bed by 0.7 + 0.2 - 0.3."""
    faced = np.isclose(run.shots[0].field.heights_mm, SCALE, atol=1e-4)
    errors = touch_off_map(2, run)
    assert faced.sum() * run.blank.cell_mm2 > 0.5 * 210 * 80
    assert np.allclose(errors[faced], BLANK - SCALE, atol=1e-4)
    row, col = (int(k) for k in np.argwhere(faced & (run.target.parts == 0))[0])
    place = (float(run.blank.xs_mm[col]), float(run.blank.ys_mm[row]))
    assert touch_off(place, 2, run).depth_error_mm == pytest.approx(0.7, abs=1e-4)
    if run.before(len(run.shots)).at_mm(place) == pytest.approx(SCALE, abs=1e-4):
        assert touch_off(place, len(run.shots), run).into_bed_mm == pytest.approx(0.6, abs=1e-4)


def test_zeroed_in_an_earlier_cut(run: DryRun) -> None:
    """A zero at any height h is 6.9 - h too deep and cuts 6.9 - h + 0.2 - 0.3 into the bed."""
    last = len(run.shots)
    heights = run.before(last).heights_mm
    low = (heights > 0.1) & (heights < SCALE - 0.1)
    for row, col in np.argwhere(low)[:: max(1, int(low.sum()) // 5)].tolist():
        place = (float(run.blank.xs_mm[col]), float(run.blank.ys_mm[row]))
        found, high = touch_off(place, last, run), float(heights[row, col])
        assert found.depth_error_mm == pytest.approx(BLANK - high, abs=1e-4)
        assert found.into_bed_mm == pytest.approx(BLANK - high + BELOW - TAPE, abs=1e-4)


def test_a_pad_faced_like_the_rest(run: DryRun) -> None:
    """A pad 6.2 high is no reference: each stage after it comes 6.9 - 6.2 too deep, wherever it is zeroed.

    Outlines go 0.7 + 0.2 - 0.3 into the bed, drills by their point more, and the rest not at all; the first
    stage was zeroed while the pad was whole.
    """
    (x0, y0, x1, y1) = pad = run.target.pad
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    shots = []
    for shot in run.shots:
        heights = shot.field.heights_mm.copy()
        heights[shot.field.window(pad)] = SCALE
        shots.append(replace(shot, field=shot.field.changed(heights)))
    faced = replace(run, shots=tuple(shots))
    into_bed = {"pin holes": 0.6 + POINT, "outlines": 0.6}
    assert {shot.name for shot in run.shots} > into_bed.keys()
    for number, shot in enumerate(run.shots, 1):
        assert touch_off(middle, number, run).depth_error_mm == 0
        found = touch_off(middle, number, faced)
        assert found.depth_error_mm == pytest.approx(0.7 if number > 1 else 0.0, abs=1e-4)
        assert found.into_bed_mm == pytest.approx(into_bed.get(shot.name, 0.0), abs=1e-3)


@pytest.mark.parametrize("thinner", [0.1, 0.4, 0.8])
def test_a_blank_thinner_than_planned(run: DryRun, thinner: float) -> None:
    """Zeroed on its pad every part is as much too low; the drill's point goes deepest into the bed."""
    found = on_blank(run, BLANK - thinner)
    assert found.too_deep_mm == pytest.approx(thinner, abs=1e-4)
    assert found.into_bed_mm == pytest.approx(thinner + BELOW + POINT - TAPE, abs=1e-3)
    assert found.not_free == ()


@pytest.mark.parametrize("thicker", [0.1, 0.4, 0.8])
def test_a_blank_thicker_than_planned(run: DryRun, thicker: float) -> None:
    """As much is left on top; above 0.2 the parts hang on by the rest, and holes are closed at their rim."""
    found = on_blank(run, BLANK + thicker)
    assert found.uncut_mm == pytest.approx(thicker, abs=1e-4)
    held = thicker > BELOW
    assert found.web_mm == pytest.approx(thicker - BELOW if held else 0.0, abs=1e-4)
    assert bool(found.not_free) == held


def test_zeroed_on_the_bed_a_wrong_blank_spares_the_bed(run: DryRun) -> None:
    """With Z from the bed the last cuts go as deep as planned, whatever the blank is."""
    for off in (-0.4, 0.4):
        found = on_blank(run, BLANK + off, reference="bed")
        assert found.into_bed_mm == pytest.approx(found.planned_into_bed_mm)
        assert found.not_free == ()
