"""A pair on its tang, and right against left.

The pair is read from its finished STEP file by the kernel's document reader in a fresh process; what must
coincide follows from the matching of two hands alone, no source.
"""

import json
import subprocess
import sys
from math import cos, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.TopAbs import TopAbs_EDGE, TopAbs_VERTEX
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedMapOfShape

from scalegen.export import WRITERS
from scalegen.export.outputs import outputs
from scalegen.model import JobSpec
from scalegen.pipeline import Study, study_pattern
from scalegen.solids.kernel import volume_mm3
from scalegen.solids.mesh import mesh_shape
from scalegen.solids.scales import ScaleSolids, scale_solids

PROFILES = Path(__file__).parents[2] / "profiles"
NAMES = ("siskin", "curlew", "harrier")

READ = """
import json, sys
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.GeomAbs import GeomAbs_Cylinder, GeomAbs_Plane
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_FACE, TopAbs_VERTEX
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedMapOfShape
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

def parts_of(shape, kind):
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, kind, found)
    return [found.FindKey(k) for k in range(1, found.Size() + 1)]

def xyz(p):
    return [p.X(), p.Y(), p.Z()]

def look(shape):
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    low, high = box.CornerMin(), box.CornerMax()
    cylinders, planes = [], []
    for face in parts_of(shape, TopAbs_FACE):
        surface = BRepAdaptor_Surface(TopoDS.Face_s(face))
        if surface.GetType() == GeomAbs_Cylinder:
            cylinder = surface.Cylinder()
            axis = cylinder.Axis()
            cylinders.append([cylinder.Radius(), xyz(axis.Direction()), xyz(axis.Location())])
        elif surface.GetType() == GeomAbs_Plane:
            plane = surface.Plane()
            planes.append([xyz(plane.Axis().Direction()), xyz(plane.Location())])
    corners = [xyz(BRep_Tool.Pnt_s(TopoDS.Vertex_s(v))) for v in parts_of(shape, TopAbs_VERTEX)]
    return {"z": [low.Z(), high.Z()], "cylinders": cylinders, "planes": planes, "corners": corners}

found = {}
for path in sys.argv[1:]:
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.ReadFile(path)
    reader.Transfer(document)
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    free, used = TDF_LabelSequence(), TDF_LabelSequence()
    tool.GetFreeShapes(free)
    XCAFDoc_ShapeTool.GetComponents_s(free.Value(1), used)
    found[path] = {}
    for label in used:
        name = TDataStd_Name()
        label.FindAttribute(TDataStd_Name.GetID_s(), name)
        found[path][name.Get().ToExtString()] = look(XCAFDoc_ShapeTool.GetShape_s(label))
print(json.dumps(found))
"""


@pytest.fixture(scope="module")
def built() -> dict[str, tuple[Study, ScaleSolids]]:
    """The demo patterns and their solids."""
    made = {}
    for name in NAMES:
        study = study_pattern(PROFILES / f"{name}.toml", JobSpec())
        assert study.volumes is not None
        made[name] = (study, scale_solids(study.scale, study.volumes))
    return made


@pytest.fixture(scope="module")
def found(
    built: dict[str, tuple[Study, ScaleSolids]], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Any]:
    """What a fresh process reads from the finished pairs."""
    folder = tmp_path_factory.mktemp("pairs")
    for study, solids in built.values():
        for output in outputs(study.scale, solids, (), JobSpec(formats=("step",))):
            if output.name.endswith("-finished.step"):
                WRITERS["step"](folder / output.name, output.content)
    paths = {name: str(folder / f"{name}-finished.step") for name in NAMES}
    done = subprocess.run(
        [sys.executable, "-c", READ, *paths.values()], capture_output=True, text=True, check=True
    )
    data = json.loads(done.stdout)
    return {name: data[path] for name, path in paths.items()}


def holes(side: Any, hole_mm: float) -> NDArray[np.float64]:
    """Centres (k, 2) of upright cylinders of a hole's size, each axis once, in order of x."""
    centers = {
        (round(at[0], 9), round(at[1], 9))
        for radius, way, at in side["cylinders"]
        if abs(radius - hole_mm / 2) < 1e-9 and abs(abs(way[2]) - 1) < 1e-12
    }
    return np.array(sorted(centers))


@pytest.mark.parametrize("name", NAMES)
def test_pin_axes_coincide(
    built: dict[str, tuple[Study, ScaleSolids]], found: dict[str, Any], name: str
) -> None:
    """Through left scale, tang and right scale every pin must find one straight way, within 1e-6 mm."""
    scale = built[name][0].scale
    for hole_mm in {hole.hole_mm for hole in scale.holes}:
        want = np.array(sorted(hole.at_mm for hole in scale.holes if hole.hole_mm == hole_mm))
        for part in ("left", "tang", "right"):
            got = holes(found[name][part], hole_mm)
            assert got.shape == want.shape, part
            assert np.abs(got - want).max() < 1e-6, part


@pytest.mark.parametrize("name", NAMES)
def test_glued_faces_coincide(
    built: dict[str, tuple[Study, ScaleSolids]], found: dict[str, Any], name: str
) -> None:
    """Every corner of one scale's back must stand on one of the other's, fronts included, within 1e-6 mm.

    The backs must lie on the tang: tang plus two scales is the thickness of the handle.
    """
    scale = built[name][0].scale
    half, tall = scale.pattern.tang_mm / 2, scale.thickness_mm
    left, tang, right = (found[name][part] for part in ("left", "tang", "right"))
    assert tang["z"] == pytest.approx([-half, half], abs=1e-6)
    assert left["z"] == pytest.approx([half, half + tall], abs=1e-6)
    assert right["z"] == pytest.approx([-half - tall, -half], abs=1e-6)
    assert left["z"][1] - right["z"][0] == pytest.approx(scale.pattern.tang_mm + 2 * tall, abs=1e-6)
    above = np.array([c[:2] for c in left["corners"] if abs(c[2] - half) < 1e-7])
    below = np.array([c[:2] for c in right["corners"] if abs(c[2] + half) < 1e-7])
    assert len(above) == len(below) > 2 * len(scale.holes) + 3
    apart = np.hypot(*(above[:, None] - below[None]).transpose(2, 0, 1))
    assert apart.min(axis=0).max() < 1e-6
    assert apart.min(axis=1).max() < 1e-6


@pytest.mark.parametrize("name", ["siskin", "harrier"])
def test_straight_front_faces_coincide(
    built: dict[str, tuple[Study, ScaleSolids]], found: dict[str, Any], name: str
) -> None:
    """The upright strips of both fronts must lie in the one plane that the pattern's front line gives."""
    front = built[name][0].scale.pattern.front
    inward = np.array([sin(front.angle_rad), -cos(front.angle_rad), 0.0])
    for side in ("left", "right"):
        strips = [
            (np.array(at) - [front.at_mm, 0.0, 0.0]) @ inward
            for way, at in found[name][side]["planes"]
            if abs(abs(np.array(way) @ inward) - 1) < 1e-9
        ]
        assert strips, side
        assert min(map(abs, strips)) < 1e-6, side


def test_front_arcs_coincide(built: dict[str, tuple[Study, ScaleSolids]], found: dict[str, Any]) -> None:
    """The upright strips of both arc fronts must be on the one cylinder that the pattern gives."""
    front = built["curlew"][0].scale.pattern.front
    assert front.arc_mm is not None
    assert front.angle_rad == pytest.approx(radians(90))
    center = [front.at_mm + front.arc_mm, 0.0]
    for side in ("left", "right"):
        axes = [
            at[:2]
            for radius, _, at in found["curlew"][side]["cylinders"]
            if abs(radius - front.arc_mm) < 1e-6
        ]
        assert axes, side
        assert np.abs(np.array(axes) - center).max() < 1e-6, side


def corners(shape: Any) -> NDArray[np.float64]:
    """Vertices (k, 3) of a solid, sorted."""
    there = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_VERTEX, there)
    points = [BRep_Tool.Pnt_s(TopoDS.Vertex_s(there.FindKey(k))) for k in range(1, there.Size() + 1)]
    return np.array([(p.X(), p.Y(), p.Z()) for p in points])


@pytest.mark.parametrize("name", NAMES)
def test_right_is_the_mirror_image_of_left(built: dict[str, tuple[Study, ScaleSolids]], name: str) -> None:
    """Right must have left's corners with y negated, left's volumes, and still its outside outside.

    Inside and outside by trimesh: a mesh's signed volume is positive when its faces look outwards.
    """
    solids = built[name][1]
    for left, right in (
        (solids.as_cut_left, solids.as_cut_right),
        (solids.finished_left, solids.finished_right),
    ):
        pairs = [(left.whole, right.whole)]
        pairs += [(a.shape, b.shape) for a, b in zip(left.layers, right.layers, strict=True)]
        for one, other in pairs:
            mirrored = corners(one) * [1.0, -1.0, 1.0]
            apart = np.linalg.norm(mirrored[:, None] - corners(other)[None], axis=2)
            assert apart.shape[0] == apart.shape[1]
            assert apart.min(axis=1).max() < 1e-9
            assert volume_mm3(other) == pytest.approx(volume_mm3(one), rel=1e-9)
        assert [a.name for a in left.layers] == [b.name for b in right.layers]
        mesh = trimesh.Trimesh(*mesh_shape(right.whole, 0.1), process=False)
        assert mesh.volume > 0.98 * volume_mm3(left.whole)
        assert np.abs(corners(left.whole) - corners(left.whole) * [1, -1, 1]).max() > 1  # no mirror of itself


@pytest.mark.parametrize("name", NAMES)
def test_wall_at_the_tang_follows_the_outline(built: dict[str, tuple[Study, ScaleSolids]], name: str) -> None:
    """All round the back the wall must stand within 0.005 mm of the outline or a hole, sampled on its edges.

    Distances by shapely, from the outline as a polygon whose chords stay within 0.00005 mm.
    """
    scale, solids = built[name][0].scale, built[name][1]
    for body, ring, bottom in (
        (solids.as_cut_left, scale.as_cut, -scale.back_allowance_mm),
        (solids.finished_left, scale.finished, 0.0),
    ):
        points = along_the_back(body.whole, bottom)
        line = shapely.LinearRing(ring.flatten(5e-5))
        off = shapely.distance(line, shapely.points(points))
        for hole in scale.holes:
            off = np.minimum(off, np.abs(np.hypot(*(points - hole.at_mm).T) - hole.hole_mm / 2))
        assert len(points) > 200
        assert off.max() < 0.005
        # And the other way: no stretch of the outline is without a wall.
        back = shapely.MultiPoint(points)
        assert shapely.distance(back, shapely.points(ring.starts)).max() < 0.01


def along_the_back(shape: Any, z_mm: float) -> NDArray[np.float64]:
    """Points (k, 2) on all edges at a height, 20 to each."""
    there = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_EDGE, there)
    points = []
    for k in range(1, there.Size() + 1):
        curve = BRepAdaptor_Curve(TopoDS.Edge_s(there.FindKey(k)))
        ts = np.linspace(curve.FirstParameter(), curve.LastParameter(), 20)
        row = [curve.Value(t) for t in ts.tolist()]
        if all(abs(p.Z() - z_mm) < 1e-9 for p in row):
            points += [(p.X(), p.Y()) for p in row]
    return np.array(points)
