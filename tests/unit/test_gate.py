"""The gate lets good solids through and refuses every bad one with the right words."""

from dataclasses import replace
from math import pi
from pathlib import Path

import numpy as np
import pytest
from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Compound, TopoDS_Shape, TopoDS_Shell, TopoDS_Solid

from scalegen.errors import GeometryError, StopError
from scalegen.form.body import BodyPlan, volumes_mm3
from scalegen.form.bores import straight
from scalegen.form.volumes import Volumes
from scalegen.model import Edge, Front, JobSpec
from scalegen.outline.front import front_curve
from scalegen.outline.ring import Ring
from scalegen.pipeline import make_pattern, study_pattern
from scalegen.solids.build import body_solid
from scalegen.solids.gate import Expected, expected_of, faults_of, judge, require_whole
from scalegen.solids.kernel import is_valid, solids_in, volume_mm3
from scalegen.solids.scales import scale_solids, sound_slab

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
FRONT = Front(at_mm=8.0, angle_rad=pi / 2, treatment="round", radius_mm=2.0)
RING = Ring.from_rows([(0.0, -9.0, 0.0), (60.0, -9.0, 1.0), (60.0, 9.0, 0.0), (0.0, 9.0, 1.0)])
PLAN = BodyPlan(
    bottom_mm=0.0,
    seat_mm=4.5,
    top_mm=6.0,
    base=RING,
    lip=RING,
    edge=Edge(treatment="round", size_mm=1.5),
    front=FRONT,
    curve=front_curve(FRONT),
    allowance_mm=0.0,
    bores=straight((25.0, 0.0, 3.2), (50.0, 1.0, 3.2)),
)


@pytest.fixture(scope="module")
def good() -> TopoDS_Shape:
    """A small scale with rounded front and edge and two holes."""
    return body_solid(PLAN, 0.0, 6.0, 1e-5)


@pytest.fixture(scope="module")
def expected() -> Expected:
    """What it must measure, from its outline alone."""
    return expected_of(PLAN, 0.0, 6.0, volumes_mm3(PLAN, (0.0, 6.0))[0])


def box(x: float, y: float, z: float, size: tuple[float, float, float]) -> TopoDS_Shape:
    """A box by its lower corner and its size."""
    return BRepPrimAPI_MakeBox(gp_Pnt(x, y, z), *size).Shape()


def only(shape: TopoDS_Shape) -> TopoDS_Shape:
    """The single solid of a boolean's result; the kernel must find it valid, or the test proves little."""
    (solid,) = solids_in(shape)
    assert is_valid(solid)
    return solid


def with_bump(good: TopoDS_Shape, z_mm: float, tall_mm: float) -> TopoDS_Shape:
    """The scale with a box of 4 x 2 mm added."""
    return only(BRepAlgoAPI_Fuse(good, box(35, -1, z_mm, (4, 2, tall_mm))).Shape())


def with_pocket(good: TopoDS_Shape, deep_mm: float) -> TopoDS_Shape:
    """The scale with a blind pocket of 4 x 2 mm from the back."""
    return only(BRepAlgoAPI_Cut(good, box(35, -1, -1, (4, 2, 1 + deep_mm))).Shape())


def faces_of(shape: TopoDS_Shape) -> list[TopoDS_Shape]:
    """All faces, as the shell has them."""
    walk, found = TopExp_Explorer(shape, TopAbs_FACE), []
    while walk.More():
        found.append(walk.Current())
        walk.Next()
    return found


def solid_of(faces: list[TopoDS_Shape]) -> TopoDS_Shape:
    """Faces put into a shell and a solid as they are."""
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for face in faces:
        builder.Add(shell, face)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def moved(
    shape: TopoDS_Shape, *, scale: float = 1.0, lift_mm: float = 0.0, aside_mm: float = 0.0
) -> TopoDS_Shape:
    """A copy that is scaled about the origin, then moved."""
    step = gp_Trsf()
    step.SetScale(gp_Pnt(0, 0, 0), scale)
    step.SetTranslationPart(gp_Vec(aside_mm, 0, lift_mm))
    return BRepBuilderAPI_Transform(shape, step, True).Shape()


def test_good_solid_passes(good: TopoDS_Shape, expected: Expected) -> None:
    """A sound scale must pass, and its volume must be the kernel's."""
    verdict = judge(good, expected)
    assert verdict.faults == ()
    assert verdict.volume_mm3 == pytest.approx(expected.volume_mm3, rel=1e-7)


@pytest.mark.parametrize("which", [0, 3, -1])
def test_dropped_face_is_refused(good: TopoDS_Shape, expected: Expected, which: int) -> None:
    """A solid that lacks a face must be refused as open."""
    faces = faces_of(good)
    del faces[which]
    said = " ".join(faults_of(solid_of(faces), expected))
    assert "an edge does not lie between exactly two faces" in said
    assert "mesh is not watertight" in said


@pytest.mark.parametrize("shift_mm", [1.0, 0.001])
def test_shifted_face_is_refused(good: TopoDS_Shape, expected: Expected, shift_mm: float) -> None:
    """A face that stands off its neighbours must be refused, be it by a millimetre or a micron."""
    faces = faces_of(good)
    faces[2] = moved(faces[2], lift_mm=shift_mm)
    assert "an edge does not lie between exactly two faces" in " ".join(faults_of(solid_of(faces), expected))


def test_scaled_solid_is_refused(good: TopoDS_Shape, expected: Expected) -> None:
    """A solid that is larger by a ten-thousandth must be refused by volume and by reach."""
    said = faults_of(moved(good, scale=1.0001), expected)
    assert any("its volume is" in fault and "where the outline gives" in fault for fault in said)
    assert any("it reaches x = 69.0069" in fault for fault in said)


@pytest.mark.parametrize(("move", "word"), [({"aside_mm": 0.001}, "x = "), ({"lift_mm": -0.001}, "z = ")])
def test_solid_beside_its_place_is_refused(
    good: TopoDS_Shape, expected: Expected, move: dict[str, float], word: str
) -> None:
    """The right shape a micron beside its place must be refused by where it reaches."""
    said = faults_of(moved(good, **move), expected)
    assert said
    assert all("it reaches " + word in fault for fault in said)


def test_wrong_layer_is_refused(expected: Expected) -> None:
    """One layer in place of another must be refused by volume and height."""
    lower, upper = volumes_mm3(PLAN, (0.0, 1.0, 6.0))
    layer = body_solid(PLAN, 0.0, 1.0, 1e-5)
    assert faults_of(layer, expected_of(PLAN, 0.0, 1.0, lower)) == ()
    said = " ".join(faults_of(layer, expected_of(PLAN, 1.0, 6.0, upper)))
    assert "its volume is" in said
    assert "it reaches z = 0.0000 mm where the outline gives 1.0000" in said
    assert "its volume is" in " ".join(faults_of(layer, expected))


def test_bump_above_the_top_is_refused(good: TopoDS_Shape, expected: Expected) -> None:
    """Material that sticks out above the top must be refused, although the kernel calls it valid."""
    said = " ".join(faults_of(with_bump(good, 5.0, 1.001), expected))
    assert "it reaches z = 6.0010 mm where the outline gives 6.0000" in said
    assert "its volume is" in said


def test_bump_is_refused_even_when_the_volume_fits(good: TopoDS_Shape, expected: Expected) -> None:
    """A bump whose volume was taken away elsewhere must still be refused by its reach."""
    fooled = with_pocket(with_bump(good, 5.0, 1.5), 0.5)
    assert volume_mm3(fooled) == pytest.approx(expected.volume_mm3, rel=1e-7)
    (fault,) = faults_of(fooled, expected)
    assert "it reaches z = 6.5000 mm" in fault


def test_valid_solid_of_wrong_volume_is_refused(good: TopoDS_Shape, expected: Expected) -> None:
    """A blind pocket a hundredth deep must be refused by its volume alone."""
    (fault,) = faults_of(with_pocket(good, 0.01), expected)
    assert "its volume is" in fault


def test_missing_hole_is_refused(expected: Expected) -> None:
    """A scale without one of its holes must be refused by volume, topology and mesh."""
    one_hole = body_solid(replace(PLAN, bores=PLAN.bores[:1]), 0.0, 6.0, 1e-5)
    said = " ".join(faults_of(one_hole, expected))
    assert "it has 1 holes through it instead of 2" in said
    assert "its mesh has Euler number 0 instead of -2" in said
    assert "its volume is" in said


def test_extra_hole_is_refused(good: TopoDS_Shape, expected: Expected) -> None:
    """A hole that nobody asked for must be refused, even one as thin as a hair."""
    drill = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(40, 0, -1), gp_Dir(0, 0, 1)), 0.005, 8).Shape()
    said = " ".join(faults_of(only(BRepAlgoAPI_Cut(good, drill).Shape()), expected))
    assert "it has 3 holes through it instead of 2" in said


def test_solid_inside_out_is_refused(good: TopoDS_Shape, expected: Expected) -> None:
    """A solid whose faces look inwards must be refused by its negative volume."""
    assert any("its volume is -" in fault for fault in faults_of(good.Reversed(), expected))


def test_one_face_turned_round_is_refused(good: TopoDS_Shape, expected: Expected) -> None:
    """A single face that looks inwards must be refused."""
    faces = faces_of(good)
    faces[1] = faces[1].Reversed()
    said = " ".join(faults_of(solid_of(faces), expected))
    assert "its mesh is not watertight" in said


def test_two_solids_are_refused(good: TopoDS_Shape, expected: Expected) -> None:
    """A crumb beside the scale must be refused."""
    builder, both = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(both)
    builder.Add(both, good)
    builder.Add(both, box(30, 0, 2, (1e-3, 1e-3, 1e-3)))
    assert "it has 2 shells instead of one" in faults_of(both, expected)


def test_reference_that_is_no_number_lets_nothing_through(good: TopoDS_Shape, expected: Expected) -> None:
    """A reference volume that is not a number must refuse, not pass by comparing false."""
    for wrong in (float("nan"), 0.0):
        assert faults_of(good, replace(expected, volume_mm3=wrong))


def test_refused_slab_says_so(expected: Expected) -> None:
    """When no way of building passes, the error must name the slab, the fault and what to do."""
    larger = replace(expected, volume_mm3=expected.volume_mm3 * 1.00001)
    with pytest.raises(GeometryError) as caught:
        sound_slab("the test scale", PLAN, larger)
    assert "the test scale cannot be built soundly: its volume is" in str(caught.value)
    assert "nothing was written" in caught.value.remedy


def test_layers_must_add_up() -> None:
    """Layers that miss the whole by more than a millionth must be refused, by less must pass."""
    require_whole("it", [1000.0, 2000.0], 3000.002)
    with pytest.raises(
        GeometryError, match=r"layers of it add up to 3000\.0000 mm3, the whole is 3000\.0040"
    ):
        require_whole("it", [1000.0, 2000.0], 3000.004)
    with pytest.raises(GeometryError):
        require_whole("it", [float("nan")], 3000.0)


def test_wrong_volume_of_one_layer_stops_the_scale() -> None:
    """A layer's volume that the outline does not give must stop the whole scale."""
    study = study_pattern(SISKIN, JobSpec())
    assert study.volumes is not None
    wrong = dict(study.volumes.as_cut_mm3)
    name = min(wrong, key=lambda key: wrong[key])
    wrong[name] *= 1.001
    with pytest.raises(GeometryError, match=r"the as-cut scale cannot be built soundly"):
        scale_solids(study.scale, Volumes(as_cut_mm3=wrong, finished_mm3=study.volumes.finished_mm3))


NARROW = """
name = "narrow"
units = "mm"
stock = "paper-six"
[tang]
thickness = 3.0
outline = [[0, -9], [40, -9], [48, -2.5], [62, -2.5], [70, -9], [100, -9],
           [100, 9], [70, 9], [62, 2.5], [48, 2.5], [40, 9], [0, 9]]
[front]
at = 12
angle = 90
treatment = "square"
[scale]
thickness = 6.2
edge = { treatment = "round", radius = 3.0 }
trim = 0.8
back_allowance = 0.0
"""


def test_narrow_outline_is_refused_with_its_place(tmp_path: Path) -> None:
    """A waist narrower than twice the round-over must be refused by its place, and leave nothing on disk."""
    path = tmp_path / "narrow.toml"
    path.write_text(NARROW)
    with pytest.raises((StopError, GeometryError)) as caught:
        make_pattern(path, JobSpec(out=tmp_path / "out"))
    said = str(caught.value)
    assert "narrower than twice the round-over of 3 mm between x = " in said
    low, high = (float(part.split()[0]) for part in said.split("x = ")[1:3])
    assert 40 < low < 55 < high < 70
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["narrow.toml"]


def test_plan_of_the_tests_reaches_where_it_says(expected: Expected) -> None:
    """The expected box must be the one worked by hand: front at 8, butt at 60 + 9, half width 9."""
    np.testing.assert_allclose(expected.box_mm, (8.0, -9.0, 0.0, 69.0, 9.0, 6.0), atol=1e-9)
