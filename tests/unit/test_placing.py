"""Drawings laid into the pattern's axes."""

import math

import numpy as np
import pytest

from scalegen.outline.choose import contours_of
from scalegen.outline.join import Gap
from scalegen.outline.measure import inside
from scalegen.outline.placing import level_rad, placed
from scalegen.outline.ring import Ring
from scalegen.outline.survey import Survey
from scalegen.outline.transform import moved
from scalegen.sources import FrontSide, Placing

# A half disc on a box: flat blade end at x = 0, round butt, a step at the spine near the blade.
TANG = Ring.from_rows([[0, 0, 0], [40, 0, 1], [40, 20, 0], [10, 20, 0], [10, 24, 0], [0, 24, 0]])
AREA_MM2 = 40 * 20 + 10 * 4 + math.pi * 100 / 2
HOLE = (15.0, 5.0, 3.0)


def survey(ring: Ring = TANG) -> Survey:
    """The tang with a hole, a gap, an open chain and a branch."""
    return Survey(
        units="millimetres",
        contours=contours_of([ring]),
        chosen=1,
        holes=(HOLE,),
        gaps=(Gap(at_mm=(40.0, 0.0), size_mm=0.01),),
        open_ends=((1.0, 2.0), (3.0, 4.0)),
        loose=(np.array([[1.0, 2.0, 0.5], [3.0, 4.0, 0.0]]),),
        branches=((5.0, 6.0),),
        notes=("closed a gap",),
    )


def test_nothing_said_changes_nothing() -> None:
    """Without a placing the drawing must stay as it is, notes and all."""
    found = survey()
    assert placed(found, Placing()) is found


@pytest.mark.parametrize(
    ("front", "hole"),
    [("left", (15, 5)), ("right", (-15, 5)), ("top", (-5, 15)), ("bottom", (5, -15))],
)
def test_each_side_comes_to_the_left(front: FrontSide, hole: tuple[float, float]) -> None:
    """A blade at the top or bottom is turned a quarter, one at the right is mirrored, spine kept up."""
    found = placed(survey(), Placing(front=front))
    assert found.holes[0] == pytest.approx((*hole, 3.0))
    ring = found.contours[0].ring
    assert ring.area_mm2 == pytest.approx(AREA_MM2)  # closed form: boxes and half a disc
    assert inside(ring, np.array([found.holes[0][:2]]))[0]


def test_flip_brings_the_spine_up_and_keeps_the_arc_outward() -> None:
    """Mirrored top to bottom, y is turned round and the arc still bulges outward."""
    found = placed(survey(), Placing(flip=True))
    assert found.contours[0].bounds_mm == pytest.approx((0, -24, 50, 0))
    assert found.contours[0].ring.area_mm2 == pytest.approx(AREA_MM2)
    assert found.loose[0][:, 1] == pytest.approx([-2, -4])
    assert found.loose[0][0, 2] == -0.5


def test_places_go_with_the_outline() -> None:
    """Turned by a quarter, every kind of place must turn along: (x, y) becomes (-y, x)."""
    found = placed(survey(), Placing(rotate_rad=math.pi / 2))
    assert found.gaps[0].at_mm == pytest.approx((0, 40))
    assert found.open_ends[1] == pytest.approx((-4, 3))
    assert found.branches[0] == pytest.approx((-6, 5))
    assert found.loose[0][0] == pytest.approx([-2, 1, 0.5])
    assert any("drawing's own" in note for note in found.notes)


def test_zero_at_the_front_end() -> None:
    """With its zero at the front, an outline must start at x = 0 and lie evenly about y = 0."""
    found = placed(survey(moved(TANG, 200, 300)), Placing(front="right", zero="front"))
    x0, y0, _, y1 = found.contours[0].bounds_mm
    assert x0 == pytest.approx(0)
    assert y0 == pytest.approx(-y1)


@pytest.mark.parametrize("turn_deg", [-80, -31, -2, 0, 12, 44, 46, 89])
def test_level_undoes_a_turn(turn_deg: float) -> None:
    """A bar turned by any angle must be laid level again, within a thousandth of a degree."""
    bar = Ring.from_rows([[0, 0, 0], [100, 0, 0], [100, 20, 0], [0, 20, 0]])
    back = level_rad(moved(bar, 5, 7, math.radians(turn_deg)))
    assert math.degrees(back) == pytest.approx(-turn_deg, abs=1e-3)
