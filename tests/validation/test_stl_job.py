"""STL files of whole demo jobs, read by trimesh, an independent mesh package.

Topology from any textbook: V - E + F = 2 - 2 g for a closed body with g holes through it. Layout of the
binary form as commonly documented, from memory: 84 bytes, then 50 for each triangle.
"""

import json
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from scalegen.model import JobSpec, Units
from scalegen.pipeline import Job, Study, make_job, study_pattern
from scalegen.solids.mesh import deviation_mm, mesh_shape
from scalegen.solids.scales import ScaleSolids, scale_solids

PROFILES = Path(__file__).parents[2] / "profiles"
NAMES = ("siskin", "curlew", "harrier")
TOLERANCE_MM = 0.02
MM = {"siskin": 1.0, "curlew": 25.4, "harrier": 1.0}  # of one unit of the file; 1 in = 25.4 mm exactly


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Study, Job]]:
    """The demo patterns as jobs of two pairs, the drawn-in-inches one written in inches."""
    out = tmp_path_factory.mktemp("out")
    made = {}
    for name in NAMES:
        units: Units = "in" if MM[name] != 1.0 else "mm"
        spec = JobSpec(pairs=2, out=out, formats=("stl",), file_units=units, stl_tolerance_mm=TOLERANCE_MM)
        study = study_pattern(PROFILES / f"{name}.toml", spec)
        made[name] = study, make_job(study, spec)
    return made


def read(path: Path) -> trimesh.Trimesh:
    """The file as trimesh reads it, corners merged at 1e-5."""
    mesh = trimesh.load_mesh(path)
    mesh.merge_vertices(digits_vertex=5)
    return mesh


@pytest.mark.parametrize("name", NAMES)
def test_size_and_header_of_every_file(jobs: dict[str, tuple[Study, Job]], name: str) -> None:
    """84 + 50 n bytes, and a header that does not begin like the text form and names the unit."""
    folder = jobs[name][1].folder
    paths = sorted(folder.glob("*.stl"))
    sheets = {"sheet-1", "sheet-1-stock", "sheet-1-avoid"}
    assert {path.stem for path in paths} == {f"{name}-left", f"{name}-right"} | sheets
    for path in paths:
        data = path.read_bytes()
        (count,) = struct.unpack("<I", data[80:84])
        assert len(data) == 84 + 50 * count
        assert not data.startswith(b"solid")
        assert f"unit {'in' if MM[name] != 1.0 else 'mm'}".encode() in data[:80]


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("name", NAMES)
def test_scale_is_one_closed_body(jobs: dict[str, tuple[Study, Job]], name: str, side: str) -> None:
    """Watertight, wound alike, one hole through for each pin, and the outline's volume within the tolerance.

    A mesh that stays within a distance of the true surface can't miss its volume by more than that distance
    times its own surface, to first order.
    """
    study, job = jobs[name]
    mesh = read(job.folder / f"{name}-{side}.stl")
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 2 - 2 * len(study.scale.holes)
    assert study.volumes is not None
    volume, surface = mesh.volume * MM[name] ** 3, mesh.area * MM[name] ** 2
    exact = sum(study.volumes.as_cut_mm3.values())
    assert abs(volume - exact) < TOLERANCE_MM * surface
    assert volume == pytest.approx(exact, rel=2e-3)  # chords miss far less than the bound above allows
    low, high = mesh.bounds * MM[name]
    x0, y0, x1, y1 = study.scale.as_cut.bounds_mm
    ys = (y0, y1) if side == "left" else (-y1, -y0)
    box = (x0, ys[0], -study.scale.back_allowance_mm, x1, ys[1], study.scale.thickness_mm)
    assert (*low, *high) == pytest.approx(box, abs=TOLERANCE_MM)


@pytest.mark.parametrize("name", NAMES)
def test_sheet_has_all_bodies_where_the_record_says(jobs: dict[str, tuple[Study, Job]], name: str) -> None:
    """A sheet of two pairs must be five closed bodies: four scales and the pad, each in its place."""
    study, job = jobs[name]
    (sheet,) = json.loads((job.folder / "job.json").read_text())["sheets"]
    bodies = read(job.folder / "sheet-1.stl").split(only_watertight=True)
    assert len(bodies) == 2 * 2 + 1
    boxes = {tuple(np.round(body.bounds.ravel() * MM[name], 2)) for body in bodies}
    pad = sheet["pad"]
    tall = study.scale.stack.used_mm
    want = (pad["x_mm"], pad["y_mm"], 0.0, pad["x_mm"] + pad["w_mm"], pad["y_mm"] + pad["h_mm"], tall)
    assert min(np.abs(np.array(box) - want).max() for box in boxes) < 0.01
    assert study.volumes is not None
    exact = 4 * sum(study.volumes.as_cut_mm3.values()) + pad["w_mm"] * pad["h_mm"] * tall
    assert sum(body.volume for body in bodies) * MM[name] ** 3 == pytest.approx(exact, rel=2e-3)
    # Seen from its own placement, each scale's origin side must be there: test by its mass centre.
    left = read(job.folder / f"{name}-left.stl").center_mass[:2] * MM[name]
    for row in sheet["placements"]:
        own = left * ([1, 1] if row["side"] == "left" else [1, -1])
        c, s = np.cos(np.radians(row["angle_deg"])), np.sin(np.radians(row["angle_deg"]))
        center = np.array([[c, -s], [s, c]]) @ own + [row["x_mm"], row["y_mm"]]
        gaps = [np.hypot(*(body.center_mass[:2] * MM[name] - center)) for body in bodies]
        assert min(gaps) < 0.01, row["label"]


@pytest.mark.parametrize("name", NAMES)
def test_what_to_keep_off_is_a_closed_body(jobs: dict[str, tuple[Study, Job]], name: str) -> None:
    """The pad with half a millimetre about it, as high as the blank, where the record says."""
    study, job = jobs[name]
    (sheet,) = json.loads((job.folder / "job.json").read_text())["sheets"]
    mesh, pad, tall = read(job.folder / "sheet-1-avoid.stl"), sheet["pad"], study.scale.stack.used_mm
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    x, y = pad["x_mm"], pad["y_mm"]
    box = (x - 0.5, y - 0.5, 0, x + pad["w_mm"] + 0.5, y + pad["h_mm"] + 0.5, tall)
    assert mesh.bounds.ravel() * MM[name] == pytest.approx(box, abs=1e-4)
    assert mesh.volume * MM[name] ** 3 == pytest.approx(
        (pad["w_mm"] + 1) * (pad["h_mm"] + 1) * tall, rel=1e-5
    )


@pytest.fixture(scope="module")
def siskin(jobs: dict[str, tuple[Study, Job]]) -> ScaleSolids:
    """Solids of one demo pattern."""
    study = jobs["siskin"][0]
    assert study.volumes is not None
    return scale_solids(study.scale, study.volumes)


@pytest.mark.parametrize("tolerance_mm", [0.05, 0.02, 0.005])
def test_mesh_stays_within_the_tolerance(siskin: ScaleSolids, tolerance_mm: float) -> None:
    """No sample of a mesh may be further from the exact surface than asked, by the kernel's own search."""
    body = siskin.as_cut_right.whole
    assert 0 < deviation_mm(body, mesh_shape(body, tolerance_mm), 40) <= tolerance_mm + 1e-9
