"""Touch-off and dry run as data, and as tables for people."""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.machining.card import Card, CardRow, PadRoom
from scalegen.machining.summary import StageRow, TabsRow
from scalegen.machining.thin import ThinLayer
from scalegen.machining.touch_off import TouchOff
from scalegen.machining.wrong_thickness import WrongThickness
from scalegen.model import Lengths, ShopRules
from scalegen.sheet.layout import SheetLayout
from scalegen.units import format_length

_DIGITS = 5


def touch_off_record(found: TouchOff, layout: SheetLayout) -> dict[str, Any]:
    """A touch-off as data; the place counts from the job's origin corner."""
    return _tidy(
        {
            "stage": found.stage,
            "at_mm": list(layout.to_origin_frame(*found.at_mm)),
            "height_mm": found.height_mm,
            "depth_error_mm": found.depth_error_mm,
            "thinnest_left_mm": _left(found.thinnest_left_mm),
            "into_bed_mm": found.into_bed_mm,
            "verdict": found.verdict,
        }
    )


def print_touch_off(found: TouchOff, layout: SheetLayout, units: Lengths, out: Console) -> None:
    """Print what a zero at one place does, the verdict first."""
    x, y = layout.to_origin_frame(*found.at_mm)
    place = f"zeroed at x = {_size(x, units)}, y = {_size(y, units)} on {layout.name}"
    out.print(Text(f"stage {found.stage}, {found.name}, {place}:"))
    out.print(Text(found.verdict, style="bold"))
    height = f"{_size(found.height_mm, units)} above the bed side, {_size(found.below_top_mm, units)} below"
    left = ", ".join(
        f"{layer.name} {_size(layer.left_mm, units)} of {_size(layer.planned_mm, units)} planned"
        for layer in found.thinnest_left_mm
        if layer.kind != "bond"
    )
    table = _bare()
    table.add_row("height of the place", Text(f"{height} the blank's top"))
    table.add_row("everything comes out", Text(_off(found.depth_error_mm, units)))
    table.add_row("left at the thinnest place", Text(left))
    bed = _size(found.into_bed_mm, units)
    planned = f" ({_size(found.planned_into_bed_mm, units)} as planned)" if found.planned_into_bed_mm else ""
    table.add_row("cut into the bed", Text(f"{bed}{planned}"))
    out.print(table)


def card_record(card: Card, layout: SheetLayout) -> dict[str, Any]:
    """A touch-off card as data; places count from the job's origin corner."""
    room, rules = card.room, card.rules
    return _tidy(
        {
            "sheet": layout.name,
            "pad_room_mm": room.room_mm,
            "pad_above_bed_mm": card.pad_above_bed_mm,
            "probe_mm": room.probe_mm,
            "pad_in_travel": room.in_travel,
            "below_least_mm": rules.below_least_mm,
            "below_most_mm": rules.below_most_mm,
            "stages": [
                {
                    "stage": row.stage,
                    "name": row.name,
                    "cutter": row.cutter,
                    "zero": "reference pad",
                    "zero_at_mm": list(layout.to_origin_frame(*row.zero_at_mm)),
                    "pad_reads_mm": row.pad_mm,
                    "second_pad_at_mm": None
                    if row.second_pad_at_mm is None
                    else list(layout.to_origin_frame(*row.second_pad_at_mm)),
                    "second_pad_reads_mm": row.second_pad_mm,
                    "second_spot": row.spot.label,
                    "second_at_mm": list(layout.to_origin_frame(*row.spot.at_mm)),
                    "second_reads_mm": row.spot_mm,
                    "below_blank_mm": row.below_mm,
                    "full_width_below_mm": row.full_below_mm,
                    "into_bed_mm": row.into_bed_mm,
                    "limits": row.limits or "kept",
                }
                for row in card.rows
            ],
        }
    )


def print_card(card: Card, layout: SheetLayout, units: Lengths, out: Console) -> None:
    """Print a touch-off card."""
    size = _sizes(units)
    spot = card.rows[0].spot
    pad, second = (_place(layout.to_origin_frame(*at), units) for at in (card.rows[0].zero_at_mm, spot.at_mm))
    out.print(Text(f"Touch-off card of {layout.name}", style="bold"))
    out.print(Text(f"Zero every stage on the reference pad, at {pad} from the {layout.origin} corner."))
    out.print(Text(f"The second spot is on {spot.label}, at {second}. Readings count from the zero, up."))
    pads = ["pad then reads"]
    if (at := card.rows[0].second_pad_at_mm) is not None:
        other = _place(layout.to_origin_frame(*at), units)
        out.print(Text(f"The second pad, at {other}, must read the same as the first: check it by that."))
        pads.append("second pad reads")
    table = Table(show_lines=False)
    for name in ("stage", "cutter"):
        table.add_column(name, overflow="fold")
    for name in (*pads, "second spot reads", "below the blank", "into the bed"):
        table.add_column(name, justify="right")
    table.add_column("limits", overflow="fold")
    for row in card.rows:
        point = row.below_mm - row.full_below_mm
        below = size(row.full_below_mm) + (f" + point {size(point)}" if row.full_below_mm and point else "")
        table.add_row(
            Text(f"{row.stage} {row.name}"),
            Text(row.cutter),
            size(row.pad_mm),
            *(() if row.second_pad_mm is None else (size(row.second_pad_mm),)),
            "-" if row.spot_mm is None else size(row.spot_mm),
            below if row.full_below_mm else "stays inside",
            size(row.into_bed_mm),
            _limit_words(row, card.rules, size),
        )
    out.print(table)
    out.print(Text(bed_words(card, size)))
    out.print(Text(_room_words(card.room, size)))


def bed_words(card: Card, size: Callable[[float], str]) -> str:
    """What the pad must read from the bed, the second reference."""
    tape = f" and {size(card.tape_mm)} of tape" if card.tape_mm else ""
    return (
        f"Cross-check: zeroed on the bed, the pad must read {size(card.pad_above_bed_mm)}: the blank of"
        f" {size(card.blank_mm)}{tape}. If it does not, the blank is not what the job counts on: stop."
    )


def dry_run_record(
    rows: Sequence[StageRow], layout: SheetLayout, tabs: TabsRow | None = None
) -> dict[str, Any]:
    """The dry run of one sheet as data; places count from the job's origin corner.

    Where a stage has nothing to cut on the sheet, ``deepest_mm`` and ``deepest_at_mm`` are None.
    """
    return _tidy(
        {
            "sheet": layout.name,
            "stages": [
                {
                    "stage": row.stage,
                    "name": row.name,
                    "cutter": row.cutter,
                    "removed_mm3": row.removed_mm3,
                    "deepest_mm": row.deepest_mm if _comes_down(row) else None,
                    "deepest_at_mm": list(layout.to_origin_frame(*row.deepest_at_mm))
                    if _comes_down(row)
                    else None,
                    "pad_untouched": row.pad_untouched,
                    "pad_ring_mm": row.pad_ring_mm,
                    "pad_held": row.pad_held,
                    "held": list(row.held),
                    "loosened": list(row.loosened),
                    "offcuts": row.offcuts,
                    "rest_mm": row.rest_mm,
                    "rest_mm3": row.rest_mm3,
                }
                for row in rows
            ],
            "tabs": None
            if tabs is None
            else {
                "count": tabs.count,
                "width_mm": tabs.width_mm,
                "height_mm": tabs.height_mm,
                "held": list(tabs.held),
                "loose": list(tabs.loose),
                "not_free_when_cut": list(tabs.not_free),
            },
        }
    )


def _comes_down(row: StageRow) -> bool:
    """Whether a stage cuts on the sheet: of several patterns one may have no scale there."""
    return math.isfinite(row.deepest_mm)


def print_dry_run(
    rows: Sequence[StageRow], layout: SheetLayout, units: Lengths, out: Console, tabs: TabsRow | None = None
) -> None:
    """Print what each stage did."""
    size = _sizes(units)
    table = Table(title=f"Dry run of {layout.name}", title_justify="left")
    for name in ("stage", "cutter"):
        table.add_column(name, overflow="fold")
    for name in ("taken off, cm3", "lowest"):
        table.add_column(name, justify="right")
    for name in ("pad untouched", "parts held", "comes loose"):
        table.add_column(name, overflow="fold")
    table.add_column("rest on parts", justify="right")
    for row in rows:
        table.add_row(
            Text(f"{row.stage} {row.name}"),
            Text(row.cutter),
            f"{row.removed_mm3 / 1000:.2f}",
            size(row.deepest_mm) if _comes_down(row) else "not here",
            _pad_words(row),
            str(len(row.held)),
            Text(_loose_words(row)),
            size(row.rest_mm),
        )
    out.print(table)
    out.print("lowest: the cutter's deepest point above the underside of the blank; below 0 is below it")
    if tabs is not None:
        out.print(Text(_tabs_words(tabs, size)))


def _tabs_words(tabs: TabsRow, size: Callable[[float], str]) -> str:
    words = [f"{tabs.count} tabs, {size(tabs.width_mm)} wide and {size(tabs.height_mm)} high"]
    if tabs.held:
        words.append(f"hold {', '.join(tabs.held)} until they are cut by hand")
    if tabs.loose:
        words.append(f"loose all the same: {', '.join(tabs.loose)}")
    free = f"not free then: {', '.join(tabs.not_free)}" if tabs.not_free else "then every scale is free"
    return "; ".join([*words, free])


def thickness_record(found: WrongThickness) -> dict[str, Any]:
    """A job on a blank of another thickness as data."""
    return _tidy(
        {
            "planned_mm": found.planned_mm,
            "measured_mm": found.actual_mm,
            "zeroed_on": found.reference,
            "uncut_mm": found.uncut_mm,
            "uncut_mm2": found.uncut_mm2,
            "too_deep_mm": found.too_deep_mm,
            "too_deep_mm2": found.too_deep_mm2,
            "web_mm": found.web_mm,
            "not_free": list(found.not_free),
            "closed_holes": list(found.closed_holes),
            "thinnest_left_mm": _left(found.layers),
            "into_bed_mm": found.into_bed_mm,
            "verdict": found.verdict,
        }
    )


def print_thickness(
    found: Sequence[WrongThickness], layout: SheetLayout, units: Lengths, out: Console
) -> None:
    """Print what a job does to blanks it was not planned for."""
    size = _sizes(units)
    planned = size(found[0].planned_mm)
    table = Table(title=f"{layout.name}, planned for {planned}, on another blank", title_justify="left")
    for name in ("blank", "zeroed on", "left uncut", "too low", "not free", "into the bed"):
        table.add_column(name, justify="right" if name not in {"zeroed on", "not free"} else "left")
    table.add_column("verdict", overflow="fold")
    for each in found:
        free = f"{', '.join(each.not_free)}: {size(each.web_mm)}" if each.not_free else "-"
        table.add_row(
            size(each.actual_mm),
            each.reference,
            size(each.uncut_mm),
            size(each.too_deep_mm),
            free,
            size(each.into_bed_mm),
            Text(each.verdict),
        )
    out.print(table)


def _tidy(record: dict[str, Any]) -> dict[str, Any]:
    """A record without digits that a grid of heights does not carry."""
    return {key: _rounded(value) for key, value in record.items()}


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return round(value, _DIGITS)
    if isinstance(value, dict):
        return {key: _rounded(each) for key, each in value.items()}
    return [_rounded(each) for each in value] if isinstance(value, list) else value


def _left(layers: Sequence[ThinLayer]) -> dict[str, float]:
    """What is left of each layer by its name; one that comes twice is numbered from the back."""
    many, seen = Counter(layer.name for layer in layers), Counter[str]()
    out = {}
    for layer in layers:
        seen[layer.name] += 1
        name = f"{layer.name} ({seen[layer.name]})" if many[layer.name] > 1 else layer.name
        out[name] = layer.left_mm
    return out


def _off(error_mm: float, units: Lengths) -> str:
    if error_mm == 0:
        return "right"
    return f"{_size(abs(error_mm), units)} too {'deep' if error_mm > 0 else 'high'}"


def _limit_words(row: CardRow, rules: ShopRules, size: Callable[[float], str]) -> Text:
    if row.limits == "too little":
        return Text(f"too little: at least {size(rules.below_least_mm)}, else parts hang on", style="bold")
    if row.limits == "too much":
        return Text(f"too much: at most {size(rules.below_most_mm)}", style="bold")
    if row.into_bed_mm > 0:
        return Text("kept; put a board under the blank")
    return Text("kept" if row.full_below_mm else "-")


def _room_words(room: PadRoom, size: Callable[[float], str]) -> str:
    words = f"The pad takes a plate or probe of up to {size(room.room_mm)}"
    if room.probe_mm:
        words += f"; yours is {size(room.probe_mm)}" + ("." if room.fits else ", which does not fit.")
    else:
        words += "."
    if room.in_travel is False:
        words += " The machine's travel does not reach all over it."
    return words


def _pad_words(row: StageRow) -> Text:
    if not row.pad_untouched:
        return Text("NO", style="bold red")
    return Text("yes" if row.pad_held else "yes, but loose", style="" if row.pad_held else "yellow")


def _loose_words(row: StageRow) -> str:
    words = [", ".join(row.loosened)] if row.loosened else []
    if row.offcuts:
        words.append(f"{row.offcuts} off-cut{'' if row.offcuts == 1 else 's'}")
    return "; ".join(words) or "-"


def _place(at_mm: tuple[float, float], units: Lengths) -> str:
    return f"x = {_size(at_mm[0], units)}, y = {_size(at_mm[1], units)}"


def _sizes(units: Lengths) -> Callable[[float], str]:
    return lambda mm: _size(mm, units)


def _size(mm: float, units: Lengths) -> str:
    return format_length(mm, units, 3 if units == "in" else 2)


def _bare() -> Table:
    table = Table(show_header=False)
    table.add_column("what")
    table.add_column("value", overflow="fold")
    return table
