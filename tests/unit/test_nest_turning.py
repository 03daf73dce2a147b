"""Bodies that may lie at any angle: pushed and turned apart, by closed forms and shapely's measure."""

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from scalegen.nest.corners import solid
from scalegen.nest.fields import ground
from scalegen.nest.hall import SCALES, hall
from scalegen.nest.records import Board, Body, Part, Shape, Spot
from scalegen.nest.search import search
from scalegen.nest.turning import Lie, ease

BAR = np.array([[0, 0], [50, 0], [50, 10], [0, 10]], dtype=float)
SHAPE = Shape(key="bar", points_mm=BAR)


def _body(*, free: bool, angles: tuple[float, ...] = (0.0, math.pi / 12)) -> Body:
    return Body(key="bar", parts=(Part(shape="bar"),), group="bar", angles_rad=angles, free=free)


def _laid(spot: Spot) -> shapely.Polygon:
    turned = affinity.rotate(shapely.Polygon(BAR), spot.angle_rad, origin=(0, 0), use_radians=True)
    return affinity.translate(turned, spot.x_mm, spot.y_mm)


@pytest.mark.parametrize(("free", "found"), [(True, 2), (False, 1)])
def test_bars_turn_to_the_board(free: bool, found: int) -> None:
    """A board 60 x 24.2, turned by 4 degrees, takes two bars 10 wide and 4 apart at its own angle only."""
    slab = affinity.rotate(shapely.box(0, 0, 60, 24.2), 4.0, origin=(0, 0))
    result = search(
        [_body(free=free, angles=(0.0,))],
        [Board(key="s", region=slab)],
        shapes=[SHAPE],
        spacing_mm=4.0,
        effort="quick",
    )
    assert result.found == found
    parts = [_laid(spot) for spot in result.spots]
    assert all(slab.buffer(1e-6).covers(part) for part in parts)
    assert all(a.distance(b) >= 4.0 - 1e-6 for k, a in enumerate(parts) for b in parts[:k])


def test_a_long_bar_finds_the_diagonal() -> None:
    """A bar a x b lies in a square little wider than (a + b) / sqrt 2 near 45 degrees only (closed form)."""
    side = (50 + 10) / math.sqrt(2) + 0.01
    room = hall([_body(free=True)], [SHAPE], 1.0, SCALES["quick"])
    bar = solid(room.ways[0][0])
    place = ground(Board(key="s", region=shapely.box(0, 0, side, side)))
    start = Lie(x_mm=side / 2, y_mm=side / 2, angle_rad=math.radians(38.0))
    (lie,), worst = ease(place, [bar], [start], 1.0, free=[True])
    assert worst == 0
    assert math.degrees(lie.angle_rad) == pytest.approx(45.0, abs=0.2)
    _, stuck = ease(place, [bar], [start], 1.0, free=[False])
    assert stuck > 0.1


def test_a_corner_of_the_board_that_sticks_in_is_heeded() -> None:
    """A bar pushed onto the point of a notch leaves it and stays on the board, by shapely's measure."""
    region = shapely.box(0, 0, 80, 40).difference(shapely.Polygon([(38, 0), (42, 0), (40, 12)]))
    room = hall([_body(free=True)], [SHAPE], 1.0, SCALES["quick"])
    place = ground(Board(key="s", region=region))
    start = Lie(x_mm=40.0, y_mm=15.0, angle_rad=0.05)
    (lie,), worst = ease(place, [solid(room.ways[0][0])], [start], 1.0, free=[True])
    assert worst == 0
    bar = affinity.rotate(shapely.box(-25, -5, 25, 5), lie.angle_rad, origin=(0, 0), use_radians=True)
    assert region.buffer(1e-6).covers(affinity.translate(bar, lie.x_mm, lie.y_mm))


def test_more_turns_never_give_fewer() -> None:
    """What half turns alone find is where a search with more turns begins, so its count is no lower."""
    t = np.linspace(0, 1, 12)
    bow = 14 * np.sin(math.pi * t)
    top, under = np.column_stack([95 * t, bow + 8]), np.column_stack([95 * t, bow - 9])[::-1]
    shape = Shape(key="bar", points_mm=np.vstack([top[::-1], under[::-1]]))
    board = Board(key="s", region=shapely.box(0, 0, 210, 110))
    counts = [
        search(
            [_body(free=False, angles=tuple(2 * math.pi * k / turns for k in range(turns)))],
            [board],
            shapes=[shape],
            spacing_mm=4.0,
            effort="quick",
        ).found
        for turns in (2, 4)
    ]
    assert counts == sorted(counts)


def test_a_hasty_search_tries_every_angle_of_a_list() -> None:
    """Two bars lie at 45 degrees beside one that lies square: a list of both angles finds all three."""
    slab = affinity.rotate(shapely.box(0, 0, 60, 24.2), 45.0, origin=(0, 0))
    counts = [
        search(
            [_body(free=False, angles=angles)],
            [Board(key="s", region=slab.union(shapely.box(60, 0, 112, 11)))],
            shapes=[SHAPE],
            spacing_mm=4.0,
            effort="quick",
        ).found
        for angles in ((0.0,), (0.0, math.pi / 4))
    ]
    assert counts == [1, 3]
