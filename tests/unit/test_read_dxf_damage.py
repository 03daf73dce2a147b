"""Damaged DXF files: whatever the bytes are, an outline or one clear refusal."""

import io
import random
from pathlib import Path

import pytest
from ezdxf import filemanagement

from scalegen.errors import PatternError
from scalegen.model import OutlineSource
from scalegen.outline.read import Outline, read_outline

AREA = 100 * 20


def sound(version: str = "R2000") -> bytes:
    """A rectangle of lines with a hole and a spline in it, as text."""
    doc = filemanagement.new(version, units=4)
    space = doc.modelspace()
    corners = [(0, 0), (100, 0), (100, 20), (0, 20)]
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(a, b)
    space.add_circle((30, 10), 2)
    space.add_open_spline([(40, 5), (50, 15), (60, 5), (70, 15)])
    doc.blocks.new("b").add_line((0, 0), (1, 1))
    space.add_blockref("b", (80, 5))
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode()


def read(path: Path, data: bytes) -> Outline:
    """Read bytes as a DXF file in mm."""
    path.write_bytes(data)
    return read_outline(OutlineSource(path=path), units="mm")


@pytest.mark.parametrize("ending", [b"\n", b"\r\n", b"\r"])
def test_any_line_ending_will_do(tmp_path: Path, ending: bytes) -> None:
    """Line endings of every system must read alike."""
    assert read(tmp_path / "e.dxf", sound().replace(b"\n", ending)).ring.area_mm2 == pytest.approx(AREA)


def test_empty_and_double_handles_do_not_matter(tmp_path: Path) -> None:
    """Handles are not needed for outlines: all empty, or all alike, the file must read whole."""
    lines = sound().split(b"\n")
    start = lines.index(b"ENTITIES")
    for handle in (b"", b"2A"):
        changed = [
            handle if k > start and k % 2 and lines[k - 1].strip() == b"5" else line
            for k, line in enumerate(lines)
        ]
        outline = read(tmp_path / "h.dxf", b"\n".join(changed))
        assert outline.ring.area_mm2 == pytest.approx(AREA)
        assert len(outline.holes) == 1


def test_a_file_cut_short_leaves_out_its_last_entity_and_says_so(tmp_path: Path) -> None:
    """A number cut in the middle must not be believed."""
    data = sound()
    radius = data.index(b"\n 40\n2.0", data.index(b"AcDbCircle"))
    outline = read(tmp_path / "c.dxf", data[: radius + 6])
    assert outline.holes == ()
    assert any("cut short" in note for note in outline.notes)
    assert "left out (damaged): 1 CIRCLE" in outline.notes


def test_a_polyline_with_fewer_points_than_it_says_is_damaged(tmp_path: Path) -> None:
    """A stated number of points that does not agree must not give another outline."""
    text = "0|SECTION|2|ENTITIES|0|LWPOLYLINE|8|0|90|4|70|1|10|0|20|0|10|9|20|0|10|9|20|9|0|ENDSEC|0|EOF|"
    with pytest.raises(PatternError, match="points are missing"):
        read(tmp_path / "p.dxf", text.replace("|", "\n").encode())


def test_numbers_that_are_not_finite_are_refused(tmp_path: Path) -> None:
    """nan, inf and numbers out of range must leave an entity out, not end in another error."""
    for number in (b"nan", b"inf", b"1e999", b"-1e308", b"1,5", b""):
        text = b"0|SECTION|2|ENTITIES|0|CIRCLE|8|0|10|%s|20|0|40|5|0|ENDSEC|0|EOF|" % number
        with pytest.raises(PatternError, match=r"no closed contour|beyond 100 m"):
            read(tmp_path / "n.dxf", text.replace(b"|", b"\n"))


def test_another_kind_of_file_is_called_by_its_name(tmp_path: Path) -> None:
    """A DWG, PDF or picture under a DXF name must be told as such."""
    for start, name in ((b"AC1027", "DWG"), (b"%PDF-1.7", "PDF"), (b"\x89PNG\r\n", "PNG"), (b"<svg>", "SVG")):
        with pytest.raises(PatternError, match=name):
            read(tmp_path / "x.dxf", start + b"\x00" * 50)


def test_a_binary_file_that_ends_early_gives_what_came_before(tmp_path: Path) -> None:
    """A binary file cut anywhere must read or be refused, never fail otherwise."""
    doc = filemanagement.read(io.StringIO(sound().decode()))
    for version in ("R2000", "R2018"):
        doc.dxfversion = version
        doc.saveas(tmp_path / "b.dxf", fmt="bin")
        data = (tmp_path / "b.dxf").read_bytes()
        assert read(tmp_path / "b.dxf", data).ring.area_mm2 == pytest.approx(AREA)
        for cut in range(20, len(data), len(data) // 40):
            try:
                assert read(tmp_path / "b.dxf", data[:cut]).ring.area_mm2 == pytest.approx(AREA)
            except PatternError:
                continue


@pytest.mark.parametrize("seed", range(40))
def test_changed_bytes_and_lines_never_show_a_foreign_error(tmp_path: Path, seed: int) -> None:
    """Whatever happens to a file, it must read or be refused."""
    chance = random.Random(seed)  # noqa: S311 - no secret, only repeatable changes
    lines = sound().split(b"\n")
    odd = [b"", b"0", b"-1", b"1e400", b"nan", b"999999999999", b"ENDSEC", b"INSERT", b"BLOCK", b"\xff\xfe"]
    for _ in range(chance.randint(1, 30)):
        k = chance.randrange(len(lines))
        match chance.randrange(4):
            case 0:
                lines[k] = chance.choice(odd)
            case 1:
                del lines[k]
            case 2:
                lines.insert(k, chance.choice(odd))
            case _:
                lines[k] = chance.choice(lines)
    try:
        area = read(tmp_path / "f.dxf", b"\n".join(lines)).ring.area_mm2
    except PatternError:
        return
    assert area > 0
