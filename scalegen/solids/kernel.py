"""Small steps with the CAD kernel that the builders share. Everything that loads the kernel is below here."""

import math
from collections.abc import Iterable, Sequence

import numpy as np
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_NurbsConvert,
    BRepBuilderAPI_Sewing,
    BRepBuilderAPI_Transform,
)
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.BRepLib import BRepLib
from OCP.gp import gp_Ax1, gp_Ax2, gp_Circ, gp_Dir, gp_Pln, gp_Pnt, gp_Trsf, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.ShapeFix import ShapeFix_ShapeTolerance
from OCP.TopAbs import TopAbs_EDGE, TopAbs_SHELL, TopAbs_SOLID, TopAbs_VERTEX
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape, TopoDS_Solid, TopoDS_Wire
from OCP.TopTools import TopTools_IndexedMapOfShape, TopTools_ListOfShape

from scalegen.outline.pieces import Pieces, pieces_of
from scalegen.outline.ring import FloatArray, Ring

SEW_MM = 1e-6
DIGITS_SHARE = 1e-9
_CORNER_MM = 1e-4


def point(xy: FloatArray, z_mm: float) -> gp_Pnt:
    """A kernel point from x, y (2,) and a height."""
    return gp_Pnt(float(xy[0]), float(xy[1]), z_mm)


def edge_of(pieces: Pieces, index: int, z_mm: float) -> TopoDS_Edge:
    """One line or arc at a height, in its own direction; arcs by centre and angles, never through points."""
    sweep = float(pieces.sweep[index])
    if sweep == 0:
        return BRepBuilderAPI_MakeEdge(
            point(pieces.start[index], z_mm), point(pieces.end[index], z_mm)
        ).Edge()
    way = 1.0 if sweep > 0 else -1.0
    frame = gp_Ax2(point(pieces.center[index], z_mm), gp_Dir(0, 0, way), gp_Dir(1, 0, 0))
    first = way * float(pieces.first[index])
    circle = gp_Circ(frame, float(pieces.radius[index]))
    return BRepBuilderAPI_MakeEdge(circle, first, first + abs(sweep)).Edge()


def wire_of(pieces: Pieces, z_mm: float) -> TopoDS_Wire:
    """Pieces that follow each other, as one closed wire at a height."""
    maker = BRepBuilderAPI_MakeWire()
    for index in range(len(pieces)):
        maker.Add(edge_of(pieces, index, z_mm))
    return maker.Wire()


def plane_face(outer: TopoDS_Wire, z_mm: float, holes: Iterable[TopoDS_Wire] = ()) -> TopoDS_Face:
    """A level face within a wire; hole wires run the other way round."""
    maker = BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(0, 0, z_mm), gp_Dir(0, 0, 1)), outer, True)
    for hole in holes:
        maker.Add(hole)
    return maker.Face()


def ring_pieces(ring: Ring) -> Pieces:
    """Segments of a ring as pieces that the kernel can take."""
    return within_half_turns(pieces_of(ring))


def within_half_turns(pieces: Pieces) -> Pieces:
    """Pieces of which none turns further than half round, as the kernel needs them."""
    wide = np.flatnonzero(np.abs(pieces.sweep) > math.pi)
    return pieces.cut(wide, np.full(len(wide), 0.5))


def sewn_solid(faces: Sequence[TopoDS_Shape]) -> TopoDS_Solid | None:
    """The solid that faces enclose, turned right side out; None when they leave a gap."""
    sewing = BRepBuilderAPI_Sewing(SEW_MM)
    for face in faces:
        sewing.Add(face)
    sewing.Perform()
    if sewing.NbFreeEdges() or sewing.NbMultipleEdges():
        return None
    explorer = TopExp_Explorer(sewing.SewedShape(), TopAbs_SHELL)
    if not explorer.More():
        return None
    solid = TopoDS_Solid()
    builder = BRep_Builder()
    builder.MakeSolid(solid)
    builder.Add(solid, TopoDS.Shell_s(explorer.Current()))
    BRepLib.OrientClosedSolid_s(solid)
    return solid


def solids_in(shape: TopoDS_Shape) -> list[TopoDS_Solid]:
    """All solids of a shape."""
    found = []
    explorer = TopExp_Explorer(shape, TopAbs_SOLID)
    while explorer.More():
        found.append(TopoDS.Solid_s(explorer.Current()))
        explorer.Next()
    return found


def _listed(shapes: Iterable[TopoDS_Shape]) -> TopTools_ListOfShape:
    listed = TopTools_ListOfShape()
    for shape in shapes:
        listed.Append(shape)
    return listed


def cut_away(body: TopoDS_Shape, tools: Sequence[TopoDS_Shape], fuzz_mm: float) -> list[TopoDS_Solid]:
    """Solids left of a body when tools are taken away, all in one go.

    Args:
        body: What is cut.
        tools: What is taken away.
        fuzz_mm: Distance within which the kernel takes things as coinciding.
    """
    if not tools:
        return solids_in(body)
    operation = BRepAlgoAPI_Cut()
    operation.SetArguments(_listed([body]))
    operation.SetTools(_listed(tools))
    operation.SetFuzzyValue(fuzz_mm)
    operation.SetRunParallel(False)
    operation.Build()
    if not operation.IsDone():
        return []
    # Beside a sliver of a face the kernel blows a corner up although all edges end there sharply. It is
    # cut back; should the edges need the room after all, the kernel's own check finds the solid invalid.
    ShapeFix_ShapeTolerance().LimitTolerance(operation.Shape(), 0.0, _CORNER_MM, TopAbs_VERTEX)
    return solids_in(operation.Shape())


def freeform(shape: TopoDS_Shape) -> TopoDS_Shape:
    """The same shape with all its surfaces as rational B-splines, which hold cones and tori exactly.

    The kernel then cuts in another way: slower, but where two cones meet at a low angle it keeps to both
    surfaces, and its way for cones proper misses them by microns.
    """
    return BRepBuilderAPI_NurbsConvert(shape, True).Shape()


def volume_mm3(shape: TopoDS_Shape, share: float = DIGITS_SHARE) -> float:
    """Volume by the kernel to a share of itself, negative inside out.

    By adaptive Gauss-Kronrod quadrature, the one of the kernel's ways that is right on free-form faces too.
    """
    properties = GProp_GProps()
    BRepGProp.VolumePropertiesGK_s(shape, properties, share, True, False, False, False, False)
    return float(properties.Mass())


def middle_mm(shape: TopoDS_Shape) -> FloatArray:
    """Mean (3,) of a shape's vertices, good enough to tell where a piece lies."""
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_VERTEX, found)
    points = [BRep_Tool.Pnt_s(TopoDS.Vertex_s(found.FindKey(k))) for k in range(1, found.Size() + 1)]
    middle: FloatArray = np.array([(p.X(), p.Y(), p.Z()) for p in points]).mean(axis=0)
    return middle


def is_valid(shape: TopoDS_Shape) -> bool:
    """The kernel's own opinion, which is not proof."""
    return bool(BRepCheck_Analyzer(shape).IsValid())


def loosest_mm(shape: TopoDS_Shape) -> float:
    """Largest tolerance of any edge or vertex: how far the kernel lets faces miss each other."""
    edges, vertices = TopTools_IndexedMapOfShape(), TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_EDGE, edges)
    TopExp.MapShapes_s(shape, TopAbs_VERTEX, vertices)
    found = [TopoDS.Edge_s(edges.FindKey(k)) for k in range(1, edges.Size() + 1)]
    ends = [TopoDS.Vertex_s(vertices.FindKey(k)) for k in range(1, vertices.Size() + 1)]
    loose = [BRep_Tool.Tolerance_s(shape) for shape in (*found, *ends)]
    return max(loose, default=0.0)


def mirrored(shape: TopoDS_Shape) -> TopoDS_Shape:
    """A true mirror image across the plane y = 0."""
    flip = gp_Trsf()
    flip.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(0, 1, 0)))
    return BRepBuilderAPI_Transform(shape, flip, True).Shape()


def upright_axis(center: FloatArray, *, up: bool = True) -> gp_Ax1:
    """A vertical axis through a point (2,), pointing up or down."""
    return gp_Ax1(gp_Pnt(float(center[0]), float(center[1]), 0), gp_Dir(0, 0, 1.0 if up else -1.0))


def quarter_arc(
    center: FloatArray,
    inward: FloatArray,
    z_mm: float,
    radius_mm: float,
    *,
    first_rad: float = 0.0,
    last_rad: float = math.pi / 2,
) -> TopoDS_Edge:
    """An upright arc that starts level with its centre, on the outer side, and rises towards ``inward``.

    Args:
        center: (2,) mm.
        inward: (2,) unit direction from the foot towards the centre.
        z_mm: Height of the centre.
        radius_mm: Radius.
        first_rad: Where it begins, 0 at the foot.
        last_rad: Where it ends, pi/2 straight above the centre.
    """
    outward = gp_Vec(float(-inward[0]), float(-inward[1]), 0)
    across = outward.Crossed(gp_Vec(0, 0, 1))
    frame = gp_Ax2(point(center, z_mm), gp_Dir(across), gp_Dir(outward))
    return BRepBuilderAPI_MakeEdge(gp_Circ(frame, radius_mm), first_rad, last_rad).Edge()


def vector(xy: FloatArray, z_mm: float = 0.0) -> gp_Vec:
    """A kernel vector from x, y (2,) and z."""
    return gp_Vec(float(xy[0]), float(xy[1]), z_mm)
