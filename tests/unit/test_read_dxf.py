"""Reading DXF outlines: entities, layers, units, joining, and choosing the outer contour."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ezdxf import filemanagement

from scalegen.errors import PatternError
from scalegen.model import OutlineSource
from scalegen.outline.join import Piece, arc_rows, circle_of, join_pieces
from scalegen.outline.read import Outline, read_outline
from scalegen.outline.ring import Ring

Draw = Callable[[Any], object]


def write(path: Path, draw: Draw, *, units: int = 4, version: str = "R2010") -> Path:
    """Write what ``draw`` puts into a new model space."""
    doc = filemanagement.new(version, units=units)
    draw(doc.modelspace())
    doc.saveas(path)
    return path


def read(path: Path, **options: Any) -> Outline:
    """Read a file as a pattern would."""
    return read_outline(OutlineSource(path=path), **options)


def rectangle(
    space: Any, x: float = 0, y: float = 0, long: float = 100, wide: float = 25, **given: Any
) -> None:
    """Draw four lines."""
    corners = [(x, y), (x + long, y), (x + long, y + wide), (x, y + wide)]
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(a, b, dxfattribs=given)


def stadium(space: Any) -> None:
    """Draw two lines and two arcs, out of order and in mixed directions."""
    space.add_line((0, 20), (80, 20))
    space.add_arc((0, 10), 10, 90, 270)
    space.add_line((0, 0), (80, 0))
    space.add_arc((80, 10), 10, 270, 90)


STADIUM_AREA = 80 * 20 + np.pi * 100  # rectangle and circle


# ---------------------------------------------------------------------------------------- entities


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_lines_and_arcs_become_one_ring_with_true_arcs(tmp_path: Path, version: str) -> None:
    """Loose lines and arcs must join into one ring whose area is that of the closed form."""
    outline = read(write(tmp_path / "a.dxf", stadium, version=version), units="mm")
    assert outline.ring.area_mm2 == pytest.approx(STADIUM_AREA, rel=1e-12)
    assert np.count_nonzero(outline.ring.bulges) == 2
    assert outline.notes == ()


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_a_binary_file_reads_like_a_text_file(tmp_path: Path, version: str) -> None:
    """A binary DXF, old or new, must give the same ring."""
    doc = filemanagement.new(version, units=4)
    stadium(doc.modelspace())
    doc.saveas(tmp_path / "b.dxf", fmt="bin")
    assert read(tmp_path / "b.dxf", units="mm").ring.area_mm2 == pytest.approx(STADIUM_AREA, rel=1e-12)


@pytest.mark.parametrize("kind", ["lwpolyline", "polyline2d"])
def test_bulges_of_polylines_are_kept(tmp_path: Path, kind: str) -> None:
    """A polyline's bulges must arrive unchanged; area by rectangle and circle."""
    points = [(0, 0, 0), (80, 0, 1), (80, 20, 0), (0, 20, 1)]

    def draw(space: Any) -> None:
        getattr(space, f"add_{kind}")(points, format="xyb", close=True)

    outline = read(write(tmp_path / "p.dxf", draw))
    assert outline.ring.area_mm2 == pytest.approx(STADIUM_AREA, rel=1e-12)
    assert sorted(outline.ring.bulges) == [0, 0, 1, 1]


def test_two_bulges_of_one_make_a_circle(tmp_path: Path) -> None:
    """A closed polyline of two points with bulge 1 must be taken as a hole when it lies inside."""

    def draw(space: Any) -> None:
        rectangle(space)
        space.add_lwpolyline([(28, 10, 1), (32, 10, 1)], format="xyb", close=True)

    assert read(write(tmp_path / "c.dxf", draw)).holes == ((30.0, 10.0, 4.0),)


def test_entities_seen_from_behind_are_mirrored(tmp_path: Path) -> None:
    """With extrusion (0, 0, -1) x must change sign, and arcs must still bulge outward."""
    behind = {"extrusion": (0, 0, -1)}

    def draw(space: Any) -> None:
        space.add_lwpolyline(
            [(0, 0, 0), (80, 0, 1), (80, 20, 0), (0, 20, 1)], format="xyb", close=True
        ).dxf.update(behind)
        space.add_circle((30, 5), 2, dxfattribs=behind)

    outline = read(write(tmp_path / "m.dxf", draw))
    assert outline.ring.bounds_mm == pytest.approx((-90, 0, 10, 20))
    assert outline.ring.area_mm2 == pytest.approx(STADIUM_AREA, rel=1e-12)
    assert outline.holes == ((-30.0, 5.0, 4.0),)


def test_arcs_seen_from_behind_join_with_lines(tmp_path: Path) -> None:
    """A mirrored ARC must meet lines, which are always in world coordinates."""

    def draw(space: Any) -> None:
        space.add_line((0, 20), (80, 20))
        space.add_line((0, 0), (80, 0))
        space.add_arc((0, 10), 10, 270, 90, dxfattribs={"extrusion": (0, 0, -1)})
        space.add_arc((80, 10), 10, 270, 90)

    assert read(write(tmp_path / "m.dxf", draw)).ring.area_mm2 == pytest.approx(STADIUM_AREA, rel=1e-12)


def test_tilted_entities_are_left_out_and_named(tmp_path: Path) -> None:
    """An entity that is not flat must be counted, not flattened silently."""

    def draw(space: Any) -> None:
        rectangle(space)
        space.add_line((10, 10, 0), (20, 10, 5))
        space.add_circle((30, 10), 2, dxfattribs={"extrusion": (0, 1, 1)})

    outline = read(write(tmp_path / "t.dxf", draw))
    assert outline.holes == ()
    assert "left out (not flat): 1 CIRCLE, 1 LINE" in outline.notes


def test_layers_that_are_off_or_frozen_are_left_out(tmp_path: Path) -> None:
    """What a drawing program does not show must not be read, and must be mentioned."""
    doc = filemanagement.new("R2010", units=4)
    doc.layers.add("old").off()
    doc.layers.add("older").freeze()
    rectangle(doc.modelspace())
    rectangle(doc.modelspace(), -50, -50, 300, 200, layer="old")
    doc.modelspace().add_circle((30, 10), 2, dxfattribs={"layer": "OLDER"})
    doc.saveas(tmp_path / "l.dxf")
    outline = read(tmp_path / "l.dxf")
    assert outline.ring.area_mm2 == pytest.approx(2500)
    assert outline.holes == ()
    assert sum("off or frozen" in note for note in outline.notes) == 2


def test_an_entity_that_cannot_be_read_is_named_when_the_outline_stays_open(tmp_path: Path) -> None:
    """When an entity that cannot be read leaves the outline open, the error must say which kind."""

    def draw(space: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_spline([(100, 0, 0), (110, 10, 5), (100, 20, 0)])
        space.add_line((100, 20), (0, 20))
        space.add_line((0, 20), (0, 0))

    with pytest.raises(PatternError, match=r"no closed contour.*\(100\.000, 0\.000\).*not flat\): 1 SPLINE"):
        read(write(tmp_path / "s.dxf", draw))


def test_a_hole_is_not_taken_for_the_outline(tmp_path: Path) -> None:
    """When the real outline is open or unreadable, a circle inside it must not stand in for it."""

    def opened(space: Any) -> None:
        space.add_lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20), (0, 1)])
        space.add_circle((30, 10), 2)

    def spline(space: Any) -> None:
        space.add_spline([(0, 0), (100, 0, 9), (100, 20), (0, 20), (0, 0)])
        rectangle(space, 20, 5, 10, 5)

    with pytest.raises(PatternError, match="probably not the outline"):
        read(write(tmp_path / "o.dxf", opened))
    with pytest.raises(PatternError, match="SPLINE lies around it"):
        read(write(tmp_path / "s.dxf", spline))


# -------------------------------------------------------------------------------------------- units


# Millimetres in a unit; source: international inch of 1959 and SI prefixes.
@pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (2, 304.8), (4, 1), (5, 10), (6, 1000), (13, 0.001)])
def test_the_unit_of_the_file_is_followed(tmp_path: Path, code: int, mm: float) -> None:
    """A 100 x 25 mm rectangle must come out the same from every unit."""
    path = write(tmp_path / "u.dxf", lambda s: rectangle(s, long=100 / mm, wide=25 / mm), units=code)
    assert read(path).ring.bounds_mm == pytest.approx((0, 0, 100, 25))


def test_a_missing_unit_is_asked_for_and_never_guessed(tmp_path: Path) -> None:
    """Without a unit the error must show both sizes; stated, the unit must be used."""
    path = write(tmp_path / "n.dxf", rectangle, units=0)
    with pytest.raises(PatternError) as caught:
        read(path)
    assert "as mm this tang is 100 mm long, as inches 2.54 m long (hardly a tang)" in str(caught.value)
    for way_out in ("--units mm", "--units in", "outline_units", "[tang]"):
        assert way_out in caught.value.remedy
    assert read(path, units="in").ring.bounds_mm == pytest.approx((0, 0, 2540, 635))


def test_a_stated_unit_goes_before_the_file(tmp_path: Path) -> None:
    """When the user and the file disagree the user must win, with a note."""
    outline = read(write(tmp_path / "w.dxf", rectangle, units=1), units="mm")
    assert outline.ring.area_mm2 == pytest.approx(2500)
    assert any("the file says inches" in note for note in outline.notes)


def test_a_drawing_in_metres_by_mistake_is_refused_with_its_unit(tmp_path: Path) -> None:
    """An outline of 100 m must be an error that names the unit it was read in."""
    with pytest.raises(PatternError, match="read in metres") as caught:
        read(write(tmp_path / "m.dxf", lambda s: rectangle(s, long=110), units=6))
    assert caught.value.exit_code == 3
    assert str(tmp_path) in caught.value.where


# ------------------------------------------------------------------------------------ damaged files


@pytest.mark.parametrize(
    "content",
    [b"", b"hello", b"\x00\xff" * 50, b"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n 10\nx\n", b"AutoCAD Binary"],
)
def test_what_is_no_drawing_gives_one_clear_error(tmp_path: Path, content: bytes) -> None:
    """Whatever the library raises must come out as one pattern error that names the file."""
    (tmp_path / "bad.dxf").write_bytes(content)
    with pytest.raises(PatternError, match=r"bad\.dxf"):
        read(tmp_path / "bad.dxf", units="mm")


@pytest.mark.parametrize("cut", range(20))
def test_a_file_cut_short_never_shows_a_foreign_error(tmp_path: Path, cut: int) -> None:
    """A file that ends too early must read, or give a pattern error."""
    data = write(tmp_path / "full.dxf", stadium, version="R2000").read_bytes()
    (tmp_path / "cut.dxf").write_bytes(data[: len(data) * (cut + 1) // 21])
    try:
        area = read(tmp_path / "cut.dxf").ring.area_mm2
    except PatternError:
        return
    assert area == pytest.approx(STADIUM_AREA)


def test_a_missing_file_and_a_foreign_ending_are_explained(tmp_path: Path) -> None:
    """The error must say what is wrong with the path."""
    with pytest.raises(PatternError, match="cannot be opened"):
        read(tmp_path / "none.dxf")
    with pytest.raises(PatternError, match=r"from a \.doc file"):
        read(tmp_path / "none.doc")


def test_without_a_header_closed_polylines_stay_closed_and_no_unit_is_made_up(tmp_path: Path) -> None:
    """A file with nothing but entities must keep its closed flag and ask for the unit."""
    text = (
        "  0|SECTION|  2|ENTITIES|  0|LWPOLYLINE|  5|AA|100|AcDbEntity|  8|0|100|AcDbPolyline| 90|3| 70|1|"
        " 10|0.0| 20|0.0| 10|50.0| 20|0.0| 10|50.0| 20|20.0|  0|ENDSEC|  0|EOF|"
    )
    (tmp_path / "h.dxf").write_text(text.replace("|", "\n"))
    with pytest.raises(PatternError, match="does not say its unit"):
        read(tmp_path / "h.dxf")
    assert read(tmp_path / "h.dxf", units="mm").ring.area_mm2 == pytest.approx(500)


def test_lines_that_are_out_of_step_cost_only_what_stands_there(tmp_path: Path) -> None:
    """A stray line in the middle of a file must be stepped over and told, and the rest read."""
    data = write(tmp_path / "a.dxf", stadium, version="R2000").read_text()
    head, entities = data.split("ENTITIES", 1)
    (tmp_path / "a.dxf").write_text(head + "ENTITIES" + entities.replace("AcDbLine", "AcDbLine\nstray", 1))
    with pytest.raises(PatternError, match=r"no closed contour.*damaged\): 1 LINE.*damaged in 1 places"):
        read(tmp_path / "a.dxf")


# ------------------------------------------------------------------------------------------ joining


def piece(*rows: tuple[float, ...], closed: bool = False) -> Piece:
    """A piece from rows x, y and optional bulge."""
    return Piece(rows=np.array([(*row, 0.0)[:3] for row in rows]), closed=closed, name="test")


def test_a_gap_is_closed_at_its_middle_and_reported() -> None:
    """A gap of 0.04 mm must be closed half way between its ends, and its place and size told."""
    joined = join_pieces([piece((0, 0), (10, 0)), piece((10, 0.04), (10, 10), (0, 10), (0, 0))])
    (gap,) = joined.gaps
    assert gap.at_mm == pytest.approx((10, 0.02))
    assert gap.size_mm == pytest.approx(0.04)
    assert [10, 0.02] in joined.contours[0].starts.round(9).tolist()


def test_a_gap_too_wide_stays_open_and_its_ends_are_told() -> None:
    """A gap of 0.06 mm must not be closed."""
    joined = join_pieces([piece((0, 0), (10, 0)), piece((10, 0.06), (10, 10), (0, 10), (0, 0))])
    assert joined.contours == ()
    assert sorted(joined.open_ends) == [(10, 0), (10, 0.06)]


def test_a_real_segment_shorter_than_the_gap_is_not_swallowed() -> None:
    """A chamfer of 0.02 mm that joins exactly must survive, although longer gaps would be closed."""
    joined = join_pieces(
        [
            piece((0, 0), (10, 0)),
            piece((10, 0), (10.01, 0.01)),
            piece((10.01, 0.01), (10, 10), (0, 10), (0, 0)),
        ]
    )
    assert len(joined.contours[0]) == 5
    assert joined.gaps == ()


@pytest.mark.parametrize("sweep", [0.01, 1.0, 3.1, 5.0, 6.2])
def test_an_arc_whose_end_moves_keeps_its_shape(sweep: float) -> None:
    """Drawing an arc's end over by 0.02 mm must not move any of its points by more than about that."""
    rows = arc_rows((0, 0), 10, 0, sweep)
    end = rows[-1, :2] + np.array([0.024, 0.032])
    there = [*end, 0.0]
    joined = join_pieces(
        [
            piece(*map(tuple, rows)),
            Piece(rows=np.array([there, [-30, -30, 0], [30, -30, 0], rows[0]]), closed=False, name=""),
        ]
    )
    radii = np.hypot(*joined.contours[0].flatten(1e-4).T)
    on_arc = np.abs(radii - 10)[radii < 11]
    assert len(joined.contours) == 1
    assert on_arc.max() < 0.03


def test_repeats_and_dead_ends_do_not_spoil_the_outline() -> None:
    """A line drawn twice and a line that branches off and ends nowhere must be left out and counted."""
    sides = [
        piece((0, 0), (10, 0)),
        piece((10, 0), (10, 10)),
        piece((10, 10), (0, 10)),
        piece((0, 10), (0, 0)),
    ]
    joined = join_pieces(
        [*sides, piece((10, 0), (0, 0)), piece((10, 10), (20, 30)), piece((20, 30), (20, 50))]
    )
    assert [ring.area_mm2 for ring in joined.contours] == pytest.approx([100])
    assert (joined.repeats, joined.strays, joined.branches) == (1, 1, ())


def test_a_branch_is_a_place_not_a_guess() -> None:
    """Where three ways meet no contour may be made up."""
    joined = join_pieces(
        [piece((0, 0), (10, 0), (10, 10)), piece((10, 10), (0, 0)), piece((10, 10), (0, 5), (0, 0))]
    )
    assert joined.contours == ()
    assert sorted(joined.branches) == [(0, 0), (10, 10)]


def test_two_half_circles_are_a_circle_and_an_ellipse_of_arcs_is_not() -> None:
    """Only arcs about one centre with one radius may be taken as a hole."""
    halves = join_pieces([piece((0, 0, 1), (4, 0)), piece((4, 0, 1), (0, 0))]).contours[0]
    assert circle_of(halves) == pytest.approx((2, 0, 4))
    assert circle_of(Ring.from_rows([(0, 0, 0.5), (4, 0, 0.5)])) is None


# --------------------------------------------------------------------------------------- choosing


def test_circles_inside_are_holes_and_the_rest_is_noted(tmp_path: Path) -> None:
    """Circles inside must be holes; other contours and circles elsewhere must be left out with a note."""

    def draw(space: Any) -> None:
        rectangle(space)
        rectangle(space, 50, 5, 10, 5)
        for x, y in ((80, 12), (20, 12), (0, 12), (-30, 0)):
            space.add_circle((x, y), 2)

    outline = read(write(tmp_path / "h.dxf", draw))
    assert outline.holes == ((20.0, 12.0, 4.0), (80.0, 12.0, 4.0))
    text = "\n".join(outline.notes)
    assert "a contour inside the outline: 4 segments, 10.000 x 5.000 mm" in text
    assert "a contour across it: circle, 4.000 x 4.000 mm around (0.000, 12.000)" in text
    assert "a contour outside it: circle, 4.000 x 4.000 mm around (-30.000, 0.000)" in text


def test_two_outlines_of_one_size_are_ambiguous(tmp_path: Path) -> None:
    """Two contours of equal area beside each other must be refused, both named."""

    def draw(space: Any) -> None:
        rectangle(space)
        rectangle(space, 0, 50)

    with pytest.raises(PatternError, match=r"around \(50\.000, 12\.500\) and .* around \(50\.000, 62\.500\)"):
        read(write(tmp_path / "two.dxf", draw))


def test_an_outline_drawn_twice_is_one_outline(tmp_path: Path) -> None:
    """The same outline as lines and again as a polyline must not be ambiguous."""

    def draw(space: Any) -> None:
        rectangle(space)
        space.add_lwpolyline([(0, 0), (100, 0), (100, 25), (0, 25)], close=True)

    outline = read(write(tmp_path / "twice.dxf", draw))
    assert outline.ring.area_mm2 == pytest.approx(2500)
    assert any("1 repeats" in note for note in outline.notes)


def test_an_outline_that_crosses_itself_is_refused_with_the_place(tmp_path: Path) -> None:
    """A loop that joins but crosses itself must be refused where the lines y = x / 2 and y = 20 - x meet."""

    def draw(space: Any) -> None:
        space.add_lwpolyline([(0, 0), (40, 20), (40, 40), (0, 20), (20, 0), (10, 0)], close=True)

    with pytest.raises(PatternError, match=r"crosses or touches itself at \(13\.333, 6\.667\)"):
        read(write(tmp_path / "x.dxf", draw))


def test_typed_rows_are_taken_as_mm_and_checked() -> None:
    """Rows in the pattern must be in mm, and faults in them pattern errors."""
    assert read_outline(OutlineSource(rows=((0, 0, 1), (10, 0, 1)))).ring.area_mm2 == pytest.approx(
        25 * np.pi
    )
    with pytest.raises(PatternError, match=r"tang\.outline: needs at least three points"):
        read_outline(OutlineSource(rows=((0, 0, 0), (10, 0, 0))))
