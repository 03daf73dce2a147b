"""The yardstick: the same pair and files from a short script that talks to the kernel and to nothing else.

No checks, no gate, no layout search, no bill of materials, no stable bytes: as one would write it for one
outline that is known to work. Run as ``python -m benchmarks.bare FOLDER ROWS.json``.
"""

import json
import sys
from itertools import pairwise
from pathlib import Path

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakePrism
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.StlAPI import StlAPI_Writer
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Shape
from OCP.XCAFDoc import XCAFDoc_DocumentTool

THICK_MM, ROUND_MM = 6.2, 2.0
LAYERS_MM = (0.0, 0.7, 0.8, THICK_MM)


def prism(rows: list[list[float]]) -> TopoDS_Shape:
    """The outline pulled up, its top edge rounded by the kernel."""
    wire = BRepBuilderAPI_MakeWire()
    for (x0, y0, b), (x1, y1, _) in zip(rows, rows[1:] + rows[:1], strict=True):
        a, c = gp_Pnt(x0, y0, 0), gp_Pnt(x1, y1, 0)
        if abs(b) < 1e-12:
            wire.Add(BRepBuilderAPI_MakeEdge(a, c).Edge())
            continue
        m = gp_Pnt((x0 + x1) / 2 + b * (y1 - y0) / 2, (y0 + y1) / 2 - b * (x1 - x0) / 2, 0)
        wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(a, m, c).Value()).Edge())
    solid = BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire.Wire()).Face(), gp_Vec(0, 0, THICK_MM)).Shape()
    fillet = BRepFilletAPI_MakeFillet(solid)
    edges = TopExp_Explorer(solid, TopAbs_EDGE)
    while edges.More():
        edge = TopoDS.Edge_s(edges.Current())
        from OCP.BRepAdaptor import BRepAdaptor_Curve

        curve = BRepAdaptor_Curve(edge)
        ends = [curve.Value(t).Z() for t in (curve.FirstParameter(), curve.LastParameter())]
        if min(ends) > THICK_MM - 1e-6:
            fillet.Add(ROUND_MM, edge)
        edges.Next()
    return fillet.Shape()


def layers_of(rows: list[list[float]], holes: list[list[float]]) -> list[TopoDS_Shape]:
    """One scale with front and holes, split into its layers."""
    body = prism(rows)
    x0 = min(row[0] for row in rows)
    front = BRepPrimAPI_MakeBox(gp_Pnt(x0 - 50, -100, -5), gp_Pnt(x0 + 12, 100, 20)).Shape()
    body = BRepAlgoAPI_Cut(body, front).Shape()
    for x, y, d in holes:
        pin = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(x, y, -1), gp_Dir(0, 0, 1)), d / 2, 12.0).Shape()
        body = BRepAlgoAPI_Cut(body, pin).Shape()
    slabs = [
        BRepPrimAPI_MakeBox(gp_Pnt(x0 - 50, -100, a), gp_Pnt(x0 + 250, 100, b)).Shape()
        for a, b in pairwise(LAYERS_MM)
    ]
    return [body, *(BRepAlgoAPI_Common(body, slab).Shape() for slab in slabs)]


def moved(x: float, y: float, turn: float) -> TopLoc_Location:
    """A place on the bed."""
    spin, shift = gp_Trsf(), gp_Trsf()
    spin.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), turn)
    shift.SetTranslation(gp_Vec(x, y, 0))
    return TopLoc_Location(shift.Multiplied(spin))


def step(path: Path, parts: list[list[TopoDS_Shape]], places: list[tuple[int, TopLoc_Location]]) -> None:
    """Named layers of parts, instanced at places."""
    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    assemblies = []
    for number, part in enumerate(parts):
        label = tool.NewShape()
        for layer, shape in enumerate(part):
            solid = tool.AddShape(shape, False)
            TDataStd_Name.Set_s(solid, TCollection_ExtendedString(f"part {number} layer {layer}"))
            tool.AddComponent(label, solid, TopLoc_Location())
        assemblies.append(label)
    root = tool.NewShape()
    for part_number, place in places:
        tool.AddComponent(root, assemblies[part_number], place)
    tool.UpdateAssemblies()
    writer = STEPCAFControl_Writer()
    writer.Transfer(document)
    writer.Write(str(path))


def stl(path: Path, shape: TopoDS_Shape) -> None:
    """One shape as a mesh."""
    BRepMesh_IncrementalMesh(shape, 0.015, False, 0.4, False)
    StlAPI_Writer().Write(shape, str(path))


def main(folder: Path, source: Path) -> None:
    """Everything the main job writes, less what only it does."""
    import ezdxf

    folder.mkdir(parents=True, exist_ok=True)
    data = json.loads(source.read_text())
    flip = gp_Trsf()
    flip.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(0, 1, 0)))
    sets = []
    for rows in (data["as_cut"], data["finished"]):
        left = layers_of(rows, data["holes"])
        sets.append((left, [BRepBuilderAPI_Transform(shape, flip, True).Shape() for shape in left]))
    (cut_left, cut_right), (fin_left, fin_right) = sets
    here = moved(0, 0, 0)
    step(folder / "pair.step", [cut_left[1:], cut_right[1:]], [(0, here), (1, moved(0, -40, 0))])
    step(folder / "left.step", [cut_left[1:]], [(0, here)])
    step(folder / "right.step", [cut_right[1:]], [(0, here)])
    step(folder / "finished.step", [fin_left[1:], fin_right[1:]], [(0, here), (1, here)])
    stl(folder / "left.stl", cut_left[0])
    stl(folder / "right.stl", cut_right[0])
    for number, places in enumerate(data["sheets"], start=1):
        spots = [(part, moved(x, y, turn)) for part, x, y, turn in places]
        step(folder / f"sheet-{number}.step", [cut_left[1:], cut_right[1:]], spots)
        from OCP.BRep import BRep_Builder
        from OCP.TopoDS import TopoDS_Compound

        compound, builder = TopoDS_Compound(), BRep_Builder()
        builder.MakeCompound(compound)
        for part, place in spots:
            builder.Add(compound, (cut_left, cut_right)[part][0].Moved(place))
        stl(folder / f"sheet-{number}.stl", compound)
        drawing = ezdxf.new("R2000")
        for part, x, y, _ in places:
            rows = [(px + x, (py if part == 0 else -py) + y, b) for px, py, b in data["as_cut"]]
            drawing.modelspace().add_lwpolyline(rows, format="xyb", close=True)
        drawing.saveas(folder / f"sheet-{number}.dxf")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
