"""Sheet drawings of the demo patterns, read back by GDAL/OGR (through pyogrio) and audited by ezdxf.

OGR shares no code with what writes the files. It turns arcs into chords; with a step of 0.1 degrees areas
come out right to 3e-6 (measured on circles and on closed forms in the tests of the writer).
"""

import math
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely

from scalegen.design import Scale
from scalegen.export.drawings import sheet_drawing
from scalegen.export.dxf import write_dxf
from scalegen.model import Corner, JobSpec, Units
from scalegen.pipeline import lay_out, study_pattern
from scalegen.sheet.layout import SheetLayout

PROFILES = Path(__file__).parents[2] / "profiles"
DEMOS = ("siskin", "harrier", "curlew")
CORNERS: tuple[Corner, ...] = ("lower-left", "lower-right", "upper-left", "upper-right")
LAYERS = {
    *("outline-as-cut", "outline-finished", "front-edge", "bevel-start", "pin-holes"),
    *("reference-pad", "blank", "left-over", "origin", "labels"),
}


@cache
def laid_out(name: str) -> tuple[Scale, SheetLayout]:
    """A demo's scale and its blank with two pairs, pad at the lower right."""
    spec = JobSpec(pairs=2)
    study = study_pattern(PROFILES / f"{name}.toml", spec)
    return study.scale, lay_out(study, replace(spec, pad=replace(spec.pad, corner="lower-right")))[0]


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A file as OGR sees it: geometries in mm by layer, texts, and what it was made from."""

    path: Path
    units: Units
    scale: Scale
    layout: SheetLayout
    found: dict[str, list[shapely.Geometry]]
    texts: list[tuple[shapely.Geometry, str]]


@pytest.fixture(
    scope="module",
    params=[
        *(("siskin", corner, "mm") for corner in CORNERS),
        *((name, corner, "mm") for name in ("harrier", "curlew") for corner in CORNERS[1:3]),
        *((name, "upper-right", "in") for name in DEMOS),
    ],
    ids="-".join,
)
def sheet(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Sheet:
    """Each demo with each origin in mm, and once in inches."""
    name, corner, units = request.param
    scale, plain = laid_out(name)
    layout = replace(plain, origin=corner)
    path: Path = tmp_path_factory.mktemp("sheet") / "sheet.dxf"
    write_dxf(path, sheet_drawing(scale, layout, units))
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.1"})
    try:
        _, _, shapes, (layers, texts) = pyogrio.raw.read(path, columns=["Layer", "Text"])
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    per_unit = 25.4 if units == "in" else 1.0
    found: dict[str, list[shapely.Geometry]] = {}
    said = []
    for layer, text, shape in zip(layers, texts, shapely.from_wkb(shapes), strict=True):
        in_mm = shapely.transform(shape, lambda points: points * per_unit)
        found.setdefault(layer, []).append(in_mm)
        if layer == "labels":
            said.append((in_mm, text))
    return Sheet(path=path, units=units, scale=scale, layout=layout, found=found, texts=said)


def polygon(shape: shapely.Geometry) -> shapely.Polygon:
    """What a closed line encloses."""
    points = shapely.get_coordinates(shape)
    assert np.allclose(points[0], points[-1], atol=1e-6)
    return shapely.Polygon(points)


def expected(sheet: Sheet, index: int, point: tuple[float, float]) -> tuple[float, float]:
    """Where a point of the left scale must lie, by hand: mirror, turn, move, count from the origin."""
    place = sheet.layout.placements[index]
    x, y = point[0], -point[1] if place.side == "right" else point[1]
    c, s = math.cos(place.angle_rad), math.sin(place.angle_rad)
    zero_x = sheet.layout.length_mm if "right" in sheet.layout.origin else 0.0
    zero_y = sheet.layout.width_mm if "upper" in sheet.layout.origin else 0.0
    return c * x - s * y + place.x_mm - zero_x, s * x + c * y + place.y_mm - zero_y


def test_layers_and_counts(sheet: Sheet) -> None:
    """All layers are there with a shape for each scale and pin."""
    parts, pins = len(sheet.layout.placements), len(sheet.scale.holes)
    assert set(sheet.found) == LAYERS
    counts = {name: len(shapes) for name, shapes in sheet.found.items()}
    for name in ("outline-as-cut", "outline-finished", "front-edge", "bevel-start"):
        assert counts[name] == parts == 4
    assert counts["pin-holes"] == parts * pins
    assert (counts["blank"], counts["reference-pad"], counts["labels"]) == (1, 1, parts + 1)


def test_what_is_left_over_is_clear_of_every_cut(sheet: Sheet) -> None:
    """Pieces left over lie on the blank, beside the pad, and off the parts by the cutter's 3.175 mm."""
    (blank,), (pad,) = sheet.found["blank"], sheet.found["reference-pad"]
    cut = shapely.union_all([polygon(shape) for shape in sheet.found["outline-as-cut"]])
    assert len(sheet.found["left-over"]) == len(sheet.layout.left_over) == 1
    for shape in sheet.found["left-over"]:
        piece = polygon(shape)
        assert polygon(blank).buffer(1e-6).contains(piece)
        assert piece.distance(cut) > 3.175
        assert piece.distance(polygon(pad)) > 0
        assert piece.area > 0.25 * polygon(blank).area


def test_areas_are_those_of_the_scale(sheet: Sheet) -> None:
    """As-cut and finished outlines enclose what the scale says, to what OGR's chords allow."""
    for layer, ring in (("outline-as-cut", sheet.scale.as_cut), ("outline-finished", sheet.scale.finished)):
        for shape in sheet.found[layer]:
            assert polygon(shape).area == pytest.approx(ring.area_mm2, rel=3e-6)


def test_finished_lies_inside_as_cut_and_both_on_the_blank(sheet: Sheet) -> None:
    """Nothing sticks out: finished in as cut, as cut in the blank and off the pad and the other parts."""
    (blank,), (pad,) = sheet.found["blank"], sheet.found["reference-pad"]
    cut = [polygon(shape) for shape in sheet.found["outline-as-cut"]]
    for outer, inner in zip(cut, map(polygon, sheet.found["outline-finished"]), strict=True):
        assert outer.buffer(1e-4).contains(inner)
        assert polygon(blank).contains(outer)
        assert outer.distance(polygon(pad)) > 3.175
    for i, one in enumerate(cut):
        assert all(one.distance(other) > 3.175 for other in cut[i + 1 :])


def test_blank_and_pad_count_from_the_origin(sheet: Sheet) -> None:
    """The origin's cross stands on the blank's corner; the pad keeps its place in the blank."""
    crossed = [shape for shape in sheet.found["origin"] if shape.geom_type == "Point"]
    assert [(point.x, point.y) for point in crossed] == [(0.0, 0.0)]
    (blank,), (pad,) = sheet.found["blank"], sheet.found["reference-pad"]
    length, width = sheet.layout.length_mm, sheet.layout.width_mm
    x0 = -length if "right" in sheet.layout.origin else 0.0
    y0 = -width if "upper" in sheet.layout.origin else 0.0
    assert blank.bounds == pytest.approx((x0, y0, x0 + length, y0 + width), abs=1e-9)
    assert pad.bounds == pytest.approx(
        (x0 + length - 24.175, y0 + 4.175, x0 + length - 4.175, y0 + 24.175), abs=1e-9
    )


def test_pins_are_where_they_belong(sheet: Sheet) -> None:
    """Centres and diameters of all holes, mirrored for right scales."""
    holes = iter(sheet.found["pin-holes"])
    for index in range(len(sheet.layout.placements)):
        for hole in sheet.scale.holes:
            x0, y0, x1, y1 = next(holes).bounds
            assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx(
                expected(sheet, index, hole.at_mm), abs=1e-5
            )
            assert x1 - x0 == pytest.approx(hole.hole_mm, abs=1e-5)


def test_left_and_right_are_of_opposite_hand(sheet: Sheet) -> None:
    """Seen from the front edge towards the butt, the corner nearest the spine is on opposite sides.

    The hand is the sign of the triangle front foot, butt-most pin, spine end of the front edge.
    """
    pins = len(sheet.scale.holes)
    hands: dict[str, set[bool]] = {}
    for index, place in enumerate(sheet.layout.placements):
        holes = sheet.found["pin-holes"][index * pins : (index + 1) * pins]
        chain = shapely.get_coordinates(sheet.found["front-edge"][index])
        own = (chain[0], chain[-1])
        spine = min(own, key=lambda point: math.dist(point, expected(sheet, index, (0.0, 100.0))))
        belly = min(own, key=lambda point: math.dist(point, expected(sheet, index, (0.0, -100.0))))
        butt = np.array(holes[-1].centroid.coords[0])
        first, second = butt - belly, spine - belly
        hands.setdefault(place.side, set()).add(bool(first[0] * second[1] - first[1] * second[0] > 0))
    assert hands == {"left": {True}, "right": {False}}


def test_the_bevel_starts_its_run_behind_the_front_edge(sheet: Sheet) -> None:
    """The distance between the two lines is height over tangent, or a rounded front's radius."""
    front, top = sheet.scale.pattern.front, sheet.scale.thickness_mm
    run = (top - front.land_mm) / math.tan(front.slope_rad) if front.treatment == "bevel" else front.radius_mm
    for edge, start in zip(sheet.found["front-edge"], sheet.found["bevel-start"], strict=True):
        middle = start.interpolate(0.5, normalized=True)
        assert edge.distance(middle) == pytest.approx(run, abs=1e-4)


def test_front_edges_lie_on_the_as_cut_outlines(sheet: Sheet) -> None:
    """The front edge is part of what is cut."""
    for edge, outline in zip(sheet.found["front-edge"], sheet.found["outline-as-cut"], strict=True):
        points = shapely.points(shapely.get_coordinates(edge))
        assert max(outline.distance(point) for point in points) < 1e-4


def test_labels_are_inside_their_parts(sheet: Sheet) -> None:
    """Each label starts and ends inside its own part, and off the holes."""
    labels = [(shape, text) for shape, text in sheet.texts if not text.startswith("all sizes")]
    assert [text for _, text in labels] == [place.label for place in sheet.layout.placements]
    heights = {entity.dxf.text: entity.dxf.height for entity in ezdxf.readfile(sheet.path).query("TEXT")}
    per_unit = 25.4 if sheet.units == "in" else 1.0
    holes = shapely.union_all([polygon(hole) for hole in sheet.found["pin-holes"]])
    for (shape, text), outline in zip(labels, sheet.found["outline-finished"], strict=True):
        high = heights[text] * per_unit
        assert high >= 2.0
        box = shapely.box(shape.x, shape.y, shape.x + high * len(text), shape.y + high)
        assert polygon(outline).contains(box)
        assert not holes.intersects(box)


def test_files_are_sound_and_say_their_unit(sheet: Sheet) -> None:
    """No audit fault; the unit is in the header and in a line of text; texts are upright."""
    document = ezdxf.readfile(sheet.path)
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    assert document.header["$INSUNITS"] == {"mm": 4, "in": 1}[sheet.units]
    assert sheet.texts[-1][1] == {"mm": "all sizes in mm", "in": "all sizes in inches"}[sheet.units]
    assert {entity.dxf.rotation for entity in document.query("TEXT")} == {0.0}
