"""A blank of any outline as a solid: pulled up, with its holes."""

from collections.abc import Sequence

from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Vec
from OCP.TopoDS import TopoDS_Shape

from scalegen.errors import GeometryError
from scalegen.outline.ring import Ring
from scalegen.solids.kernel import is_valid, plane_face, ring_pieces, volume_mm3, wire_of

_SHARE = 1e-6


def plate(edge: Ring, height_mm: float, holes: Sequence[Ring] = ()) -> TopoDS_Shape:
    """A plate on z = 0.

    Args:
        edge: Its outline.
        height_mm: Its thickness.
        holes: Outlines of holes inside it that go through.

    Raises:
        GeometryError: The solid is not sound, or its volume is not area times thickness.
    """
    wires = []
    for hole in holes:
        wire = wire_of(ring_pieces(hole), 0.0)
        wire.Reverse()
        wires.append(wire)
    face = plane_face(wire_of(ring_pieces(edge), 0.0), 0.0, wires)
    shape: TopoDS_Shape = BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, height_mm)).Shape()
    expected = (edge.area_mm2 - sum(hole.area_mm2 for hole in holes)) * height_mm
    if not is_valid(shape) or abs(volume_mm3(shape) - expected) > _SHARE * abs(expected):
        raise GeometryError(
            "the blank cannot be made into a solid: its outline and holes do not make a sound plate",
            where="sheet",
            remedy="keep holes apart from each other and from the edge, or simplify the outline",
        )
    return shape
