"""What is told about the pieces of the page: their sizes in words and in the pattern's unit."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from scalegen.design import Hole, Scale, edge_distance_mm
from scalegen.layers import Span
from scalegen.machining.tabs import Tab
from scalegen.model import Side
from scalegen.outline.ring import Ring
from scalegen.report.views import sizes_in
from scalegen.sheet.layout import PadBox, Placement, SheetLayout

Row = tuple[str, str]
Size = Callable[[float, int], str]


@dataclass(frozen=True, kw_only=True)
class Fact:
    """What is told about one thing.

    Attributes:
        title: What it is.
        short: The same on a button.
        rows: Names and values.
        more: Further tables with their titles.
    """

    title: str
    short: str
    rows: tuple[Row, ...]
    more: tuple[tuple[str, tuple[Row, ...]], ...] = field(default=())


def layer_fact(scale: Scale, span: Span, side: Side | None, *, finished: bool) -> Fact:
    """A layer of a scale, and the scale that it is part of.

    Args:
        scale: The scale.
        span: Its layer.
        side: Which scale; None for both.
        finished: As it is on the knife, and not as cut.
    """
    size = sizes_in(scale.pattern.units)
    low = max(span.bottom_mm, 0.0) if finished else span.bottom_mm
    whose = f", {side} scale" if side else ""
    return Fact(
        title=f"{span.name}{whose}",
        short=f"{span.name}{f', {side}' if side else ''}",
        rows=(("Thickness", size(span.top_mm - low, 2)), ("From the back", _between(low, span.top_mm, size))),
        more=(("Scale, finished" if finished else "Scale, as cut", scale_rows(scale, finished=finished)),),
    )


def scale_rows(scale: Scale, *, finished: bool) -> tuple[Row, ...]:
    """Length, width and thickness of a scale."""
    size = sizes_in(scale.pattern.units)
    ring = scale.finished if finished else scale.as_cut
    if scale.stepped is not None and scale.stepped.step_mm > 0:
        ring = scale.stepped.finished if finished else scale.stepped.as_cut
    long, wide = _extent(ring)
    thick = scale.thickness_mm + (0.0 if finished else scale.back_allowance_mm)
    return (("Length", size(long, 2)), ("Width", size(wide, 2)), ("Thickness", size(thick, 2)))


def scale_fact(scale: Scale, *, finished: bool) -> Fact:
    """The scale as a whole, as cut or finished; finished with the thickness of the handle."""
    size, rows = sizes_in(scale.pattern.units), scale_rows(scale, finished=finished)
    if not finished:
        return Fact(title="Scale, as cut", short="scale", rows=rows)
    whole = scale.pattern.tang_mm + 2 * scale.thickness_mm
    names = (("Scale, thickest", rows[2][1]), ("Handle, thickest", size(whole, 2)))
    return Fact(title="Handle", short="handle", rows=(*rows[:2], *names))


def pin_fact(scale: Scale, number: int) -> Fact:
    """A pin and its hole; ``number`` counts from 1."""
    size, hole = sizes_in(scale.pattern.units), scale.holes[number - 1]
    x, y = hole.at_mm
    rows = [
        ("At x, y", _pair(x, y, size)),
        ("Hole", size(hole.hole_mm, 2)),
        ("Drill", hole.drill.designation if hole.drill else "mill it"),
        ("Hole to edge", size(edge_distance_mm(scale, hole), 2)),
        ("Rod cut to", size(hole.cut_length_mm, 2) if hole.cut_length_mm else "as it comes"),
        *_depths(hole, size),
    ]
    return Fact(title=f"Pin {number}: {hole.hardware.name}", short=f"pin {number}", rows=tuple(rows))


def _depths(hole: Hole, size: Size) -> list[Row]:
    rows = []
    if hole.head_hole_mm:
        rows += [("Recess", size(hole.head_hole_mm, 2)), ("Its floor above the back", size(hole.seat_mm, 2))]
    if hole.is_blind:
        rows.append(("Ends above the back", size(hole.end_mm, 2)))
    return rows


def tang_fact(scale: Scale) -> Fact:
    """The tang between the scales."""
    size = sizes_in(scale.pattern.units)
    half = scale.pattern.tang_mm + 2 * scale.thickness_mm
    rows = (("Thickness", size(scale.pattern.tang_mm, 2)), ("Handle, thickest", size(half, 2)))
    return Fact(title="Tang", short="tang", rows=rows)


def place_fact(scale: Scale, layout: SheetLayout, place: Placement) -> Fact:
    """One scale where it lies on a sheet."""
    size = sizes_in(scale.pattern.units)
    x, y = layout.to_origin_frame(place.x_mm, place.y_mm)
    rows = (
        ("Pattern", place.pattern),
        ("Its zero at x, y", _pair(x, y, size)),
        ("Turned", f"{math.degrees(place.angle_rad):.4g}°"),
    )
    more = (("Scale, as cut", scale_rows(scale, finished=False)),)
    return Fact(title=f"{place.label}, {place.side} scale", short=place.label, rows=rows, more=more)


def pad_fact(scale: Scale, layout: SheetLayout, pad: PadBox, number: int) -> Fact:
    """A reference pad."""
    size = sizes_in(scale.pattern.units)
    x, y = layout.to_origin_frame(pad.x_mm, pad.y_mm)
    name = "Reference pad" if number == 1 else f"Reference pad {number}"
    rows = (
        ("Corner at x, y", _pair(x, y, size)),
        ("Size", _times(pad.w_mm, pad.h_mm, size)),
        ("Height", f"{size(scale.stack.used_mm, 2)}, all of the blank"),
        ("Cutters", "none touches it"),
    )
    return Fact(title=name, short=name.lower(), rows=rows)


def tabs_fact(scale: Scale, tabs: Sequence[Tab]) -> Fact:
    """The tabs of a sheet."""
    size = sizes_in(scale.pattern.units)
    rows = (
        ("On this sheet", str(len(tabs))),
        ("Width", size(tabs[0].width_mm, 2)),
        ("Height", size(tabs[0].height_mm, 2)),
        ("Over them", "the cutter is lifted to that height"),
    )
    return Fact(title="Tabs", short="tabs", rows=rows)


def sheet_fact(scale: Scale, layout: SheetLayout) -> Fact:
    """A blank."""
    size = sizes_in(scale.pattern.units)
    rows = (
        ("Size", _times(layout.length_mm, layout.width_mm, size)),
        ("Thickness", size(scale.stack.used_mm, 2)),
        ("Scales on it", str(len(layout.placements))),
        ("Margin", size(layout.margin_mm, 2)),
        ("X0 Y0", f"{layout.origin.replace('-', ' ')} corner"),
    )
    return Fact(title=f"Blank {layout.name}", short="blank", rows=rows)


def _extent(ring: Ring) -> tuple[float, float]:
    x0, y0, x1, y1 = ring.bounds_mm
    return x1 - x0, y1 - y0


def _bare(values: Sequence[float], size: Size) -> tuple[list[str], str]:
    texts = [size(value, 2).rpartition(" ") for value in values]
    return [text for text, _, _ in texts], texts[0][2]


def _pair(x_mm: float, y_mm: float, size: Size) -> str:
    (x, y), unit = _bare((x_mm, y_mm), size)
    return f"{x}, {y} {unit}"


def _times(a_mm: float, b_mm: float, size: Size) -> str:
    (a, b), unit = _bare((a_mm, b_mm), size)
    return f"{a} × {b} {unit}"


def _between(low_mm: float, high_mm: float, size: Size) -> str:
    (low, high), unit = _bare((low_mm, high_mm), size)
    return f"{low} to {high} {unit}"
