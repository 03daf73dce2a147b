"""Layers of the drawings as data: each drawn one is told, with depths worked out by hand."""

from pathlib import Path
from typing import Any

import pytest

from scalegen.export.drawings import sheet_drawing
from scalegen.machining.bridges import TabsAsked, plan_bridges
from scalegen.machining.mixed import Plan, shared_stages
from scalegen.machining.stages import plan_stages
from scalegen.model import JobSpec
from scalegen.pipeline import lay_out, study_pattern
from scalegen.report.dxf_layers import dxf_layer_records, shared_layer_records

ROOT = Path(__file__).parents[2]
MEASURED_MM = {"siskin": 6.9, "harrier": 6.9, "curlew": 7.2}


def layers_of(name: str) -> tuple[dict[str, dict[str, Any]], set[str], Any]:
    """The records by layer, what the drawing has on it, and the scale."""
    spec = JobSpec(pairs=1, measured_mm=(MEASURED_MM[name],))
    study = study_pattern(ROOT / "profiles" / f"{name}.toml", spec)
    layouts = lay_out(study, spec)
    stages = plan_stages(study.scale, spec, study.shop)
    tabs = plan_bridges(study.scale, layouts[0], TabsAsked(count=2), 3.175)
    rows = dxf_layer_records(study.scale, stages, layouts, [tabs])
    drawing = sheet_drawing(study.scale, layouts[0], "mm", tabs.tabs)
    return {row["layer"]: row for row in rows}, {k for k, v in drawing.layers.items() if v}, study.scale


@pytest.mark.parametrize("name", MEASURED_MM)
def test_every_layer_with_something_on_it_is_told(name: str) -> None:
    """Of what is drawn none is left out; both ways of counting heights add up to the blank."""
    rows, drawn, scale = layers_of(name)
    assert drawn <= set(rows)
    for row in rows.values():
        for end in ("from", "to"):
            above, below = row[f"{end}_above_bed_mm"], row[f"{end}_below_top_mm"]
            assert (above is None) == (below is None)
            if above is not None:
                assert above + below == pytest.approx(scale.stack.used_mm)


def test_depths_of_a_demo_by_hand() -> None:
    """Blank 6.9, scale 6.2 on a back of 0.1 in the harrier: bevel from 6.3 to its land, holes 0.2 through."""
    rows, _, scale = layers_of("harrier")
    assert (scale.thickness_mm, scale.back_allowance_mm) == (6.2, 0.1)
    land = scale.pattern.front.land_mm
    bevel, holes, outline = rows["bevel-start"], rows["pin-holes"], rows["outline-as-cut"]
    assert (bevel["from_above_bed_mm"], bevel["to_above_bed_mm"]) == pytest.approx((6.3, 0.1 + land))
    assert (bevel["from_below_top_mm"], bevel["to_below_top_mm"]) == pytest.approx((0.6, 6.8 - land))
    assert (holes["to_above_bed_mm"], holes["to_below_top_mm"]) == pytest.approx((-0.2, 7.1))
    assert outline["to_above_bed_mm"] == pytest.approx(-0.2)
    assert outline["stages"] == ["outlines"]
    assert len(holes["stages"]) == 2
    assert (rows["tabs"]["from_above_bed_mm"], rows["tabs"]["stages"]) == (0.8, [])
    assert rows["labels"]["from_above_bed_mm"] is None


def test_layers_of_several_patterns_have_a_row_for_each_that_differs() -> None:
    """Blank 6.9, siskin 6.2 and harrier 6.2 on a back of 0.1: holes from 0.7 and 0.6 down to 7.1, by hand.

    The bevel of each falls from its own face; the pad is as high for both, so that it has one row.
    """
    spec = JobSpec(pairs=1, measured_mm=(6.9,))
    studies = [study_pattern(ROOT / "profiles" / f"{name}.toml", spec) for name in ("siskin", "harrier")]
    scales = [study.scale for study in studies]
    assert [each.thickness_mm + each.back_allowance_mm for each in scales] == pytest.approx([6.2, 6.3])
    plans = [Plan(scale=each.scale, stages=plan_stages(each.scale, spec, each.shop)) for each in studies]
    shared = shared_stages(plans)
    rows = shared_layer_records(scales, shared, lay_out(studies[0], spec))
    holes = {tuple(row["patterns"]): row for row in rows if row["layer"] == "pin-holes"}
    assert list(holes) == [("siskin",), ("harrier",)]
    depths = [(row["from_below_top_mm"], row["to_below_top_mm"]) for row in holes.values()]
    assert depths == [pytest.approx((0.7, 7.1)), pytest.approx((0.6, 7.1))]
    assert holes["siskin",]["stages"] == ["pin holes"]
    assert holes["harrier",]["stages"] == ["pin holes", "pin holes, harrier"]
    bevels = [row for row in rows if row["layer"] == "bevel-start"]
    assert [row["from_below_top_mm"] for row in bevels] == pytest.approx([0.7, 0.6])
    assert all(row["stages"] for row in bevels)
    assert {name for row in rows for name in row["stages"]} <= {each.stage.name for each in shared}
    (pad,) = (row for row in rows if row["layer"] == "reference-pad")
    assert pad["patterns"] == ["siskin", "harrier"]
