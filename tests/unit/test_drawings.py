"""What goes into the drawing of a sheet, before any file is written."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.export.drawing import ChainShape, CircleShape, CrossShape, RectangleShape, RingShape, TextShape
from scalegen.export.drawings import footprints, front_lines, mirrored_ring, sheet_drawing
from scalegen.export.dxf import LAYERS
from scalegen.model import (
    Corner,
    Crown,
    Edge,
    Face,
    Front,
    FrontArc,
    Liner,
    OutlineSource,
    Pattern,
    PinSpec,
    Side,
)
from scalegen.outline.front import front_curve
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
# A bent handle: half way between its lowest and highest y is outside it.
BENT = Ring.from_rows([[0, -10], [60, -10], [120, -50], [130, -35], [66, 10], [0, 10]])
BEVEL = Front(
    at_mm=15.0,
    angle_rad=math.radians(80),
    treatment="bevel",
    slope_rad=math.radians(40),
    land_mm=1.2,
    allowance_mm=0.2,
)
PATTERN = Pattern(
    name="bent",
    title="Bent",
    units="mm",
    path=Path("bent.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=BEVEL,
    thickness_mm=6.2,
    edge=Edge(),
    trim_mm=0.8,
    back_allowance_mm=0.0,
    pins=(PinSpec(at_mm=(35.0, 2.0), hardware="pin 3mm"), PinSpec(at_mm=(60.0, -3.0), hardware="pin 3mm")),
)
PLACES = (
    Placement(label="1L", pattern="bent", side="left", x_mm=10.0, y_mm=80.0, angle_rad=0.0),
    Placement(label="1R", pattern="bent", side="right", x_mm=150.0, y_mm=140.0, angle_rad=math.pi),
)


def scale_of(pattern: Pattern = PATTERN) -> Scale:
    """The bent handle as a scale."""
    return design(pattern, BENT, resolve_stack(SHOP, "paper-six"), SHOP)


def layout(origin: Corner = "lower-left", places: tuple[Placement, ...] = PLACES) -> SheetLayout:
    """A blank with a left and a right scale; whether they overlap does not matter here."""
    return SheetLayout(
        name="sheet-1",
        length_mm=300.0,
        width_mm=150.0,
        margin_mm=3.0,
        spacing_mm=4.0,
        pad=PadBox(x_mm=277.0, y_mm=3.0, w_mm=20.0, h_mm=15.0),
        origin=origin,
        placements=places,
    )


def test_right_is_the_mirror_of_left() -> None:
    """A mirrored ring keeps its area and way round, and mirrored again is where it was."""
    both = footprints(scale_of())
    left, right = both["left"], both["right"]
    assert right.area_mm2 == pytest.approx(left.area_mm2, rel=1e-12)
    x0, y0, x1, y1 = left.bounds_mm
    assert right.bounds_mm == pytest.approx((x0, -y1, x1, -y0))
    assert distances_mm(left, mirrored_ring(right).starts).max() < 1e-9


def test_layers_are_those_of_the_files() -> None:
    """Every layer that files have is there, in mm or inches alike, and no other."""
    drawing = sheet_drawing(scale_of(), layout(), "in")
    assert set(drawing.layers) == set(LAYERS)
    assert drawing.units == "in"


def test_each_scale_has_its_shapes() -> None:
    """Two outlines, a front edge, a bevel start and a label for each scale, and a hole for each pin."""
    layers = sheet_drawing(scale_of(), layout(), "mm").layers
    counts = {name: len(shapes) for name, shapes in layers.items()}
    assert counts == {
        "blank": 1,
        "left-over": 0,
        "keep-out": 0,
        "reference-pad": 1,
        "origin": 1,
        "outline-as-cut": 2,
        "outline-finished": 2,
        "liner-outline": 0,
        "front-edge": 2,
        "bevel-start": 2,
        "reveals": 0,
        "pin-holes": 4,
        "head-recesses": 0,
        "grooves": 0,
        "tabs": 0,
        "labels": 2,
    }


@pytest.mark.parametrize(
    ("origin", "corner"),
    [
        ("lower-left", (0, 0)),
        ("lower-right", (-300, 0)),
        ("upper-left", (0, -150)),
        ("upper-right", (-300, -150)),
    ],
)
def test_everything_counts_from_the_origin(origin: Corner, corner: tuple[float, float]) -> None:
    """Zero is the corner asked for; blank, pad, outlines, holes and labels all move with it."""
    here = sheet_drawing(scale_of(), layout(origin), "mm").layers
    there = sheet_drawing(scale_of(), layout(), "mm").layers
    (cross,) = here["origin"]
    assert isinstance(cross, CrossShape)
    assert cross.at_mm == (0.0, 0.0)
    for name in ("blank", "reference-pad"):
        one, other = here[name][0], there[name][0]
        assert isinstance(one, RectangleShape)
        assert isinstance(other, RectangleShape)
        assert np.subtract(one.corner_mm, other.corner_mm) == pytest.approx(corner)
    for name in ("outline-as-cut", "outline-finished"):
        for one, other in zip(here[name], there[name], strict=True):
            assert isinstance(one, RingShape)
            assert isinstance(other, RingShape)
            assert np.allclose(one.ring.starts - other.ring.starts, corner)
    for one, other in zip(here["pin-holes"], there["pin-holes"], strict=True):
        assert isinstance(one, CircleShape)
        assert isinstance(other, CircleShape)
        assert np.subtract(one.center_mm, other.center_mm) == pytest.approx(corner)
    for one, other in zip(here["labels"], there["labels"], strict=True):
        assert isinstance(one, TextShape)
        assert isinstance(other, TextShape)
        assert np.subtract(one.at_mm, other.at_mm) == pytest.approx(corner)


def test_pins_of_a_pair_land_where_they_belong() -> None:
    """Left pins are moved; right pins are mirrored, turned half round and moved: worked out by hand."""
    holes = sheet_drawing(scale_of(), layout(), "mm").layers["pin-holes"]
    centers = [hole.center_mm for hole in holes if isinstance(hole, CircleShape)]
    assert centers[0] == pytest.approx((45.0, 82.0))
    assert centers[1] == pytest.approx((70.0, 77.0))
    assert centers[2] == pytest.approx((150 - 35.0, 140 + 2.0))
    assert centers[3] == pytest.approx((150 - 60.0, 140 - 3.0))


@pytest.mark.parametrize("angle", [0.0, math.pi])
@pytest.mark.parametrize("side", ["left", "right"])
def test_labels_lie_inside_their_part_upright_and_clear_of_holes(side: Side, angle: float) -> None:
    """A bent handle's label follows the bend, is never turned and never runs into a hole."""
    place = Placement(label="12L", pattern="bent", side=side, x_mm=150.0, y_mm=75.0, angle_rad=angle)
    layers = sheet_drawing(scale_of(), layout(places=(place,)), "mm").layers
    (label,) = layers["labels"]
    (outline,) = layers["outline-finished"]
    assert isinstance(label, TextShape)
    assert isinstance(outline, RingShape)
    assert label.angle_rad == 0.0
    x, y = label.at_mm
    # Letters of a plain drawing font are at most as wide as high.
    wide, high = label.height_mm * len(label.text), label.height_mm
    box = np.array([[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]])
    assert inside(outline.ring, box).all()
    # The longest stretch without a hole is behind the last pin, where the handle bends away.
    turned = -1 if angle else 1
    assert turned * (x + 0.4 * wide - 150.0) == pytest.approx((60 + 3.1 / 2 + 130) / 2, abs=1e-6)
    for hole in layers["pin-holes"]:
        assert isinstance(hole, CircleShape)
        cx, cy = hole.center_mm
        gap = math.hypot(max(x - cx, 0, cx - x - wide), max(y - cy, 0, cy - y - high))
        assert gap > hole.diameter_mm / 2


def test_front_lines_are_parallel_and_a_bevel_run_apart() -> None:
    """The bevel starts on the face its run behind the front edge; both span the as-cut outline."""
    scale = scale_of()
    edge, start = front_lines(scale)
    assert start is not None
    inward = np.array([math.sin(BEVEL.angle_rad), -math.cos(BEVEL.angle_rad)])
    run = (6.2 - 1.2) / math.tan(math.radians(40))
    foot = np.array([15.0, 0.0])
    assert (edge[:, :2] - foot) @ inward == pytest.approx(np.full(len(edge), -0.2), abs=1e-9)
    assert (start[:, :2] - foot) @ inward == pytest.approx(np.full(len(start), run - 0.2), abs=1e-9)
    for chain in (edge, start):
        assert distances_mm(scale.as_cut, chain[[0, -1], :2]).max() < 1e-9


def test_a_square_front_has_no_second_line() -> None:
    """Where nothing is shaped, no line says so."""
    scale = scale_of(replace(PATTERN, front=Front(at_mm=15.0, angle_rad=math.pi / 2)))
    assert front_lines(scale)[1] is None
    assert sheet_drawing(scale, layout(), "mm").layers["bevel-start"] == []


@pytest.mark.parametrize("shape", ["proud", "hollow"])
def test_arc_fronts_come_as_arcs(shape: FrontArc) -> None:
    """Front edge and treatment line are arcs about one centre, their radii a rounded front's radius apart."""
    front = Front(
        at_mm=20.0,
        angle_rad=math.pi / 2,
        arc_mm=30.0,
        arc_shape=shape,
        treatment="round",
        radius_mm=2.0,
    )
    edge, start = front_lines(scale_of(replace(PATTERN, front=front)))
    assert start is not None
    sign = 1.0 if shape == "proud" else -1.0
    center = np.array([20.0 + sign * 30.0, 0.0])
    for chain, radius in ((edge, 30.0), (start, 30.0 - sign * 2.0)):
        assert np.hypot(*(chain[:, :2] - center).T) == pytest.approx(np.full(len(chain), radius))
        assert np.all(chain[:-1, 2] != 0)


def test_mirrored_arcs_bend_the_other_way() -> None:
    """On the right scale the front edge's bulge has the opposite sign."""
    front = Front(at_mm=20.0, angle_rad=math.pi / 2, arc_mm=30.0)
    chains = sheet_drawing(scale_of(replace(PATTERN, front=front)), layout(), "mm").layers["front-edge"]
    left, right = (chain.rows for chain in chains if isinstance(chain, ChainShape))
    assert left[:, 2] == pytest.approx(-right[:, 2])
    assert np.any(left[:, 2] != 0)


def test_where_the_bevel_starts_on_a_crowned_face() -> None:
    """On a crown the bevel's plane must meet the circle: land + u tan(slope) = T - (R - sqrt(R^2 - q^2)).

    Source: plane and cylinder.
    """
    handle = Ring.from_rows([[0, -12], [120, -12], [120, 12], [0, 12]])
    pattern = replace(PATTERN, face=Face(crown=Crown(radius_mm=60.0)), pins=())
    scale = design(pattern, handle, resolve_stack(SHOP, "paper-six"), SHOP)
    _, start = front_lines(scale)
    assert start is not None
    front, curve = pattern.front, front_curve(pattern.front)
    behind = (start[:, :2] - curve.point) @ curve.inward + front.allowance_mm
    face = 6.2 - (60 - np.sqrt(60**2 - start[:, 1] ** 2))
    assert front.land_mm + behind * np.tan(front.slope_rad) == pytest.approx(face, abs=1e-9)
    assert np.ptp(start[:, 1]) > 22


def test_a_head_has_its_recess_drawn() -> None:
    """A stepped fastener must show the circle of its recess about that of its hole, and no other pin."""
    bolt = replace(SHOP.hardware["pin 1/8in"], name="bolt", kind="stepped", head_mm=8.0, head_height_mm=2.0)
    shop = replace(SHOP, hardware={**SHOP.hardware, "bolt": bolt})
    pins = (*PATTERN.pins, PinSpec(at_mm=(50.0, 0.0), hardware="bolt"))
    scale = design(replace(PATTERN, pins=pins), BENT, resolve_stack(shop, "paper-six"), shop)
    layers = sheet_drawing(scale, layout(), "mm").layers
    assert len(layers["pin-holes"]) == len(pins) * len(layout().placements)
    recesses = layers["head-recesses"]
    assert [circle.diameter_mm for circle in recesses] == pytest.approx([8.05] * len(layout().placements))


@pytest.mark.parametrize("step_mm", [0.6, -0.6])
def test_a_stepped_liner_has_a_layer_of_its_own(step_mm: float) -> None:
    """Each scale must have the liner's outline as cut, and stand on the blank with the wider of the two."""
    scale = scale_of(replace(PATTERN, liner=Liner(step_mm=step_mm)))
    assert scale.stepped is not None
    layers = sheet_drawing(scale, layout(), "mm").layers
    shapes = layers["liner-outline"]
    assert len(shapes) == 2
    for shape in shapes:
        assert isinstance(shape, RingShape)
        assert shape.ring.area_mm2 == pytest.approx(scale.stepped.as_cut.area_mm2, rel=1e-12)
    areas = [ring.area_mm2 for ring in footprints(scale).values()]
    assert areas == pytest.approx([max(scale.stepped.as_cut.area_mm2, scale.as_cut.area_mm2)] * 2)


def test_reveals_lie_where_the_layers_show() -> None:
    """In a bevel the liner's line must stand (h - land) / tan(slope) behind the front, on both scales.

    Source: trigonometry.
    """
    slope, land = math.radians(20), 0.2
    front = Front(at_mm=30.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=slope, land_mm=land)
    scale = scale_of(replace(PATTERN, front=front))
    layers = sheet_drawing(scale, layout(), "mm").layers
    assert len(layers["reveals"]) == 4
    heights = [span.top_mm for span in scale.spans[:-1]] * 2
    edges = [shape for shape in layers["front-edge"] for _ in scale.spans[:-1]]
    for shape, edge, z in zip(layers["reveals"], edges, heights, strict=True):
        assert isinstance(shape, ChainShape)
        assert isinstance(edge, ChainShape)
        away = abs(float(shape.rows[0, 0] - edge.rows[0, 0]))
        assert away == pytest.approx((z - land) / math.tan(slope) + front.allowance_mm, abs=1e-6)
