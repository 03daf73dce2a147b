"""Fields of heights as meshes: closed, as large as the field, and as close as stated."""

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from scalegen.errors import UsageError
from scalegen.export.stage_meshes import stage_file, stage_meshes
from scalegen.machining.field import HeightField, blank_field, volume_mm3
from scalegen.machining.field_mesh import FieldMesh, field_mesh
from scalegen.model import JobSpec, Pad
from scalegen.pipeline import lay_out, study_pattern
from scalegen.rehearsal import rehearse_sheet

ROOT = Path(__file__).parents[2]


def read(mesh: FieldMesh) -> trimesh.Trimesh:
    """As an independent reader has it."""
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=True)


def pocketed(seed: int) -> HeightField:
    """A blank with round pockets, some of them through, and a domed part."""
    random = np.random.default_rng(seed)
    field = blank_field(30.0, 20.0, 6.0, 0.1, apron_mm=1.0)
    x, y = field.xs_mm[None], field.ys_mm[:, None]
    heights = np.minimum(field.heights_mm, 6.0 - 0.02 * np.maximum(x - 15.0, 0.0) ** 2)
    for _ in range(6):
        away = np.hypot(x - random.uniform(0, 30), y - random.uniform(0, 20))
        floor = random.choice([0.0, -0.2, 1.0, 3.0])
        heights = np.where(away < random.uniform(0.3, 5.0), np.minimum(heights, floor), heights)
    return field.changed(heights.astype(np.float32))


def above_mm(mesh: FieldMesh, points: np.ndarray) -> np.ndarray:
    """Height of the mesh's top over points, by a search through all triangles: the definition itself."""
    corners = mesh.vertices[mesh.triangles[: len(mesh.triangles) // 2]]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    area = np.cross(b[:, :2] - a[:, :2], c[:, :2] - a[:, :2])
    found = np.zeros(len(points))
    for k, p in enumerate(points):
        u = np.cross(b[:, :2] - p, c[:, :2] - p) / area
        v = np.cross(c[:, :2] - p, a[:, :2] - p) / area
        over = np.flatnonzero((u > -1e-9) & (v > -1e-9) & (u + v < 1 + 1e-9))
        if len(over):
            i = over[0]
            found[k] = u[i] * a[i, 2] + v[i] * b[i, 2] + (1 - u[i] - v[i]) * c[i, 2]
    return found


@pytest.mark.filterwarnings("ignore:Arrays of 2-dimensional vectors:DeprecationWarning")
@pytest.mark.parametrize("seed", range(4))
def test_every_point_taken_lies_within_the_tolerance(seed: int) -> None:
    """Held against a search through all triangles at points of the field that the mesh was made from."""
    field = pocketed(seed)
    mesh = field_mesh(field, 0.03, 0.2)
    random = np.random.default_rng(seed)
    rows, cols = (random.integers(0, (n - 1) // 2, 150) * 2 for n in field.shape)
    points = np.column_stack([field.xs_mm[cols], field.ys_mm[rows]])
    want = np.maximum(field.heights_mm[rows, cols], 0.0)
    assert np.abs(above_mm(mesh, points) - want).max() <= 0.03 + 1e-6


@pytest.mark.parametrize("seed", range(12))
def test_meshes_are_closed_and_as_large_as_the_field(seed: int) -> None:
    """Watertight and wound alike for an independent reader; volumes by the divergence theorem."""
    field = pocketed(seed)
    mesh = field_mesh(field, step_mm=0.2)
    body = read(mesh)
    assert body.is_watertight
    assert body.is_winding_consistent
    assert body.volume == pytest.approx(volume_mm3(field), rel=8e-3)
    assert (mesh.step_mm, body.bounds[0, 2]) == (pytest.approx(0.2), 0.0)


def test_a_plain_blank_takes_few_triangles_and_is_its_box() -> None:
    """Flat places are not cut up: most of the triangles are along the edge."""
    field = blank_field(60.0, 40.0, 6.0, 0.1, apron_mm=1.0)
    mesh = field_mesh(field)
    assert read(mesh).volume == pytest.approx(60 * 40 * 6, rel=5e-3)
    every_square = 2 * 2 * (60 / 0.4) * (40 / 0.4)
    assert len(mesh.triangles) < 0.1 * every_square


def test_finer_fields_come_closer_to_a_cylinder() -> None:
    """A pocket of 10 mm in a plate: the volume nears a b t - pi r^2 t."""
    errors = []
    for cell in (0.4, 0.1):
        field = blank_field(20.0, 20.0, 5.0, cell, apron_mm=2.0)
        away = np.hypot(field.xs_mm[None] - 10.0, field.ys_mm[:, None] - 10.0)
        cut = field.changed(np.where(away < 5.0, np.float32(0.0), field.heights_mm))
        errors.append(abs(read(field_mesh(cut, step_mm=cell)).volume / (5 * (400 - 25 * math.pi)) - 1))
    assert errors[1] < min(errors[0], 4e-3)


def test_nothing_left_and_no_tolerance_are_refused() -> None:
    """There is no mesh of nothing."""
    field = blank_field(10.0, 10.0, 5.0, 0.5, apron_mm=1.0)
    with pytest.raises(UsageError, match="nothing is left"):
        field_mesh(field.changed(np.zeros_like(field.heights_mm)))
    with pytest.raises(UsageError, match="not above 0"):
        field_mesh(field, 0.0)


def test_every_stage_of_a_job_becomes_a_file(tmp_path: Path) -> None:
    """One pair of a demo: a closed file for each stage, named by it, counted from the upper right corner."""
    spec = JobSpec(
        pairs=1,
        sheet_mm=(110.0, 70.0),
        measured_mm=(6.9,),
        origin="upper-right",
        pad=Pad(width_mm=10.0, height_mm=10.0),
        tabs=2,
    )
    study = study_pattern(ROOT / "profiles" / "siskin.toml", spec)
    (layout,) = lay_out(study, spec)
    run = rehearse_sheet(study, layout, spec, cell_mm=0.2)
    files = dict(stage_meshes(run, layout))
    assert list(files) == [stage_file("sheet-1", k, shot.name) for k, shot in enumerate(run.shots, 1)]
    assert next(iter(files)) == "sheet-1-after-1-face-off.stl"
    for shot, (name, data) in zip(run.shots, files.items(), strict=True):
        (tmp_path / name).write_bytes(data)
        body = trimesh.load_mesh(tmp_path / name)
        assert body.is_watertight
        assert body.volume == pytest.approx(volume_mm3(shot.field), rel=5e-3)
        assert body.bounds.ravel() == pytest.approx((-110, -70, 0, 0, 0, 6.9), abs=0.41)
