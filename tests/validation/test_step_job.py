"""STEP files of whole demo jobs, written by one process and read by another; and the same bytes every time.

Read with the kernel's own document reader (names, colours, places of components) and, for pairs, with
cadquery's assembly importer, which walks the tree in a way of its own.
"""

import json
import os
import subprocess
import sys
from math import atan2, degrees
from pathlib import Path
from typing import Any

import pytest

from scalegen.export import WRITERS
from scalegen.export.outputs import outputs
from scalegen.export.part21 import check_part21
from scalegen.model import JobSpec
from scalegen.pipeline import lay_out, study_pattern
from scalegen.solids.scales import scale_solids

PROFILES = Path(__file__).parents[2] / "profiles"
# All three demos, both units and both schemas; the one that is made twice comes last here, first there.
JOBS = {
    "siskin": ("siskin", "mm", "AP214", ["step"]),
    "harrier": ("harrier", "in", "AP242", ["step"]),
    "curlew": ("curlew", "in", "AP214", ["step", "stl", "dxf"]),
}
# Where a turned front meets a chamfer the kernel's edges are good to 2.5e-5 mm; readers make the curves on
# the faces anew, which shifts the volume by as much times the edge's length.
CLOSE = {"siskin": 1e-9, "harrier": 1e-9, "curlew": 5e-8}

MAKE = """
import json, sys
from pathlib import Path
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from scalegen.export import outputs as module
from scalegen.model import JobSpec
from scalegen.pipeline import make_pattern

profiles, out, jobs = Path(sys.argv[1]), Path(sys.argv[2]), json.loads(sys.argv[3])
inner, volumes = module.outputs, {}

def volume(shape):
    found = GProp_GProps()
    BRepGProp.VolumePropertiesGK_s(shape, found, 1e-12, True, False, False, False, False)
    return found.Mass()

def noted(scale, solids, layouts, spec, *more, **further):
    # The kernel's volumes of the very solids that are about to be written.
    for output in inner(scale, solids, layouts, spec, *more, **further):
        if output.format == "step":
            volumes.setdefault(spec.job, {})[output.name] = {
                part.name: {solid.name: [volume(solid.shape), solid.color] for solid in part.solids}
                for part in output.content.parts
            }
        yield output

module.outputs = noted
for job, (name, units, schema, formats) in jobs:
    kinds = dict(file_units=units, step_schema=schema, formats=tuple(formats))
    spec = JobSpec(pairs=2, tabs=2, job=job, out=out, **kinds)
    make_pattern(profiles / f"{name}.toml", spec)
(out / "volumes.json").write_text(json.dumps(volumes))
"""

READ = """
import json, sys
from pathlib import Path
import cadquery as cq
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.Quantity import Quantity_Color
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopExp import TopExp
from OCP.TopTools import TopTools_IndexedMapOfShape
from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_ColorTool, XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

def text(label):
    name = TDataStd_Name()
    return name.Get().ToExtString() if label.FindAttribute(TDataStd_Name.GetID_s(), name) else None

def volume(shape):
    found = GProp_GProps()
    BRepGProp.VolumePropertiesGK_s(shape, found, 1e-12, True, False, False, False, False)
    return found.Mass()

def components(label):
    found = TDF_LabelSequence()
    XCAFDoc_ShapeTool.GetComponents_s(label, found)
    rows = []
    for place in found:
        part = TDF_Label()
        XCAFDoc_ShapeTool.GetReferredShape_s(place, part)
        rows.append((place, part))
    return rows

def solids(part):
    rows = []
    for place, label in components(part) or [(part, part)]:
        color = Quantity_Color()
        there = any(XCAFDoc_ColorTool.GetColor_s(l, XCAFDoc_ColorSurf, color) for l in (place, label))
        shape = XCAFDoc_ShapeTool.GetShape_s(label)
        count = TopTools_IndexedMapOfShape()
        TopExp.MapShapes_s(shape, TopAbs_SOLID, count)
        rgb = [color.Red(), color.Green(), color.Blue()] if there else None
        rows.append({"name": text(label), "color": rgb, "solids": count.Size(), "volume": volume(shape)})
    return rows

def read(path):
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(True)
    reader.ReadFile(path)
    reader.Transfer(document)
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    free = TDF_LabelSequence()
    tool.GetFreeShapes(free)
    top = free.Value(1)
    parts, places = {}, []
    for place, part in components(top):
        move = XCAFDoc_ShapeTool.GetLocation_s(place).Transformation()
        matrix = [[move.Value(r, c) for c in (1, 2, 3, 4)] for r in (1, 2, 3)]
        places.append([text(place), text(part), matrix])
        if text(part) not in parts:
            parts[text(part)] = solids(part)
    return {"free": free.Length(), "top": text(top), "parts": parts, "places": places}

def tree(node):
    rgb = node.color and node.color.wrapped.GetRGB()
    return {"name": node.name, "at": node.loc.toTuple(),
            "color": [rgb.Red(), rgb.Green(), rgb.Blue()] if rgb else None,
            "valid": all(shape.isValid() for shape in node.shapes),
            "children": [tree(child) for child in node.children]}

found = {}
for folder in map(Path, sys.argv[1:]):
    for path in sorted(folder.glob("*.step")):
        row = read(str(path))
        if path.stem.endswith(("-pair", "-finished")):
            row["tree"] = tree(cq.Assembly.importStep(str(path)))
        found[f"{folder.name}/{path.name}"] = row
print(json.dumps(found))
"""


def run(code: str, *arguments: str, seed: str = "0") -> str:
    """What code prints in a process of its own."""
    env = {**os.environ, "PYTHONHASHSEED": seed}
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo jobs of two pairs, and what the kernel measured before writing."""
    folder = tmp_path_factory.mktemp("out")
    run(MAKE, str(PROFILES), str(folder), json.dumps(list(JOBS.items())), seed="1")
    return folder


@pytest.fixture(scope="module")
def found(out: Path) -> dict[str, Any]:
    """What a fresh process reads from all of them, by job and file."""
    data: dict[str, Any] = json.loads(run(READ, *(str(out / job) for job in JOBS)))
    return data


def linear(color: str) -> list[float]:
    """Linear light of an sRGB color; IEC 61966-2-1, from memory."""
    parts = [int(color[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    return [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]


@pytest.mark.parametrize("job", JOBS)
def test_names_colors_and_volumes_come_back(out: Path, found: dict[str, Any], job: str) -> None:
    """Every layer must come back as one solid with name, colour and the volume that was written."""
    written = json.loads((out / "volumes.json").read_text())[job]
    assert len(written) == 7
    for name, parts in written.items():
        there = found[f"{job}/{name}"]
        assert there["free"] == 1
        if len(there["places"]) and set(there["parts"]) == set(parts):
            read = there["parts"]
        else:  # one part at its own origin is the top itself, and its solids are the components
            (only,) = parts
            assert there["top"] == name.removesuffix(".step")
            read = {only: [row for rows in there["parts"].values() for row in rows]}
        for part, solids in parts.items():
            assert [row["name"] for row in read[part]] == list(solids)
            for row in read[part]:
                volume, color = solids[row["name"]]
                assert row["solids"] == 1
                assert row["volume"] == pytest.approx(volume, rel=CLOSE[job])
                assert row["color"] == pytest.approx(linear(color), abs=1e-6)


@pytest.mark.parametrize("job", JOBS)
def test_volumes_are_those_of_the_record(out: Path, found: dict[str, Any], job: str) -> None:
    """What is read must have the volumes of job.json, which come from the outline alone."""
    record = json.loads((out / job / "job.json").read_text())["scale"]
    finished, pair = (found[f"{job}/{job}-{kind}.step"]["parts"] for kind in ("finished", "pair"))
    for side in ("left", "right"):
        layers = {row["name"].split(" ", 1)[1]: row["volume"] for row in finished[f"{job}-finished-{side}"]}
        assert layers == pytest.approx(record["layer_volumes_mm3"], rel=5e-8)
        assert sum(layers.values()) == pytest.approx(record["finished_volume_mm3"], rel=5e-8)
        as_cut = sum(row["volume"] for row in pair[f"{job}-{side}"])
        assert as_cut == pytest.approx(record["as_cut_volume_mm3"], rel=5e-8)


@pytest.mark.parametrize("job", JOBS)
def test_sheet_stands_as_the_record_says(out: Path, found: dict[str, Any], job: str) -> None:
    """Places on the sheet must be those of job.json: turned, moved, backs down on the blank's underside."""
    record = json.loads((out / job / "job.json").read_text())
    up = record["pattern"]["back_allowance_mm"]
    for sheet in record["sheets"]:
        *places, pad = found[f"{job}/{sheet['name']}.step"]["places"]
        assert pad[:2] == ["reference-pad", "reference-pad"]
        want = {row["label"]: row for row in sheet["placements"]}
        assert [place[0] for place in places] == list(want)
        for label, part, matrix in places:
            row = want[label]
            assert part == f"{job}-{row['side']}"
            assert [matrix[0][3], matrix[1][3]] == pytest.approx([row["x_mm"], row["y_mm"]], abs=1e-6)
            turn = degrees(atan2(matrix[1][0], matrix[0][0]))
            assert (turn - row["angle_deg"] + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
            assert matrix[2][:3] == [0, 0, 1]
            assert matrix[2][3] == pytest.approx(up, abs=1e-9)


@pytest.mark.parametrize("job", JOBS)
def test_what_to_keep_off_is_there_by_name_and_size(found: dict[str, Any], out: Path, job: str) -> None:
    """The pad with half a millimetre about it at full height, each tab width x length x height, by hand."""
    record = json.loads((out / job / "job.json").read_text())
    (sheet,) = record["sheets"]
    rows = {row["name"]: row for part in found[f"{job}/sheet-1-avoid.step"]["parts"].values() for row in part}
    pad, tall = sheet["pad"], record["stack"]["used_mm"]
    tabs = [tab for place in sheet["placements"] for tab in place["tabs"]]
    want = {"avoid: reference pad with its ring": (pad["w_mm"] + 1) * (pad["h_mm"] + 1) * tall}
    want |= {
        f"avoid: tab {number}": tab["width_mm"] * tab["length_mm"] * tab["height_mm"]
        for number, tab in enumerate(tabs, 1)
    }
    assert len(tabs) >= 4
    assert {name: row["volume"] for name, row in rows.items()} == pytest.approx(want, rel=1e-6)


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("kind", ["pair", "finished"])
def test_assembly_importer_sees_the_same_tree(out: Path, found: dict[str, Any], job: str, kind: str) -> None:
    """Another way through the tree must find left, right and tang in their places, valid and in colour."""
    written = json.loads((out / "volumes.json").read_text())[job][f"{job}-{kind}.step"]
    tree = found[f"{job}/{job}-{kind}.step"]["tree"]
    assert tree["name"] == f"{job}-{kind}"
    assert [child["name"] for child in tree["children"]] == list(written)
    assert len(written) == (3 if kind == "finished" else 2)
    for child, solids in zip(tree["children"], written.values(), strict=True):
        assert [leaf["name"] for leaf in child["children"]] == list(solids)
        for leaf in child["children"]:
            assert leaf["valid"]
            assert leaf["color"] == pytest.approx(linear(solids[leaf["name"]][1]), abs=1e-6)
    left, right = (child["at"] for child in tree["children"][:2])
    if kind == "finished":
        # Turned over about x, in degrees, one tang thickness apart.
        assert [abs(angle) for angle in right[1]] == pytest.approx([180, 0, 0], abs=1e-9)
        assert left[0][2] == pytest.approx(-right[0][2], abs=1e-9)
    else:
        assert right[1] == pytest.approx([0, 0, 0], abs=1e-9)
        assert left[0][2] == pytest.approx(right[0][2], abs=1e-9)


@pytest.mark.parametrize("job", JOBS)
def test_files_say_their_unit_and_schema(out: Path, job: str) -> None:
    """Schema and unit must stand in every file as part 21 writes them, and its references must hold.

    Source: ISO 10303-21 and the application protocols' names, by public secondary copies and from memory.
    """
    _, units, schema, _ = JOBS[job]
    names = {"AP214": "AUTOMOTIVE_DESIGN", "AP242": "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF"}
    for path in sorted((out / job).glob("*.step")):
        text = path.read_text(encoding="ascii")
        assert check_part21(text) == [], path.name
        assert f"FILE_SCHEMA(('{names[schema]}" in text.replace("\n", "")
        squeezed = text.replace(" ", "").replace("\n", "")
        assert ("CONVERSION_BASED_UNIT('INCH'" in squeezed) == (units == "in")
        assert "SI_UNIT(.MILLI.,.METRE.)" in squeezed


def test_ten_pairs_are_hardly_larger_than_one(tmp_path: Path) -> None:
    """Scales are placed, not copied: a sheet of ten pairs may be half as large again as one of one pair."""
    spec = JobSpec(formats=("step",), sheet_mm=(640.0, 320.0))
    study = study_pattern(PROFILES / "siskin.toml", spec)
    assert study.volumes is not None
    solids = scale_solids(study.scale, study.volumes)
    sizes = {}
    for pairs in (1, 10):
        (layout,) = lay_out(study, JobSpec(pairs=pairs, sheet_mm=spec.sheet_mm))
        assert len(layout.placements) == 2 * pairs
        (output,) = (o for o in outputs(study.scale, solids, [layout], spec) if o.name == "sheet-1.step")
        WRITERS["step"](tmp_path / "sheet.step", output.content)
        sizes[pairs] = (tmp_path / "sheet.step").stat().st_size
    assert sizes[1] < sizes[10] <= 1.5 * sizes[1]


def test_same_job_same_bytes(out: Path, tmp_path: Path) -> None:
    """All files of a job must be the same from a process with another hash seed that did nothing before."""
    run(MAKE, str(PROFILES), str(tmp_path), json.dumps([["curlew", JOBS["curlew"]]]), seed="77")
    one, two = out / "curlew", tmp_path / "curlew"
    names = sorted(path.name for path in one.iterdir())
    assert len(names) >= 14
    assert names == sorted(path.name for path in two.iterdir())
    for name in names:
        assert (one / name).read_bytes() == (two / name).read_bytes(), name
