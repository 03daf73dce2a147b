"""The shop tables as data and as tables for people."""

import io
from dataclasses import fields, replace

import pytest
from rich.console import Console

from scalegen.errors import UsageError
from scalegen.model import (
    Abrasive,
    Adhesive,
    Cutter,
    Drill,
    Hardware,
    Remnant,
    SheetStock,
    ShopRules,
    StackRecipe,
)
from scalegen.report.shop_tables import print_tables, tables_record
from scalegen.shop import load_shop

KEPT = {
    "R1": Remnant(
        number="R1",
        stack="paper-six",
        outline=((0, 0, 0), (180, 0, 0), (180, 60, 0), (90, 60, 0), (90, 110, 0), (0, 110, 0)),
        zones=(
            ((20, 20, 0), (30, 20, 0), (30, 30, 0), (20, 30, 0)),
            ((25, 20, 0), (35, 20, 0), (35, 30, 0), (25, 30, 0)),
        ),
        measured_mm=(6.9, 6.84),
        source="siskin, sheet-1",
    ),
    "R12": Remnant(number="R12", stack="paper-six", outline=((0, 0, 1), (50, 0, 1))),
}
SHOP = replace(load_shop(None), remnants=KEPT)
RECORDS = {
    "rules": ShopRules,
    "stock": SheetStock,
    "glues": Adhesive,
    "stacks": StackRecipe,
    "hardware": Hardware,
    "cutters": Cutter,
    "abrasives": Abrasive,
    "remnants": Remnant,
    "drills": Drill,
}


def printed(table: str | None, width: int) -> str:
    """What a person sees on a terminal so wide."""
    out = io.StringIO()
    print_tables(SHOP, table, Console(file=out, width=width))
    return out.getvalue()


@pytest.mark.parametrize("table", RECORDS)
def test_data_has_every_field(table: str) -> None:
    """Programs get each row with all its fields, source and colour included."""
    record = tables_record(SHOP, table)
    assert list(record) == [table]
    for row in record[table]:
        assert set(row) == {field.name for field in fields(RECORDS[table])}


def test_without_a_name_all_but_the_drills_come() -> None:
    """The published drill series are long, so they come only when asked for."""
    assert list(tables_record(SHOP)) == [name for name in RECORDS if name != "drills"]
    assert len(tables_record(SHOP, "drills")["drills"]) > 200


def test_an_unknown_table_is_refused_with_what_was_meant() -> None:
    """The message has the nearest name and all of them."""
    with pytest.raises(UsageError) as caught:
        tables_record(SHOP, "hardwar")
    assert 'did you mean "hardware"?' in caught.value.remedy
    assert all(name in caught.value.remedy for name in RECORDS)


@pytest.mark.parametrize("table", [*RECORDS, None])
@pytest.mark.parametrize("width", [80, 120])
def test_tables_fit_the_terminal_and_break_no_words(table: str | None, width: int) -> None:
    """At 80 columns nothing runs over, and names, numbers and headings stay whole."""
    text = printed(table, width)
    assert max(map(len, text.splitlines())) <= width
    words = set(text.split())
    if table in {"hardware", None}:
        assert {"3/16in", "stainless", "4.763", "3.98", "real"} <= words
    if table in {"stock", None}:
        assert {"phenolic", "stabilised", "152.4", "spacer", "thick"} <= words
    if table in {"cutters", None}:
        assert {"tapered", "11.113"} <= words or {"tapered", "11.112"} <= words


@pytest.mark.parametrize("table", [name for name in RECORDS if name != "rules"])
def test_every_row_is_shown(table: str) -> None:
    """No row is left out of what people see."""
    text = printed(table, 120)
    key = {"abrasives": "grade", "drills": "designation", "remnants": "number"}.get(table, "name")
    for row in tables_record(SHOP, table)[table]:
        assert row[key] in text


def test_remnants_are_shown_by_what_can_be_cut_from_them() -> None:
    """Size, area less flaws that lie over one another, and thickness of a corner piece and of a disc.

    By hand: 180 x 60 + 90 x 50 - 15 x 10 = 15150 mm2; a disc 50 across is 25^2 pi = 1963.5 mm2.
    """
    lines = [line.split() for line in printed("remnants", 120).splitlines()]
    corner, disc = (next(line for line in lines if line[:1] == [number]) for number in ("R1", "R12"))
    assert corner[1:6] == ["paper-six", "180", "110", "151.5", "2"]
    assert corner[6:] == ["6.84", "to", "6.9", "siskin,", "sheet-1"]
    assert disc[1:] == ["paper-six", "50", "50", "19.6", "0", "-"]


def test_the_source_of_the_tables_is_told() -> None:
    """The first line says where the tables come from and the unit."""
    assert printed("rules", 80).splitlines()[0] == "tables from the bundled starter files; lengths in mm"
