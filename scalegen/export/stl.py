"""Binary STL files. The format has no unit and no names: both stand in the header.

Source of the layout: 80 bytes of header, a 32-bit count, then 50 bytes a triangle (normal, three corners
as 32-bit floats, two spare bytes), little-endian; as commonly documented, from memory.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from scalegen import __version__
from scalegen.errors import WriteError
from scalegen.export.content import Content, check_parts, instance_matrix
from scalegen.export.files import save_bytes
from scalegen.model import Units
from scalegen.solids.mesh import FloatArray, Mesh, deviation_mm, mesh_shape
from scalegen.solids.parts import Instance, Part

_MM_PER_UNIT = {"mm": 1.0, "in": 25.4}
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])

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
    if not len(corners) or not np.isfinite(corners).all():
        raise WriteError("the mesh is empty or has a corner that is not a number", where=path.name)
    corners = corners / _MM_PER_UNIT[units]
    records = np.zeros(len(corners), dtype=_RECORD)
    records["normal"] = _normals(corners)
    records["corners"] = corners
    # A header that begins with "solid" would be taken for the text form.
    header = f"scalegen {__version__} binary STL, unit {units}, within {tolerance_mm:g} mm".encode("ascii")
    save_bytes(
        path, header.ljust(80)[:80] + np.uint32(len(corners)).astype("<u4").tobytes() + records.tobytes()
    )


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


def _normals(corners: FloatArray) -> FloatArray:
    """Unit normals (t, 3) of triangles (t, 3 corners, 3); 0 where a triangle has no area."""
    cross: FloatArray = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length: FloatArray = np.linalg.norm(cross, axis=1, keepdims=True)
    unit: FloatArray = np.divide(cross, length, out=np.zeros_like(cross), where=length > 0)
    return unit
