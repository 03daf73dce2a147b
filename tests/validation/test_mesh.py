"""Meshes against closed forms, the exact surface, and an independent mesh package (trimesh)."""

import struct
from math import acos, ceil, pi
from pathlib import Path

import numpy as np
import pytest
import trimesh
from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakeTorus,
)
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Shape

from scalegen.errors import GeometryError, WriteError
from scalegen.export import WRITERS, Content
from scalegen.export.stl import Mesh, deviation_mm, mesh_shape, place_mesh, write_stl
from scalegen.model import Units
from scalegen.solids.parts import Instance, Part, Solid

RADIUS_MM = 3.2639 / 2


def plate(holes: int) -> TopoDS_Shape:
    """100 x 25 x 6.35 mm with a row of holes."""
    shape = BRepPrimAPI_MakeBox(100.0, 25.0, 6.35).Shape()
    for x in np.linspace(15, 85, holes).tolist():
        tool = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(x, 12.5, -1), gp_Dir(0, 0, 1)), RADIUS_MM, 9).Shape()
        shape = BRepAlgoAPI_Cut(shape, tool).Shape()
    return shape


def plate_volume_mm3(holes: int) -> float:
    """Closed form of its volume."""
    return (100 * 25 - holes * pi * RADIUS_MM**2) * 6.35


def as_trimesh(path: Path) -> trimesh.Trimesh:
    """The file as trimesh reads it, corners merged at 1e-5."""
    mesh = trimesh.load_mesh(path)
    mesh.merge_vertices(digits_vertex=5)
    return mesh


@pytest.mark.parametrize("holes", [0, 1, 2, 5])
def test_shape_of_the_plate(holes: int) -> None:
    """V - E + F = 2 - 2 g with g through holes, and every edge used once each way (textbook topology)."""
    mesh = mesh_shape(plate(holes), 0.02)
    one_way = {(a, b) for row in mesh.triangles.tolist() for a, b in zip(row, row[1:] + row[:1], strict=True)}
    assert len(one_way) == 3 * len(mesh.triangles)
    assert one_way == {(b, a) for a, b in one_way}
    assert len(mesh.vertices) - len(one_way) // 2 + len(mesh.triangles) == 2 - 2 * holes
    assert len(np.unique(mesh.vertices, axis=0)) == len(mesh.vertices)


@pytest.mark.parametrize("tolerance_mm", [0.05, 0.02, 0.005])
@pytest.mark.parametrize("name", ["plate", "torus", "cone"])
def test_tolerance_is_kept_against_the_exact_surface(name: str, tolerance_mm: float) -> None:
    """No sample may be further from the exact surface than asked, and the mesh must be closed."""
    shape = {
        "plate": lambda: plate(2),
        "torus": lambda: BRepPrimAPI_MakeTorus(4.0, 1.5).Shape(),
        "cone": lambda: BRepPrimAPI_MakeCone(5.0, 0.0, 10.0).Shape(),
    }[name]()
    mesh = mesh_shape(shape, tolerance_mm)
    assert 0 < deviation_mm(shape, mesh, 100) <= tolerance_mm + 1e-9
    assert trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False).is_watertight


def test_cylinder_against_the_facet_formula() -> None:
    """A round needs pi / acos(1 - tol / r) facets; the mesh must have them, and its volume must fit.

    Closed form: a cylinder's wall with n even facets misses pi r^2 - n r^2 sin(2 pi / n) / 2 of its area.
    """
    mesh = mesh_shape(BRepPrimAPI_MakeCylinder(6.35, 10.0).Shape(), 0.01)
    facets = int((np.abs(np.hypot(*mesh.vertices[:, :2].T) - 6.35) < 1e-9).sum()) // 2
    assert facets >= ceil(pi / acos(1 - 0.01 / 6.35)) == 56
    volume = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False).volume
    assert volume == pytest.approx(10 * facets * 6.35**2 * np.sin(2 * pi / facets) / 2, rel=1e-9)


def test_finer_mesh_from_before_is_not_kept() -> None:
    """A coarse mesh of a shape that carries a fine one must be coarse, and the fine one must stay there."""
    shape = plate(2)
    BRepMesh_IncrementalMesh(shape, 0.0005, False, 0.05, False)
    assert len(mesh_shape(shape, 0.05).triangles) == len(mesh_shape(plate(2), 0.05).triangles)
    face = TopoDS.Face_s(TopExp_Explorer(shape, TopAbs_FACE).Current())
    assert BRep_Tool.Triangulation_s(face, TopLoc_Location()) is not None


def test_moved_shape_is_meshed_where_it_stands() -> None:
    """A shape with a location of its own must be meshed in place, within the tolerance."""
    move = gp_Trsf()
    move.SetTranslation(gp_Vec(30.0, -20.0, 5.0))
    shape = plate(1).Located(TopLoc_Location(move))
    mesh = mesh_shape(shape, 0.02)
    np.testing.assert_allclose(mesh.vertices.min(axis=0), [30, -20, 5], atol=1e-9)
    assert deviation_mm(shape, mesh, 50) <= 0.02


def test_deviation_sees_a_bad_mesh() -> None:
    """The measure itself must notice a mesh that is 0.1 mm off, inwards as well as outwards."""
    mesh = mesh_shape(plate(0), 0.02)
    for lift in (0.1, -0.1):
        moved = Mesh(mesh.vertices + np.array([0, 0, lift]), mesh.triangles)
        assert deviation_mm(plate(0), moved) == pytest.approx(0.1, abs=1e-9)


@pytest.mark.parametrize("tolerance_mm", [0.0, -1.0, float("nan")])
def test_senseless_tolerance_is_refused(tolerance_mm: float) -> None:
    """A tolerance that is not above 0 must be refused."""
    with pytest.raises(GeometryError, match="tolerance"):
        mesh_shape(plate(0), tolerance_mm)


@pytest.mark.parametrize(("units", "mm"), [("mm", 1.0), ("in", 25.4)])
def test_file_layout_and_volume(tmp_path: Path, units: Units, mm: float) -> None:
    """84 + 50 n bytes, a header that tells unit and tolerance, and the volume that trimesh finds.

    One inch is 25.4 mm. The polygon in each hole is smaller than the circle, so the volume lies above the
    closed form, by at most wall area times tolerance.
    """
    path = tmp_path / "a.stl"
    part = Part(name="left", solids=[Solid(name="face", color="#336699", shape=plate(2))])
    instance = Instance(part="left", label="1L", x_mm=50, y_mm=40, angle_rad=1.0, flipped=True)
    content = Content(product="x", parts=[part], instances=[instance], units=units, tolerance_mm=0.01)
    WRITERS["stl"](path, content)
    data = path.read_bytes()
    (count,) = struct.unpack("<I", data[80:84])
    assert len(data) == 84 + 50 * count
    assert data.startswith(f"scalegen 0.1.0 binary STL, unit {units}, within 0.01 mm".encode())
    mesh = as_trimesh(path)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 2 - 2 * 2
    extra = mesh.volume * mm**3 - plate_volume_mm3(2)
    assert 0 < extra < 2 * (2 * pi * RADIUS_MM * 6.35) * 0.01
    low, high = mesh.bounds * mm
    assert (low[2], high[2]) == pytest.approx((-6.35, 0.0), abs=1e-5)
    normals = np.frombuffer(data[84:], dtype=np.dtype([("n", "<f4", 3), ("rest", "V38")]))["n"]
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1.0, atol=1e-6)


def test_layers_and_instances_are_closed_each(tmp_path: Path) -> None:
    """Each solid of each instance must be a closed body of its own in the file."""
    parts = [Part(name="p", solids=[Solid(name=n, color="#000000", shape=plate(1)) for n in ("a", "b")])]
    instances = [Instance(part="p", label=str(n), x_mm=200.0 * n) for n in range(3)]
    content = Content(product="x", parts=parts, instances=instances, tolerance_mm=0.05)
    WRITERS["stl"](tmp_path / "a.stl", content)
    WRITERS["stl"](tmp_path / "b.stl", content)
    assert (tmp_path / "a.stl").read_bytes() == (tmp_path / "b.stl").read_bytes()
    mesh = mesh_shape(plate(1), 0.05)
    assert (tmp_path / "a.stl").stat().st_size == 84 + 50 * 6 * len(mesh.triangles)


def test_turning_over_keeps_the_outside_outside() -> None:
    """Flipping is a turn, not a mirror image: the volume must keep its sign."""
    mesh = place_mesh(mesh_shape(plate(1), 0.05), Instance(part="p", label="i", angle_rad=2.0, flipped=True))
    assert trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False).volume > 0


def test_empty_or_endless_mesh_is_refused(tmp_path: Path) -> None:
    """No triangles, or a corner that is not a number, must not become a file."""
    empty = Mesh(np.empty((0, 3)), np.empty((0, 3), dtype=np.int64))
    endless = Mesh(np.array([[0, 0, 0], [1, 0, 0], [0, np.nan, 0]]), np.array([[0, 1, 2]]))
    for mesh in (empty, endless):
        with pytest.raises(WriteError, match="mesh"):
            write_stl(tmp_path / "a.stl", [mesh], tolerance_mm=0.02)
    assert list(tmp_path.iterdir()) == []
