"""STEP files read back by a reader of their own, in a fresh process, and written by two processes.

The reader for pairs is cadquery's assembly importer. It refuses a part that stands twice, so sheets are
read with the kernel's own document reader. Volumes are compared with the closed form of a plate with round
holes: (length x width - n pi r^2) x thickness.
"""

import json
import os
import subprocess
import sys
from itertools import product as pairs_of
from math import pi
from pathlib import Path
from typing import Any

import pytest

from scalegen.export.part21 import check_part21

HOLE_MM = 3.2639
FLAT_MM2 = 100 * 25 - 2 * pi * (HOLE_MM / 2) ** 2
UNITS, SCHEMAS, KINDS = ("mm", "in"), ("AP214", "AP242"), ("pair", "sheet")

WRITE = """
import sys
from pathlib import Path
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from scalegen.solids.parts import Instance, Part, Solid
from scalegen.export.step import write_step

def plate(bottom, thick):
    shape = BRepPrimAPI_MakeBox(gp_Pnt(0, 0, bottom), 100, 25, thick).Shape()
    for x in (20, 80):
        axis = gp_Ax2(gp_Pnt(x, 12.5, bottom - 1), gp_Dir(0, 0, 1))
        tool = BRepPrimAPI_MakeCylinder(axis, 3.2639 / 2, thick + 2).Shape()
        shape = BRepAlgoAPI_Cut(shape, tool).Shape()
    return shape

def part(name):
    liner = Solid(name=name + " liner", color="#cc2200", shape=plate(0.0, 1.0))
    face = Solid(name=name + " face ß", color="#336699", shape=plate(1.0, 5.35))
    return Part(name=name, solids=[liner, face])

parts = [part("left"), part("right")]
pair = [Instance(part="left", label="1L"),
        Instance(part="right", label="1R", x_mm=7.0, z_mm=-3.0, angle_rad=0.5, flipped=True)]
sheet = [Instance(part=p, label=f"{n + 1}{p[0].upper()}", x_mm=110.0 * (n % 5), y_mm=60.0 * (n // 5) + y,
                  angle_rad=0.01 * n)
         for n in range(10) for p, y in (("left", 0.0), ("right", 30.0))]
out = Path(sys.argv[1])
jobs = [(k, i, u, s) for k, i in (("pair", pair), ("sheet", sheet))
        for u in ("mm", "in") for s in ("AP214", "AP242")]
for kind, instances, units, schema in jobs[::int(sys.argv[2])]:
    write_step(out / f"{kind}-{units}-{schema}.step", product="wren", parts=parts, instances=instances,
               units=units, schema=schema)
write_step(out / "flat.step", product="wren", parts=parts, instances=pair[:1])
"""

READ = """
import json, sys
from pathlib import Path
import cadquery as cq
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

def volume(shape):
    found = GProp_GProps()
    BRepGProp.VolumePropertiesGK_s(shape, found, 1e-12, True, False, False, False, False)
    return found.Mass()

def tree(node):
    rgb = node.color and node.color.wrapped.GetRGB()
    return {"name": node.name, "at": node.loc.toTuple(),
            "color": [rgb.Red(), rgb.Green(), rgb.Blue()] if rgb else None,
            "volumes": [volume(s.wrapped) for s in node.shapes],
            "valid": all(s.isValid() for s in node.shapes),
            "children": [tree(child) for child in node.children]}

def text(label):
    name = TDataStd_Name()
    return name.Get().ToExtString() if label.FindAttribute(TDataStd_Name.GetID_s(), name) else None

def places(path):
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.ReadFile(path)
    reader.Transfer(document)
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    free, used = TDF_LabelSequence(), TDF_LabelSequence()
    tool.GetFreeShapes(free)
    XCAFDoc_ShapeTool.GetComponents_s(free.Value(1), used)
    rows = []
    for place in used:
        part = TDF_Label()
        XCAFDoc_ShapeTool.GetReferredShape_s(place, part)
        move = XCAFDoc_ShapeTool.GetLocation_s(place).Transformation()
        rows.append([text(place), text(part), [[move.Value(r, c) for c in (1, 2, 3, 4)] for r in (1, 2, 3)]])
    return {"free": free.Length(), "rows": rows}

folder = Path(sys.argv[1])
found = {p.stem: (places(str(p)) if p.stem.startswith("sheet") else tree(cq.Assembly.importStep(str(p))))
         for p in sorted(folder.glob("*.step"))}
(folder / "found.json").write_text(json.dumps(found))
"""


def run(code: str, *arguments: str, seed: str = "0") -> None:
    """Run code in a process of its own."""
    env = {**os.environ, "PYTHONHASHSEED": seed}
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The same files by two processes, with other hash seeds and in the opposite order."""
    one, two = tmp_path_factory.mktemp("one"), tmp_path_factory.mktemp("two")
    run(WRITE, str(one), "1", seed="1")
    run(WRITE, str(two), "-1", seed="77")
    return one, two


@pytest.fixture(scope="module")
def found(written: tuple[Path, Path]) -> dict[str, Any]:
    """What a third process reads from the files."""
    run(READ, str(written[0]))
    data: dict[str, Any] = json.loads((written[0] / "found.json").read_text())
    return data


def linear(color: str) -> list[float]:
    """Linear light of an sRGB color; IEC 61966-2-1, from memory."""
    parts = [int(color[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    return [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]


def test_two_processes_write_the_same_bytes(written: tuple[Path, Path]) -> None:
    """Other hash seeds and another order of files must not change a single byte."""
    one, two = written
    assert len(list(one.glob("*.step"))) == 9
    for path in one.glob("*.step"):
        assert path.read_bytes() == (two / path.name).read_bytes(), path.name


def test_syntax_and_references(written: tuple[Path, Path]) -> None:
    """Every file must pass the part-21 checker."""
    for path in written[0].glob("*.step"):
        assert check_part21(path.read_text(encoding="ascii")) == [], path.name


@pytest.mark.parametrize(("units", "schema"), list(pairs_of(UNITS, SCHEMAS)))
def test_pair_comes_back(found: dict[str, Any], units: str, schema: str) -> None:
    """Names, colors, places and volumes of a pair must come back in both units and both schemas."""
    top = found[f"pair-{units}-{schema}"]
    assert top["name"] == "wren"
    left, right = top["children"]
    assert (left["name"], right["name"]) == ("left", "right")
    assert left["at"] == [[0, 0, 0], [0, 0, 0]]
    assert right["at"][0] == pytest.approx([7, 0, -3], abs=1e-9)
    # The importer gives turns about fixed x, y, z in degrees.
    assert right["at"][1] == pytest.approx([180, 0, 0.5 * 180 / pi], abs=1e-9)
    for side in (left, right):
        liner, face = side["children"]
        assert liner["name"] == f"{side['name']} liner"
        assert face["name"] == f"{side['name']} face ß"
        assert liner["color"] == pytest.approx(linear("#cc2200"), abs=1e-6)
        assert face["color"] == pytest.approx(linear("#336699"), abs=1e-6)
        assert liner["valid"]
        assert face["valid"]
        assert liner["volumes"] == pytest.approx([FLAT_MM2 * 1.0], rel=1e-9)
        assert face["volumes"] == pytest.approx([FLAT_MM2 * 5.35], rel=1e-9)


def test_one_part_at_its_own_place_is_flat(found: dict[str, Any]) -> None:
    """One part at identity must have its solids right below the top."""
    assert [child["name"] for child in found["flat"]["children"]] == ["left liner", "left face ß"]


@pytest.mark.parametrize(("units", "schema"), list(pairs_of(UNITS, SCHEMAS)))
def test_sheet_comes_back(found: dict[str, Any], units: str, schema: str) -> None:
    """All twenty places must come back, with their labels, in order, below one top."""
    sheet = found[f"sheet-{units}-{schema}"]
    assert sheet["free"] == 1
    assert [row[0] for row in sheet["rows"]] == [f"{n + 1}{side}" for n in range(10) for side in "LR"]
    for place, (label, part, matrix) in enumerate(sheet["rows"]):
        n, right = divmod(place, 2)
        assert part == ("right" if right else "left")
        assert [row[3] for row in matrix] == pytest.approx(
            [110.0 * (n % 5), 60.0 * (n // 5) + 30.0 * right, 0.0], abs=1e-8
        ), label
        # Small angles: sin a = a - a^3 / 6 to 1e-7.
        assert matrix[1][0] == pytest.approx(0.01 * n - (0.01 * n) ** 3 / 6, abs=1e-7)


def test_ten_pairs_are_hardly_larger_than_one(written: tuple[Path, Path]) -> None:
    """Parts are placed, not copied: ten pairs at most half as large again as one."""
    for units, schema in pairs_of(UNITS, SCHEMAS):
        one, ten = (written[0] / f"{kind}-{units}-{schema}.step" for kind in KINDS)
        assert ten.stat().st_size <= 1.5 * one.stat().st_size


def test_curves_on_surfaces_are_left_out(written: tuple[Path, Path]) -> None:
    """Readers make curves on surfaces anew; with them the files would be twice the size."""
    for path in written[0].glob("*.step"):
        assert "PCURVE" not in path.read_text(encoding="ascii"), path.name
