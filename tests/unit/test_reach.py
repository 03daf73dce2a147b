"""How deep a cutter gets, against the definition worked out cell by cell."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.machining import reach
from scalegen.machining.cutter_shape import CutterShape, ball, flat, shape_of
from scalegen.machining.field import BoolGrid, FloatGrid, blank_field
from scalegen.machining.reach import plunged_mm, swept_mm, tips_mm
from scalegen.outline.ring import FloatArray
from scalegen.shop import load_shop

TAPER = shape_of(load_shop(None).cutters["taper 6mm"])
SHAPES = [flat(1.4), flat(0.3), ball(1.3), ball(2.0), TAPER]


def by_hand(
    surface: FloatGrid, shape: CutterShape, cell: float, where: BoolGrid
) -> tuple[FloatArray, FloatArray]:
    """Tips and what is left, straight from the definition."""
    rows, cols = surface.shape
    r = int(shape.radius_mm / cell + 1e-9)
    taps = [
        (i, j, float(shape.rise_mm(np.array(cell * np.hypot(i, j)))))
        for i in range(-r, r + 1)
        for j in range(-r, r + 1)
        if cell * np.hypot(i, j) <= shape.radius_mm + 1e-9
    ]
    tips, left = np.full((rows, cols), np.inf), np.full((rows, cols), np.inf)
    for y, x in np.argwhere(where):
        near = [surface[y + i, x + j] - p for i, j, p in taps if 0 <= y + i < rows and 0 <= x + j < cols]
        tips[y, x] = max(near)
        for i, j, p in taps:
            if 0 <= y + i < rows and 0 <= x + j < cols:
                left[y + i, x + j] = min(left[y + i, x + j], tips[y, x] + p)
    return tips, left


@given(
    st.integers(0, 10**6),
    st.sampled_from(SHAPES),
    st.sampled_from([0.2, 0.5]),
    st.floats(0.0, 1.0),
    st.floats(0.05, 1.0),
)
@settings(max_examples=15, deadline=None)
def test_the_fast_way_equals_the_definition(
    seed: int, shape: CutterShape, cell: float, rough: float, share: float
) -> None:
    """Tips and what they leave are those of the definition, on steep and smooth surfaces, edges included."""
    random = np.random.default_rng(seed)
    rows, cols = random.integers(1, 26, 2)
    smooth = np.add.outer(np.linspace(0, 2, rows), np.sin(np.arange(cols) / 5))
    surface = (smooth + rough * random.integers(0, 3, (rows, cols))).astype(np.float32)
    where = random.random((rows, cols)) < share
    tips, left = by_hand(surface, shape, cell, where)
    found = tips_mm(surface, shape, cell, where)
    assert np.allclose(found, tips, rtol=0, atol=2e-6)
    assert np.allclose(swept_mm(found, shape, cell), left, rtol=0, atol=4e-6)


@pytest.mark.parametrize("shape", [flat(1.4), ball(1.3)], ids=["flat", "ball"])
def test_blocks_meet_without_a_seam(shape: CutterShape, monkeypatch: pytest.MonkeyPatch) -> None:
    """However the grid is cut into blocks, the result is the same."""
    random = np.random.default_rng(3)
    surface = random.random((70, 90)).astype(np.float32)
    where = random.random(surface.shape) < 0.3
    whole = tips_mm(surface, shape, 0.1, where)
    left = swept_mm(whole, shape, 0.1)
    monkeypatch.setattr(reach, "_BLOCK_ROWS", 11)
    monkeypatch.setattr(reach, "_BLOCK_COLS", 17)
    assert np.array_equal(tips_mm(surface, shape, 0.1, where), whole)
    assert np.array_equal(swept_mm(whole, shape, 0.1), left)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: f"{shape.kind}-{shape.radius_mm:g}")
def test_no_cutter_goes_below_what_it_must_spare(shape: CutterShape) -> None:
    """What is left never lies below the surface, and doing it again changes nothing."""
    random = np.random.default_rng(5)
    surface = np.cumsum(random.normal(0, 0.1, (40, 60)), axis=1).astype(np.float32)
    where = np.ones(surface.shape, dtype=np.bool_)
    left = swept_mm(tips_mm(surface, shape, 0.2, where), shape, 0.2)
    assert (left >= surface - 1e-5).all()
    again = swept_mm(tips_mm(left, shape, 0.2, where), shape, 0.2)
    assert np.allclose(again, left, rtol=0, atol=1e-5)


def test_where_the_axis_does_not_stand_nothing_is_cut() -> None:
    """Cells out of the cutter's reach are infinite."""
    surface = np.zeros((20, 20), dtype=np.float32)
    where = np.zeros(surface.shape, dtype=np.bool_)
    assert np.isinf(swept_mm(tips_mm(surface, flat(2.0), 0.5, where), flat(2.0), 0.5)).all()
    where[10, 10] = True
    left = swept_mm(tips_mm(surface, flat(2.0), 0.5, where), flat(2.0), 0.5)
    # A disc of radius 2 cells has 13 of them, counted on squared paper.
    assert np.isfinite(left).sum() == 13


def test_a_plunge_goes_down_where_it_is_told_to() -> None:
    """The axis need not stand on the middle of a cell."""
    field = blank_field(4.0, 4.0, 2.0, 0.5)
    window, left = plunged_mm(field, ball(2.0), (2.0, 2.0), 0.5)
    nearest = 0.5 + 1 - np.sqrt(1 - 2 * 0.25**2)
    assert left.min() == pytest.approx(nearest, abs=1e-6)
    assert field.heights_mm[window].shape == left.shape
