"""Pins that are driven in: the hole under them, what is warned of, and that the drawer is looked through."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.checks import check_scale
from scalegen.design import MOST_PRESS_MM, Scale, design
from scalegen.model import Edge, Finding, Front, OutlineSource, Pattern, PinSpec
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack
from scalegen.shop.drills import largest_drill

SHOP = load_shop(None)
BOX = Ring.from_rows([[0, -15], [120, -15], [120, 15], [0, 15]])
PIN = PinSpec(at_mm=(60.0, 0.0), diameter_mm=3.0, fit="press")

# How much thicker p6 and s6 shafts are than their H7 hole, over 3 up to 6 mm, least and greatest, in um.
# Source: ISO 286-2, from memory (p +12, s +19; IT6 is 8, IT7 is 12).
P6, S6 = (12 - 12, 12 + 8), (19 - 12, 19 + 8)


def scale_with(pin: PinSpec) -> Scale:
    """A block with one pin."""
    pattern = Pattern(
        name="pressed",
        title="pressed",
        units="mm",
        path=Path("pressed.toml"),
        outline=OutlineSource(),
        tang_mm=4.0,
        front=Front(at_mm=10.0, angle_rad=math.pi / 2),
        thickness_mm=6.0,
        edge=Edge(),
        trim_mm=0.5,
        back_allowance_mm=0.0,
        pins=(pin,),
    )
    return design(pattern, BOX, resolve_stack(SHOP, "paper-six"), SHOP)


def said_of(pin: PinSpec) -> dict[str, Finding]:
    """Findings about the pin's fit, by code."""
    found = check_scale(scale_with(pin), SHOP)
    codes = {"pin-pressed", "pin-not-pressed", "pin-too-tight", "pin-loose"}
    return {finding.code: finding for finding in found if finding.code in codes}


def test_the_allowance_is_that_of_a_light_drive() -> None:
    """The shop's press fit must lie between the least of H7/p6 and the greatest of H7/s6. Source: above."""
    assert P6[0] < 1000 * SHOP.rules.press_fit_mm < S6[1]
    # A drill's steps are coarser than fits of ground parts; wood and laminate give more than steel does.
    assert S6[1] < 1000 * MOST_PRESS_MM < 100


def test_a_pressed_pin_gets_the_largest_drill_under_it() -> None:
    """Of metric drills in steps of 0.05 mm, a pin of 3 mm must get 2.95 mm. Source: ISO 235, from memory."""
    (hole,) = scale_with(PIN).holes
    assert hole.drill is not None
    assert hole.drill.designation == "2.95 mm"
    assert hole.hole_mm == pytest.approx(2.95)
    assert said_of(PIN)["pin-pressed"].level == "warning"


def test_where_no_drill_is_near_the_hole_is_its_pin_less_the_fit() -> None:
    """Of a drawer without a drill within reach the hole must be what the shop asks for, and be told of."""
    scale = scale_with(replace(PIN, diameter_mm=3.17))
    (hole,) = scale.holes
    assert hole.drill is None
    assert hole.hole_mm == pytest.approx(3.17 - SHOP.rules.press_fit_mm)
    assert "pin-no-drill" in {finding.code for finding in check_scale(scale, SHOP)}


@pytest.mark.parametrize(
    ("hole_mm", "code", "level"),
    [
        (3.1, "pin-not-pressed", "warning"),
        (3.0, "pin-not-pressed", "warning"),
        (2.98, "pin-pressed", "warning"),
        (2.9, "pin-too-tight", "stop"),
    ],
)
def test_a_hole_as_stated_is_judged_as_a_press_fit(hole_mm: float, code: str, level: str) -> None:
    """A hole that does not hold is warned of, one that would split the scale stops, the rest is a warning."""
    found = said_of(replace(PIN, hole_mm=hole_mm))
    assert [(finding.code, finding.level) for finding in found.values()] == [(code, level)]


def test_the_remedy_makes_it_go_away() -> None:
    """With a slip fit in its place, nothing must be said of pressing."""
    assert said_of(PIN)["pin-pressed"].remedy.endswith('fit = "slip" and glue')
    assert said_of(replace(PIN, fit="slip")) == {}


@pytest.mark.parametrize(
    ("most_mm", "name"), [(3.18, "3.1 mm"), (3.1, "3.1 mm"), (1.0, "1.0 mm"), (0.9, None)]
)
def test_the_largest_drill_not_over_a_size(most_mm: float, name: str | None) -> None:
    """It must be the one at or next below the size, and none where the series begins above it."""
    drill = largest_drill(most_mm, ("metric",))
    assert (drill.designation if drill else None) == name
