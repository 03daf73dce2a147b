"""Ellipses, splines and blocks against closed forms and against GDAL's own DXF reader."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf import filemanagement

from scalegen.model import OutlineSource
from scalegen.outline.read import Outline, read_outline

TOLERANCE_MM = 0.005


def drawn(path: Path, fill: Callable[[Any], object], units: int = 4) -> Outline:
    """Write what ``fill`` puts into a new drawing, and read it."""
    doc = filemanagement.new("R2010", units=units)
    fill(doc)
    doc.saveas(path)
    return read_outline(OutlineSource(path=path))


def ellipse_perimeter(a: float, b: float) -> float:
    """4 a E(k), by the arithmetic-geometric mean.

    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 17.6 (from memory).
    """
    x, y = a, b
    total, weight = (a * a + b * b) / 2, 0.5
    while abs(x - y) > 1e-14 * a:
        x, y, half = (x + y) / 2, np.sqrt(x * y), (x - y) / 2
        weight *= 2
        total -= weight * half * half
    return float(2 * np.pi * total / x)


@pytest.mark.parametrize(("a", "b"), [(55, 14), (60, 59), (40, 8)])
def test_a_whole_ellipse(tmp_path: Path, a: float, b: float) -> None:
    """Area pi a b and perimeter 4 a E(k), within what the tolerance can make of them."""
    outline = drawn(tmp_path / "e.dxf", lambda d: d.modelspace().add_ellipse((5, 6), (0, a), b / a))
    perimeter = ellipse_perimeter(a, b)
    assert outline.ring.area_mm2 == pytest.approx(np.pi * a * b, abs=TOLERANCE_MM * perimeter)
    assert outline.ring.perimeter_mm == pytest.approx(perimeter, rel=1e-4)
    flat = outline.ring.flatten(1e-4) - [5, 6]
    off = (flat[:, 0] / b) ** 2 + (flat[:, 1] / a) ** 2 - 1
    gradient = 2 * np.hypot(flat[:, 0] / b**2, flat[:, 1] / a**2)
    assert np.abs(off / gradient).max() < TOLERANCE_MM * 1.02
    assert len(outline.ring) <= 60


def test_an_ellipse_in_inches_is_fitted_in_mm(tmp_path: Path) -> None:
    """The tolerance must be in mm whatever the unit of the file."""
    a, b = 2.0, 0.5
    outline = drawn(tmp_path / "i.dxf", lambda d: d.modelspace().add_ellipse((0, 0), (a, 0), b / a), units=1)
    flat = outline.ring.flatten(1e-4) / 25.4
    off = (flat[:, 0] / a) ** 2 + (flat[:, 1] / b) ** 2 - 1
    gradient = 2 * np.hypot(flat[:, 0] / a**2, flat[:, 1] / b**2)
    assert np.abs(off / gradient).max() * 25.4 < TOLERANCE_MM * 1.02


def test_part_of_an_ellipse_closed_by_a_line(tmp_path: Path) -> None:
    """Half an ellipse and its long axis: area pi a b / 2."""

    def fill(doc: Any) -> None:
        doc.modelspace().add_ellipse((0, 0), (50, 0), 0.3, 0, np.pi)
        doc.modelspace().add_line((-50, 0), (50, 0))

    area = drawn(tmp_path / "h.dxf", fill).ring.area_mm2
    assert area == pytest.approx(np.pi * 50 * 15 / 2, abs=TOLERANCE_MM * 120)


def test_a_rational_spline_is_the_circle_of_the_book(tmp_path: Path) -> None:
    """The nine-point rational quadratic circle must come back as a true circle.

    Source: L. Piegl and W. Tiller, The NURBS Book (1997), section 7.5 (from memory).
    """
    corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]

    def fill(doc: Any) -> None:
        spline = doc.modelspace().add_spline(degree=2)
        spline.control_points = [(30 * x, 30 * y, 0) for x, y in corners]
        spline.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
        spline.weights = [1 if k % 2 == 0 else np.sqrt(0.5) for k in range(9)]

    ring = drawn(tmp_path / "n.dxf", fill).ring
    assert ring.area_mm2 == pytest.approx(np.pi * 900, rel=1e-9)
    assert np.abs(ring.radii) == pytest.approx(30, abs=1e-6)


def test_a_circle_in_a_block_scaled_unevenly_is_an_ellipse(tmp_path: Path) -> None:
    """A circle of radius 1 scaled by a and b, mirrored and turned: area pi a b."""

    def fill(doc: Any) -> None:
        doc.blocks.new("round").add_circle((0, 0), 1)
        given = {"xscale": -50, "yscale": 12, "rotation": 30}
        doc.modelspace().add_blockref("round", (3, 4), dxfattribs=given)

    ring = drawn(tmp_path / "b.dxf", fill).ring
    assert ring.area_mm2 == pytest.approx(np.pi * 50 * 12, abs=TOLERANCE_MM * ellipse_perimeter(50, 12))


def test_a_bezier_closed_by_a_line(tmp_path: Path) -> None:
    """Area under a cubic from (0, 0) to (p, 0) with heights h, h, by its integral.

    From the Bernstein form with x = 0, 0, p, p and y = 0, h, h, 0, worked out by hand: x' = 6 p t (1 - t) and
    y = 3 h t (1 - t), so the area is 18 p h B(3, 3) = 18 p h / 30.
    """
    p, h = 100.0, 30.0

    def fill(doc: Any) -> None:
        doc.modelspace().add_open_spline([(0, 0), (0, h), (p, h), (p, 0)])
        doc.modelspace().add_line((0, 0), (p, 0))

    area = drawn(tmp_path / "z.dxf", fill).ring.area_mm2
    assert area == pytest.approx(18 * p * h / 30, abs=TOLERANCE_MM * 130)


HANDLE = np.array([(0, 0), (60, -5), (110, 5), (105, 22), (50, 15), (0, 20)], dtype=float)


def test_a_closed_spline_is_the_periodic_one_of_the_book(tmp_path: Path) -> None:
    """A closed cubic must follow the uniform periodic B-spline of its points, in a block scaled unevenly.

    Source: matrix form of the uniform cubic B-spline, L. Piegl and W. Tiller, The NURBS Book (1997) (from
    memory). A second reader, ezdxf's own B-spline evaluation, must give the same area. GDAL 3 does not: it
    draws such a spline from its first knot on, outside the range it is defined over, and so reaches the
    first control point, which the curve does not.
    """
    place = {"xscale": 1.2, "yscale": 0.8, "rotation": 20}

    def fill(doc: Any) -> None:
        doc.blocks.new("shape").add_spline().set_closed([(x, y, 0) for x, y in HANDLE], degree=3)
        doc.modelspace().add_blockref("shape", (7, 8), dxfattribs=place)

    ours = drawn(tmp_path / "p.dxf", fill).ring
    t = np.linspace(0, 1, 2000, endpoint=False)[:, None]
    weights = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
    book = np.vstack(
        [
            sum(w * p for w, p in zip(weights, np.roll(HANDLE, -k, axis=0)[:4], strict=True)) / 6
            for k in range(len(HANDLE))
        ]
    )
    doc = filemanagement.readfile(tmp_path / "p.dxf")
    tool: Any = doc.blocks["shape"][0]
    second = np.array([(p.x, p.y) for p in tool.construction_tool().approximate(8000)])
    assert shapely.Polygon(second).area == pytest.approx(shapely.Polygon(book).area, rel=1e-5)
    turn = np.radians(20)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ np.diag([1.2, 0.8])
    theirs = shapely.Polygon(book @ matrix.T + [7, 8])
    assert ours.area_mm2 == pytest.approx(theirs.area, abs=TOLERANCE_MM * theirs.length / 2)
    assert ours.bounds_mm == pytest.approx(theirs.bounds, abs=1.01 * TOLERANCE_MM)


def test_gdal_reads_the_same_splines_and_blocks(tmp_path: Path) -> None:
    """GDAL's DXF reader, which works without our code or ezdxf, must find the same area.

    The spline is clamped: its curve begins and ends at its first and last control point, which GDAL follows.
    """

    def fill(doc: Any) -> None:
        corners = [(x, y, 0) for x, y in [*HANDLE, HANDLE[0]]]
        doc.blocks.new("shape").add_open_spline(corners)
        given = {"xscale": 1.2, "yscale": 0.8, "rotation": 20}
        doc.modelspace().add_blockref("shape", (7, 8), dxfattribs=given)

    ours = drawn(tmp_path / "g.dxf", fill).ring
    *_, geometries, _ = pyogrio.raw.read(tmp_path / "g.dxf")
    lines: Any = shapely.from_wkb(geometries)
    theirs = shapely.Polygon(shapely.get_coordinates(lines[0]))
    # GDAL gives a spline as a polyline of its own making, eight points for each control point.
    assert ours.area_mm2 == pytest.approx(theirs.area, rel=5e-3)
    assert ours.bounds_mm == pytest.approx(theirs.bounds, abs=0.2)


@pytest.mark.parametrize(("a", "b", "most"), [(55, 13, 42), (55, 20, 42)])
def test_an_ellipse_takes_few_arcs(tmp_path: Path, a: float, b: float, most: int) -> None:
    """A whole ellipse must not take many more arcs than the best chain of arcs could do with.

    Source: with curvature k, arcs along which k grows by k' leave the error k' a^3 / 124.7 when each spans
    the length a (the third Bernoulli polynomial; derived in the arc fit), which makes 28 of them here.
    """
    ring = drawn(tmp_path / "f.dxf", lambda d: d.modelspace().add_ellipse((0, 0), (a, 0), b / a)).ring
    assert 28 <= len(ring) <= most


def test_a_free_form_spline_110_mm_long_takes_at_most_40_segments(tmp_path: Path) -> None:
    """The spine of a handle, a clamped cubic of nine control points, must come to at most 40 segments."""
    spine = [(0, 0), (12, 6), (28, 9), (42, 4), (58, 3), (74, 9), (90, 12), (103, 6), (108, -4)]

    def fill(doc: Any) -> None:
        doc.modelspace().add_open_spline([(x, y, 0) for x, y in spine])
        doc.modelspace().add_line(spine[-1], spine[0])

    ring = drawn(tmp_path / "l.dxf", fill).ring
    assert 110 < ring.perimeter_mm - np.hypot(108, 4) < 125
    assert len(ring) <= 40
