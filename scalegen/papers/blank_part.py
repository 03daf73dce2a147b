"""First part of a shop sheet: what is cut from what, the stack to scale, and boxes for what it measures."""

from collections.abc import Iterator

from scalegen.machining.touch_off import CROSS_MM
from scalegen.papers.caution_part import warnings_of
from scalegen.papers.document import Block, Group, Heading, Number, Numbers, Table, Text
from scalegen.papers.stack_picture import stack_picture
from scalegen.papers.words import bare, listed, pairs_in, plural, to_cut, units_of
from scalegen.report.made import Lot, Made
from scalegen.report.views import sizes_in

_ORDERING = ("a sheet yields", "left over", "no price")
_PLACES = ("lower left", "lower right", "middle", "upper left", "upper right")


def blank_part(made: Made) -> Iterator[Block]:
    """What is cut from what."""
    yield Numbers(numbers=tuple(_numbers(made)))
    yield Text(
        text="Dust, epoxy, fast cutters and blades can hurt you: read the cautions at the end first."
        + _warned(made),
        strong=True,
    )
    yield from _what(made)
    yield from _pins(made)
    yield Group(blocks=tuple(_stack(made)))
    yield Group(blocks=tuple(_measuring(made)))


def _warned(made: Made) -> str:
    """How many findings must be read before anything is cut."""
    count = len(warnings_of(made))
    them = "it" if count == 1 else "them"
    return f" The checks gave {plural(count, 'warning')}: read {them} there too." if count else ""


def _numbers(made: Made) -> Iterator[Number]:
    size = sizes_in(units_of(made))
    spares = sum(lot.spares for lot in made.lots)
    pairs, sheets = pairs_in(made), len(made.layouts)
    said = f"to cut, {plural(spares, 'spare')} among them" if spares else "to cut"
    yield Number(value=plural(pairs, "pair"), label=said)
    yield Number(value=plural(sheets, "sheet"), label=f"of {listed(_blank_sizes(made))}")
    stack = made.lots[0].scale.stack
    said = "blank, as measured" if stack.measured_mm else "blank by the tables, NOT MEASURED"
    yield Number(value=size(stack.used_mm, 2), label=said)
    thick = listed([size(lot.scale.thickness_mm, 2) for lot in made.lots])
    yield Number(value=thick, label="finished scale")


def _blank_sizes(made: Made) -> list[str]:
    units = units_of(made)
    return [
        f"{bare(each.length_mm, units, 1)} × {bare(each.width_mm, units, 1)} {units}" for each in made.layouts
    ]


def _what(made: Made) -> Iterator[Block]:
    """Patterns, and the sheets they come from."""
    units = units_of(made)
    yield Heading(text="What is cut")
    yield Table(
        heads=("knife", "pairs", f"scale as cut, {units}", f"finished, {units}", "front"),
        rows=tuple(_lot_row(lot, made) for lot in made.lots),
        shares=(40, 26, 41, 38, 39),
        strong=(0, 1),
    )
    rows = tuple(
        (row.item, f"{row.quantity:g} {row.unit}{'s' * (row.quantity > 1)}", _cutting(row.note))
        for row in made.bom
        if row.section == "sheets"
    )
    yield Table(heads=("from", "how many", "cut to"), rows=rows, shares=(40, 18, 68), strong=(0,))


def _cutting(note: str) -> str:
    """What a row of the bill says of cutting, without what is only of use to whoever orders."""
    parts = note.split("; ")
    return "; ".join(part for part in parts if not part.startswith(_ORDERING))


def _lot_row(lot: Lot, made: Made) -> tuple[str, ...]:
    units, scale = units_of(made), lot.scale
    front = scale.pattern.front
    boxes = [scale.footprint.bounds_mm, scale.finished.bounds_mm]
    tall = (scale.thickness_mm + scale.back_allowance_mm, scale.thickness_mm)
    sizes = [
        f"{bare(box[2] - box[0], units, 1)} × {bare(box[3] - box[1], units, 1)} × {bare(high, units)}"
        for box, high in zip(boxes, tall, strict=True)
    ]
    said = {
        "bevel": f"bevel, land {bare(front.land_mm, units)} {units}",
        "round": f"round, radius {bare(front.radius_mm, units)} {units}",
        "square": "square",
    }[front.treatment]
    pairs = f"{lot.pairs} + {lot.spares} spare" if lot.spares else str(lot.pairs)
    return scale.pattern.title, pairs, *sizes, said


def _pins(made: Made) -> Iterator[Block]:
    """Pins to cut, and the drill that each hole was made for."""
    units = units_of(made)
    rows = []
    for lot in made.lots:
        pairs = lot.pairs + lot.spares
        for number, hole in enumerate(lot.scale.holes, 1):
            cut = to_cut(hole.cut_length_mm, made) if hole.cut_length_mm else "as it comes"
            drill = hole.drill.designation if hole.drill else "milled"
            who = f"{lot.scale.pattern.title}, {number}" if len(made.lots) > 1 else str(number)
            rows.append((who, hole.hardware.name, str(pairs), cut, f"{bare(hole.hole_mm, units)} ({drill})"))
    if not rows:
        return
    yield Table(
        heads=("pin", "rod or piece", "pieces", f"cut to, {units}", f"hole, {units} (drill)"),
        rows=tuple(rows),
        shares=(18, 34, 18, 46, 34) if made.spec.paper_units == "fraction" else (18, 40, 18, 24, 36),
        right=(2, 3),
        strong=(2, 3),
    )
    kinds = listed([hole.hardware.name for lot in made.lots for hole in lot.scale.holes])
    yield Text(text=f"Measure {kinds} before you drill: rod is not always the size it is sold as.")


def _stack(made: Made) -> Iterator[Block]:
    scale, size = made.lots[0].scale, sizes_in(units_of(made))
    stack = scale.stack
    yield Heading(text=f"The stack: {stack.name}")
    if stack.measured_mm:
        readings = ", ".join(size(each, 2) for each in stack.measured_mm)
        used = size(stack.used_mm, 2)
        yield Text(
            text=f"Measured: {readings}. The job counts on {used}; by the tables {size(stack.nominal_mm, 2)}."
        )
    else:
        nominal, off = size(stack.nominal_mm, 2), size(stack.tolerance_mm, 2)
        yield Text(
            text=f"Not measured. The tables add up to {nominal} ± {off}: measure the blank, and make the job"
            " again with --measured before you cut.",
            strong=True,
        )
    seen = set()
    for lot in made.lots:
        cut = (lot.scale.thickness_mm, lot.scale.back_allowance_mm)
        if cut not in seen:
            seen.add(cut)
            yield stack_picture(
                lot.scale, units_of(made), lot.scale.pattern.title if len(made.lots) > 1 else ""
            )


def _measuring(made: Made) -> Iterator[Block]:
    size = sizes_in(units_of(made))
    planned = size(made.lots[0].scale.stack.used_mm, 2)
    need = max(lot.facing.need_mm for lot in made.lots)
    yield Heading(text="Measure the bonded blank here")
    yield Text(
        text=f"Needed wherever a scale lies: {size(need, 2)} or more. The job was planned for {planned}:"
        f" where a reading is more than {size(CROSS_MM, 2)} off, make the job again with your readings"
        " (our limit; common practice, no source)."
    )
    yield Table(
        heads=("", *_PLACES),
        rows=tuple((layout.name.replace("-", " "), *[""] * len(_PLACES)) for layout in made.layouts),
        shares=(16, *[22] * len(_PLACES)),
        strong=(0,),
        write_in=True,
    )
