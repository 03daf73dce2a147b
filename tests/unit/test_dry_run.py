"""Stages one after the other: what each leaves, removes and lays open."""

import numpy as np
import pytest

from scalegen.errors import UsageError
from scalegen.machining.cutter_shape import drill, flat
from scalegen.machining.dry_run import (
    Cut,
    Plunge,
    exposed,
    exposed_mm2,
    gouged_mm,
    pad_untouched,
    rest_mm,
    run_stages,
)
from scalegen.machining.field import blank_field, box_mask

FIELD = blank_field(20.0, 10.0, 5.0, 0.5)
PAD = (1.0, 1.0, 4.0, 4.0)
ALL = np.ones(FIELD.shape, dtype=np.bool_)


def face(height_mm: float, *, spare_pad: bool = True) -> Cut:
    """A stage that levels the whole blank."""
    surface = np.full(FIELD.shape, height_mm, dtype=np.float32)
    if spare_pad:
        surface[FIELD.window(PAD)] = 5.0
    return Cut(name=f"face to {height_mm:g}", shape=flat(2.0), surface_mm=surface, where=ALL)


def test_facing_takes_the_blank_down_but_the_pad() -> None:
    """The volume is area times depth, and the deepest move is the new face."""
    (shot,) = run_stages(FIELD, (face(4.0),), PAD)
    # The cutter stays on the blank, and so leaves 1 x 3 mm between pad and each near edge.
    assert shot.removed_mm3 == pytest.approx((200 - 9 - 2 * 3) * 1.0, rel=0.02)
    assert shot.deepest_mm == pytest.approx(4.0)
    assert pad_untouched(shot, 5.0)
    assert shot.pad_ring_mm == pytest.approx(0.0, abs=1e-9)


def test_over_bare_bed_the_cutter_goes_round_the_edge() -> None:
    """With an apron its axis leaves the blank, and nothing stays between pad and edge."""
    field = blank_field(20.0, 10.0, 5.0, 0.5, apron_mm=2.0)
    assert (field.x_mm, field.y_mm, field.shape) == (-2.0, -2.0, (28, 48))
    surface = np.full(field.shape, 4.0, dtype=np.float32)
    surface[field.window(PAD)] = 5.0
    where = np.ones(field.shape, dtype=np.bool_)
    cut = Cut(name="face", shape=flat(2.0), surface_mm=surface, where=where)
    (shot,) = run_stages(field, (cut,), PAD)
    assert shot.removed_mm3 == pytest.approx((200 - 9) * 1.0, rel=1e-6)


def test_a_pad_that_is_cut_shows() -> None:
    """Its lowest height is told, and it is no longer untouched."""
    (shot,) = run_stages(FIELD, (face(4.0, spare_pad=False),), PAD)
    assert shot.pad_mm == pytest.approx(4.0)
    assert not pad_untouched(shot, 5.0)


def test_a_later_stage_that_stays_above_changes_nothing() -> None:
    """Heights only go down."""
    one, two = run_stages(FIELD, (face(3.0), face(4.0)), PAD)
    assert np.array_equal(one.field.heights_mm, two.field.heights_mm)
    assert two.removed_mm3 == 0


def test_the_ring_about_the_pad_is_measured() -> None:
    """The nearest lowered cell decides, straight or across the corner, and far away is far."""
    field = blank_field(40.0, 40.0, 5.0, 0.5)
    pad = (5.0, 5.0, 10.0, 10.0)
    hole = Cut(name="h", shape=flat(0.9), plunges=(Plunge(x_mm=13.25, y_mm=14.25, tip_mm=1.0),))
    (shot,) = run_stages(field, (hole,), pad)
    # The lowered cell begins at (13, 14): 3 and 4 from the corner, and so 5 away.
    assert shot.pad_ring_mm == pytest.approx(5.0)
    far = Cut(name="h", shape=flat(0.9), plunges=(Plunge(x_mm=30.25, y_mm=30.25, tip_mm=1.0),))
    assert run_stages(field, (far,), pad)[0].pad_ring_mm == 10.0


def test_a_plunge_off_the_blank_cuts_nothing() -> None:
    """Its tip still counts as the deepest move."""
    cut = Cut(name="h", shape=drill(3.0), plunges=(Plunge(x_mm=50.0, y_mm=5.0, tip_mm=-1.0),))
    (shot,) = run_stages(FIELD, (cut,), PAD)
    assert shot.removed_mm3 == 0
    assert shot.deepest_mm == -1.0


def test_a_stage_over_another_grid_is_refused() -> None:
    """The message names the stage."""
    with pytest.raises(UsageError, match="face to 4"):
        run_stages(blank_field(10.0, 10.0, 5.0, 0.5), (face(4.0),), PAD)


def test_rest_and_gouge_are_what_is_too_high_and_too_low() -> None:
    """Only in the cells that are asked about."""
    wanted = np.full(FIELD.shape, 4.5, dtype=np.float32)
    wanted[:, :10] = 5.5
    left = box_mask(FIELD, (0.0, 0.0, 10.0, 5.0))
    rest, deep = rest_mm(FIELD, wanted, left), gouged_mm(FIELD, wanted, left)
    assert (rest[0, 0], rest[0, 15], rest[19, 15]) == (0.0, 0.5, 0.0)
    assert (deep[0, 0], deep[0, 15], deep[19, 0]) == (0.5, 0.0, 0.0)


def test_the_layer_that_lies_open_is_named() -> None:
    """A surface just at the top of a layer is that layer's; nothing is left at or below the bed."""
    heights = np.array([[5.0, 1.01, 1.0, 0.99, 0.0, -0.2]], dtype=np.float32)
    field = blank_field(3.0, 0.5, 5.0, 0.5).changed(heights)
    assert exposed(field, (1.0, 5.0)).tolist() == [[1, 1, 0, 0, -1, -1]]
    assert exposed_mm2(field, (1.0, 5.0), heights > -1) == pytest.approx((0.5, 0.5))
