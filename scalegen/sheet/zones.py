"""Whether holes and flaws make sense on a blank."""

import shapely

from scalegen.errors import UsageError
from scalegen.sheet.layout import Ground, box_ring

_FLAT_MM = 0.001
_SAME_MM2 = 1e-3


def check_zones(ground: Ground, length_mm: float, width_mm: float) -> None:
    """Refuse zones beside the blank, and holes that reach over its edge or into each other.

    Args:
        ground: Outline and zones of the blank.
        length_mm: Size of the box round it.
        width_mm: The same across.

    Raises:
        UsageError: Names the zone by its number: holes of the drawing first, then what was typed.
    """
    edge = ground.outline or box_ring(length_mm, width_mm)
    blank = shapely.Polygon(edge.flatten(_FLAT_MM))
    holes: list[shapely.Polygon] = []
    for number, zone in enumerate(ground.zones, 1):
        shape = shapely.Polygon(zone.ring.flatten(_FLAT_MM))
        x0, y0, x1, y1 = shape.bounds
        place = f"keep-out {number}, from x = {x0:.1f}, y = {y0:.1f} to x = {x1:.1f}, y = {y1:.1f} mm"
        if not shape.is_valid:
            raise UsageError(f"{place}, crosses itself", where="sheet", remedy="put its rows in order")
        if shapely.intersection(shape, blank).area <= _SAME_MM2:
            raise UsageError(
                f"{place}, lies beside the blank",
                where="sheet",
                remedy="count from the lower left corner of the box round the blank",
            )
        if zone.kind != "hole":
            continue
        if not shape.within(blank) or shape.distance(blank.exterior) < _FLAT_MM:
            raise UsageError(
                f"{place}, is a hole that reaches over the edge of the blank",
                where="sheet",
                remedy="draw it as a part of the outline, or call it a flaw",
            )
        if any(shape.distance(hole) < _FLAT_MM for hole in holes):
            raise UsageError(
                f"{place}, is a hole that reaches into another one",
                where="sheet",
                remedy="draw the two as one",
            )
        holes.append(shape)
