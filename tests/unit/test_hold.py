"""What holds the parts, and what comes loose."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.machining.cutter_shape import flat
from scalegen.machining.dry_run import DryRun, Snapshot
from scalegen.machining.field import BoolGrid, FloatGrid, HeightField, blank_field, box_mask
from scalegen.machining.hold import components, held, holds
from scalegen.machining.target import Target

PAD = (1.0, 1.0, 5.0, 5.0)
PARTS = ((8.0, 2.0, 18.0, 8.0), (22.0, 2.0, 32.0, 8.0))
FIELD = blank_field(40.0, 12.0, 5.0, 0.5)


def target() -> Target:
    """Two boxes side by side."""
    parts = np.full(FIELD.shape, -1, dtype=np.int16)
    for number, box in enumerate(PARTS):
        parts[box_mask(FIELD, box)] = number
    return Target(
        field=FIELD,
        whole_mm=FIELD.heights_mm.copy(),
        blank_mm=5.0,
        floor_mm=0.2,
        blank=FIELD,
        parts=parts,
        solid=parts >= 0,
        labels=("1L", "1R"),
        pad=PAD,
    )


def slot(heights: FloatGrid, box: tuple[float, float, float, float], height_mm: float = -0.2) -> None:
    """Cut a ring of 1 mm around a box down to a height."""
    x0, y0, x1, y1 = box
    ring = box_mask(FIELD, (x0 - 1, y0 - 1, x1 + 1, y1 + 1)) & ~box_mask(FIELD, box)
    heights[ring] = height_mm


def cut(*boxes: tuple[float, float, float, float]) -> HeightField:
    """The blank with slots around boxes."""
    heights = FIELD.heights_mm.copy()
    for box in boxes:
        slot(heights, box)
    return FIELD.changed(heights)


@given(st.integers(0, 10**6), st.floats(0.2, 0.8))
@settings(max_examples=30, deadline=None)
def test_pieces_are_those_that_shapely_finds(seed: int, share: float) -> None:
    """Cells joined side by side are the polygons of a union; each piece has one number."""
    random = np.random.default_rng(seed)
    mask: BoolGrid = random.random(random.integers(1, 14, 2)) < share
    labels, count = components(mask)
    assert (labels >= 0).tolist() == mask.tolist()
    boxes = [shapely.box(x, y, x + 1, y + 1) for y, x in np.argwhere(mask).tolist()]
    # Shrinking a little parts what touches at corners alone.
    union = shapely.union_all(boxes).buffer(-0.01) if boxes else shapely.Polygon()
    pieces = [piece for piece in shapely.get_parts(union) if not piece.is_empty]
    assert count == len(pieces)
    for piece in pieces:
        inside = [bool(piece.intersects(shapely.Point(x + 0.5, y + 0.5))) for y, x in np.argwhere(mask)]
        assert len(np.unique(labels[mask][inside])) == 1


def test_a_spiral_is_one_piece() -> None:
    """However far round two cells hang together."""
    mask = np.array([[1, 1, 1, 1, 1], [0, 0, 0, 0, 1], [1, 1, 1, 0, 1], [1, 0, 0, 0, 1], [1, 1, 1, 1, 1]]) > 0
    assert components(mask)[1] == 1


def test_before_anything_is_cut_all_hang_together() -> None:
    """Every part is in the blank, joined to the other, and stands on its whole area."""
    found = held("none", FIELD, target())
    assert [part.area_mm2 for part in found.parts] == pytest.approx([60.0, 60.0])
    assert all(part.in_blank and not part.is_loose for part in found.parts)
    assert found.parts[0].joined == ("1R",)
    assert found.offcuts == ()
    assert found.pad_in_blank


def test_a_slot_sets_one_part_free() -> None:
    """Only that one; the other stays in the blank."""
    found = held("outlines", cut(PARTS[0]), target())
    assert [part.is_loose for part in found.parts] == [True, False]
    assert found.parts[1].joined == ()
    assert found.loosened == ("1L",)


def test_a_part_that_was_free_is_not_set_free_again() -> None:
    """A stage tells what it loosens, not what was loose before."""
    assert held("later", cut(*PARTS), target(), frozenset({"1L"})).loosened == ("1R",)


def test_a_bridge_holds() -> None:
    """One cell of height above the bed keeps a part in the blank."""
    heights = cut(*PARTS).heights_mm.copy()
    heights[FIELD.window((12.0, 8.0, 13.0, 9.0))] = 0.5
    found = held("outlines", FIELD.changed(heights), target())
    assert [part.in_blank for part in found.parts] == [True, False]


def test_waste_that_comes_loose_is_named_with_its_place() -> None:
    """A cut-out square of waste is an off-cut with its area, found on itself; crumbs are not told."""
    box = (34.0, 4.0, 37.0, 7.0)
    heights = cut(box).heights_mm.copy()
    (offcut,) = held("o", FIELD.changed(heights), target()).offcuts
    assert offcut.area_mm2 == pytest.approx(9.0)
    assert 34 < offcut.at_mm[0] < 37
    assert 4 < offcut.at_mm[1] < 7


def test_a_pad_that_is_cut_off_is_told() -> None:
    """The pad's piece is then only as large as what was cut off with it."""
    heights = FIELD.heights_mm.copy()
    heights[FIELD.window((6.0, 0.0, 7.0, 12.0))] = -0.2
    found = held("o", FIELD.changed(heights), target())
    assert not found.pad_in_blank
    assert found.pad_mm2 == pytest.approx(6 * 12)


def test_stage_by_stage_each_part_is_loosened_once() -> None:
    """The first stage frees one, the second the other."""

    def shot(name: str, field: HeightField) -> Snapshot:
        return Snapshot(
            name=name,
            shape=flat(1.0),
            field=field,
            swept_mm=field.heights_mm,
            removed_mm3=0.0,
            deepest_mm=-0.2,
            deepest_at_mm=(0.0, 0.0),
            pad_mm=5.0,
            pad_ring_mm=0.0,
        )

    shots = (shot("one", cut(PARTS[0])), shot("two", cut(*PARTS)))
    found = holds(DryRun(target=target(), shots=shots, layers=()))
    assert [(hold.stage, hold.loosened) for hold in found] == [("one", ("1L",)), ("two", ("1R",))]
