"""Changing fields of a pattern file in place."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from scalegen.errors import PatternError, UsageError, WriteError
from scalegen.pattern.edit import edited_text, write_edited
from scalegen.pattern.read import read_pattern

TEXT = """\
# head
name = "wren"   # the name
units = "mm"

[tang]
outline = [ # rows
  [0, -10],  # lower left
  [100, -10],
  [100, 10], [0, 10],
]
thickness = 3   # of the tang

# about the front
[front]
at = 14.0
angle = 82  # degrees

[scale]
thickness = 6.2    # finished
edge = { treatment = "round", radius = 1.5 } # edge
# end of the scale

# about the pins
[[pin]]
at = [30, 1.5] # first
diameter = 3

[[pin]]
at = [60, 1.5]
diameter = 3
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A pattern file full of comments."""
    file = tmp_path / "wren.toml"
    file.write_bytes(TEXT.encode())
    return file


def test_a_changed_value_changes_nothing_else(path: Path) -> None:
    """Of the text, only the value itself must differ: its comment, its spacing and all other lines stay."""
    text = edited_text(path, {"scale.thickness": 5.5, "pin[1].at": [31, 2.5]})
    assert text == TEXT.replace("thickness = 6.2 ", "thickness = 5.5 ").replace("[30, 1.5]", "[31, 2.5]")
    assert path.read_text() == TEXT


def test_an_added_field_joins_its_own_table(path: Path) -> None:
    """A new key must follow the last key of its table, ahead of comments that lead to the next one."""
    text = edited_text(path, {"scale.trim": 1.0, "title": "Wren"})
    assert text == TEXT.replace('units = "mm"\n', 'units = "mm"\ntitle = "Wren"\n').replace(
        "# edge\n", "# edge\ntrim = 1.0\n"
    )


@pytest.mark.parametrize(
    ("changes", "steps", "value"),
    [
        ({"name": "robin"}, ["name"], "robin"),
        ({"tang.outline": "a.dxf"}, ["tang", "outline"], "a.dxf"),
        ({"front.treatment": "round", "front.radius": 2}, ["front", "radius"], 2),
        ({"front.arc": {"radius": 30, "shape": "hollow"}}, ["front", "arc", "shape"], "hollow"),
        ({"front.arc.radius": 30}, ["front", "arc"], {"radius": 30}),
        ({"scale.edge.radius": "1/16in"}, ["scale", "edge", "radius"], "1/16in"),
        ({"scale.thickness": "stack"}, ["scale", "thickness"], "stack"),
        ({"pin[2].drill": "#30"}, ["pin", 1, "drill"], "#30"),
        ({"pin[3].at": [80, 0], "pin[3].diameter": 4}, ["pin", 2], {"at": [80, 0], "diameter": 4}),
    ],
)
def test_the_new_text_holds_the_new_value_and_all_comments(
    path: Path, changes: dict[str, object], steps: list[Any], value: object
) -> None:
    """Read by the standard library, the edited text must have the value in place, and comments stay."""
    text = edited_text(path, changes)
    found: Any = tomllib.loads(text)
    for step in steps:
        found = found[step]
    assert found == value
    kept = {"# head", "# the name", "# of the tang", "# about the front", "# about the pins", "# first"}
    assert all(comment in text for comment in kept)


def test_none_removes_a_field(path: Path) -> None:
    """A field set to None must be gone, so that a treatment can be changed with its keys."""
    changes = {"scale.edge.treatment": "chamfer", "scale.edge.radius": None, "scale.edge.size": 1}
    edge = tomllib.loads(edited_text(path, changes))["scale"]["edge"]
    assert edge == {"treatment": "chamfer", "size": 1}


def test_windows_line_ends_stay(path: Path) -> None:
    """A file with CRLF line ends must keep them, also in lines that are new."""
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    write_edited(path, {"scale.trim": 1.0, "pin[3].at": [80, 0], "pin[3].diameter": 4})
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf# head\r\n")
    assert data.count(b"\n") == data.count(b"\r\n") > TEXT.count("\n")


@pytest.mark.parametrize(
    ("where", "words"),
    [
        ("scale.thicknes", "did you mean thickness"),
        ("scale.thickness.more", "ends there"),
        ("pin.at", r"pin\[1\]"),
        ("pin[0].at", "pin"),
        ("pin[5].at", r"pin\[3\] adds one"),
        ("tang[1].outline", "tang"),
        ("front", "whole table"),
        ("pin[1]", "whole table"),
        ("", "fields there"),
    ],
)
def test_an_unknown_path_is_refused(path: Path, where: str, words: str) -> None:
    """A path that is no field of a pattern must be refused with what to write instead."""
    with pytest.raises(UsageError, match=words):
        edited_text(path, {where: 1})


def test_a_value_without_a_toml_form_is_refused(path: Path) -> None:
    """A value that TOML cannot hold must be refused by name."""
    with pytest.raises(UsageError, match=r"scale\.trim"):
        edited_text(path, {"scale.trim": object()})


def test_writing_replaces_the_file_and_leaves_nothing_behind(path: Path) -> None:
    """After writing, the pattern must read with the new value and the folder hold that one file."""
    path.chmod(0o640)
    write_edited(path, {"scale.thickness": 5.5})
    assert read_pattern(path).thickness_mm == 5.5
    assert list(path.parent.iterdir()) == [path]
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_change_that_breaks_the_pattern_is_not_written(path: Path) -> None:
    """A value the pattern reader refuses must leave the file as it was, with the fault told for that file."""
    with pytest.raises(PatternError) as caught:
        write_edited(path, {"scale.thickness": -1})
    (fault,) = caught.value.faults
    assert (fault.file, fault.field) == (str(path), "scale.thickness")
    assert path.read_text() == TEXT
    assert list(path.parent.iterdir()) == [path]


def test_a_failing_replacement_leaves_the_file_alone(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the file cannot be put in place, the old one must stay whole and no spare file be left."""

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(WriteError, match="No space left"):
        write_edited(path, {"scale.thickness": 5.5})
    assert path.read_text() == TEXT
    assert list(path.parent.iterdir()) == [path]


def test_a_link_stays_a_link(path: Path) -> None:
    """Writing through a symbolic link must change the file it points to."""
    link = path.with_name("link.toml")
    link.symlink_to(path)
    write_edited(link, {"scale.thickness": 5.5})
    assert link.is_symlink()
    assert read_pattern(path).thickness_mm == 5.5
