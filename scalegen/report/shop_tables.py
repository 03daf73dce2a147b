"""The shop tables as data and as tables for people."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import shapely
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.model import Shop
from scalegen.outline.ring import Ring
from scalegen.shop import DRILLS

_COLUMNS: Mapping[str, Sequence[tuple[str, str]]] = {
    "stock": (
        ("name", "name"),
        ("kind", "kind"),
        ("material", "material"),
        ("thick", "thickness_mm"),
        ("±", "tolerance_mm"),
        ("long", "length_mm"),
        ("wide", "width_mm"),
        ("price", "price"),
    ),
    "glues": (
        ("name", "name"),
        ("film", "bond_mm"),
        ("mixed for each g", "waste"),
        ("g/cm3", "density_g_cm3"),
        ("works min", "working_min"),
        ("price of 1 g", "price_per_g"),
    ),
    "stacks": (
        ("name", "name"),
        ("sheets", "sheets"),
        ("bonded with", "adhesive"),
        ("on the tang", "glue_up"),
    ),
    "hardware": (
        ("name", "name"),
        ("kind", "kind"),
        ("material", "material"),
        ("size", "nominal_mm"),
        ("real", "diameter_mm"),
        ("bore", "bore_mm"),
        ("rod", "length_mm"),
        ("ends", "end_allowance_mm"),
        ("price", "price"),
    ),
    "cutters": (
        ("name", "name"),
        ("kind", "kind"),
        ("across", "diameter_mm"),
        ("flute", "flute_mm"),
        ("stands out", "stickout_mm"),
        ("tip r", "tip_radius_mm"),
        ("flutes", "flutes"),
        ("price", "price"),
    ),
    "abrasives": (("grade", "grade"), ("mean grain in um", "grain_um")),
    "remnants": (
        ("number", "number"),
        ("stack", "stack"),
        ("long", "long_mm"),
        ("wide", "wide_mm"),
        ("area in cm2", "area_cm2"),
        ("flaws", "flaws"),
        ("thick", "thick"),
        ("from", "source"),
    ),
    "drills": (("drill", "designation"), ("series", "series"), ("across", "diameter_mm")),
}
"""Headings and keys of what is shown to people; the data has the rest."""

_WRAPPED = {"material", "sheets", "source"}

_NUMBERS = {"long_mm", "wide_mm", "area_cm2", "flaws"}

_RULES = (
    ("a hole is larger than its pin by", "slip_fit_mm", "mm"),
    ("the same where a close fit is asked for", "close_fit_mm", "mm"),
    ("a hole is smaller than a pressed pin by", "press_fit_mm", "mm"),
    ("drill sets in the drawer", "drill_series", ""),
    ("kept between parts beside the cutter", "clearance_mm", "mm"),
    ("lost with each saw cut of a rod", "saw_kerf_mm", "mm"),
    ("tape laid for each mm2 of blank", "tape_waste", "mm2"),
    ("plate or probe on the pad", "probe_mm", "mm"),
    ("the machine goes along x and y", "travel_mm", "mm"),
    ("tape under the blank", "tape_mm", "mm"),
    ("last cuts go below the blank at least", "below_least_mm", "mm"),
    ("and at most", "below_most_mm", "mm"),
    ("tabs on every scale", "tabs", ""),
    ("a tab is wide along the outline", "tab_width_mm", "mm"),
    ("and high above the underside", "tab_height_mm", "mm"),
    ("roughing leaves for the finish", "finish_allowance_mm", "mm"),
    ("one person spreads with glue in a minute", "spread_cm2_min", "cm2"),
    ("mixing and closing a glue take", "closing_min", "min"),
    ("ridges that cutters may leave", "ridge_mm", "mm"),
    ("fronts end on", "front_grit", ""),
    ("faces and edges end on", "face_grit", ""),
    ("backs end on", "back_grit", ""),
    ("the next grade is finer by at most", "grit_step", "times"),
    ("a sheet of paper sands, for its own area", "paper_cover", "times"),
    ("a square metre of tape costs", "tape_price_m2", ""),
    ("prices are in", "currency", ""),
)

_TABLES: Mapping[str, Callable[[Shop], list[dict[str, Any]]]] = {
    "rules": lambda shop: [asdict(shop.rules)],
    "stock": lambda shop: [asdict(row) for row in shop.sheets.values()],
    "glues": lambda shop: [asdict(row) for row in shop.adhesives.values()],
    "stacks": lambda shop: [asdict(row) for row in shop.stacks.values()],
    "hardware": lambda shop: [asdict(row) for row in shop.hardware.values()],
    "cutters": lambda shop: [asdict(row) for row in shop.cutters.values()],
    "abrasives": lambda shop: [asdict(row) for row in shop.abrasives.values()],
    "remnants": lambda shop: [asdict(row) for row in shop.remnants.values()],
    "drills": lambda _: [asdict(drill) for series in DRILLS.values() for drill in series],
}

_ASKED_FOR = {"drills"}


def tables_record(shop: Shop, table: str | None = None) -> dict[str, list[dict[str, Any]]]:
    """One shop table, or all but the published drill series, as data; lengths in mm.

    Raises:
        UsageError: There is no such table.
    """
    if table is not None and table not in _TABLES:
        hint = suggest(table, _TABLES)
        raise UsageError(
            f'there is no table "{table}"', remedy=f"{hint} the tables are: {', '.join(_TABLES)}".strip()
        )
    names = [table] if table else [name for name in _TABLES if name not in _ASKED_FOR]
    return {name: _TABLES[name](shop) for name in names}


def print_tables(shop: Shop, table: str | None, out: Console) -> None:
    """Print what people look for in the shop tables; sources and colours are in the files themselves."""
    record = tables_record(shop, table)
    out.print(Text(f"tables from {shop.folder or 'the bundled starter files'}; lengths in mm"))
    for name, rows in record.items():
        out.print(_rules_table(rows[0]) if name == "rules" else _table(name, rows))


def _table(name: str, rows: Sequence[Mapping[str, Any]]) -> Table:
    shown = _bare_table(name)
    columns = _COLUMNS[name]
    for heading, key in columns:
        long = key in _WRAPPED
        numeric = key in _NUMBERS or (bool(rows) and isinstance(rows[0].get(key), float))
        shown.add_column(heading, overflow="fold", no_wrap=not long, justify="right" if numeric else "left")
    for row in map(_remnant, rows) if name == "remnants" else rows:
        shown.add_row(*(Text(_cell(row[key])) for _, key in columns))
    return shown


def _remnant(row: Mapping[str, Any]) -> dict[str, Any]:
    """What people look for in a remnant: how large and how thick it is, less its holes and flaws."""
    ring = Ring.from_rows(row["outline"])
    x0, y0, x1, y1 = ring.bounds_mm
    zones = [shapely.Polygon(Ring.from_rows(zone).flatten()) for zone in row["zones"]]
    whole = shapely.Polygon(ring.flatten()).difference(shapely.union_all(zones))
    readings = sorted(row["measured_mm"])
    ends = readings[:1] if readings[:1] == readings[-1:] else [readings[0], readings[-1]]
    return {
        **row,
        "long_mm": x1 - x0,
        "wide_mm": y1 - y0,
        "area_cm2": round(float(whole.area) / 100, 1),
        "flaws": len(row["zones"]),
        "thick": " to ".join(_cell(each) for each in ends) or None,
    }


def _bare_table(name: str, *, headings: bool = True) -> Table:
    return Table(
        title=name,
        title_justify="left",
        box=SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        show_header=headings,
    )


def _rules_table(rules: Mapping[str, Any]) -> Table:
    shown = _bare_table("rules", headings=False)
    for what, key, unit in _RULES:
        shown.add_row(what, Text(f"{_cell(rules[key])} {unit}".rstrip()))
    return shown


def _cell(value: object) -> str:
    if value is None:
        return "-"
    if isinstance(value, float):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    if isinstance(value, list | tuple):
        return ", ".join(str(item) for item in value)
    return str(value)
