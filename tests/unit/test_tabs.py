"""Tabs: where they may be, how evenly, and how they stand in the cut."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.errors import GeometryError
from scalegen.machining.field import blank_field
from scalegen.machining.tabs import Tab, placed_tab, plan_tabs, raised
from scalegen.model import Edge, Front, OutlineSource, Pattern, PinSpec
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import Placement
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
TANG = Ring.from_rows([[0, -9, 0], [80, -8, 0.5], [80, 8, 0], [0, 9, 0]])
PATTERN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=8.0, angle_rad=math.pi / 2),
    thickness_mm=6.2,
    edge=Edge(),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(PinSpec(at_mm=(45.0, 5.0), hardware="pin 3mm"),),
)


def scale_of(pattern: Pattern = PATTERN) -> Scale:
    """A scale from the bundled six-millimetre stack."""
    return design(pattern, TANG, resolve_stack(SHOP, "paper-six", (6.9,)), SHOP)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 6])
def test_tabs_stand_on_the_outline_off_front_and_pins(count: int) -> None:
    """Each foot is on the outline, its whole width clear of front line and holes, and it leads outwards."""
    scale = scale_of()
    tabs = plan_tabs(scale, count, width_mm=3.0, keep_off_mm=5.0)
    assert len(tabs) == count
    for tab in tabs:
        at = np.array([[tab.x_mm, tab.y_mm]])
        assert distances_mm(scale.as_cut, at)[0] < 1e-6
        assert tab.x_mm - 8.0 >= 6.5 - 1e-9
        for hole in scale.holes:
            assert math.dist(hole.at_mm, (tab.x_mm, tab.y_mm)) >= 6.5 + hole.hole_mm / 2 - 1e-9
        out = at + 0.1 * np.array([[math.cos(tab.out_rad), math.sin(tab.out_rad)]])
        assert not inside(scale.as_cut, out)[0]


def test_tabs_are_nearly_even() -> None:
    """Without a pin nearby four of them stand no closer than half of an even spacing."""
    scale = scale_of(replace(PATTERN, pins=()))
    tabs = plan_tabs(scale, 4)
    points = [(tab.x_mm, tab.y_mm) for tab in tabs]
    nearest = min(math.dist(a, b) for i, a in enumerate(points) for b in points[:i])
    # Straight across the handle two may face each other.
    assert nearest > 15


def test_no_tabs_are_none() -> None:
    """A count of 0 asks for nothing."""
    assert plan_tabs(scale_of(), 0) == ()


@pytest.mark.parametrize(
    ("count", "width", "height", "keep"),
    [(4, 3.0, 7.0, 5.0), (4, 3.0, 0.0, 5.0), (3, 3, 1, 90), (60, 3, 1, 5)],
)
def test_tabs_that_cannot_be_are_refused(count: int, width: float, height: float, keep: float) -> None:
    """Higher than the scale, flat, nowhere clear, or too many."""
    with pytest.raises(GeometryError):
        plan_tabs(scale_of(), count, width_mm=width, height_mm=height, keep_off_mm=keep)


def test_a_placed_tab_leads_away_from_its_part() -> None:
    """Mirrored for the right and turned with the placement."""
    tab = Tab(x_mm=10.0, y_mm=4.0, out_rad=math.pi / 2)
    left = Placement(label="1L", pattern="p", side="left", x_mm=50.0, y_mm=30.0, angle_rad=math.pi)
    right = replace(left, side="right", angle_rad=0.0)
    assert (placed_tab(tab, left).x_mm, placed_tab(tab, left).y_mm) == pytest.approx((40.0, 26.0))
    assert math.sin(placed_tab(tab, left).out_rad) == pytest.approx(-1.0)
    assert (placed_tab(tab, right).x_mm, placed_tab(tab, right).y_mm) == pytest.approx((60.0, 26.0))
    assert math.sin(placed_tab(tab, right).out_rad) == pytest.approx(-1.0)


def test_a_tab_bridges_the_cut_and_no_more() -> None:
    """Its height stands over its width from the foot to just beyond the cutter's far side."""
    field = blank_field(20.0, 20.0, 5.0, 0.1)
    floor = np.full(field.shape, -0.2, dtype=np.float32)
    tab = Tab(x_mm=5.0, y_mm=10.0, out_rad=0.0, width_mm=3.0, height_mm=0.8)
    standing = raised(field, floor, (tab,), 1.5) > 0
    outside = standing[:, field.xs_mm > 5.0]
    assert outside.sum() * field.cell_mm2 == pytest.approx(3.0 * 3.2, rel=0.02)
    assert not standing[:, field.xs_mm > 8.3].any()
