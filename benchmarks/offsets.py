"""Parallel curves of an outline with many segments, beside shapely's buffer of the same outline flattened."""

import statistics
import time
from collections.abc import Callable

import numpy as np
import shapely

from scalegen.outline.offset import offset
from scalegen.outline.ring import Ring


def run(rounds: int) -> str:
    """Time growing and shrinking by 2 mm; medians, and the ratio to the yardstick in the same run."""
    lines = [f"{'segments':>8}{'move mm':>9}{'ours ms':>9}{'buffer ms':>11}{'ratio':>7}"]
    for count in (50, 100, 200):
        ring = wavy(count)
        polygon = shapely.Polygon(ring.flatten(0.001))
        for move in (2.0, -2.0):
            ours = _median_ms(lambda r=ring, d=move: offset(r, d), rounds)
            bare = _median_ms(lambda p=polygon, d=move: p.buffer(d, quad_segs=64), rounds)
            lines.append(f"{count:8}{move:9.1f}{ours:9.1f}{bare:11.1f}{ours / bare:7.2f}")
    return "\n".join(lines)


def wavy(count: int) -> Ring:
    """A ring of lines and arcs that bulge in and out, 120 mm across."""
    random = np.random.default_rng(1)
    angle = 2 * np.pi * np.arange(count) / count
    radius = 60 * (1 + random.uniform(-0.01, 0.01, count))
    bulge = random.uniform(-0.1, 0.2, count)
    return Ring.from_rows(np.column_stack([radius * np.cos(angle), radius * np.sin(angle), bulge]))


def _median_ms(step: Callable[[], object], rounds: int) -> float:
    spent = []
    for _ in range(rounds):
        start = time.perf_counter()
        step()
        spent.append(time.perf_counter() - start)
    return 1000 * statistics.median(spent)
