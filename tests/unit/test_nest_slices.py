"""Lengths that lines cut out, and the limits that follow from them, against closed forms and known optima."""

import math

import numpy as np
import pytest
import shapely

from scalegen.nest.bounds import bound
from scalegen.nest.poses import outlines
from scalegen.nest.records import Board, Body, Bound, Part, Shape
from scalegen.nest.slices import slices, weighers

GRAIN, QUARTERS = (0.0, math.pi), tuple(k * math.pi / 2 for k in range(4))


def limit(
    points: object,
    angles: tuple[float, ...],
    region: shapely.Polygon,
    spacing_mm: float,
    *,
    free: bool = False,
) -> Bound:
    """The limit for one shape, each part by itself."""
    shape = Shape(key="p", points_mm=np.asarray(points, dtype=np.float64))
    body = Body(key="p", parts=(Part(shape="p"),), group="p", angles_rad=angles, free=free)
    ready = outlines([shape], spacing_mm, 0.0)
    return bound({"p": [body]}, [Board(key="b", region=region)], ready, spacing_mm, frozenset())


def rectangle(a: float, b: float) -> list[list[float]]:
    """A rectangle a long and b high."""
    return [[0, 0], [a, 0], [a, b], [0, b]]


@pytest.mark.parametrize(
    ("size", "sheet", "spacing", "best"),
    [
        ((30, 10), (45, 55), 0.0, 5),  # one column of five; the area would have room for 8
        ((30, 10), (89, 30), 0.0, 6),  # two columns of three; by area 8
        ((40, 14), (123, 46), 4.0, 4),  # (123 + 4) // 44 = 2 columns of (46 + 4) // 18 = 2; by area 8
        ((25, 12), (81, 57), 3.0, 12),  # full to the last square millimetre
    ],
)
def test_rectangles_along_the_grain(
    size: tuple[float, float], sheet: tuple[float, float], spacing: float, best: int
) -> None:
    """Boxes that keep their direction go floor((L + s)/(a + s)) x floor((W + s)/(b + s)) (closed form)."""
    a, b = size
    rows = math.floor((sheet[1] + spacing) / (b + spacing))
    assert best == math.floor((sheet[0] + spacing) / (a + spacing)) * rows
    found = limit(rectangle(a, b), GRAIN, shapely.box(0, 0, *sheet), spacing)
    assert found.groups >= best
    area = (sheet[0] + spacing) * (sheet[1] + spacing) / ((a + spacing) * (b + spacing))
    assert found.groups < int(area) or best == int(area)


def test_one_column_is_proven() -> None:
    """Boxes of 30 x 10 mm on 45 x 55 mm: one column of five, and no more, is proven (closed form)."""
    found = limit(rectangle(30, 10), GRAIN, shapely.box(0, 0, 45, 55), 0.0)
    assert found.groups == 5
    assert "lines" in found.reason


def test_turning_is_not_forgotten() -> None:
    """Where quarter turns lay six boxes of 30 x 10 mm on 45 x 55 mm, no limit may say less (a layout)."""
    upright = [shapely.box(10 * k, 0, 10 * k + 10, 30) for k in range(4)]
    lying = [shapely.box(0, 30 + 10 * k, 30, 40 + 10 * k) for k in range(2)]
    boxes = upright + lying
    assert shapely.union_all(boxes).area == pytest.approx(sum(box.area for box in boxes))
    assert all(shapely.box(0, 0, 45, 55).covers(box) for box in boxes)
    assert limit(rectangle(30, 10), QUARTERS, shapely.box(0, 0, 45, 55), 0.0).groups >= len(boxes)
    assert "area" in limit(rectangle(30, 10), GRAIN, shapely.box(0, 0, 45, 55), 0.0, free=True).reason


@pytest.mark.parametrize("count", range(1, 14))
def test_triangles_in_a_strip(count: int) -> None:
    """A strip as high as an equilateral triangle takes n in (n + 1) a / 2, up and down (closed form)."""
    a = 20.0
    triangle = [[0, 0], [a, 0], [a / 2, a * math.sqrt(3) / 2]]
    strip = shapely.box(0, 0, (count + 1) * a / 2 + 1e-6, a * math.sqrt(3) / 2 + 1e-6)
    assert limit(triangle, GRAIN, strip, 0.0).groups >= count


def test_no_limit_below_a_layout_cut_from_a_full_board() -> None:
    """A board cut up into strips by random straight lines takes all its pieces (by construction)."""
    rng = np.random.default_rng(5)
    for _ in range(25):
        long, high = rng.uniform(40, 200), rng.uniform(30, 120)
        columns, rows = int(rng.integers(1, 5)), int(rng.integers(1, 6))
        slant = rng.uniform(-0.3, 0.3) * long / columns
        a, b = long / columns, high / rows
        board = shapely.Polygon([(0, 0), (long, 0), (long + slant * rows, high), (slant * rows, high)])
        piece = [[0, 0], [a, 0], [a + slant, b], [slant, b]]
        assert limit(piece, GRAIN, board, 0.0).groups >= columns * rows


def test_slices_of_a_disc_with_a_hole_add_up_to_its_area() -> None:
    """Strip heights times mean lengths are the area, and least and most hold it between them (Cavalieri)."""
    ring = shapely.Point(3, 4).buffer(10).difference(shapely.Point(5, 5).buffer(4))
    for angle in (0.0, 0.7, math.pi / 2):
        cut = slices(ring, angle)
        mean = (cut.least_mm + cut.most_mm) / 2
        assert float(cut.height_mm @ mean) == pytest.approx(ring.area, rel=1e-12)
        assert float(cut.height_mm @ cut.least_mm) < ring.area < float(cut.height_mm @ cut.most_mm)


def test_lengths_agree_with_lines_laid_across() -> None:
    """What a strip says of its lines holds for lines cut by other means (shapely's intersection)."""
    shape = shapely.Polygon([(0, 0), (9, 2), (20, 0), (18, 7), (12, 4), (6, 9), (1, 6)])
    cut = slices(shape)
    levels = np.concatenate([[0.0], np.cumsum(cut.height_mm)])
    for y in np.random.default_rng(3).uniform(0.0, 9.0, 60).tolist():
        strip = int(np.searchsorted(levels, y, side="right")) - 1
        length = shape.intersection(shapely.LineString([(-50, y), (50, y)])).length
        assert cut.least_mm[strip] - 1e-9 <= length <= cut.most_mm[strip] + 1e-9


def test_the_functions_never_gain_by_cutting() -> None:
    """f(a) + f(b) <= f(a + b), and f never falls, for every function tried (the proof's two conditions)."""
    rng = np.random.default_rng(1)
    a, b = rng.uniform(0, 120, 400), rng.uniform(0, 120, 400)
    functions = list(weighers(37.0, 171.0))
    assert len(functions) > 50
    for weigher in functions:
        assert (weigher(a) + weigher(b) <= weigher(a + b) + 1e-9).all()
        assert (weigher(np.maximum(a, b)) >= weigher(np.minimum(a, b)) - 1e-12).all()
