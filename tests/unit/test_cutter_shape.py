"""Cutters from the side."""

import math

import numpy as np
import pytest

from scalegen.errors import UsageError
from scalegen.machining.cutter_shape import CutterShape, ball, drill, flat, point_mm, shape_of
from scalegen.model import Cutter
from scalegen.shop import load_shop

CUTTERS = load_shop(None).cutters


def rises(shape: CutterShape, *distances: float) -> list[float]:
    """Heights of the envelope at distances."""
    return shape.rise_mm(np.array(distances)).tolist()


def test_a_flat_cutter_is_level_up_to_its_radius() -> None:
    """Beyond it there is nothing."""
    assert rises(flat(3.0), 0.0, 1.0, 1.5, 1.6) == [0.0, 0.0, 0.0, math.inf]


def test_a_ball_is_a_half_circle() -> None:
    """R - sqrt(R^2 - d^2), by the triangle 3, 4, 5."""
    assert rises(ball(10.0), 0.0, 3.0, 4.0, 5.0) == pytest.approx([0.0, 1.0, 2.0, 5.0])


def test_a_drill_is_a_cone() -> None:
    """At a point of 90 degrees it rises as it widens; at 118 its length is r / tan 59."""
    assert rises(drill(4.0, math.pi / 2), 0.5, 2.0) == pytest.approx([0.5, 2.0])
    assert point_mm(ball(4.0)) == 0
    assert point_mm(drill(4.0)) == pytest.approx(2.0 / math.tan(math.radians(59)))


def test_a_tapered_cutter_reaches_its_diameter_at_its_flutes() -> None:
    """The cone ends at radius and flute length, and leaves the ball at the same height and slope."""
    shape = shape_of(CUTTERS["taper 6mm"])
    assert rises(shape, 3.0) == pytest.approx([16.0], abs=1e-6)
    touch = shape.tip_radius_mm * math.cos(shape.side_rad)
    low, at, high = rises(shape, touch - 1e-5, touch, touch + 1e-5)
    assert at - low == pytest.approx(high - at, rel=1e-3)


@pytest.mark.parametrize("name", sorted(CUTTERS))
def test_every_cutter_of_the_table_rises_outwards(name: str) -> None:
    """No envelope turns down again on the way out."""
    shape = shape_of(CUTTERS[name])
    heights = shape.rise_mm(np.linspace(0.0, shape.radius_mm, 50))
    assert heights[0] == 0
    assert (np.diff(heights) >= 0).all()


@pytest.mark.parametrize(
    ("kind", "diameter", "tip", "flute"),
    [("flat", 0.0, 0.0, 5.0), ("tapered", 3.0, 2.0, 5.0), ("tapered", 3.0, 0.5, 0.2), ("drill", -1.0, 0, 5)],
)
def test_impossible_cutters_are_refused(kind: str, diameter: float, tip: float, flute: float) -> None:
    """The message names the cutter."""
    cutter = Cutter(
        name="odd one",
        kind=kind,
        diameter_mm=diameter,
        flute_mm=flute,
        stickout_mm=9.0,
        tip_radius_mm=tip,
        flutes=2,
        price=None,
    )
    with pytest.raises(UsageError, match="odd one"):
        shape_of(cutter)


def test_a_stated_taper_is_taken() -> None:
    """A cone of 10 degrees beside its axis rises 1 / tan(10 deg) mm for each mm out: a right triangle."""
    cutter = Cutter(
        name="t",
        kind="tapered",
        diameter_mm=6.0,
        flute_mm=16.0,
        stickout_mm=24.0,
        tip_radius_mm=0.5,
        flutes=2,
        price=None,
        side_rad=math.radians(10.0),
    )
    rise = shape_of(cutter).rise_mm(np.array([1.0, 2.0]))
    assert rise[1] - rise[0] == pytest.approx(1 / math.tan(math.radians(10.0)))
