"""Chaining loose pieces into rings."""

import numpy as np
import pytest

from scalegen.outline.chain import chain, chained
from scalegen.outline.pieces import Pieces, joined, pieces_of
from scalegen.outline.ring import Ring

SQUARE = Ring.from_rows([[0, 0], [10, 0], [10, 10], [0, 10]])


def shuffled(p: Pieces) -> Pieces:
    """The pieces in another order."""
    return p[np.random.default_rng(3).permutation(len(p))]


def box(x: float, y: float, w: float, h: float) -> Pieces:
    """The sides of a rectangle."""
    return pieces_of(Ring.from_rows([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]))


def test_pieces_in_any_order_give_the_ring() -> None:
    """The order of the pieces must not matter."""
    rings, loose = chained(shuffled(joined(pieces_of(SQUARE), box(20, 0, 3, 4))))
    assert sorted(r.area_mm2 for r in rings) == pytest.approx([12, 100])
    assert loose == 0


def test_a_dead_end_is_pruned_and_counted() -> None:
    """Pieces that lead nowhere are left out, and their length is told."""
    rings, loose = chained(joined(pieces_of(SQUARE), box(10, 10, 3, 4)[:2]))
    assert [r.area_mm2 for r in rings] == pytest.approx([100])
    assert loose == pytest.approx(7)


def test_nothing_gives_nothing() -> None:
    """No pieces, no rings."""
    assert chained(pieces_of(SQUARE)[:0]) == ([], 0.0)


def test_ends_within_a_micron_are_one_point() -> None:
    """Gaps below the snap distance are closed."""
    rows = SQUARE.rows.copy()
    moves = [np.array([k % 2 * 1e-6, 0.0, 0.0]) for k in range(4)]
    loose_ends = [pieces_of(Ring(rows + move))[k : k + 1] for k, move in enumerate(moves)]
    rings = chain(joined(*loose_ends))
    assert [r.area_mm2 for r in rings] == pytest.approx([100], abs=1e-4)


def test_a_seam_run_both_ways_is_taken_out() -> None:
    """Two rectangles that share a side become one."""
    rings = chain(joined(box(0, 0, 10, 10), box(10, 0, 5, 10)))
    assert [r.area_mm2 for r in rings] == pytest.approx([150])


def test_a_stretch_given_twice_is_taken_once() -> None:
    """A doubled side must not break the ring."""
    rings, loose = chained(joined(pieces_of(SQUARE), pieces_of(SQUARE)[:1]))
    assert [r.area_mm2 for r in rings] == pytest.approx([100])
    assert loose == 0


def test_lobes_that_touch_stay_apart() -> None:
    """Squares that touch at a corner are two rings, none of which passes a point twice."""
    rings = chain(shuffled(joined(pieces_of(SQUARE), box(10, 10, 5, 5))))
    assert sorted(r.area_mm2 for r in rings) == pytest.approx([25, 100])


def test_a_whole_circle_in_one_piece_and_a_bit() -> None:
    """An arc of 350 degrees and its chord make a ring."""
    ring = Ring.from_rows(
        [[5, 0, np.tan(np.radians(350) / 4)], [5 * np.cos(np.radians(350)), 5 * np.sin(np.radians(350)), 0]]
    )
    assert [r.area_mm2 for r in chain(pieces_of(ring))] == pytest.approx([ring.area_mm2])
