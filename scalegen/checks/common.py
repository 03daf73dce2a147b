"""What all checks share: findings with numbers in the user's units and places."""

import math
from collections.abc import Callable

from scalegen.design import Hole, Scale
from scalegen.model import Finding, Level
from scalegen.units import format_length

DUST_MM = 1e-6
"""Lengths that differ by less are the same."""

Spot = tuple[str, str]


def finding(level: Level, code: str, spot: Spot, message: str, remedy: str) -> Finding:
    """A finding; ``spot`` is what it concerns and where."""
    about, where = spot
    return Finding(code=code, level=level, about=about, where=where, message=message, remedy=remedy)


def shown(scale: Scale, digits: int, *, up: bool = False) -> Callable[[float], str]:
    """How lengths are shown: with so many decimals in mm, one more in inches; limits rounded ``up``."""
    units = scale.pattern.units
    places = digits + (units == "in")
    step_mm = (25.4 if units == "in" else 1.0) / 10**places
    return lambda mm: format_length(math.ceil(mm / step_mm - 1e-6) * step_mm if up else mm, units, places)


def place_of(scale: Scale, x: float, y: float) -> str:
    """A place in words."""
    size = shown(scale, 2)
    return f"x = {size(x)}, y = {size(y)}"


def hole_at(scale: Scale, hole: Hole) -> str:
    """Where a hole's centre is, in words."""
    return place_of(scale, *hole.at_mm)
