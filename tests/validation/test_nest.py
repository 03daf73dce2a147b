"""Arrangements whose best count is known in closed form, and the numbers the engine is built to reach."""

import math

import numpy as np
import pytest
import shapely

from scalegen.nest.records import Board, Body, Part, Shape
from scalegen.nest.search import search
from scalegen.nest.smallest import smallest_board


def _alone(points: object, angles: tuple[float, ...], count: int | None = None) -> dict[str, object]:
    shape = Shape(key="part", points_mm=np.asarray(points, dtype=np.float64))
    body = Body(key="part", parts=(Part(shape="part"),), group="part", angles_rad=angles, count=count)
    return {"bodies": [body], "shapes": [shape]}


@pytest.mark.parametrize(
    ("size", "spacing", "sheet", "best"),
    [
        ((30, 10), 0.0, (120, 60), 24),  # 4 x 6, all of the area
        ((30, 10), 2.0, (126, 58), 20),  # 4 x 5: (126 + 2)(58 + 2) / (32 x 12) exactly
        ((25, 12), 3.0, (81, 57), 12),  # 3 x 4: (81 + 3)(57 + 3) / (28 x 15) exactly
    ],
)
def test_rectangles_on_a_rectangle(
    size: tuple[float, float], spacing: float, sheet: tuple[float, float], best: int
) -> None:
    """Where rows and columns fill the sheet with their spacing, all are found and proven (closed form)."""
    a, b = size
    work = _alone([[0, 0], [a, 0], [a, b], [0, b]], (0.0,))
    result = search(boards=[Board(key="s", region=shapely.box(0, 0, *sheet))], spacing_mm=spacing, **work)
    assert result.found == best
    assert result.proven


def test_equilateral_triangles_in_a_strip() -> None:
    """A strip as high as a triangle of side a takes n, heads up and down, in (n + 1) a / 2 (closed form)."""
    a, n = 20.0, 9
    triangle = [[0, 0], [a, 0], [a / 2, a * math.sqrt(3) / 2]]
    length, width = (n + 1) * a / 2, a * math.sqrt(3) / 2
    # A thousandth more than the closed form: the height is not a number the machine can hold.
    region = shapely.box(0, 0, length + 1e-3, width + 1e-3)
    result = search(
        boards=[Board(key="s", region=region)], spacing_mm=0.0, **_alone(triangle, (0.0, math.pi))
    )
    assert result.found == n


def test_smallest_board_for_rectangles_is_their_area() -> None:
    """Twelve 20 x 10 boxes in a strip 40 wide need 60 mm, which the area proves (closed form)."""
    work = _alone([[0, 0], [20, 0], [20, 10], [0, 10]], (0.0,), count=12)
    best = smallest_board(spacing_mm=0.0, width_mm=40.0, effort="quick", **work)
    assert best.length_mm == pytest.approx(60.0, abs=1e-6)
    assert best.least_mm == pytest.approx(60.0, abs=1e-6)


def _drop() -> np.ndarray:
    """A tapered scale, 78 x 22 mm."""
    spine = [[0, 6.2], [30, 8.4], [58, 10.8], [66, 11.0], [74, 9.6], [77.2, 6.0]]
    belly = [[78, 0.0], [77.0, -6.4], [72, -10.2], [62, -11.0], [30, -8.0], [0, -5.6]]
    return np.array(spine + belly)


@pytest.mark.parametrize(("turns", "least"), [(2, 9), (4, 10)])
def test_the_sheet_the_engine_is_built_for(turns: int, least: int) -> None:
    """At least as many pairs as other true-shape means were measured to find on this sheet, pad and all."""
    left = _drop()
    shapes = [Shape(key="L", points_mm=left), Shape(key="R", points_mm=left * [1.0, -1.0])]
    angles = tuple(2 * math.pi * k / turns for k in range(turns))
    bodies = [Body(key=k, parts=(Part(shape=k),), group="pair", angles_rad=angles) for k in "LR"]
    region = shapely.box(3, 3, 302, 149).difference(shapely.box(3, 3, 23, 23).buffer(4.5))
    result = search(bodies, [Board(key="s", region=region)], shapes=shapes, spacing_mm=4.5, effort="quick")
    assert result.found >= least


def test_the_limit_by_area_is_that_of_the_grown_areas() -> None:
    """For discs of radius r the limit is the grown board over pi (r + s/2)^2, rounded down (closed form)."""
    r, s, side = 6.0, 2.0, 100.0
    t = np.linspace(0, 2 * math.pi, 256, endpoint=False)
    disc = np.column_stack([r * np.cos(t), r * np.sin(t)]) / math.cos(math.pi / 256)
    region = shapely.box(0, 0, side, side)
    work = _alone(disc, (0.0,))
    result = search(boards=[Board(key="s", region=region)], spacing_mm=s, effort="quick", **work)
    room = side**2 + 4 * side * s / 2 + math.pi * (s / 2) ** 2
    assert result.bound.groups == int(room / (math.pi * (r + s / 2) ** 2))
    assert result.found >= 7 * 7  # the square pattern with pitch 14: (100 - 12) / 14 + 1 = 7 each way
