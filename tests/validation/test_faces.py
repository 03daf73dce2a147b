"""Volumes of crowned and swelled scales and of edges on them, by closed forms; and the kernel's solids."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from scalegen.design import Scale, design
from scalegen.form.draped import DrapedPlan, draped_plan
from scalegen.form.plans import plan_of
from scalegen.form.spread import draped_volumes_mm3
from scalegen.form.volumes import scale_volumes
from scalegen.model import Crown, Edge, Face, Front, OutlineSource, Pattern, PinSpec
from scalegen.outline.ring import FloatArray, Ring
from scalegen.shop import load_shop, resolve_stack
from scalegen.solids.kernel import volume_mm3
from scalegen.solids.mesh import mesh_shape
from scalegen.solids.scales import scale_solids

LENGTH, HEIGHT, THICK = 100.0, 24.0, 6.4
BOX = Ring.from_rows([[0, -12], [130, -12], [130, 12], [0, 12]])
STADIUM = Ring.from_rows([[12, -12, 0], [118, -12, 1], [118, 12, 0], [12, 12, 1]])
SHOP = load_shop(None)


def scale_of(
    ring: Ring,
    face: Face,
    edge: Edge | None = None,
    front: Front | None = None,
    pins: tuple[PinSpec, ...] = (),
) -> Scale:
    """A scale of a given shape, its front at x = 30 unless said otherwise."""
    pattern = Pattern(
        name="shape",
        title="shape",
        units="mm",
        path=Path("shape.toml"),
        outline=OutlineSource(rows=tuple(map(tuple, ring.rows.tolist()))),
        tang_mm=3.0,
        front=front or Front(at_mm=30.0, angle_rad=math.pi / 2),
        thickness_mm=max((t for _, t in face.swell), default=THICK),
        face=face,
        edge=edge or Edge(),
        trim_mm=0.8,
        back_allowance_mm=0.0,
        pins=pins,
    )
    return design(pattern, ring, resolve_stack(SHOP, "paper-six"), SHOP)


def finished_volume(scale: Scale) -> float:
    """Volume of the finished scale, by the reference that does not use the kernel."""
    plan = draped_plan(scale, finished=True)
    return sum(draped_volumes_mm3(plan, (plan.bottom_mm, plan.top_mm)))


def crown_area(radius: float, half: float) -> float:
    """Area between a circle's highest line and the circle, from -half to half; closed form of the segment."""
    return 2 * radius * half - (half * math.sqrt(radius**2 - half**2) + radius**2 * math.asin(half / radius))


@pytest.mark.parametrize("radius", [16.0, 25.0, 90.0])
def test_crowned_block(radius: float) -> None:
    """A crowned block must have the section of a rectangle less the circle's segment. Source: closed form."""
    scale = scale_of(BOX, Face(crown=Crown(radius_mm=radius, at_mm=0.0)))
    want = LENGTH * (HEIGHT * THICK - crown_area(radius, 12.0))
    assert finished_volume(scale) == pytest.approx(want, rel=1e-8)


def test_swelled_block() -> None:
    """A swelled block must have the integral of its cubics. Source: Simpson's rule, exact for cubics."""
    stations = ((30.0, 5.2), (70.0, 6.4), (130.0, 5.6))
    scale = scale_of(BOX, Face(swell=stations))
    x = np.array([30.0, 50.0, 70.0, 100.0, 130.0])
    z = scale.face.height_mm(np.column_stack([x, np.zeros(5)]))
    want = HEIGHT * (40 / 6 * (z[0] + 4 * z[1] + z[2]) + 60 / 6 * (z[2] + 4 * z[3] + z[4]))
    assert z[[0, 2, 4]] == pytest.approx([5.2, 6.4, 5.6], abs=1e-9)
    assert finished_volume(scale) == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("treatment", ["round", "chamfer"])
def test_an_edge_takes_the_same_from_every_face(treatment: str) -> None:
    """What a steady edge takes away must not depend on the face.

    Source: Steiner's formula; a round-over takes P r^2 (1 - pi/4) - pi r^3 (5/3 - pi/2) off a smooth ring,
    a chamfer P c^2 / 2 - pi c^3 / 3. Here on what the front leaves of a stadium: the lines and one half turn.
    """
    r = 2.0
    edge = Edge.along("round" if treatment == "round" else "chamfer", ((0.0, r),), ((0.0, r),))
    faces = (Face(), Face(crown=Crown(radius_mm=40.0)), Face(swell=((30.0, 5.0), (70.0, 6.4), (110.0, 5.5))))
    taken = [
        finished_volume(scale_of(STADIUM, face)) - draped_whole(scale_of(STADIUM, face, edge))
        for face in faces
    ]
    run, turn = 2 * 88.0 + math.pi * 12, math.pi
    if treatment == "round":
        want = run * r**2 * (1 - math.pi / 4) - turn / 2 * r**3 * (5 / 3 - math.pi / 2)
    else:
        want = run * r**2 / 2 - turn / 2 * r**3 / 3
    assert taken == pytest.approx([want] * 3, rel=1e-4)
    assert taken == pytest.approx([taken[0]] * 3, rel=2e-6)


def draped_whole(scale: Scale) -> float:
    """Finished volume by the integral over the plan, whatever the face."""
    return finished_volume(scale)


def test_an_edge_that_fades_against_a_sum_over_its_length() -> None:
    """A chamfer that grows along a straight side must take the sum of its triangles.

    Source: along a straight line each section across takes half the square of its size.
    """
    edge = Edge.along("chamfer", ((40.0, 0.0), (70.0, 2.0), (100.0, 0.0)), ((40.0, 0.0),))
    scale = scale_of(BOX, Face(), edge)
    plan = draped_plan(scale, finished=True)
    assert plan.run is not None
    x = np.linspace(40, 100, 60001)
    index, share, _ = plan.run.feet(np.column_stack([x, np.full(len(x), 12.0)]))
    size = plan.run.size_mm(index, share)
    want = float(np.trapezoid(size**2 / 2, x))
    # The lip rounds the corners at the butt, where the walls end lower by the depth of the flange.
    bare = finished_volume(scale_of(BOX, Face()))
    corners = bare - finished_volume(scale_of(BOX, Face(), replace(edge, spine=((40.0, 1e-9),))))
    assert size.max() == pytest.approx(2.0, abs=1e-9)
    assert bare - finished_volume(scale) - corners == pytest.approx(want, rel=1e-5)


# ------------------------------------------------------------------------------------------- the solids

SWELL = ((30.0, 5.4), (75.0, 6.4), (125.0, 5.8))
FADE = Edge.along("round", ((45.0, 0.0), (70.0, 2.0), (100.0, 0.8)), ((60.0, 0.0), (80.0, 1.5), (105.0, 0.0)))
STEADY = Edge(treatment="round", size_mm=1.5)
BEVEL = Front(
    at_mm=30.0, angle_rad=1.4, treatment="bevel", slope_rad=math.radians(40), land_mm=1.0, top_radius_mm=1.5
)
ROUND = Front(at_mm=30.0, angle_rad=math.pi / 2, arc_mm=45.0, treatment="round", radius_mm=1.6)
PINS = (PinSpec(at_mm=(60.0, 1.0), diameter_mm=3.0), PinSpec(at_mm=(100.0, -1.0), diameter_mm=5.0))
SHAPES = {
    "crown, steady edge, rounded bevel": (Face(crown=Crown(radius_mm=30.0)), STEADY, BEVEL),
    "swell, fading edge, round front": (Face(swell=SWELL), FADE, ROUND),
    "crown and swell, fading edge, rounded bevel": (
        Face(crown=Crown(height_mm=1.2), swell=SWELL),
        FADE,
        BEVEL,
    ),
    "crown, square edge, hollow round front": (
        Face(crown=Crown(radius_mm=40.0, angle_rad=0.03)),
        Edge(),
        replace(ROUND, arc_shape="hollow"),
    ),
}


@pytest.mark.parametrize("name", SHAPES)
def test_solids_against_an_independent_reader(name: str) -> None:
    """Every kind of solid must pass the gate, and an independent reader find it sound.

    The mesh must be watertight with the right number of holes, hold the reference's volume, and lie with
    every corner of its face on the height that the face's own formula gives. Source: trimesh.
    """
    face, edge, front = SHAPES[name]
    scale = scale_of(STADIUM, face, edge, front, PINS)
    volumes = scale_volumes(scale)
    solids = scale_solids(scale, volumes)
    for body, by_layer, finished in (
        (solids.as_cut_left, volumes.as_cut_mm3, False),
        (solids.finished_left, volumes.finished_mm3, True),
    ):
        plan = plan_of(scale, finished=finished)
        assert isinstance(plan, DrapedPlan)
        mesh = trimesh.Trimesh(*mesh_shape(body.whole, 0.03), process=False)
        assert mesh.is_watertight
        assert mesh.euler_number == 2 - 2 * len(PINS)
        assert mesh.volume == pytest.approx(sum(by_layer.values()), abs=0.03 * mesh.area)
        assert volume_mm3(body.whole) == pytest.approx(sum(by_layer.values()), rel=1e-6)
        tops = np.asarray(mesh.vertices)[face_corners(mesh)]
        # A round-over starts upright: at its very foot a hair sideways is much in height.
        clear = np.ones(len(tops), dtype=bool) if plan.run is None else plan.run.feet(tops[:, :2])[2] > 0.01
        assert clear.sum() > 50
        assert np.abs(tops[:, 2] - plan.under_mm(tops[:, :2]))[clear].max() < 2e-5


def face_corners(mesh: trimesh.Trimesh) -> FloatArray:
    """Which corners of a mesh look up on every side, so that no wall or hole runs through them."""
    upward = np.asarray(mesh.face_normals)[:, 2] > 0.05
    every = np.ones(len(mesh.vertices), dtype=bool)
    np.logical_and.at(every, np.asarray(mesh.faces).ravel(), np.repeat(upward, 3))
    return every


def test_fronts_of_a_pair_are_alike() -> None:
    """Left and right must have the same front to a millionth of a millimetre, mirrored."""
    face, edge, front = SHAPES["crown and swell, fading edge, rounded bevel"]
    scale = scale_of(STADIUM, face, edge, front)
    solids = scale_solids(scale, scale_volumes(scale))
    left, _ = mesh_shape(solids.finished_left.whole, 0.02)
    right, _ = mesh_shape(solids.finished_right.whole, 0.02)
    flipped = right * [1.0, -1.0, 1.0]
    gaps = [np.abs(flipped - corner).max(axis=1).min() for corner in left[left[:, 0] < 40.0]]
    assert len(gaps) > 20
    assert max(gaps) < 1e-6
