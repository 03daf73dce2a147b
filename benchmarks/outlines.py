"""Random tang outlines of four kinds, handle-like in size, from a seed. Invented, for trying only."""

from collections.abc import Callable

import numpy as np

from scalegen.errors import GeometryError
from scalegen.outline.crossing import self_crossings
from scalegen.outline.fit import fit_arcs
from scalegen.outline.ring import FloatArray, Ring

Random = np.random.Generator


def polygon(random: Random) -> Ring:
    """Straight edges and real corners."""
    return _sound(random, lambda: Ring.from_rows(_corners(random, wild=0.12)))


def kinked(random: Random) -> Ring:
    """Arcs that meet at slight or strong kinks, bulging in and out."""

    def make() -> Ring:
        points = _corners(random, wild=0.08)
        return Ring.from_rows(np.column_stack([points, random.uniform(-0.12, 0.2, len(points))]))

    return _sound(random, make)


def tangent(random: Random) -> Ring:
    """Few arcs and lines that join smoothly: a coarse fit of a smooth curve."""
    return _sound(random, lambda: fit_arcs(_smooth(random, 5), 0.2).ring)


def traced(random: Random) -> Ring:
    """Many short arcs: a fine fit of a livelier curve, as traced from a drawing."""
    return _sound(random, lambda: fit_arcs(_smooth(random, 9), 0.005).ring)


KINDS: dict[str, Callable[[Random], Ring]] = {
    "polygon": polygon,
    "kinked arcs": kinked,
    "tangent arcs": tangent,
    "traced splines": traced,
}


def _sound(random: Random, make: Callable[[], Ring]) -> Ring:
    """The first outline that goes round once."""
    del random
    while True:
        try:
            ring = make()
        except GeometryError:
            continue
        if not len(self_crossings(ring)):
            return ring


def _frame(random: Random) -> tuple[float, float]:
    return float(random.uniform(85, 130)), float(random.uniform(18, 32))


def _corners(random: Random, wild: float) -> FloatArray:
    """Corners (n, 2) round a handle, 8 to 16 of them."""
    length, height = _frame(random)
    count = int(random.integers(4, 9))
    x = np.sort(random.uniform(0.04, 0.96, count - 2)) * length
    x = np.concatenate([[0.0], x, [length]])
    half = height / 2 * (1 + random.uniform(-2.2 * wild, 2.2 * wild, (2, count)))
    belly = np.column_stack([x, -half[0]])
    spine = np.column_stack([x, half[1]])[::-1]
    return np.vstack([belly, spine])


def _smooth(random: Random, waves: int) -> FloatArray:
    """Dense points (m, 2) of a smooth closed curve: a superellipse with gentle waves."""
    length, height = _frame(random)
    t = np.linspace(0, 2 * np.pi, 3000, endpoint=False)
    power = random.uniform(2.2, 3.2)
    c, s = np.cos(t), np.sin(t)
    radius = (np.abs(c) ** power + np.abs(s) ** power) ** (-1 / power)
    for k in range(2, waves):
        radius = radius * (
            1 + random.uniform(-0.09, 0.09) / (k - 1) * np.cos(k * t + random.uniform(0, 2 * np.pi))
        )
    x = length / 2 + radius * c * length / 2
    y = radius * s * height / 2 + random.uniform(-3, 3) * np.sin(np.pi * x / length)
    return np.column_stack([x, y])
