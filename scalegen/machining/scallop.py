"""What cutters leave: scallops between passes, corners they cannot reach; how deep a pass may go."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from scalegen.errors import UsageError
from scalegen.model import Abrasive, Cutter

COMMON_PRACTICE = "common practice, no source; the cutter maker's data come first"

_PASS_SHARES = (0.5, 1.0)
_STICKOUT_DIAMETERS = 4.0


@dataclass(frozen=True, kw_only=True)
class Range:
    """A suggestion from ``least_mm`` to ``most_mm``, and where it comes from."""

    least_mm: float
    most_mm: float
    source: str = COMMON_PRACTICE


def scallop_mm(radius_mm: float, stepover_mm: float, slope_rad: float = 0.0) -> float:
    """Height of the ridge a ball leaves between two passes, square to the surface.

    Args:
        radius_mm: Of the ball.
        stepover_mm: From pass to pass, seen from above.
        slope_rad: Of the surface across the passes; on it the passes lie further apart than seen from above.

    Raises:
        UsageError: The passes lie further apart than the ball is wide.

    Source: h = R - sqrt(R^2 - (s/2)^2), the height of a circular segment.
    """
    half = stepover_mm / math.cos(_slope(slope_rad)) / 2
    if not 0 < radius_mm < math.inf:
        raise UsageError(f"a ball needs a radius above 0, not {radius_mm:g} mm")
    if not 0 <= half <= radius_mm:
        raise UsageError(
            f"passes {2 * half:g} mm apart along the surface leave a ball of {2 * radius_mm:g} mm no ridge"
            " to speak of",
            remedy="give a stepover from 0 to the cutter's diameter, less on a slope",
        )
    # R - sqrt(R^2 - q^2), written so that it loses no digits on small steps.
    return half**2 / (radius_mm + math.sqrt(radius_mm**2 - half**2))


def stepover_mm(radius_mm: float, height_mm: float, slope_rad: float = 0.0) -> float:
    """From pass to pass, seen from above, for a ridge of a height.

    Args:
        radius_mm: Of the ball.
        height_mm: Of the ridge, square to the surface.
        slope_rad: Of the surface across the passes.

    Raises:
        UsageError: The ridge would be higher than the ball's radius.
    """
    if not 0 <= height_mm <= radius_mm:
        raise UsageError(
            f"a ball of radius {radius_mm:g} mm cannot leave a ridge of {height_mm:g} mm",
            remedy="give a height from 0 to the radius",
        )
    return 2 * math.cos(_slope(slope_rad)) * math.sqrt(height_mm * (2 * radius_mm - height_mm))


def stair_mm(stepover_mm: float, slope_rad: float) -> float:
    """Height, square to the surface, of the stairs a flat cutter leaves on a slope.

    Source: the height of a right-angled triangle over its longest side.
    """
    return stepover_mm * math.sin(_slope(slope_rad))


def pass_depth(cutter: Cutter) -> Range:
    """Depth of one pass in laminate: half to one diameter, never more than the flutes."""
    least, most = (min(share * cutter.diameter_mm, cutter.flute_mm) for share in _PASS_SHARES)
    return Range(least_mm=least, most_mm=most)


def passes(depth_mm: float, suggested: Range) -> tuple[int, int]:
    """Fewest and most passes to a depth within a suggestion."""
    fewest, most = (
        max(1, math.ceil(depth_mm / each - 1e-9)) for each in (suggested.most_mm, suggested.least_mm)
    )
    return fewest, most


def first_grit(
    abrasives: Iterable[Abrasive], scallop_height_mm: float, allowance_mm: float
) -> Abrasive | None:
    """The coarsest grade whose own scratches stay within what is left to sand, or None when none does.

    Common practice, no source: what the cutter leaves is at least its scallop and one mean grain of the first
    grit.
    """
    room_um = 1000 * (allowance_mm - scallop_height_mm)
    fits = [each for each in abrasives if each.grain_um <= room_um + 1e-9]
    return max(fits, key=lambda each: each.grain_um, default=None)


def corner_rest_mm(radius_mm: float, corner_rad: float = math.pi / 2) -> float:
    """How far from the tip of a sharp inside corner a round cutter stays, along the bisector.

    Args:
        radius_mm: Of the cutter.
        corner_rad: Open angle of the corner, in (0, pi].

    Source: the distance of the centre of a circle that touches both sides, less its radius.
    """
    return radius_mm * (1.0 / math.sin(_corner(corner_rad) / 2) - 1.0)


def corner_rest_mm2(radius_mm: float, corner_rad: float = math.pi / 2) -> float:
    """Area that a round cutter leaves in a sharp inside corner.

    Source: the kite of centre, tip and both points of touch, less the sector of the circle.
    """
    half = _corner(corner_rad) / 2
    return radius_mm**2 * (1.0 / math.tan(half) - (math.pi / 2 - half))


def flute_shortage_mm(cutter: Cutter, wall_mm: float) -> float:
    """How much deeper a wall is than the cutter's flutes; 0 where they reach."""
    return max(0.0, wall_mm - cutter.flute_mm)


def stickout_share(cutter: Cutter) -> float:
    """Stick-out as a share of four diameters, beyond which the risk climbs; above 1 is too long.

    Common practice, no source for the four; a cantilever bends with the cube of its length.
    """
    return cutter.stickout_mm / (_STICKOUT_DIAMETERS * cutter.diameter_mm)


def _slope(slope_rad: float) -> float:
    if not 0 <= slope_rad < math.pi / 2:
        raise UsageError(f"a slope of {math.degrees(slope_rad):g} degrees must be from 0 to below 90")
    return slope_rad


def _corner(corner_rad: float) -> float:
    if not 0 < corner_rad <= math.pi:
        raise UsageError(f"a corner of {math.degrees(corner_rad):g} degrees must be above 0 and at most 180")
    return corner_rad
