"""Hardware for a drawn hole: the pin's own size or the hole a shop drills for it, the nearest first."""

from dataclasses import replace

import pytest

from scalegen.model import Hardware, Shop
from scalegen.shop import load_shop
from scalegen.shop.match import drilled_mm, hardware_for


def shop_with(*sizes_mm: float, slip_fit_mm: float = 0.05, series: tuple[str, ...] = ("number",)) -> Shop:
    """The bundled tables with pins of these sizes only."""
    shop = load_shop(None)
    row = next(iter(shop.hardware.values()))
    pins: dict[str, Hardware] = {
        f"pin {size:g}": replace(row, name=f"pin {size:g}", diameter_mm=size) for size in sizes_mm
    }
    return replace(
        shop, hardware=pins, rules=replace(shop.rules, slip_fit_mm=slip_fit_mm, drill_series=series)
    )


def test_a_hole_as_drilled_finds_its_pin() -> None:
    """The #30 drill's 0.1285 in must lead to the 1/8 in pin, which a shop with number drills uses it for.

    Source: ASME B94.11M, drill sizes (from public copies of the table).
    """
    shop = shop_with(3.0, 3.175, 3.4)
    assert drilled_mm(shop.hardware["pin 3.175"], shop) == pytest.approx(0.1285 * 25.4)
    assert hardware_for(0.1285 * 25.4, shop)[0] == "pin 3.175"


def test_a_hole_of_the_pins_own_size_finds_it() -> None:
    """A hole drawn exactly as large as the pin must name that pin first."""
    assert hardware_for(3.175, shop_with(3.0, 3.175, 3.3))[0] == "pin 3.175"


def test_the_nearest_comes_first_and_ties_keep_the_tables_order() -> None:
    """Names must go by distance, and by the table where that is equal."""
    shop = shop_with(5.1, 5.0, 4.9, slip_fit_mm=2.0)
    assert hardware_for(5.02, shop) == ("pin 5", "pin 5.1", "pin 4.9")
    assert hardware_for(5.0, shop) == ("pin 5", "pin 5.1", "pin 4.9")


@pytest.mark.parametrize(("hole_mm", "fits"), [(5.15, True), (5.151, False), (4.85, True), (4.849, False)])
def test_what_is_further_off_is_not_named(hole_mm: float, fits: bool) -> None:
    """Up to 0.15 mm a hole may be off, no more (common practice, no source)."""
    assert bool(hardware_for(hole_mm, shop_with(5.0, slip_fit_mm=2.0))) == fits


def test_where_no_drill_reaches_the_slip_fit_counts() -> None:
    """A hole beyond all drills must be compared with pin and slip fit."""
    shop = shop_with(12.0, slip_fit_mm=0.5)
    assert drilled_mm(shop.hardware["pin 12"], shop) == pytest.approx(12.5)
    assert hardware_for(12.6, shop) == ("pin 12",)


@pytest.mark.parametrize("hole_mm", [0.0, -3.0, 1e6])
def test_odd_holes_find_nothing(hole_mm: float) -> None:
    """A size that no hardware has must give an empty answer."""
    assert hardware_for(hole_mm, load_shop(None)) == ()
