"""A drawing laid into the pattern's axes: x from front to butt, y towards the spine."""

import math
from dataclasses import replace

import numpy as np
import shapely

from scalegen.outline.choose import Contour
from scalegen.outline.join import Place
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.survey import Survey
from scalegen.outline.transform import mirrored, moved
from scalegen.sources import FrontSide, Placing

_QUARTERS: dict[FrontSide, int] = {"left": 0, "top": 1, "right": 2, "bottom": 3}
_NOTE = "places named in the notes are the drawing's own, before it was turned or moved"


def placed(found: Survey, placing: Placing) -> Survey:
    """Everything in a survey turned, mirrored and moved; notes keep the drawing's own places.

    Args:
        found: As read.
        placing: How it is to lie; ``zero = "front"`` needs a chosen contour and else does nothing.
    """
    if placing == Placing():
        return found
    # A blade at the right is mirrored, not turned half round: so the spine stays where it is.
    flip = placing.flip != (placing.front == "right")
    way = _Way(turn=placing.rotate_rad + _QUARTERS[placing.front] * math.pi / 2, flip=flip)
    number = found.chosen or (found.choices[0] if len(found.choices) == 1 else None)
    if placing.zero == "front" and number is not None:
        way.start_at(found.contours[number - 1].ring)
    return replace(
        found,
        contours=tuple(_contour(contour, way) for contour in found.contours),
        holes=tuple(sorted((*way.place((x, y)), d) for x, y, d in found.holes)),
        gaps=tuple(replace(gap, at_mm=way.place(gap.at_mm)) for gap in found.gaps),
        open_ends=tuple(map(way.place, found.open_ends)),
        loose=tuple(map(way.rows, found.loose)),
        branches=tuple(map(way.place, found.branches)),
        crossings=tuple(map(way.place, found.crossings)),
        notes=(*found.notes, _NOTE) if found.notes else (),
    )


def level_rad(ring: Ring) -> float:
    """The smallest turn that lays a ring's tightest rectangle level, its longer side along x; in rad."""
    box = shapely.minimum_rotated_rectangle(shapely.Polygon(ring.flatten(0.01)))
    corners = np.array(box.exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    dx, dy = sides[np.argmax(np.hypot(*sides.T))]
    turn = -math.atan2(dy, dx)
    return (turn + math.pi / 2) % math.pi - math.pi / 2


class _Way:
    """A turn, a mirroring across the x axis and a move, one after the other."""

    def __init__(self, *, turn: float, flip: bool) -> None:
        self._turn, self._flip = turn, flip
        self._move = (0.0, 0.0)

    def start_at(self, ring: Ring) -> None:
        """Move so that a ring starts at x = 0, and y = 0 is half-way up it."""
        x0, y0, _, y1 = self.ring(ring).bounds_mm
        self._move = (-x0, -(y0 + y1) / 2)

    def ring(self, ring: Ring) -> Ring:
        turned = moved(ring, 0, 0, self._turn)
        return moved(mirrored(turned) if self._flip else turned, *self._move)

    def rows(self, rows: FloatArray) -> FloatArray:
        """Rows of an open chain, (n, 3)."""
        points = np.array([self.place((float(x), float(y))) for x, y in rows[:, :2]])
        return np.column_stack([points, -rows[:, 2] if self._flip else rows[:, 2]])

    def place(self, at: Place) -> Place:
        c, s = math.cos(self._turn), math.sin(self._turn)
        x, y = c * at[0] - s * at[1], s * at[0] + c * at[1]
        return x + self._move[0], (-y if self._flip else y) + self._move[1]


def _contour(contour: Contour, way: _Way) -> Contour:
    ring = way.ring(contour.ring)
    circle = contour.circle
    return replace(
        contour,
        ring=ring,
        bounds_mm=ring.bounds_mm,
        circle=None if circle is None else (*way.place(circle[:2]), circle[2]),
    )
