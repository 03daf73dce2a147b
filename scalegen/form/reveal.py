"""Where a bevel, an edge or a crown cuts through a boundary between layers: the line one will see.

The finished surface is a height over the plan; a boundary shows where that height is the boundary's own. The
lines are traced over a grid, and every point of them is then found exactly on its grid line.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scalegen.design import Scale
from scalegen.form.body import BodyPlan
from scalegen.form.draped import DrapedPlan, draped_plan
from scalegen.form.plans import plan_of
from scalegen.outline.front import setback_mm
from scalegen.outline.measure import inside
from scalegen.outline.pieces import BoolArray
from scalegen.outline.ring import FloatArray

Place = Literal["front", "edge", "face"]

_GRID_MM = 0.4
_HALVINGS = 45
_SAME_MM = 1e-7
_UNDER_FACE_MM = 1e-9
_CREASE_MM = 1e-3

Surface = Callable[[FloatArray], FloatArray]
"""Values (n,) over points (n, 2)."""

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
    grid = _grid(plan.under_mm, scale)
    found = []
    for below, above in zip(scale.spans[:-1], scale.spans[1:], strict=True):
        lines = _lines(plan.under_mm, grid, below.top_mm)
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


def regions(scale: Scale) -> tuple[tuple[FloatArray, ...], ...]:
    """For each layer from back to face, where it or one above it shows on the finished scale.

    What one sees of a layer is its region without the next one's.

    Returns:
        For each layer, closed chains (n, 3) of x, y, bulge: of the first layer the finished outline; of the
        others exact sections where the scale has them, else chains of short lines whose points lie on the
        surface. The latter may reach beyond the finished outline, where there is nothing to see.

    Raises:
        GeometryError: The shape can't be made.
    """
    heights = [span.bottom_mm for span in scale.spans[1:]]
    plan = plan_of(scale, finished=True)
    if isinstance(plan, BodyPlan):
        rest = [tuple(ring.rows for ring in plan.section_at(z)) for z in heights]
    else:
        grid = _closed(_grid(plan.under_mm, scale))
        rest = [_rounds(plan.under_mm, grid, z) for z in heights]
    return ((scale.finished.rows,), *rest)


def face_lines(scale: Scale) -> tuple[FloatArray, ...]:
    """Where front and edge treatment begin in the face, as closed chains (n, 3) like :func:`regions`.

    Raises:
        GeometryError: The shape can't be made.
    """
    plan = plan_of(scale, finished=True)
    if isinstance(plan, BodyPlan):
        return tuple(ring.rows for ring in plan.section_at(plan.top_mm - _UNDER_FACE_MM))

    def room(points: FloatArray) -> FloatArray:
        """How far points lie beyond both treatments, in a length or in a height."""
        return _beyond(plan, points)

    return _rounds(room, _closed(_grid(room, scale)), _SAME_MM)


def creases(scale: Scale) -> tuple[FloatArray, ...]:
    """Where the front's treatment meets the edge's, as open chains of points (n, 2).

    Raises:
        GeometryError: The shape can't be made.
    """
    plan = draped_plan(scale, finished=True)
    if plan.run is None or plan.front.treatment == "square":
        return ()

    def over(points: FloatArray) -> FloatArray:
        """How far the front would leave more than the edge does."""
        return _front_mm(plan, points) - plan.body_mm(points)

    found = []
    for line in _lines(over, _grid(over, scale), 0.0):
        low = plan.face.height_mm(line) - plan.under_mm(line)
        found += _runs(line, (low > _CREASE_MM) & inside(scale.finished, line))
    return tuple(found)


def _front_mm(plan: DrapedPlan, points: FloatArray) -> FloatArray:
    """Greatest heights (n,) that the front leaves over points (n, 2)."""
    behind = np.maximum(plan.nose.behind_mm(points), 0.0)
    return plan.nose.limit_mm(behind, plan.face.height_mm(points))


def _beyond(plan: DrapedPlan, points: FloatArray) -> FloatArray:
    """How far points (n, 2) lie beyond the edge, or the front stays above the face: the lesser of both."""
    front = plan.front
    if plan.face.is_flat:
        top = plan.face.thickness_mm
        room = plan.nose.behind_mm(points) - max(0.0, setback_mm(front, top, top))
    elif front.treatment == "square":
        room = plan.nose.behind_mm(points)
    else:
        room = _front_mm(plan, points) - plan.face.height_mm(points)
    if plan.run is not None:
        index, share, inset = plan.run.feet(points)
        room = np.minimum(room, inset - plan.run.size_mm(index, share))
    return room


@dataclass(frozen=True, kw_only=True, eq=False)
class _Grid:
    """x (n,), y (m,) and heights (n, m), a little further than the scale itself."""

    x: FloatArray
    y: FloatArray
    tops: FloatArray


def _grid(surface: Surface, scale: Scale) -> _Grid:
    x0, y0, x1, y1 = scale.finished.bounds_mm
    x, y = (np.arange(a - _GRID_MM, b + 2 * _GRID_MM, _GRID_MM) for a, b in ((x0, x1), (y0, y1)))
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    return _Grid(x=x, y=y, tops=surface(points).reshape(len(x), len(y)))


def _closed(grid: _Grid) -> _Grid:
    """The same with nothing along its border, so that every line in it closes."""
    tops = np.full_like(grid.tops, -np.inf)
    tops[1:-1, 1:-1] = grid.tops[1:-1, 1:-1]
    return _Grid(x=grid.x, y=grid.y, tops=tops)


def _rounds(surface: Surface, grid: _Grid, level: float) -> tuple[FloatArray, ...]:
    """All lines at a level of a closed grid, as closed chains (n, 3)."""
    lines = [line[:-1] for line in _lines(surface, grid, level) if len(line) > 3]
    return tuple(np.column_stack([line, np.zeros(len(line))]) for line in lines)


def _lines(surface: Surface, grid: _Grid, z_mm: float) -> list[FloatArray]:
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
    places = dict(zip(names, _crossings(surface, grid, z_mm, names), strict=True)) if names else {}
    return [np.array([places[name] for name in chain]) for chain in _chains(links)]


def _crossings(
    surface: Surface, grid: _Grid, z_mm: float, names: Sequence[tuple[int, int, int]]
) -> FloatArray:
    """Where the surface passes the height on each grid line (n, 2), by halving."""
    way, i, j = np.array(names).T
    a = np.column_stack([grid.x[i], grid.y[j]])
    b = np.column_stack([grid.x[i + (way == 0)], grid.y[j + (way == 1)]])
    rising = grid.tops[i, j] <= z_mm
    low, high = np.where(rising[:, None], a, b), np.where(rising[:, None], b, a)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        up = (surface(middle) > z_mm)[:, None]
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
    return _runs(line, mine)


def _runs(line: FloatArray, mine: BoolArray) -> list[FloatArray]:
    """The runs of points (n, 2) that are wanted (n,)."""
    cuts = np.flatnonzero(np.diff(mine.astype(int))) + 1
    runs = np.split(np.arange(len(line)), cuts)
    return [line[run] for run in runs if mine[run[0]] and len(run) > 1]


def _distances(plan: DrapedPlan, points: FloatArray, place: Place) -> FloatArray:
    if place == "front":
        return plan.nose.behind_mm(points)
    if place == "face" or plan.run is None:
        return np.abs(plan.face.beside_mm(points))
    return plan.run.feet(points)[2]
