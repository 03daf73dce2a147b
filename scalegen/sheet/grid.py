"""The plain way to fill a blank: boxes in rows, each row to and fro so that partners stay neighbours.

Everything here is in the frame of the usable area: its lower left corner is (0, 0), and the pad stands
in one of its two lower corners.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from scalegen.model import Side
from scalegen.outline.ring import FloatArray

_SLACK_MM = 1e-9


@dataclass(frozen=True, kw_only=True)
class Field:
    """The area inside the margin, with the pad in a lower corner.

    Attributes:
        length_mm: Along the grain.
        width_mm: Across the grain.
        spacing_mm: Between two scales.
        pad_length_mm: Pad along the grain.
        pad_width_mm: Pad across the grain.
        pad_gap_mm: Between the pad and a scale.
        pad_right: The pad stands at the right, else at the left.
    """

    length_mm: float
    width_mm: float
    spacing_mm: float
    pad_length_mm: float
    pad_width_mm: float
    pad_gap_mm: float
    pad_right: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Shape:
    """One side's footprint, ready to be placed.

    Attributes:
        side: "left" or "right".
        bounds_mm: x and y of the lower left and upper right corner of its box, exact.
        points_mm: float64 (n, 2), points on the outline in the scale's own frame.
    """

    side: Side
    bounds_mm: tuple[float, float, float, float]
    points_mm: FloatArray

    @property
    def length_mm(self) -> float:
        """Size along the grain."""
        return self.bounds_mm[2] - self.bounds_mm[0]

    @property
    def width_mm(self) -> float:
        """Size across the grain."""
        return self.bounds_mm[3] - self.bounds_mm[1]


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where one scale stands in the field: its own origin, and whether it is turned half round."""

    side: Side
    x_mm: float
    y_mm: float
    turned: bool


def grid_spots(left: Shape, right: Shape, field: Field) -> tuple[Spot, ...]:
    """Fill the field with rows of boxes.

    Args:
        left: Left scale.
        right: Right scale.
        field: Where to put them.

    Returns:
        Spots of whole pairs, left and right in turn; empty when not one pair fits.
    """
    shapes = (left, right)
    box_length = max(shape.length_mm for shape in shapes)
    box_width = max(shape.width_mm for shape in shapes)
    slots: list[tuple[float, float]] = []
    for row in range(_count(field.width_mm, box_width, field.spacing_mm)):
        y = row * (box_width + field.spacing_mm)
        xs = _row_starts(box_length, y, field)
        slots += [(x, y) for x in (reversed(xs) if row % 2 else xs)]
    return tuple(_spot(shapes[i % 2], x, y) for i, (x, y) in enumerate(slots[: len(slots) // 2 * 2]))


def _count(room_mm: float, size_mm: float, gap_mm: float) -> int:
    """How many boxes of a size go into a room with gaps between them."""
    return max(0, int((room_mm + gap_mm + _SLACK_MM) // (size_mm + gap_mm)))


def _row_starts(box_length_mm: float, y_mm: float, field: Field) -> Sequence[float]:
    """Left ends of the boxes in the row that starts at a height."""
    pitch = box_length_mm + field.spacing_mm
    beside_pad = y_mm < field.pad_width_mm + field.pad_gap_mm - _SLACK_MM
    taken = field.pad_length_mm + field.pad_gap_mm if beside_pad else 0.0
    number = _count(field.length_mm - taken, box_length_mm, field.spacing_mm)
    start = 0.0
    if not field.pad_right and taken:
        # Stand under the boxes of the full rows where there is room for that.
        full = _count(field.length_mm, box_length_mm, field.spacing_mm) * pitch
        start = max(taken, full - number * pitch)
    return [start + column * pitch for column in range(number)]


def _spot(shape: Shape, x_mm: float, y_mm: float) -> Spot:
    """Put the lower left corner of a shape's box at a point."""
    return Spot(side=shape.side, x_mm=x_mm - shape.bounds_mm[0], y_mm=y_mm - shape.bounds_mm[1], turned=False)
