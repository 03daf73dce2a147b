"""Height fields: cells, masks, volumes."""

import math

import numpy as np
import pytest

from scalegen.errors import UsageError
from scalegen.form.body import circle
from scalegen.machining.field import blank_field, box_mask, disc_mask, ring_mask, volume_mm3
from scalegen.outline.ring import Ring


def test_a_sheet_has_the_cells_that_are_stated() -> None:
    """305 x 152 mm in cells of 0.1 mm are 1520 rows of 3050, in 18.5 MB."""
    field = blank_field(305.0, 152.0, 6.9)
    assert field.shape == (1520, 3050)
    assert field.size_bytes == 1520 * 3050 * 4
    assert volume_mm3(field) == pytest.approx(305 * 152 * 6.9, rel=1e-6)


def test_a_cell_stands_for_its_middle() -> None:
    """Every middle falls into its own cell, and the far edges belong to the last ones."""
    field = blank_field(3.0, 2.0, 1.0, 0.5)
    for row, y in enumerate(field.ys_mm.tolist()):
        for col, x in enumerate(field.xs_mm.tolist()):
            assert field.cell_at((x, y)) == (row, col)
    assert field.cell_at((3.0, 2.0)) == (3, 5)


@pytest.mark.parametrize("at", [(-0.1, 1.0), (3.1, 1.0), (1.0, 2.1), (math.nan, 1.0)])
def test_a_place_off_the_blank_is_refused(at: tuple[float, float]) -> None:
    """The message says which places there are."""
    with pytest.raises(UsageError, match="from 0 to 3"):
        blank_field(3.0, 2.0, 1.0, 0.5).cell_at(at)


@pytest.mark.parametrize(
    ("sizes", "word"),
    [
        ((0, 2, 1, 0.5), "length"),
        ((3, math.inf, 1, 0.5), "width"),
        ((3, 2, -1, 0.5), "thickness"),
        ((3, 2, 1, math.nan), "cell"),
        ((1e4, 1e4, 1, 0.1), "larger cells"),
    ],
)
def test_impossible_blanks_are_refused(sizes: tuple[float, float, float, float], word: str) -> None:
    """Sizes must be above 0 and finite, and the memory must hold the cells."""
    with pytest.raises(UsageError, match=word):
        blank_field(*sizes)


def test_heights_cannot_be_changed() -> None:
    """A field that was handed out stays as it is."""
    with pytest.raises(ValueError, match="read-only"):
        blank_field(3.0, 2.0, 1.0, 0.5).heights_mm[0, 0] = 2.0


def test_what_lies_below_the_bed_is_no_volume() -> None:
    """Cuts into the tape take nothing from the blank."""
    field = blank_field(3.0, 2.0, 1.0, 0.5)
    assert volume_mm3(field.changed(np.full(field.shape, -0.2, dtype=np.float32))) == 0


def test_a_box_takes_the_cells_whose_middles_it_holds() -> None:
    """Half a cell more or less decides, and a box beside the blank is empty."""
    field = blank_field(3.0, 2.0, 1.0, 0.5)
    assert box_mask(field, (0.25, 0.25, 1.25, 0.75)).sum() == 3 * 2
    assert box_mask(field, (0.26, 0.25, 1.24, 0.75)).sum() == 1 * 2
    assert not box_mask(field, (5.0, 5.0, 9.0, 9.0)).any()


@pytest.mark.parametrize(
    "ring",
    [
        circle(7.3, 6.1, 9.0),
        Ring.from_rows([[1, 1], [14, 2], [13, 11], [8, 4], [2, 11]]),
        Ring.from_rows([[2, 2, 0.4], [13, 3, -0.3], [12, 11, 0.0], [3, 10, -0.5]]),
    ],
)
def test_cells_inside_a_ring_come_to_its_area(ring: Ring) -> None:
    """The area of the cells differs from the ring's by no more than a fraction of its edge's cells."""
    field = blank_field(15.0, 12.0, 1.0, 0.05)
    _, mask = ring_mask(field, ring)
    assert mask.sum() * field.cell_mm2 == pytest.approx(ring.area_mm2, abs=0.05 * ring.perimeter_mm * 0.05)


def test_a_ring_beyond_the_blank_is_cut_off_at_its_edge() -> None:
    """A half circle over the edge gives half its area."""
    field = blank_field(15.0, 12.0, 1.0, 0.05)
    _, mask = ring_mask(field, circle(0.0, 6.0, 8.0))
    assert mask.sum() * field.cell_mm2 == pytest.approx(math.pi * 16 / 2, rel=2e-3)


def test_a_disc_takes_its_rim() -> None:
    """Middles at exactly the radius are in."""
    field = blank_field(5.0, 5.0, 1.0, 1.0)
    _, disc = disc_mask(field, (2.5, 2.5), 1.0)
    assert disc.sum() == 5
