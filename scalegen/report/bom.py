"""The bill of materials: what to buy, what to cut it to, what it costs and what a pair will weigh.

Amounts are for all pairs of the job, spares included. What is bought is counted in whole sheets, rods and
pieces; the left-over is named in the note. Tools are listed and not counted into the cost.
"""

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from scalegen.design import BLIND_PLAY_MM, Hole, Scale
from scalegen.errors import ScalegenError
from scalegen.model import Adhesive, BomRow, Hardware, JobSpec, SheetStock, Shop, Units
from scalegen.report.cutting import blanks_per_sheet, share_out
from scalegen.sheet.layout import SheetLayout
from scalegen.units import format_length

BOUGHT = ("sheets", "adhesive", "hardware", "tape")
"""Sections whose costs make the total."""

_NO_PRICE = "no price in the tables"
_KEY = "key both faces (about P120), wipe clean, mix by the label's ratio"


def bill(
    scale: Scale, spec: JobSpec, shop: Shop, layouts: Sequence[SheetLayout], volumes: Mapping[str, float]
) -> tuple[BomRow, ...]:
    """List all that a job takes.

    Args:
        scale: What is made.
        spec: How many pairs and spares, and the cutter.
        shop: Shop tables.
        layouts: Blanks of the job.
        volumes: Finished volume of one scale by the name of its span, mm3, holes taken out; empty leaves
            the weight out.

    Returns:
        Rows in the order of the sections "sheets", "adhesive", "hardware" (to buy), "cut list", "tape",
        "tools", "weight" and "total". ``cost`` is None where there is no price, or nothing to pay for.

    Raises:
        ScalegenError: ``volumes`` names a span that the scale does not have.
    """
    pairs = spec.pairs + spec.spares
    rows = [
        *_sheet_rows(scale, shop, layouts),
        *_adhesive_rows(scale, shop, layouts, pairs),
        *_hardware_rows(scale, shop, pairs),
        *_cut_rows(scale, pairs),
        _tape_row(shop, layouts),
        *_tool_rows(scale, spec, shop, pairs),
    ]
    if volumes:
        rows.append(_weight_row(scale, volumes))
    return (*rows, _total_row(rows, shop.rules.currency))


def finished_weight_g(scale: Scale, volumes: Mapping[str, float]) -> float:
    """Weigh a finished pair: both scales and its pins flush with their faces, without tang and glue-up.

    Args:
        scale: What is made.
        volumes: Finished volume of one scale by the name of its span, mm3, holes taken out.

    Returns:
        Grams. A pin counts with its through length, tang plus both scales: what stands out is taken off.
        Rounded edges above a pin are neglected; a stepped fastener counts as its shank and two heads, flush.

    Raises:
        ScalegenError: ``volumes`` names a span that the scale does not have.
    """
    density_g_cm3 = {span.name: span.density_g_cm3 for span in scale.spans}
    unknown = sorted(set(volumes) - set(density_g_cm3))
    if unknown:
        raise ScalegenError(f"there is a volume for {unknown[0]!r}, which is no layer of the scale")
    scales_g = 2 * math.fsum(volume * density_g_cm3[name] for name, volume in volumes.items()) / 1000
    return scales_g + math.fsum(_hardware_weight_g(hole, scale.pattern.tang_mm) for hole in scale.holes)


def _hardware_weight_g(hole: Hole, tang_mm: float) -> float:
    """Weigh what is in one hole of a finished pair."""
    hardware = hole.hardware
    if hardware.kind == "stepped":
        heads_mm3 = 2 * math.pi / 4 * hardware.head_mm**2 * hardware.head_height_mm
        shank_g = rod_weight_g(hardware, max(0.0, tang_mm + 2 * hole.seat_mm))
        return shank_g + heads_mm3 * hardware.density_g_cm3 / 1000
    if hole.is_blind:
        return rod_weight_g(hardware, hole.cut_length_mm)
    return rod_weight_g(hardware, tang_mm + 2 * hole.thickness_mm)


def rod_weight_g(hardware: Hardware, length_mm: float) -> float:
    """Weigh a length of rod or tube.

    Args:
        hardware: Its diameter, bore and density.
        length_mm: How much of it.

    Returns:
        Grams.
    """
    area_mm2 = math.pi / 4 * (hardware.diameter_mm**2 - hardware.bore_mm**2)
    return area_mm2 * length_mm * hardware.density_g_cm3 / 1000


def adhesive_net_g(area_mm2: float, film_mm: float, density_g_cm3: float) -> float:
    """Weigh a film of glue: 0.1 mm at 1.15 g/cm3 is 115 g on a square metre.

    Args:
        area_mm2: Area of all joints.
        film_mm: Thickness of the film.
        density_g_cm3: Density of the cured glue.

    Returns:
        Grams that stay in the joints.
    """
    return area_mm2 * film_mm * density_g_cm3 / 1000


# -------------------------------------------------------------------------------------------- sheets


def _sheet_rows(scale: Scale, shop: Shop, layouts: Sequence[SheetLayout]) -> Iterator[BomRow]:
    """One row for each kind of sheet and each size of blank."""
    blanks = Counter((layout.length_mm, layout.width_mm) for layout in layouts)
    recipe = shop.stacks.get(scale.stack.name)
    names = recipe.sheets if recipe else [layer.name for layer in scale.stack.layers if layer.kind != "bond"]
    for name, layers in Counter(names).items():
        for (length_mm, width_mm), number in blanks.items():
            size = _size(length_mm, width_mm, scale.pattern.units)
            sheet = shop.sheets.get(name)
            if sheet is None:
                yield _row("sheets", name, (layers * number, "blank"), f"{size}; not in the sheet table")
            else:
                yield _sheet_row(sheet, layers * number, (length_mm, width_mm), scale.pattern.units, shop)


def _sheet_row(
    sheet: SheetStock, pieces: int, blank_mm: tuple[float, float], units: Units, shop: Shop
) -> BomRow:
    """What it takes to get a number of pieces out of one kind of sheet."""
    item = f"{sheet.kind}: {sheet.name}"
    size = _size(*blank_mm, units)
    bought = f"{_size(sheet.length_mm, sheet.width_mm, units)} × {format_length(sheet.thickness_mm, units)}"
    each = blanks_per_sheet(sheet, *blank_mm, shop.rules.saw_kerf_mm)
    if each == 0:
        note = f"cut to {size}; a sheet of {bought} is too small for that, find a larger one"
        return _row("sheets", item, (pieces, "blank"), note)
    sheets = math.ceil(pieces / each)
    left = 1 - pieces * blank_mm[0] * blank_mm[1] / (sheets * sheet.length_mm * sheet.width_mm)
    note = f"{pieces} × cut to {size}, {each} from each sheet of {bought}"
    if left > 0.005:
        note += f"; left over {left * sheets:.2f} sheet by area"
    return _priced("sheets", item, (sheets, "sheet"), note, _times(sheet.price, sheets))


# ------------------------------------------------------------------------------------------ adhesive


def _adhesive_rows(scale: Scale, shop: Shop, layouts: Sequence[SheetLayout], pairs: int) -> Iterator[BomRow]:
    """Glue for the stack, and glue between scales and tang."""
    stack, units = scale.stack, scale.pattern.units
    bonds = [layer for layer in stack.layers if layer.kind == "bond"]
    if bonds:
        area_mm2 = math.fsum(layout.area_mm2 for layout in layouts)
        net_g = math.fsum(adhesive_net_g(area_mm2, bond.thickness_mm, bond.density_g_cm3) for bond in bonds)
        film = format_length(bonds[0].thickness_mm, units)
        joints = f"{len(bonds)} × {len(layouts)} joints in the stack, film {film}"
        yield _adhesive_row("lamination", stack.adhesive, shop.adhesives.get(stack.adhesive), net_g, joints)
    glue = shop.adhesives.get(stack.glue_up)
    joints_mm2 = scale.glued.area_mm2 * 2 * pairs
    net_g = adhesive_net_g(joints_mm2, glue.bond_mm, glue.density_g_cm3) if glue else 0.0
    joints = f"{2 * pairs} joints on the tang"
    joints += f", film {format_length(glue.bond_mm, units)}" if glue else ""
    yield _adhesive_row("glue-up", stack.glue_up, glue, net_g, joints)


def _adhesive_row(use: str, name: str, glue: Adhesive | None, net_g: float, joints: str) -> BomRow:
    """Grams to mix: what stays in the joints, times what squeezes out and stays in the cup."""
    item = f"{use}: {name}"
    if glue is None:
        return _row("adhesive", item, (net_g, "g"), f"{joints}; not in the adhesive table")
    mixed_g = net_g * glue.waste
    note = f"{joints}; {net_g:.2f} g stay, mix {glue.waste:g} times that; {_KEY}"
    price = None if glue.price_per_g is None else glue.price_per_g * mixed_g
    return _priced("adhesive", item, (mixed_g, "g"), note, price)


# ------------------------------------------------------------------------------------------ hardware


def _pieces(scale: Scale, pairs: int) -> dict[str, list[Hole]]:
    """Every pin of the job by the name of its hardware, in the pattern's order; one goes through a pair."""
    pieces: dict[str, list[Hole]] = {}
    for hole in scale.holes:
        pieces.setdefault(hole.hardware.name, []).extend([hole] * pairs)
    return pieces


def _hardware_rows(scale: Scale, shop: Shop, pairs: int) -> Iterator[BomRow]:
    """Rods and single pieces to buy."""
    units, kerf_mm = scale.pattern.units, shop.rules.saw_kerf_mm
    for name, holes in _pieces(scale, pairs).items():
        hardware, number = holes[0].hardware, len(holes)
        lengths_mm = [hole.cut_length_mm for hole in holes]
        if hardware.length_mm <= 0:
            note = f"{hardware.material}, comes as single pieces, one for each hole of a pair"
            yield _priced("hardware", name, (number, "piece"), note, _times(hardware.price, number))
            continue
        if max(lengths_mm) > hardware.length_mm + 1e-6:
            longest, rod = (format_length(each, units) for each in (max(lengths_mm), hardware.length_mm))
            note = f"cut to {longest}; a rod of {rod} is too short for that, find a longer one"
            yield _row("hardware", name, (number, "piece"), note)
            continue
        rods = len(share_out(lengths_mm, hardware.length_mm, kerf_mm))
        note = f"{hardware.material}, {_rod_use(lengths_mm, rods, hardware.length_mm, kerf_mm, units)}"
        yield _priced("hardware", name, (rods, "rod"), note, _times(hardware.price, rods))


def _rod_use(lengths_mm: Sequence[float], rods: int, rod_mm: float, kerf_mm: float, units: Units) -> str:
    """How much of the rods goes into pieces and between them, and what is left."""
    taken_mm = math.fsum(lengths_mm) + kerf_mm * (len(lengths_mm) - rods)
    taken, left = (format_length(each, units, 2) for each in (taken_mm, rod_mm * rods - taken_mm))
    kerf, rod = format_length(kerf_mm, units), format_length(rod_mm, units)
    return f"rods of {rod}; {taken} with saw cuts of {kerf} between pieces, {left} left over"


def _cut_rows(scale: Scale, pairs: int) -> Iterator[BomRow]:
    """How many pins and tubes to cut to which length; stepped fasteners come as they are."""
    units = scale.pattern.units
    for name, holes in _pieces(scale, pairs).items():
        hardware = holes[0].hardware
        if hardware.kind == "stepped":
            continue
        for length_mm, number in Counter(round(hole.cut_length_mm, 6) for hole in holes).items():
            note = f"cut each to {format_length(length_mm, units)}"
            blind = any(hole.is_blind and abs(hole.cut_length_mm - length_mm) < 1e-5 for hole in holes)
            if blind:
                note += f" for a blind hole, {format_length(BLIND_PLAY_MM, units)} of play in it"
            elif hardware.end_allowance_mm > 0:
                note += f", with {format_length(hardware.end_allowance_mm, units)} at each end to take off"
            yield _row("cut list", name, (number, "piece"), note)


# ------------------------------------------------------------------------- tape, tools, weight, total


def _tape_row(shop: Shop, layouts: Sequence[SheetLayout]) -> BomRow:
    """Tape that holds the blanks down."""
    area_cm2 = math.fsum(layout.area_mm2 for layout in layouts) * shop.rules.tape_waste / 100
    note = f"blanks × {shop.rules.tape_waste:g}; the tables keep no price for tape"
    return _row("tape", "double-sided tape", (area_cm2, "cm2"), note)


def _tool_rows(scale: Scale, spec: JobSpec, shop: Shop, pairs: int) -> Iterator[BomRow]:
    """The cutter and the drills; a tool outlasts the job, so none is counted into the cost."""
    units = scale.pattern.units
    cutter = shop.cutters.get(spec.cutter)
    known = f"diameter {format_length(cutter.diameter_mm, units)}" if cutter else "not in the cutter table"
    yield _row("tools", f"cutter: {spec.cutter}", (1, "piece"), f"{known}; kept, not counted into the cost")
    drilled: Counter[str] = Counter()
    for hole in scale.holes:
        size = format_length(hole.hole_mm, units)
        drilled[f"drill: {hole.drill.designation} ({size})" if hole.drill else f"milled hole: {size}"] += (
            2 * pairs
        )
    for hole in scale.holes:
        if hole.head_hole_mm:
            drilled[f"milled recess: {format_length(hole.head_hole_mm, units)}"] += 2 * pairs
    for item, number in drilled.items():
        kept = "kept, not counted into the cost" if item.startswith("drill") else "made with the cutter"
        yield _row("tools", item, (1, "piece"), f"{number} holes; {kept}")


def _weight_row(scale: Scale, volumes: Mapping[str, float]) -> BomRow:
    """Weight of a finished pair."""
    note = "both scales and the pins flush with their faces; without tang and glue-up"
    return _row("weight", "finished pair", (finished_weight_g(scale, volumes), "g"), note)


def _total_row(rows: Sequence[BomRow], currency: str) -> BomRow:
    """Sum of all known costs, and what is missing from it."""
    bought = [row for row in rows if row.section in BOUGHT]
    costs = [row.cost for row in bought if row.cost is not None]
    missing = [row.item for row in bought if row.cost is None]
    note = f"{currency}, whole sheets and rods, without tools"
    if missing:
        note += f"; not in it, for want of a price: {', '.join(missing)}"
    return _row("total", "materials", (1, "job"), note, math.fsum(costs) if costs else None)


def _priced(section: str, item: str, amount: tuple[float, str], note: str, price: float | None) -> BomRow:
    """A row to buy; the price is that of all of it."""
    return _row(section, item, amount, note if price is not None else f"{note}; {_NO_PRICE}", price)


def _row(section: str, item: str, amount: tuple[float, str], note: str, cost: float | None = None) -> BomRow:
    """A row from its columns; the amount is a quantity and its unit."""
    quantity, unit = amount
    return BomRow(section=section, item=item, quantity=float(quantity), unit=unit, note=note, cost=cost)


def _times(price: float | None, number: int) -> float | None:
    """The price of so many, or None where there is none."""
    return None if price is None else price * number


def _size(length_mm: float, width_mm: float, units: Units) -> str:
    """Length and width in the user's unit."""
    return f"{format_length(length_mm, units)} × {format_length(width_mm, units)}"
