"""The plain ways to fill a blank: boxes in rows to and fro, single ones or such as hold a pair.

Everything here is in the frame of the usable area: its lower left corner is (0, 0), and the pad stands
in one of its two lower corners.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from scalegen.model import Side
from scalegen.outline.ring import FloatArray

_SLACK_MM = 1e-9
_BESIDE = 0.5


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
    slots = _slots(box_length, box_width, 0.0, field)
    return tuple(_spot(shapes[i % 2], x, y) for i, (x, y) in enumerate(slots[: len(slots) // 2 * 2]))


def stacked_spots(left: Shape, right: Shape, field: Field) -> tuple[tuple[Spot, ...], ...]:
    """Fill the field with rows of boxes that each hold a pair, the right scale above the left one.

    Where one more row of single scales goes, partners lie behind one another there.

    Args:
        left: Left scale.
        right: Right scale.
        field: Where to put them.

    Returns:
        Two ways, rows from the bottom up and rows that end at the top; left and right in turn.
    """
    box_length = max(left.length_mm, right.length_mm)
    box_width = left.width_mm + field.spacing_mm + right.width_mm
    rows = _count(field.width_mm, box_width, field.spacing_mm)
    taken = rows * (box_width + field.spacing_mm)
    spare = max(0.0, field.width_mm + field.spacing_mm - taken)
    single = spare + _SLACK_MM >= max(left.width_mm, right.width_mm) + field.spacing_mm
    step = left.width_mm + field.spacing_mm
    ways = []
    # Rows that end at the top leave the strip beside the pad to single scales.
    for start, other in ((0.0, taken), (spare, 0.0)):
        spots = [
            spot
            for x, y in _slots(box_length, box_width, start, field)
            for spot in (_spot(left, x, y), _spot(right, x, y + step))
        ]
        xs = _row_starts(box_length, other, field) if single else ()
        spots += [_spot((left, right)[k % 2], x, other) for k, x in enumerate(xs[: len(xs) // 2 * 2])]
        ways.append(tuple(spots))
    return tuple(ways)


def lengthwise(spots: Sequence[Spot], left: Shape, right: Shape) -> int:
    """How many pairs have one partner behind the other rather than beside it.

    Args:
        spots: Left and right in turn.
        left: Left scale.
        right: Right scale.

    Returns:
        Pairs whose partners share less than half their length.
    """
    shapes = {"left": left, "right": right}
    count = 0
    for first in range(0, len(spots) - 1, 2):
        (low, high), (start, end) = (_extent(spot, shapes[spot.side]) for spot in spots[first : first + 2])
        count += min(high, end) - max(low, start) < _BESIDE * min(high - low, end - start)
    return count


def _extent(spot: Spot, shape: Shape) -> tuple[float, float]:
    """Where a placed shape begins and ends along the grain."""
    low, high = shape.bounds_mm[0], shape.bounds_mm[2]
    return (spot.x_mm - high, spot.x_mm - low) if spot.turned else (spot.x_mm + low, spot.x_mm + high)


def _slots(
    box_length_mm: float, box_width_mm: float, start_mm: float, field: Field
) -> list[tuple[float, float]]:
    """Lower left corners of boxes in rows, to and fro, the first row at a height."""
    slots: list[tuple[float, float]] = []
    for row in range(_count(field.width_mm - start_mm, box_width_mm, field.spacing_mm)):
        y = start_mm + row * (box_width_mm + field.spacing_mm)
        xs = _row_starts(box_length_mm, y, field)
        slots += [(x, y) for x in (reversed(xs) if row % 2 else xs)]
    return slots


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
