"""Bulges and areas of DXF outlines against closed forms and against GDAL's own DXF reader."""

from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf import filemanagement

from scalegen.model import OutlineSource
from scalegen.outline.join import arc_rows
from scalegen.outline.read import read_outline


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    """An outline with convex and hollow arcs, as one polyline, in inches."""
    doc = filemanagement.new("R2000", units=1)
    rows = [
        (0, 0, 0.1),
        (2, -0.2, -0.15),
        (4, 0, 0.4142135623730951),
        (4.4, 0.4, 0),
        (4.3, 0.9, 0.05),
        (0.2, 0.8, -0.3),
    ]
    doc.modelspace().add_lwpolyline(rows, format="xyb", close=True)
    doc.saveas(tmp_path / "drawing.dxf")
    return tmp_path / "drawing.dxf"


# tan(theta / 4) by the DXF reference, LWPOLYLINE group code 42; values from a table of tangents.
@pytest.mark.parametrize(("degrees", "bulge"), [(30, 0.131652), (60, 0.267949), (90, 0.414214), (180, 1.0)])
def test_an_arc_becomes_the_bulge_of_the_dxf_reference(tmp_path: Path, degrees: float, bulge: float) -> None:
    """An ARC of a given angle must become the bulge that the reference defines."""
    doc = filemanagement.new("R2000", units=4)
    arc = doc.modelspace().add_arc((10, 20), 30, 15, 15 + degrees)
    doc.modelspace().add_line(arc.start_point, arc.end_point)
    doc.saveas(tmp_path / "arc.dxf")
    ring = read_outline(OutlineSource(path=tmp_path / "arc.dxf")).ring
    assert sorted(ring.bulges) == pytest.approx([0, bulge], abs=5e-7)


def test_a_quarter_circle_on_a_chord_of_ten(tmp_path: Path) -> None:
    """Chord 10 and 90 degrees: R = 5 sqrt 2, sagitta R (1 - cos 45), segment area R^2 (pi/2 - 1) / 2."""
    doc = filemanagement.new("R2000", units=4)
    doc.modelspace().add_lwpolyline([(0, 0, np.sqrt(2) - 1), (10, 0, 0)], format="xyb", close=True)
    doc.saveas(tmp_path / "q.dxf")
    ring = read_outline(OutlineSource(path=tmp_path / "q.dxf")).ring
    radius = 5 * np.sqrt(2)
    assert ring.area_mm2 == pytest.approx(radius**2 * (np.pi / 2 - 1) / 2, rel=1e-12)
    assert ring.bounds_mm[1] == pytest.approx(-radius * (1 - np.cos(np.pi / 4)), rel=1e-12)
    assert ring.perimeter_mm == pytest.approx(10 + radius * np.pi / 2, rel=1e-12)


def test_arcs_over_half_a_turn_are_cut_into_bulges_of_at_most_one() -> None:
    """An arc of any angle must come as equal parts whose angles (4 atan bulge) add up to it."""
    for sweep in np.radians([1, 179, 180, 181, 359.99]):
        rows = arc_rows((1, 2), 3, 0.4, float(sweep))
        assert 4 * np.arctan(rows[:-1, 2]).sum() == pytest.approx(sweep, rel=1e-12)
        assert np.hypot(*(rows[:, :2] - [1, 2]).T) == pytest.approx(3)
        assert rows[:, 2].max() <= 1 + 1e-12


def test_gdal_reads_the_same_area(drawing: Path) -> None:
    """GDAL's DXF reader, with fine arc steps, must find the same area; it works without ezdxf.

    Its arcs are inscribed polygons: with steps of s an arc of radius r and angle t loses r^2 t s^2 / 12.
    """
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.1"})
    try:
        *_, geometries, _ = pyogrio.raw.read(drawing)
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    lines: Any = shapely.from_wkb(geometries)
    theirs = shapely.area(shapely.Polygon(shapely.get_coordinates(lines[0]))) * 25.4**2
    ring = read_outline(OutlineSource(path=drawing)).ring
    bent = ring.bulges != 0
    lost = float(np.sum(ring.radii[bent] ** 2 * np.abs(ring.sweeps[bent])) * np.radians(0.1) ** 2 / 12)
    assert lost < 1e-5 * theirs
    assert ring.area_mm2 == pytest.approx(theirs, abs=lost)
