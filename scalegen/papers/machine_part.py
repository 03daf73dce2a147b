"""Second part of a shop sheet: the sheet as it lies on the bed, stages, touch-off and what must be read."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scalegen.machining.bridges import Bridges
from scalegen.machining.card import Card, CardRow, card_of
from scalegen.machining.stages import PAD
from scalegen.machining.tabs import Tab
from scalegen.papers.document import Block, Columns, Drawing, Group, Heading, PageBreak, Table, Text
from scalegen.papers.fitted import fitted
from scalegen.papers.words import bare, listed, place, plural, units_of
from scalegen.report.made import Made
from scalegen.report.sheet_picture import draw_sheet
from scalegen.report.views import sizes_in
from scalegen.sheet.layout import PadBox, SheetLayout

_WIDE_MM, _BESIDE_MM = 180.0, 88.0
_SHEETS_BESIDE, _SHEETS_A_TABLE = 2, 3
_LIGHT_MM = 0.1
_SEEN_MM = 1e-3


def machine_part(made: Made) -> Iterator[Block]:
    """What is done at the machine."""
    cards = [card_of(run, made.shop.rules) for run in made.runs]
    few = len(made.layouts) <= _SHEETS_BESIDE
    yield PageBreak()
    yield Heading(text="At the machine", level=1)
    yield from _stages(made, cards, boxes=few)
    if few:
        yield from _reading_words(made, cards)
    yield from _sheets(made)
    if not few:
        yield Group(blocks=(Heading(text="Read after every stage"), *_readings(made, cards)))


# --------------------------------------------------------------------------------------------- stages


def _stages(made: Made, cards: Sequence[Card], *, boxes: bool) -> Iterator[Block]:
    """The stages in order, with the lowest Z of each from the zero on the pad.

    A job on few sheets has what must be read after each of them, and boxes for it, in the same table.
    """
    units, size = units_of(made), sizes_in(units_of(made))
    stages: Sequence[Mapping[str, Any]] = made.record["stages"]
    rows = [_stage_row(number, stage, made) for number, stage in enumerate(stages, 1)]
    columns = [
        _Column(
            head="stage",
            share=56 if len(made.layouts) != _SHEETS_BESIDE else 40,
            strong=True,
            cells=tuple(row[0] for row in rows),
        ),
        _Column(head="cutter", share=26, cells=tuple(row[1] for row in rows)),
        _Column(head=f"passes × {units}", share=23, cells=tuple(row[2] for row in rows)),
        _Column(
            head=f"lowest Z, {units}", share=17, right=True, strong=True, cells=tuple(row[3] for row in rows)
        ),
        *(_boxes(made, cards, len(rows)) if boxes else ()),
    ]
    yield Heading(text="Stages and cutters, in this order")
    yield Table(
        heads=tuple(each.head for each in columns),
        rows=tuple(zip(*(each.cells for each in columns), strict=True)),
        shares=tuple(each.share for each in columns),
        right=tuple(k for k, each in enumerate(columns) if each.right),
        strong=tuple(k for k, each in enumerate(columns) if each.strong),
        ticks=True,
        write_in=boxes,
    )
    wrong = max(stage["surface_error_if_zeroed_elsewhere_mm"] for stage in stages)
    warning = "Zero every cutter on the pad, never on a face that has been cut"
    if wrong > 0:
        warning += f": everything after that would come out {size(wrong, 2)} too deep"
    turned = any(stage["touch_off"] != PAD for stage in stages)
    warning += ". Stages marked * are zeroed on the back of the scale, turned over" if turned else ""
    yield Text(text=f"{warning}. Z is 0 on the pad, minus is down.", strong=True)
    through = [stage for stage in stages if stage["to_mm"] < 0]
    if through:
        below, tip = (-min(stage[key] for stage in through) for key in ("to_mm", "deepest_mm"))
        point = f", points of drills {size(tip, 2)}" if tip > below + _SEEN_MM else ""
        yield Text(
            text=f"{listed([stage['name'] for stage in through]).capitalize()} go {size(below, 2)} below the"
            f" blank{point}: tape or a board must lie under it there."
        )


@dataclass(frozen=True, kw_only=True)
class _Column:
    """One column of the table of stages."""

    head: str
    share: float
    cells: tuple[str, ...]
    right: bool = False
    strong: bool = False


def _boxes(made: Made, cards: Sequence[Card], count: int) -> Iterator[_Column]:
    """What the second spot must show after each stage, and boxes for what it and the pad read."""
    alone = len(made.layouts) == 1
    share, empty = 17.0 if alone else 14.0, ("",) * count
    shown = [{row.stage: row for row in card.rows} for card in cards]
    spots = [card.rows[0].spot.label for card in cards]
    must = tuple(
        listed([_must_show(each.get(number), made) for each in shown]) for number in range(1, count + 1)
    )
    column = _Column(head=f"{listed(spots)} must show", share=19, cells=must, right=True, strong=True)
    if spots and not alone:
        yield column
    for number in range(1, len(made.layouts) + 1):
        yield _Column(head="pad read" if alone else f"sheet {number}: pad", share=share, cells=empty)
        if spots and alone:
            yield column
        if spots:
            spot = spots[number - 1]
            yield _Column(
                head=f"{spot} read" if alone else f"sheet {number}: {spot}", share=share, cells=empty
            )


def _stage_row(number: int, stage: Mapping[str, Any], made: Made) -> tuple[str, ...]:
    turned = "" if stage["touch_off"] == PAD else " *"
    missing = "" if stage["at_hand"] else " (NOT AT HAND)"
    lowest = bare(stage["deepest_mm"] - stage["z_zero_mm"], units_of(made))
    return f"{number} {stage['name']}{turned}", f"{stage['cutter']}{missing}", _passes(stage, made), lowest


def _passes(stage: Mapping[str, Any], made: Made) -> str:
    """How many passes, and how deep each comes: all of the depth shared out evenly.

    A finish that follows the surface has no depth of its own, and light passes are too many to need one.
    """
    count, depth_mm = stage["passes"], stage["from_mm"] - stage["to_mm"]
    if stage["does"] == "shape" and count == 1:
        return "1, all over"
    each_mm = depth_mm / count
    return (
        f"{count} light"
        if count > 1 and each_mm < _LIGHT_MM
        else f"{count} × {bare(each_mm, units_of(made))}"
    )


# --------------------------------------------------------------------------------------------- sheets


def _sheets(made: Made) -> Iterator[Block]:
    """The sheets from above: one as wide as the page, more of them two side by side."""
    wide = _WIDE_MM if len(made.layouts) == 1 else _BESIDE_MM
    drawn = [tuple(_sheet(made, index, wide)) for index in range(len(made.layouts))]
    said = [" ".join(_sheet_words(made, index)) for index in range(len(made.layouts))]
    common = Text(text=said[0])
    if len(drawn) == 1:
        yield Group(blocks=(*drawn[0], common))
        return
    same = len(set(said)) == 1
    if not same:
        drawn = [(*blocks, Text(text=text)) for blocks, text in zip(drawn, said, strict=True)]
    for first in range(0, len(drawn), 2):
        last = first + 2 >= len(drawn)
        some = (*drawn[first : first + 2], *([()] if first + 1 == len(drawn) else []))
        yield Group(blocks=(Columns(columns=some), *([common] if same and last else [])))


def _sheet(made: Made, index: int, wide_mm: float) -> Iterator[Block]:
    layout = made.layouts[index]
    count = sum(each.side == "left" for each in layout.placements)
    remnant = f", remnant {layout.remnant}" if layout.remnant else ""
    yield Heading(text=f"{layout.name.replace('-', ' ').capitalize()}: {plural(count, 'pair')}{remnant}")
    labels = ", ".join(each.label for each in layout.placements)
    others = [lot.scale for lot in made.lots[1:]]
    yield Drawing(
        picture=fitted(
            draw_sheet(made.lots[0].scale, layout, _tabs(made, index), others), wide_mm, _rim_mm(wide_mm)
        ),
        alt=f"{layout.name} seen from above with the scales {labels}",
    )


def _rim_mm(wide_mm: float) -> float:
    """Room for letters around a sheet, as wide on paper however small it is drawn."""
    return 8.0 * _WIDE_MM / wide_mm


def _tabs(made: Made, index: int) -> tuple[Tab, ...]:
    return made.bridges[index].tabs if index < len(made.bridges) else ()


def _sheet_words(made: Made, index: int) -> Iterator[str]:
    """What the picture shows."""
    layout, tabs = made.layouts[index], _tabs(made, index)
    corner = layout.origin.replace("-", " ").capitalize()
    yield f"Seen from above, faces up. {corner} corner is X0 Y0. L left (tinted), R right; the black wedge"
    yield f"points to the front end. {_grain(layout.grain_rad)}"
    if layout.zones:
        kinds = listed([zone.kind for zone in layout.zones])
        yield f"{kinds.capitalize()} in the sheet: marked, nothing lies there."
    yield _pad_words("Pad", layout.pad, made, layout)
    for pad in layout.more_pads:
        yield _pad_words("Second pad, to check the first by,", pad, made, layout)
    yield "No cutter comes nearer to a pad than the dotted ring."
    if tabs:
        size = sizes_in(units_of(made))
        wide, high = size(tabs[0].width_mm, 1), size(tabs[0].height_mm, 2)
        what = held_words(layout, made.bridges[index])
        yield f"{plural(len(tabs), 'tab')}, {wide} wide and {high} high, hold {what}: cut them when the"
        yield "machine stands still."


def held_words(layout: SheetLayout, bridges: Bridges) -> str:
    """What the tabs of a sheet hold: all its scales, or those of the patterns that have tabs."""
    ends = {end for each in bridges.bridges for end in (each.label, each.to)}
    held = [place.label for place in layout.placements if place.label in ends]
    if len(held) == len(layout.placements):
        return "the scales"
    return f"{', '.join(held)} alone, the others come loose"


def _grain(grain_rad: float) -> str:
    degrees = math.degrees(grain_rad)
    return "Grain along X." if abs(degrees) < 0.05 else f"Grain {degrees:.1f}° against X."


def _pad_words(name: str, pad: PadBox, made: Made, layout: SheetLayout) -> str:
    units = units_of(made)
    low = layout.to_origin_frame(pad.x_mm, pad.y_mm)
    middle = layout.to_origin_frame(pad.x_mm + pad.w_mm / 2, pad.y_mm + pad.h_mm / 2)
    wide, high = bare(pad.w_mm, units, 1), bare(pad.h_mm, units, 1)
    return f"{name} {wide} × {high} {units} from {place(low, units)}, its middle at {place(middle, units)}."


# ------------------------------------------------------------------------------------------- readings


def _reading_words(made: Made, cards: Sequence[Card]) -> Iterator[Block]:
    """What must be read on the pad, and where the second spot lies."""
    units = units_of(made)
    yield Text(
        text=f"After every stage the pad must show {bare(0.0, units)}. If it shows anything else, stop: it"
        " was cut or moved.",
        strong=True,
    )
    if not cards:
        return
    spots = [
        f"{card.rows[0].spot.label} at {place(layout.to_origin_frame(*card.rows[0].spot.at_mm), units)}"
        f"{' on ' + layout.name.replace('-', ' ') if len(cards) > 1 else ''}"
        for card, layout in zip(cards, made.layouts, strict=True)
    ]
    yield Text(text=f"Then read a second spot: {listed(spots)}. {_room_words(cards, made)}")


def _readings(made: Made, cards: Sequence[Card]) -> Iterator[Block]:
    """Boxes for what is read on pad and part after each stage, sheet by sheet."""
    yield from _reading_words(made, cards)
    if cards:
        for first in range(0, len(cards), _SHEETS_A_TABLE):
            yield _readings_table(cards[first : first + _SHEETS_A_TABLE], first, made)
        return
    for first in range(0, len(made.layouts), 2 * _SHEETS_A_TABLE):
        names = [each.name.replace("-", " ") for each in made.layouts[first : first + 2 * _SHEETS_A_TABLE]]
        rows = tuple(
            (f"{number} {stage['name']}", *[""] * len(names))
            for number, stage in enumerate(made.record["stages"], 1)
        )
        heads = ("after stage", *(f"{name}: pad" for name in names))
        yield Table(heads=heads, rows=rows, shares=(46, *[22] * len(names)), strong=(0,), write_in=True)


def _readings_table(cards: Sequence[Card], first: int, made: Made) -> Table:
    """Rows for the stages, two columns to write in for each sheet."""
    units = units_of(made)
    heads = ["after stage", f"spot must show, {units}"]
    for number, card in enumerate(cards, first + 1):
        heads += [f"sheet {number}: pad", f"sheet {number}: {card.rows[0].spot.label}"]
    rows = []
    for k, row in enumerate(cards[0].rows):
        shown = listed([_must_show(card.rows[k], made) for card in cards])
        rows.append((f"{row.stage} {row.name}", shown, *[""] * (2 * len(cards))))
    return Table(
        heads=tuple(heads),
        rows=tuple(rows),
        shares=(46, 24, *[20] * (2 * len(cards))),
        strong=(0, 1),
        right=(1,),
        write_in=True,
    )


def _must_show(row: CardRow | None, made: Made) -> str:
    if row is None:
        return "-"
    return "gone" if row.spot_mm is None else bare(row.spot_mm, units_of(made))


def _room_words(cards: Sequence[Card], made: Made) -> str:
    """How large a plate the pad takes, and whether the machine gets there."""
    size = sizes_in(units_of(made))
    room = min((card.room for card in cards), key=lambda each: each.room_mm)
    said = f"The pad takes a plate or probe of up to {size(room.room_mm, 1)}"
    if room.probe_mm:
        said += f"; yours is {size(room.probe_mm, 1)}" + ("" if room.fits else ", WHICH DOES NOT FIT")
    if any(card.room.in_travel is False for card in cards):
        said += ". The machine's travel does NOT reach all over the pad"
    return f"{said}. Zeroed on the bed, the pad must read {size(cards[0].pad_above_bed_mm, 2)}; if not, stop."
