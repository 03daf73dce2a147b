"""What a bill counts for blanks that are there already: nothing to buy, nothing to bond."""

from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.model import BomRow, JobSpec
from scalegen.model.job import SheetShape
from scalegen.outline.blank import box_rows
from scalegen.pipeline import lay_out, study_pattern
from scalegen.report.bom import bill
from scalegen.sheet.layout import SheetLayout

ROOT = Path(__file__).parents[2]
STUDY = study_pattern(ROOT / "profiles" / "siskin.toml", JobSpec(pairs=2))
SHAPE = SheetShape(outline=box_rows(0, 0, 300, 150), source="out/rest.dxf")
SPEC = JobSpec(pairs=2, sheet_mm=(300.0, 150.0), sheet_shape=SHAPE)


def bill_for(layouts: tuple[SheetLayout, ...], spares: int = 0) -> dict[str, list[BomRow]]:
    """Rows by section."""
    assert STUDY.volumes is not None
    spec = JobSpec(pairs=2, spares=spares)
    rows = bill(STUDY.scale, spec, STUDY.shop, layouts, STUDY.volumes.finished_mm3)
    found: dict[str, list[BomRow]] = {}
    for row in rows:
        found.setdefault(row.section, []).append(row)
    return found


def test_a_remnant_is_named_and_costs_nothing() -> None:
    """No sheet is bought and no glue mixed for the stack; the rest of the bill is as for a new blank."""
    (layout,) = lay_out(STUDY, replace(SPEC, remnant="R1"))
    rows = bill_for((layout,))
    (sheet,) = rows["sheets"]
    assert (sheet.item, sheet.quantity, sheet.unit, sheet.cost) == ("remnant R1", 1.0, "piece", 0.0)
    assert all(not row.item.startswith("lamination") for row in rows["adhesive"])
    assert rows["blanks"][0].item.endswith("remnant R1")
    new = bill_for(lay_out(STUDY, JobSpec(pairs=2, sheet_mm=(300.0, 150.0))))
    saved = [*new["sheets"], *(row for row in new["adhesive"] if row.item.startswith("lamination"))]
    assert all(row.cost for row in saved)
    less = sum(row.cost or 0.0 for row in saved)
    before, after = new["total"][0].cost, rows["total"][0].cost
    assert before is not None
    assert after == pytest.approx(before - less)
    assert "remnant" not in rows["total"][0].note


def test_a_drawn_blank_says_what_it_is_bonded_of() -> None:
    """It is counted as at hand, by the name of its drawing, with the sheets that it is made of."""
    (layout,) = lay_out(STUDY, SPEC)
    assert layout.drawing == "rest.dxf"
    (sheet,) = bill_for((layout,))["sheets"]
    assert sheet.item == "drawn blank: rest.dxf"
    assert "1 × glass liner 0.8mm and 1 × paper face 6mm" in sheet.note
    assert sheet.cost == 0.0


def test_new_blanks_beside_a_remnant_are_counted_alone() -> None:
    """Of a remnant and two new blanks of the same size, two are bought, and two are bonded."""
    (old,) = lay_out(STUDY, replace(SPEC, remnant="R1"))
    (new,) = lay_out(STUDY, JobSpec(pairs=2, sheet_mm=(300.0, 150.0)))
    rows = bill_for((old, new, replace(new, name="sheet-3")))
    assert rows["sheets"][0].item == "remnant R1"
    assert [row.details["blanks"] for row in rows["sheets"][1:]] == [2, 2]
    (glue,) = (row for row in rows["adhesive"] if row.item.startswith("lamination"))
    assert glue.note.startswith("1 × 2 joints")
    assert [row.quantity for row in rows["blanks"]] == [1.0, 2.0]


def test_without_spares_the_blanks_at_hand_are_kept() -> None:
    """What the pairs cost without the spares goes by the remnant, not by the new blank that holds as many."""
    (old,) = lay_out(STUDY, replace(SPEC, remnant="R1"))
    (new,) = lay_out(STUDY, JobSpec(pairs=2, sheet_mm=(300.0, 150.0)))
    rows = {row.item: row.quantity for row in bill_for((new, old), spares=2)["cost"]}
    alone = {row.item: row.quantity for row in bill_for((old,))["cost"]}
    assert rows["batch without spares"] == alone["batch"]
