"""What a naive DXF reader gets wrong, one drawing of our own making for each."""

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from scalegen.errors import PatternError
from scalegen.model import OutlineSource, Units
from scalegen.outline import dxf_blocks, dxf_records, dxf_tags, join, read_dxf
from scalegen.outline.read import read_outline, survey

INCH_MM = 25.4

RECTANGLE = [(0.0, 0.0), (100.0, 0.0), (100.0, 20.0), (0.0, 20.0)]


def write(path: Path, fill: Callable[[Any], object], units: int = 4) -> OutlineSource:
    """Write what ``fill`` puts into a new drawing."""
    doc = filemanagement.new("R2000", units=units)
    fill(doc)
    doc.saveas(path)
    return OutlineSource(path=path)


def chain(space: Any, points: list[tuple[float, float]]) -> None:
    """Closed chain of lines."""
    for a, b in zip(points, points[1:] + points[:1], strict=True):
        space.add_line(a, b)


def entities(path: Path, text: str) -> OutlineSource:
    """A file with nothing but entities; groups are written with bars between."""
    path.write_text(f"0|SECTION|2|ENTITIES|{text}0|ENDSEC|0|EOF|".replace("|", "\n"))
    return OutlineSource(path=path)


# --------------------------------------------------------------------------------- what is in the file


def test_a_file_the_usual_library_refuses_is_read(tmp_path: Path) -> None:
    """A handle that is no number must not keep an outline from being read."""
    source = write(tmp_path / "h.dxf", lambda d: chain(d.modelspace(), RECTANGLE))
    assert source.path is not None
    text = source.path.read_text()
    start = text.index("ENTITIES")
    handle = text.index("  5\n", start) + 4
    source.path.write_text(text[:handle] + "no handle" + text[text.index("\n", handle) :])
    with pytest.raises(ValueError, match="handle"):
        filemanagement.readfile(source.path)
    assert read_outline(source).ring.area_mm2 == pytest.approx(2000)


def test_nothing_is_dropped_without_being_counted(tmp_path: Path) -> None:
    """Every entity must be among what was read or what was left out, with its kind."""

    def fill(doc: Any) -> None:
        space = doc.modelspace()
        chain(space, RECTANGLE)
        space.add_circle((50, 10), 3)
        space.add_text("tang")
        space.add_point((1, 1))
        space.add_3dface([(0, 0), (1, 0), (1, 1)])
        space.add_polyline3d([(0, 0, 0), (5, 5, 5), (9, 2, 1)])
        space.add_ray((0, 0), (1, 0))

    found = survey(write(tmp_path / "all.dxf", fill))
    assert sorted(item.kind for item in found.left_out) == ["3DFACE", "POINT", "POLYLINE", "RAY", "TEXT"]
    assert [len(contour.ring) for contour in found.contours] == [4, 2]


def test_different_heights_are_told(tmp_path: Path) -> None:
    """Curves at two heights must be read as one drawing, with both heights in a note."""

    def fill(doc: Any) -> None:
        chain(doc.modelspace(), RECTANGLE)
        doc.modelspace().add_circle((50, 10, 7.5), 3)

    outline = read_outline(write(tmp_path / "z.dxf", fill))
    assert len(outline.holes) == 1
    assert any("2 heights, z = 0 to 7.5" in note for note in outline.notes)


# -------------------------------------------------------------------------------------------- joining


@pytest.mark.parametrize(("gap_in", "joined"), [(0.0018, True), (0.003, False), (0.01, False)])
def test_gaps_in_an_inch_file_are_measured_in_mm(tmp_path: Path, gap_in: float, joined: bool) -> None:
    """0.0018 in is 0.046 mm and is closed; 0.01 in is 0.25 mm and must not be."""

    def fill(doc: Any) -> None:
        points = [(0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (0.0, 1.0), (0.0, gap_in)]
        for a, b in itertools.pairwise(points):
            doc.modelspace().add_line(a, b)

    found = survey(write(tmp_path / "g.dxf", fill, units=1))
    assert bool(found.contours) is joined
    assert [gap.size_mm for gap in found.gaps] == (pytest.approx([gap_in * INCH_MM]) if joined else [])


def test_real_segments_of_a_thousandth_of_an_inch_are_kept(tmp_path: Path) -> None:
    """Chamfers of 0.001 in, shorter than the widest gap closed, must all be there, and no gap told."""
    s, corners = 0.001, [(0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (0.0, 1.0)]
    ways = [((0, s), (s, 0)), ((-s, 0), (0, s)), ((0, -s), (-s, 0)), ((s, 0), (0, -s))]
    points = [(x + dx, y + dy) for (x, y), way in zip(corners, ways, strict=True) for dx, dy in way]
    found = survey(write(tmp_path / "s.dxf", lambda d: chain(d.modelspace(), points), units=1))
    ring = found.contours[0].ring
    assert len(ring) == 8
    assert ring.area_mm2 == pytest.approx((4 - 4 * s * s / 2) * INCH_MM**2, rel=1e-12)
    assert found.gaps == ()


def test_arcs_a_ten_thousandth_apart_are_joined_and_told(tmp_path: Path) -> None:
    """Four quarter ellipses with gaps up to 1e-4 must make one contour, the drawing together told."""

    def fill(doc: Any) -> None:
        for k in range(4):
            shift = 7e-5 * (k % 2)
            doc.modelspace().add_ellipse(
                (shift, shift), (50, 0), 0.3, k * 1.5707963267948966, (k + 1) * 1.5707963267948966
            )

    outline = read_outline(write(tmp_path / "q.dxf", fill))
    assert outline.ring.area_mm2 == pytest.approx(3.141592653589793 * 50 * 15, rel=2e-4)
    assert any("drew 4 joints together that were up to 0.0000" in note for note in outline.notes)


# ----------------------------------------------------------------------------------------------- units


@pytest.mark.parametrize(
    ("units", "system", "long", "asked"),
    [
        pytest.param(4, 0, 100, False, id="100 mm, imperial in passing"),
        pytest.param(1, 1, 4, False, id="4 in, metric in passing"),
        pytest.param(4, 0, 4, True, id="4 mm or 4 in"),
        pytest.param(1, 1, 100, True, id="100 in or 100 mm"),
    ],
)
def test_two_statements_about_the_unit_that_disagree(
    tmp_path: Path, units: int, system: int, long: float, asked: bool
) -> None:
    """The unit is believed, with a note, only where it makes a tang and the other does not."""

    def fill(doc: Any) -> None:
        doc.header["$MEASUREMENT"] = system
        chain(doc.modelspace(), [(0, 0), (long, 0), (long, long / 5), (0, long / 5)])

    source = write(tmp_path / "c.dxf", fill, units=units)
    if asked:
        with pytest.raises(PatternError, match="contradicts itself") as caught:
            read_outline(source)
        assert "--units mm or --units in" in caught.value.remedy
        assert f"as inches {long * INCH_MM / (1000 if long > 39 else 1):.4g} " in caught.value.remedy
        return
    outline = read_outline(source)
    assert outline.ring.bounds_mm[2] == pytest.approx(long * (INCH_MM if units == 1 else 1))
    assert any("calls itself" in note for note in outline.notes)


@pytest.mark.parametrize(("stated", "long_mm"), [("mm", 100.0), ("in", 2540.0)])
def test_a_file_without_header_takes_the_stated_unit(tmp_path: Path, stated: Units, long_mm: float) -> None:
    """Where the file has no header at all the user's word must do, and without it the file is refused."""
    text = "0|LWPOLYLINE|8|0|90|4|70|1|10|0|20|0|10|100|20|0|10|100|20|20|10|0|20|20|"
    source = entities(tmp_path / "n.dxf", text)
    assert read_outline(source, units=stated).ring.bounds_mm[2] == pytest.approx(long_mm)
    with pytest.raises(PatternError, match="does not say its unit"):
        read_outline(source)


# ------------------------------------------------------------------------------------------- too much


def test_too_much_is_refused_with_a_count(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each limit must end in a refusal that tells the number, not in a long wait."""
    small: dict[tuple[Any, str], tuple[int, str]] = {
        (dxf_tags, "MOST_GROUPS"): (50, "more than 100 lines of text"),
        (dxf_records, "MOST_RECORDS"): (20, "entities, blocks, layers and the like; 20 can be read"),
        (dxf_blocks, "MOST_CURVES"): (6, "more than 6 lines and curves"),
        (dxf_blocks, "MOST_POINTS"): (12, "more than 12 points"),
        (read_dxf, "MOST_FITS"): (1, "more than 1 splines and ellipses"),
        (read_dxf, "MOST_MADE"): (5, "make more than 5 lines and arcs"),
        (read_dxf, "LARGEST_BYTES"): (900, "more than 0 MB"),
        (join, "MOST_CONTOURS"): (3, "8 closed contours, where 3 can be looked through"),
    }

    def fill(doc: Any) -> None:
        chain(doc.modelspace(), RECTANGLE)
        for k in range(4):
            doc.modelspace().add_circle((20 * k + 10, 10), 2)
        for k in range(3):
            doc.modelspace().add_ellipse((20 * k + 20, 10), (3, 0), 0.5)

    source = write(tmp_path / "m.dxf", fill)
    assert len(survey(source).contours) == 8
    for (module, name), (most, told) in small.items():
        with monkeypatch.context() as patch:
            patch.setattr(module, name, most)
            with pytest.raises(PatternError, match=told) as caught:
                read_outline(source)
        assert "leave only the outline and the pin holes" in caught.value.remedy


def test_a_binary_file_with_too_much_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A binary file has a limit of its own, told as well."""
    monkeypatch.setattr(dxf_tags, "MOST_PACKED_GROUPS", 60)
    doc = filemanagement.new("R2000", units=4)
    doc.saveas(tmp_path / "b.dxf", fmt="bin")
    with pytest.raises(PatternError, match="more than 60 numbers and words"):
        read_outline(OutlineSource(path=tmp_path / "b.dxf"))


def test_curves_beyond_the_limit_become_short_lines_and_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Past a count of fitted arcs smaller curves must still be there, straight, close, and mentioned."""
    monkeypatch.setattr(read_dxf, "MOST_FITTED", 10)

    def fill(doc: Any) -> None:
        doc.modelspace().add_ellipse((0, 0), (50, 0), 0.3)
        doc.modelspace().add_ellipse((0, 0), (10, 0), 0.5)

    found = survey(write(tmp_path / "f.dxf", fill))
    large, small = (contour.ring for contour in found.contours)
    assert large.bulges.any()
    assert not small.bulges.any()
    assert small.area_mm2 == pytest.approx(3.141592653589793 * 50, abs=0.005 * small.perimeter_mm)
    assert any("1 of these, the smaller ones, became short straight lines" in n for n in found.notes)


def test_a_wavy_spline_of_very_many_points_is_read(tmp_path: Path) -> None:
    """1,400 control points must be followed; between waves the curve reaches about their middle."""
    points = [(0.08 * k, 0.5 * (-1) ** (k // 4), 0) for k in range(1400)]

    def fill(doc: Any) -> None:
        doc.modelspace().add_open_spline(points)
        chain_of = [points[-1], (111.92, -20, 0), (0, -20, 0), points[0]]
        for a, b in itertools.pairwise(chain_of):
            doc.modelspace().add_line(a, b)

    ring = read_outline(write(tmp_path / "w.dxf", fill)).ring
    assert ring.area_mm2 == pytest.approx(111.92 * 20, rel=1e-3)
    assert len(ring) > 700
