"""Where a bevel, an edge or a crown cuts through a boundary between layers: the line one will see.

The finished surface is a height over the plan; a boundary shows where that height is the boundary's own. The
lines are traced over a grid, and every point of them is then found exactly on its grid line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scalegen.design import Scale
from scalegen.form.draped import DrapedPlan, draped_plan
from scalegen.outline.measure import inside
from scalegen.outline.ring import FloatArray

Place = Literal["front", "edge", "face"]

_GRID_MM = 0.4
_HALVINGS = 45
_SAME_MM = 1e-7

# Which sides of a cell a line runs between, by which corners stand above it; sides and corners from the lower
# left, round to the left.
_SIDES: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((3, 0),),
    2: ((0, 1),),
    3: ((3, 1),),
    4: ((1, 2),),
    5: ((3, 0), (1, 2)),
    6: ((0, 2),),
    7: ((3, 2),),
    8: ((2, 3),),
    9: ((2, 0),),
    10: ((0, 1), (2, 3)),
    11: ((2, 1),),
    12: ((1, 3),),
    13: ((1, 0),),
    14: ((0, 3),),
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Reveal:
    """A boundary between layers as it shows on one part of the finished surface.

    Attributes:
        under: Name of the layer below it.
        over: Name of the layer above it.
        z_mm: Its height above the finished back.
        place: Where it shows: in the front's treatment, in the edge's, or on the face itself.
        least_mm: Nearest distance: behind the front line, inside the outline, or beside the crown line.
        most_mm: Furthest distance, likewise.
        lines: Points (n, 2) of each line in the plan.
    """

    under: str
    over: str
    z_mm: float
    place: Place
    least_mm: float
    most_mm: float
    lines: tuple[FloatArray, ...]


def reveals(scale: Scale) -> tuple[Reveal, ...]:
    """Every boundary between layers that shows on the finished scale, from back to face.

    Raises:
        GeometryError: The shape can't be made.
    """
    plan = draped_plan(scale, finished=True)
    grid = _grid(plan, scale)
    found = []
    for below, above in zip(scale.spans[:-1], scale.spans[1:], strict=True):
        lines = _lines(plan, grid, below.top_mm)
        for place in ("front", "edge", "face"):
            parts = [part for line in lines for part in _parts(plan, scale, line, place)]
            if not parts:
                continue
            away = np.concatenate([_distances(plan, part, place) for part in parts])
            found.append(
                Reveal(
                    under=below.name,
                    over=above.name,
                    z_mm=below.top_mm,
                    place=place,
                    least_mm=float(away.min()),
                    most_mm=float(away.max()),
                    lines=tuple(parts),
                )
            )
    return tuple(found)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Grid:
    """x (n,), y (m,) and heights (n, m), a little further than the scale itself."""

    x: FloatArray
    y: FloatArray
    tops: FloatArray


def _grid(plan: DrapedPlan, scale: Scale) -> _Grid:
    x0, y0, x1, y1 = scale.finished.bounds_mm
    x, y = (np.arange(a - _GRID_MM, b + 2 * _GRID_MM, _GRID_MM) for a, b in ((x0, x1), (y0, y1)))
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    return _Grid(x=x, y=y, tops=plan.under_mm(points).reshape(len(x), len(y)))


def _lines(plan: DrapedPlan, grid: _Grid, z_mm: float) -> list[FloatArray]:
    """All lines at a height, as points (n, 2) in order."""
    above = (grid.tops > z_mm).astype(int)
    code = above[:-1, :-1] + 2 * above[1:, :-1] + 4 * above[1:, 1:] + 8 * above[:-1, 1:]
    links: dict[tuple[int, int, int], list[tuple[int, int, int]]] = {}
    for i, j in zip(*np.nonzero((code > 0) & (code < 15)), strict=True):
        # Sides are named by the grid line they lie on: 0 along x, 1 along y.
        sides = ((0, i, j), (1, i + 1, j), (0, i, j + 1), (1, i, j))
        for a, b in _SIDES[int(code[i, j])]:
            links.setdefault(sides[a], []).append(sides[b])
            links.setdefault(sides[b], []).append(sides[a])
    names = list(links)
    places = dict(zip(names, _crossings(plan, grid, z_mm, names), strict=True)) if names else {}
    return [np.array([places[name] for name in chain]) for chain in _chains(links)]


def _crossings(
    plan: DrapedPlan, grid: _Grid, z_mm: float, names: Sequence[tuple[int, int, int]]
) -> FloatArray:
    """Where the surface passes the height on each grid line (n, 2), by halving."""
    way, i, j = np.array(names).T
    a = np.column_stack([grid.x[i], grid.y[j]])
    b = np.column_stack([grid.x[i + (way == 0)], grid.y[j + (way == 1)]])
    rising = grid.tops[i, j] <= z_mm
    low, high = np.where(rising[:, None], a, b), np.where(rising[:, None], b, a)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        up = (plan.under_mm(middle) > z_mm)[:, None]
        low, high = np.where(up, low, middle), np.where(up, middle, high)
    return (low + high) / 2


def _chains(
    links: dict[tuple[int, int, int], list[tuple[int, int, int]]],
) -> list[list[tuple[int, int, int]]]:
    """Runs of linked names, open ones from end to end, closed ones back to where they began."""
    left = {name: list(near) for name, near in links.items()}
    chains = []
    for start in [*(name for name in links if len(links[name]) == 1), *links]:
        while left[start]:
            chain, here = [start], start
            while left[here]:
                there = left[here].pop()
                left[there].remove(here)
                chain.append(there)
                here = there
            chains.append(chain)
    return chains


def _parts(plan: DrapedPlan, scale: Scale, line: FloatArray, place: Place) -> list[FloatArray]:
    """The runs of a line that show at one place."""
    body, face = plan.body_mm(line), plan.face.height_mm(line)
    behind = np.maximum(plan.nose.behind_mm(line), 0.0)
    front = plan.nose.limit_mm(behind, face) < body - _SAME_MM
    edge = ~front & (body < face - _SAME_MM)
    mine = {"front": front, "edge": edge, "face": ~front & ~edge}[place] & inside(scale.finished, line)
    cuts = np.flatnonzero(np.diff(mine.astype(int))) + 1
    runs = np.split(np.arange(len(line)), cuts)
    return [line[run] for run in runs if mine[run[0]] and len(run) > 1]


def _distances(plan: DrapedPlan, points: FloatArray, place: Place) -> FloatArray:
    if place == "front":
        return plan.nose.behind_mm(points)
    if place == "face" or plan.run is None:
        return np.abs(plan.face.beside_mm(points))
    return plan.run.feet(points)[2]
