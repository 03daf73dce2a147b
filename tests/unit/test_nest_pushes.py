"""The least moves that satisfy conditions, by closed forms and another method; where points face outlines."""

import math

import numpy as np
import pytest
import shapely

from scalegen.nest.exact import sides
from scalegen.nest.pushes import Conditions, least_moves
from scalegen.nest.walls import Walls
from scalegen.outline.ring import FloatArray


def _conditions(rows: list[tuple[int, int, float, float, float, float, float]]) -> Conditions:
    one, other, x, y, turn, back, gap = (np.array(column) for column in zip(*rows, strict=True))
    return Conditions(one=one, other=other, x=x, y=y, turn=turn, back=back, gap_mm=gap)


def test_two_bodies_share_the_way() -> None:
    """The least square of a + b = 1 is a = b = 1/2 (closed form); against the board one goes all the way."""
    apart = least_moves(_conditions([(0, 1, 0.6, 0.8, 0.0, 0.0, 1.0)]), 2, 5.0)
    assert apart[1] == pytest.approx([0.3, 0.4, 0.0], abs=1e-6)
    assert apart[0] == pytest.approx([-0.3, -0.4, 0.0], abs=1e-6)
    off = least_moves(_conditions([(-1, 0, 0.0, 1.0, 0.0, 0.0, 0.7)]), 1, 5.0)
    assert off[0] == pytest.approx([0.0, 0.7, 0.0], abs=1e-6)


def test_a_turn_takes_its_part() -> None:
    """With a lever of 1 beside a direction of 1, move and turn do half each (least square of a + b = 1)."""
    moves = least_moves(_conditions([(-1, 0, 1.0, 0.0, 1.0, 0.0, 1.0)]), 1, 5.0)
    assert moves[0] == pytest.approx([0.5, 0.0, 0.5], abs=1e-6)


def test_no_move_leaves_the_box() -> None:
    """A gap of 3 with a longest move of 1: one body goes 1, a chain of two bodies goes 1 each way."""
    moves = least_moves(_conditions([(-1, 0, 1.0, 0.0, 0.0, 0.0, 3.0)]), 1, 1.0)
    assert moves[0] == pytest.approx([1.0, 0.0, 0.0])
    moves = least_moves(_conditions([(0, 1, 1.0, 0.0, 0.0, 0.0, 3.0)]), 2, 1.0)
    assert moves[:, 0] == pytest.approx([-1.0, 1.0])


def test_nothing_asked_nothing_moved() -> None:
    """Conditions that hold already move nothing."""
    moves = least_moves(_conditions([(0, 1, 1.0, 0.0, 0.2, 0.1, -0.5)]), 2, 1.0)
    assert not moves.any()


def _one_by_one(matrix: FloatArray, gaps: FloatArray, passes: int) -> FloatArray:
    """The same least moves by Hildreth's method, one condition after the other (textbook, from memory)."""
    forces, moves = np.zeros(len(gaps)), np.zeros(matrix.shape[1])
    square = (matrix**2).sum(axis=1)
    for _ in range(passes):
        for k, row in enumerate(matrix):
            change = max(float(gaps[k] - row @ moves) / square[k], -forces[k])
            forces[k] += change
            moves += change * row
    return moves


@pytest.mark.parametrize("seed", range(6))
def test_crowds_as_by_another_method(seed: int) -> None:
    """Random crowds that can be satisfied: the moves of a method that takes one condition at a time."""
    random = np.random.default_rng(seed)
    bodies, count = 5, 14
    goal = random.normal(0, 1, (bodies, 3))
    rows, matrix, gaps = [], np.zeros((count, 3 * bodies)), np.zeros(count)
    for k in range(count):
        other = int(random.integers(bodies))
        one = int(random.integers(-1, bodies - 1))
        one = bodies - 1 if one == other else one
        angle, turn, back = random.uniform(0, 2 * math.pi), *random.uniform(-1, 1, 2)
        way = (math.cos(angle), math.sin(angle))
        matrix[k, 3 * other : 3 * other + 3] += [*way, turn]
        if one >= 0:
            matrix[k, 3 * one : 3 * one + 3] -= [*way, back]
        gaps[k] = matrix[k] @ goal.ravel() - random.uniform(0, 0.5)
        rows.append((one, other, *way, turn, back, float(gaps[k])))
    found = least_moves(_conditions(rows), bodies, 50.0).ravel()
    assert (matrix @ found >= gaps - 0.02).all()
    assert found == pytest.approx(_one_by_one(matrix, gaps, 4000), abs=0.03)


def test_faced_as_shapely_measures() -> None:
    """Distance to the outline and inside or not, for points about a hollow polygon and a triangle."""
    hollow = shapely.Polygon([(0, 0), (8, 0), (8, 6), (5, 6), (5, 2), (3, 2), (3, 6), (0, 6)])
    triangle = shapely.Polygon([(10, 1), (14, 2), (11, 5)])
    regions = [hollow, triangle]
    walls = Walls([wall for wall in map(sides, regions) if wall is not None])
    points = np.random.default_rng(7).uniform(-3, 15, (400, 2))
    numbers = np.arange(len(points)) % 2
    faced = walls.facing(numbers, points)
    for number, point, distance, at, inside in zip(
        numbers, shapely.points(points), faced.distance, shapely.points(faced.at), faced.inside, strict=True
    ):
        region = regions[number]
        assert distance == pytest.approx(region.exterior.distance(point), abs=1e-9)
        assert region.exterior.distance(at) < 1e-9
        assert inside == region.contains(point)
    near = walls.near(numbers, points, np.full(len(points), 1.0))
    boxes = [shapely.box(*region.bounds).buffer(1.0, join_style="mitre") for region in regions]
    assert near.tolist() == [
        boxes[n].contains(p) for n, p in zip(numbers, shapely.points(points), strict=True)
    ]
