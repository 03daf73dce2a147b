"""The finishing plan: grits, what they take off, and whether there is enough of it."""

import io
import math
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from scalegen.machining.stages import plan_stages
from scalegen.model import Abrasive, JobSpec, Shop
from scalegen.report.finishing import LOSS_MM, FinishingPlan, SurfacePlan, finishing_plan, left_ridge_mm
from scalegen.report.finishing_views import finishing_findings, finishing_record, print_finishing
from scalegen.report.grits import grit_chain
from scalegen.shop import load_shop
from scalegen.study import Study, study_pattern

PROFILES = Path(__file__).parents[2] / "profiles"
SHOP = load_shop(None)
GRADES = tuple(SHOP.abrasives.values())
HARRIER = study_pattern(PROFILES / "harrier.toml", JobSpec())
SISKIN = study_pattern(PROFILES / "siskin.toml", JobSpec())


def names(chain: tuple[Abrasive, ...]) -> list[str]:
    """Grades of a chain."""
    return [each.grade for each in chain]


def planned(study: Study = HARRIER, shop: Shop = SHOP, pairs: int = 6) -> FinishingPlan:
    """A plan by the layers that facing leaves."""
    return finishing_plan(study.scale, shop, pairs, study.facing)


def surface(name: str, plan: FinishingPlan) -> SurfacePlan:
    """One surface of a plan."""
    (found,) = (each for each in plan.surfaces if each.surface == name)
    return found


@pytest.mark.parametrize("room_mm", [0.0, 0.03, 0.05, 0.07, 0.1, 0.16, 0.2, 0.35, 0.5, 0.55, 0.8])
def test_the_chain_starts_as_coarse_as_there_is_room_for(room_mm: float) -> None:
    """Brute force: of all chains by the rule to P600, the one that starts coarsest and still fits."""
    numbers = [int(each.grade[1:]) for each in GRADES if int(each.grade[1:]) <= 600]
    grains = {int(each.grade[1:]): each.grain_um for each in GRADES}
    fitting = []
    for start in numbers:
        chain = [start]
        while chain[-1] != 600:
            chain.append(max(each for each in numbers if chain[-1] < each <= 1.5 * chain[-1]))
        if sum(grains[each] for each in chain[:-1]) <= 1000 * room_mm:
            fitting.append(chain)
    expected = min(fitting, key=lambda chain: chain[0])
    assert names(grit_chain(GRADES, "P600", room_mm, 1.5)) == [f"P{each}" for each in expected]


def test_a_drawer_with_gaps_goes_on_with_the_next_grade_there_is() -> None:
    """Where no grade is within the rule, the next finer one is taken; other scales go by their grain."""
    few = tuple(each for each in GRADES if each.grade in {"P80", "P400"})
    assert names(grit_chain(few, "P400", 1.0, 1.5)) == ["P80", "P400"]
    odd = (Abrasive(grade="red", grain_um=90.0), Abrasive(grade="grey", grain_um=50.0), few[1])
    assert names(grit_chain(odd, "P400", 1.0, 1.5)) == ["red", "grey", "P400"]


def test_a_last_grade_that_is_not_there_is_replaced_and_told() -> None:
    """The nearest finer grade ends the chain, or the finest there is; the plan says so."""
    assert names(grit_chain(GRADES, "P700", 0.0, 1.5)) == ["P800"]
    assert names(grit_chain(GRADES, "P5000", 0.0, 1.5)) == ["P1200"]
    assert grit_chain((), "P400", 1.0, 1.5) == ()
    shop = replace(SHOP, rules=replace(SHOP.rules, front_grit="P700"))
    assert "no P700; it ends on P800" in " ".join(surface("fronts", planned(shop=shop)).notes)


def test_every_grit_takes_off_the_scratches_before_it() -> None:
    """What is taken off adds up to the allowance: ridges and rest first, then grain by grain."""
    front = surface("fronts", planned())
    grains = [step.grain_um / 1000 for step in front.steps]
    assert [step.removes_mm for step in front.steps[1:]] == pytest.approx(grains[:-1])
    # Harrier leaves 0.2 mm ahead of its front.
    assert sum(step.removes_mm for step in front.steps) == pytest.approx(0.2)
    assert front.takes_mm == pytest.approx(0.016 + sum(grains[:-1]))
    assert front.takes_mm <= 0.2
    assert front.below_mm == 0.0


def test_without_an_allowance_sanding_costs_little_and_says_so() -> None:
    """The siskin has none ahead of its front: the plan stays within what sanding may cost."""
    front = surface("fronts", planned(SISKIN))
    assert 0 < front.below_mm == pytest.approx(front.takes_mm)
    assert front.takes_mm <= LOSS_MM
    assert any("moves back" in note for note in front.notes)


def test_backs_end_coarse_and_fronts_fine() -> None:
    """Backs are keyed at about P120 (formulators' and makers' guides), fronts polished before glue-up."""
    plan = planned()
    assert surface("backs", plan).steps[-1].grade == "P120"
    assert surface("fronts", plan).steps[-1].grade == "P600"
    assert [each.surface for each in plan.surfaces] == ["backs", "fronts", "trim", "faces and edges"]
    assert surface("backs", plan).ridge_mm == 0.0


def test_no_trim_no_flush_sanding() -> None:
    """Without a trim allowance there is nothing to sand flush."""
    scale = replace(HARRIER.scale, pattern=replace(HARRIER.scale.pattern, trim_mm=0.0))
    plan = finishing_plan(scale, SHOP, 1)
    assert "trim" not in {each.surface for each in plan.surfaces}


def test_a_liner_that_is_keyed_through_is_found() -> None:
    """P120 goes 0.125 mm deep: a liner of 0.12 mm less the allowance would be gone; a warning names it."""
    layers = (
        replace(HARRIER.facing.layers[0], least_left_mm=0.12, most_left_mm=0.12),
        *HARRIER.facing.layers[1:],
    )
    thin = replace(HARRIER, facing=replace(HARRIER.facing, layers=layers))
    assert surface("backs", planned(thin)).through
    (finding,) = finishing_findings(planned(thin), "mm")
    assert (finding.code, finding.level, finding.about) == ("sanded-through", "warning", "backs")
    assert "scratches of P120 go 0.125 mm deep" in finding.message
    assert finishing_findings(planned(), "mm") == ()
    # The remedy works: 0.12 mm is more than the grain of P150, 0.1 mm.
    finer = replace(SHOP, rules=replace(SHOP.rules, back_grit="P150"))
    assert finishing_findings(planned(thin, finer), "mm") == ()


def test_an_allowance_below_the_ridges_is_found() -> None:
    """Ridges of 0.3 mm on a front with 0.2 mm ahead: sanding goes 0.1 mm below the front."""
    plan = finishing_plan(HARRIER.scale, SHOP, 1, HARRIER.facing, ridge_mm=0.3)
    assert surface("fronts", plan).below_mm == pytest.approx(0.1)
    (finding,) = finishing_findings(plan, "mm")
    assert (finding.code, finding.about) == ("sanding-allowance", "fronts")
    assert "takes 0.3 mm at least, and 0.2 mm is there" in finding.message


def test_a_crowned_face_is_thin_at_its_edge() -> None:
    """What is left of the face sheet is told where the crown is lowest, not on its line."""
    flat = surface("faces and edges", planned())
    crown = replace(HARRIER.scale, face=replace(HARRIER.scale.face, crown_mm=60.0))
    lower = surface("faces and edges", finishing_plan(crown, SHOP, 6, HARRIER.facing))
    assert flat.layer_left_mm is not None
    assert lower.layer_left_mm is not None
    assert lower.layer_left_mm < flat.layer_left_mm - 0.5


def test_minutes_only_where_a_rate_was_timed() -> None:
    """Without rates there are no minutes; with one, minutes are volume over rate, by hand."""
    back = surface("backs", planned())
    assert back.minutes is None
    timed = {
        name: replace(grade, rate_mm3_min=50.0 if name == "P120" else None)
        for name, grade in SHOP.abrasives.items()
    }
    plan = planned(shop=replace(SHOP, abrasives=timed))
    back = surface("backs", plan)
    # 12 backs, 0.1 mm off each, 50 mm3 a minute.
    assert back.minutes == pytest.approx(12 * HARRIER.scale.footprint.area_mm2 * 0.1 / 50.0)
    assert surface("fronts", plan).minutes is None
    assert any("no minutes" in source for source in plan.sources)


def test_paper_goes_by_area() -> None:
    """A sheet of 230 x 280 mm sands four times its area, 2576 cm2, and whole sheets are bought."""
    plan = planned()
    paper = next(each for each in plan.papers if each.grade == "P120")
    area = surface("backs", plan).area_mm2 + surface("trim", plan).area_mm2
    assert paper.surfaces == ("backs", "trim")
    assert paper.paper_mm2 == pytest.approx(area / 4)
    assert paper.sheets == math.ceil(area / 4 / (230 * 280)) == 1
    many = next(each for each in planned(pairs=100).papers if each.grade == "P120")
    assert many.sheets == math.ceil(area * 100 / 6 / 4 / (230 * 280)) == 4


def test_the_front_is_as_long_as_its_way_over_the_bevel() -> None:
    """Harrier's bevel of 40 degrees on 1.2 mm of land, 6.2 mm thick: 1.2 + 5 / sin 40 = 8.98 mm, by hand."""
    front, single = surface("fronts", planned(pairs=1)), HARRIER.scale.finished
    on_line = [
        math.dist(a, b)
        for a, b in zip(single.starts.tolist(), single.ends.tolist(), strict=True)
        if abs(_behind(a)) < 1e-6 and abs(_behind(b)) < 1e-6
    ]
    assert front.area_mm2 == pytest.approx(2 * sum(on_line) * 8.97862, rel=1e-5)


def _behind(point: list[float]) -> float:
    """How far a point lies from Harrier's front line: through (16, 0) at 78 degrees."""
    angle = math.radians(78)
    return (point[0] - 16) * math.sin(angle) - point[1] * math.cos(angle)


def test_the_plan_as_data_and_on_the_terminal() -> None:
    """Data has every key; people see grits, what is there, and the sources."""
    record = finishing_record(planned())
    assert set(record) == {"surfaces", "papers", "sources"}
    assert record["surfaces"][0]["steps"][0]["grade"] == "P120"
    for width, units in ((80, "mm"), (120, "in")):
        out = io.StringIO()
        print_finishing(record, units, Console(file=out, width=width))
        text = out.getvalue()
        assert max(map(len, text.splitlines())) <= width
        assert "faces and edges" in text
        assert "P220" in text
        assert "common practice" in text


def test_a_shop_without_abrasives_gets_a_plan_without_grits() -> None:
    """An empty table is told and breaks nothing."""
    plan = planned(shop=replace(SHOP, abrasives={}))
    assert plan.papers == ()
    assert all("no grades" in " ".join(each.notes) for each in plan.surfaces)
    print_finishing(finishing_record(plan), "mm", Console(file=io.StringIO()))


def test_ridges_are_those_of_the_stages() -> None:
    """A shop that lets its ball leave ridges of 0.05 mm has them in its plan; walls and levels leave none."""
    shop = replace(SHOP, rules=replace(SHOP.rules, ridge_mm=0.05))
    stages = plan_stages(HARRIER.scale, JobSpec(), shop)
    assert left_ridge_mm(stages) == pytest.approx(0.05)
    assert left_ridge_mm([stage for stage in stages if stage.does == "outlines"]) is None
