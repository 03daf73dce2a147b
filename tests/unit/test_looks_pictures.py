"""Pictures of a job: the same bytes for the same job, in the tables' colours, without kernel or display."""

import io
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scalegen.form.volumes import scale_volumes
from scalegen.looks.light import lights_for, open_lights
from scalegen.looks.pictures import pair_scene, pictures, steps_apart
from scalegen.looks.scene import IDENTITY, MIRRORED, Placed, aimed, moved, turned
from scalegen.looks.shade import draw
from scalegen.model import JobSpec
from scalegen.solids.look import Looks, Shown
from scalegen.solids.look_mesh import looks_of
from scalegen.solids.scales import scale_solids
from scalegen.study import Study, study_pattern

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def siskin() -> tuple[Study, Looks]:
    """The small demo and its meshes."""
    study = study_pattern(ROOT / "profiles" / "siskin.toml", JobSpec())
    return study, looks_of(study.scale, scale_solids(study.scale, scale_volumes(study.scale)))


def box(color: str = "#808080", kind: str = "face") -> Shown:
    """A box of 20 x 10 x 4 mm about the origin."""
    vertices, normals, table, faces = [], [], [], []
    half = np.array([10.0, 5.0, 2.0])
    for axis in range(3):
        for way in (1.0, -1.0):
            u, v = ((axis + 1) % 3, (axis + 2) % 3) if way > 0 else ((axis + 2) % 3, (axis + 1) % 3)
            start = len(vertices)
            for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
                point = np.zeros(3)
                point[axis], point[u], point[v] = way, a, b
                vertices.append(point * half)
                normals.append(np.eye(3)[axis] * way)
            table += [[start, start + 1, start + 2], [start, start + 2, start + 3]]
            faces += [len(faces) // 2] * 2
    return Shown(
        name="box",
        kind=kind,
        color=color,
        vertices=np.array(vertices, dtype=np.float32),
        normals=np.array(normals, dtype=np.float32),
        triangles=np.array(table, dtype=np.int32),
        faces=np.array(faces, dtype=np.int32),
        edges=np.zeros((0, 2, 3), dtype=np.float32),
    )


def test_the_pictures_are_the_same_twice_and_show_the_colours(siskin: tuple[Study, Looks]) -> None:
    """Drawn again every byte is the same; each sheet's and pin's colour is the main one where it is lit."""
    study, looks = siskin
    one = {name: make() for name, make in pictures(study.scale, looks)}
    assert one == {name: make() for name, make in pictures(study.scale, looks)}
    assert set(one) == {"preview.png", "knife.png", "exploded.png"}
    with Image.open(io.BytesIO(one["exploded.png"])) as image:
        seen = np.asarray(image).reshape(-1, 3).astype(int)
    for color in [layer.color for layer in looks.finished if layer.kind != "bond"]:
        want = np.array([int(color[k : k + 2], 16) for k in (1, 3, 5)])
        assert (np.abs(seen - want).max(axis=1) <= 12).sum() > 3000, color
    assert (seen == 255).all(axis=1).mean() > 0.3


def test_drawing_needs_no_kernel_and_no_picture_library() -> None:
    """Neither the CAD kernel nor its drawing toolkit nor Pillow is loaded for the pictures."""
    code = (
        "import sys\n"
        "import scalegen.looks.pictures\n"
        "sys.exit(str([n for n in sys.modules if n.split('.')[0] in ('OCP', 'vtk', 'PIL')]) * 0 or\n"
        "    any(n.split('.')[0] in ('OCP', 'vtk', 'vtkmodules', 'PIL') for n in sys.modules))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True)
    assert run.returncode == 0, run.stderr


def test_a_level_face_in_open_light_has_its_own_colour() -> None:
    """Light from lamp and sky adds up to what a level face needs to look as its table says."""
    placed = [Placed(shown=box("#9a6b32"), move=IDENTITY)]
    camera = aimed(placed[0].points(), azimuth_deg=-90, height_deg=89, size_px=(80, 60))
    pixels = draw(placed, camera, open_lights(-90.0))
    assert np.abs(pixels[30, 40].astype(int) - np.array([0x9A, 0x6B, 0x32])).max() <= 12


def test_what_stands_over_something_shades_it() -> None:
    """Under a second box a face gets less light than in the open, and the ground beside a box is shaded."""
    low = Placed(shown=box(), move=IDENTITY)
    high = Placed(shown=box(), move=moved(IDENTITY, z_mm=12.0))
    points = np.array([[0.0, 0.0, 2.4]], dtype=np.float32)

    def lit(placed: list[Placed]) -> float:
        return sum(
            light.share * light.towards[2] * light.reaches(points)[0] for light in lights_for(placed, -90.0)
        )

    assert lit([low]) == pytest.approx(1.0, abs=1e-5)
    assert lit([low, high]) < 0.75
    camera = aimed(low.points(), azimuth_deg=-90, height_deg=50, size_px=(120, 90), rim=0.25)
    pixels = draw([low], camera, lights_for([low], -90.0), ground_mm=-2.0)
    assert pixels[0, 0].tolist() == [255, 255, 255]
    assert pixels.reshape(-1, 3).min(axis=1).min() < 120
    ring = np.concatenate([pixels[40:70, 95], pixels[72, 40:80]])
    assert ring.min() < 250


def test_a_mirrored_piece_is_drawn_right_side_out() -> None:
    """The mirror image of a box about its own middle is the box: the picture is the same."""
    one = [Placed(shown=box("#4466aa"), move=IDENTITY)]
    other = [Placed(shown=box("#4466aa"), move=MIRRORED)]
    camera = aimed(one[0].points(), azimuth_deg=-70, height_deg=40, size_px=(90, 60))
    lights = open_lights(-70.0)
    assert np.abs(draw(one, camera, lights).astype(int) - draw(other, camera, lights)).max() <= 1


def test_the_camera_has_all_in_view_and_true_perspective() -> None:
    """All corners lie within the rim, the widest touch it; of two equal lengths the nearer is longer."""
    points = box().vertices.astype(float)
    camera = aimed(points, azimuth_deg=-110, height_deg=35, size_px=(300, 200), rim=0.1)
    flat = camera.project(points)
    x, y = flat[:, 0], flat[:, 1]
    assert ((x > 30 - 1e-6) & (x < 270 + 1e-6)).all()
    assert ((y > 20 - 1e-6) & (y < 180 + 1e-6)).all()
    assert min(abs(x.min() - 30), abs(y.min() - 20)) < 1e-6
    level = aimed(points, azimuth_deg=-90, height_deg=0, size_px=(300, 200))
    near = level.project(np.array([[-10.0, -5, 0], [10, -5, 0]]))
    far = level.project(np.array([[-10.0, 5, 0], [10, 5, 0]]))
    share = (near[1, 0] - near[0, 0]) / (far[1, 0] - far[0, 0])
    assert share == pytest.approx(far[0, 2] / near[0, 2])


def test_a_pair_lies_on_the_bed_as_mirror_images(siskin: tuple[Study, Looks]) -> None:
    """Both scales stand on z = 0; the right one is the left one mirrored, 10 mm below it."""
    placed = pair_scene(siskin[1].as_cut)
    count = len(siskin[1].as_cut)
    left = np.vstack([each.points() for each in placed[:count]])
    right = np.vstack([each.points() for each in placed[count:]])
    assert left[:, 2].min() == pytest.approx(0.0, abs=1e-6)
    assert right[:, 2].min() == pytest.approx(0.0, abs=1e-6)
    assert left[:, 1].min() - right[:, 1].max() == pytest.approx(10.0, abs=1e-6)
    assert left[:, 1] + right[:, 1] == pytest.approx(2 * left[:, 1].min() - 10.0)


def test_films_of_glue_go_with_the_sheet_over_them() -> None:
    """Drawn apart, sheets go one step further each; glue between two takes the step of the outer one."""
    kinds = ("liner", "bond", "spacer", "bond", "face")
    assert steps_apart([replace(box(), kind=kind) for kind in kinds]) == (1, 2, 2, 3, 3)


def test_turning_a_move_turns_what_it_has_moved() -> None:
    """A quarter turn takes (3, 0) moved to x = 3 to (0, 3)."""
    move = turned(moved(IDENTITY, x_mm=3.0), np.pi / 2)
    assert move[:, 3] == pytest.approx([0.0, 3.0, 0.0])
