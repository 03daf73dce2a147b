"""Curves and blocks of DXF drawings: what is followed exactly, what is refitted, and what is refused."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ezdxf import filemanagement

from scalegen.errors import PatternError
from scalegen.model import OutlineSource
from scalegen.outline.read import Outline, read_outline
from scalegen.sources import Hints


def read(path: Path, fill: Callable[[Any], object], version: str = "R2010") -> Outline:
    """Write what ``fill`` puts into a new drawing in mm, and read it."""
    doc = filemanagement.new(version, units=4)
    fill(doc)
    doc.saveas(path)
    return read_outline(OutlineSource(path=path))


def stadium_block(doc: Any, name: str = "tang") -> Any:
    """A block with a stadium 100 x 20 of two lines and two arcs, and a pin hole at (20, 10)."""
    block = doc.blocks.new(name, base_point=(10, 10))
    block.add_line((10, 20), (90, 20))
    block.add_line((10, 0), (90, 0))
    block.add_arc((10, 10), 10, 90, 270)
    block.add_arc((90, 10), 10, 270, 90)
    block.add_circle((20, 10), 2)
    return block


STADIUM_AREA = 80 * 20 + np.pi * 100


def test_a_scaled_turned_mirrored_block_keeps_true_arcs(tmp_path: Path) -> None:
    """Under uniform scaling with a mirror image, arcs must stay arcs; area and place by the closed form."""

    def fill(doc: Any) -> None:
        stadium_block(doc)
        given = {"xscale": -1.5, "yscale": 1.5, "zscale": 1.5, "rotation": 90}
        doc.modelspace().add_blockref("tang", (5, 7), dxfattribs=given)

    outline = read(tmp_path / "b.dxf", fill)
    assert outline.ring.area_mm2 == pytest.approx(STADIUM_AREA * 1.5**2, rel=1e-12)
    assert np.count_nonzero(outline.ring.bulges) == 2
    # (20, 10) is 10 along the block's x from its base; mirrored, scaled, turned to -y.
    assert outline.holes == (pytest.approx((5, 7 - 15, 6)),)


def test_blocks_within_blocks_are_put_in_place(tmp_path: Path) -> None:
    """A block two deep, each doubled in size, must come out four times as large."""

    def fill(doc: Any) -> None:
        stadium_block(doc)
        given = {"xscale": 2, "yscale": 2}
        doc.blocks.new("outer").add_blockref("tang", (0, 0), dxfattribs=given)
        doc.modelspace().add_blockref("outer", (0, 0), dxfattribs=given)

    assert read(tmp_path / "n.dxf", fill).ring.area_mm2 == pytest.approx(16 * STADIUM_AREA, rel=1e-12)


def test_a_z_scale_of_zero_does_not_matter(tmp_path: Path) -> None:
    """A block flattened in z must be read as it is seen."""

    def fill(doc: Any) -> None:
        stadium_block(doc)
        doc.modelspace().add_blockref("tang", (0, 0), dxfattribs={"zscale": 0})

    assert read(tmp_path / "z.dxf", fill).ring.area_mm2 == pytest.approx(STADIUM_AREA, rel=1e-12)


def test_an_array_of_a_block_is_several_contours(tmp_path: Path) -> None:
    """Two columns 200 mm apart hold two equal outlines, which must be asked about."""

    def fill(doc: Any) -> None:
        stadium_block(doc)
        given = {"column_count": 2, "column_spacing": 200}
        doc.modelspace().add_blockref("tang", (0, 0), dxfattribs=given)

    with pytest.raises(PatternError, match=r"around \(40\.000, 0\.000\) and .*around \(240\.000, 0\.000\)"):
        read(tmp_path / "a.dxf", fill)


def test_a_block_that_contains_itself_ends(tmp_path: Path) -> None:
    """A block that inserts itself must be named, and the rest of it read once."""

    def fill(doc: Any) -> None:
        stadium_block(doc).add_blockref("tang", (1, 1))
        doc.modelspace().add_blockref("tang", (0, 0))

    outline = read(tmp_path / "r.dxf", fill)
    assert outline.ring.area_mm2 == pytest.approx(STADIUM_AREA, rel=1e-12)
    assert "left out (a block that contains itself): 1 INSERT" in outline.notes


def test_blocks_that_multiply_beyond_reason_are_refused(tmp_path: Path) -> None:
    """Ten blocks, each inserting the next ten times over, must be refused, not followed to the end."""

    def fill(doc: Any) -> None:
        for k in range(10):
            block = doc.blocks.new(f"b{k}")
            for i in range(10):
                block.add_blockref(f"b{k + 1}", (i, 0))
        doc.blocks.new("b10")
        doc.modelspace().add_blockref("b0", (0, 0))

    with pytest.raises(PatternError, match="holds too much"):
        read(tmp_path / "m.dxf", fill)


def test_layer_zero_in_a_block_goes_by_the_layer_of_the_insert(tmp_path: Path) -> None:
    """What stands on layer 0 of a block that is inserted on a frozen layer must be left out."""

    def fill(doc: Any) -> None:
        doc.layers.add("hidden").freeze()
        stadium_block(doc)
        doc.modelspace().add_blockref("tang", (0, 0), dxfattribs={"layer": "hidden"})

    with pytest.raises(PatternError, match=r"layer 'hidden' is off or frozen") as caught:
        read(tmp_path / "f.dxf", fill)
    assert "show what is hidden" in caught.value.remedy


def test_everything_in_paper_space_is_said_so(tmp_path: Path) -> None:
    """A drawing whose model space is empty must say where its entities are and what to do."""

    def fill(doc: Any) -> None:
        doc.layout("Layout1").add_lwpolyline([(0, 0), (100, 0), (100, 20)], close=True)

    with pytest.raises(PatternError, match="1 entities are in paper space") as caught:
        read(tmp_path / "p.dxf", fill)
    assert "model space" in caught.value.remedy


def test_an_invisible_entity_is_left_out(tmp_path: Path) -> None:
    """An entity that is marked invisible must not become a hole."""

    def fill(doc: Any) -> None:
        doc.modelspace().add_lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20)], close=True)
        doc.modelspace().add_circle((20, 10), 2, dxfattribs={"invisible": 1})

    outline = read(tmp_path / "i.dxf", fill)
    assert outline.holes == ()
    assert "left out (invisible): 1 CIRCLE" in outline.notes


def test_what_only_looks_flat_is_refused(tmp_path: Path) -> None:
    """A 3D polyline that rises, and an arc in a tilted plane, must not be flattened silently."""

    def fill(doc: Any) -> None:
        doc.modelspace().add_polyline3d([(0, 0, 0), (100, 0, 1), (100, 20, 0), (0, 20, 0)], close=True)
        doc.modelspace().add_ellipse((0, 0), (50, 0, 1), 0.5)

    with pytest.raises(PatternError, match=r"left out \(not flat\): 1 ELLIPSE, 1 POLYLINE"):
        read(tmp_path / "t.dxf", fill)


def test_an_upright_plane_turned_back_is_flat(tmp_path: Path) -> None:
    """A circle drawn in the xz plane, in a block laid down by its own plane, is round again."""

    def fill(doc: Any) -> None:
        block = doc.blocks.new("up")
        block.add_circle((0, 0), 20, dxfattribs={"extrusion": (0, -1, 0)})
        doc.modelspace().add_blockref("up", (0, 0), dxfattribs={"extrusion": (0, 1, 0)})

    assert read(tmp_path / "u.dxf", fill).ring.area_mm2 == pytest.approx(400 * np.pi, rel=1e-12)


def test_an_ellipse_ending_a_hair_early_is_whole(tmp_path: Path) -> None:
    """An end parameter of 6.28318 must close the ellipse."""

    def fill(doc: Any) -> None:
        doc.modelspace().add_ellipse((0, 0), (50, 0), 0.4, 0, 6.28318)

    outline = read(tmp_path / "e.dxf", fill)
    assert outline.ring.area_mm2 == pytest.approx(np.pi * 50 * 20, abs=0.005 * 233)


def test_a_round_ellipse_and_a_round_spline_are_circles(tmp_path: Path) -> None:
    """An ellipse of equal axes and an exact rational circle must both be found as holes."""

    def fill(doc: Any) -> None:
        space = doc.modelspace()
        space.add_lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20)], close=True)
        space.add_ellipse((20, 10), (0, 3), 1.0)
        corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
        spline = space.add_spline(degree=2)
        spline.control_points = [(60 + 2 * x, 10 + 2 * y, 0) for x, y in corners]
        spline.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
        spline.weights = [1 if k % 2 == 0 else np.sqrt(0.5) for k in range(9)]

    assert read(tmp_path / "r.dxf", fill).holes == (
        pytest.approx((20, 10, 6), abs=1e-6),
        pytest.approx((60, 10, 4), abs=1e-6),
    )


def test_a_spline_given_by_points_only_passes_through_them(tmp_path: Path) -> None:
    """Fit points must lie on the outline within the tolerance, and few segments must do."""
    angles = np.linspace(0, 2 * np.pi, 25)
    points = [(55 * np.cos(a), 14 * np.sin(a) + 2 * np.sin(2 * a)) for a in angles]

    def fill(doc: Any) -> None:
        doc.modelspace().add_spline(points)

    outline = read(tmp_path / "s.dxf", fill)
    flat = outline.ring.flatten(1e-4)
    edges = np.roll(flat, -1, axis=0) - flat
    for point in points:
        off = point - flat
        t = np.clip((off * edges).sum(axis=1) / (edges**2).sum(axis=1), 0, 1)
        assert np.hypot(*(off - t[:, None] * edges).T).min() < 0.005
    assert len(outline.ring) <= 60  # 250 mm around, with two waves


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda s: s.knots.__delitem__(0), "do not match"),
        (lambda s: setattr(s, "weights", [1, 1, 0, 1]), "make no curve"),
        (lambda s: setattr(s.dxf, "degree", 90), "a degree of 90"),
    ],
)
def test_a_spline_with_wrong_numbers_is_named(
    tmp_path: Path, change: Callable[[Any], object], reason: str
) -> None:
    """A spline whose numbers make no curve must be left out with the reason."""

    def fill(doc: Any) -> None:
        spline = doc.modelspace().add_open_spline([(0, 0), (50, 0), (50, 50), (0, 50)])
        change(spline)

    with pytest.raises(PatternError, match=reason):
        read(tmp_path / "w.dxf", fill)


@pytest.mark.parametrize("tolerance_mm", [0.001, 0.005, 0.05])
def test_the_tolerance_asked_for_is_kept_and_what_was_reached_is_told(
    tmp_path: Path, tolerance_mm: float
) -> None:
    """An ellipse's arcs stay within the stated tolerance of x2/a2 + y2/b2 = 1, and the note tells it."""
    drawing = filemanagement.new("R2010", units=4)
    drawing.modelspace().add_ellipse((0, 0), (50, 0), 0.3)
    path = tmp_path / "a.dxf"
    drawing.saveas(path)
    outline = read_outline(OutlineSource(path=path, hints=Hints(tolerance_mm=tolerance_mm)))
    points = outline.ring.flatten(1e-5)
    angles = np.arctan2(points[:, 1] / 15, points[:, 0] / 50)
    # To first order the distance is the value of the equation over the length of its gradient.
    value = (points[:, 0] / 50) ** 2 + (points[:, 1] / 15) ** 2 - 1
    slope = 2 * np.hypot(np.cos(angles) / 50, np.sin(angles) / 15)
    assert np.abs(value / slope).max() <= tolerance_mm * 1.01 + 1e-5
    note = next(note for note in outline.notes if "reached" in note)
    reached = float(note.split("(reached ")[1].split(")")[0])
    assert 0 < reached <= tolerance_mm
