"""Which contour of a drawing is the outline: chosen where only one can be meant, asked about where two can.

What counts as the size of a tang or of a page border here is common practice, no source; sheet sizes are
those of ISO 216 and ANSI Y14.1 (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.outline.join import circle_of
from scalegen.outline.ring import FloatArray, Ring

_FLATTEN_MM = 0.002
_ROUNDING_MM = 1e-3
_SAME_AREA = 1e-6
_RIVAL_SHARE = 0.5
_OFFSET_SHARE = 0.7
_FILLS_SHARE = 0.1
_WIDEST_TANG_MM, _LONGEST_TANG_MM = 120.0, 400.0
_TANG_LONG_MM, _TANG_WIDE_MM = (50.0, 300.0), (12.0, 120.0)
_SHEETS_MM = (
    (841, 1189),
    (594, 841),
    (420, 594),
    (297, 420),
    (210, 297),
    (148, 210),
    (105, 148),
    (215.9, 279.4),
    (215.9, 355.6),
    (279.4, 431.8),
    (431.8, 558.8),
    (558.8, 863.6),
)
_MOST_PAIRS = 200_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Contour:
    """One closed contour of a drawing.

    Attributes:
        number: Counted from 1, the largest area first; what a user names to choose it.
        ring: The contour, mm.
        inside_of: Number of the smallest contour around it, None for none.
        bounds_mm: Its box: x and y of the lower left and the upper right corner.
        circle: x, y, diameter in mm when it is one full circle.
        rectangle: It is a rectangle parallel to the axes, with sharp corners.
    """

    number: int
    ring: Ring
    inside_of: int | None
    bounds_mm: tuple[float, float, float, float]
    circle: tuple[float, float, float] | None
    rectangle: bool

    @property
    def size_mm(self) -> tuple[float, float]:
        """Longer and shorter side of its box."""
        x0, y0, x1, y1 = self.bounds_mm
        return max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)

    @property
    def shaped(self) -> bool:
        """It is neither circle nor rectangle."""
        return self.circle is None and not self.rectangle


@dataclass(frozen=True, kw_only=True)
class Choice:
    """What was chosen.

    Attributes:
        number: The contour; None when it must be asked for.
        choices: Numbers of those that could be meant when it must be asked for.
        borders: Numbers of rectangles taken for a page border or a background.
        note: What the user should know, or nothing.
    """

    number: int | None
    choices: tuple[int, ...] = ()
    borders: tuple[int, ...] = ()
    note: str = ""


def contours_of(rings: Sequence[Ring]) -> tuple[Contour, ...]:
    """Number contours by area and find out which lies in which.

    Args:
        rings: Closed contours in any order.
    """
    boxes = [ring.bounds_mm for ring in rings]
    keys = [
        (-round(ring.area_mm2, 6), round(box[0], 6), round(box[1], 6), k)
        for k, (ring, box) in enumerate(zip(rings, boxes, strict=True))
    ]
    order = [key[-1] for key in sorted(keys)]
    ordered, boxes = [rings[k] for k in order], [boxes[k] for k in order]
    around = _around(ordered, np.array(boxes).reshape(-1, 4))
    return tuple(
        Contour(
            number=k + 1,
            ring=ring,
            inside_of=None if around[k] is None else (around[k] or 0) + 1,
            bounds_mm=boxes[k],
            circle=circle_of(ring),
            rectangle=_is_rectangle(ring),
        )
        for k, ring in enumerate(ordered)
    )


def choose(contours: Sequence[Contour]) -> Choice:
    """The contour that is meant.

    Args:
        contours: At least one, as :func:`contours_of` numbers them.
    """
    left = list(contours)
    borders: list[int] = []
    while len(left) > 1 and left[0].rectangle:
        verdict, inner = _is_border(left[0], left[1:], contours)
        if verdict == "ask":
            numbers = (left[0].number, *(c.number for c in inner))
            return Choice(number=None, choices=numbers, borders=tuple(borders))
        if verdict == "no":
            break
        borders.append(left[0].number)
        left = left[1:]
    first = left[0]
    rivals = [c.number for c in left[1:] if _is_rival(c, first, contours)]
    if rivals:
        return Choice(number=None, choices=(first.number, *rivals), borders=tuple(borders))
    note = ""
    if borders:
        named = ", ".join(str(number) for number in borders)
        note = (
            f"contour {named} is a rectangle around the outline; it was taken for a page border or background"
        )
    elif first.rectangle and any(inside(c, first, contours) and c.circle is None for c in left[1:]):
        note = "the outline is a plain rectangle around other contours; if it is a page border, delete it"
    return Choice(number=first.number, borders=tuple(borders), note=note)


def inside(contour: Contour, other: Contour, contours: Sequence[Contour]) -> bool:
    """Whether a contour lies in another one, directly or in one that does."""
    number = contour.inside_of
    while number is not None:
        if number == other.number:
            return True
        number = contours[number - 1].inside_of
    return False


def _is_rectangle(ring: Ring) -> bool:
    """Whether the ring fills its own box."""
    if ring.bulges.any():
        return False
    x0, y0, x1, y1 = ring.bounds_mm
    box = (x1 - x0) * (y1 - y0)
    return ring.area_mm2 > (1 - 1e-6) * box and ring.perimeter_mm < (2 + 1e-6) * (x1 - x0 + y1 - y0)


def _is_border(
    frame: Contour, others: Sequence[Contour], contours: Sequence[Contour]
) -> tuple[str, list[Contour]]:
    """Whether a rectangle is only a page border or background: "yes", "no" or "ask", and what lies in it."""
    shaped = [c for c in others if c.shaped and inside(c, frame, contours) and _tang_like(c)]
    if not shaped:
        return "no", []
    if _is_sheet(frame):
        return "yes", shaped
    largest, area = shaped[0], frame.ring.area_mm2
    rivals = [c for c in shaped if c is largest or _is_rival(c, largest, contours)]
    fills = largest.ring.area_mm2 > _FILLS_SHARE * area
    pinned = any(c.circle is not None and inside(c, largest, contours) for c in others)
    if len(rivals) > 1:
        return ("ask" if fills or pinned else "no"), rivals
    long, wide = frame.size_mm
    if (long > _LONGEST_TANG_MM or wide > _WIDEST_TANG_MM) and (fills or pinned):
        return "yes", rivals
    return "ask", rivals


def _is_sheet(contour: Contour) -> bool:
    """Whether a rectangle has the size of a sheet of paper."""
    long, wide = contour.size_mm
    return any(abs(wide - a) < 1 and abs(long - b) < 1 for a, b in _SHEETS_MM)


def _tang_like(contour: Contour) -> bool:
    """Whether a tang can be as large as a contour."""
    long, wide = contour.size_mm
    return _TANG_LONG_MM[0] <= long <= _TANG_LONG_MM[1] and _TANG_WIDE_MM[0] <= wide <= _TANG_WIDE_MM[1]


def _is_rival(contour: Contour, first: Contour, contours: Sequence[Contour]) -> bool:
    """Whether a smaller contour could be meant as well as the largest."""
    share = contour.ring.area_mm2 / first.ring.area_mm2
    if share > 1 - _SAME_AREA:
        return True
    if contour.circle is not None:
        return False
    if inside(contour, first, contours):
        return share > _OFFSET_SHARE and contour.shaped
    return share > _RIVAL_SHARE


def _around(rings: Sequence[Ring], boxes: FloatArray) -> list[int | None]:
    """For each ring, largest first, the index of the smallest ring around it."""
    r = _ROUNDING_MM
    shapes: dict[int, shapely.Polygon] = {}
    out: list[int | None] = [None] * len(rings)
    pairs = 0
    for k, ring in enumerate(rings):
        low, high = boxes[:k, :2] <= boxes[k, :2] + r, boxes[:k, 2:] >= boxes[k, 2:] - r
        candidates = np.flatnonzero(low.all(axis=1) & high.all(axis=1))[::-1]
        points = None
        for i in map(int, candidates):
            pairs += 1
            if pairs > _MOST_PAIRS:
                return out
            if i not in shapes:
                shapes[i] = shapely.Polygon(rings[i].flatten(_FLATTEN_MM)).buffer(r)
                shapely.prepare(shapes[i])
            points = ring.flatten(_FLATTEN_MM) if points is None else points
            if shapely.contains_xy(shapes[i], points).all():
                out[k] = i
                break
    return out
