"""Meshes to look at, held against the solids' exact volumes and against trimesh."""

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder

from scalegen.form.volumes import scale_volumes
from scalegen.model import JobSpec
from scalegen.solids.look import LOOK_MM, Shown
from scalegen.solids.look_mesh import looks_of, shown_of
from scalegen.solids.parts import Solid
from scalegen.solids.scales import scale_solids
from scalegen.study import study_pattern

PROFILES = Path(__file__).parents[2] / "profiles"


def closed(shown: Shown) -> trimesh.Trimesh:
    """The mesh with corners in one place made one, by trimesh."""
    mesh = trimesh.Trimesh(shown.vertices.astype(float), shown.triangles, process=False)
    mesh.merge_vertices(merge_tex=True, merge_norm=True, digits_vertex=4)
    mesh.update_faces(mesh.nondegenerate_faces())
    return mesh


@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_layers_are_closed_and_hold_their_volume(name: str) -> None:
    """Every layer is watertight (trimesh), turned outwards, and within the mesh's tolerance of its volume."""
    scale = study_pattern(PROFILES / f"{name}.toml", JobSpec()).scale
    volumes = scale_volumes(scale)
    looks = looks_of(scale, scale_solids(scale, volumes))
    for layers, exact in ((looks.as_cut, volumes.as_cut_mm3), (looks.finished, volumes.finished_mm3)):
        assert [layer.kind for layer in layers] == [span.kind for span in scale.spans]
        for layer in layers:
            mesh = closed(layer)
            assert mesh.is_watertight
            assert abs(mesh.volume - exact[layer.name]) < LOOK_MM * mesh.area
            assert mesh.volume > 0
            corners = layer.vertices[layer.triangles].astype(float)
            across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
            ways = np.einsum("ij,ij->i", across, layer.normals[layer.triangles].mean(axis=1))
            assert (ways > -1e-6).all()


def test_normals_and_sharp_edges_of_a_cylinder() -> None:
    """Of a cylinder the normals are exact on the wall, and just its two rims are sharp (2 pi r each)."""
    shape = BRepPrimAPI_MakeCylinder(5.0, 8.0).Shape()
    shown = shown_of(Solid(name="pin", color="#c0c0c0", shape=shape), "hardware")
    level = np.abs(shown.normals[:, 2]) > 0.5
    wall = shown.vertices[~level]
    assert shown.normals[~level][:, :2] == pytest.approx(wall[:, :2] / 5.0, abs=1e-5)
    assert np.abs(shown.normals[level][:, 2]) == pytest.approx(1.0)
    long = np.linalg.norm(shown.edges[:, 1] - shown.edges[:, 0], axis=1).sum()
    assert long == pytest.approx(2 * 2 * math.pi * 5.0, rel=0.005)
    assert set(np.unique(shown.edges[..., 2]).tolist()) == {0.0, 8.0}
