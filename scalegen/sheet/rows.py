"""Pairs onto blanks: along the grain, partners side by side, as many as plain means find room for.

Two ways are tried: rows of boxes (:mod:`scalegen.sheet.grid`) and letting down true shapes
(:mod:`scalegen.sheet.skyline`). Each blank takes the way that holds the pairs asked for and leaves the
wider strip of the blank whole. Not finding room does not prove that there is none.
"""

import math
from collections.abc import Mapping, Sequence

from scalegen.errors import SheetError
from scalegen.model import Corner, Pad, Side
from scalegen.outline.ring import Ring
from scalegen.sheet.grid import Field, Shape, Spot, grid_spots
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.sheet.skyline import skyline_spots

_FLAT_MM = 0.005
_SLACK_MM = 1e-9


def arrange(
    footprints: Mapping[Side, Ring],
    *,
    pattern: str,
    pairs: int,
    length_mm: float,
    width_mm: float,
    margin_mm: float,
    spacing_mm: float,
    pad: Pad,
    origin: Corner,
    keep_clear_mm: float = 0.0,
) -> tuple[SheetLayout, ...]:
    """Place pairs on as many blanks as they need.

    Scales lie along the grain (x), turned by nothing or by half a turn. The pad stands in its corner of
    the area inside the margin, so its outer edges lie on the margin. A pair is never split over two
    blanks. The same input always gives the same layout.

    Args:
        footprints: Outline of each side as it leaves the machine, in its own frame.
        pattern: Name put on the placements.
        pairs: How many pairs, spares included; at least 1.
        length_mm: Size of a blank along the grain.
        width_mm: Size across the grain.
        margin_mm: Kept free along the blank's edge.
        spacing_mm: Kept free between two scales, and between a scale and the pad.
        pad: Reference pad.
        origin: Corner of the blank that is X0 Y0 in what is shown.
        keep_clear_mm: Kept free about the pad where that is more than the spacing, so that the cutter
            that goes round the scales cannot touch it.

    Returns:
        Filled blanks "sheet-1", "sheet-2"...; pairs are numbered through them.

    Raises:
        SheetError: A size makes no sense, or not even one pair fits.
    """
    _check_sizes(
        pad,
        pairs=pairs,
        length_mm=length_mm,
        width_mm=width_mm,
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        keep_clear_mm=keep_clear_mm,
    )
    field = Field(
        length_mm=length_mm - 2 * margin_mm,
        width_mm=width_mm - 2 * margin_mm,
        spacing_mm=spacing_mm,
        pad_length_mm=pad.width_mm,
        pad_width_mm=pad.height_mm,
        pad_gap_mm=max(spacing_mm, keep_clear_mm),
        pad_right=pad.corner in {"lower-right", "upper-left"},
    )
    left, right = _shape("left", footprints), _shape("right", footprints)
    choices = _choices(left, right, field, pairs)
    if not choices:
        raise _no_room(left, right, field)
    half_turn = pad.corner.startswith("upper")
    layouts: list[SheetLayout] = []
    done = 0
    while done < pairs:
        spots = choices[min(pairs - done, len(choices)) - 1]
        if half_turn:
            spots = tuple(_half_turned(spot, field) for spot in spots)
        layouts.append(
            SheetLayout(
                name=f"sheet-{len(layouts) + 1}",
                length_mm=length_mm,
                width_mm=width_mm,
                margin_mm=margin_mm,
                spacing_mm=spacing_mm,
                pad=_pad_box(pad, length_mm, width_mm, margin_mm),
                origin=origin,
                placements=tuple(
                    _placement(i, spot, pattern, done, margin_mm) for i, spot in enumerate(spots)
                ),
            )
        )
        done += len(spots) // 2
    return tuple(layouts)


def _choices(left: Shape, right: Shape, field: Field, most: int) -> tuple[tuple[Spot, ...], ...]:
    """The chosen spots for 1, 2, 3... pairs on one blank, as far as room was found."""
    rows = grid_spots(left, right, field)
    dropped = skyline_spots(left, right, field, most=most)
    shapes: dict[Side, Shape] = {"left": left, "right": right}
    chosen = []
    for count in range(1, min(most, max(len(rows) // 2, len(dropped))) + 1):
        ways = [rows[: 2 * count]] if len(rows) >= 2 * count else []
        ways += [dropped[count - 1]] if len(dropped) >= count else []
        chosen.append(min(ways, key=lambda spots: round(_top_mm(spots, shapes), 2)))
    return tuple(chosen)


def _top_mm(spots: Sequence[Spot], shapes: Mapping[Side, Shape]) -> float:
    """How far up the field the scales reach."""
    return max(
        spot.y_mm + (-shapes[spot.side].bounds_mm[1] if spot.turned else shapes[spot.side].bounds_mm[3])
        for spot in spots
    )


def _shape(side: Side, footprints: Mapping[Side, Ring]) -> Shape:
    """One side's footprint as the ways to fill a blank want it."""
    ring = footprints[side]
    return Shape(side=side, bounds_mm=ring.bounds_mm, points_mm=ring.flatten(_FLAT_MM))


def _half_turned(spot: Spot, field: Field) -> Spot:
    """The spot after the whole field has been turned half round, which takes the pad to the top."""
    return Spot(
        side=spot.side,
        x_mm=field.length_mm - spot.x_mm,
        y_mm=field.width_mm - spot.y_mm,
        turned=not spot.turned,
    )


def _placement(index: int, spot: Spot, pattern: str, pairs_before: int, margin_mm: float) -> Placement:
    """A spot as it is written down: numbered, and in the sheet frame."""
    return Placement(
        label=f"{pairs_before + index // 2 + 1}{'L' if spot.side == 'left' else 'R'}",
        pattern=pattern,
        side=spot.side,
        x_mm=spot.x_mm + margin_mm,
        y_mm=spot.y_mm + margin_mm,
        angle_rad=math.pi if spot.turned else 0.0,
    )


def _pad_box(pad: Pad, length_mm: float, width_mm: float, margin_mm: float) -> PadBox:
    """The pad in its corner inside the margin."""
    right, upper = pad.corner.endswith("right"), pad.corner.startswith("upper")
    return PadBox(
        x_mm=length_mm - margin_mm - pad.width_mm if right else margin_mm,
        y_mm=width_mm - margin_mm - pad.height_mm if upper else margin_mm,
        w_mm=pad.width_mm,
        h_mm=pad.height_mm,
    )


def _check_sizes(
    pad: Pad,
    *,
    pairs: int,
    length_mm: float,
    width_mm: float,
    margin_mm: float,
    spacing_mm: float,
    keep_clear_mm: float,
) -> None:
    """Refuse numbers that no blank can have."""
    if pairs < 1:
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


def _no_room(left: Shape, right: Shape, field: Field) -> SheetError:
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
        width = min(width, _top_mm(stacked[0], {"left": left, "right": right}))
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


def _short(need_mm: tuple[float, float], field: Field) -> tuple[float, float]:
    """What is missing along and across the grain, rounded up to the tenth that is shown; 0 where enough."""
    missing = (need_mm[0] - field.length_mm, need_mm[1] - field.width_mm)
    along, across = (math.ceil(max(gap - _SLACK_MM, 0.0) * 10) / 10 for gap in missing)
    return along, across


def _size(length_mm: float, width_mm: float) -> str:
    """Two lengths for a message."""
    return f"{length_mm:.1f} × {width_mm:.1f}"
