"""Tabs on a sheet: where they lead, what they hold, and what is said where they can't be."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from scalegen.export.drawings import sheet_drawing
from scalegen.machining.bridges import BLANK, Bridges, TabsAsked, plan_bridges, tabs_asked
from scalegen.machining.findings import dry_run_findings
from scalegen.machining.hold import freed, holds
from scalegen.machining.stages import plan_stages
from scalegen.machining.summary import tabs_row
from scalegen.machining.tabs import off_front_and_pins, tab_corners, walk
from scalegen.machining.target import own_points, placed_ring
from scalegen.model import JobSpec, Pad
from scalegen.pipeline import Study, lay_out, study_pattern
from scalegen.rehearsal import layouts_of, rehearse_sheet, tabs_of
from scalegen.report.record import job_record, to_json
from scalegen.report.sheet_picture import draw_sheet
from scalegen.sheet.layout import SheetLayout

ROOT = Path(__file__).parents[2]
CUTTER_MM = 3.175
SPEC = JobSpec(pairs=3, sheet_mm=(240.0, 110.0), measured_mm=(6.9,), margin_mm=8.0, tabs=3)


@pytest.fixture(scope="module", params=["siskin", "curlew"])
def study(request: pytest.FixtureRequest) -> Study:
    """A demo pattern with a straight front, and one with a proud arc."""
    spec = SPEC if request.param == "siskin" else replace(SPEC, measured_mm=(7.2,))
    return study_pattern(ROOT / "profiles" / f"{request.param}.toml", spec)


@pytest.fixture(scope="module")
def layout(study: Study) -> SheetLayout:
    """Three pairs of it on one blank."""
    (sheet,) = lay_out(study, replace(SPEC, sheet_mm=(300.0, 150.0)))
    return sheet


@pytest.fixture(scope="module")
def planned(study: Study, layout: SheetLayout) -> Bridges:
    """Three tabs for every scale."""
    return plan_bridges(study.scale, layout, TabsAsked(count=3), CUTTER_MM)


def test_every_tab_leads_from_its_scale_to_what_it_names_and_touches_nothing_else(
    study: Study, layout: SheetLayout, planned: Bridges
) -> None:
    """Held against shapely: foot on the outline, end in the named scale or in what no cutter reaches."""
    parts = {
        place.label: shapely.Polygon(placed_ring(study.scale.footprint, place).flatten(0.005))
        for place in layout.placements
    }
    cut = shapely.union_all([part.buffer(CUTTER_MM) for part in parts.values()])
    blank = shapely.box(0, 0, layout.length_mm, layout.width_mm)
    assert planned.findings == ()
    assert {bridge.label for bridge in planned.bridges} | {b.to for b in planned.bridges} >= set(parts)
    for bridge in planned.bridges:
        corners = tab_corners(bridge.tab)
        foot = shapely.Point(bridge.tab.x_mm, bridge.tab.y_mm)
        assert parts[bridge.label].exterior.distance(foot) < 0.02
        web = shapely.Polygon(corners)
        for label, part in parts.items():
            if label not in {bridge.label, bridge.to}:
                assert not web.intersects(part)
        end = shapely.LineString(corners[1:3])
        assert blank.contains(end)
        if bridge.to == BLANK:
            assert not end.intersects(cut)
        else:
            assert parts[bridge.to].contains(end)
            # It ends within its footing, so that it does not run through.
            assert web.intersection(parts[bridge.to]).area < 3.0 * 3.0


def test_tabs_keep_off_fronts_and_pins_at_both_ends(
    study: Study, layout: SheetLayout, planned: Bridges
) -> None:
    """Five mm and half a tab's width from every pin's hole, and behind the front's most forward place."""
    places = {place.label: place for place in layout.placements}
    front = study.scale.pattern.front
    for bridge in planned.bridges:
        ends = [(bridge.label, 0.0)]
        if bridge.to != BLANK:
            ends.append((bridge.to, bridge.tab.length_mm - 0.5))
        for label, way in ends:
            out = np.array([math.cos(bridge.tab.out_rad), math.sin(bridge.tab.out_rad)])
            spot = np.array([[bridge.tab.x_mm, bridge.tab.y_mm]]) + way * out
            x, y = own_points(spot, places[label])[0]
            for hole in study.scale.holes:
                assert math.dist((x, y), hole.at_mm) >= 6.5 + hole.hole_mm / 2 - 0.1
            if front.arc_mm:
                middle = front.at_mm + front.arc_mm
                assert x > middle or front.arc_mm - math.dist((x, y), (middle, 0.0)) >= 6.4
            else:
                assert x >= front.at_mm + 6.4


def test_far_behind_a_proud_arc_is_behind_the_front(study: Study) -> None:
    """All of the butt half of a handle without pins is free for tabs, however small the front's arc."""
    scale = replace(study.scale, holes=())
    way = walk(scale)
    x0, _, x1, _ = scale.footprint.bounds_mm
    back = way.points[:, 0] > (x0 + x1) / 2
    assert off_front_and_pins(scale, way.points, 6.5)[back].all()


def test_in_the_dry_run_parts_hang_on_until_their_tabs_are_cut(study: Study, layout: SheetLayout) -> None:
    """Without tabs the last stage frees every part; with them none, until they are cut by hand."""
    bare = rehearse_sheet(study, layout, replace(SPEC, tabs=0), cell_mm=0.25)
    assert all(part.is_loose for part in holds(bare)[-1].parts)
    assert (freed(bare), tabs_row(bare)) == (None, None)
    run = rehearse_sheet(study, layout, SPEC, cell_mm=0.25)
    assert all(part.in_blank for part in holds(run)[-1].parts)
    after, row = freed(run), tabs_row(run)
    assert after is not None
    assert row is not None
    assert all(part.is_loose for part in after.parts)
    assert len(row.held) == 6
    assert (row.loose, row.not_free) == ((), ())
    stages = plan_stages(study.scale, SPEC, study.shop)
    told = dry_run_findings(run, study.scale, stages=stages, rules=study.shop.rules)
    assert not {"part-not-free", "tabs-do-not-hold"} & {finding.code for finding in told}


def test_what_a_tab_leaves_is_its_own_height(study: Study, layout: SheetLayout, planned: Bridges) -> None:
    """Over the middle of each tab that leads to the blank stands just its height, beside it nothing."""
    run = rehearse_sheet(study, layout, SPEC, cell_mm=0.25)
    bridges = [bridge for bridge in planned.bridges if bridge.to == BLANK]
    assert bridges
    for tab in (bridge.tab for bridge in bridges):
        out = np.array([math.cos(tab.out_rad), math.sin(tab.out_rad)])
        middle = np.array([tab.x_mm, tab.y_mm]) + CUTTER_MM / 2 * out
        assert run.last.at_mm(tuple(middle)) == pytest.approx(0.8, abs=1e-5)


def test_tabs_survive_the_way_through_the_record(study: Study, layout: SheetLayout, planned: Bridges) -> None:
    """What ``job.json`` says of them makes the same tabs again, whatever corner is the origin."""
    assert study.volumes is not None
    sheet = replace(layout, origin="upper-right")
    record = job_record(
        scale=study.scale,
        spec=SPEC,
        layouts=[sheet],
        volumes=study.volumes,
        stages=(),
        findings=(),
        bom=(),
        files=(),
        bridges=[planned],
    )
    data = json.loads(to_json(record))
    (tabs,) = tabs_of(data, Path("out/x"))
    assert len(tabs) == len(planned.tabs)
    for told, meant in zip(tabs, planned.tabs, strict=True):
        assert vars(told) == pytest.approx(vars(meant), abs=1e-6)
    entry = data["sheets"][0]["placements"][0]["tabs"][0]
    assert (entry["at_mm"], entry["to"]) == (
        pytest.approx(planned.bridges[0].own_mm, abs=1e-6),
        planned.bridges[0].to,
    )
    assert layouts_of(data, Path("out/x"))[0].placements[0].label == "1L"


def test_tabs_are_drawn_to_size(study: Study, layout: SheetLayout, planned: Bridges) -> None:
    """In the drawing a closed outline of width times length each, in the picture one shape more."""
    shapes = sheet_drawing(study.scale, layout, "mm", planned.tabs).layers["tabs"]
    areas = [shape.ring.area_mm2 for shape in shapes]  # type: ignore[union-attr] # all are rings
    assert areas == pytest.approx([tab.width_mm * tab.length_mm for tab in planned.tabs])
    without, with_tabs = draw_sheet(study.scale, layout), draw_sheet(study.scale, layout, planned.tabs)
    assert len(with_tabs.drawn) - len(without.drawn) == len(planned.tabs)


def test_where_there_is_no_room_it_says_how_many_go(study: Study, layout: SheetLayout) -> None:
    """Forty tabs of 3 mm are too many: a stop for each scale, with a number that does go."""
    found = plan_bridges(study.scale, layout, TabsAsked(count=40), CUTTER_MM).findings
    assert {finding.code for finding in found} >= {"tabs-no-room"}
    assert all(finding.level == "stop" for finding in found if finding.code == "tabs-no-room")
    first = next(finding for finding in found if finding.code == "tabs-no-room")
    fewer = int(first.remedy.split("--tabs ")[1].split(",")[0])
    again = plan_bridges(study.scale, layout, TabsAsked(count=fewer), CUTTER_MM).findings
    assert first.about not in {finding.about for finding in again if finding.code == "tabs-no-room"}


def test_tabs_higher_than_the_scale_are_a_stop(study: Study, layout: SheetLayout) -> None:
    """A tab through the whole scale would stand in its face."""
    (found,) = plan_bridges(study.scale, layout, TabsAsked(count=2, height_mm=9.0), CUTTER_MM).findings
    assert (found.code, found.level) == ("tab-height", "stop")


def test_scales_that_hold_only_one_another_are_told() -> None:
    """A blank hardly larger than its pair: the cutter's way leaves nothing of it to hold on to."""
    spec = JobSpec(
        pairs=1, sheet_mm=(98.0, 65.0), measured_mm=(6.9,), margin_mm=3.0, pad=Pad(width_mm=6, height_mm=6)
    )
    study = study_pattern(ROOT / "profiles" / "siskin.toml", spec)
    (sheet,) = lay_out(study, spec)
    ring = study.scale.footprint.bounds_mm
    tight = replace(
        sheet,
        length_mm=ring[2] - ring[0] + 6.0,
        width_mm=2 * (ring[3] - ring[1]) + 10.2,
        placements=tuple(
            replace(place, x_mm=3.0 - ring[0], y_mm=3.0 - ring[1] + (k * (ring[3] - ring[1] + 4.2)))
            for k, place in enumerate(sheet.placements)
        ),
    )
    found = plan_bridges(study.scale, tight, TabsAsked(count=1), CUTTER_MM)
    assert [finding.code for finding in found.findings] == ["tabs-not-to-blank"]
    assert all(bridge.to in {"1L", "1R"} for bridge in found.bridges)


def test_a_job_asks_before_the_shop_does(study: Study) -> None:
    """``--tabs 0`` means none even where the shop has some; left out, the shop's own count."""
    rules = replace(study.shop.rules, tabs=4, tab_width_mm=2.0)
    assert tabs_asked(JobSpec(), rules) == TabsAsked(count=4, width_mm=2.0, height_mm=0.8)
    assert tabs_asked(JobSpec(tabs=0), rules).count == 0
