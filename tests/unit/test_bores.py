"""Bores: what is open at a height, and what goes through a slab."""

from math import inf

from scalegen.design import Bore
from scalegen.form.bores import ends_mm, merged, open_at, straight, through

SHANK, HEAD = Bore(diameter_mm=4.0), Bore(diameter_mm=8.0, bottom_mm=3.0)
BLIND = Bore(diameter_mm=5.0, top_mm=4.0)
BORES = ((10.0, 0.0, SHANK), (10.0, 0.0, HEAD), (40.0, 1.0, BLIND))


def test_the_widest_bore_counts_at_each_height() -> None:
    """Below its seat a stepped hole must have its shank, above it its head; a blind one ends."""
    assert open_at(BORES, 2.0) == ((10.0, 0.0, 4.0), (40.0, 1.0, 5.0))
    assert open_at(BORES, 3.5) == ((10.0, 0.0, 8.0), (40.0, 1.0, 5.0))
    assert open_at(BORES, 5.0) == ((10.0, 0.0, 8.0),)


def test_ends_are_where_the_section_changes() -> None:
    """Only heights where a bore really ends must be named."""
    assert ends_mm(BORES) == (3.0, 4.0)
    assert ends_mm(straight((1, 2, 3))) == ()


def test_a_slab_has_the_holes_that_go_through_it() -> None:
    """A blind hole goes through the layers below its end only."""
    assert through(BORES, 0.0, 6.0) == 1
    assert through(BORES, 0.0, 4.0) == 2
    assert through(BORES, 4.0, 6.0) == 1


def test_spans_that_overlap_are_one() -> None:
    """Overlapping and touching spans must be put together, others kept apart."""
    assert merged([(3, inf), (-inf, 4), (6, 7)]) == [(-inf, inf)]
    assert merged([(0, 1), (2, 3), (1, 1.5)]) == [(0, 1.5), (2, 3)]
