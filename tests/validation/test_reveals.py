"""Where layers show: by trigonometry on the bevel, and on the circles of edge and crown."""

import math
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.form.reveal import Reveal, reveals
from scalegen.model import Crown, Edge, Face, Front, OutlineSource, Pattern
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack

BOX = Ring.from_rows([[0, -12], [130, -12], [130, 12], [0, 12]])
SHOP = load_shop(None)
STACK = resolve_stack(SHOP, "paper-six")
LINER = STACK.layers[0].thickness_mm


def shown(face: Face, edge: Edge, front: Front, thickness_mm: float) -> dict[tuple[str, str], Reveal]:
    """What shows of the liner and of the bond line on a block, by layer and place."""
    pattern = Pattern(
        name="stripe",
        title="stripe",
        units="mm",
        path=Path("stripe.toml"),
        outline=OutlineSource(rows=tuple(map(tuple, BOX.rows.tolist()))),
        tang_mm=3.0,
        front=front,
        thickness_mm=thickness_mm,
        face=face,
        edge=edge,
        trim_mm=0.5,
        back_allowance_mm=0.0,
        pins=(),
    )
    scale: Scale = design(pattern, BOX, STACK, SHOP)
    return {(each.under, each.place): each for each in reveals(scale)}


SQUARE = Front(at_mm=30.0, angle_rad=math.pi / 2)
NAME = STACK.layers[0].name


@pytest.mark.parametrize("slope_deg", [25.0, 40.0, 60.0])
def test_stripe_in_a_bevel(slope_deg: float) -> None:
    """The liner's top must show (h - land) / tan(slope) behind the front. Source: trigonometry."""
    slope = math.radians(slope_deg)
    front = Front(at_mm=30.0, angle_rad=1.4, treatment="bevel", slope_rad=slope, land_mm=0.3)
    stripe = shown(Face(), Edge(), front, 6.0)[NAME, "front"]
    want = (LINER - 0.3) / math.tan(slope)
    assert (stripe.least_mm, stripe.most_mm) == pytest.approx((want, want), abs=1e-9)
    (line,) = stripe.lines
    assert np.ptp(line[:, 1]) > 22


def test_stripe_in_a_round_edge() -> None:
    """In a round-over it must show r - sqrt(r^2 - (h - T + r)^2) inside the outline. Source: circle."""
    thickness, r = 2.6, 2.2
    found = shown(Face(), Edge(treatment="round", size_mm=r), SQUARE, thickness)
    stripe = found[NAME, "edge"]
    want = r - math.sqrt(r**2 - (LINER - thickness + r) ** 2)
    assert stripe.least_mm == pytest.approx(want, abs=1e-7)
    assert stripe.most_mm == pytest.approx(want, abs=1e-7)


def test_stripe_in_a_crown() -> None:
    """In a crown the liner must show sqrt(R^2 - (R - (T - h))^2) beside the crown line. Source: circle."""
    thickness, radius = 3.0, 30.0
    found = shown(Face(crown=Crown(radius_mm=radius, at_mm=0.0)), Edge(), SQUARE, thickness)
    stripe = found[NAME, "face"]
    want = math.sqrt(radius**2 - (radius - (thickness - LINER)) ** 2)
    assert (stripe.least_mm, stripe.most_mm) == pytest.approx((want, want), abs=1e-7)
    assert len(stripe.lines) == 2


def test_nothing_shows_where_nothing_is_cut() -> None:
    """With a square front and edge on a flat face no boundary may show."""
    assert shown(Face(), Edge(), SQUARE, 6.0) == {}
