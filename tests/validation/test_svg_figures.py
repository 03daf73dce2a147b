"""SVG figures against closed forms and published rules.

Sources: SVG 1.1 (W3C), appendix F.6.5 (end points to centre) and section 8.3.8 (the example arcs); CSS Values
and Units (W3C), absolute lengths; area of an ellipse, pi a b; Green's theorem for a cubic.
"""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from scalegen.outline.biarc import chain, samples
from scalegen.outline.read import outline_from_drawing
from scalegen.outline.read_svg import read_drawing
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.svg_arcs import arcs_of
from scalegen.outline.svg_segments import Arc, Bezier, arc_between


def ring_of(folder: Path, inner: str, head: str = 'width="100mm" height="50mm" viewBox="0 0 100 50"') -> Ring:
    """The outline of a drawing with one shape."""
    path = folder / "a.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{inner}</svg>', encoding="utf-8")
    return outline_from_drawing(read_drawing(path, units=None, where="a"), where="a").ring


@pytest.mark.parametrize(
    ("unit", "mm"),
    [
        ("in", 25.4),
        ("cm", 10),
        ("mm", 1),
        ("Q", 0.25),
        ("pt", 25.4 / 72),
        ("pc", 25.4 / 6),
        ("px", 25.4 / 96),
    ],
)
def test_absolute_units(tmp_path: Path, unit: str, mm: float) -> None:
    """1in = 2.54cm = 25.4mm = 101.6Q = 72pt = 6pc = 96px (CSS Values and Units)."""
    head = f'width="200{unit}" height="100{unit}" viewBox="0 0 100 50"'
    ring = ring_of(tmp_path, '<rect width="10" height="10"/>', head)
    assert ring.area_mm2 == pytest.approx((20 * mm) ** 2)


def test_lengths_without_a_view_box_are_css_pixels(tmp_path: Path) -> None:
    """Without a view box a unit is a CSS pixel, whatever the width; stated lengths hold."""
    ring = ring_of(tmp_path, '<rect width="1in" height="48"/>', 'width="100mm" height="50mm"')
    assert ring.area_mm2 == pytest.approx(25.4 * 12.7)


def test_aspect_ratio_meet_and_none(tmp_path: Path) -> None:
    """The view box is scaled evenly to the tighter side, or unevenly when told so (SVG 1.1, 7.8)."""
    square = '<rect width="10" height="10"/>'
    assert ring_of(
        tmp_path, square, 'width="100mm" height="20mm" viewBox="0 0 10 10"'
    ).area_mm2 == pytest.approx(400)
    head = 'width="100mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="none"'
    assert ring_of(tmp_path, square, head).area_mm2 == pytest.approx(2000)


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("sweep", [False, True])
@pytest.mark.parametrize("turned_deg", [0, 30, 200])
def test_arc_centre_by_the_published_formulas(large: bool, sweep: bool, turned_deg: float) -> None:
    """Centre and angles are those of F.6.5.1 to F.6.5.6, written out here as they are printed."""
    (x1, y1), (x2, y2), rx, ry = (3.0, 4.0), (-5.0, 7.0), 9.0, 5.5
    phi = math.radians(turned_deg)
    rotation = np.array([[math.cos(phi), math.sin(phi)], [-math.sin(phi), math.cos(phi)]])
    xp, yp = rotation @ [(x1 - x2) / 2, (y1 - y2) / 2]
    root = math.sqrt((rx**2 * ry**2 - rx**2 * yp**2 - ry**2 * xp**2) / (rx**2 * yp**2 + ry**2 * xp**2))
    sign = 1 if large != sweep else -1
    center_p = sign * root * np.array([rx * yp / ry, -ry * xp / rx])
    center = rotation.T @ center_p + [(x1 + x2) / 2, (y1 + y2) / 2]
    arc = arc_between((x1, y1), (rx, ry), phi, large=large, sweep=sweep, end=(x2, y2))
    assert isinstance(arc, Arc)
    assert arc.center == pytest.approx(center)
    assert (arc.sweep_rad > 0) == sweep
    assert (abs(arc.sweep_rad) > math.pi) == large
    for t, want in ((arc.start_rad, (x1, y1)), (arc.start_rad + arc.sweep_rad, (x2, y2))):
        found = np.array(arc.center) + math.cos(t) * np.array(arc.u) + math.sin(t) * np.array(arc.v)
        assert found == pytest.approx(want)


def test_radii_too_small_grow_until_they_reach() -> None:
    """An ellipse that cannot reach both ends is scaled up to a half turn (F.6.6.3)."""
    arc = arc_between((0, 0), (1, 2), 0.0, large=False, sweep=True, end=(10, 0))
    assert isinstance(arc, Arc)
    assert (arc.center, abs(arc.sweep_rad)) == (pytest.approx((5, 0)), pytest.approx(math.pi))
    assert (math.hypot(*arc.u), math.hypot(*arc.v)) == pytest.approx((5, 10))


def test_pie_of_the_specification(tmp_path: Path) -> None:
    """The larger pie of section 8.3.8 of the specification is three quarters of a disc."""
    head = 'width="600mm" height="400mm" viewBox="0 0 600 400"'
    ring = ring_of(tmp_path, '<path d="M300,200 h-150 a150,150 0 1,0 150,-150 z"/>', head)
    assert ring.area_mm2 == pytest.approx(0.75 * math.pi * 150**2, rel=1e-12)


TOLERANCE_MM = 0.005
"""What the reader states: no point further than this from the curve it stands for."""


def nearest_mm(points: FloatArray, curve: FloatArray) -> FloatArray:
    """Distances (m,) from points to the polyline through a curve's points (k, 2)."""
    line = shapely.LineString(curve)
    return np.asarray(shapely.distance(shapely.points(points), line))


@pytest.mark.parametrize(
    "shape",
    ['<ellipse cx="50" cy="25" rx="45" ry="12"/>', '<path d="M5 25A45 12 0 1 1 95 25A45 12 0 1 1 5 25"/>'],
)
def test_ellipse_within_the_tolerance(tmp_path: Path, shape: str) -> None:
    """Everywhere within 0.005 mm, so the area is pi a b within 0.005 mm times the perimeter."""
    t = np.linspace(0, 2 * np.pi, 20_001)
    curve = np.column_stack([50 + 45 * np.cos(t), -25 + 12 * np.sin(t)])
    ring = ring_of(tmp_path, shape)
    assert nearest_mm(ring.flatten(1e-4), curve).max() < TOLERANCE_MM + 1e-4
    assert (
        nearest_mm(curve[::20], np.vstack([ring.flatten(1e-4), ring.starts[:1]])).max() < TOLERANCE_MM + 1e-4
    )
    assert abs(ring.area_mm2 - math.pi * 45 * 12) < TOLERANCE_MM * ring.perimeter_mm
    assert len(ring) <= 60


def test_area_under_a_cubic(tmp_path: Path) -> None:
    """A cubic with handles of height h straight up over a base b encloses 0.6 b h (Green's theorem).

    The base is a true line, so only the length of the curved side times the tolerance may be missing.
    """
    # x' y integrated for P = (0,0) (0,h) (b,h) (b,0): b h * 3/5.
    ring = ring_of(tmp_path, '<path d="M10 40C10 20 70 20 70 40Z"/>')
    assert abs(ring.area_mm2 - 0.6 * 60 * 20) < TOLERANCE_MM * (ring.perimeter_mm - 60)


def test_many_curves_at_once_within_the_tolerance() -> None:
    """Arcs made curve by curve keep within 0.005 mm of the cubics' and the ellipse's formulas, both ways."""
    random = np.random.default_rng(3)
    handles = [random.uniform(0, 40, (4, 2)) for _ in range(12)] + [
        random.uniform(0, 2, (4, 2)) for _ in range(6)
    ]
    t = np.linspace(0, 1, 4001)[:, None]
    s = 1 - t
    curves = [s**3 * h[0] + 3 * s**2 * t * h[1] + 3 * s * t**2 * h[2] + t**3 * h[3] for h in handles]
    starts = [(float(h[0, 0]), float(h[0, 1])) for h in handles]
    segments: list[Bezier | Arc] = [
        Bezier(first=(h[1, 0], h[1, 1]), second=(h[2, 0], h[2, 1]), end=(h[3, 0], h[3, 1])) for h in handles
    ]
    curves.append(np.hstack([30 * np.cos(5 * t), -4 * np.sin(5 * t)]))
    starts.append((30.0, 0.0))
    end = (30 * math.cos(-5), 4 * math.sin(-5))
    segments.append(Arc(center=(0, 0), u=(30, 0), v=(0, 4), start_rad=0, sweep_rad=-5, end=end))
    for curve, rows in zip(curves, arcs_of(starts, segments, TOLERANCE_MM, 100_000), strict=True):
        assert rows is not None
        made = samples(chain(rows, closed=False), 30)
        assert nearest_mm(made, curve).max() < TOLERANCE_MM + 1e-4
        assert nearest_mm(curve[::10], made).max() < TOLERANCE_MM + 1e-3


def test_rounded_rectangle(tmp_path: Path) -> None:
    """Area w h - (4 - pi) r^2 and perimeter 2 (w + h) - (8 - 2 pi) r, from four true arcs."""
    ring = ring_of(tmp_path, '<rect x="3" y="3" width="80" height="30" rx="6"/>')
    assert ring.area_mm2 == pytest.approx(80 * 30 - (4 - math.pi) * 36, rel=1e-12)
    assert ring.perimeter_mm == pytest.approx(2 * 110 - (8 - 2 * math.pi) * 6, rel=1e-12)
