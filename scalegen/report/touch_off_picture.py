"""A dry run drawn: the blank after every stage, and where the next cutter may be zeroed.

Heights and errors are drawn in steps of grey with their numbers on them, so that a copy in black and white
says the same. A number stands on a white plate, and only where the plate lies on one step alone.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from scalegen.machining.dry_run import SAME_MM, DryRun
from scalegen.machining.field import BoolGrid, Box, FloatGrid
from scalegen.machining.hold import components
from scalegen.machining.tabs import Tab, tab_corners
from scalegen.machining.thin import SEEN_MM
from scalegen.machining.touch_off import touch_off_map
from scalegen.model import Units
from scalegen.outline.ring import FloatArray
from scalegen.report.picture_marks import OUTLINE, THIN
from scalegen.report.picture_shapes import (
    BLACK,
    WHITE,
    Curve,
    Label,
    Pen,
    Picture,
    Shape,
    cut_text,
    text_width_mm,
)
from scalegen.sheet.layout import SheetLayout
from scalegen.units import format_length

BandGrid = npt.NDArray[np.int8]

_PAGE_MM, _MARGIN_MM, _GAP_MM = 280.0, 8.0, 8.0
_PANEL_MM = (_PAGE_MM - 2 * _MARGIN_MM - _GAP_MM) / 2
_HEAD_MM, _TITLE_MM, _KEY_MM, _FOOT_MM = 21.0, 8.0, 9.0, 6.0
_TEXT_MM, _SMALL_MM, _NUMBER_MM = 3.4, 2.6, 3.2
_PLATE_MM, _AIR_MM = 3.6, 0.6
_STEPS_MM = (SEEN_MM, 0.1, 0.3, 0.6, 1.0, 2.0, 4.0)
_GREYS = ("#ffffff", "#f0f0f0", "#e3e3e3", "#d5d5d5", "#c6c6c6", "#a8a8a8", "#868686", "#5c5c5c")
_CELL_PAGE_MM = 0.25
_DEEP_ENOUGH = 40
_MOST_NUMBERS = 24
_SEAM_MM = 0.03
_NONE = -1
_TAB_PEN = Pen(color=BLACK, width_mm=0.35)
_PAD_PEN = Pen(color=BLACK, width_mm=0.7, dash_mm=(1.6, 1.0))


@dataclass(frozen=True, kw_only=True, eq=False)
class Panel:
    """One map on the page.

    Attributes:
        below_mm: float (rows, cols) how far each cell lies below the blank's top; not a number off the blank.
        cell_mm: Side of those cells; the first one lies in the lower left corner.
        box_mm: Sides of the blank, sheet frame.
        title: Over it.
        origin_mm: Upper left corner on the page.
        scale: Page mm for each mm of the sheet.
        gone_mm: From here on nothing is left.
    """

    below_mm: FloatGrid
    cell_mm: float
    box_mm: Box
    title: str
    origin_mm: tuple[float, float]
    scale: float
    gone_mm: float

    def spot(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Where a place of the sheet lies on the page."""
        left, top = self.origin_mm
        return left + (x_mm - self.box_mm[0]) * self.scale, top + (self.box_mm[3] - y_mm) * self.scale


def draw_dry_run(
    run: DryRun, layout: SheetLayout, title: str, units: Units, *, probe_mm: float = 0.0
) -> Picture:
    """Draw every stage of a sheet.

    Args:
        run: The sheet cut in thought.
        layout: The same sheet.
        title: What it is.
        units: Unit of the numbers.
        probe_mm: Diameter of the plate that cutters are zeroed on; 0 where they touch themselves.

    Returns:
        A page: for each stage on the left the map of zeroes before it, on the right what it leaves.
    """
    high = _PANEL_MM * layout.width_mm / layout.length_mm
    row = _TITLE_MM + high + _FOOT_MM
    shapes: list[Shape] = list(_head(layout, title, units, bool(run.tabs)))
    for number, shot in enumerate(run.shots, 1):
        top = _HEAD_MM + _KEY_MM + (number - 1) * row + _TITLE_MM
        names = (
            f"{number} {shot.name}, {shot.shape.name}: zeroed here, too deep by …",
            f"left after {number} {shot.name}: below the blank's top by …",
        )
        grids = (
            touch_off_map(number, run, probe_mm=probe_mm),
            np.where(shot.field.heights_mm > SAME_MM, run.target.blank_mm - shot.field.heights_mm, np.inf),
        )
        for column, (name, grid) in enumerate(zip(names, grids, strict=True)):
            left = _MARGIN_MM + column * (_PANEL_MM + _GAP_MM)
            panel = _panel(run, layout, grid.astype(np.float32), name, (left, top))
            shapes += _panel_shapes(panel, run.target.pads, units)
            if number == len(run.shots) and column:
                shapes += [_bar(panel, tab) for tab in run.tabs]
    height = _HEAD_MM + _KEY_MM + len(run.shots) * row + _MARGIN_MM
    return Picture(
        width_mm=_PAGE_MM,
        height_mm=height,
        window_mm=(0.0, 0.0, _PAGE_MM, height),
        drawn=tuple(shapes),
        over=(),
    )


def _panel(
    run: DryRun, layout: SheetLayout, below: FloatGrid, title: str, origin_mm: tuple[float, float]
) -> Panel:
    """A map at the grid that the page can show: of each block the middle cell."""
    field = run.blank
    scale = _PANEL_MM / layout.length_mm
    rows, cols = field.window((0.0, 0.0, layout.length_mm, layout.width_mm))
    stride = max(1, round(_CELL_PAGE_MM / scale / field.cell_mm))
    picked = below[rows, cols][stride // 2 :: stride, stride // 2 :: stride]
    return Panel(
        below_mm=np.ascontiguousarray(picked),
        cell_mm=stride * field.cell_mm,
        box_mm=(0.0, 0.0, layout.length_mm, layout.width_mm),
        title=title,
        origin_mm=origin_mm,
        scale=scale,
        gone_mm=run.target.blank_mm,
    )


def bands_of(below_mm: FloatGrid, gone_mm: float) -> BandGrid:
    """The grey step of each cell: 0 is right, the last one means that nothing is left; -1 off the blank."""
    bands = np.searchsorted(np.array(_STEPS_MM), np.nan_to_num(below_mm, posinf=1e9), side="left")
    bands = np.where(below_mm >= gone_mm - SAME_MM, len(_STEPS_MM) + 1, bands)
    out: BandGrid = np.where(np.isnan(below_mm), _NONE, bands).astype(np.int8)
    return out


def blocks_of(bands: BandGrid) -> list[tuple[int, int, int, int, int]]:
    """Blocks of one step each that cover a grid.

    Args:
        bands: (rows, cols).

    Returns:
        First row, row beyond, first column, column beyond, step; runs that go on below are one block.
    """
    done: list[tuple[int, int, int, int, int]] = []
    going: dict[tuple[int, int, int], int] = {}
    for row, line in enumerate(bands):
        turns = [0, *(np.flatnonzero(np.diff(line)) + 1).tolist(), len(line)]
        runs = {(a, b, int(line[a])) for a, b in pairwise(turns)}
        done += [(going.pop(run), row, *run) for run in sorted(going.keys() - runs)]
        for run in runs:
            going.setdefault(run, row)
    done += [(first, len(bands), *run) for run, first in going.items()]
    return sorted(done)


def _panel_shapes(panel: Panel, pads: Sequence[Box], units: Units) -> Iterator[Shape]:
    bands = bands_of(panel.below_mm, panel.gone_mm)
    cell, (_, _, most_x, most_y) = panel.cell_mm, panel.box_mm
    for first, beyond, left, right, band in blocks_of(bands):
        if band > 0:
            corners = (left * cell, first * cell, min(right * cell, most_x), min(beyond * cell, most_y))
            yield _box(panel, corners, None, _fill(band), _SEAM_MM)
    for pad in pads:
        yield _box(panel, pad, _PAD_PEN, "", 0.0)
    yield _box(panel, panel.box_mm, OUTLINE, "", 0.0)
    for row, col, text in _numbers(panel, bands, units):
        x, y = panel.spot((col + 0.5) * cell, (row + 0.5) * cell)
        if bands[row, col] > 0:
            yield _plate(x, y, text)
        yield Label(at_mm=(x, y + _NUMBER_MM * 0.35), text=text, size_mm=_NUMBER_MM, anchor="middle")
    corner = panel.origin_mm
    yield Label(
        at_mm=(corner[0], corner[1] - 2.0), text=cut_text(panel.title, _TEXT_MM, _PANEL_MM), size_mm=_TEXT_MM
    )


def _numbers(panel: Panel, bands: BandGrid, units: Units) -> list[tuple[int, int, str]]:
    """Row, column and number of a place well inside each larger piece of one step, where it has room."""
    page_mm = panel.cell_mm * panel.scale
    found = []
    for band in np.unique(bands[(bands >= 0) & (bands <= len(_STEPS_MM))]).tolist():
        inside = bands == band
        depth = _depths(inside)
        labels, count = components(inside)
        sizes = np.bincount(labels[inside], minlength=count)
        for piece in np.argsort(-sizes, kind="stable")[:_MOST_NUMBERS].tolist():
            own = labels == piece
            text = _number(float(panel.below_mm[own].max()), units)
            wide, high = (math.ceil(size / 2 / page_mm) for size in _plate_mm(text))
            room = _with_room(own, high, wide)
            if room.any():
                deep = np.where(room, depth, 0)
                row, col = _middle_of(deep == deep.max())
                found.append((int(sizes[piece]), row, col, _number(float(panel.below_mm[row, col]), units)))
    found.sort(reverse=True)
    return [(row, col, text) for _, row, col, text in found[:_MOST_NUMBERS]]


def _with_room(inside: BoolGrid, high: int, wide: int) -> BoolGrid:
    """Cells around which a box of so many cells to either side lies in a mask.

    Source: F. Crow, Summed-area tables, Computer Graphics 18(3), 1984 (from memory).
    """
    sums = np.pad(inside, ((high + 1, high), (wide + 1, wide))).cumsum(axis=0).cumsum(axis=1)
    tall, broad = 2 * high + 1, 2 * wide + 1
    boxes = sums[tall:, broad:] - sums[:-tall, broad:] - sums[tall:, :-broad] + sums[:-tall, :-broad]
    out: BoolGrid = boxes == tall * broad
    return out


def _plate_mm(text: str) -> tuple[float, float]:
    """Width and height of what lies behind a number."""
    return text_width_mm(text, _NUMBER_MM) + _AIR_MM, _PLATE_MM


def _plate(x: float, y: float, text: str) -> Curve:
    wide, high = (size / 2 for size in _plate_mm(text))
    corners = [(x - wide, y - high), (x + wide, y - high), (x + wide, y + high), (x - wide, y + high)]
    return Curve(rows=_rows(corners), closed=True, pen=None, fill=WHITE)


def _bar(panel: Panel, tab: Tab) -> Curve:
    """A tab that still stands, plain to see in the black of the cut."""
    corners = [panel.spot(x, y) for x, y in tab_corners(tab).tolist()]
    return Curve(rows=_rows(corners), closed=True, pen=_TAB_PEN, fill=WHITE)


def _middle_of(mask: BoolGrid) -> tuple[int, int]:
    """The cell of a mask that is nearest the middle of them all."""
    rows, cols = np.nonzero(mask)
    best = int(np.hypot(rows - rows.mean(), cols - cols.mean()).argmin())
    return int(rows[best]), int(cols[best])


def _depths(inside: BoolGrid) -> npt.NDArray[np.int16]:
    """How many cells deep each cell lies in a mask, seen along rows and columns, as far as it matters."""
    depth = np.zeros(inside.shape, dtype=np.int16)
    left = np.pad(inside, 1)
    for _ in range(_DEEP_ENOUGH):
        depth += left[1:-1, 1:-1]
        inner = left.copy()
        inner[1:-1] &= left[:-2] & left[2:]
        inner[:, 1:-1] &= left[:, :-2] & left[:, 2:]
        left = inner
    return depth


def _head(layout: SheetLayout, title: str, units: Units, has_tabs: bool) -> Iterator[Shape]:
    size = f"{format_length(layout.length_mm, units)} x {format_length(layout.width_mm, units)}"
    yield Label(
        at_mm=(_MARGIN_MM, 10.0),
        text=cut_text(f"{title}: dry run of {layout.name}, {size}", 5.0, _PAGE_MM - 2 * _MARGIN_MM),
        size_mm=5.0,
        bold=True,
    )
    yield Label(
        at_mm=(_MARGIN_MM, 16.5),
        text=f"White is the blank's full height: a cutter zeroed there is right. Numbers are {units}."
        " Dashed: the reference pad." + (" White bars across the last cut: tabs." if has_tabs else ""),
        size_mm=_TEXT_MM,
    )
    edges = [0.0, *_STEPS_MM]
    step = (_PAGE_MM - 2 * _MARGIN_MM) / (len(edges) + 1)
    for band in range(len(edges) + 1):
        left, top = _MARGIN_MM + band * step, _HEAD_MM
        rows = _rows([(left, top), (left + 7, top), (left + 7, top + 4), (left, top + 4)])
        yield Curve(rows=rows, closed=True, pen=THIN, fill=_fill(band))
        yield Label(at_mm=(left + 8, top + 3.1), text=_step_words(band, units), size_mm=_SMALL_MM)


def _step_words(band: int, units: Units) -> str:
    if band == 0:
        return "right"
    if band > len(_STEPS_MM):
        return "nothing left"
    low = _number(_STEPS_MM[band - 1], units)
    if band == len(_STEPS_MM):
        return f"over {low}"
    high = _number(_STEPS_MM[band], units)
    return f"to {high}" if band == 1 else f"{low} to {high}"


def _number(mm: float, units: Units) -> str:
    shown = format_length(mm, units, 3 if units == "in" else 2).split()[0]
    return shown if shown.strip("0.") else "0"


def _fill(band: int) -> str:
    return _GREYS[band] if band < len(_GREYS) else BLACK


def _box(panel: Panel, box: Box, pen: Pen | None, fill: str, more_mm: float) -> Curve:
    """A box of the sheet on the page, a little larger where it must close a seam."""
    (left, bottom), (right, top) = panel.spot(box[0], box[1]), panel.spot(box[2], box[3])
    points = [
        (left, top - more_mm),
        (right + more_mm, top - more_mm),
        (right + more_mm, bottom),
        (left, bottom),
    ]
    return Curve(rows=_rows(points), closed=True, pen=pen, fill=fill)


def _rows(points: Sequence[tuple[float, float]]) -> FloatArray:
    return np.array([(x, y, 0.0) for x, y in points])
