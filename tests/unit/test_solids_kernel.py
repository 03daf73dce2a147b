"""Small steps with the kernel, held against plane and solid geometry from any handbook (from memory)."""

from math import pi, sqrt

import numpy as np
import pytest
from OCP.BRep import BRep_Tool
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakeTorus,
)
from OCP.gp import gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS_Shape

from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import Ring
from scalegen.solids.kernel import (
    cut_away,
    edge_of,
    freeform,
    is_valid,
    loosest_mm,
    middle_mm,
    mirrored,
    plane_face,
    quarter_arc,
    ring_pieces,
    sewn_solid,
    solids_in,
    upright_axis,
    volume_mm3,
    wire_of,
)

STADIUM = Ring.from_rows([(0.0, -9.0, 0.0), (60.0, -9.0, 1.0), (60.0, 9.0, 0.0), (0.0, 9.0, 1.0)])


def length_mm(shape: TopoDS_Shape) -> float:
    """Length of an edge or wire by the kernel."""
    found = GProp_GProps()
    BRepGProp.LinearProperties_s(shape, found)
    return float(found.Mass())


def area_mm2(shape: TopoDS_Shape) -> float:
    """Area of a face by the kernel."""
    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, found)
    return float(found.Mass())


def ends_of(edge: TopoDS_Shape) -> list[tuple[float, float, float]]:
    """First and last point of an edge."""
    points = [BRep_Tool.Pnt_s(vertex(edge)) for vertex in (TopExp.FirstVertex_s, TopExp.LastVertex_s)]
    return [(p.X(), p.Y(), p.Z()) for p in points]


def test_edges_keep_to_their_pieces() -> None:
    """Lines and arcs of both turns must begin, end and measure as their pieces do, at their height."""
    rows = [(0.0, 0.0, 0.2), (10.0, 0.0, -0.3), (10.0, 8.0, 0.0), (0.0, 8.0, 0.9)]
    pieces = pieces_of(Ring.from_rows(rows))
    for k in range(len(pieces)):
        edge = edge_of(pieces, k, 2.5)
        np.testing.assert_allclose(ends_of(edge), [(*pieces.start[k], 2.5), (*pieces.end[k], 2.5)], atol=1e-9)
        assert length_mm(edge) == pytest.approx(pieces.lengths[k], rel=1e-12)


def test_wire_and_face_measure_as_the_ring() -> None:
    """Perimeter and area of a stadium: 2 l + 2 pi r and 2 r l + pi r^2, less what a hole takes."""
    wire = wire_of(ring_pieces(STADIUM), 1.0)
    assert length_mm(wire) == pytest.approx(2 * 60 + 18 * pi, rel=1e-12)
    hole = wire_of(ring_pieces(Ring(np.array([[32.0, 0, 1], [28.0, 0, 1]]))), 1.0)
    hole.Reverse()
    assert area_mm2(plane_face(wire, 1.0)) == pytest.approx(60 * 18 + 81 * pi, rel=1e-12)
    assert area_mm2(plane_face(wire, 1.0, [hole])) == pytest.approx(60 * 18 + 77 * pi, rel=1e-12)


def test_no_piece_turns_further_than_half_round() -> None:
    """An arc of more than half a turn must come in two pieces of the same circle."""
    keyhole = Ring.from_rows([(0.0, -1.0, 0.0), (9.0, -1.0, 2.5), (9.0, 1.0, 0.0), (0.0, 1.0, 0.0)])
    pieces = ring_pieces(keyhole)
    assert len(pieces) == 5
    assert np.abs(pieces.sweep).max() <= pi
    assert pieces.lengths.sum() == pytest.approx(keyhole.perimeter_mm, rel=1e-12)


def test_sewing_needs_every_face() -> None:
    """Six faces of a box must become a solid of its volume; five must become nothing."""
    square = ring_pieces(Ring.from_rows([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]))
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Vec

    walls = [BRepPrimAPI_MakePrism(edge_of(square, k, 0.0), gp_Vec(0, 0, 2)).Shape() for k in range(4)]
    lids = [plane_face(wire_of(square, z), z) for z in (0.0, 2.0)]
    solid = sewn_solid([*walls, *lids])
    assert solid is not None
    assert volume_mm3(solid) == pytest.approx(24.0, rel=1e-12)
    assert sewn_solid([*walls, lids[0]]) is None
    assert sewn_solid([]) is None


@pytest.mark.parametrize(
    ("shape", "want"),
    [
        (BRepPrimAPI_MakeBox(4.0, 3.0, 2.0).Shape(), 24.0),
        (BRepPrimAPI_MakeCylinder(3.0, 7.0).Shape(), 63 * pi),
        (BRepPrimAPI_MakeCone(5.0, 2.0, 4.0).Shape(), pi * 4 / 3 * (25 + 10 + 4)),
        (BRepPrimAPI_MakeTorus(6.0, 1.5).Shape(), 2 * pi**2 * 6 * 1.5**2),
    ],
)
def test_volumes_by_the_handbook(shape: TopoDS_Shape, want: float) -> None:
    """Box, cylinder, frustum and torus, right side out and inside out, and their mirror images."""
    assert volume_mm3(shape) == pytest.approx(want, rel=1e-9)
    assert volume_mm3(shape.Reversed()) == pytest.approx(-want, rel=1e-9)
    assert volume_mm3(mirrored(shape)) == pytest.approx(want, rel=1e-9)
    assert volume_mm3(freeform(shape)) == pytest.approx(want, rel=1e-7)


def test_mirror_image_lies_across() -> None:
    """A mirror image must lie at minus y, and leave the shape itself where it was."""
    box = BRepPrimAPI_MakeBox(gp_Pnt(1, 2, 3), 4.0, 6.0, 8.0).Shape()
    assert middle_mm(mirrored(box)) == pytest.approx((3, -5, 7), abs=1e-9)
    assert middle_mm(box) == pytest.approx((3, 5, 7), abs=1e-9)


def test_cutting_leaves_separate_pieces() -> None:
    """A bar cut through must come as two solids; with no tool it must come as it is."""
    bar = BRepPrimAPI_MakeBox(10.0, 2.0, 2.0).Shape()
    saw = BRepPrimAPI_MakeBox(gp_Pnt(3, -1, -1), 1.0, 4.0, 4.0).Shape()
    assert sorted(volume_mm3(piece) for piece in cut_away(bar, [saw], 1e-5)) == pytest.approx([12.0, 24.0])
    (same,) = cut_away(bar, [], 1e-5)
    assert volume_mm3(same) == pytest.approx(40.0)
    assert len(solids_in(bar)) == 1


def test_soundness_measures() -> None:
    """A box must be valid and as tight as the kernel's own confusion, 1e-7 mm."""
    box = BRepPrimAPI_MakeBox(1.0, 1.0, 1.0).Shape()
    assert is_valid(box)
    assert loosest_mm(box) == pytest.approx(1e-7)


def test_quarter_arc_rises_inwards() -> None:
    """A quarter arc must lead from its foot to straight above its centre, and part of it by its angles."""
    center, inward = np.array([5.0, 1.0]), np.array([0.6, 0.8])
    whole = quarter_arc(center, inward, 4.0, 2.0)
    foot, top = (5 - 1.2, 1 - 1.6, 4.0), (5.0, 1.0, 6.0)
    np.testing.assert_allclose(ends_of(whole), [foot, top], atol=1e-12)
    assert length_mm(whole) == pytest.approx(pi)
    upper = quarter_arc(center, inward, 4.0, 2.0, first_rad=pi / 4)
    half = sqrt(2)
    np.testing.assert_allclose(ends_of(upper), [(5 - 0.6 * half, 1 - 0.8 * half, 4 + half), top], atol=1e-12)


@pytest.mark.parametrize("up", [True, False])
def test_upright_axis(up: bool) -> None:
    """An upright axis must stand on its centre and point where it is told."""
    axis = upright_axis(np.array([3.0, 4.0]), up=up)
    assert (axis.Location().X(), axis.Location().Y()) == (3.0, 4.0)
    assert axis.Direction().Z() == (1.0 if up else -1.0)
