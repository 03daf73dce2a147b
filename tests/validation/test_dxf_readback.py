"""DXF files read back by GDAL/OGR (through pyogrio), a reader that shares no code with the writer.

OGR turns arcs into chords; with a step of 0.1 degrees their area is right to about 3e-6 (measured), by the
closed form 1 - sin(t) / t for a chord polygon with step t: 5.1e-7 for a full circle.
"""

from math import pi
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely

from scalegen.export.dxf import (
    ChainShape,
    CircleShape,
    CrossShape,
    Drawing,
    RectangleShape,
    RingShape,
    TextShape,
    write_dxf,
)
from scalegen.outline.ring import Ring

# A slot with half-round ends, and a lens of two 90 degree arcs, one of them turning the other way round.
SLOT = Ring.from_rows([[0, 0, 0], [40, 0, 1], [40, 10, 0], [0, 10, 1]])
SLOT_MM2 = 40 * 10 + pi * 5**2
NOTCHED = Ring.from_rows([[0, 0, 0], [30, 0, 0], [30, 10, -0.41421356237309503], [20, 20, 0], [0, 20, 0]])
# A square corner of 10 mm cut out by an inward quarter circle about that corner.
NOTCHED_MM2 = 30 * 20 - pi * 10**2 / 4


Found = dict[str, list[tuple[shapely.Geometry, str]]]


@pytest.fixture(scope="module", params=[("mm", 1.0), ("in", 25.4)], ids=["mm", "in"])
def read(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Found, float]:
    """Geometries by layer as OGR sees them, and mm per unit of the file."""
    units, mm = request.param
    path: Path = tmp_path_factory.mktemp("dxf") / "a.dxf"
    drawing = Drawing(
        units=units,
        layers={
            "outline-as-cut": [RingShape(ring=SLOT), RingShape(ring=NOTCHED)],
            "front-edge": [ChainShape(rows=np.array([[0.0, 0.0, 1.0], [0.0, 10.0, 0.0]]))],
            "pin-holes": [CircleShape(center_mm=(10.0, 5.0), diameter_mm=6.35)],
            "blank": [RectangleShape(corner_mm=(-20.0, -10.0), width_mm=100.0, height_mm=60.0)],
            "origin": [CrossShape(at_mm=(-20.0, -10.0), size_mm=4.0)],
            "labels": [TextShape(text="1L", at_mm=(7.0, 3.0))],
        },
    )
    write_dxf(path, drawing)
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.1"})
    try:
        _, _, geometries, (layers, texts) = pyogrio.raw.read(path, columns=["Layer", "Text"])
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    found: Found = {}
    for layer, text, geometry in zip(layers, texts, shapely.from_wkb(geometries), strict=True):
        found.setdefault(layer, []).append((geometry, text))
    return found, mm


def area_mm2(geometry: shapely.Geometry, mm: float) -> float:
    """Area inside a closed line or polygon."""
    points = shapely.get_coordinates(geometry)
    assert np.allclose(points[0], points[-1], atol=1e-9)
    return float(shapely.Polygon(points).area) * mm**2


def test_ring_areas(read: tuple[Found, float]) -> None:
    """Areas of rings with arcs of both directions must match the closed forms."""
    found, mm = read
    slot, notched = (geometry for geometry, _ in found["outline-as-cut"])
    assert area_mm2(slot, mm) == pytest.approx(SLOT_MM2, rel=3e-6)
    assert area_mm2(notched, mm) == pytest.approx(NOTCHED_MM2, rel=3e-6)
    assert (SLOT.area_mm2, NOTCHED.area_mm2) == pytest.approx((SLOT_MM2, NOTCHED_MM2), rel=1e-12)


def test_circle_and_rectangle(read: tuple[Found, float]) -> None:
    """A hole's area and centre and the blank's box must come back."""
    found, mm = read
    ((hole, _),) = found["pin-holes"]
    assert area_mm2(hole, mm) == pytest.approx(pi * 6.35**2 / 4, rel=3e-6)
    low_x, low_y, high_x, high_y = (v * mm for v in hole.bounds)
    assert ((low_x + high_x) / 2, (low_y + high_y) / 2) == pytest.approx((10.0, 5.0), abs=1e-6)
    ((blank, _),) = found["blank"]
    assert area_mm2(blank, mm) == pytest.approx(6000.0, rel=1e-12)
    assert [v * mm for v in blank.bounds] == pytest.approx([-20.0, -10.0, 80.0, 50.0], abs=1e-12)


def test_open_chain_is_open_and_as_long_as_a_half_circle(read: tuple[Found, float]) -> None:
    """A chain of one half circle must be pi r long, bulge to the right of its way, and stay open."""
    found, mm = read
    ((chain, _),) = found["front-edge"]
    assert chain.length * mm == pytest.approx(5 * pi, rel=3e-6)
    assert not chain.is_closed
    assert chain.bounds[2] * mm == pytest.approx(5.0, abs=1e-5)


def test_origin_and_texts(read: tuple[Found, float]) -> None:
    """The origin must be a point with a cross; the texts must hold the label and the unit."""
    found, mm = read
    kinds = sorted(geometry.geom_type for geometry, _ in found["origin"])
    assert kinds == ["LineString", "LineString", "Point"]
    point = next(g for g, _ in found["origin"] if g.geom_type == "Point")
    assert (point.x * mm, point.y * mm) == pytest.approx((-20.0, -10.0), abs=1e-12)
    label = next(g for g, text in found["labels"] if text == "1L")
    assert (label.x * mm, label.y * mm) == pytest.approx((7.0, 3.0), abs=1e-12)
    assert {text for _, text in found["labels"]} == {"1L", f"all sizes in {'mm' if mm == 1 else 'inches'}"}
