"""Cutting pins from rods: as few as possible, and proven."""

from itertools import product

import pytest

from scalegen.report.cutting import share_out
from scalegen.report.rods import MOST_STEPS, RodPlan, fewest_rods, least_rods, rods_words


def brute_force(pieces: list[int], rod: int, kerf: int) -> int:
    """Fewest rods by trying every way to hand the pieces out."""
    for rods in range(1, len(pieces) + 1):
        for where in product(range(rods), repeat=len(pieces)):
            loads = [
                [piece for piece, place in zip(pieces, where, strict=True) if place == k] for k in range(rods)
            ]
            if all(sum(load) + kerf * (len(load) - 1) <= rod for load in loads if load):
                return rods
    raise AssertionError


def sound(plan: RodPlan, pieces: list[float], rod_mm: float, kerf_mm: float) -> None:
    """Every piece is there once, and no rod is overfull."""
    assert sorted(piece for rod in plan.rods for piece in rod) == sorted(pieces)
    for rod in plan.rods:
        assert sum(rod) + kerf_mm * (len(rod) - 1) <= rod_mm + 1e-5
    assert plan.bound <= len(plan.rods)


@pytest.mark.parametrize("kerf", [0, 1, 3])
@pytest.mark.parametrize(
    "pieces",
    [
        [51, 27, 26, 23, 23, 27],
        [40, 40, 30, 30, 30, 30],
        [70, 60, 40, 30, 29],
        [50, 50, 50, 50, 34],
        [34, 34, 34, 33, 33, 32],
        [100, 99, 2],
        [26] * 7,
        [45, 44, 28, 27, 27, 26],
    ],
)
def test_as_few_rods_as_brute_force_finds(pieces: list[int], kerf: int) -> None:
    """Small cases against every way there is to hand the pieces out."""
    plan = fewest_rods(pieces, 100.0, float(kerf))
    sound(plan, [float(each) for each in pieces], 100.0, kerf)
    assert len(plan.rods) == brute_force(pieces, 100, kerf)
    assert plan.proven


def test_where_first_fit_is_known_to_be_bad() -> None:
    """The worst case of first fit decreasing: 11 rods where 9 will do.

    Source: D. S. Johnson and others, Worst-case performance bounds for simple one-dimensional packing
    algorithms, SIAM J. Comput. 3 (1974), the example for 11/9, from memory: 6 pieces of 1/2 + e, 6 of
    1/4 + 2e, 6 of 1/4 + e and 12 of 1/4 - 2e, here with e = 1/100.
    """
    pieces = [51.0] * 6 + [27.0] * 6 + [26.0] * 6 + [23.0] * 12
    assert len(share_out(pieces, 100.0, 0.0)) == 11
    plan = fewest_rods(pieces, 100.0, 0.0)
    sound(plan, pieces, 100.0, 0.0)
    assert (len(plan.rods), plan.bound, plan.proven) == (9, 9, True)


def test_halves_each_take_a_rod() -> None:
    """Pieces over half a rod never share one: 7 of them need 7 rods, though their length would go into 4."""
    assert least_rods([51] * 7, 100) == 7
    assert least_rods([51] * 7 + [49] * 7, 100) == 7
    assert least_rods([51] * 7 + [49] * 8, 100) == 8
    assert least_rods([], 100) == 0


def test_the_saw_cut_decides() -> None:
    """Five pieces of 19.2 mm and four cuts of 1 mm are just 100 mm; of 19.3 mm they are not."""
    assert len(fewest_rods([19.2] * 5, 100.0, 1.0).rods) == 1
    assert len(fewest_rods([19.3] * 5, 100.0, 1.0).rods) == 2


def test_a_large_job_is_answered_by_first_fit_with_a_bound() -> None:
    """Beyond what is searched the plan is first fit, and the bound stays a bound."""
    pieces = [float(17 + k % 5) for k in range(2000)]
    plan = fewest_rods(pieces, 300.0, 1.0)
    sound(plan, pieces, 300.0, 1.0)
    assert plan.rods == share_out(pieces, 300.0, 1.0)
    assert 0 < plan.bound <= len(plan.rods)


def test_the_search_ends() -> None:
    """Twelve lengths, four of each, or forty lengths: the same answer every time, within the budget."""
    for pieces in ([20.0 + 1.37 * (k % 12) for k in range(48)], [20.0 + 0.37 * k for k in range(40)]):
        plan = fewest_rods(pieces, 97.0, 1.0)
        sound(plan, pieces, 97.0, 1.0)
        assert plan == fewest_rods(pieces, 97.0, 1.0)
    assert MOST_STEPS > 0


def test_a_piece_longer_than_the_rod_is_refused() -> None:
    """Nothing is cut from a rod that is too short."""
    with pytest.raises(ValueError, match="longer than the rod"):
        fewest_rods([101.0], 100.0, 1.0)


def test_rods_in_words() -> None:
    """Rods alike are told once."""
    plan = RodPlan(rods=((17.0, 17.0), (17.0, 17.0), (20.0,)), bound=3)
    words = rods_words(plan, ["17 mm"] * 4 + ["20 mm"])
    assert words == "2 rods of 2 × 17 mm, 1 rod of 1 × 20 mm"
