"""Sums kept up to date beside sums made anew."""

from random import Random

import numpy as np
import shapely

from scalegen.nest.hall import SCALES, hall
from scalegen.nest.records import Board, Body, Part, Shape
from scalegen.nest.sums import Sums, plan
from scalegen.nest.table import Piece, Table

BLADE = np.array([[0, -5], [30, -8], [44, -9], [50, 0], [44, 8], [20, 6], [0, 5]], dtype=float)


def _table() -> Table:
    shapes = [Shape(key="L", points_mm=BLADE), Shape(key="R", points_mm=BLADE * [1.0, -1.0])]
    bodies = [Body(key=k, parts=(Part(shape=k),), group=k, angles_rad=(0.0, 0.4)) for k in "LR"]
    board = Board(key="s", region=shapely.box(0, 0, 160, 90).difference(shapely.box(0, 0, 20, 20)))
    return hall(bodies, shapes, 3.0, SCALES["quick"]).tables([board])[0]


def test_sums_kept_up_to_date_are_those_made_anew() -> None:
    """After every move, and for weights of every kind, each cell is the weighted sum of all depths."""
    table, random = _table(), Random(5)  # noqa: S311  # places, not secrets
    sums = Sums(table)
    pieces = [Piece(body=k % 2, pose=0, x=random.randrange(60), y=random.randrange(40)) for k in range(8)]
    for step in range(40):
        for _ in range(step % 7):
            k = random.randrange(8)
            pieces[k] = Piece(
                body=k % 2, pose=random.randrange(2), x=random.randrange(80), y=random.randrange(50)
            )
        weights = [random.choice([0, 64, 64, 64, 90, 8192]) for _ in pieces]
        moving = table.poses[step % 2][step // 2 % 2]
        got = sums.costs(moving, pieces, plan(np.array(weights)))
        assert (got == table.costs(moving, pieces, weights)).all()
