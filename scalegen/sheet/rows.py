"""Pairs onto blanks, partners side by side, as many as can be found room for.

Plain ways come first: rows of boxes (:mod:`scalegen.sheet.grid`) and letting down true shapes along the grain
(:mod:`scalegen.sheet.skyline`). Each blank takes the one that holds the pairs asked for and leaves the wider
strip of the blank whole. Where that takes more blanks than area alone proves, or may not be used at all, the
engine looks for more (:mod:`scalegen.sheet.true_shapes`). Not finding room does not prove that there is none;
what is proven is told apart (:class:`scalegen.sheet.layout.Claim`).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely

from scalegen.model import Corner, Pad, Side
from scalegen.nest.records import Bound
from scalegen.outline.ring import Ring
from scalegen.sheet.grid import Field, Shape, Spot, grid_spots
from scalegen.sheet.layout import Claim, PadBox, Placement, SheetLayout
from scalegen.sheet.refuse import check_sizes, no_room, top_mm
from scalegen.sheet.room import free_region, pair_limit
from scalegen.sheet.skyline import skyline_spots
from scalegen.sheet.true_shapes import How, Put, fill_blank

_FLAT_MM = 0.005
_AS_ASKED = How()
Puts = tuple[Put, ...]


@dataclass(frozen=True, kw_only=True)
class Arranged:
    """Filled blanks, and what there is to say about them.

    Attributes:
        layouts: Blanks "sheet-1", "sheet-2"...
        free_pairs: Pairs on one blank where partners may lie apart, if that is more than was found; else 0.
        stopped: The search was ended before its time.
    """

    layouts: tuple[SheetLayout, ...]
    free_pairs: int = 0
    stopped: bool = False


def arranged(
    footprints: Mapping[Side, Ring],
    *,
    pattern: str,
    pairs: int | None,
    length_mm: float,
    width_mm: float,
    margin_mm: float,
    spacing_mm: float,
    pad: Pad,
    origin: Corner,
    keep_clear_mm: float = 0.0,
    how: How = _AS_ASKED,
) -> Arranged:
    """Place pairs on as few blanks as can be found, or as many as can be found on one.

    The pad stands in its corner of the area inside the margin, so its outer edges lie on the margin. A pair
    is never split over two blanks. The same input always gives the same layout, unless the search is stopped.

    Args:
        footprints: Outline of each side as it leaves the machine, in its own frame.
        pattern: Name put on the placements.
        pairs: How many pairs, spares included, at least 1; None is as many as one blank takes.
        length_mm: Size of a blank along the grain.
        width_mm: Size across the grain.
        margin_mm: Kept free along the blank's edge.
        spacing_mm: Kept free between two scales, and between a scale and the pad.
        pad: Reference pad.
        origin: Corner of the blank that is X0 Y0 in what is shown.
        keep_clear_mm: Kept free about the pad where that is more than the spacing, so that the cutter
            that goes round the scales cannot touch it.
        how: Turns, pairing, effort.

    Returns:
        Filled blanks; pairs are numbered through them.

    Raises:
        SheetError: A size makes no sense, or not even one pair fits.
    """
    check_sizes(
        pad,
        pairs=pairs,
        length_mm=length_mm,
        width_mm=width_mm,
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        keep_clear_mm=keep_clear_mm,
    )
    ring_mm = max(spacing_mm, keep_clear_mm)
    blank = SheetLayout(
        name="sheet",
        length_mm=length_mm,
        width_mm=width_mm,
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        pad=_pad_box(pad, length_mm, width_mm, margin_mm),
        origin=origin,
        placements=(),
        keep_clear_mm=ring_mm,
    )
    field = Field(
        length_mm=length_mm - 2 * margin_mm,
        width_mm=width_mm - 2 * margin_mm,
        spacing_mm=spacing_mm,
        pad_length_mm=pad.width_mm,
        pad_width_mm=pad.height_mm,
        pad_gap_mm=ring_mm,
        pad_right=pad.corner in {"lower-right", "upper-left"},
    )
    limit = pair_limit(footprints, _region(blank, larger=True), spacing_mm)
    shapes = (_shape("left", footprints), _shape("right", footprints))
    most = limit.groups if pairs is None else min(pairs, limit.groups)
    plain: tuple[Puts, ...] = ()
    if how.plain and most:
        plain = _plain(*shapes, field, most, blank, upper=pad.corner.startswith("upper"))
    found, stopped = plain[-1] if plain else (), False
    if most and _may_gain(len(plain), pairs, most):
        more, stopped = fill_blank(footprints, _region(blank), spacing_mm, how, most=most, starts=found)
        found = more if len(more) > len(found) else found
    if not found:
        raise no_room(*shapes, field)
    count = len(found) // 2
    free = 0
    if how.pairing != "free" and not stopped and _may_gain(count, pairs, most):
        free, stopped = _free_pairs(footprints, blank, how, count=count, pairs=pairs, most=most)
    layouts = _sheets(blank, pattern, found, plain, count if pairs is None else pairs)
    claim = _claim(limit, pairs, layouts, how)
    return Arranged(
        layouts=tuple(replace(layout, claim=claim) for layout in layouts), free_pairs=free, stopped=stopped
    )


def arrange(
    footprints: Mapping[Side, Ring],
    *,
    pattern: str,
    pairs: int | None,
    length_mm: float,
    width_mm: float,
    margin_mm: float,
    spacing_mm: float,
    pad: Pad,
    origin: Corner,
    keep_clear_mm: float = 0.0,
    how: How = _AS_ASKED,
) -> tuple[SheetLayout, ...]:
    """The blanks of :func:`arranged` alone; the same arguments."""
    return arranged(
        footprints,
        pattern=pattern,
        pairs=pairs,
        length_mm=length_mm,
        width_mm=width_mm,
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        pad=pad,
        origin=origin,
        keep_clear_mm=keep_clear_mm,
        how=how,
    ).layouts


def _may_gain(each: int, pairs: int | None, most: int) -> bool:
    """Whether more pairs on a blank would be of use, as far as is known: more in all, or fewer blanks."""
    if pairs is None or each == 0:
        return each < most
    return _blanks(pairs, each) > _blanks(pairs, most)


def _blanks(pairs: int, each: int) -> int:
    """How many blanks so many pairs take."""
    return -(-pairs // each)


def _region(blank: SheetLayout, *, larger: bool = False) -> shapely.Polygon | shapely.MultiPolygon:
    """Where parts may lie."""
    size_mm = (blank.length_mm, blank.width_mm)
    return free_region(size_mm, blank.margin_mm, blank.pad, blank.keep_clear_mm, larger=larger)


def _free_pairs(
    footprints: Mapping[Side, Ring], blank: SheetLayout, how: How, *, count: int, pairs: int | None, most: int
) -> tuple[int, bool]:
    """Pairs on a blank with partners apart, by a quick search, 0 where that gains nothing; and if stopped."""
    quick = replace(how, pairing="free", effort="quick")
    loose, stopped = fill_blank(footprints, _region(blank), blank.spacing_mm, quick, most=most)
    more = len(loose) // 2
    gains = more > count and (pairs is None or _blanks(pairs, more) < _blanks(pairs, count))
    return (more if gains else 0), stopped


def _sheets(
    blank: SheetLayout, pattern: str, full: Puts, plain: Sequence[Puts], pairs: int
) -> list[SheetLayout]:
    """Blanks as full as can be, and what is left over on a last one."""
    layouts: list[SheetLayout] = []
    done = 0
    while done < pairs:
        count = min(pairs - done, len(full) // 2)
        # Plain layouts leave the wider strip of a blank whole.
        puts = plain[count - 1] if count <= len(plain) else full[: 2 * count]
        placements = tuple(_placement(index, put, pattern, done) for index, put in enumerate(puts))
        layouts.append(replace(blank, name=f"sheet-{len(layouts) + 1}", placements=placements))
        done += count
    return layouts


def _claim(limit: Bound, pairs: int | None, layouts: Sequence[SheetLayout], how: How) -> Claim:
    """What is proven about the whole."""
    if pairs is None:
        proven = len(layouts[0].placements) // 2 == limit.groups
    else:
        proven = len(layouts) == _blanks(pairs, limit.groups)
    return Claim(
        bound_pairs=limit.groups,
        bound_reason=limit.reason,
        proven=proven,
        effort=how.effort,
        seed=how.seed,
    )


def _plain(
    left: Shape, right: Shape, field: Field, most: int, blank: SheetLayout, *, upper: bool
) -> tuple[Puts, ...]:
    """The plain ways' layouts for 1, 2, 3... pairs in the sheet frame, as far as room was found."""
    made = []
    for spots in _choices(left, right, field, most):
        turned = tuple(_half_turned(spot, field) for spot in spots) if upper else spots
        made.append(tuple(_put(spot, blank.margin_mm) for spot in turned))
    return tuple(made)


def _choices(left: Shape, right: Shape, field: Field, most: int) -> tuple[tuple[Spot, ...], ...]:
    """The chosen spots for 1, 2, 3... pairs on one blank, as far as room was found."""
    rows = grid_spots(left, right, field)
    dropped = skyline_spots(left, right, field, most=most)
    shapes: dict[Side, Shape] = {"left": left, "right": right}
    chosen = []
    for count in range(1, min(most, max(len(rows) // 2, len(dropped))) + 1):
        ways = [rows[: 2 * count]] if len(rows) >= 2 * count else []
        ways += [dropped[count - 1]] if len(dropped) >= count else []
        chosen.append(min(ways, key=lambda spots: round(top_mm(spots, shapes), 2)))
    return tuple(chosen)


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


def _put(spot: Spot, margin_mm: float) -> Put:
    """A spot in the sheet frame."""
    return Put(
        side=spot.side,
        x_mm=spot.x_mm + margin_mm,
        y_mm=spot.y_mm + margin_mm,
        angle_rad=math.pi if spot.turned else 0.0,
    )


def _placement(index: int, put: Put, pattern: str, pairs_before: int) -> Placement:
    """A scale as it is written down, with its number."""
    return Placement(
        label=f"{pairs_before + index // 2 + 1}{'L' if put.side == 'left' else 'R'}",
        pattern=pattern,
        side=put.side,
        x_mm=put.x_mm,
        y_mm=put.y_mm,
        angle_rad=put.angle_rad,
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
