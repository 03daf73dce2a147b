"""Several patterns on the same sheets: laid, checked, cut in thought and recorded as one job."""

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import shapely
from shapely import affinity

from scalegen.errors import SheetError, UsageError
from scalegen.export.drawings import footprints, sheet_drawing
from scalegen.laying import Laid, laid_together
from scalegen.machining.bridges import BLANK, Bridges, Held, TabsAsked, plan_shared_bridges
from scalegen.machining.dry_run import DryRun, gouged_mm, pad_untouched
from scalegen.machining.hold import freed, holds
from scalegen.machining.mixed import Plan, shared_stages
from scalegen.machining.stages import plan_stages
from scalegen.machining.tabs import tab_corners
from scalegen.model import JobSpec
from scalegen.outline.ring import Ring
from scalegen.rehearsal import rehearse_together
from scalegen.report.dxf_layers import shared_layer_records
from scalegen.report.sheet_picture import draw_sheet
from scalegen.sheet.layout import PLAIN, SheetLayout
from scalegen.sheet.mixed import Order, arranged_together
from scalegen.sheet.rows import blank_of
from scalegen.sheet.true_shapes import How
from scalegen.sheet.verify import verify
from scalegen.study import Study, study_pattern
from scalegen.together import Wanted, joined_name, require_alike

PROFILES = Path(__file__).parents[2] / "profiles"
SPEC = JobSpec(margin_mm=3.0)
COUNTS = [(2, 0), (1, 1)]


@pytest.fixture(scope="module")
def studies() -> list[Study]:
    """Two demos for one stack."""
    return [study_pattern(PROFILES / f"{name}.toml", SPEC) for name in ("siskin", "harrier")]


@pytest.fixture(scope="module")
def laid(studies: list[Study]) -> Laid:
    """Two pairs of each on as few sheets as are found."""
    return laid_together(studies, COUNTS, SPEC)


@pytest.fixture(scope="module")
def roomy(studies: list[Study]) -> SheetLayout:
    """Three pairs and two on one sheet, with a frame that tabs can lead to."""
    (layout,) = laid_together(studies, [(3, 0), (2, 0)], replace(SPEC, margin_mm=8.0)).layouts
    return layout


def _polygon(study: Study, side: str) -> shapely.Polygon:
    left = shapely.Polygon(study.scale.footprint.flatten(1e-4))
    return left if side == "left" else affinity.scale(left, yfact=-1, origin=(0, 0))


def test_every_pair_lies_there_once_and_apart(studies: list[Study], laid: Laid) -> None:
    """Measured with shapely alone: counts, labels, 4.175 mm (cutter and clearance) between all."""
    by_name = {study.scale.pattern.name: study for study in studies}
    places = [(layout, place) for layout in laid.layouts for place in layout.placements]
    assert Counter((p.pattern, p.side) for _, p in places) == dict.fromkeys(
        [(name, side) for name in by_name for side in ("left", "right")], 2
    )
    assert sorted(p.label for _, p in places) == sorted(f"{k}{s}" for k in range(1, 5) for s in "LR")
    for layout in laid.layouts:
        pad = layout.pad
        shapes = [shapely.box(pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm)]
        for place in layout.placements:
            turned = affinity.rotate(
                _polygon(by_name[place.pattern], place.side), place.angle_rad, origin=(0, 0), use_radians=True
            )
            shapes.append(affinity.translate(turned, place.x_mm, place.y_mm))
        inside = shapely.box(3, 3, layout.length_mm - 3, layout.width_mm - 3).buffer(1e-6)
        assert all(inside.contains(shape) for shape in shapes)
        gaps = [one.distance(other) for k, one in enumerate(shapes) for other in shapes[k + 1 :]]
        assert min(gaps) >= 4.175 - 1e-3


def test_partners_are_of_one_pattern(laid: Laid) -> None:
    """A pair is never of two patterns, and lies on one sheet."""
    for layout in laid.layouts:
        pairs: dict[str, set[str]] = {}
        for place in layout.placements:
            pairs.setdefault(place.label[:-1], set()).add(place.pattern)
        assert all(len(patterns) == 1 for patterns in pairs.values())


def test_the_check_sees_the_other_pattern(studies: list[Study], laid: Laid) -> None:
    """Laid for the wrong outline, or with partners of two patterns, a layout does not pass."""
    first, second = (footprints(study.scale) for study in studies)
    names = [study.scale.pattern.name for study in studies]

    def faults(others: dict[str, Any], layouts: tuple[SheetLayout, ...] = laid.layouts) -> tuple[str, ...]:
        return verify(
            layouts, first, spacing_mm=4.175, margin_mm=3, keep_clear_mm=4.175, pairs=4, others=others
        )

    assert faults({names[1]: second}) == ()
    larger = {side: Ring(ring.rows * [1.3, 1.3, 1.0]) for side, ring in second.items()}
    assert faults({names[1]: larger})
    layout = laid.layouts[0]
    swapped = replace(layout.placements[0], pattern="other")
    spoilt = replace(layout, placements=(swapped, *layout.placements[1:]))
    assert any("its partner of" in fault for fault in faults({names[1]: second}, (spoilt, *laid.layouts[1:])))


def test_bars_of_two_sizes_share_a_sheet_that_two_jobs_would_not() -> None:
    """Two pairs of long and two of short bars go on one sheet; as two jobs they would take two.

    By hand, with nothing between: a pair side by side is 99 x 40 or 49 x 40. On 200 x 81 two long pairs
    lie in one band of 40, two short ones and the pad of 10 x 10 in the other.
    """

    def bar(length: float) -> dict[str, Ring]:
        ring = Ring.from_rows([(0, 0), (length, 0), (length, 20), (0, 20)])
        return {"left": ring, "right": Ring.from_rows([(0, -20), (length, -20), (length, 0), (0, 0)])}

    blank = blank_of(
        replace(SPEC.pad, width_mm=10, height_mm=10),
        PLAIN,
        size_mm=(200.0, 81.0),
        margin_mm=0.0,
        spacing_mm=0.0,
        keep_clear_mm=0.0,
        origin="lower-left",
    )
    orders = [
        Order(pattern="long", footprints=bar(99.0), pairs=2),  # type: ignore[arg-type]  # sides are words
        Order(pattern="short", footprints=bar(49.0), pairs=2),  # type: ignore[arg-type]  # as above
    ]
    found = arranged_together(orders, blank, How())
    assert len(found.layouts) == 1
    claim = found.layouts[0].claim
    assert claim is not None
    assert claim.proven
    assert claim.bound_pairs == 4


def test_what_finds_no_room_is_named(studies: list[Study]) -> None:
    """A sheet for the small pattern alone: the other is named with its count."""
    spec = replace(SPEC, sheet_mm=(140.0, 70.0))
    with pytest.raises(SheetError, match="of 1 of harrier"):
        laid_together(studies, [(1, 0), (1, 0)], spec)


def test_stages_that_are_one_run_are_one_stage(studies: list[Study]) -> None:
    """The same drill and the same way round the parts are shared; the rest says whose it is."""
    plans = [Plan(scale=each.scale, stages=plan_stages(each.scale, SPEC, each.shop)) for each in studies]
    shared = shared_stages(plans)
    names = [each.stage.name for each in shared]
    assert names.count("outlines") == 1
    assert len(next(each for each in shared if each.stage.name == "outlines").of) == 2
    facing = [each.stage for each in shared if each.stage.does == "face off"]
    assert [stage.to_mm for stage in facing] == sorted((stage.to_mm for stage in facing), reverse=True)
    assert sum(len(each.of) for each in shared) == sum(len(plan.stages) for plan in plans)
    assert len(set(names)) == len(names)


def test_the_dry_run_leaves_every_part_as_its_pattern_wants_it(studies: list[Study], laid: Laid) -> None:
    """Cut as planned, the pad stays whole, all parts come free, none is cut into, each as high as its own."""
    plans = [Plan(scale=each.scale, stages=plan_stages(each.scale, SPEC, each.shop)) for each in studies]
    high = {plan.name: plan.scale.thickness_mm + plan.scale.back_allowance_mm for plan in plans}
    assert len(set(high.values())) == 2
    for layout in laid.layouts:
        run = rehearse_together(plans, studies[0].shop, layout, cell_mm=0.4)
        assert all(pad_untouched(shot, run.target.blank_mm) for shot in run.shots)
        assert all(part.is_loose for part in holds(run)[-1].parts)
        assert gouged_mm(run.last, run.target.field.heights_mm, run.target.solid).max() < 0.05
        for number, place in enumerate(layout.placements):
            own = (run.target.parts == number) & run.target.solid
            assert float(run.last.heights_mm[own].max()) == pytest.approx(high[place.pattern], abs=1e-4)


def test_drawing_and_picture_have_all_patterns(studies: list[Study], laid: Laid) -> None:
    """Each placement gets the outline and the holes of its own pattern."""
    first, second = (study.scale for study in studies)
    for layout in laid.layouts:
        drawing = sheet_drawing(first, layout, "mm", (), {second.pattern.name: second})
        areas = sorted(shape.ring.area_mm2 for shape in drawing.layers["outline-as-cut"])  # type: ignore[union-attr]  # rings only
        due = sorted(
            {first.pattern.name: first, second.pattern.name: second}[each.pattern].as_cut.area_mm2
            for each in layout.placements
        )
        assert areas == pytest.approx(due)
        holes = sum(
            len((first if each.pattern == first.pattern.name else second).holes) for each in layout.placements
        )
        assert len(drawing.layers["pin-holes"]) == holes
        page = draw_sheet(first, layout, (), [second])
        texts = {getattr(shape, "text", "") for shape in page.drawn}
        assert {each.pattern for each in layout.placements} <= texts


def _tabs(studies: list[Study], layout: SheetLayout, *counts: int) -> Bridges:
    lots = [Held(scale=each.scale, asked=TabsAsked(count=k)) for each, k in zip(studies, counts, strict=True)]
    return plan_shared_bridges(lots, layout, 3.175)


def test_tabs_begin_and_end_at_the_scales_they_name(studies: list[Study], roomy: SheetLayout) -> None:
    """By shapely: foot on the outline of its own pattern, end in the named scale or off every cut."""
    by_name = {study.scale.pattern.name: study for study in studies}
    found = _tabs(studies, roomy, 2, 3)
    assert found.findings == ()
    parts = {}
    for place in roomy.placements:
        own = _polygon(by_name[place.pattern], place.side)
        turned = affinity.rotate(own, place.angle_rad, origin=(0, 0), use_radians=True)
        parts[place.label] = affinity.translate(turned, place.x_mm, place.y_mm)
    cut = shapely.union_all([part.buffer(3.175) for part in parts.values()])
    patterns = {place.label: place.pattern for place in roomy.placements}
    for bridge in found.bridges:
        corners = tab_corners(bridge.tab)
        web, end = shapely.Polygon(corners), shapely.LineString(corners[1:3])
        foot = shapely.Point(bridge.tab.x_mm, bridge.tab.y_mm)
        assert parts[bridge.label].exterior.distance(foot) < 0.02
        assert not end.intersects(cut) if bridge.to == BLANK else parts[bridge.to].contains(end)
        others = [part for label, part in parts.items() if label not in {bridge.label, bridge.to}]
        assert not any(web.intersects(part) for part in others)
    assert any(patterns[b.label] != patterns.get(b.to, patterns[b.label]) for b in found.bridges)
    # A tab between two scales counts for both, so that none has fewer than were asked for.
    ends = Counter(end for b in found.bridges for end in (b.label, b.to))
    assert all(ends[label] >= {"siskin": 2, "harrier": 3}[name] for label, name in patterns.items())


def test_no_tab_leads_to_a_scale_that_has_none(studies: list[Study], roomy: SheetLayout) -> None:
    """Where one pattern asks for none, its scales come free and hold nothing; the others hang on."""
    found = _tabs(studies, roomy, 3, 0)
    bare = {place.label for place in roomy.placements if place.pattern == "harrier"}
    assert found.bridges
    assert not bare & {end for bridge in found.bridges for end in (bridge.label, bridge.to)}
    run = _cut(studies, roomy, found)
    assert {part.label for part in holds(run)[-1].parts if part.is_loose} == bare
    after = freed(run)
    assert after is not None
    assert all(part.is_loose for part in after.parts)


def test_in_the_dry_run_tabs_of_both_patterns_hold(studies: list[Study], roomy: SheetLayout) -> None:
    """Every scale hangs in the blank to the end and is free once its tabs are cut; none is cut into."""
    run = _cut(studies, roomy, _tabs(studies, roomy, 2, 3))
    assert all(part.in_blank for part in holds(run)[-1].parts)
    after = freed(run)
    assert after is not None
    assert all(part.is_loose for part in after.parts)
    assert gouged_mm(run.last, run.target.field.heights_mm, run.target.solid).max() < 0.05
    assert all(pad_untouched(shot, run.target.blank_mm) for shot in run.shots)


def _cut(studies: list[Study], layout: SheetLayout, tabs: Bridges) -> DryRun:
    plans = [Plan(scale=each.scale, stages=plan_stages(each.scale, SPEC, each.shop)) for each in studies]
    return rehearse_together(plans, studies[0].shop, layout, cell_mm=0.25, tabs=tabs.tabs)


def test_the_layer_of_tabs_is_told_for_those_that_have_them(studies: list[Study], roomy: SheetLayout) -> None:
    """One row for both, 0.8 mm high; only the pattern's own name where the other has none."""
    scales = [study.scale for study in studies]
    shared = shared_stages(
        [Plan(scale=each.scale, stages=plan_stages(each.scale, SPEC, each.shop)) for each in studies]
    )
    for counts, due in (((2, 3), ["siskin", "harrier"]), ((0, 2), ["harrier"]), ((0, 0), None)):
        bridges = [_tabs(studies, roomy, *counts)]
        rows = shared_layer_records(scales, shared, [roomy], bridges)
        told = [row for row in rows if row["layer"] == "tabs"]
        assert [row["patterns"] for row in told] == ([] if due is None else [due])
        assert all(row["from_above_bed_mm"] == 0.8 for row in told)


def test_too_many_or_too_high_tabs_name_the_pattern(studies: list[Study], roomy: SheetLayout) -> None:
    """The number that goes is given with the name, as it is typed; a tab through the face stops."""
    short = [each for each in _tabs(studies, roomy, 20, 1).findings if each.code == "tabs-no-room"]
    own = {place.label for place in roomy.placements if place.pattern == "siskin"}
    assert {each.about for each in short} == own
    assert all("give --tabs siskin=" in each.remedy for each in short)
    lots = [
        Held(scale=studies[0].scale, asked=TabsAsked(count=1, height_mm=0.8)),
        Held(scale=studies[1].scale, asked=TabsAsked(count=1, height_mm=9.0)),
    ]
    (high,) = plan_shared_bridges(lots, roomy, 3.175).findings
    assert (high.code, high.level, high.about) == ("tab-height", "stop", "tabs of harrier")


def test_patterns_that_do_not_go_together_are_refused(studies: list[Study]) -> None:
    """Two of one name, another stack: each is told with what to do."""
    one, other = (Wanted(study=study, pairs=1) for study in studies)
    require_alike([one, other], SPEC)
    with pytest.raises(UsageError, match="two patterns are called"):
        require_alike([one, one], SPEC)
    third = Wanted(study=study_pattern(PROFILES / "curlew.toml", SPEC), pairs=1)
    with pytest.raises(UsageError, match="is for the stack linen-quarter"):
        require_alike([one, third], SPEC)
    assert joined_name([one, other]) == "siskin-harrier"
