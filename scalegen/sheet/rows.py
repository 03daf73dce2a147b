"""Pairs onto blanks, partners side by side, as many as can be found room for.

On a plain rectangle plain ways come first: rows of boxes (:mod:`scalegen.sheet.grid`) and letting down true
shapes along the grain (:mod:`scalegen.sheet.skyline`). Each blank takes the one that holds the pairs asked
for and leaves the wider strip of the blank whole. Where that takes more blanks than area alone proves, may
not be used at all, or the blank is odd, the engine looks for room (:mod:`scalegen.sheet.true_shapes`). Not
finding room does not prove that there is none; what is proven is told apart
(:class:`scalegen.sheet.layout.Claim`).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import affinity

from scalegen.errors import SheetError
from scalegen.model import Corner, Pad, Side
from scalegen.nest.records import Bound
from scalegen.outline.ring import Ring
from scalegen.sheet.filled import Arranged, Puts, claim_of, free_pairs, may_gain, sheets
from scalegen.sheet.grid import Field, Shape, Spot, grid_spots, lengthwise, stacked_spots
from scalegen.sheet.layout import PLAIN, Ground, PadBox, SheetLayout, side_by_side_mm
from scalegen.sheet.pads import beside, candidates, pads_on
from scalegen.sheet.partners import adjacent_pairs
from scalegen.sheet.refuse import check_sizes, no_room, no_room_on, top_mm
from scalegen.sheet.room import pair_limit, region_of
from scalegen.sheet.skyline import skyline_spots
from scalegen.sheet.true_shapes import How, Put, fill_blank

_FLAT_MM = 0.005
_AS_ASKED = How()


@dataclass(frozen=True, kw_only=True)
class _Full:
    """A blank filled: plain layouts for 1, 2, 3... pairs, the fullest one, the limit, if it was stopped.

    ``loose`` is how many pairs were found with partners apart, where that was asked.
    """

    plain: tuple[Puts, ...]
    found: Puts
    limit: Bound
    stopped: bool
    loose: int | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class _Task:
    """What is to be laid: footprints, how many pairs, how."""

    footprints: Mapping[Side, Ring]
    pairs: int | None
    how: How

    @property
    def shapes(self) -> tuple[Shape, Shape]:
        """Both sides as the plain ways want them."""
        return _shape("left", self.footprints), _shape("right", self.footprints)

    def most(self, limit: Bound) -> int:
        """More pairs than this on a blank are of no use."""
        return limit.groups if self.pairs is None else min(self.pairs, limit.groups)

    def fill(self, blank: SheetLayout, corner: str, *, padless: bool = False) -> _Full:
        """Fill a blank; ``corner`` is where a single pad on a plain rectangle stands, else empty."""
        spacing, how = blank.spacing_mm, self.how
        truth = region_of(blank, larger=True, padless=padless)
        limit = pair_limit(self.footprints, truth, spacing, how.limit_turns_rad)
        most = self.most(limit)
        plain: tuple[Puts, ...] = ()
        good = 0
        if how.plain and most and (corner or padless) and blank.outline is None and not blank.zones:
            field = _field(blank, corner, padless=padless)
            plain, good = self._plain(field, most, blank, upper=corner.startswith("upper"))
        found, stopped, loose = plain[-1] if plain else (), False, None
        if most and (good < len(plain) or may_gain(len(plain), self.pairs, most)):
            region = region_of(blank, padless=padless)
            if how.pairing == "adjacent":
                more, stopped, loose = adjacent_pairs(self.footprints, region, spacing, how, most=most)
            else:
                more, stopped = fill_blank(self.footprints, region, spacing, how, most=most, starts=found)
            if len(more) > len(found) or (good < len(plain) and len(more) == len(found)):
                found = more
            # Whatever the search holds beside one another is better than what lies behind.
            plain = plain[: max(good, len(plain) if len(more) < 2 * len(plain) else 0)]
        return _Full(plain=plain, found=found, limit=limit, stopped=stopped, loose=loose)

    def _plain(
        self, field: Field, most: int, blank: SheetLayout, *, upper: bool
    ) -> tuple[tuple[Puts, ...], int]:
        """The plain ways' layouts for 1, 2, 3... pairs in the sheet frame, as far as room was found.

        And how many of them, from the first, have their partners as they should be.
        """
        beside = self.how.pairing == "adjacent"
        choices = _choices(*self.shapes, field, most, beside=beside)
        made = []
        for spots in choices:
            turned = tuple(_half_turned(spot, field) for spot in spots) if upper else spots
            made.append(tuple(_put(spot, blank.margin_mm) for spot in turned))
        behind = [beside and lengthwise(spots, *self.shapes) > 0 for spots in choices]
        return tuple(made), behind.index(True) if True in behind else len(made)


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
    ground: Ground = PLAIN,
) -> Arranged:
    """Place pairs on as few blanks as can be found, or as many as can be found on one.

    The pad stands in its corner of the area inside the margin, or as near that corner as it fits. A pair is
    never split over two blanks. The same input always gives the same layout, unless the search is stopped.

    Args:
        footprints: Outline of each side as it leaves the machine, in its own frame.
        pattern: Name put on the placements.
        pairs: How many pairs, spares included, at least 1; None is as many as one blank takes.
        length_mm: Size of a blank, or of the box round it, along x.
        width_mm: Size along y.
        margin_mm: Kept free along the blank's edge and about holes in it.
        spacing_mm: Kept free between two scales, and between a scale and the pad.
        pad: Reference pad.
        origin: Corner of the blank that is X0 Y0 in what is shown.
        keep_clear_mm: Kept free about the pad where that is more than the spacing, so that the cutter
            that goes round the scales cannot touch it.
        how: Turns (of the sheet, not against the grain), pairing, effort.
        ground: Outline, holes, flaws and grain of the blank.

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
    blank = blank_of(
        pad,
        ground,
        size_mm=(length_mm, width_mm),
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        keep_clear_mm=keep_clear_mm,
        origin=origin,
    )
    task = _Task(footprints=footprints, pairs=pairs, how=how)
    if pad.corner == "anywhere":
        blank, full = _anywhere(task, blank)
    else:
        full = task.fill(blank, "" if blank.more_pads else pad.corner)
    if not full.found:
        if not ground.is_plain or blank.more_pads or pad.corner == "anywhere":
            raise no_room_on(blank, full.limit)
        raise no_room(*task.shapes, _field(blank, pad.corner))
    count, free, stopped, most = len(full.found) // 2, 0, full.stopped, task.most(full.limit)
    if how.pairing != "free" and not stopped and may_gain(count, pairs, most):
        free, stopped = free_pairs(
            footprints, blank, how, count=count, pairs=pairs, most=most, known=full.loose
        )
    layouts = sheets(blank, pattern, full.found, full.plain, count if pairs is None else pairs)
    claim = claim_of(full.limit, pairs, layouts, how)
    return Arranged(
        layouts=tuple(replace(layout, claim=claim) for layout in layouts), free_pairs=free, stopped=stopped
    )


def blank_of(
    pad: Pad,
    ground: Ground,
    *,
    size_mm: tuple[float, float],
    margin_mm: float,
    spacing_mm: float,
    keep_clear_mm: float,
    origin: Corner,
) -> SheetLayout:
    """An empty blank with its pads.

    Args:
        pad: Reference pad.
        ground: Outline, holes, flaws and grain.
        size_mm: Length and width, or those of the box round it.
        margin_mm: Kept free along its edge.
        spacing_mm: Kept free between two scales.
        keep_clear_mm: Kept free about the pad where that is more.
        origin: Corner that is X0 Y0 in what is shown.

    Raises:
        SheetError: A size makes no sense, or there is no place for a pad.
    """
    length_mm, width_mm = size_mm
    check_sizes(
        pad,
        pairs=None,
        length_mm=length_mm,
        width_mm=width_mm,
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        keep_clear_mm=keep_clear_mm,
    )
    blank = SheetLayout(
        name="sheet",
        length_mm=length_mm,
        width_mm=width_mm,
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        pad=PadBox(x_mm=margin_mm, y_mm=margin_mm, w_mm=pad.width_mm, h_mm=pad.height_mm),
        origin=origin,
        placements=(),
        keep_clear_mm=max(spacing_mm, keep_clear_mm),
        outline=ground.outline,
        zones=ground.zones,
        grain_rad=ground.grain_rad,
    )
    return pads_on(blank, pad)


def _anywhere(task: _Task, blank: SheetLayout) -> tuple[SheetLayout, _Full]:
    """The blank filled with its pad where that was found to cost least.

    First the blank is filled without the pad; where the pad then goes beside the scales, it costs nothing.
    Else places spread over the edge of the room are tried, and the one that leaves room for most pairs is
    taken, the first of equals. The limit told is that of a blank without the pad, which no place of it beats.
    """
    bare = task.fill(blank, "", padless=True)
    lying = [(task.footprints[put.side], put) for put in bare.found]
    place = beside(blank, lying) if lying else None
    if place is not None:
        # The places of the fullest layout alone are known to leave the pad free.
        return replace(blank, pad=place), replace(bare, plain=(), loose=None)
    best: tuple[SheetLayout, _Full] | None = None
    for place in candidates(blank):
        there = replace(blank, pad=place)
        full = task.fill(there, "")
        if best is None or len(full.found) > len(best[1].found):
            best = there, replace(full, limit=bare.limit)
        if full.stopped or (
            task.pairs is not None and not may_gain(len(full.found) // 2, task.pairs, task.most(bare.limit))
        ):
            break
    if best is None:
        raise SheetError("there is no place for the pad", where="pad", remedy="give a smaller pad or margin")
    return best


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
    ground: Ground = PLAIN,
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
        ground=ground,
    ).layouts


def _choices(
    left: Shape, right: Shape, field: Field, most: int, *, beside: bool
) -> tuple[tuple[Spot, ...], ...]:
    """The chosen spots for 1, 2, 3... pairs on one blank, as far as room was found.

    With ``beside``, those with the fewest partners behind one another; of these those that leave most of the
    blank's width free.
    """
    rows = _side_by_side(grid_spots(left, right, field), left, right, field.spacing_mm)
    stacked = stacked_spots(left, right, field) if beside else ()
    dropped = skyline_spots(left, right, field, most=most)
    shapes: dict[Side, Shape] = {"left": left, "right": right}

    def cost(spots: tuple[Spot, ...]) -> tuple[int, float]:
        behind = lengthwise(spots, left, right) if beside else 0
        return behind, round(top_mm(spots, shapes), 2)

    chosen = []
    longest = max(*(len(way) // 2 for way in (rows, *stacked)), len(dropped))
    for count in range(1, min(most, longest) + 1):
        ways = [way[: 2 * count] for way in (rows, *stacked) if len(way) >= 2 * count]
        ways += [dropped[count - 1]] if len(dropped) >= count else []
        chosen.append(min(ways, key=cost))
    return tuple(chosen)


def _side_by_side(spots: Sequence[Spot], left: Shape, right: Shape, spacing_mm: float) -> tuple[Spot, ...]:
    """The first pairs of rows, up to one whose partners do not lie side by side, as at a turn of the rows."""
    outlines = {"left": shapely.Polygon(left.points_mm), "right": shapely.Polygon(right.points_mm)}
    for first in range(0, len(spots), 2):
        one, other = (
            affinity.translate(outlines[spot.side], spot.x_mm, spot.y_mm) for spot in spots[first : first + 2]
        )
        if one.distance(other) > side_by_side_mm(spacing_mm):
            return tuple(spots[:first])
    return tuple(spots)


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


def _field(blank: SheetLayout, corner: str, *, padless: bool = False) -> Field:
    """The area inside the margin of a plain rectangle, the pad in a lower corner of it."""
    return Field(
        length_mm=blank.length_mm - 2 * blank.margin_mm,
        width_mm=blank.width_mm - 2 * blank.margin_mm,
        spacing_mm=blank.spacing_mm,
        pad_length_mm=0.0 if padless else blank.pad.w_mm,
        pad_width_mm=0.0 if padless else blank.pad.h_mm,
        pad_gap_mm=0.0 if padless else blank.keep_clear_mm,
        pad_right=corner in {"lower-right", "upper-left"},
    )
