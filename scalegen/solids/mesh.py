"""Solids as triangles that stay within a stated distance of the true surface."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy, BRepBuilderAPI_MakeVertex
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_Cone, GeomAbs_Cylinder, GeomAbs_Plane, GeomAbs_Torus
from OCP.GeomAPI import GeomAPI_ProjectPointOnSurf
from OCP.gp import gp_Ax3, gp_Pnt
from OCP.Poly import Poly_Triangulation
from OCP.TopAbs import (
    TopAbs_EDGE,
    TopAbs_FACE,
    TopAbs_REVERSED,
    TopAbs_ShapeEnum,
    TopAbs_SHELL,
    TopAbs_VERTEX,
)
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape, TopoDS_Vertex
from OCP.TopTools import TopTools_IndexedMapOfShape

from scalegen.errors import GeometryError

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_START = 0.8  # the kernel overshoots a little at times, so it is asked for somewhat less
_ANGLE_RAD = 0.4
_TRIES = 8
_BARE = "the kernel left a face without triangles"
# Chord error in mm and angle in rad: a sliver that the kernel fails to mesh one way it meshes another.
_ROUGH = ((0.1, 0.4), (0.02, 0.4), (0.05, 0.3), (0.01, 0.2), (0.004, 0.4))


class Mesh(NamedTuple):
    """Triangles that share their corners.

    Attributes:
        vertices: float64 (v, 3) in mm; no corner is there twice.
        triangles: int64 (t, 3) rows of ``vertices``, counter-clockwise seen from outside.
    """

    vertices: FloatArray
    triangles: IntArray


def mesh_shape(shape: TopoDS_Shape, tolerance_mm: float) -> Mesh:
    """Mesh a solid so that no triangle is further from the true surface than asked.

    Args:
        shape: Kernel solid, or a compound of solids that do not touch, in mm. It is not changed, and a
            mesh it may carry is not used.
        tolerance_mm: Largest distance between triangles and surface, above 0.

    Returns:
        The mesh; closed for every closed shell, because neighbours share the corners on their edge.

    Raises:
        GeometryError: The tolerance is not above 0, the kernel leaves a face without triangles, or the
            distance cannot be kept.
    """
    if not tolerance_mm > 0:
        raise GeometryError(f"a mesh tolerance of {tolerance_mm} mm is not above 0")
    copy = BRepBuilderAPI_Copy(shape, False, False).Shape()
    asked_mm = _START * tolerance_mm
    off_mm, angle_rad = np.inf, _ANGLE_RAD
    for _ in range(_TRIES):
        patches = _patches(copy, asked_mm, angle_rad)
        if patches is None:
            asked_mm, angle_rad = 0.7 * asked_mm, 0.8 * angle_rad
            continue
        off_mm = max((patch.deviation_mm(tolerance_mm) for patch in patches), default=0.0)
        if off_mm > tolerance_mm:
            asked_mm *= min(0.9, 0.9 * tolerance_mm / off_mm)
            continue
        mesh = _gathered(copy, patches)
        if is_closed(mesh):
            return mesh
        asked_mm *= 0.3  # chords across a sliver of a face cross until they are short enough
    if off_mm <= tolerance_mm:
        raise GeometryError("the mesh does not close")
    if off_mm == np.inf:
        raise GeometryError(_BARE)
    raise GeometryError(
        f"the mesh stays {off_mm:.4f} mm off the surface",
        remedy=f"ask for a mesh tolerance above {off_mm:.3f} mm",
    )


def rough_mesh(shape: TopoDS_Shape) -> tuple[Mesh, float]:
    """A quick mesh for looking at a solid, and the chord error in mm it was asked for (not verified)."""
    copy = BRepBuilderAPI_Copy(shape, False, False).Shape()
    mesh = Mesh(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    bare = True
    for asked_mm, angle_rad in _ROUGH:
        patches = _patches(copy, asked_mm, angle_rad)
        if patches is None:
            continue
        bare = False
        mesh = _gathered(copy, patches)
        if is_closed(mesh):
            break
    if bare:
        raise GeometryError(_BARE)
    return mesh, asked_mm


def _patches(shape: TopoDS_Shape, asked_mm: float, angle_rad: float) -> "list[_Patch] | None":
    """The faces of a solid, meshed afresh; None where the kernel leaves one without triangles."""
    BRepTools.Clean_s(shape)  # else a finer mesh from before would stay
    # Not relative to the size of edges, which would loosen the distance.
    BRepMesh_IncrementalMesh(shape, asked_mm, False, angle_rad, False)
    patches = [_Patch.of(face) for face in _inside(shape, TopAbs_FACE)]
    return None if None in patches else [patch for patch in patches if patch is not None]


def is_closed(mesh: Mesh) -> bool:
    """Whether every edge of the mesh is used exactly once each way."""
    t = mesh.triangles
    if not len(t):
        return False
    edges = np.vstack([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]])
    count = len(mesh.vertices)
    there = np.sort(edges[:, 0] * count + edges[:, 1])
    back = np.sort(edges[:, 1] * count + edges[:, 0])
    return bool((there[1:] != there[:-1]).all() and (there == back).all())


def euler_number(mesh: Mesh) -> int:
    """V - E + F of a closed mesh: 2 - 2 g for one body with g holes through it."""
    used = len(np.unique(mesh.triangles))
    return used - 3 * len(mesh.triangles) // 2 + len(mesh.triangles)


def mesh_volume_mm3(mesh: Mesh) -> float:
    """Volume inside a closed mesh, by the divergence theorem."""
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def deviation_mm(shape: TopoDS_Shape, mesh: Mesh, samples: int = 400) -> float:
    """Largest distance of points on the triangles to the exact boundary of a solid.

    Args:
        shape: The solid, in mm.
        mesh: Its mesh.
        samples: About how many triangles are looked at, spread evenly; each at its middle and at the
            middles of its edges.

    Returns:
        Distance in mm. Found by the kernel's search for nearest points, not from the mesh's parameters.
    """
    step = max(1, len(mesh.triangles) // max(1, samples))
    corners = mesh.vertices[mesh.triangles[::step]]  # (k, 3 corners, 3)
    edges = (corners + np.roll(corners, -1, axis=1)) / 2
    points = np.unique(np.vstack([corners.mean(axis=1), edges.reshape(-1, 3)]), axis=0)
    # Only the boundary counts: inside the solid the kernel calls the distance 0.
    shells = list(_inside(shape, TopAbs_SHELL))
    return max(min(_distance_mm(point, shell) for shell in shells) for point in points.tolist())


def _distance_mm(point: Sequence[float], shell: TopoDS_Shape) -> float:
    search = BRepExtrema_DistShapeShape(BRepBuilderAPI_MakeVertex(gp_Pnt(*point)).Vertex(), shell)
    return float(search.Value())


def _inside(shape: TopoDS_Shape, kind: TopAbs_ShapeEnum) -> Iterator[TopoDS_Shape]:
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()


@dataclass(frozen=True, kw_only=True, eq=False)
class _Patch:
    """The triangles of one face: nodes (n, 3) in mm, corners (t, 3) rows of nodes."""

    face: TopoDS_Face
    mesh: Poly_Triangulation
    place: TopLoc_Location
    nodes: FloatArray
    corners: IntArray

    @classmethod
    def of(cls, shape: TopoDS_Shape) -> "_Patch | None":
        """A face's triangles; None where it has none."""
        face = TopoDS.Face_s(shape)
        place = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face, place)
        if mesh is None:
            return None
        points = [mesh.Node(i) for i in range(1, mesh.NbNodes() + 1)]
        if not place.IsIdentity():
            move = place.Transformation()
            points = [point.Transformed(move) for point in points]
        corners = [mesh.Triangle(i).Get() for i in range(1, mesh.NbTriangles() + 1)]
        return cls(
            face=face,
            mesh=mesh,
            place=place,
            nodes=np.array([(p.X(), p.Y(), p.Z()) for p in points]),
            corners=np.array(corners, dtype=np.int64).reshape(-1, 3) - 1,
        )

    def deviation_mm(self, enough_mm: float) -> float:
        """Distance to the surface, at the middles of edges and triangles.

        Exact for planes, cylinders, cones and tori. On any other surface a point of a triangle is compared
        with the surface at the same mix of its corners' parameters, which cannot be nearer than the nearest
        point; where that is more than enough, the nearest point is searched for.

        Args:
            enough_mm: Distances up to this are taken as they are.

        Returns:
            Distance in mm; beyond ``enough_mm`` it is true but maybe not the largest.
        """
        surface = BRepAdaptor_Surface(self.face)
        if surface.GetType() == GeomAbs_Plane:
            return 0.0
        edges = np.vstack([self.corners[:, [0, 1]], self.corners[:, [1, 2]], self.corners[:, [2, 0]]])
        low, high = np.minimum(edges[:, 0], edges[:, 1]), np.maximum(edges[:, 0], edges[:, 1])
        edges = np.column_stack(np.divmod(np.unique(low * len(self.nodes) + high), len(self.nodes)))
        flat = np.vstack([self.nodes[edges].mean(axis=1), self.nodes[self.corners].mean(axis=1)])
        gaps = _round_gaps_mm(surface, flat)
        if gaps is not None:
            return float(gaps.max(initial=0.0))
        nodes = [self.mesh.UVNode(i) for i in range(1, self.mesh.NbNodes() + 1)]
        parameters = np.array([(p.X(), p.Y()) for p in nodes])
        uv = np.vstack([parameters[edges].mean(axis=1), parameters[self.corners].mean(axis=1)])
        return self._searched_mm(surface, flat, uv, enough_mm)

    def _searched_mm(
        self, surface: BRepAdaptor_Surface, flat: FloatArray, uv: FloatArray, enough_mm: float
    ) -> float:
        true = [surface.Value(u, v) for u, v in uv.tolist()]
        gaps = np.linalg.norm(flat - np.array([(p.X(), p.Y(), p.Z()) for p in true]), axis=1)
        geometry = BRep_Tool.Surface_s(self.face)
        for i in np.flatnonzero(gaps > enough_mm)[np.argsort(-gaps[gaps > enough_mm])].tolist():
            search = GeomAPI_ProjectPointOnSurf(gp_Pnt(*flat[i].tolist()), geometry)
            if search.NbPoints():
                gaps[i] = min(gaps[i], search.LowerDistance())
            if gaps[i] > enough_mm:
                return float(gaps[i])
        return float(gaps.max(initial=0.0))


def _round_gaps_mm(surface: BRepAdaptor_Surface, points: FloatArray) -> FloatArray | None:
    """Distances (k,) of points (k, 3) from a cylinder, cone or torus; None for other surfaces.

    Each is a line or circle turned about an axis, so the question is one of the half plane through it.
    """
    kind = surface.GetType()
    if kind == GeomAbs_Cylinder:
        cylinder = surface.Cylinder()
        away, _ = _about(cylinder.Position(), points)
        return np.abs(away - float(cylinder.Radius()))
    if kind == GeomAbs_Cone:
        cone = surface.Cone()
        away, up = _about(cone.Position(), points)
        radius, angle = float(cone.RefRadius()), float(cone.SemiAngle())
        side = 1.0 if radius + up.mean() * math.tan(angle) >= 0 else -1.0  # a cone has two nappes
        return np.abs((side * away - radius) * math.cos(angle) - up * math.sin(angle))
    if kind == GeomAbs_Torus:
        torus = surface.Torus()
        away, up = _about(torus.Position(), points)
        return np.abs(np.hypot(away - float(torus.MajorRadius()), up) - float(torus.MinorRadius()))
    return None


def _about(frame: gp_Ax3, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distance from a frame's axis (k,) and height along it (k,) of points (k, 3)."""
    origin, axis = frame.Location(), frame.Direction()
    direction = np.array([axis.X(), axis.Y(), axis.Z()])
    arms = points - np.array([origin.X(), origin.Y(), origin.Z()])
    up: FloatArray = arms @ direction
    away: FloatArray = np.linalg.norm(arms - up[:, None] * direction, axis=1)
    return away, up


# ------------------------------------------------------------------------------------------ gathering


class _Corners:
    """Hands out rows for corners: the same ones wherever an edge or a vertex is met again."""

    def __init__(self, shape: TopoDS_Shape) -> None:
        self.edges, self.ends = TopTools_IndexedMapOfShape(), TopTools_IndexedMapOfShape()
        TopExp.MapShapes_s(shape, TopAbs_EDGE, self.edges)
        TopExp.MapShapes_s(shape, TopAbs_VERTEX, self.ends)
        self.edge_rows: dict[int, IntArray] = {}
        # Every vertex has its row from the start, in the order of the map.
        self.count = int(self.ends.Size())
        self.points = [np.zeros((self.count, 3))]

    def new_rows(self, points: FloatArray) -> IntArray:
        """Rows (n,) for corners (n, 3) that nobody has yet."""
        rows = np.arange(self.count, self.count + len(points), dtype=np.int64)
        self.points.append(points)
        self.count += len(points)
        return rows

    def end_row(self, vertex: TopoDS_Vertex, point: FloatArray) -> int:
        """Row of the corner at a vertex."""
        row = int(self.ends.FindIndex(vertex)) - 1
        self.points[0][row] = point
        return row


def _gathered(shape: TopoDS_Shape, patches: Sequence[_Patch]) -> Mesh:
    corners = _Corners(shape)
    tables = []
    for patch in patches:
        rows = _patch_rows(patch, corners)[patch.corners]
        tables.append(rows[:, ::-1] if patch.face.Orientation() == TopAbs_REVERSED else rows)
    table = np.vstack(tables) if tables else np.empty((0, 3), dtype=np.int64)
    # At an apex the kernel has triangles with two corners in one place.
    a, b, c = table.T
    table = table[(a != b) & (b != c) & (c != a)]
    # A vertex that no triangle reaches, such as one inside a wire of nothing, takes no row.
    used, table = np.unique(table, return_inverse=True)
    return Mesh(np.vstack(corners.points)[used], table.reshape(-1, 3))


def _patch_rows(patch: _Patch, corners: _Corners) -> IntArray:
    """For each node of a face, its row among all corners, (n,)."""
    rows = np.full(len(patch.nodes), -1, dtype=np.int64)
    tips: list[tuple[int, int]] = []
    for shape in _inside(patch.face, TopAbs_EDGE):
        edge = TopoDS.Edge_s(shape)
        along = BRep_Tool.PolygonOnTriangulation_s(edge, patch.mesh, patch.place)
        if along is None:
            continue
        nodes = [along.Node(i) - 1 for i in range(1, along.NbNodes() + 1)]
        first = corners.end_row(TopExp.FirstVertex_s(edge), patch.nodes[nodes[0]])
        last = corners.end_row(TopExp.LastVertex_s(edge), patch.nodes[nodes[-1]])
        tips += [(nodes[0], first), (nodes[-1], last)]
        if len(nodes) == 2:
            continue
        if BRep_Tool.Degenerated_s(edge):
            rows[nodes] = first  # a single point, such as the tip of a cone
            continue
        name = int(corners.edges.FindIndex(edge))
        if name not in corners.edge_rows:
            corners.edge_rows[name] = corners.new_rows(patch.nodes[nodes[1:-1]])
        rows[nodes[1:-1]] = corners.edge_rows[name]
    for node, row in tips:
        rows[node] = row
    inner = rows < 0
    rows[inner] = corners.new_rows(patch.nodes[inner])
    return rows
