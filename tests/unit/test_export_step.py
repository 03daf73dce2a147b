"""The STEP writer's manners: settings put back, nothing printed, shapes untouched, faults named."""

from pathlib import Path
from typing import Any

import pytest
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
from OCP.Interface import Interface_Static
from OCP.TopAbs import TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS

from scalegen.errors import WriteError
from scalegen.export import step
from scalegen.export.part21 import check_part21
from scalegen.export.step import write_step
from scalegen.solids.parts import Instance, Part, Solid

KEYS = ("write.step.unit", "write.step.schema", "write.step.product.name")


def box(name: str = "face") -> Solid:
    """A plain box."""
    return Solid(name=name, color="#804020", shape=BRepPrimAPI_MakeBox(100.0, 25.0, 6.0).Shape())


def write(path: Path, solid: Solid | None = None, **more: Any) -> str:
    """The text of a file with one part."""
    parts = [Part(name="left", solids=[solid or box()])]
    write_step(path, product="wren", parts=parts, instances=[Instance(part="left", label="1L")], **more)
    return path.read_text(encoding="ascii")


def test_header_says_what_it_should(tmp_path: Path) -> None:
    """The header must hold the product, the fixed time, no author, our name and the unit."""
    text = write(tmp_path / "a.step", units="in")
    header = "".join(text[: text.index("DATA;")].split())
    assert "FILE_NAME('wren','1970-01-01T00:00:00',(''),(''),'scalegen','scalegen0.1.0','');" in header
    assert "unitin" in header
    assert check_part21(text) == []


@pytest.mark.parametrize(
    ("schema", "words"),
    [("AP214", "AUTOMOTIVE_DESIGN"), ("AP242", "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF")],
)
def test_schema_names(tmp_path: Path, schema: str, words: str) -> None:
    """Schema names as ISO 10303-214 and -242 give them, from memory."""
    assert words in write(tmp_path / "a.step", schema=schema)


def test_settings_of_the_process_are_put_back(tmp_path: Path) -> None:
    """Writing in inches must not change what somebody else in the process writes next."""
    write(tmp_path / "a.step")
    before = [Interface_Static.CVal_s(key) for key in KEYS]
    curves = Interface_Static.IVal_s("write.surfacecurve.mode")
    write(tmp_path / "b.step", units="in", schema="AP242")
    assert [Interface_Static.CVal_s(key) for key in KEYS] == before
    assert Interface_Static.IVal_s("write.surfacecurve.mode") == curves


def test_unit_that_the_kernel_refuses_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The kernel keeps its old unit without a word when it does not know one; that must not go unseen."""
    monkeypatch.setattr(step, "_KERNEL_UNITS", {"in": "IN"})
    with pytest.raises(WriteError, match=r"write\.step\.unit"):
        write(tmp_path / "a.step", units="in")
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_printed(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The kernel's statistics must not reach the terminal."""
    write(tmp_path / "a.step")
    assert capfd.readouterr() == ("", "")


def test_meshed_shape_gives_the_same_file_and_keeps_its_mesh(tmp_path: Path) -> None:
    """A mesh on a shape must neither change the file nor be taken off the shape."""
    solid = box()
    plain = write(tmp_path / "a.step", solid)
    BRepMesh_IncrementalMesh(solid.shape, 0.1, False, 0.5, False)
    assert write(tmp_path / "b.step", solid) == plain
    face = TopoDS.Face_s(TopExp_Explorer(solid.shape, TopAbs_FACE).Current())
    assert BRep_Tool.Triangulation_s(face, TopLoc_Location()) is not None


def test_awkward_names_stay_readable(tmp_path: Path) -> None:
    """Apostrophes, letters beyond ASCII, backslashes and line breaks must give a sound file."""
    text = write(tmp_path / "a.step", box("it's \\ a\n'straße' " + 60 * "long "))
    assert check_part21(text) == []
    assert "it''s / a ''stra\\X2\\00DF\\X0\\e''" in text


def test_path_that_is_a_folder(tmp_path: Path) -> None:
    """A folder in the file's place must be named, with exit code 7."""
    (tmp_path / "a.step").mkdir()
    with pytest.raises(WriteError, match="cannot be written") as caught:
        write(tmp_path / "a.step")
    assert caught.value.exit_code == 7
