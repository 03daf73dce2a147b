"""Pins out of rods: as few rods as can be found, and how many are proven to be needed."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from scalegen.report.cutting import share_out

MOST_STEPS: Final = 50_000
"""Fillings tried before the search for fewer rods gives up; a count, so that every machine finds the same."""

_MOST_RODS = 60
_MOST_LENGTHS = 12
_PER_MM = 1_000_000


@dataclass(frozen=True, kw_only=True)
class RodPlan:
    """How pieces are cut from rods.

    Attributes:
        rods: Pieces of each rod, in mm, longest first.
        bound: No fewer rods can hold the pieces.
    """

    rods: tuple[tuple[float, ...], ...]
    bound: int

    @property
    def proven(self) -> bool:
        """Whether fewer rods are impossible."""
        return len(self.rods) == self.bound


def fewest_rods(pieces_mm: Sequence[float], rod_mm: float, kerf_mm: float) -> RodPlan:
    """Share pieces out over as few rods as can be found.

    Args:
        pieces_mm: Lengths to cut, none longer than a rod.
        rod_mm: Length of a rod.
        kerf_mm: Lost to the saw between two pieces.

    Returns:
        First fit, the longest first; where the bounds allow fewer rods, these are searched for.

    Raises:
        ValueError: A piece is longer than a rod.

    Source: bounds L1 and L2 of S. Martello and P. Toth, Knapsack Problems (1990), chapter 8, from memory.
    """
    shared = share_out(pieces_mm, rod_mm, kerf_mm)
    sizes = sorted((_whole(piece) + _whole(kerf_mm) for piece in pieces_mm), reverse=True)
    room = _whole(rod_mm) + _whole(kerf_mm)
    bound = least_rods(sizes, room)
    if len(shared) > _MOST_RODS or len(set(sizes)) > _MOST_LENGTHS:
        return RodPlan(rods=shared, bound=min(bound, len(shared)))
    budget = [MOST_STEPS]
    while bound < len(shared):
        fills = _search(Counter(sizes), bound, room, budget)
        if fills is not None:
            return RodPlan(rods=_named(fills, pieces_mm, kerf_mm), bound=bound)
        if budget[0] <= 0:
            break
        bound += 1
    return RodPlan(rods=shared, bound=min(bound, len(shared)))


def least_rods(sizes: Sequence[int], room: int) -> int:
    """A number of rods that no plan can beat.

    Args:
        sizes: Pieces, each with its saw cut.
        room: A rod, with a saw cut more; in the same unit.
    """
    least = math.ceil(sum(sizes) / room)
    for size in set(sizes):
        # Of pieces at least so long, a rod holds only so many.
        longer = sum(each >= size for each in sizes)
        least = max(least, math.ceil(longer / max(1, room // size)))
    for small in {each for each in sizes if 2 * each <= room} | {0}:
        alone = sum(each > room - small for each in sizes)
        halves = [each for each in sizes if room < 2 * each <= 2 * (room - small)]
        rest = sum(each for each in sizes if small <= each and 2 * each <= room)
        over = rest - (len(halves) * room - sum(halves))
        least = max(least, alone + len(halves) + max(0, math.ceil(over / room)))
    return least


def rods_words(plan: RodPlan, lengths: Sequence[str]) -> str:
    """What each rod gives, such as "2 rods of 13 × 17.6 mm, 1 rod of 4 × 17.6 mm".

    Args:
        plan: Rods with their pieces.
        lengths: How each piece is written, in the order of the rods and their pieces.
    """
    words = iter(lengths)
    kinds: Counter[str] = Counter()
    for rod in plan.rods:
        counted = Counter(next(words) for _ in rod)
        kinds[" + ".join(f"{number} × {length}" for length, number in counted.items())] += 1
    return ", ".join(f"{number} rod{'s' if number > 1 else ''} of {kind}" for kind, number in kinds.items())


def _whole(mm: float) -> int:
    """A length in whole nanometres, so that sums are exact."""
    return round(mm * _PER_MM)


def _search(left: Counter[int], rods: int, room: int, budget: list[int]) -> list[tuple[int, ...]] | None:
    """A way to put what is left into so many rods; None where there is none, or the budget is used up."""
    failed: set[tuple[tuple[int, int], ...]] = set()

    def fill(left: Counter[int], rods: int) -> list[tuple[int, ...]] | None:
        if not +left:
            return []
        key = tuple(sorted((+left).items()))
        if sum(size * number for size, number in key) > rods * room or key in failed:
            return None
        largest = key[-1][0]
        for chosen in _fillings(left - Counter([largest]), room - largest):
            budget[0] -= 1
            if budget[0] <= 0:
                return None
            taken = (largest, *chosen)
            found = fill(left - Counter(taken), rods - 1)
            if found is not None:
                return [taken, *found]
        failed.add(key)
        return None

    return fill(left, rods)


def _fillings(left: Counter[int], room: int) -> Iterator[tuple[int, ...]]:
    """Every way to fill a rod that leaves no room for a further piece, large pieces first."""
    sizes = sorted((size for size, number in left.items() if number > 0), reverse=True)

    def fill(index: int, room: int) -> Iterator[tuple[int, ...]]:
        if index == len(sizes):
            yield ()
            return
        size = sizes[index]
        most = min(left[size], room // size)
        for number in range(most, -1, -1):
            rest = room - number * size
            for more in fill(index + 1, rest):
                # One more of it would have gone in: another filling has it.
                if number < left[size] and rest - sum(more) >= size:
                    continue
                yield (size,) * number + more

    yield from fill(0, room)


def _named(
    fills: Sequence[tuple[int, ...]], pieces_mm: Sequence[float], kerf_mm: float
) -> tuple[tuple[float, ...], ...]:
    """The pieces as they were given, rod by rod."""
    given: dict[int, list[float]] = {}
    for piece in pieces_mm:
        given.setdefault(_whole(piece) + _whole(kerf_mm), []).append(piece)
    return tuple(tuple(given[size].pop() for size in fill) for fill in fills)
