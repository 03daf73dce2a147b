"""Layouts against counts by hand, closed forms and a brute-force measure that shares no code with them."""

import itertools
import math

import numpy as np
import numpy.typing as npt
import pytest

from scalegen.model import Corner, Pad, Side
from scalegen.model.job import TURNS, Pairing
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import Placement, SheetLayout
from scalegen.sheet.rows import arrange
from scalegen.sheet.true_shapes import How

SPACING_MM = 4.5
MARGIN_MM = 3.0

# A tapered with a round butt, 78 x 22 mm; B with a hooked butt, 112 x 27 mm.
A_ROWS: list[list[float]] = [
    [0, -7, 0],
    [67, -11, math.tan(math.pi / 8)],
    [78, 0, math.tan(math.pi / 8)],
    [67, 11, 0],
    [0, 7, 0],
]
B_ROWS: list[list[float]] = [
    [0, -8, 0],
    [30, -7, 0],
    [85, -9, -0.1],
    [98, -15, 0.4],
    [112, -8, 0.1],
    [108, 10, 0.1],
    [92, 12, 0],
    [0, 9, 0],
]


def shapes(rows: list[list[float]]) -> dict[Side, Ring]:
    """A left outline and its mirror image."""
    left = Ring.from_rows(rows)
    return {"left": left, "right": Ring.from_rows(left.rows * np.array([1.0, -1.0, -1.0]))}


def lay(footprints: dict[Side, Ring], pairs: int, corner: Corner = "lower-left") -> tuple[SheetLayout, ...]:
    """Blanks of 305 x 152 mm with a pad of 20 x 20 mm."""
    return arrange(
        footprints,
        pattern="wren",
        pairs=pairs,
        length_mm=305.0,
        width_mm=152.0,
        margin_mm=MARGIN_MM,
        spacing_mm=SPACING_MM,
        pad=Pad(corner=corner),
        origin="lower-left",
        keep_clear_mm=0.0,
    )


def dense_points(ring: Ring, placement: Placement, step_mm: float = 0.4) -> npt.NDArray[np.complex128]:
    """Points every 0.4 mm or less along a placed ring, each exactly on it, as complex numbers.

    A segment from a to b with bulge t = tan(theta / 4) is the circle through a, b and the point at parameter
    one half of a Moebius map: z(s) = (a (1 - s) + b s w) / ((1 - s) + s w), w = (1 - i t)/(1 + i t).
    That map takes the line through 0 and 1 to the circle (textbook: a Moebius map takes lines to circles).
    """
    points = []
    rows = ring.rows
    for (ax, ay, t), (bx, by, _) in zip(rows, np.roll(rows, -1, axis=0), strict=True):
        a, b = complex(ax, ay), complex(bx, by)
        count = max(2, int(abs(b - a) * (1 + t * t) * 2 / step_mm))
        s = np.linspace(0.0, 1.0, count, endpoint=False)
        w = (1 - 1j * t) / (1 + 1j * t)
        points.append((a * (1 - s) + b * s * w) / ((1 - s) + s * w))
    turn = complex(math.cos(placement.angle_rad), math.sin(placement.angle_rad))
    return np.concatenate(points) * turn + complex(placement.x_mm, placement.y_mm)


@pytest.mark.parametrize(("rows", "pairs"), [(A_ROWS, 7), (B_ROWS, 4)])
def test_at_least_the_box_grid_fits(rows: list[list[float]], pairs: int) -> None:
    """No fewer pairs than rows of boxes hold on 305 x 152 mm.

    Source: counted by hand. Inside the margin there are 299 x 146 mm. A 78 x 22: 3 columns of 82.5 and 5
    rows of 26.5, less the one the 20 mm pad takes: 14. B 112 x 27: 2 columns, 4 rows, beside the pad too: 8.
    """
    footprints = shapes(rows)
    x0, y0, x1, y1 = footprints["left"].bounds_mm
    assert (x1 - x0, y1 - y0) <= ((78.0, 22.0) if pairs == 7 else (113.0, 28.0))
    assert len(lay(footprints, pairs)) == 1


def require_distances(
    footprints: dict[Side, Ring], layout: SheetLayout, ring_mm: float, slack_mm: float = 1e-9
) -> None:
    """Hold points close together on all outlines against spacing, margin and the ring about the pad."""
    clouds = [dense_points(footprints[each.side], each) for each in layout.placements]
    for one, other in itertools.combinations(clouds, 2):
        assert np.abs(one[:, None] - other[None, :]).min() >= SPACING_MM - slack_mm
    everything = np.concatenate(clouds)
    assert min(everything.real.min(), everything.imag.min()) >= MARGIN_MM - slack_mm
    assert everything.real.max() <= layout.length_mm - MARGIN_MM + slack_mm
    assert everything.imag.max() <= layout.width_mm - MARGIN_MM + slack_mm
    pad = layout.pad
    off_x = np.maximum(np.maximum(pad.x_mm - everything.real, everything.real - pad.x_mm - pad.w_mm), 0)
    off_y = np.maximum(np.maximum(pad.y_mm - everything.imag, everything.imag - pad.y_mm - pad.h_mm), 0)
    assert np.hypot(off_x, off_y).min() >= ring_mm - slack_mm


@pytest.mark.parametrize(("rows", "pairs", "corner"), [(A_ROWS, 9, "upper-left"), (B_ROWS, 5, "lower-right")])
def test_brute_force_finds_the_spacing_kept(rows: list[list[float]], pairs: int, corner: Corner) -> None:
    """Points close together on all outlines stay the spacing apart, off the margin and off the pad."""
    footprints = shapes(rows)
    for layout in lay(footprints, pairs, corner):
        require_distances(footprints, layout, SPACING_MM)


@pytest.mark.parametrize(
    ("rows", "turns", "pairing", "corner"),
    [
        (A_ROWS, "free", "free", "upper-right"),
        (B_ROWS, "free", "adjacent", "lower-left"),
        (B_ROWS, "quarter", "mirrored", "upper-left"),
    ],
)
def test_brute_force_agrees_at_every_turn(
    rows: list[list[float]], turns: str, pairing: Pairing, corner: Corner
) -> None:
    """The same holds for a filled sheet whatever the turn, with a wider ring about the pad."""
    footprints = shapes(rows)
    (layout,) = arrange(
        footprints,
        pattern="wren",
        pairs=None,
        length_mm=230.0,
        width_mm=120.0,
        margin_mm=MARGIN_MM,
        spacing_mm=SPACING_MM,
        pad=Pad(corner=corner),
        origin="lower-left",
        keep_clear_mm=7.0,
        how=How(turns_rad=TURNS[turns], pairing=pairing),
    )
    require_distances(footprints, layout, 7.0, slack_mm=1e-6)


def test_pairs_stay_under_the_area_bound() -> None:
    """No more pairs on a blank than grown areas allow: A + P s/2 + pi s^2/4 each, the blank grown likewise.

    Source: Steiner's formula for the area of a parallel body of a convex shape, any geometry textbook.
    """
    footprints = shapes(A_ROWS)
    ring, half = footprints["left"], SPACING_MM / 2
    grown = ring.area_mm2 + ring.perimeter_mm * half + math.pi * half**2
    bound = (299.0 + SPACING_MM) * (146.0 + SPACING_MM) / (2 * grown)
    assert 7 <= len(lay(footprints, 99)[0].placements) / 2 <= bound


@pytest.mark.parametrize(
    ("columns", "rows"),
    [(1, 2), (2, 1), (2, 3), (3, 2), (3, 4)],
)
def test_boxes_fill_a_blank_made_to_measure(columns: int, rows: int) -> None:
    """A blank exactly n boxes long and m wide, pad strip apart, holds n times m boxes.

    Source: counting.
    """
    footprints = shapes([[0, -10, 0], [60, -10, 0], [60, 10, 0], [0, 10, 0]])
    length = columns * 60 + (columns - 1) * SPACING_MM
    width = rows * 20 + rows * SPACING_MM + 8.0
    (layout,) = arrange(
        footprints,
        pattern="wren",
        pairs=columns * rows // 2,
        length_mm=length + 2 * MARGIN_MM,
        width_mm=width + 2 * MARGIN_MM,
        margin_mm=MARGIN_MM,
        spacing_mm=SPACING_MM,
        pad=Pad(width_mm=length, height_mm=8.0),
        origin="lower-left",
        keep_clear_mm=0.0,
    )
    assert len(layout.placements) == columns * rows // 2 * 2
