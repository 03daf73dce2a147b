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
from scalegen.guard import guarded_together
from scalegen.laying import Laid
from scalegen.laying_together import laid_together
from scalegen.machining.bridges import BLANK, Bridges, Held, TabsAsked, plan_shared_bridges
from scalegen.machining.dry_run import DryRun, gouged_mm, pad_untouched
from scalegen.machining.hold import freed, holds
from scalegen.machining.mixed import Plan, shared_stages
from scalegen.machining.stages import plan_stages
from scalegen.machining.tabs import tab_corners
from scalegen.model import JobSpec, Pad, Side
from scalegen.outline.ring import Ring
from scalegen.papers.machine_part import held_words
from scalegen.rehearsal import rehearse_together
from scalegen.report.dxf_layers import shared_layer_records
from scalegen.report.sheet_picture import draw_sheet
from scalegen.sheet.layout import PLAIN, Ground, SheetLayout, Zone
from scalegen.sheet.mixed import Order, arranged_together
from scalegen.sheet.rows import blank_of
from scalegen.sheet.true_shapes import How
from scalegen.sheet.verify import verify
from scalegen.study import Study, study_pattern
from scalegen.together import Wanted, joined_name, require_alike

PROFILES = Path(__file__).parents[2] / "profiles"
SPEC = JobSpec(margin_mm=3.0)
COUNTS = [2, 2]


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
    (layout,) = laid_together(studies, [3, 2], replace(SPEC, margin_mm=8.0)).layouts
    return layout


def _bar(length_mm: float) -> dict[Side, Ring]:
    """Both sides of a bar 20 mm wide."""
    ring = Ring.from_rows([(0, 0), (length_mm, 0), (length_mm, 20), (0, 20)])
    right = Ring.from_rows([(0, -20), (length_mm, -20), (length_mm, 0), (0, 0)])
    return {"left": ring, "right": right}


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
    each = {names[0]: 3, names[1]: 1}
    counted = verify(
        laid.layouts, first, spacing_mm=4.175, margin_mm=3, pairs_each=each, others={names[1]: second}
    )
    assert set(counted) == {
        "4 scales of siskin are placed, 6 are due",
        "4 scales of harrier are placed, 2 are due",
    }
    layout = laid.layouts[0]
    swapped = replace(layout.placements[0], pattern="other")
    spoilt = replace(layout, placements=(swapped, *layout.placements[1:]))
    assert any("its partner of" in fault for fault in faults({names[1]: second}, (spoilt, *laid.layouts[1:])))


def test_bars_of_two_sizes_share_a_sheet_that_two_jobs_would_not() -> None:
    """Two pairs of long and two of short bars go on one sheet; as two jobs they would take two.

    By hand, with nothing between: a pair side by side is 99 x 40 or 49 x 40. On 200 x 81 two long pairs
    lie in one band of 40, two short ones and the pad of 10 x 10 in the other.
    """
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
        Order(pattern="long", footprints=_bar(99.0), pairs=2),
        Order(pattern="short", footprints=_bar(49.0), pairs=2),
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
        laid_together(studies, [1, 1], spec)


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
    assert held_words(roomy, found) == "1L, 1R, 2L, 2R, 3L, 3R alone, the others come loose"
    assert held_words(roomy, _tabs(studies, roomy, 2, 3)) == "the scales"
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


def test_thickness_is_told_for_every_pattern(studies: list[Study], roomy: SheetLayout) -> None:
    """Of two sheets with a pattern each, both are told of, as each is when it is the only sheet."""
    plans = [Plan(scale=each.scale, stages=plan_stages(each.scale, SPEC, each.shop)) for each in studies]
    sheets = [
        replace(roomy, name=name, placements=tuple(each for each in roomy.placements if each.pattern == name))
        for name in ("siskin", "harrier")
    ]

    def told(*layouts: SheetLayout) -> list[tuple[str, str]]:
        cut = guarded_together(plans, studies[0].shop, layouts, SPEC, [()] * len(layouts))
        return [(each.where, each.message) for each in cut.findings if each.code == "blank-thinner"]

    alone = [told(sheet) for sheet in sheets]
    assert [[where for where, _ in each] for each in alone] == [[""], [""]]
    due = {(sheet.name, words) for sheet, each in zip(sheets, alone, strict=True) for _, words in each}
    assert len({words for _, words in due}) == 2
    assert set(told(*sheets)) == due


def _distances(studies: list[Study], layout: SheetLayout) -> tuple[float, float]:
    """By shapely alone: the least from a pad to a scale, and from a pad to the edge of a plain blank."""
    by_name = {study.scale.pattern.name: study for study in studies}
    pads = [shapely.box(p.x_mm, p.y_mm, p.x_mm + p.w_mm, p.y_mm + p.h_mm) for p in layout.pads]
    edge = shapely.box(0, 0, layout.length_mm, layout.width_mm).exterior
    gaps = []
    for place in layout.placements:
        own = _polygon(by_name[place.pattern], place.side)
        turned = affinity.rotate(own, place.angle_rad, origin=(0, 0), use_radians=True)
        gaps += [affinity.translate(turned, place.x_mm, place.y_mm).distance(pad) for pad in pads]
    return min(gaps), min(pad.distance(edge) for pad in pads)


@pytest.mark.parametrize(("counts", "pad"), [([3, 2], Pad()), ([4, 2], Pad(second="upper-right"))])
def test_a_pad_anywhere_keeps_its_ring_and_the_margin(
    studies: list[Study], counts: list[int], pad: Pad
) -> None:
    """4.175 mm to every scale, 3 mm to the edge, as large as asked, and no more sheets than in a corner."""
    found = laid_together(studies, counts, replace(SPEC, pad=replace(pad, corner="anywhere")))
    corner = laid_together(studies, counts, replace(SPEC, pad=pad))
    assert len(found.layouts) <= len(corner.layouts)
    for layout in found.layouts:
        to_scale, to_edge = _distances(studies, layout)
        assert to_scale >= 4.175 - 1e-3
        assert to_edge >= 3 - 1e-6
        assert {(each.w_mm, each.h_mm) for each in layout.pads} == {(20.0, 20.0)}
        assert len(layout.pads) == (1 if pad.second is None else 2)


def test_a_pad_anywhere_stands_where_it_costs_no_sheet() -> None:
    """By hand, with nothing between: pairs of 49 x 40 and 50 x 40 fill a band of 100 x 41 but for 1 mm.

    Above the band a flaw leaves a nook of 20 x 21. A pad of 20 x 20 in the lower left corner leaves 3700 mm2
    of the band for 3960 mm2, so that there are two sheets; in the nook it costs nothing.
    """
    flaw = Zone(ring=Ring.from_rows([(20, 41), (100, 41), (100, 62), (20, 62)]))
    blank = blank_of(
        Pad(width_mm=20, height_mm=20),
        Ground(zones=(flaw,)),
        size_mm=(100.0, 62.0),
        margin_mm=0.0,
        spacing_mm=0.0,
        keep_clear_mm=0.0,
        origin="lower-left",
    )
    orders = [
        Order(pattern="short", footprints=_bar(49.0), pairs=1),
        Order(pattern="long", footprints=_bar(50.0), pairs=1),
    ]
    assert len(arranged_together(orders, blank, How()).layouts) == 2
    (layout,) = arranged_together(orders, blank, How(), anywhere=True).layouts
    assert layout.pad.y_mm >= 40
    claim = layout.claim
    assert claim is not None
    assert (claim.bound_pairs, claim.proven) == (2, True)


def test_one_blank_takes_what_fills_it_best() -> None:
    """By hand: on 100 x 90 with a pad of 10 x 10 one pair of 95 x 60 or four of 44 x 40, 7040 to 5700 mm2.

    Beside the larger pair 100 x 30 stays, too little for a smaller one. Asked for one of each and four of the
    smaller, a single blank takes the four.
    """
    blank = blank_of(
        Pad(width_mm=10, height_mm=10),
        PLAIN,
        size_mm=(100.0, 90.0),
        margin_mm=0.0,
        spacing_mm=0.0,
        keep_clear_mm=0.0,
        origin="lower-left",
    )
    large = {side: Ring(ring.rows * [1.0, 1.5, 1.0]) for side, ring in _bar(95.0).items()}
    orders = [
        Order(pattern="large", footprints=large, pairs=1),
        Order(pattern="small", footprints=_bar(44.0), pairs=4),
    ]
    (layout,) = arranged_together(orders, blank, How(), one_blank=True).layouts
    assert Counter(place.pattern for place in layout.placements) == {"small": 8}
    with pytest.raises(SheetError, match="no pair of large finds room"):
        arranged_together(orders[:1], replace(blank, length_mm=90.0), How(), one_blank=True)


def test_patterns_that_do_not_go_together_are_refused(studies: list[Study]) -> None:
    """Two of one name, another stack: each is told with what to do."""
    one, other = (Wanted(study=study, pairs=1) for study in studies)
    require_alike([one, other])
    with pytest.raises(UsageError, match="two patterns are called"):
        require_alike([one, one])
    third = Wanted(study=study_pattern(PROFILES / "curlew.toml", SPEC), pairs=1)
    with pytest.raises(UsageError, match="is for the stack linen-quarter"):
        require_alike([one, third])
    assert joined_name([one, other]) == "siskin-harrier"
