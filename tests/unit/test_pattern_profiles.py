"""The demo patterns that come with the tool."""

import cmath
import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely

from scalegen.model import Pattern
from scalegen.outline.ring import Ring
from scalegen.pattern.read import read_pattern
from scalegen.shop.load import load_shop

ROOT = Path(__file__).parents[2]
BUNDLED = ROOT / "scalegen" / "data" / "profiles"
NAMES = ("siskin", "harrier", "curlew")
DRAWN = {"harrier": 1.0, "curlew": 25.4}


def pattern_of(name: str) -> Pattern:
    """A demo pattern."""
    return read_pattern(BUNDLED / f"{name}.toml")


def pieces(name: str) -> list[Any]:
    """Lines and arcs of a demo outline as drawn, in the drawing's unit."""
    rows = pattern_of(name).outline.rows
    space = ezdxf.new().modelspace() if rows else ezdxf.readfile(BUNDLED / f"{name}.dxf").modelspace()
    if rows:
        space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs={"layer": "tang"})
    tang = space.query("*[layer=='tang']")
    return [
        part
        for entity in tang
        for part in ([entity] if entity.dxftype() != "LWPOLYLINE" else entity.virtual_entities())
    ]


def ends(piece: Any) -> list[tuple[complex, complex]]:
    """Both ends of a line or arc, each with the direction there, as complex numbers."""
    if piece.dxftype() == "LINE":
        first, last = (complex(point.x, point.y) for point in (piece.dxf.start, piece.dxf.end))
        return [(point, (last - first) / abs(last - first)) for point in (first, last)]
    center = complex(piece.dxf.center.x, piece.dxf.center.y)
    turns = (math.radians(piece.dxf.start_angle), math.radians(piece.dxf.end_angle))
    return [(center + piece.dxf.radius * cmath.exp(1j * turn), 1j * cmath.exp(1j * turn)) for turn in turns]


def ring_mm(name: str) -> Ring:
    """Tang outline of a demo pattern in mm."""
    rows = pattern_of(name).outline.rows
    if not rows:
        flat = gdal_outline(name)
        return Ring.from_rows(np.asarray(flat.exterior.coords)[:-1] * DRAWN[name])
    return Ring.from_rows(rows)


def gdal_outline(name: str) -> shapely.Polygon:
    """Outline of a drawing as GDAL reads it, in the drawing's unit."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("OGR_ARC_STEPSIZE", "1")
        _, _, shapes, (layers,) = pyogrio.raw.read(BUNDLED / f"{name}.dxf", columns=["Layer"])
    lines = [shapely.from_wkb(shape) for shape, layer in zip(shapes, layers, strict=True) if layer == "tang"]
    (outline,) = shapely.polygonize(shapely.set_precision(lines, 1e-7)).geoms
    return outline


def outline_mm(name: str) -> shapely.Polygon:
    """Outline of a demo pattern as a polygon in mm, chords within 0.001 mm or 1 degree of the arcs."""
    return shapely.Polygon(ring_mm(name).flatten(0.001))


@pytest.mark.parametrize("name", NAMES)
def test_both_copies_are_the_same(name: str) -> None:
    """The patterns in the repository's profiles folder must be those in the wheel, byte for byte."""
    for file in sorted(BUNDLED.glob(f"{name}.*")):
        assert file.read_bytes() == (ROOT / "profiles" / file.name).read_bytes()


def test_no_file_is_in_one_copy_only() -> None:
    """Both folders of demo patterns must hold the same files."""
    names = sorted(file.name for file in BUNDLED.iterdir())
    assert names == ["curlew.dxf", "curlew.toml", "harrier.dxf", "harrier.toml", "siskin.toml"]
    assert names == sorted(file.name for file in (ROOT / "profiles").iterdir())


@pytest.mark.parametrize("name", NAMES)
def test_every_name_is_in_the_shop_tables(name: str) -> None:
    """Stock and hardware of a demo pattern must be in the bundled tables, its thickness within the stack."""
    pattern, shop = pattern_of(name), load_shop(None)
    recipe = shop.stacks[pattern.stock or ""]
    films_mm = shop.adhesives[recipe.adhesive].bond_mm * (len(recipe.sheets) - 1)
    assert all(pin.hardware in shop.hardware for pin in pattern.pins)
    assert pattern.thickness_mm is not None
    blank_mm = films_mm + sum(shop.sheets[sheet].thickness_mm for sheet in recipe.sheets)
    assert pattern.thickness_mm + pattern.back_allowance_mm < blank_mm


@pytest.mark.parametrize("name", NAMES)
def test_the_outline_is_a_plausible_handle(name: str) -> None:
    """Behind the front a demo handle must be 85-120 mm by 20-32.5 mm (common practice, no source)."""
    pattern, outline = pattern_of(name), outline_mm(name)
    assert outline.is_valid
    behind = outline.intersection(shapely.box(pattern.front.at_mm, -100, 500, 100))
    left, low, right, high = behind.bounds
    assert 85 < right - left < 120
    assert 20 < high - low < 32.5
    assert outline.bounds[0] < pattern.front.at_mm - 12


@pytest.mark.parametrize("name", NAMES)
def test_pins_keep_two_and_a_half_diameters_from_the_edge(name: str) -> None:
    """Pin centres must be at least 2.5 d from the outline (common shop rule, no published source)."""
    pattern, edge, shop = pattern_of(name), outline_mm(name).exterior, load_shop(None)
    for pin in pattern.pins:
        d_mm = shop.hardware[pin.hardware or ""].diameter_mm
        assert edge.distance(shapely.Point(pin.at_mm)) >= 2.5 * d_mm
        assert pin.at_mm[0] - pattern.front.at_mm > 4 * d_mm


@pytest.mark.parametrize("name", NAMES)
def test_lines_and_arcs_meet_without_a_gap_or_a_kink(name: str) -> None:
    """At each joint exactly two pieces must meet, within 1e-8 of each other and 1e-6 rad of one direction."""
    joints = [end for piece in pieces(name) for end in ends(piece)]
    assert len(joints) >= 40
    for point, direction in joints:
        (other,) = [there for at, there in joints if abs(at - point) < 1e-8 and there is not direction]
        assert abs((direction.conjugate() * other).imag) < 1e-6


@pytest.mark.parametrize("name", DRAWN)
def test_drawing_and_pattern_agree_on_the_pins(name: str) -> None:
    """Circles on the layer "pins" must stand where the pattern's pins are, in the unit the file states."""
    document = ezdxf.readfile(BUNDLED / f"{name}.dxf")
    scale = {4: 1.0, 1: 25.4}[document.header["$INSUNITS"]]
    assert scale == DRAWN[name]
    assert document.dxfversion == "AC1015"
    circles = document.modelspace().query("CIRCLE[layer=='pins']")
    drawn = sorted((circle.dxf.center.x * scale, circle.dxf.center.y * scale) for circle in circles)
    typed = sorted(pin.at_mm for pin in pattern_of(name).pins)
    assert np.asarray(drawn) == pytest.approx(np.asarray(typed), abs=1e-9)
