"""Partners next to each other: against trying every pairing, and shapely's distances."""

import itertools
import math
from random import Random

import numpy as np
import pytest
import shapely

from scalegen.model import Side
from scalegen.model.job import TURNS
from scalegen.nest.beside import rows_of_pairs
from scalegen.nest.records import Board, Body, Part, Shape
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import side_by_side_mm
from scalegen.sheet.partners import adjacent_pairs, behind, partnered
from scalegen.sheet.true_shapes import How, Put

SPACING = 4.0
BOX = Ring.from_rows([(0.0, 0.0, 0.0), (40.0, 0.0, 0.0), (40.0, 10.0, 0.0), (0.0, 10.0, 0.0)])
BOXES: dict[Side, Ring] = {"left": BOX, "right": BOX}
BLADE = np.array([[0, 1], [30, 0], [52, 3], [60, 9], [48, 13], [20, 14], [0, 11]], dtype=float)
BLADES: dict[Side, Ring] = {
    "left": Ring.from_rows([(x, y, 0.0) for x, y in BLADE.tolist()]),
    "right": Ring.from_rows([(x, -y, 0.0) for x, y in BLADE[::-1].tolist()]),
}


def lain(put: Put, footprints: dict[Side, Ring]) -> shapely.Polygon:
    """A scale where it lies, by plain turning."""
    points = footprints[put.side].starts
    c, s = math.cos(put.angle_rad), math.sin(put.angle_rad)
    return shapely.Polygon(points @ np.array([[c, s], [-s, c]]) + (put.x_mm, put.y_mm))


@pytest.mark.parametrize("seed", range(12))
def test_as_many_partners_as_any_pairing_gives(seed: int) -> None:
    """Of all ways to pair five lefts with five rights, none has more near one another (tried one by one)."""
    spread = Random(seed)  # noqa: S311  # a test
    spots = [(48.0 * column, 13.0 * row) for column in range(3) for row in range(4)]
    spread.shuffle(spots)
    puts = [
        Put(side="left" if k < 5 else "right", x_mm=x, y_mm=y, angle_rad=0.0)
        for k, (x, y) in enumerate(spots[:10])
    ]
    near = [
        [lain(a, BOXES).distance(lain(b, BOXES)) <= side_by_side_mm(SPACING) for b in puts[5:]]
        for a in puts[:5]
    ]
    most = max(sum(near[k][j] for k, j in enumerate(order)) for order in itertools.permutations(range(5)))
    found = partnered(puts, BOXES, SPACING)
    assert len(found) == 2 * most
    for left, right in zip(found[::2], found[1::2], strict=True):
        assert (left.side, right.side) == ("left", "right")
        assert lain(left, BOXES).distance(lain(right, BOXES)) <= side_by_side_mm(SPACING)
    assert len(set(found)) == len(found)


def test_grain_must_run_alike() -> None:
    """A right one a quarter turn round is no partner, one half round is."""
    left = Put(side="left", x_mm=0.0, y_mm=0.0, angle_rad=0.0)
    across = Put(side="right", x_mm=54.0, y_mm=0.0, angle_rad=math.pi / 2)
    round_ = Put(side="right", x_mm=40.0, y_mm=24.0, angle_rad=math.pi)
    assert partnered([left, across], BOXES, SPACING) == ()
    assert partnered([left, across, round_], BOXES, SPACING) == (left, round_)


def test_side_by_side_comes_before_one_behind_the_other() -> None:
    """Of two partners to be had, the one beside is taken; one behind is told as such."""
    left = Put(side="left", x_mm=0.0, y_mm=0.0, angle_rad=0.0)
    after = Put(side="right", x_mm=44.0, y_mm=0.0, angle_rad=0.0)
    beside = Put(side="right", x_mm=2.0, y_mm=14.0, angle_rad=0.0)
    assert partnered([left, after, beside], BOXES, SPACING) == (left, beside)
    assert behind((left, beside), BOXES) == 0
    assert behind((left, after), BOXES) == 1


def test_rows_by_twos_have_every_partner_beside() -> None:
    """Every left has a right within the spacing and shares half its length with it (shapely)."""
    shapes = [Shape(key=side, points_mm=BLADES[side].starts) for side in ("left", "right")]
    bodies = [
        Body(key=s.key, parts=(Part(shape=s.key),), group="p", angles_rad=TURNS["grain"]) for s in shapes
    ]
    board = Board(key="b", region=shapely.box(0, 0, 200, 100))
    spots = rows_of_pairs(bodies, board, shapes=shapes, spacing_mm=SPACING)[0]
    puts = [
        Put(
            side="left" if spot.body == "left" else "right",
            x_mm=spot.x_mm,
            y_mm=spot.y_mm,
            angle_rad=spot.angle_rad,
        )
        for spot in spots
    ]
    outlines = [lain(put, BLADES) for put in puts]
    for one, other in itertools.combinations(outlines, 2):
        assert one.distance(other) >= SPACING - 1e-5
    found = partnered(puts, BLADES, SPACING)
    assert len(found) == len(puts) >= 12
    assert behind(found, BLADES) == 0


@pytest.mark.parametrize("turns", ["grain", "quarter"])
def test_pairs_on_a_blank_are_apart_and_together(turns: str) -> None:
    """Beside a pad all keep their distance, and partners are no further apart than they may (shapely)."""
    region = shapely.box(0, 0, 190, 110).difference(shapely.box(0, 0, 24, 24))
    how = How(pairing="adjacent", turns_rad=TURNS[turns], effort="quick")  # type: ignore[index]  # by name
    puts, stopped, loose = adjacent_pairs(BLADES, region, SPACING, how, most=8)
    assert not stopped
    assert loose is None or loose >= 1
    outlines = [lain(put, BLADES) for put in puts]
    assert len(puts) >= 12
    for one, other in itertools.combinations(outlines, 2):
        assert one.distance(other) >= SPACING - 1e-5
    for outline in outlines:
        assert outline.difference(region).area < 1e-4
    for left, right in zip(outlines[::2], outlines[1::2], strict=True):
        assert left.distance(right) <= side_by_side_mm(SPACING)


def test_no_more_pairs_than_asked_for() -> None:
    """Where three pairs are wanted, three are laid."""
    region = shapely.box(0, 0, 190, 110)
    how = How(pairing="adjacent", turns_rad=TURNS["grain"], effort="quick")
    puts, _, _ = adjacent_pairs(BLADES, region, SPACING, how, most=3)
    assert len(puts) == 6
