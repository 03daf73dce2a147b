"""The shop tables as data and as tables for people."""

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.errors import UsageError
from scalegen.model import Shop
from scalegen.shop import DRILLS

_HIDDEN = {"source"}

_TABLES: Mapping[str, Callable[[Shop], list[dict[str, Any]]]] = {
    "rules": lambda shop: [asdict(shop.rules)],
    "stock": lambda shop: [asdict(row) for row in shop.sheets.values()],
    "glues": lambda shop: [asdict(row) for row in shop.adhesives.values()],
    "stacks": lambda shop: [asdict(row) for row in shop.stacks.values()],
    "hardware": lambda shop: [asdict(row) for row in shop.hardware.values()],
    "cutters": lambda shop: [asdict(row) for row in shop.cutters.values()],
    "abrasives": lambda shop: [asdict(row) for row in shop.abrasives.values()],
    "drills": lambda shop: [asdict(drill) for series in DRILLS.values() for drill in series],
}

_ASKED_FOR = {"drills"}


def tables_record(shop: Shop, table: str | None = None) -> dict[str, list[dict[str, Any]]]:
    """One shop table, or all but the published drill series, as data; lengths in mm.

    Raises:
        UsageError: There is no such table.
    """
    if table is not None and table not in _TABLES:
        raise UsageError(f'there is no table "{table}"', remedy=f"use one of {', '.join(_TABLES)}")
    names = [table] if table else [name for name in _TABLES if name not in _ASKED_FOR]
    return {name: _TABLES[name](shop) for name in names}


def print_tables(shop: Shop, table: str | None, out: Console) -> None:
    """Print shop tables; sources are in the files themselves."""
    out.print(Text(f"tables from {shop.folder or 'the bundled starter files'}; lengths in mm"))
    for name, rows in tables_record(shop, table).items():
        shown = Table(title=name, title_justify="left")
        keys = [key for key in rows[0] if key not in _HIDDEN] if rows else []
        for key in keys:
            shown.add_column(key.replace("_", " "), overflow="fold")
        for row in rows:
            shown.add_row(*(Text(_cell(row[key])) for key in keys))
        out.print(shown)


def _cell(value: object) -> str:
    if value is None:
        return "-"
    if isinstance(value, float):
        return f"{value:.4f}".rstrip("0").rstrip(".")
    if isinstance(value, list | tuple):
        return ", ".join(str(item) for item in value)
    return str(value)
