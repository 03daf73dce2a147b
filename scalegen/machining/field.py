"""A blank as a grid of heights above the bed, and how much of it there is.

A sheet of 305 x 152 mm in cells of 0.1 mm has 1520 x 3050 of them, 18.5 MB of float32. Row 0 lies along
y = 0, column 0 along x = 0 of the sheet frame; a cell stands for its middle.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.errors import UsageError
from scalegen.outline.ring import FloatArray, Ring

FloatGrid = npt.NDArray[np.float32]
BoolGrid = npt.NDArray[np.bool_]
Window = tuple[slice, slice]
Box = tuple[float, float, float, float]
"""Left, lower, right and upper side in mm."""

CELL_MM = 0.1
"""Size of a cell unless another is asked for."""

_MOST_CELLS = 60_000_000
_CHORD_MM = 1e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class HeightField:
    """Heights over a grid of square cells.

    Attributes:
        cell_mm: Side of a cell.
        x_mm: Left side of the first column, in the sheet frame.
        y_mm: Lower side of the first row.
        heights_mm: float32 (rows, cols), above the bed the blank lies on; read-only.
    """

    cell_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0
    heights_mm: FloatGrid

    def __post_init__(self) -> None:
        self.heights_mm.setflags(write=False)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, cols = self.heights_mm.shape
        return rows, cols

    @property
    def cell_mm2(self) -> float:
        """Area of a cell."""
        return self.cell_mm**2

    @property
    def size_bytes(self) -> int:
        """Memory of the heights."""
        return int(self.heights_mm.nbytes)

    @property
    def xs_mm(self) -> FloatArray:
        """Middles of the columns, (cols,)."""
        xs: FloatArray = self.x_mm + (np.arange(self.shape[1], dtype=np.float64) + 0.5) * self.cell_mm
        return xs

    @property
    def ys_mm(self) -> FloatArray:
        """Middles of the rows, (rows,)."""
        ys: FloatArray = self.y_mm + (np.arange(self.shape[0], dtype=np.float64) + 0.5) * self.cell_mm
        return ys

    def changed(self, heights_mm: FloatGrid) -> "HeightField":
        """The same grid with other heights."""
        return HeightField(cell_mm=self.cell_mm, x_mm=self.x_mm, y_mm=self.y_mm, heights_mm=heights_mm)

    def cell_at(self, at_mm: tuple[float, float]) -> tuple[int, int]:
        """Row and column of the cell a point lies in; a point on the far edge belongs to the last one.

        Raises:
            UsageError: The point is not on the blank.
        """
        rows, cols = self.shape
        col = (at_mm[0] - self.x_mm) / self.cell_mm
        row = (at_mm[1] - self.y_mm) / self.cell_mm
        # Written so that nan is refused too.
        if not (-1e-9 <= col <= cols + 1e-9 and -1e-9 <= row <= rows + 1e-9):
            right, upper = self.x_mm + cols * self.cell_mm, self.y_mm + rows * self.cell_mm
            raise UsageError(
                f"x = {at_mm[0]:g}, y = {at_mm[1]:g} mm is not on the blank",
                remedy=f"give x from {self.x_mm:g} to {right:g} and y from {self.y_mm:g} to {upper:g} mm",
            )
        return min(max(int(row), 0), rows - 1), min(max(int(col), 0), cols - 1)

    def at_mm(self, at_mm: tuple[float, float]) -> float:
        """Height of the cell a point lies in.

        Raises:
            UsageError: The point is not on the blank.
        """
        return float(self.heights_mm[self.cell_at(at_mm)])

    def window(self, box: Box) -> Window:
        """The rows and columns whose middles lie in a box, sides included; empty outside the grid."""
        x0, y0, x1, y1 = box
        rows, cols = self.shape

        def span(low: float, high: float, start: float, count: int) -> slice:
            first = int(np.clip(np.ceil((low - start) / self.cell_mm - 0.5 - 1e-9), 0, count))
            last = int(np.clip(np.floor((high - start) / self.cell_mm - 0.5 + 1e-9) + 1, first, count))
            return slice(first, last)

        return span(y0, y1, self.y_mm, rows), span(x0, x1, self.x_mm, cols)

    def points_mm(self, window: Window) -> FloatArray:
        """Middles of all cells of a window, (n, 2), row by row."""
        x, y = np.meshgrid(self.xs_mm[window[1]], self.ys_mm[window[0]])
        return np.column_stack([x.ravel(), y.ravel()])


def blank_field(
    length_mm: float, width_mm: float, height_mm: float, cell_mm: float = CELL_MM, *, apron_mm: float = 0.0
) -> HeightField:
    """A blank that nothing has been cut from.

    Args:
        length_mm: Size along x; taken to whole cells.
        width_mm: Size along y.
        height_mm: Thickness.
        cell_mm: Side of a cell.
        apron_mm: Bare bed around the blank, at height 0, where a cutter's axis may stand.

    Raises:
        UsageError: A size is not above 0, or there would be too many cells for the memory.
    """
    sizes = {"length": length_mm, "width": width_mm, "thickness": height_mm, "cell": cell_mm}
    for name, size in sizes.items():
        if not 0 < size < np.inf:
            raise UsageError(f"the {name} of {size:g} mm of a blank must be above 0")
    rim = float(np.ceil(apron_mm / cell_mm - 1e-9))
    rows, cols = (max(1.0, round(size / cell_mm)) for size in (width_mm, length_mm))
    if (rows + 2 * rim) * (cols + 2 * rim) > _MOST_CELLS:
        raise UsageError(
            f"a blank of {length_mm:g} x {width_mm:g} mm in cells of {cell_mm:g} mm has"
            f" {rows * cols / 1e6:.0f} million of them; at most {_MOST_CELLS / 1e6:.0f} are allowed",
            remedy="take larger cells",
        )
    blank = np.full((int(rows), int(cols)), height_mm, dtype=np.float32)
    return HeightField(
        cell_mm=cell_mm,
        x_mm=0.0 - rim * cell_mm,
        y_mm=0.0 - rim * cell_mm,
        heights_mm=np.pad(blank, int(rim)),
    )


def volume_mm3(field: HeightField, where: BoolGrid | None = None) -> float:
    """Material above the bed, in all cells or in those asked for."""
    heights = np.maximum(field.heights_mm, 0.0)
    total = heights.sum(dtype=np.float64) if where is None else heights[where].sum(dtype=np.float64)
    return float(total) * field.cell_mm2


def box_mask(field: HeightField, box: Box) -> BoolGrid:
    """Which cells have their middle in a box."""
    mask = np.zeros(field.shape, dtype=np.bool_)
    mask[field.window(box)] = True
    return mask


def disc_mask(
    field: HeightField, center_mm: tuple[float, float], radius_mm: float
) -> tuple[Window, BoolGrid]:
    """Which cells of the returned window have their middle in a disc, its rim included."""
    x, y = center_mm
    window = field.window((x - radius_mm, y - radius_mm, x + radius_mm, y + radius_mm))
    dx, dy = field.xs_mm[window[1]] - x, field.ys_mm[window[0]] - y
    return window, dx[None] ** 2 + dy[:, None] ** 2 <= (radius_mm + 1e-9) ** 2


def ring_mask(field: HeightField, ring: Ring) -> tuple[Window, BoolGrid]:
    """Which cells of the returned window have their middle inside a ring.

    Every row is crossed by the ring's chords, which keep within a thousandth of a millimetre of it; what lies
    between an odd and the next even crossing is inside.
    """
    x0, y0, x1, y1 = ring.bounds_mm
    window = field.window((x0, y0, x1, y1))
    ys, xs = field.ys_mm[window[0]], field.xs_mm[window[1]]
    toggles = np.zeros((len(ys), len(xs) + 1), dtype=np.int32)
    if not toggles.size or not len(xs):
        return window, np.zeros((len(ys), len(xs)), dtype=np.bool_)
    a = ring.flatten(_CHORD_MM)
    b = np.roll(a, -1, axis=0)
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    first, last = np.searchsorted(ys, low, side="left"), np.searchsorted(ys, high, side="left")
    count = last - first
    chord = np.repeat(np.arange(len(a)), count)
    row = np.arange(len(chord)) - np.repeat(np.cumsum(count) - count, count) + first[chord]
    share = (ys[row] - a[chord, 1]) / (b[chord, 1] - a[chord, 1])
    x = a[chord, 0] + share * (b[chord, 0] - a[chord, 0])
    np.add.at(toggles, (row, np.searchsorted(xs, x, side="left")), 1)
    return window, np.cumsum(toggles[:, :-1], axis=1) % 2 == 1
