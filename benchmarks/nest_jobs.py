"""A frozen set of jobs for the arrangement: drawn outlines, sheets, remnants."""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.nest.lattice import snap
from scalegen.nest.records import Board, Body, Part, Shape
from scalegen.outline.ring import FloatArray

SPACING_MM = 4.5
MARGIN_MM = 3.0
PAD_MM = 20.0
TURNS: dict[str, tuple[float, ...]] = {
    "half": (0.0, math.pi),
    "quarter": tuple(k * math.pi / 2 for k in range(4)),
    "free": tuple(k * math.pi / 12 for k in range(24)),
}


def tapered() -> FloatArray:
    """A plain tapered scale, 78 x 22 mm, rounded at the butt."""
    spine = np.array([[0, 6.2], [30, 8.4], [58, 10.8], [66, 11.0], [74, 9.6], [77.2, 6.0]])
    belly = np.array([[78, 0.0], [77.0, -6.4], [72, -10.2], [62, -11.0], [30, -8.0], [0, -5.6]])
    return np.vstack([spine, belly])


def full() -> FloatArray:
    """A full-bodied scale, 78 x 22 mm, nearly a rectangle."""
    spine = np.array([[0, 9.0], [30, 10.2], [60, 11.0], [74, 10.4], [77.2, 7.0]])
    belly = np.array([[78, 0.0], [77.0, -7.0], [72, -10.6], [50, -11.0], [24, -8.6], [0, -8.0]])
    return np.vstack([spine, belly])


def beaked() -> FloatArray:
    """A long scale with a hooked butt, 112 x 27 mm."""
    t = np.linspace(0, 1, 24)
    top = np.column_stack([96 * t, 10.5 + 1.5 * np.sin(np.pi * t)])
    hook = np.array([[103, 8.5], [109, 3.0], [112, -5.0], [111.2, -11.5], [107.5, -15.0]])
    under = np.column_stack([101 - 98 * t, -7.0 - 3.2 * np.cos(2 * np.pi * t * 1.5) * (1 - 0.5 * t)])
    front = np.array([[0.4, -8.0]])
    return np.vstack([top, hook, under, front])


def curved() -> FloatArray:
    """A slender bent scale, 95 x 30 mm, hollow on one side."""
    t = np.linspace(0, 1, 20)
    bow = 14 * np.sin(math.pi * t)
    top = np.column_stack([95 * t, bow + 7.5 + 2 * t])
    under = np.column_stack([95 * t, bow - 7.5 - 3 * t**2])[::-1]
    return np.vstack([top[::-1], under[::-1]])


def small() -> FloatArray:
    """A small folder's scale, 58 x 14 mm."""
    return np.array(
        [[0, -6.0], [4, -7], [50, -7], [56, -5], [58, 0], [56, 5], [48, 7], [20, 6], [4, 7], [0, 5]],
        dtype=float,
    )


OUTLINES = {"tapered": tapered, "full": full, "beaked": beaked, "curved": curved, "small": small}


def sheet(length_mm: float, width_mm: float) -> shapely.Polygon:
    """What margin and pad leave of a rectangular sheet."""
    inner = shapely.box(MARGIN_MM, MARGIN_MM, length_mm - MARGIN_MM, width_mm - MARGIN_MM)
    pad = shapely.box(MARGIN_MM, MARGIN_MM, MARGIN_MM + PAD_MM, MARGIN_MM + PAD_MM)
    return inner.difference(pad.buffer(SPACING_MM, quad_segs=32))


def remnant(name: str) -> shapely.Polygon:
    """What is left of a used sheet: an angle, a slab with a flaw, a wedge."""
    if name == "angle":
        return shapely.Polygon([(0, 0), (280, 0), (280, 70), (90, 70), (90, 150), (0, 150)])
    if name == "flawed":
        return shapely.box(0, 0, 260, 140).difference(shapely.Point(120, 60).buffer(16, quad_segs=16))
    return shapely.Polygon([(0, 0), (290, 20), (250, 120), (40, 160)])


@dataclass(frozen=True, kw_only=True)
class Job:
    """One job of the table."""

    outline: str
    board: str
    turns: str
    pairing: str

    @property
    def region(self) -> shapely.Polygon:
        """The board."""
        if "x" in self.board:
            length, width = self.board.split("x")
            return sheet(float(length), float(width))
        return remnant(self.board)

    @property
    def shapes(self) -> tuple[Shape, Shape]:
        """Left and right."""
        left = snap(OUTLINES[self.outline]())  # sines differ in the last bit from machine to machine
        return Shape(key="L", points_mm=left), Shape(key="R", points_mm=left * [1.0, -1.0])

    def bodies(self, count: int | None = None) -> tuple[Body, ...]:
        """What is laid."""
        from scalegen.nest.mates import mates

        angles, free = TURNS[self.turns], self.turns == "free"
        if self.pairing == "free":
            return tuple(
                Body(
                    key=side,
                    parts=(Part(shape=side),),
                    group="pair",
                    angles_rad=angles,
                    count=count,
                    free=free,
                )
                for side in "LR"
            )
        forms = mates(*self.shapes, SPACING_MM, "adjacent" if self.pairing == "adjacent" else "mirrored")
        return (
            Body(
                key="pair",
                parts=forms[0],
                others=forms[1:],
                group="pair",
                angles_rad=angles,
                count=count,
                free=free,
            ),
        )

    def boards(self, many: int = 1) -> tuple[Board, ...]:
        """Where it is laid."""
        return tuple(Board(key=f"{self.board}-{k + 1}", region=self.region) for k in range(many))


_ROWS = """
tapered 305x152 half free
tapered 305x152 quarter free
tapered 305x152 free free
tapered 305x152 half adjacent
tapered 305x152 quarter adjacent
tapered 305x152 half mirrored
beaked 305x152 half free
beaked 305x152 quarter free
beaked 305x152 free free
beaked 305x152 half adjacent
beaked 305x152 half mirrored
full 305x152 half free
full 305x152 quarter free
curved 305x152 half free
curved 305x152 quarter free
small 305x152 half free
small 200x150 quarter free
tapered 250x130 half free
beaked 250x130 quarter free
full 400x100 half free
curved 250x130 quarter free
small 150x100 half adjacent
tapered angle quarter free
tapered flawed half free
beaked flawed quarter free
full wedge quarter free
curved wedge half free
small angle half adjacent
"""

JOBS = tuple(
    Job(outline=outline, board=board, turns=turns, pairing=pairing)
    for outline, board, turns, pairing in (row.split() for row in _ROWS.split("\n") if row)
)
