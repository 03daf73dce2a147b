"""The dry run as a picture."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from scalegen.machining.dry_run import DryRun
from scalegen.machining.tabs import Tab
from scalegen.model import JobSpec, Pad
from scalegen.pipeline import lay_out, study_pattern
from scalegen.rehearsal import rehearse_sheet
from scalegen.report.picture_shapes import WHITE, Curve, Label
from scalegen.report.picture_svg import picture_svg
from scalegen.report.touch_off_picture import bands_of, blocks_of, draw_dry_run
from scalegen.sheet.layout import SheetLayout

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"


@pytest.fixture(scope="module")
def cut() -> tuple[DryRun, SheetLayout]:
    """One pair of the first demo pattern, faced off by 0.7 mm."""
    spec = JobSpec(measured_mm=(6.9,), sheet_mm=(130.0, 90.0), pad=Pad(width_mm=12.0, height_mm=12.0))
    study = study_pattern(SISKIN, spec)
    layout = lay_out(study, spec)[0]
    return rehearse_sheet(study, layout, spec, cell_mm=0.25), layout


def test_blocks_cover_every_cell_once_with_its_step() -> None:
    """Painted one by one, the blocks give the grid back, and no cell is painted twice."""
    rng = np.random.default_rng(5)
    bands = rng.integers(-1, 3, (23, 31)).astype(np.int8)
    bands[4:9, 3:20] = 2
    painted, times = np.full_like(bands, 9), np.zeros(bands.shape, dtype=int)
    blocks = blocks_of(bands)
    for first, beyond, left, right, band in blocks:
        painted[first:beyond, left:right] = band
        times[first:beyond, left:right] += 1
    assert (painted == bands).all()
    assert (times == 1).all()
    assert len(blocks) < bands.size


def test_steps_rise_with_the_error() -> None:
    """Right is step 0, off the blank is none, nothing left is the last; deeper is never a lower step."""
    below = np.array([[0.0, 0.004, 0.05, 0.7, 3.0, 6.9, np.inf, np.nan]], dtype=np.float32)
    bands = bands_of(below, 6.9)[0].tolist()
    assert bands[:2] == [0, 0]
    assert bands[2:6] == sorted(set(bands[2:6]))
    assert bands[5] == bands[6] == max(bands)
    assert bands[7] == -1


def test_each_stage_has_its_two_maps_with_numbers(cut: tuple[DryRun, SheetLayout]) -> None:
    """Titles name every stage, and numbers say 0 on the pad and 0.70 on the faced blank: 6.9 - 6.2."""
    run, layout = cut
    page = draw_dry_run(run, layout, "Siskin", "mm")
    texts = [shape.text for shape in page.drawn if isinstance(shape, Label)]
    for number, shot in enumerate(run.shots, 1):
        assert any(text.startswith(f"{number} {shot.name}") for text in texts)
        assert any(text.startswith(f"left after {number} {shot.name}") for text in texts)
    assert texts.count("0") == 2 * len(run.shots)
    assert texts.count("0.70") >= 2 * len(run.shots) - 1


def test_numbers_stand_on_one_step_alone(cut: tuple[DryRun, SheetLayout]) -> None:
    """Under the white plate of a number lies one grey and no other, so that none runs into a cut."""
    run, layout = cut
    shapes = [each for each in draw_dry_run(run, layout, "Siskin", "mm").drawn if isinstance(each, Curve)]
    plain = [(shapely.Polygon(each.rows[:, :2]), each.fill) for each in shapes if each.pen is None]
    plates = [area for area, fill in plain if fill == WHITE]
    greys = [(area, fill) for area, fill in plain if fill != WHITE]
    # Each map but the first has at least the faced blank and both scales to tell of.
    assert len(plates) >= 2 * len(run.shots) - 1
    for plate in plates:
        under = [(area.intersection(plate), fill) for area, fill in greys if area.intersects(plate)]
        covered = shapely.union_all([area for area, _ in under]).area
        assert covered == pytest.approx(plate.area)
        # Seams of 0.03 mm overlap a neighbour.
        assert len({fill for area, fill in under if area.area > 0.03 * 1.1 * plate.length / 2}) == 1


def test_tabs_are_seen_after_the_last_stage(cut: tuple[DryRun, SheetLayout]) -> None:
    """One white bar with a rim for each tab, as wide as the tab, and words that say what bars are."""
    run, layout = cut
    tab = Tab(x_mm=60.0, y_mm=70.0, out_rad=1.0, width_mm=3.0, length_mm=5.0)
    page = draw_dry_run(replace(run, tabs=(tab, replace(tab, x_mm=90.0))), layout, "Siskin", "mm")
    whites = [each for each in page.drawn if isinstance(each, Curve) and each.fill == WHITE and each.pen]
    bars = [each for each in whites if len(each.rows) == 4 and each.rows[0, 0] != each.rows[3, 0]]
    ratios = [np.hypot(*(each.rows[1] - each.rows[0])[:2]) for each in bars]
    assert len(bars) == 2
    assert ratios == pytest.approx([5.0 * (280 - 16 - 8) / 2 / 130.0] * 2)
    assert any("tabs" in each.text for each in page.drawn if isinstance(each, Label))
    plain = draw_dry_run(run, layout, "Siskin", "mm")
    assert not any("tabs" in each.text for each in plain.drawn if isinstance(each, Label))


def test_inches_are_said_in_inches(cut: tuple[DryRun, SheetLayout]) -> None:
    """0.7 mm is 0.028 in, and the page says which unit it uses."""
    run, layout = cut
    texts = [shape.text for shape in draw_dry_run(run, layout, "S", "in").drawn if isinstance(shape, Label)]
    assert "0.028" in texts
    assert any("Numbers are in." in text for text in texts)


def test_the_page_can_be_written_and_keeps_inside(cut: tuple[DryRun, SheetLayout]) -> None:
    """Labels lie on the page, and the drawing is the same each time."""
    run, layout = cut
    page = draw_dry_run(run, layout, "Siskin", "mm")
    for shape in page.drawn:
        if isinstance(shape, Label):
            assert 0 < shape.at_mm[0] < page.width_mm
            assert 0 < shape.at_mm[1] < page.height_mm
    assert picture_svg(page) == picture_svg(draw_dry_run(run, layout, "Siskin", "mm"))
