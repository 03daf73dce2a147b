"""A liner that stands proud of the scale or is set in, held against closed forms and independent readers.

Area of a parallel curve: Steiner's formula, A + P d + pi d^2 for a convex outline of area A and perimeter P,
inwards too while no arc is used up (any text on integral geometry). The outline here is straight where the
front crosses it squarely; mirrored across the front line it is a whole convex outline, so half of the formula
holds behind the front, with P counted without the front itself.
"""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh

from scalegen.design import Scale, design
from scalegen.export import WRITERS
from scalegen.export.outputs import outputs
from scalegen.form.storeys import storeys_of
from scalegen.form.volumes import Volumes, scale_volumes
from scalegen.model import Crown, Edge, Face, Front, JobSpec, Liner, OutlineSource, Pattern, PinSpec
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack
from scalegen.solids.scales import ScaleSolids, scale_solids

SHOP = load_shop(None)
FRONT_MM, BUTT_MM, HALF_MM = 20.0, 90.0, 12.0
STADIUM = Ring(np.array([[0.0, -12, 0], [BUTT_MM, -12, 1], [BUTT_MM, 12, 0], [0, 12, 0]]))
LINER_MM, FILM_MM, THICK_MM = 0.8, 0.1, 6.2
PIN_MM = 3.2
STEPS = (0.6, -0.6)
PATTERN = Pattern(
    name="stadium",
    title="Stadium",
    units="mm",
    path=Path("stadium.toml"),
    outline=OutlineSource(rows=tuple(map(tuple, STADIUM.rows.tolist()))),
    tang_mm=3.0,
    front=Front(
        at_mm=FRONT_MM,
        angle_rad=math.pi / 2,
        treatment="bevel",
        slope_rad=math.radians(45),
        land_mm=1.2,
        allowance_mm=0.3,
    ),
    thickness_mm=THICK_MM,
    edge=Edge(treatment="round", size_mm=2.0),
    trim_mm=0.5,
    back_allowance_mm=0.1,
    pins=(PinSpec(at_mm=(50.0, 1.0), diameter_mm=3.0, hole_mm=PIN_MM),),
)


def scale_with(step_mm: float, pattern: Pattern = PATTERN) -> Scale:
    """The stadium with a stepped liner."""
    stepped = replace(pattern, liner=Liner(step_mm=step_mm))
    return design(stepped, STADIUM, resolve_stack(SHOP, "paper-six"), SHOP)


def behind_mm2(distance_mm: float, ahead_mm: float = 0.0) -> float:
    """Area behind the front of the parallel curve, by half of Steiner's formula; less the pin's hole."""
    straight = BUTT_MM - FRONT_MM + ahead_mm
    area = straight * 2 * HALF_MM + math.pi * HALF_MM**2 / 2
    perimeter = 2 * straight + math.pi * HALF_MM
    return area + perimeter * distance_mm + math.pi * distance_mm**2 / 2 - math.pi * PIN_MM**2 / 4


@pytest.fixture(scope="module", params=STEPS)
def built(request: pytest.FixtureRequest) -> tuple[Scale, Volumes, ScaleSolids]:
    """A proud liner and one set in, as solids that have passed the gate."""
    scale = scale_with(request.param)
    volumes = scale_volumes(scale)
    return scale, volumes, scale_solids(scale, volumes)


@pytest.fixture(scope="module")
def files(built: tuple[Scale, Volumes, ScaleSolids], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Their files."""
    scale, _, solids = built
    folder = tmp_path_factory.mktemp("stepped")
    for output in outputs(scale, solids, (), JobSpec(formats=("step", "stl"))):
        WRITERS[output.format](folder / output.name, output.content)
    return folder


@pytest.mark.parametrize("step_mm", [*STEPS, 2.0, -3.0])
def test_liner_volumes_by_steiner(step_mm: float) -> None:
    """Finished and as cut the liner must be Steiner's area times its height, and the film the scale's own.

    As cut a proud liner has the trim allowance outside it too, one set in has none; both the front allowance.
    """
    volumes = scale_volumes(scale_with(step_mm))
    trim = PATTERN.trim_mm if step_mm > 0 else 0.0
    finished, film, _ = volumes.finished_mm3.values()
    assert finished == pytest.approx(behind_mm2(step_mm) * (LINER_MM - 0.1), rel=1e-9)
    assert film == pytest.approx(behind_mm2(0.0) * FILM_MM, rel=1e-9)
    as_cut, film, _ = volumes.as_cut_mm3.values()
    assert as_cut == pytest.approx(behind_mm2(step_mm + trim, 0.3) * LINER_MM, rel=1e-9)
    assert film == pytest.approx(behind_mm2(PATTERN.trim_mm, 0.3) * FILM_MM, rel=1e-9)


@pytest.mark.parametrize(
    ("kind", "is_crowned"), [("finished_mm3", False), ("as_cut_mm3", False), ("as_cut_mm3", True)]
)
def test_what_stands_on_the_liner_is_as_without_a_step(kind: str, *, is_crowned: bool) -> None:
    """Steps either way must leave the layers above alone, on a flat face and on a crown."""
    pattern = PATTERN
    if is_crowned:
        pattern = replace(PATTERN, face=Face(crown=Crown(radius_mm=60.0)), edge=Edge())
    plain = design(pattern, STADIUM, resolve_stack(SHOP, "paper-six"), SHOP)
    without, proud, inset = (
        list(getattr(scale_volumes(scale), kind).values())
        for scale in (plain, *(scale_with(step_mm, pattern) for step_mm in STEPS))
    )
    assert proud[1:] == pytest.approx(inset[1:], rel=1e-9)
    assert proud[1:] == pytest.approx(without[1:], rel=1e-7)
    assert inset[0] < without[0] < proud[0]


def section_mm2(mesh: trimesh.Trimesh, z_mm: float) -> float:
    """Area of a level section, from trimesh's segments put together by shapely."""
    segments = trimesh.intersections.mesh_plane(mesh, [0, 0, 1], [0, 0, z_mm])
    rounded = np.round(np.asarray(segments)[:, :, :2], 6)
    # The pin's hole comes back as a part of its own, and as a hole in the other.
    return float(max(part.area for part in shapely.polygonize(shapely.linestrings(rounded)).geoms))


def test_mesh_by_trimesh(files: Path, built: tuple[Scale, Volumes, ScaleSolids]) -> None:
    """The file of the whole scale must be one closed body with one hole, and the liner's area in its section.

    Chords of the butt's arc fall short of it by no more than the mesh's tolerance, 0.02 mm, times its length.
    """
    scale, volumes, _ = built
    assert scale.stepped is not None
    step = scale.stepped.step_mm
    mesh = trimesh.load_mesh(files / "stadium-left.stl")
    mesh.merge_vertices(digits_vertex=5)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 0
    assert mesh.body_count == 1
    short = 0.02 * math.pi * (HALF_MM + 2.0)
    assert mesh.volume == pytest.approx(sum(volumes.as_cut_mm3.values()), abs=short * THICK_MM)
    for height, distance in ((0.3, step + (0.5 if step > 0 else 0.0)), (0.75, 0.5)):
        assert section_mm2(mesh, height) == pytest.approx(behind_mm2(distance, 0.3), abs=short)
    low, high = mesh.bounds
    reach = HALF_MM + max(0.5, step + 0.5)
    assert (*low, *high) == pytest.approx(
        (FRONT_MM - 0.3, -reach, -0.1, BUTT_MM + reach, reach, THICK_MM), abs=0.02
    )


def test_layers_by_cadquery(files: Path, built: tuple[Scale, Volumes, ScaleSolids]) -> None:
    """Read by cadquery, each layer must be at its height, as wide as stated and of its volume."""
    from cadquery import importers

    scale, volumes, _ = built
    assert scale.stepped is not None
    solids = importers.importStep(str(files / "stadium-left.step")).solids().vals()
    by_height: list[Any] = sorted(solids, key=lambda solid: solid.BoundingBox().zmin)
    assert len(by_height) == 3
    wide = scale.stepped.as_cut.bounds_mm[3]
    half = HALF_MM + PATTERN.trim_mm
    for solid, volume, (low, high, reach) in zip(
        by_height,
        volumes.as_cut_mm3.values(),
        ((-0.1, 0.7, wide), (0.7, 0.8, half), (0.8, THICK_MM, half)),
        strict=True,
    ):
        assert solid.isValid()
        assert solid.Volume() == pytest.approx(volume, rel=1e-6)
        box = solid.BoundingBox()
        assert (box.zmin, box.zmax, box.ymax) == pytest.approx((low, high, reach), abs=1e-4)


@pytest.mark.parametrize("step_mm", STEPS)
def test_a_crowned_scale_on_a_stepped_liner(step_mm: float) -> None:
    """Under a crown and a rounded bevel the whole must pass the gate and be closed in one piece. Trimesh."""
    from scalegen.solids.mesh import mesh_shape

    front = replace(PATTERN.front, land_mm=0.8, top_radius_mm=1.0)
    crowned = replace(PATTERN, face=Face(crown=Crown(radius_mm=70.0)), edge=Edge(), front=front)
    scale = scale_with(step_mm, crowned)
    solids = scale_solids(scale, scale_volumes(scale))
    for body, finished in ((solids.finished_left, True), (solids.as_cut_right, False)):
        mesh = trimesh.Trimesh(*mesh_shape(body.whole, 0.02), process=False)
        assert mesh.is_watertight
        assert (mesh.euler_number, mesh.body_count) == (0, 1)
        foot, _ = storeys_of(scale, finished=finished)
        assert mesh.bounds[1][1] == pytest.approx(
            max(foot.plan.base.bounds_mm[3], HALF_MM + (0.0 if finished else 0.5)), abs=1e-3
        )
