"""Solids as binary STL files."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from scalegen.export.content import Content, check_parts, instance_matrix
from scalegen.export.files import save_bytes
from scalegen.export.stl_bytes import stl_bytes
from scalegen.model import Units
from scalegen.solids.mesh import Mesh, deviation_mm, mesh_shape
from scalegen.solids.parts import Instance, Part

__all__ = ["Mesh", "deviation_mm", "instance_matrix", "mesh_shape", "place_mesh", "place_parts", "write_stl"]


def write_stl(path: Path, meshes: Sequence[Mesh], units: Units = "mm", *, tolerance_mm: float) -> None:
    """Write meshes, in place, into one binary STL file.

    Args:
        path: File to write.
        meshes: Meshes in mm.
        units: Unit of the numbers in the file.
        tolerance_mm: Stated in the header; what the meshes were made with.

    Raises:
        WriteError: No triangles, a coordinate that is not finite, or a file that cannot be written.
    """
    corners = np.vstack([np.empty((0, 3, 3)), *(mesh.vertices[mesh.triangles] for mesh in meshes)])
    save_bytes(path, stl_bytes(corners, units, tolerance_mm=tolerance_mm, where=path.name))


def write(path: Path, content: Content) -> None:
    """Write the mesh form of a content; see :func:`write_stl`."""
    check_parts(content.parts, content.instances, where=path.name)
    meshes = place_parts(content.parts, content.instances, content.tolerance_mm)
    write_stl(path, meshes, content.units, tolerance_mm=content.tolerance_mm)


def place_parts(parts: Sequence[Part], instances: Sequence[Instance], tolerance_mm: float) -> list[Mesh]:
    """Mesh every solid once and put a mesh wherever an instance has it.

    Args:
        parts: The parts.
        instances: Their uses, of parts that are there.
        tolerance_mm: See :func:`mesh_shape`.

    Returns:
        A mesh per instance and solid, in the order of the instances.

    Raises:
        GeometryError: A solid cannot be meshed.
    """
    used = {instance.part for instance in instances}
    made = {
        part.name: [mesh_shape(solid.shape, tolerance_mm) for solid in part.solids]
        for part in parts
        if part.name in used
    }
    return [place_mesh(mesh, instance) for instance in instances for mesh in made[instance.part]]


def place_mesh(mesh: Mesh, instance: Instance) -> Mesh:
    """The mesh where an instance has it: turned over if asked, turned about +z, then moved."""
    move = instance_matrix(instance)
    return Mesh(mesh.vertices @ move[:3, :3].T + move[:3, 3], mesh.triangles)
