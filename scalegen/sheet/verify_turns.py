"""The part of the second look that needs no outlines: turns that are not allowed, partners that don't mirror.

A right scale is the left one mirrored across its own x axis. Placed with turns a and b, it is the left one
mirrored across a line at the angle (a + b) / 2 and then slid along that line; the slide must be nothing.
Source: two mirrorings make a turn by twice the angle between them (textbook, plane isometries).
"""

import math
from collections.abc import Iterator, Sequence

from scalegen.sheet.layout import Placement, SheetLayout

_ALLOWED_RAD = 1e-9
_ALLOWED_MM = 1e-6


def turn_faults(layouts: Sequence[SheetLayout], turns_rad: Sequence[float]) -> Iterator[str]:
    """Scales turned in a way that was not asked for.

    Args:
        layouts: Blanks.
        turns_rad: What is allowed.

    Yields:
        A line for each.
    """
    for layout in layouts:
        for place in layout.placements:
            off = min(abs(math.remainder(place.angle_rad - turn, 2 * math.pi)) for turn in turns_rad)
            if not off <= _ALLOWED_RAD:
                turned = math.degrees(place.angle_rad)
                yield f"{layout.name}: {place.label} is turned by {turned:.3f} degrees, which is not allowed"


def mirror_faults(layouts: Sequence[SheetLayout]) -> Iterator[str]:
    """Partners that are not mirror images of each other across a line along or across them.

    Args:
        layouts: Blanks.

    Yields:
        A line for each pair.
    """
    for layout in layouts:
        here = {place.label: place for place in layout.placements}
        for label, left in here.items():
            right = here.get(f"{label[:-1]}R")
            if label.endswith("L") and right is not None and not _mirrored(left, right):
                yield f"{layout.name}: {label} and {right.label} are not mirror images of each other"


def _mirrored(left: Placement, right: Placement) -> bool:
    """Whether a straight line lies midway between two partners, along or across them."""
    between = right.angle_rad - left.angle_rad
    square = abs(math.remainder(between, math.pi)) <= _ALLOWED_RAD
    line = (left.angle_rad + right.angle_rad) / 2
    slide = (right.x_mm - left.x_mm) * math.cos(line) + (right.y_mm - left.y_mm) * math.sin(line)
    return square and abs(slide) <= _ALLOWED_MM
