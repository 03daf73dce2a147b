"""Sizes no blank can have, and blanks that not even one pair goes on: told with what is missing."""

import math
from collections.abc import Mapping, Sequence

from scalegen.errors import SheetError
from scalegen.model import Pad, Side
from scalegen.nest.records import Bound
from scalegen.sheet.grid import Field, Shape, Spot
from scalegen.sheet.layout import SheetLayout
from scalegen.sheet.skyline import skyline_spots

_SLACK_MM = 1e-9


def check_sizes(
    pad: Pad,
    *,
    pairs: int | None,
    length_mm: float,
    width_mm: float,
    margin_mm: float,
    spacing_mm: float,
    keep_clear_mm: float,
) -> None:
    """Refuse numbers that no blank can have.

    Raises:
        SheetError: Names the number.
    """
    if pairs is not None and pairs < 1:
        raise SheetError(f"{pairs} pairs asked for", where="pairs", remedy="ask for at least one")
    sizes = {
        "sheet length": (length_mm, False),
        "sheet width": (width_mm, False),
        "margin": (margin_mm, True),
        "spacing": (spacing_mm, True),
        "distance to the pad": (keep_clear_mm, True),
        "pad width": (pad.width_mm, False),
        "pad height": (pad.height_mm, False),
    }
    for name, (value, zero) in sizes.items():
        if not math.isfinite(value) or value < 0 or (value == 0 and not zero):
            allowed = "0 or more" if zero else "more than 0"
            raise SheetError(f"is {value:g} mm", where=name, remedy=f"give a length of {allowed}")
    room = (length_mm - 2 * margin_mm, width_mm - 2 * margin_mm)
    if pad.width_mm > room[0] + _SLACK_MM or pad.height_mm > room[1] + _SLACK_MM:
        raise SheetError(
            f"the pad of {_size(pad.width_mm, pad.height_mm)} mm does not go inside the margin, "
            f"which leaves {_size(max(room[0], 0.0), max(room[1], 0.0))} mm",
            where="sheet",
            remedy="take a larger sheet, a smaller margin or a smaller pad",
        )


def no_room(left: Shape, right: Shape, field: Field) -> SheetError:
    """Say what one pair would need and how much is missing."""
    longest = max(left.length_mm, right.length_mm)
    bare = Field(
        length_mm=longest,
        width_mm=2 * (left.width_mm + right.width_mm + field.spacing_mm),
        spacing_mm=field.spacing_mm,
        pad_length_mm=0.0,
        pad_width_mm=0.0,
        pad_gap_mm=0.0,
        pad_right=False,
    )
    stacked = skyline_spots(left, right, bare, most=1)
    width = left.width_mm + right.width_mm + field.spacing_mm
    if stacked:
        width = min(width, top_mm(stacked[0], {"left": left, "right": right}))
    in_line = left.length_mm + right.length_mm + field.spacing_mm
    needs = [(longest, width), (in_line, max(left.width_mm, right.width_mm))]
    need = min(needs, key=lambda size: sum(_short(size, field)))
    short = _short(need, field)
    words = [f"{gap:.1f} mm too {word}" for gap, word in zip(short, ("short", "narrow"), strict=True) if gap]
    if not words:
        words = [f"the pad of {_size(field.pad_length_mm, field.pad_width_mm)} mm is in the way"]
    shown = [math.ceil(size * 10 - 1e-6) / 10 for size in need]
    return SheetError(
        f"one pair needs {_size(*shown)} mm inside the margin; the sheet offers "
        f"{_size(field.length_mm, field.width_mm)} mm: {' and '.join(words)}",
        where="sheet",
        remedy="take a larger sheet, or a smaller margin, spacing or pad",
    )


def no_room_on(blank: SheetLayout, limit: Bound) -> SheetError:
    """Say that not one pair was found room for on an odd blank."""
    sizes = f"{_size(blank.length_mm, blank.width_mm)} mm"
    what = "the sheet of" if blank.outline is None else "the outline within"
    proven = f", and none can go: {limit.reason}" if limit.groups == 0 else ""
    return SheetError(
        f"no room was found for one pair on {what} {sizes}, beside margin, pads, holes and flaws{proven}",
        where="sheet",
        remedy="take a larger sheet, a smaller margin, spacing or pad, or allow more turns, with --turns",
    )


def _short(need_mm: tuple[float, float], field: Field) -> tuple[float, float]:
    """What is missing along and across the grain, rounded up to the tenth that is shown; 0 where enough."""
    missing = (need_mm[0] - field.length_mm, need_mm[1] - field.width_mm)
    along, across = (math.ceil(max(gap - _SLACK_MM, 0.0) * 10) / 10 for gap in missing)
    return along, across


def _size(length_mm: float, width_mm: float) -> str:
    """Two lengths for a message."""
    return f"{length_mm:.1f} × {width_mm:.1f}"


def top_mm(spots: Sequence[Spot], shapes: Mapping[Side, Shape]) -> float:
    """How far up the field the scales reach."""
    return max(
        spot.y_mm + (-shapes[spot.side].bounds_mm[1] if spot.turned else shapes[spot.side].bounds_mm[3])
        for spot in spots
    )
