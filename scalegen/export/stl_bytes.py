"""Triangles as a binary STL file. The format has no unit and no names: both stand in the header.

Source of the layout: 80 bytes of header, a 32-bit count, then 50 bytes a triangle (normal, three corners
as 32-bit floats, two spare bytes), little-endian; as commonly documented, from memory.
"""

import numpy as np

from scalegen import __version__
from scalegen.errors import WriteError
from scalegen.model import Units
from scalegen.outline.ring import FloatArray

_MM_PER_UNIT = {"mm": 1.0, "in": 25.4}
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])


def stl_bytes(corners_mm: FloatArray, units: Units, *, tolerance_mm: float, where: str) -> bytes:
    """The file for triangles.

    Args:
        corners_mm: float64 (t, 3 corners, 3) in mm, counter-clockwise seen from outside.
        units: Unit of the numbers in the file.
        tolerance_mm: Stated in the header; what the triangles were made with.
        where: File named in errors.

    Raises:
        WriteError: No triangles, or a coordinate that is not finite.
    """
    if not len(corners_mm) or not np.isfinite(corners_mm).all():
        raise WriteError("the mesh is empty or has a corner that is not a number", where=where)
    corners = corners_mm / _MM_PER_UNIT[units]
    records = np.zeros(len(corners), dtype=_RECORD)
    records["normal"] = _normals(corners)
    records["corners"] = corners
    # A header that begins with "solid" would be taken for the text form.
    header = f"scalegen {__version__} binary STL, unit {units}, within {tolerance_mm:g} mm".encode("ascii")
    count: bytes = np.array(len(corners), dtype="<u4").tobytes()
    return header.ljust(80)[:80] + count + records.tobytes()


def _normals(corners: FloatArray) -> FloatArray:
    """Unit normals (t, 3) of triangles (t, 3 corners, 3); 0 where a triangle has no area."""
    cross: FloatArray = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length: FloatArray = np.linalg.norm(cross, axis=1, keepdims=True)
    unit: FloatArray = np.divide(cross, length, out=np.zeros_like(cross), where=length > 0)
    return unit
