"""Recesses and blind holes: their volumes by closed form, on flat and on crowned faces, and in the solids."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
import trimesh

from scalegen.design import Scale, design
from scalegen.form.volumes import scale_volumes
from scalegen.model import Crown, Edge, Face, Front, Hardware, OutlineSource, Pattern, PinSpec
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack
from scalegen.solids.kernel import volume_mm3
from scalegen.solids.mesh import mesh_shape
from scalegen.solids.scales import scale_solids

BOX = Ring.from_rows([[0, -12], [130, -12], [130, 12], [0, 12]])
THICK, SLIP = 6.2, 0.05
BOLT = Hardware(
    name="bolt",
    kind="stepped",
    material="steel",
    nominal_mm=4.0,
    diameter_mm=4.0,
    bore_mm=0.0,
    length_mm=0.0,
    end_allowance_mm=0.0,
    density_g_cm3=7.85,
    color="#888888",
    price=None,
    head_mm=8.0,
    head_height_mm=2.0,
)
STARTER = load_shop(None)
SHOP = replace(STARTER, hardware={**STARTER.hardware, "bolt": BOLT})
PINS = (
    PinSpec(at_mm=(55.0, 1.0), hardware="bolt", hole_mm=4.2),
    PinSpec(at_mm=(80.0, 0.0), diameter_mm=5.0, hole_mm=5.1, cover_mm=1.7),
    PinSpec(at_mm=(105.0, -1.0), diameter_mm=6.0, hole_mm=6.1),
)


def scale_with(face: Face, pins: tuple[PinSpec, ...], edge: Edge | None = None) -> Scale:
    """A block of a scale with these holes."""
    pattern = Pattern(
        name="bored",
        title="bored",
        units="mm",
        path=Path("bored.toml"),
        outline=OutlineSource(rows=tuple(map(tuple, BOX.rows.tolist()))),
        tang_mm=3.0,
        front=Front(at_mm=30.0, angle_rad=math.pi / 2),
        thickness_mm=THICK,
        face=face,
        edge=edge or Edge(),
        trim_mm=0.5,
        back_allowance_mm=0.1,
        pins=pins,
    )
    return design(pattern, BOX, resolve_stack(SHOP, "paper-six"), SHOP)


def finished_mm3(scale: Scale) -> float:
    """Finished volume."""
    return sum(scale_volumes(scale).finished_mm3.values())


def test_volumes_of_stepped_blind_and_straight_holes() -> None:
    """Each hole must take its cylinders out of a flat scale. Source: pi d^2 / 4 times height."""
    taken = finished_mm3(scale_with(Face(), ())) - finished_mm3(scale_with(Face(), PINS))
    shank, head = 4.2**2 * (THICK - 2.0), (8.0 + SLIP) ** 2 * 2.0
    blind, straight = 5.1**2 * (THICK - 1.7), 6.1**2 * THICK
    assert taken == pytest.approx(math.pi / 4 * (shank + head + blind + straight), rel=1e-9)


def test_holes_in_a_crowned_face_follow_it() -> None:
    """Seats and ends must hang from the crown's height at the hole's centre.

    Source: the middle of the crown loses R - sqrt(R^2 - a^2); over a disc of radius r about it the volume
    under a cylinder of radius R is, to fourth order in r / R, pi r^2 (T - r^2 / 8R (1 + r^2 / 8R^2)).
    """
    radius = 60.0
    face = Face(crown=Crown(radius_mm=radius, at_mm=0.0))
    off = radius - math.sqrt(radius**2 - 1.0)
    scale = scale_with(face, PINS)
    bolt, blind, tube = scale.holes
    assert bolt.seat_mm == pytest.approx(THICK - off - 2.0, abs=1e-12)
    assert blind.end_mm == pytest.approx(THICK - 1.7, abs=1e-12)
    assert tube.cut_length_mm == pytest.approx(3.0 + 2 * (THICK - off) + 2.0, abs=1e-12)
    middle = (PinSpec(at_mm=(80.0, 0.0), diameter_mm=6.0, hole_mm=6.1),)
    taken = finished_mm3(scale_with(face, ())) - finished_mm3(scale_with(face, middle))
    r = 6.1 / 2
    drop = r**2 / (8 * radius) * (1 + r**2 / (8 * radius**2))
    assert taken == pytest.approx(math.pi * r**2 * (THICK - drop), rel=1e-8)


@pytest.mark.parametrize(
    ("face", "edge"),
    [
        (Face(), Edge(treatment="round", size_mm=1.5)),
        (Face(crown=Crown(radius_mm=60.0)), Edge(treatment="round", size_mm=1.5)),
    ],
    ids=["flat", "crowned"],
)
def test_solids_have_the_holes(face: Face, edge: Edge) -> None:
    """Solids must pass the gate; an independent reader must count two holes through, and one blind.

    Source: trimesh; Euler number 2 - 2 g with g holes right through.
    """
    scale = scale_with(face, PINS, edge)
    volumes = scale_volumes(scale)
    solids = scale_solids(scale, volumes)
    mesh = trimesh.Trimesh(*mesh_shape(solids.finished_right.whole, 0.03), process=False)
    assert mesh.is_watertight
    assert mesh.euler_number == 2 - 2 * 2
    assert volume_mm3(solids.finished_right.whole) == pytest.approx(
        sum(volumes.finished_mm3.values()), rel=1e-6
    )
    liner, _, top = (trimesh.Trimesh(*mesh_shape(layer.shape, 0.03)) for layer in solids.finished_left.layers)
    assert liner.euler_number == 2 - 2 * 3
    assert top.euler_number == 2 - 2 * 2
