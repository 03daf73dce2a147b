"""Unlike blanks in one job: what is at hand first, each once, and as few new ones as can be."""

from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
from shapely import affinity

from scalegen.errors import SheetError, UsageError
from scalegen.export.drawings import footprints
from scalegen.laying import laid_out
from scalegen.model import JobSpec, KeepOut, Reading, Remnant, Shop
from scalegen.model.job import Rest
from scalegen.outline.blank import box_rows
from scalegen.pattern.batch import read_batch
from scalegen.pipeline import study_pattern
from scalegen.rests import laid_on_rests, laid_together_on_rests
from scalegen.sheet.layout import pair_count
from scalegen.sheet.verify import verify
from scalegen.sheet_options import SheetTyped, on_sheet
from scalegen.shop import load_shop
from scalegen.shop.from_remnant import with_remnant

ROOT = Path(__file__).parents[2]
STUDY = study_pattern(ROOT / "profiles" / "siskin.toml", JobSpec())
OWN = JobSpec(sheet_mm=(300.0, 150.0))
ONE, NONE = Rest(sheet_mm=(160.0, 90.0)), Rest(sheet_mm=(60.0, 60.0))


def most(sheet_mm: tuple[float, float]) -> int:
    """Pairs found to go on a plain blank."""
    return laid_out(STUDY, JobSpec(sheet_mm=sheet_mm, fill=True)).spec.pairs


def test_what_is_at_hand_is_filled_first() -> None:
    """New blanks are as few as the pairs left over by full rests take, and labels run through all."""
    small, large = most((160.0, 90.0)), most((300.0, 150.0))
    assert small >= 1
    pairs = small + large + 1
    laid = laid_on_rests(STUDY, replace(OWN, rests=(ONE,), pairs=pairs - 1, spares=1))
    sizes = [(each.length_mm, each.width_mm) for each in laid.layouts]
    assert sizes == [(160.0, 90.0), (300.0, 150.0), (300.0, 150.0)]
    assert [pair_count([each]) for each in laid.layouts] == [small, large, 1]
    assert [each.name for each in laid.layouts] == ["sheet-1", "sheet-2", "sheet-3"]
    labels = [place.label for each in laid.layouts for place in each.placements]
    assert labels == [f"{pair}{side}" for pair in range(1, pairs + 1) for side in "LR"]
    assert (laid.spec.pairs, laid.spec.spares) == (pairs - 1, 1)


def test_all_the_sheets_pass_the_check_as_one_job() -> None:
    """The independent check knows nothing of kinds of blanks and finds nothing wrong with them."""
    laid = laid_on_rests(STUDY, replace(OWN, rests=(ONE,), pairs=5))
    first = laid.layouts[0]
    faults = verify(
        laid.layouts,
        footprints(STUDY.scale),
        spacing_mm=first.spacing_mm,
        margin_mm=first.margin_mm,
        keep_clear_mm=first.keep_clear_mm,
        pairs=5,
    )
    assert not faults


def test_a_rest_without_room_and_one_not_needed_are_told() -> None:
    """Both are left as they are, and named; the job goes on."""
    laid = laid_on_rests(STUDY, replace(OWN, rests=(NONE, ONE, Rest(sheet_mm=(200.0, 100.0))), pairs=1))
    assert [(each.length_mm, each.width_mm) for each in laid.layouts] == [(160.0, 90.0)]
    told = [finding.message for finding in laid.findings if finding.code == "sheet-untouched"]
    assert len(told) == 2
    assert "60 x 60 mm takes none" in told[0]
    assert "200 x 100 mm is not needed" in told[1]


def test_as_many_as_go_takes_every_sheet_once() -> None:
    """The number counted is that of all blanks together."""
    laid = laid_on_rests(STUDY, replace(OWN, rests=(ONE,), fill=True))
    assert laid.spec.pairs == most((160.0, 90.0)) + most((300.0, 150.0))
    assert not laid.spec.fill


BOTH = (STUDY, study_pattern(ROOT / "profiles" / "harrier.toml", JobSpec()))
ASKED = JobSpec(sheet_mm=(300.0, 150.0), rests=(Rest(sheet_mm=(200.0, 100.0)), NONE, ONE))


def test_several_patterns_share_blanks_of_several_kinds() -> None:
    """Counted and measured with shapely alone: every pair once, 4.175 mm between scales, pads off all."""
    laid = laid_together_on_rests(BOTH, (3, 3), ASKED)
    sizes = [(each.length_mm, each.width_mm) for each in laid.layouts]
    assert sizes[:2] == [(200.0, 100.0), (160.0, 90.0)]
    assert set(sizes[2:]) == {(300.0, 150.0)}
    assert [each.name for each in laid.layouts] == [f"sheet-{k}" for k in range(1, len(sizes) + 1)]
    places = [place for each in laid.layouts for place in each.placements]
    assert sorted(place.label for place in places) == sorted(f"{k}{s}" for k in range(1, 7) for s in "LR")
    assert Counter(place.pattern for place in places) == {"siskin": 6, "harrier": 6}
    rings = {each.scale.pattern.name: footprints(each.scale) for each in BOTH}
    for layout in laid.layouts:
        pad = layout.pad
        shapes = [shapely.box(pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm)]
        for place in layout.placements:
            own = shapely.Polygon(rings[place.pattern][place.side].flatten(1e-4))
            turned = affinity.rotate(own, place.angle_rad, origin=(0, 0), use_radians=True)
            shapes.append(affinity.translate(turned, place.x_mm, place.y_mm))
        gaps = [one.distance(other) for k, one in enumerate(shapes) for other in shapes[k + 1 :]]
        assert min(gaps) >= 4.175 - 1e-3
        assert shapely.box(0, 0, layout.length_mm, layout.width_mm).covers(shapely.union_all(shapes))
    told = [finding.message for finding in laid.findings if finding.code == "sheet-untouched"]
    assert [words.split(":")[0] for words in told] == ["the sheet of 60 x 60 mm takes none of the pairs"]


def test_several_patterns_on_remnants_alone_say_how_many_go() -> None:
    """Each remnant is taken once and keeps its number; what does not go on them is refused."""
    spec = with_remnant(JobSpec(rests=(Rest(remnant="R1"),), remnant="R2"), shop())
    laid = laid_together_on_rests(BOTH, (1, 1), spec)
    assert [each.remnant for each in laid.layouts] == ["R1", "R2"]
    assert {place.pattern for each in laid.layouts for place in each.placements} == {"siskin", "harrier"}
    with pytest.raises(SheetError, match="room was found for 2 pairs on remnant R1, remnant R2, and 6 are"):
        laid_together_on_rests(BOTH, (1, 5), spec)


REMNANTS = {
    number: Remnant(
        number=number,
        stack="paper-six",
        outline=box_rows(5, 5, 160, 90),
        zones=(),
        measured_mm=(thick,),
        readings=(Reading(thickness_mm=thick, x_mm=20.0, y_mm=25.0),),
    )
    for number, thick in (("R1", 6.9), ("R2", 6.87), ("R3", 6.2))
}


def shop() -> Shop:
    """The bundled tables with three remnants of one size, the third thinner."""
    return replace(load_shop(None), remnants=REMNANTS)


def test_remnants_alone_hold_what_they_hold() -> None:
    """Two remnants take their pairs, each with its number; one pair more is refused with how many go."""
    spec = with_remnant(JobSpec(rests=(Rest(remnant="R1"),), remnant="R2"), shop())
    assert spec.measured_mm == (6.9, 6.87)
    both = 2 * most((160.0, 90.0))
    laid = laid_on_rests(STUDY, replace(spec, pairs=both))
    assert [each.remnant for each in laid.layouts] == ["R1", "R2"]
    assert all(one.at_hand != other.at_hand for one, other in pairwise(laid.layouts))
    with pytest.raises(SheetError, match=f"room was found for {both} pairs on remnant R1, remnant R2"):
        laid_on_rests(STUDY, replace(spec, pairs=both + 1))


def test_one_job_counts_on_one_thickness() -> None:
    """Remnants 0.7 mm apart are refused, and readings of some blanks alone; readings of all do."""
    with pytest.raises(UsageError, match=r"R3 measures 6\.20 mm and R1 6\.90 mm"):
        with_remnant(JobSpec(rests=(Rest(remnant="R1"),), remnant="R3"), shop())
    mixed = replace(OWN, rests=(Rest(remnant="R3"),))
    with pytest.raises(UsageError, match="the others have none"):
        with_remnant(mixed, shop())
    spec = with_remnant(replace(mixed, measured_mm=(6.9, 6.88)), shop())
    assert (spec.measured_mm, spec.rests[0].sheet_mm) == ((6.9, 6.88), (160.0, 90.0))
    with pytest.raises(UsageError, match="was bonded as"):
        with_remnant(replace(mixed, stock="linen-quarter"), shop())
    with pytest.raises(UsageError, match="named twice"):
        with_remnant(JobSpec(rests=(Rest(remnant="R1"),), remnant="R1"), shop())
    with pytest.raises(UsageError, match="the remnants are"):
        with_remnant(replace(mixed, rests=(Rest(remnant="R9"),)), shop())


def test_a_flaw_needs_to_know_its_sheet() -> None:
    """Places kept out of are refused, and so are spares beside as many as go."""
    with pytest.raises(UsageError, match="on which of the sheets"):
        laid_on_rests(STUDY, replace(OWN, rests=(ONE,), keep_out=(KeepOut(rows=box_rows(1, 1, 9, 9)),)))
    with pytest.raises(UsageError, match="as many pairs as the sheets take"):
        laid_on_rests(STUDY, replace(OWN, rests=(ONE,), fill=True, spares=1))
    with pytest.raises(SheetError, match="between parts"):
        laid_on_rests(STUDY, replace(OWN, rests=(ONE,), spacing_mm=1.0))


def test_typed_sheets_are_put_in_order() -> None:
    """Remnants come first, and the last other one is taken as often as needed."""
    typed = SheetTyped(sheets=("200x100", "remnant:R1", "300x150", "Remnant: R2"))
    spec = on_sheet(JobSpec(remnant="R7", rests=(ONE,)), typed, "mm")
    assert [rest.remnant for rest in spec.rests] == ["R1", "R2", None]
    assert (spec.rests[2].sheet_mm, spec.sheet_mm, spec.remnant) == ((200, 100), (300, 150), None)


def test_a_batch_file_names_its_rests(tmp_path: Path) -> None:
    """Each under [[sheet.use]]: a remnant, a size, or an outline."""
    path = tmp_path / "job.toml"
    (tmp_path / "a.toml").write_text("", encoding="utf-8")
    rows = "[[0, 0], [90, 0], [90, 50]]"
    uses = (
        f'[[sheet.use]]\nremnant = "R1"\n[[sheet.use]]\nsize = [160, 90]\n[[sheet.use]]\noutline = {rows}\n'
    )
    path.write_text(
        f'units = "mm"\n[job]\npatterns = ["a.toml"]\n[sheet]\nsize = [300, 150]\n{uses}', encoding="utf-8"
    )
    _, spec = read_batch(path)
    assert spec.sheet_mm == (300, 150)
    assert [(rest.remnant, rest.sheet_mm) for rest in spec.rests] == [
        ("R1", None),
        (None, (160, 90)),
        (None, (90, 50)),
    ]


def test_places_of_readings_that_go_for_no_blank_are_told() -> None:
    """The smallest reading counts and a note says why; nothing is told where no place was given."""
    places = ((0.0, 0.0), (150.0, 0.0), (0.0, 80.0))
    placed = tuple(
        Reading(thickness_mm=t, x_mm=x, y_mm=y) for t, (x, y) in zip((6.9, 6.8, 6.85), places, strict=True)
    )
    measured = replace(OWN, measured_mm=(6.9, 6.8, 6.85))
    several = replace(measured, rests=(ONE,))
    bare = tuple(Reading(thickness_mm=each.thickness_mm) for each in placed)
    for spec, told in (
        (replace(several, readings=placed), 1),
        (replace(several, readings=bare), 0),
        (several, 0),
        (replace(measured, readings=placed), 0),
    ):
        study = study_pattern(ROOT / "profiles" / "siskin.toml", with_remnant(spec, shop()))
        notes = [each for each in study.findings if each.code == "readings-without-places"]
        assert [each.level for each in notes] == ["note"] * told
        assert study.scale.stack.used_mm == 6.8
