"""A limit on how many parts go on a board, from the lengths that lines cut out of parts and board.

Let every part be grown by half the spacing, and the board too: the grown parts do not overlap, and lie
on the grown board. So on any straight line they cut out lengths c1, c2 … that add up to no more than
the length H that the board cuts out. Let f be a function of lengths that never falls and for which f(a)
+ f(b) <= f(a + b). Then

    f(c1) + f(c2) + … <= f(c1 + c2 + …) <= f(H).

Integrated over all lines of one direction: the parts' integrals of f add up to no more than the
board's. That holds for curved and hollow shapes too, for any place of the parts, and for a turn half
round, which leaves a part's integral as it is. For a part that may lie several ways the least integral
counts.

With f(c) = c the integrals are areas. With a unit u and a share t from 0 to less than 1

    f(c) = whole + max(0, (rest - t) / (1 - t)),  c / u = whole + rest

two lengths count for more than their share of a board that has room for but two. Why f(a) + f(b) <= f(a
+ b): let g be the second term, of rests p and q. Where p + q < 1, g(p) + g(q) <= g(p + q), because g is
convex and g(0) = 0. Else g(p) + g(q) <= 1 + g(p + q - 1) must hold: where one of the two terms is 0,
because the other is 1 at most; where neither is, because (p + q - 2 t) / (1 - t) = 1 + (p + q - 1 - t)
/ (1 - t).

Source: dual feasible functions, C. A. Burdet and E. L. Johnson, A subadditive approach to solve linear
integer programs (1977), as given in C. Alves, F. Clautiaux, J. Valério de Carvalho, J. Rietz,
Dual-Feasible Functions for Integer Programming and Combinatorial Optimization (2016), from memory; the
proof above stands by itself.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.nest.lattice import turned
from scalegen.outline.ring import FloatArray

_STRIP_MM = 0.05
_MOST_STRIPS = 20_000
_UNITS = 24
_LARGEST_SHARE = 0.95
_MOST_SIDE_BY_SIDE = 16


@dataclass(frozen=True, kw_only=True)
class Weigher:
    """The function f of the module's page: the unit u in mm, above 0, and the share t."""

    unit_mm: float
    share: float

    def __call__(self, lengths_mm: FloatArray) -> FloatArray:
        """Work f for lengths: (n,)."""
        turns = lengths_mm / self.unit_mm
        whole = np.floor(turns)
        weighed: FloatArray = whole + np.maximum(0.0, (turns - whole - self.share) / (1.0 - self.share))
        return weighed


@dataclass(frozen=True, kw_only=True, eq=False)
class Slices:
    """Lengths that lines along x cut out of an area, strip by strip from its lower to its upper end.

    Attributes:
        height_mm: float64 (n,), of each strip.
        least_mm: float64 (n,), no line within the strip cuts out less.
        most_mm: float64 (n,), nor more.
    """

    height_mm: FloatArray
    least_mm: FloatArray
    most_mm: FloatArray

    def at_least(self, weigher: Weigher) -> float:
        """A number the integral of f over all lines is no less than."""
        return float((self.height_mm * weigher(self.least_mm)).sum())

    def at_most(self, weigher: Weigher) -> float:
        """A number it is no more than."""
        return float((self.height_mm * weigher(self.most_mm)).sum())


def slices(area: shapely.Polygon | shapely.MultiPolygon, angle_rad: float = 0.0) -> Slices:
    """Slice an area.

    Between two corners' heights the length cut out is a straight function of the height; so the strips end
    at every corner, and what a strip's ends cut out, seen from within it, is the least and the most.

    Args:
        area: Polygons, holes and all.
        angle_rad: The area is turned by this first.

    Returns:
        Its slices.
    """
    edges = _edges(area, angle_rad)
    corners = np.unique(np.concatenate([edges[:, 1], edges[:, 3]]))
    step = max(_STRIP_MM, float(corners[-1] - corners[0]) / _MOST_STRIPS)
    levels = np.unique(np.concatenate([corners, np.arange(corners[0], corners[-1], step)]))
    height = np.diff(levels)
    # Straight between the ends: two lines within the strip tell what both ends cut out.
    near, far = levels[:-1] + height / 4, levels[:-1] + 3 * height / 4
    one, other = _cut(edges, near), _cut(edges, far)
    low, high = 1.5 * one - 0.5 * other, 1.5 * other - 0.5 * one
    least = np.maximum(np.minimum(low, high), 0.0)
    return Slices(height_mm=height, least_mm=least, most_mm=np.maximum(low, high))


def _edges(area: shapely.Polygon | shapely.MultiPolygon, angle_rad: float) -> FloatArray:
    """Sides of an area that are not level, turned: x, y of start and end; the area is on the left of each."""
    rows = []
    for piece in shapely.get_parts(area):
        for ring, outer in ((piece.exterior, True), *((hole, False) for hole in piece.interiors)):
            points = np.asarray(ring.coords)[:, :2]
            points = points if shapely.is_ccw(ring) == outer else points[::-1]
            points = turned(points, angle_rad)
            rows.append(np.hstack([points[:-1], points[1:]]))
    edges = np.concatenate(rows)
    tilted: FloatArray = edges[edges[:, 1] != edges[:, 3]]
    return tilted


def _cut(edges: FloatArray, levels: FloatArray) -> FloatArray:
    """Lengths cut out by lines along x at some heights, none of them a corner's: (n,)."""
    out = np.zeros(len(levels))
    for x0, y0, x1, y1 in edges.tolist():
        first, last = np.searchsorted(levels, (min(y0, y1), max(y0, y1)))
        at = x0 + (levels[first:last] - y0) * ((x1 - x0) / (y1 - y0))
        # Upward sides are where the area ends, downward ones where it begins.
        out[first:last] += at if y1 > y0 else -at
    return out


def weighers(longest_mm: float, board_mm: float) -> Iterator[Weigher]:
    """Functions worth trying; every one of them gives a true limit.

    Args:
        longest_mm: The longest slice of any part.
        board_mm: The longest slice of the board.

    Yields:
        Functions whose share is what the board has over whole units; that gave the best limits of all shares.
    """
    most = min(_MOST_SIDE_BY_SIDE, math.floor(board_mm / longest_mm) + 1)
    for count in range(1, most + 1):
        for unit in np.linspace(board_mm / (count + 1), board_mm / count, _UNITS + 1)[1:].tolist():
            share = board_mm / unit - math.floor(board_mm / unit)
            if share < _LARGEST_SHARE:
                yield Weigher(unit_mm=unit, share=share)
