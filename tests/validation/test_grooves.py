"""Grooves in the face: what they take by closed form, where they keep off, and the solids that have them."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from scalegen.design import Scale, design
from scalegen.errors import GeometryError
from scalegen.form.draped import draped_plan
from scalegen.form.grooves import Grooves, grooves_of
from scalegen.form.volumes import scale_volumes
from scalegen.model import Crown, Edge, Face, Front, OutlineSource, Pattern, PinSpec, Relief
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack
from scalegen.solids.mesh import mesh_shape
from scalegen.solids.scales import scale_solids

SHOP = load_shop(None)
BOX = Ring.from_rows([[0, -12], [110, -12], [110, 12], [0, 12]])
LINES = Relief(lines="straight", angle_rad=0.5, pitch_mm=8.0, depth_mm=0.4, width_mm=2.0, margin_mm=1.5)
PINS = (PinSpec(at_mm=(55.0, 1.0), diameter_mm=3.0),)


def scale_with(relief: Relief | None, face: Face | None = None) -> Scale:
    """A block with a bevelled front, a rounded edge and one pin."""
    pattern = Pattern(
        name="grooved",
        title="grooved",
        units="mm",
        path=Path("grooved.toml"),
        outline=OutlineSource(rows=tuple(map(tuple, BOX.rows.tolist()))),
        tang_mm=3.0,
        front=Front(at_mm=25.0, angle_rad=1.45, treatment="bevel", slope_rad=math.radians(45), land_mm=1.0),
        thickness_mm=6.2,
        face=face or Face(),
        relief=relief,
        edge=Edge(treatment="round", size_mm=1.5),
        trim_mm=0.5,
        back_allowance_mm=0.0,
        pins=PINS,
    )
    return design(pattern, BOX, resolve_stack(SHOP, "paper-six"), SHOP)


def grooves(relief: Relief) -> Grooves:
    """The grooves of a scale, which it must have."""
    found = grooves_of(scale_with(relief))
    assert found is not None
    return found


def test_area_of_straight_grooves() -> None:
    """Grooves that don't meet must cover length times width and a circle each. Source: closed form."""
    found = grooves(LINES)
    lengths = np.hypot(*(found.ends - found.starts).T)
    assert len(lengths) > 4
    assert found.area_mm2 == pytest.approx(lengths.sum() * 2 + len(lengths) * math.pi, rel=1e-5)


def test_crossed_grooves_cover_their_crossings_once() -> None:
    """Where two grooves cross squarely a square of their width must be counted once."""
    starts = np.array([[0.0, 0.0], [10.0, -10.0]])
    ends = np.array([[20.0, 0.0], [10.0, 10.0]])
    cross = Grooves(starts=starts, ends=ends, width_mm=2.0, depth_mm=0.4)
    assert cross.area_mm2 == pytest.approx(2 * (20 * 2 + math.pi) - 4, rel=1e-5)


@pytest.mark.parametrize("lines", ["straight", "crossed"])
def test_grooves_keep_off_edge_front_and_pins(lines: str) -> None:
    """All they cover must lie the margin away from edge treatment, bevel and pins. Source: shapely."""
    relief = replace(LINES, lines="crossed" if lines == "crossed" else "straight")
    scale, found = scale_with(relief), grooves(relief)
    covered = shapely.union_all(
        [shapely.LineString([a, b]).buffer(1.0) for a, b in zip(found.starts, found.ends, strict=True)]
    )
    outline = shapely.Polygon(scale.finished.flatten(0.001))
    assert covered.within(outline)
    assert covered.distance(outline.exterior) >= 1.5 + 1.5 - 5e-3
    assert covered.distance(shapely.Point(55.0, 1.0)) >= scale.holes[0].hole_mm / 2 + 1.5 - 5e-3
    front = scale.pattern.front
    inward = np.array([math.sin(front.angle_rad), -math.cos(front.angle_rad)])
    behind = (shapely.get_coordinates(covered) - [25.0, 0.0]) @ inward
    assert behind.min() >= 6.2 - 1.0 + 1.5 - 5e-3


@pytest.mark.parametrize("face", [Face(), Face(crown=Crown(radius_mm=60.0))], ids=["flat", "crowned"])
def test_a_scale_loses_area_times_depth(face: Face) -> None:
    """Whatever the face, grooves must take their area times their depth out of the face sheet alone."""
    bare, cut = scale_volumes(scale_with(None, face)), scale_volumes(scale_with(LINES, face))
    taken = {name: bare.finished_mm3[name] - cut.finished_mm3[name] for name in bare.finished_mm3}
    *under, top = taken.values()
    assert under == pytest.approx([0.0] * len(under), abs=1e-3)
    assert top == pytest.approx(grooves(LINES).area_mm2 * 0.4, rel=1e-4)


@pytest.mark.parametrize("lines", ["straight", "crossed"])
def test_solids_with_grooves_on_a_crown(lines: str) -> None:
    """Grooves on a crowned face must pass the gate, and their floors follow the face. Source: trimesh."""
    relief = replace(LINES, lines="crossed" if lines == "crossed" else "straight", pitch_mm=12.0)
    scale = scale_with(relief, Face(crown=Crown(radius_mm=60.0)))
    solids = scale_solids(scale, scale_volumes(scale))
    mesh = trimesh.Trimesh(*mesh_shape(solids.finished_left.whole, 0.03), process=False)
    assert mesh.is_watertight
    assert mesh.euler_number == 0
    plan = draped_plan(scale, finished=True)
    assert plan.grooves is not None
    vertices = np.asarray(mesh.vertices)
    depth = scale.face.height_mm(vertices[:, :2]) - vertices[:, 2]
    floor = vertices[np.abs(depth - 0.4) < 1e-6]
    assert len(floor) > 40
    assert plan.grooves.depth_at_mm(floor[:, :2], -1e-6) == pytest.approx(np.full(len(floor), 0.4))


def test_grooves_through_the_face_sheet_are_refused() -> None:
    """Grooves that leave too little of the face sheet must be refused with the place."""
    with pytest.raises(GeometryError, match="of the face sheet at x =") as caught:
        scale_volumes(scale_with(replace(LINES, depth_mm=5.2)))
    assert caught.value.where == "scale.relief.depth"


def test_no_room_for_grooves_is_said() -> None:
    """A margin that leaves no room must be refused."""
    with pytest.raises(GeometryError, match="no room for grooves"):
        grooves_of(scale_with(replace(LINES, margin_mm=11.0)))


# ------------------------------------------------------------------------------------------ ball cutter

BALL = replace(LINES, cutter="ball", width_mm=3.0, depth_mm=0.4)


def hollow_mm(diameter: float, depth: float) -> tuple[float, float]:
    """Half width and cross-section area of a round hollow. Source: chord and segment of a circle."""
    radius = diameter / 2
    half = math.sqrt(radius**2 - (radius - depth) ** 2)
    return half, radius**2 * math.acos(1 - depth / radius) - (radius - depth) * half


def cap_mm3(diameter: float, depth: float) -> float:
    """Volume of a spherical cap. Source: closed form, pi h^2 (3 R - h) / 3."""
    return math.pi * depth**2 * (3 * diameter / 2 - depth) / 3


@pytest.mark.parametrize("depth", [0.1, 0.4, 1.0, 1.5])
def test_volume_of_a_ball_groove(depth: float) -> None:
    """One hollow must hold segment times length and a spherical cap for its two ends. Source: closed form."""
    one = Grooves(
        starts=np.array([[0.0, 0.0]]), ends=np.array([[20.0, 5.0]]), width_mm=3.0, depth_mm=depth, ball=True
    )
    half, section = hollow_mm(3.0, depth)
    assert one.half_mm == pytest.approx(half, rel=1e-12)
    expected = section * math.hypot(20, 5) + cap_mm3(3.0, depth)
    assert one.volume_mm3 == pytest.approx(expected, rel=1e-5)


def test_crossed_ball_grooves_share_their_crossing() -> None:
    """At half the diameter deep, two hollows share half of two equal cylinders that cross squarely.

    Source: the bicylinder of Archimedes, 16 R^3 / 3.
    """
    starts, ends = np.array([[0.0, 0.0], [10.0, -10.0]]), np.array([[20.0, 0.0], [10.0, 10.0]])
    cross = Grooves(starts=starts, ends=ends, width_mm=3.0, depth_mm=1.5, ball=True)
    radius = 1.5
    alone = 2 * (math.pi * radius**2 / 2 * 20 + cap_mm3(3.0, 1.5))
    assert cross.volume_mm3 == pytest.approx(alone - 16 * radius**3 / 3 / 2, rel=1e-4)


@pytest.mark.parametrize(
    ("lines", "face"), [("straight", Face()), ("crossed", Face(crown=Crown(radius_mm=60.0)))]
)
def test_solids_with_ball_grooves(lines: str, face: Face) -> None:
    """Round hollows must pass the gate, and every place of a mesh in them lie where a ball leaves it.

    Source: trimesh for the mesh; the circle's own equation for the depth.
    """
    relief = replace(BALL, lines="crossed" if lines == "crossed" else "straight", pitch_mm=14.0)
    scale = scale_with(relief, face)
    found = grooves_of(scale)
    assert found is not None
    solids = scale_solids(scale, scale_volumes(scale))
    mesh = trimesh.Trimesh(*mesh_shape(solids.finished_left.whole, 0.03), process=False)
    assert mesh.is_watertight
    assert mesh.euler_number == 0
    vertices = np.asarray(mesh.vertices)
    centers = shapely.MultiLineString(np.stack([found.starts, found.ends], axis=1).tolist())
    away = shapely.distance(centers, shapely.points(vertices[:, :2]))
    top = vertices[:, 2] > 3.0
    inside = top & (away < found.half_mm - 1e-6)
    assert inside.sum() > 40
    depth = face_mm(scale, vertices[inside]) - vertices[inside, 2]
    assert depth == pytest.approx(0.4 - 1.5 + np.sqrt(1.5**2 - away[inside] ** 2), abs=1e-6)


def face_mm(scale: Scale, points: np.ndarray) -> np.ndarray:
    """Height of the bare face over points: flat, or a circle of 60 mm. Source: the circle."""
    crown = scale.pattern.face.crown
    if crown is None:
        return np.full(len(points), 6.2)
    return 6.2 - 60.0 + np.sqrt(60.0**2 - points[:, 1] ** 2)


def test_the_region_of_crossed_grooves_has_islands() -> None:
    """Outlines of crossed grooves together must cover what shapely's union of their strips covers."""
    found = grooves(replace(LINES, lines="crossed", pitch_mm=6.0))
    covered = shapely.union_all(
        [
            shapely.LineString([a, b]).buffer(1.0, quad_segs=200)
            for a, b in zip(found.starts, found.ends, strict=True)
        ]
    )
    areas = [ring.area_mm2 for ring in found.region()]
    assert min(areas) < 0
    assert sum(areas) == pytest.approx(covered.area, rel=1e-5)


@pytest.mark.parametrize(
    ("changed", "where"),
    [({"depth_mm": 1.6}, "scale.relief.depth"), ({"depth_mm": 1.0, "pitch_mm": 2.5}, "scale.relief.pitch")],
)
def test_balls_that_cannot_leave_hollows_are_refused(changed: dict[str, float], where: str) -> None:
    """A ball deeper than half its diameter, or hollows that run together, must be refused with the field."""
    with pytest.raises(GeometryError) as caught:
        grooves_of(scale_with(replace(BALL, **changed)))
    assert caught.value.where == where
