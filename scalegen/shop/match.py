"""Which hardware goes through a hole that somebody drew."""

from typing import Final

from scalegen.model import Fit, Hardware, Shop
from scalegen.shop.drills import choose_drill

NEAR_MM: Final = 0.15
"""How far a drawn hole may be from a hardware's own hole or diameter. Common practice, no source."""


def hardware_for(diameter_mm: float, shop: Shop) -> tuple[str, ...]:
    """Hardware that a hole is probably meant for.

    A hole may be drawn as the pin's own diameter or as the hole that a shop drills for it, with its slip
    fit and its drills; the nearer of the two counts.

    Args:
        diameter_mm: Diameter of the hole as drawn.
        shop: Tables for hardware, drills and fits.

    Returns:
        Names within :data:`NEAR_MM`, the nearest first; of those equally near, such as two pins that one
        drill serves, the one of the nearer diameter, and then the order of the table.
    """
    off = {name: _off_mm(diameter_mm, row, shop) for name, row in shop.hardware.items()}
    return tuple(sorted((name for name in off if off[name][0] <= NEAR_MM), key=off.__getitem__))


def _off_mm(diameter_mm: float, hardware: Hardware, shop: Shop) -> tuple[float, float]:
    """How far a hole is from a hardware's nearer size, and, to tell equals apart, from its own diameter."""
    own = abs(diameter_mm - hardware.diameter_mm)
    drilled = abs(diameter_mm - drilled_mm(hardware, shop))
    return round(min(own, drilled), 6), round(own, 6)


def least_hole_mm(hardware: Hardware, shop: Shop, fit: Fit | None = None) -> float:
    """The smallest hole that the thickest piece of its kind goes into with the wanted fit."""
    slip_mm = shop.rules.close_fit_mm if fit == "close" else shop.rules.slip_fit_mm
    return hardware.diameter_mm + hardware.tolerance_mm + slip_mm


def pressed_hole_mm(hardware: Hardware, shop: Shop) -> float:
    """The largest hole that the thinnest piece of its kind must be pressed into."""
    return hardware.diameter_mm - shop.rules.press_fit_mm


def drilled_mm(hardware: Hardware, shop: Shop) -> float:
    """Diameter of the hole that a shop drills for a piece of hardware.

    Args:
        hardware: A row of the hardware table.
        shop: Slip fit and drills.

    Returns:
        The smallest drill that gives the slip fit, or, where no drill reaches that far, the least diameter.
    """
    least_mm = least_hole_mm(hardware, shop)
    drill = choose_drill(least_mm, shop.rules.drill_series)
    return drill.diameter_mm if drill else least_mm
