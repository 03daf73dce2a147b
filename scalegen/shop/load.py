"""Loading all shop tables: a shop's own folder, or the ones that come with the program."""

from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

from scalegen.errors import Fault, PatternError
from scalegen.model import Adhesive, SheetStock, Shop, StackRecipe
from scalegen.shop import rows
from scalegen.shop.fields import suggest
from scalegen.shop.table import Rows, TableFile, open_table, read_row, read_rows
from scalegen.units import describe

TABLE_FILES: Final = ("shop.toml", "stock.toml", "hardware.toml", "cutters.toml", "abrasives.toml")


def find_shared(start: Path) -> Path | None:
    """The shop's own tables: ``shared/`` in the nearest folder above that has ``shared/shop.toml``.

    Args:
        start: A pattern file, or the folder to start at; it is looked at first.

    Returns:
        The ``shared`` folder, or None when there is none.
    """
    here = start.resolve()
    for folder in (here, *here.parents):
        shared = folder / "shared"
        if (shared / "shop.toml").is_file():
            return shared
    return None


def load_shop(folder: Path | None) -> Shop:
    """Load every shop table.

    Args:
        folder: A shop's ``shared`` folder, or None for the tables that come with the program.

    Returns:
        The shop; lengths in mm.

    Raises:
        PatternError: With every fault of every table: a missing or unreadable file, an unknown or missing
            field, a value that cannot be used, a name that is there twice or is not there at all.
    """
    if folder is not None and not folder.is_dir():
        remedy = '"scalegen init" lays out a folder that has every table'
        raise PatternError("there is no such folder of shop tables", where=str(folder), remedy=remedy)
    tables, faults = _open_all(folder)
    rules = read_row(tables["shop.toml"], rows.RULES, dict(tables["shop.toml"].content), "")
    if tables["shop.toml"].readable:
        faults += rules.faults
    stock = tables["stock.toml"]
    sheets = read_rows(stock, rows.SHEET)
    adhesives = read_rows(stock, rows.ADHESIVE)
    stacks = read_rows(stock, rows.STACK)
    hardware = read_rows(tables["hardware.toml"], rows.HARDWARE)
    cutters = read_rows(tables["cutters.toml"], rows.CUTTER)
    abrasives = read_rows(tables["abrasives.toml"], rows.ABRASIVE)
    every: tuple[Rows[Any], ...] = (sheets, adhesives, stacks, hardware, cutters, abrasives)
    faults += [fault for each in every for fault in each.faults]
    faults += _dangling(stock.file, sheets, adhesives, stacks)
    if faults or rules.record is None:
        some = "one fault" if len(faults) == 1 else f"{len(faults)} faults"
        raise PatternError(f"{some} in the shop tables", faults=_in_order(faults, tables))
    return Shop(
        folder=folder,
        rules=rules.record,
        sheets=sheets.records,
        adhesives=adhesives.records,
        stacks=stacks.records,
        hardware=hardware.records,
        cutters=cutters.records,
        abrasives=abrasives.records,
    )


def bundled_tables() -> Traversable:
    """The folder of the tables that come with the program."""
    return files("scalegen").joinpath("data", "shared")


def _open_all(folder: Path | None) -> tuple[dict[str, TableFile], list[Fault]]:
    """Every table file by its name, and what is wrong with the files as such."""
    labels = {
        "shop.toml": [each.key for each in rows.RULES.fields],
        "stock.toml": [rows.SHEET.label, rows.ADHESIVE.label, rows.STACK.label],
        "hardware.toml": [rows.HARDWARE.label],
        "cutters.toml": [rows.CUTTER.label],
        "abrasives.toml": [rows.ABRASIVE.label],
    }
    tables: dict[str, TableFile] = {}
    faults: list[Fault] = []
    for name in TABLE_FILES:
        source: Traversable = bundled_tables().joinpath(name) if folder is None else folder / name
        shown = name if folder is None else str(folder / name)
        tables[name], new = open_table(source, shown, labels[name])
        faults += new
    return tables, faults


def _dangling(
    file: str, sheets: Rows[SheetStock], adhesives: Rows[Adhesive], stacks: Rows[StackRecipe]
) -> Iterator[Fault]:
    """Names in stacks that no row has, and a stack that does not end in a face."""
    for name, recipe in stacks.records.items():
        place = stacks.places[name]
        wanted = [
            *(
                (f"sheets[{i}]", "sheet", sheet, sheets.named)
                for i, sheet in enumerate(recipe.sheets, start=1)
            ),
            ("adhesive", "adhesive", recipe.adhesive, adhesives.named),
            ("glue_up", "adhesive", recipe.glue_up, adhesives.named),
        ]
        for key, label, word, named in wanted:
            if word not in named:
                known = sorted(named)
                yield Fault(
                    file=file,
                    field=f"{place}.{key}",
                    found=f"there is no {label} {describe(word)}",
                    allowed=f"there are {', '.join(known)}" if known else f"add a row [[{label}]]",
                    hint=suggest(word, known),
                )
        outermost = sheets.records.get(recipe.sheets[-1])
        if outermost is not None and outermost.kind != "face":
            yield Fault(
                file=file,
                field=f"{place}.sheets[{len(recipe.sheets)}]",
                found=f"{describe(outermost.name)} is a {outermost.kind}",
                allowed="sheets go from back to face, so the last one is a face",
            )


def _in_order(faults: list[Fault], tables: dict[str, TableFile]) -> list[Fault]:
    """Faults file by file; within a file as they were found."""
    order = [table.file for table in tables.values()]
    return sorted(faults, key=lambda fault: order.index(fault.file))
