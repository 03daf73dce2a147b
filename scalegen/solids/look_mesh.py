"""Solids into what is looked at: triangles with the surface's own normals, and the edges that are sharp."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy
from OCP.BRepLib import BRepLib_ToolTriangulatedShape
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.Poly import Poly_Triangulation
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape
from OCP.TopTools import TopTools_IndexedMapOfShape

from scalegen.design import Scale
from scalegen.solids.look import LOOK_MM, LOOK_RAD, Floats, Looks, Rows, Shown, ShownKind
from scalegen.solids.parts import Solid
from scalegen.solids.scales import Body, ScaleSolids, tang_part

_SHARP_RAD = 0.2
"""Faces that turn less than this at their edge pass for smooth there."""


def looks_of(scale: Scale, solids: ScaleSolids) -> Looks:
    """All that is looked at of one pattern.

    Args:
        scale: What was built.
        solids: Its solids; they are not changed.

    Returns:
        Coloured meshes without the kernel.
    """
    (tang,) = tang_part(scale).solids
    return Looks(
        pattern=scale.pattern.name,
        as_cut=_layers(scale, solids.as_cut_left),
        finished=_layers(scale, solids.finished_left),
        tang=shown_of(tang, "tang"),
    )


def _layers(scale: Scale, body: Body) -> tuple[Shown, ...]:
    return tuple(shown_of(solid, span.kind) for span, solid in zip(scale.spans, body.layers, strict=True))


def shown_of(solid: Solid, kind: ShownKind) -> Shown:
    """One solid as it is looked at.

    Args:
        solid: Solid with its name and colour.
        kind: What it is.
    """
    # A copy: the mesh that a solid may carry stays as it is.
    shape = BRepBuilderAPI_Copy(solid.shape, False, False).Shape()
    BRepTools.Clean_s(shape)
    BRepMesh_IncrementalMesh(shape, LOOK_MM, False, LOOK_RAD, False)
    patches = [patch for patch in map(_patch_of, _inside(shape, TopAbs_FACE)) if patch is not None]
    starts = np.cumsum([0, *(len(patch.nodes) for patch in patches)])
    sizes = [len(patch.corners) for patch in patches]
    return Shown(
        name=solid.name,
        kind=kind,
        color=solid.color,
        vertices=np.vstack([patch.nodes for patch in patches]).astype(np.float32),
        normals=np.vstack([patch.normals for patch in patches]).astype(np.float32),
        triangles=np.vstack(
            [patch.corners + start for patch, start in zip(patches, starts[:-1], strict=True)]
        ).astype(np.int32),
        faces=np.repeat(np.arange(len(patches), dtype=np.int32), sizes),
        edges=_sharp_edges(shape, patches),
    )


def _inside(shape: TopoDS_Shape, kind: object) -> Iterator[TopoDS_Shape]:
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()


@dataclass(frozen=True, kw_only=True, eq=False)
class _Patch:
    """Triangles of one face: nodes (n, 3) in mm, outward unit normals (n, 3), corners (t, 3)."""

    face: TopoDS_Face
    mesh: Poly_Triangulation
    place: TopLoc_Location
    nodes: Floats
    normals: Floats
    corners: Rows


def _patch_of(shape: TopoDS_Shape) -> _Patch | None:
    """A face's triangles; None for a sliver that the kernel leaves without any."""
    face = TopoDS.Face_s(shape)
    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, place)
    if mesh is None:
        return None
    BRepLib_ToolTriangulatedShape.ComputeNormals_s(face, mesh)
    count = range(1, mesh.NbNodes() + 1)
    points, normals = [mesh.Node(i) for i in count], [mesh.Normal(i) for i in count]
    if not place.IsIdentity():
        move = place.Transformation()
        points = [point.Transformed(move) for point in points]
        normals = [normal.Transformed(move) for normal in normals]
    corners = np.array([mesh.Triangle(i).Get() for i in range(1, mesh.NbTriangles() + 1)], dtype=np.int32)
    corners = corners.reshape(-1, 3) - 1
    away = np.array([(n.X(), n.Y(), n.Z()) for n in normals], dtype=np.float32)
    if face.Orientation() == TopAbs_REVERSED:
        corners, away = corners[:, ::-1], -away
    return _Patch(
        face=face,
        mesh=mesh,
        place=place,
        nodes=np.array([(p.X(), p.Y(), p.Z()) for p in points], dtype=np.float32),
        normals=away,
        corners=corners,
    )


def _sharp_edges(shape: TopoDS_Shape, patches: Sequence[_Patch]) -> Floats:
    """Straight pieces (e, 2, 3) of all edges at which two faces meet at an angle."""
    known = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_EDGE, known)
    sides: list[list[tuple[Floats, Floats]]] = [[] for _ in range(known.Size())]
    for patch in patches:
        for found in _inside(patch.face, TopAbs_EDGE):
            edge = TopoDS.Edge_s(found)
            along = BRep_Tool.PolygonOnTriangulation_s(edge, patch.mesh, patch.place)
            if along is not None:
                rows = [along.Node(i) - 1 for i in range(1, along.NbNodes() + 1)]
                sides[known.FindIndex(edge) - 1].append((patch.nodes[rows], patch.normals[rows]))
    pieces = [np.zeros((0, 2, 3), dtype=np.float32)]
    for both in sides:
        if len(both) != 2 or len(both[0][0]) != len(both[1][0]):
            continue
        (points, one), (_, other) = both
        if (np.einsum("ij,ij->i", one, other) < np.cos(_SHARP_RAD)).any():
            pieces.append(np.stack([points[:-1], points[1:]], axis=1))
    return np.concatenate(pieces).astype(np.float32)
