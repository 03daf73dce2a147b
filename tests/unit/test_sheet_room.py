"""Room on a blank: polygons that hold or lie within curves, and limits that no layout can beat."""

import math

import numpy as np
import pytest
import shapely

from scalegen.model import Side
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox
from scalegen.sheet.room import free_region, holding, pair_limit

DISC = Ring.from_rows([[-10, 0, 1], [10, 0, 1]])
HOLLOW = Ring.from_rows([[0, 0, 0], [40, 0, 0], [40, 20, -0.5], [0, 20, 0]])


def box(length_mm: float, width_mm: float) -> dict[Side, Ring]:
    """Two rectangles."""
    ring = Ring.from_rows([[0, 0], [length_mm, 0], [length_mm, width_mm], [0, width_mm]])
    return {"left": ring, "right": ring}


def test_tangents_stay_outside_a_circle() -> None:
    """A disc of 10 mm lies in its polygon, whose area is no more than that of a disc 2 microns larger."""
    shape = shapely.Polygon(holding(DISC))
    assert shape.exterior.distance(shapely.Point(0, 0)) >= 10 - 1e-12
    assert math.pi * 100 < shape.area < math.pi * 10.002**2


def test_chords_cross_a_hollow() -> None:
    """Points on a hollow arc lie in the polygon or on its edge, and next to nothing is added."""
    shape = shapely.Polygon(holding(HOLLOW))
    fine = shapely.points(HOLLOW.flatten(1e-5))
    assert shapely.distance(fine, shape).max() < 1e-9
    assert HOLLOW.area_mm2 <= shape.area < HOLLOW.area_mm2 + 0.001 * HOLLOW.perimeter_mm


def test_straight_sides_are_kept() -> None:
    """A rectangle is its own polygon, so that boxes made to measure still fit."""
    assert holding(box(40, 20)["left"]) == pytest.approx(np.array([[0, 0], [40, 0], [40, 20], [0, 20]]))


def test_the_region_lies_on_either_side_of_the_truth() -> None:
    """What is left is length times width less pad, two strips and a quarter circle (closed form)."""
    pad = PadBox(x_mm=3.0, y_mm=3.0, w_mm=20.0, h_mm=10.0)
    truth = 94.0 * 54.0 - (20 * 10 + 5 * 20 + 5 * 10 + math.pi * 25 / 4)
    less = free_region((100.0, 60.0), 3.0, pad, 5.0).area
    more = free_region((100.0, 60.0), 3.0, pad, 5.0, larger=True).area
    assert truth - 0.05 < less < truth < more < truth + 0.05


def test_the_limit_is_the_area_each_part_takes_with_its_share_of_the_spacing() -> None:
    """Boxes of 50 x 20 mm, 4 mm apart, take (50 x 20 + 140 x 2 + 4 pi) each (Steiner's formula)."""
    region = shapely.box(0, 0, 250, 150)
    grown = 250 * 150 + 800 * 2 + 4 * math.pi
    limit = pair_limit(box(50, 20), region, 4.0)
    assert limit.groups == int(grown / (2 * (1000 + 280 + 4 * math.pi))) == 15
    assert "area" in limit.reason


def test_a_full_board_is_not_called_impossible() -> None:
    """Four boxes fill a board to its last square millimetre; the limit must still allow both pairs."""
    assert pair_limit(box(50, 20), shapely.box(0, 0, 100, 40), 0.0).groups == 2


def test_a_full_board_of_discs_keeps_its_limit() -> None:
    """The limit is worked out with curves never larger than the truth: it rounds in their favour."""
    discs: dict[Side, Ring] = {"left": DISC, "right": DISC}
    board = shapely.box(0, 0, 2 * math.pi * 10, 10.0)
    assert board.area == pytest.approx(2 * DISC.area_mm2)
    assert pair_limit(discs, board, 0.0).groups == 1
