"""What one orders by a bill: sheets, lots of glue, rods, paper, protection, costs, and what is short."""

import io
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from scalegen.machining.stages import plan_stages
from scalegen.model import BomRow, JobSpec, Shop
from scalegen.pipeline import lay_out
from scalegen.report.bom import BOUGHT, Part, bill, bill_of
from scalegen.report.tables import bom_csv, bom_json_rows, print_bom
from scalegen.sheet.layout import pair_count
from scalegen.shop import load_shop
from scalegen.study import Study, study_pattern

PROFILES = Path(__file__).parents[2] / "profiles"
SHOP = load_shop(None)
SISKIN = study_pattern(PROFILES / "siskin.toml", JobSpec())


def rows_of(spec: JobSpec, shop: Shop = SHOP, study: Study = SISKIN) -> tuple[BomRow, ...]:
    """The bill of a job."""
    layouts = lay_out(study, spec)
    stages = plan_stages(study.scale, spec, SHOP)
    return bill(study.scale, spec, shop, layouts, {}, facing=study.facing, stages=stages)


def find(rows: tuple[BomRow, ...], section: str, item: str = "") -> BomRow:
    """The only row of a section whose item starts with a text."""
    (row,) = (row for row in rows if row.section == section and row.item.startswith(item))
    return row


def with_stock(**counts: float) -> Shop:
    """A shop that keeps count of its siskin's materials."""
    return replace(
        SHOP,
        sheets={
            name: replace(sheet, on_hand=counts.get("sheets") if "paper face" in name else sheet.on_hand)
            for name, sheet in SHOP.sheets.items()
        },
        adhesives={
            name: replace(glue, on_hand_g=counts.get("glue") if name == "slow epoxy" else None)
            for name, glue in SHOP.adhesives.items()
        },
        hardware={
            name: replace(pin, on_hand=counts.get("rods") if name == "pin 3mm" else None)
            for name, pin in SHOP.hardware.items()
        },
    )


def test_blanks_tell_what_they_yield_and_what_is_left() -> None:
    """Pairs of each blank by the layout; what is left is the blanks less 2 scales for each pair."""
    spec = JobSpec(pairs=8)
    layouts, rows = lay_out(SISKIN, spec), rows_of(spec)
    blank = find(rows, "blanks")
    assert blank.quantity == len(layouts) == 2
    assert blank.details["pairs"] == [pair_count([each]) for each in layouts]
    left_mm2 = 2 * 300 * 150 - 16 * SISKIN.scale.footprint.area_mm2
    assert blank.details["left_mm2"] == pytest.approx(left_mm2)
    most = max(blank.details["pairs"])
    assert f"a sheet yields {most} pairs as laid" in find(rows, "sheets", "face").note


def test_the_cut_list_adds_up_and_rods_are_proven() -> None:
    """16 pins of 16 mm are 256 mm; with 15 saw cuts of 1 mm they go into one rod of 300 mm."""
    rows = rows_of(JobSpec(pairs=8))
    cut, rod = find(rows, "cut list"), find(rows, "hardware")
    assert cut.details["total_mm"] == pytest.approx(256.0)
    assert "256.0 mm in all" in cut.note
    assert (rod.quantity, rod.details["proven"], rod.details["fewest_possible"]) == (1.0, True, 1)
    assert "1 rod of 16 × 16 mm; fewer cannot do" in rod.note


def test_paper_is_bought_by_the_sheet() -> None:
    """Every grade of the finishing plan is there, with what it is for, coarse before fine."""
    grades = [row for row in rows_of(JobSpec(pairs=8)) if row.section == "abrasives"]
    numbers = [int(row.item[1:]) for row in grades]
    assert numbers == sorted(numbers)
    assert {80, 120, 400, 600} <= set(numbers)
    assert find(tuple(grades), "abrasives", "P120").note.startswith("for backs, trim; ")
    assert all(row.unit == "sheet" and row.cost == 0.9 * row.quantity for row in grades)


def test_paper_without_a_size_is_told_by_area() -> None:
    """Where the table does not say how large a sheet is, area is all there is, and no price is made up."""
    bare = {name: replace(each, paper_mm=None) for name, each in SHOP.abrasives.items()}
    row = find(rows_of(JobSpec(pairs=8), replace(SHOP, abrasives=bare)), "abrasives", "P600")
    assert (row.unit, row.cost) == ("cm2", None)


def test_glue_is_told_in_lots() -> None:
    """A glue workable for 5 minutes, 2 of them for closing, spreads 120 cm2: 265 cm2 are three lots."""
    quick = replace(SHOP.adhesives["slow epoxy"], working_min=5.0)
    shop = replace(SHOP, adhesives={**SHOP.adhesives, "slow epoxy": quick})
    row = find(rows_of(JobSpec(pairs=8), shop), "adhesive", "glue-up")
    assert "mix in 3 lots of at most 3 pairs each" in row.note
    assert row.details["lots"]["count"] == 3
    assert row.details["resin_g"] + row.details["hardener_g"] == pytest.approx(row.quantity)
    # A blank of 450 cm2 cannot be spread in 3 minutes at 40 cm2 a minute.
    assert "one blank alone takes 11.2 min" in find(rows_of(JobSpec(), shop), "adhesive", "lamination").note


def test_gloves_go_by_mixes_and_figures_have_their_source() -> None:
    """A pair of gloves for every mix; every limit names who set it."""
    rows = rows_of(JobSpec(pairs=8))
    assert find(rows, "safety", "gloves").quantity == 2.0
    mask = find(rows, "safety", "half mask").note
    assert "NIOSH 5 mg/m3" in mask
    assert "29 CFR 1910.1048" in mask
    assert "wood" not in mask
    maple = replace(SISKIN.scale.pattern, stock="maple-spacer")
    from scalegen.study import study

    wooden = study(maple, SISKIN.outline, JobSpec(), SHOP)
    assert "wood: NIOSH 1 mg/m3" in find(rows_of(JobSpec(), study=wooden), "safety", "half mask").note
    assert "local law" in find(rows, "safety", "extraction").note
    assert all(row.cost is None for row in rows if row.section == "safety")


def test_cutters_come_from_the_stages() -> None:
    """The cutter is listed with what it does; a groove's own cutter is there too."""
    rows = rows_of(JobSpec())
    assert "outlines" in find(rows, "tools", "cutter: flat 1/8in").note
    stage = replace(plan_stages(SISKIN.scale, JobSpec(), SHOP)[0], name="grooves", cutter="ball 3mm")
    layouts = lay_out(SISKIN, JobSpec())
    more = bill(SISKIN.scale, JobSpec(), SHOP, layouts, {}, stages=[stage])
    assert "for grooves" in find(more, "tools", "cutter: ball 3mm").note


def test_costs_with_and_without_spares() -> None:
    """Seven pairs and a spare take two blanks, seven pairs one: the numbers are those of their own bills."""
    spared, alone = rows_of(JobSpec(pairs=7, spares=1)), rows_of(JobSpec(pairs=7))
    total = find(spared, "total").cost
    bare = find(alone, "total").cost
    assert total is not None
    assert bare is not None
    assert find(spared, "cost", "batch, spares").quantity == pytest.approx(total, abs=0.005)
    assert find(spared, "cost", "batch without").quantity == pytest.approx(bare, abs=0.005)
    assert find(spared, "cost", "pair, spares").quantity == pytest.approx(total / 7, abs=0.005)
    assert find(spared, "cost", "pair without").quantity == pytest.approx(bare / 7, abs=0.005)
    assert bare < total
    assert [row.item for row in alone if row.section == "cost"] == ["batch", "pair"]


def test_what_is_on_hand_is_taken_off_once() -> None:
    """24 g of glue: lamination takes 20.7 g of them, glue-up finds 3.3 g; rods and no sheet are there."""
    rows = rows_of(JobSpec(pairs=8), with_stock(sheets=0.0, glue=24.0, rods=5.0))
    stack, tang = find(rows, "adhesive", "lamination"), find(rows, "adhesive", "glue-up")
    assert (stack.on_hand, stack.short) == (24.0, 0.0)
    assert tang.on_hand == pytest.approx(24.0 - stack.quantity)
    assert tang.short == pytest.approx(stack.quantity + tang.quantity - 24.0)
    assert find(rows, "sheets", "face").short == 2.0
    assert find(rows, "sheets", "liner").short is None
    assert find(rows, "hardware").short == 0.0
    still = find(rows, "cost", "still to buy").quantity
    spared = stack.cost + find(rows, "hardware").cost + tang.cost * (1 - tang.short / tang.quantity)  # type: ignore[operator]
    assert still == pytest.approx(find(rows, "total").cost - spared, abs=0.011)  # type: ignore[operator]


def test_short_is_shown_where_anybody_counts() -> None:
    """The column is there when something is counted, and only then; CSV and JSON always have it."""
    for shop, there in ((with_stock(sheets=1.0), True), (SHOP, False)):
        rows, out = rows_of(JobSpec(pairs=8), shop), io.StringIO()
        print_bom(rows, Console(file=out, width=140))
        assert ("┃ short ┃" in out.getvalue()) is there
        assert bom_csv(rows).splitlines()[0].endswith("cost,on_hand,short")
        assert all({"on_hand", "short", "details"} <= row.keys() for row in bom_json_rows(rows))


def test_several_patterns_share_rods_and_glue() -> None:
    """Pins of one kind from two patterns are cut from the same rods; each tang has its own row of glue."""
    other = replace(SISKIN.scale, pattern=replace(SISKIN.scale.pattern, name="wren"))
    layouts = lay_out(SISKIN, JobSpec(pairs=2))
    parts = [Part(scale=each, pairs=2, volumes_mm3={}) for each in (SISKIN.scale, other)]
    rows = bill_of(parts, "flat 1/8in", SHOP, layouts)
    assert find(rows, "hardware").quantity == 1.0
    assert find(rows, "cut list").quantity == 8.0
    glue = [row.item for row in rows if row.section == "adhesive"]
    assert glue == ["lamination: slow epoxy", "glue-up: slow epoxy (siskin)", "glue-up: slow epoxy (wren)"]


def test_tape_has_a_price_when_the_shop_gives_one() -> None:
    """495 cm2 at 10 a square metre: 0.495."""
    shop = replace(SHOP, rules=replace(SHOP.rules, tape_price_m2=10.0))
    rows = rows_of(JobSpec(), shop)
    assert find(rows, "tape").cost == pytest.approx(0.495)
    assert "want of a price" not in find(rows, "total").note
    assert {row.section for row in rows if row.cost is not None} <= {*BOUGHT, "total"}
