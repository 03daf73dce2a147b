"""Loading all shop tables: a shop's own folder, or the ones that come with the program."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files as resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

from scalegen.errors import Fault, PatternError
from scalegen.fields.files import UnreadableError, parse_toml, read_text
from scalegen.fields.lines import with_lines
from scalegen.fields.place import Place, units_of
from scalegen.fields.table import look_over
from scalegen.fields.words import describe, listed, suggest
from scalegen.model import Adhesive, Cutter, OwnStage, Remnant, SheetStock, Shop, ShopRules, StackRecipe
from scalegen.shop import rows
from scalegen.shop.table import Record, RowKind, Rows, read_row, read_rows

TABLE_FILES: Final = ("shop.toml", "stock.toml", "hardware.toml", "cutters.toml", "abrasives.toml")
"""Tables that every shop has."""

REMNANTS_FILE: Final = "remnants.toml"
"""The table of what was kept of earlier blanks; a shop without it has kept nothing."""

STAGES_FILE: Final = "stages.toml"
"""The shop's own stages; a shop without any has each job's planned."""

_INIT: Final = '"scalegen init" lays out a folder that has every table'
_NOT_CHECKED: Final = "while it is not a TOML file, nothing else in it is checked"


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
        raise PatternError("there is no such folder of shop tables", where=str(folder), remedy=_INIT)
    files = {name: _open(name, folder) for name in TABLE_FILES}
    rules, rule_faults = _rules(files["shop.toml"])
    stock = files["stock.toml"]
    sheets, adhesives, stacks = stock.rows(rows.SHEET), stock.rows(rows.ADHESIVE), stock.rows(rows.STACK)
    hardware = files["hardware.toml"].rows(rows.HARDWARE)
    cutters = files["cutters.toml"].rows(rows.CUTTER)
    abrasives = files["abrasives.toml"].rows(rows.ABRASIVE)
    files[REMNANTS_FILE] = _open(REMNANTS_FILE, folder, optional=True)
    remnants = files[REMNANTS_FILE].rows(rows.REMNANT)
    files[STAGES_FILE] = _open(STAGES_FILE, folder, optional=True)
    stages = files[STAGES_FILE].rows(rows.STAGE)
    every: tuple[Rows[Any], ...] = (sheets, adhesives, stacks, hardware, cutters, abrasives, remnants, stages)
    found = [*rule_faults, *(fault for each in files.values() for fault in each.faults)]
    found += [fault for each in every for fault in each.faults]
    if all(fault.field == "units" for fault in stock.faults):
        # Any other fault at the top level can hide rows, and what is hidden is not missing.
        found += _dangling(sheets, adhesives, stacks)
        found += _of_no_stack(remnants, stacks)
    if not files["cutters.toml"].faults and not cutters.faults:
        found += _of_no_cutter(stages, cutters)
    if found or rules is None:
        some = "one fault" if len(found) == 1 else f"{len(found)} faults"
        placed = [fault for each in files.values() for fault in each.placed(found)]
        raise PatternError(f"{some} in the shop tables", faults=placed)
    return Shop(
        folder=folder,
        rules=rules,
        sheets=sheets.records,
        adhesives=adhesives.records,
        stacks=stacks.records,
        hardware=hardware.records,
        cutters=cutters.records,
        abrasives=abrasives.records,
        remnants=remnants.records,
        stages=tuple(stages.records.values()),
    )


def check_remnants(path: Path) -> None:
    """Read a file as a table of remnants.

    Raises:
        PatternError: With every fault of it, but for stacks that are not in the tables.
    """
    file = _open(REMNANTS_FILE, path.parent, path)
    faults = (*file.faults, *file.rows(rows.REMNANT).faults)
    if faults:
        raise PatternError("the table of remnants is faulty", faults=file.placed(faults))


def bundled_tables() -> Traversable:
    """The folder of the tables that come with the program."""
    return resources("scalegen").joinpath("data", "shared")


@dataclass(frozen=True, kw_only=True)
class _File:
    """A table file: its text, what could be read at its top level, and what is wrong there."""

    place: Place
    text: str
    content: Mapping[str, Any]
    faults: tuple[Fault, ...]
    readable: bool = True

    def rows(self, kind: RowKind[Record]) -> Rows[Record]:
        """All rows of one kind."""
        return read_rows(self.content, kind, self.place)

    def placed(self, faults: Sequence[Fault]) -> tuple[Fault, ...]:
        """Those of the faults that are in this file, each with its line."""
        return with_lines([fault for fault in faults if fault.file == self.place.file], self.text)


def _open(name: str, folder: Path | None, path: Path | None = None, *, optional: bool = False) -> _File:
    """One table file, read as far as its top level; an optional one that is not there is empty."""
    source: Traversable = path or (bundled_tables().joinpath(name) if folder is None else folder / name)
    place = Place(file=name if folder is None else str(source))
    if optional and isinstance(source, Path) and not (source.exists() or source.is_symlink()):
        return _File(place=place, text="", content={}, faults=())
    try:
        text = read_text(source)
        data = parse_toml(text, source)
    except UnreadableError as error:
        there = source.is_file() or source.is_dir()
        fault = place.fault(error.message, error.remedy, _NOT_CHECKED if there else _INIT)
        if error.line:
            fault = replace(fault, line=error.line)
        return _File(place=place, text="", content={}, faults=(fault,), readable=False)
    place = replace(place, units=units_of(data))
    if name == "shop.toml":
        return _File(place=place, text=text, content=data, faults=())
    reading = look_over(data, rows.TOP_LEVELS[name], place)
    return _File(place=place, text=text, content=reading.values, faults=reading.faults)


def _rules(file: _File) -> tuple[ShopRules | None, tuple[Fault, ...]]:
    row = read_row(file.content, rows.RULES, file.place)
    return row[0], row[1] if file.readable else ()


def _dangling(
    sheets: Rows[SheetStock], adhesives: Rows[Adhesive], stacks: Rows[StackRecipe]
) -> Iterator[Fault]:
    """Names in stacks that no row has, and a stack that does not end in a face."""
    for name, recipe in stacks.records.items():
        place = stacks.places[name]
        parts = place.key("sheets")
        named = [
            (parts.item(count), "sheet", each, sheets.places) for count, each in enumerate(recipe.sheets, 1)
        ]
        named += [
            (place.key("adhesive"), "adhesive", recipe.adhesive, adhesives.places),
            (place.key("glue_up"), "adhesive", recipe.glue_up, adhesives.places),
        ]
        for where, label, word, known in named:
            if word not in known:
                allowed = f"there are {listed(sorted(known))}" if known else f"add a row [[{label}]]"
                yield where.fault(f"there is no {label} {describe(word)}", allowed, suggest(word, known))
        outermost = sheets.records.get(recipe.sheets[-1])
        if outermost is not None and outermost.kind != "face":
            yield parts.item(len(recipe.sheets)).fault(
                f"{describe(outermost.name)} is a {outermost.kind}",
                "sheets go from back to face, so the last one is a face",
            )


def _of_no_stack(remnants: Rows[Remnant], stacks: Rows[StackRecipe]) -> Iterator[Fault]:
    """Remnants of a stack that is not in the tables."""
    for number, remnant in remnants.records.items():
        if remnant.stack not in stacks.places:
            allowed = f"there are {listed(sorted(stacks.places))}" if stacks.places else "add a row [[stack]]"
            yield (
                remnants.places[number]
                .key("stack")
                .fault(
                    f"there is no stack {describe(remnant.stack)}",
                    allowed,
                    suggest(remnant.stack, stacks.places),
                )
            )


def _of_no_cutter(stages: Rows[OwnStage], cutters: Rows[Cutter]) -> Iterator[Fault]:
    """Stages whose cutter no row has, and passes further apart than it is wide."""
    for name, stage in stages.records.items():
        if stage.cutter is None:
            continue
        place = stages.places[name]
        cutter = cutters.records.get(stage.cutter)
        if cutter is None:
            yield place.key("cutter").fault(
                f"there is no cutter {describe(stage.cutter)}",
                f"there are {listed(sorted(cutters.places))}",
                suggest(stage.cutter, cutters.places),
            )
            continue
        wide = 2 * cutter.tip_radius_mm if stage.does == "shape" and cutter.tip_radius_mm else None
        most = cutter.diameter_mm if wide is None else wide
        if stage.stepover_mm is not None and stage.stepover_mm > most + 1e-9:
            yield place.key("stepover").fault(
                f"{stage.stepover_mm:g} mm is wider than its cutter's tip", f"give {most:g} mm at most"
            )
