"""The part of the second look that has to do with the blank: its edge, holes, flaws and pads.

Distances are measured between the true outlines, flattened coarsely and, where it is a close thing, finely;
the regions that the layout was made with are not used.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely

from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, SheetLayout

COARSE_MM = 1e-3
FINE_MM = 5e-7
ALLOWED_MM = 1e-6
SAME_MM2 = 1e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class Laid:
    """Something on a blank: its name, and its shape where it lies, flattened coarsely and finely."""

    label: str
    coarse: shapely.Geometry
    fine: shapely.Geometry


def too_close(one: Laid, other: Laid, limit_mm: float) -> bool:
    """Whether two shapes are nearer than a limit; looked at finely where it is a close thing."""
    coarse = float(shapely.distance(one.coarse, other.coarse))
    if abs(coarse - limit_mm) > 2 * COARSE_MM + ALLOWED_MM:
        return coarse < limit_mm
    if limit_mm <= ALLOWED_MM:
        return False
    shapely.prepare(one.fine)  # makes the finely flattened outline quick to search
    return bool(shapely.dwithin(one.fine, other.fine, limit_mm - ALLOWED_MM))


def overlap(one: Laid, other: Laid) -> bool:
    """Whether two shapes have more in common than chords alone could make of two that only touch."""
    limit = 2 * COARSE_MM * float(min(one.coarse.length, other.coarse.length))
    return float(shapely.intersection(one.coarse, other.coarse).area) > limit


def blank_faults(
    layout: SheetLayout, laid: Sequence[Laid], *, margin_mm: float, reach_mm: float
) -> Iterator[str]:
    """What is wrong between a blank and what lies on it.

    Args:
        layout: The blank with its zones and pads.
        laid: Scales where they lie.
        margin_mm: What must be free along its edge and about holes.
        reach_mm: What must be free about pads.

    Yields:
        A line for each fault.
    """
    pads = [_pad(pad, number) for number, pad in enumerate(layout.pads, 1)]
    edge = _laid(layout.outline, "edge") if layout.outline is not None else None
    zones = [_laid(zone.ring, zone.kind) for zone in layout.zones]
    for each in (*pads, *laid):
        name = f"the {each.label}" if each in pads else each.label
        if _beyond_box(each, layout, margin_mm) or (edge is not None and _in_margin(each, edge, margin_mm)):
            yield f"{name} reaches into the margin"
        yield from (f"{name} {fault}" for fault in _zone_faults(each, zones, margin_mm))
    for number, pad in enumerate(pads):
        for other in pads[:number]:
            if overlap(pad, other):
                yield f"the {other.label} and the {pad.label} overlap"
        for scale in laid:
            if too_close(scale, pad, reach_mm) or _common(scale, pad) > SAME_MM2:
                gap = shapely.distance(scale.fine, pad.fine)
                yield f"{scale.label} is {gap:.4f} mm from the {pad.label}, {reach_mm:.4f} mm are due"


def _pad(pad: PadBox, number: int) -> Laid:
    """A pad by its name: "pad", "pad 2"..."""
    box = shapely.box(pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm)
    return Laid(label="pad" if number == 1 else f"pad {number}", coarse=box, fine=box)


def _common(one: Laid, other: Laid) -> float:
    return float(shapely.intersection(one.coarse, other.coarse).area)


def _beyond_box(shape: Laid, layout: SheetLayout, margin_mm: float) -> bool:
    """Whether a shape is too near the sides of the box round the blank or beyond them."""
    x0, y0, x1, y1 = shape.fine.bounds
    far = (layout.length_mm - margin_mm - x1, layout.width_mm - margin_mm - y1)
    return bool(min(x0 - margin_mm, y0 - margin_mm, *far) < -ALLOWED_MM)


def _in_margin(shape: Laid, edge: Laid, margin_mm: float) -> bool:
    """Whether a shape is too near the edge of an odd blank or beyond it."""
    beyond = float(shapely.difference(shape.coarse, edge.coarse).area)
    if beyond > 2 * COARSE_MM * float(shape.coarse.length):
        return True
    line = Laid(label=edge.label, coarse=edge.coarse.exterior, fine=edge.fine.exterior)
    return too_close(shape, line, margin_mm)


def _zone_faults(shape: Laid, zones: Sequence[Laid], margin_mm: float) -> Iterator[str]:
    """Holes and flaws that a shape lies on, or holes that it is too near."""
    for number, zone in enumerate(zones, 1):
        if overlap(shape, zone):
            yield f"lies on the {zone.label} that is keep-out {number}"
        elif zone.label == "hole" and too_close(shape, zone, margin_mm):
            gap = shapely.distance(shape.fine, zone.fine)
            yield f"is {gap:.4f} mm from the hole that is keep-out {number}, {margin_mm:.4f} mm are due"


def _laid(ring: Ring, label: str) -> Laid:
    coarse, fine = (shapely.Polygon(ring.flatten(step)) for step in (COARSE_MM, FINE_MM))
    return Laid(label=label, coarse=coarse, fine=fine)
