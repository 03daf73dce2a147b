"""Where the reference pads stand: in a corner, as near one as they fit, or where they cost least."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from scalegen.errors import SheetError
from scalegen.model import Corner, Pad
from scalegen.outline.ring import FloatArray, Ring
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.sheet.room import Region, sound_region
from scalegen.sheet.true_shapes import Put

_CORNERS: tuple[Corner, ...] = ("lower-left", "lower-right", "upper-left", "upper-right")
_CLOSE_MM = 5e-7
_HAIR_MM = 1e-7
_FLAT_MM = 0.001
_STEP_MM = 0.01
_MOST_PLACES = 10


def pads_on(blank: SheetLayout, pad: Pad) -> SheetLayout:
    """A blank with its pads in their corners.

    Args:
        blank: The blank; its pads are not looked at.
        pad: What is asked for; with "anywhere" the first pad is put near the lower left corner for now.

    Returns:
        The blank with the pads put on.

    Raises:
        SheetError: A pad finds no place.
    """
    corner: Corner = "lower-left" if pad.corner == "anywhere" else pad.corner
    first = _in_corner(blank, pad, corner, ())
    if pad.second is None:
        return replace(blank, pad=first)
    if pad.corner == "anywhere":
        second = _in_corner(blank, pad, pad.second, ())
        return replace(blank, pad=_in_corner(blank, pad, corner, (second,)), more_pads=(second,))
    return replace(blank, pad=first, more_pads=(_in_corner(blank, pad, pad.second, (first,)),))


def beside(blank: SheetLayout, lying: Sequence[tuple[Ring, Put | Placement]]) -> PadBox | None:
    """A place for the first pad beside scales that lie already, the nearest to the lower left corner.

    Args:
        blank: The blank with its other pads.
        lying: Outline of each scale in its own frame, and where it lies.

    Returns:
        The place, or None where there is none.
    """
    reach = blank.keep_clear_mm + _FLAT_MM
    taken = []
    for ring, put in lying:
        place = Placement(
            label="", pattern="", side=put.side, x_mm=put.x_mm, y_mm=put.y_mm, angle_rad=put.angle_rad
        )
        shape = shapely.Polygon(place.place(ring.flatten(_FLAT_MM)))
        taken.append(shape.buffer(reach / np.cos(np.pi / 64), quad_segs=16))
    room = _less(sound_region(blank), [*taken, *map(_box, blank.more_pads)])
    size = blank.pad.w_mm, blank.pad.h_mm
    return _nearest(places(room, *size), size, blank, "lower-left")


def candidates(blank: SheetLayout) -> tuple[PadBox, ...]:
    """A few places for the first pad to try: near each corner, and others spread along the edge of the room.

    Args:
        blank: The blank with its other pads.
    """
    size = blank.pad.w_mm, blank.pad.h_mm
    spots = places(_less(sound_region(blank), list(map(_box, blank.more_pads))), *size)
    near = [_nearest(spots, size, blank, corner) for corner in _CORNERS]
    chosen = [(place.x_mm, place.y_mm) for place in near if place is not None]
    lines = [line for part in shapely.get_parts(spots) for line in (part.exterior, *part.interiors)]
    step = min(size) / 2
    walks = [shapely.get_coordinates(shapely.segmentize(line, step))[:-1] for line in lines]
    others = np.concatenate([*walks, np.empty((0, 2))])
    while len(chosen) < _MOST_PLACES and len(others):
        # The place farthest from all that are chosen already.
        gaps = np.min([np.hypot(*(others - place).T) for place in chosen], axis=0)
        farthest = int(np.argmax(np.round(gaps, 3)))
        if gaps[farthest] < step:
            break
        chosen.append(_tidy(others[farthest], spots))
    unique = dict.fromkeys(chosen)
    return tuple(PadBox(x_mm=x, y_mm=y, w_mm=size[0], h_mm=size[1]) for x, y in unique)


def places(region: Region, w_mm: float, h_mm: float) -> Region:
    """Where the lower left corner of a box may lie so that the box lies in a region.

    What is not the region, swept back along the sides of the box, is where the corner may not lie.

    Args:
        region: Where the box may lie.
        w_mm: Size of the box along x.
        h_mm: Size along y.

    Returns:
        Places; empty where the box does not go in.
    """
    if region.is_empty:
        return shapely.Polygon()
    x0, y0, x1, y1 = region.bounds
    over = 2 * max(w_mm, h_mm)
    # A box that just goes in has a place, though a region without area.
    outside = shapely.box(x0 - over, y0 - over, x1 + over, y1 + over).difference(
        region.buffer(_CLOSE_MM, join_style="mitre")
    )
    for sweep in ((-w_mm, 0.0), (0.0, -h_mm)):
        outside = shapely.union_all([outside, *_swept(outside, np.array(sweep))])
    left = shapely.box(x0 - over / 2, y0 - over / 2, x1, y1).difference(outside)
    # What was swept meets to within rounding alone: hairs between are no places.
    sound = left.buffer(-_HAIR_MM, join_style="mitre").buffer(_HAIR_MM, join_style="mitre")
    parts = [part for part in shapely.get_parts(sound) if part.area > 0]
    return shapely.MultiPolygon(parts) if parts else shapely.Polygon()


def _swept(region: shapely.Geometry, along: FloatArray) -> list[shapely.Geometry]:
    """What the edges of a region run over on a straight way."""
    swept: list[shapely.Geometry] = []
    for polygon in shapely.get_parts(region):
        for line in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(line)
            quads = np.stack([points[:-1], points[1:], points[1:] + along, points[:-1] + along], axis=1)
            shapes = shapely.polygons(quads)
            swept += list(shapes[shapely.area(shapes) > 0])
    return swept


def _in_corner(blank: SheetLayout, pad: Pad, corner: Corner, others: Sequence[PadBox]) -> PadBox:
    """A pad as near a corner as it fits."""
    size = pad.width_mm, pad.height_mm
    if blank.outline is None and not blank.zones and not others:
        x, y = _corner_spot(blank, size, corner)
        margin = blank.margin_mm
        inward = (
            -margin if corner.endswith("right") else margin,
            -margin if corner.startswith("upper") else margin,
        )
        return PadBox(x_mm=x + inward[0], y_mm=y + inward[1], w_mm=size[0], h_mm=size[1])
    room = _less(sound_region(blank), list(map(_box, others)))
    place = _nearest(places(room, *size), size, blank, corner)
    if place is None:
        word = "second pad" if others else "pad"
        raise SheetError(
            f"the {word} of {size[0]:.1f} × {size[1]:.1f} mm finds no place inside the margin, off holes and"
            " flaws",
            where="pad",
            remedy="give a smaller pad, with --pad, or a smaller margin",
        )
    return place


def _nearest(
    spots: Region, size_mm: tuple[float, float], blank: SheetLayout, corner: Corner
) -> PadBox | None:
    """The place nearest a corner of the box round the blank."""
    if spots.is_empty:
        return None
    aim = shapely.Point(_corner_spot(blank, size_mm, corner))
    found = shapely.get_coordinates(shapely.shortest_line(spots, aim))[0]
    x, y = _tidy(found, spots)
    return PadBox(x_mm=x, y_mm=y, w_mm=size_mm[0], h_mm=size_mm[1])


def _corner_spot(blank: SheetLayout, size_mm: tuple[float, float], corner: Corner) -> tuple[float, float]:
    """Lower left corner of a box that stands in a corner of the box round the blank, without a margin."""
    x = blank.length_mm - size_mm[0] if corner.endswith("right") else 0.0
    y = blank.width_mm - size_mm[1] if corner.startswith("upper") else 0.0
    return x, y


def _tidy(spot: FloatArray, spots: Region) -> tuple[float, float]:
    """A place near one on the edge of the places, with few digits, where there is such a one."""
    x, y = spot.tolist()
    base = np.round(spot / _STEP_MM) * _STEP_MM
    around = base + _STEP_MM * np.array(
        [(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1)]
    )
    within = around[shapely.intersects_xy(spots, around)]
    if not len(within):
        return x, y
    near = within[int(np.argmin(np.round(np.hypot(*(within - spot).T), 9)))]
    return round(float(near[0]), 6), round(float(near[1]), 6)


def _box(pad: PadBox) -> shapely.Polygon:
    return shapely.box(pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm)


def _less(region: Region, taken: Sequence[shapely.Geometry]) -> Region:
    """A region without some shapes."""
    left = region.difference(shapely.union_all(taken)) if taken else region
    return shapely.MultiPolygon([part for part in shapely.get_parts(left) if part.area > 0])
