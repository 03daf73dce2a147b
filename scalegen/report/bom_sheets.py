"""Rows of a bill about material: sheets to buy, blanks at hand, and what each kind of blank yields."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scalegen.design import Scale
from scalegen.model import BomRow, SheetStock, Shop, Units
from scalegen.report.bom_rows import Part, priced, row, size, times
from scalegen.report.cutting import blanks_per_sheet
from scalegen.sheet.layout import SheetLayout, pair_count
from scalegen.units import format_area, format_length


@dataclass(frozen=True, kw_only=True)
class _Kind:
    """Blanks that count as one: of the same size, and the same remnant or drawing where they are at hand."""

    length_mm: float
    width_mm: float
    at_hand: str


def sheet_rows(scale: Scale, shop: Shop, layouts: Sequence[SheetLayout]) -> Iterator[BomRow]:
    """One row for each remnant and drawn blank, then one for each kind of sheet and each size of new blank.

    Args:
        scale: For its stack and its units.
        shop: Shop tables.
        layouts: Blanks of the job.
    """
    units = scale.pattern.units
    recipe = shop.stacks.get(scale.stack.name)
    names = recipe.sheets if recipe else [layer.name for layer in scale.stack.layers if layer.kind != "bond"]
    kinds = _kinds(layouts)
    for kind, alike in kinds.items():
        if kind.at_hand:
            yield _at_hand_row(kind, alike, names, units)
    new = {kind: alike for kind, alike in kinds.items() if not kind.at_hand}
    for name, layers in Counter(names).items():
        for kind, alike in new.items():
            blank_mm, pairs = (kind.length_mm, kind.width_mm), max(pair_count([each]) for each in alike)
            sheet = shop.sheets.get(name)
            if sheet is None:
                note = f"{size(*blank_mm, units)}; not in the sheet table"
                yield row("sheets", name, (layers * len(alike), "blank"), note)
            else:
                use = _SheetUse(sheet=sheet, layers=layers, blanks=len(alike), pairs=pairs, blank_mm=blank_mm)
                yield _sheet_row(use, units, shop.rules.saw_kerf_mm)


def _kinds(layouts: Sequence[SheetLayout]) -> dict[_Kind, list[SheetLayout]]:
    """Blanks by their kind, in the order of the job."""
    kinds: dict[_Kind, list[SheetLayout]] = {}
    for each in layouts:
        kind = _Kind(length_mm=each.length_mm, width_mm=each.width_mm, at_hand=each.at_hand)
        kinds.setdefault(kind, []).append(each)
    return kinds


def _at_hand_row(kind: _Kind, alike: Sequence[SheetLayout], names: Sequence[str], units: Units) -> BomRow:
    """A blank that is there already: it costs nothing."""
    within = "" if alike[0].outline is None else "within "
    layers = " and ".join(f"{each} × {name}" for name, each in Counter(names).items())
    note = f"{within}{size(kind.length_mm, kind.width_mm, units)}; at hand: no sheets and no glue are counted"
    note += f"; bonded of {layers}"
    details = {"remnant": alike[0].remnant, "drawing": alike[0].drawing}
    return row("sheets", kind.at_hand, (len(alike), "piece"), note, cost=0.0, details=details)


@dataclass(frozen=True, kw_only=True)
class _SheetUse:
    """What one kind of sheet is cut into: so many layers in each of the blanks; a full one yields pairs."""

    sheet: SheetStock
    layers: int
    blanks: int
    pairs: int
    blank_mm: tuple[float, float]


def _sheet_row(use: _SheetUse, units: Units, kerf_mm: float) -> BomRow:
    """What it takes to get a number of pieces out of one kind of sheet."""
    sheet, layers, blank_mm = use.sheet, use.layers, use.blank_mm
    item, pieces = f"{sheet.kind}: {sheet.name}", layers * use.blanks
    cut = size(*blank_mm, units)
    bought = f"{size(sheet.length_mm, sheet.width_mm, units)} × {format_length(sheet.thickness_mm, units)}"
    each = blanks_per_sheet(sheet, *blank_mm, kerf_mm)
    if each == 0:
        note = f"cut to {cut}; a sheet of {bought} is too small for that, find a larger one"
        return row("sheets", item, (pieces, "blank"), note)
    sheets = math.ceil(pieces / each)
    left_mm2 = sheets * sheet.length_mm * sheet.width_mm - pieces * blank_mm[0] * blank_mm[1]
    share = left_mm2 / (sheet.length_mm * sheet.width_mm)
    note = f"{pieces} × cut to {cut}, {each} from each sheet of {bought}"
    most = each * use.pairs / layers
    if use.pairs:
        note += f"; a sheet yields {_amount(most)} pair{'' if most == 1 else 's'} as laid"
        note += "" if layers == 1 else f", {layers} layers of it in each"
    if share > 0.005 * sheets:
        note += f"; left over {share:.2f} sheet by area, {format_area(left_mm2, units)}"
    details = {
        "name": sheet.name,
        "blanks": pieces,
        "blanks_from_each": each,
        "pairs_from_each": most if use.pairs else None,
        "left_mm2": left_mm2,
    }
    return priced("sheets", item, (sheets, "sheet"), note, price=times(sheet.price, sheets), details=details)


def blank_rows(parts: Sequence[Part], layouts: Sequence[SheetLayout]) -> Iterator[BomRow]:
    """How many pairs each kind of blank yields, and how much of it no scale takes.

    Args:
        parts: Patterns of the job.
        layouts: Its blanks.
    """
    units = parts[0].scale.pattern.units
    areas = {part.scale.pattern.name: part.scale.footprint.area_mm2 for part in parts}
    for kind, alike in _kinds(layouts).items():
        counts = [pair_count([each]) for each in alike]
        if not any(counts):
            continue
        scales_mm2 = math.fsum(
            areas.get(place.pattern, 0.0) for layout in alike for place in layout.placements
        )
        left_mm2 = math.fsum(layout.area_mm2 for layout in alike) - scales_mm2
        each = " + ".join(map(str, counts)) if len(set(counts)) > 1 else f"{counts[0]} each"
        of = f"{sum(counts)} pair{'s' if sum(counts) != 1 else ''}"
        note = f"{of} ({each}); scales take {format_area(scales_mm2, units)}"
        note += f", {format_area(left_mm2, units)} is left: pad, cuts and pieces between"
        details = {"pairs": counts, "scales_mm2": scales_mm2, "left_mm2": left_mm2}
        item = size(kind.length_mm, kind.width_mm, units) + (f", {kind.at_hand}" if kind.at_hand else "")
        yield row("blanks", item, (len(alike), "blank"), note, details=details)


def _amount(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")
