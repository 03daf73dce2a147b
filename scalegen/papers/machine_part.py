"""Second part of a shop sheet: the sheet as it lies on the bed, stages, touch-off and what must be read."""

from collections.abc import Iterator, Mapping
from typing import Any

from scalegen.machining.card import Card, card_of
from scalegen.papers.document import Block, Drawing, Group, Heading, PageBreak, Table, Text
from scalegen.papers.fitted import fitted
from scalegen.papers.words import bare, listed, place, plural, units_of
from scalegen.report.made import Made
from scalegen.report.sheet_picture import draw_sheet
from scalegen.report.views import sizes_in
from scalegen.sheet.layout import SheetLayout

_WIDE_MM = 180.0


def machine_part(made: Made) -> Iterator[Block]:
    """What is done at the machine."""
    yield PageBreak()
    yield Heading(text="At the machine", level=1)
    yield from _stages(made)
    cards = [card_of(run, made.shop.rules) for run in made.runs]
    for index, layout in enumerate(made.layouts):
        yield Group(blocks=tuple(_sheet(made, layout, cards[index] if index < len(cards) else None)))
    yield from _dxf_layers(made)


def _stages(made: Made) -> Iterator[Block]:
    """The stages in order, with the lowest Z of each from the zero on the pad."""
    units, size = units_of(made), sizes_in(units_of(made))
    stages = made.record["stages"]
    yield Heading(text="Stages and cutters, in this order")
    yield Table(
        heads=("stage", "cutter", "zero Z on", f"lowest Z, {units}"),
        rows=tuple(
            (
                f"{number} {stage['name']}",
                str(stage["cutter"]),
                str(stage["touch_off"]),
                bare(stage["deepest_mm"] - stage["z_zero_mm"], units),
            )
            for number, stage in enumerate(stages, 1)
        ),
        shares=(44, 38, 28, 28),
        right=(3,),
        strong=(0, 3),
        ticks=True,
    )
    wrong = max(stage["surface_error_if_zeroed_elsewhere_mm"] for stage in stages)
    warning = "Zero every cutter on the pad, never on a face that has been cut"
    if wrong > 0:
        warning += f": everything after that would come out {size(wrong, 2)} too deep"
    yield Text(text=f"{warning}.", strong=True)
    through = [stage for stage in stages if stage["deepest_mm"] < 0]
    if through:
        deep = -min(stage["deepest_mm"] for stage in through)
        names = listed([stage["name"] for stage in through])
        yield Text(text=f"Below the blank: {names} go down to {size(deep, 2)} into tape or board.")


def _sheet(made: Made, layout: SheetLayout, card: Card | None) -> Iterator[Block]:
    units = units_of(made)
    count = sum(each.side == "left" for each in layout.placements)
    yield Heading(text=f"{layout.name.replace('-', ' ').capitalize()}: {plural(count, 'pair')}")
    yield _sheet_drawing(made, layout)
    pad = layout.pad
    low = layout.to_origin_frame(pad.x_mm, pad.y_mm)
    middle = layout.to_origin_frame(pad.x_mm + pad.w_mm / 2, pad.y_mm + pad.h_mm / 2)
    yield Text(
        text=f"Seen from above, faces up. {layout.origin.replace('-', ' ').capitalize()} corner is X0 Y0. L"
        " left (tinted), R right; the black wedge points to the front end."
        f" Pad {bare(pad.w_mm, units, 1)} × {bare(pad.h_mm, units, 1)} {units} from {place(low, units)}, its"
        f" middle at {place(middle, units)}; no cutter comes nearer to it than the dotted ring."
    )
    yield from _readings(made, layout, card)


def _sheet_drawing(made: Made, layout: SheetLayout) -> Drawing:
    picture = draw_sheet(made.lots[0].scale, layout)
    labels = ", ".join(each.label for each in layout.placements)
    return Drawing(
        picture=fitted(picture, _WIDE_MM), alt=f"{layout.name} seen from above with the scales {labels}"
    )


def _readings(made: Made, layout: SheetLayout, card: Card | None) -> Iterator[Block]:
    """What must be read on pad and part after each stage, with boxes for what is read."""
    units = units_of(made)
    if card is None:
        names = [stage["name"] for stage in made.record["stages"]]
        rows = tuple((f"{number} {name}", "", "") for number, name in enumerate(names, 1))
        heads = ("after stage", f"pad reads, {units} (0 = whole)", "pad whole, nothing loose?")
        yield Table(heads=heads, rows=rows, shares=(46, 40, 40), strong=(0,), write_in=True)
        return
    spot = card.rows[0].spot
    where = place(layout.to_origin_frame(*spot.at_mm), units)
    yield Text(
        text=f"After every stage read the pad: it must show {bare(0.0, units)}. Then read {spot.label} at"
        f" {where}.",
        strong=True,
    )
    yield Table(
        heads=("after stage", "pad read", f"{spot.label} must show, {units}", f"{spot.label} read"),
        rows=tuple(
            (
                f"{row.stage} {row.name}",
                "",
                "gone" if row.spot_mm is None else bare(row.spot_mm, units),
                "",
            )
            for row in card.rows
        ),
        shares=(46, 26, 30, 26),
        strong=(0, 2),
        right=(2,),
        write_in=True,
    )
    yield from _pad_room(card, made)


def _pad_room(card: Card, made: Made) -> Iterator[Block]:
    room, size = card.room, sizes_in(units_of(made))
    said = f"The pad takes a plate or probe of up to {size(room.room_mm, 1)}"
    if room.probe_mm:
        said += f"; yours is {size(room.probe_mm, 1)}" + ("" if room.fits else ", which does not fit")
    yield Text(text=f"{said}.", strong=not room.fits)
    if room.in_travel is False:
        yield Text(text="The machine's travel does not reach all over the pad.", strong=True)


def _dxf_layers(made: Made) -> Iterator[Block]:
    """Depths of the drawing's layers, where the record has them."""
    layers: list[Mapping[str, Any]] = made.record.get("dxf_layers") or []
    if not layers:
        return
    units = units_of(made)

    def depth(layer: Mapping[str, Any], key: str) -> str:
        value = layer.get(key)
        return "-" if value is None else bare(value, units)

    yield Heading(text="Layers of the drawing")
    yield Table(
        heads=("layer", "what it is", f"from, {units}", f"to, {units}", "stage"),
        rows=tuple(
            (
                str(layer.get("layer")),
                str(layer.get("what", "")),
                depth(layer, "from_below_top_mm"),
                depth(layer, "to_below_top_mm"),
                str(layer.get("stage") or "-"),
            )
            for layer in layers
        ),
        shares=(30, 52, 16, 16, 26),
        right=(2, 3),
        strong=(0,),
    )
