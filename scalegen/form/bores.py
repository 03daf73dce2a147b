"""The bores of all holes of a scale: what is open at a height, and what goes through a slab."""

import math
from collections.abc import Sequence

from scalegen.design import Bore

Placed = tuple[float, float, Bore]
"""A bore and where its centre is: x, y, bore."""
Circle = tuple[float, float, float]
"""A circle: x, y, diameter, in mm."""


def by_center(bores: Sequence[Placed]) -> dict[tuple[float, float], list[Bore]]:
    """All bores about each centre, in the order they come in."""
    found: dict[tuple[float, float], list[Bore]] = {}
    for x, y, bore in bores:
        found.setdefault((x, y), []).append(bore)
    return found


def open_at(bores: Sequence[Placed], z_mm: float) -> tuple[Circle, ...]:
    """The widest bore about each centre that is open at a height."""
    circles = []
    for (x, y), own in by_center(bores).items():
        wide = [bore.diameter_mm for bore in own if bore.bottom_mm < z_mm < bore.top_mm]
        if wide:
            circles.append((x, y, max(wide)))
    return tuple(circles)


def ends_mm(bores: Sequence[Placed]) -> tuple[float, ...]:
    """Heights at which a bore ends."""
    ends = {end for *_, bore in bores for end in (bore.bottom_mm, bore.top_mm)}
    return tuple(sorted(end for end in ends if math.isfinite(end)))


def merged(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Overlapping spans of height, put together."""
    found: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(high, found[-1][1]))
        else:
            found.append((low, high))
    return found


def through(bores: Sequence[Placed], low_mm: float, high_mm: float) -> int:
    """How many holes go all the way through a slab between two heights."""
    count = 0
    for own in by_center(bores).values():
        spans = merged([(bore.bottom_mm, bore.top_mm) for bore in own])
        count += any(low <= low_mm and high >= high_mm for low, high in spans)
    return count


def straight(*circles: Circle) -> tuple[Placed, ...]:
    """Bores that go right through."""
    return tuple((x, y, Bore(diameter_mm=diameter)) for x, y, diameter in circles)
