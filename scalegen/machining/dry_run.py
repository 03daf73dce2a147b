"""A blank cut stage by stage: what it looks like after each, what was removed, how deep, is the pad whole.

Each stage keeps two float32 grids, what is left and how low its cutter came: 37 MB for a sheet of
305 x 152 mm in cells of 0.1 mm. While it runs it takes about as much again.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.errors import UsageError
from scalegen.machining.cutter_shape import CutterShape
from scalegen.machining.field import BoolGrid, Box, FloatGrid, HeightField, volume_mm3
from scalegen.machining.reach import plunged_mm, swept_mm, tips_mm
from scalegen.machining.tabs import Tab
from scalegen.machining.target import Target
from scalegen.model import Layer
from scalegen.outline.ring import FloatArray

LayerGrid = npt.NDArray[np.int8]

SAME_MM = 1e-4
"""Heights that differ by less are the same: float32 carries about 1e-6 of them."""

_RING_SEEN_MM = 10.0


@dataclass(frozen=True, kw_only=True)
class Plunge:
    """One straight move down and up: x and y of the axis, height of the tip above the bed."""

    x_mm: float
    y_mm: float
    tip_mm: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Cut:
    """One stage as the dry run needs it.

    Attributes:
        name: What it does.
        shape: Its cutter.
        surface_mm: float32 (rows, cols) that it must not cut below; None for a stage of plunges alone.
        where: (rows, cols) cells that the cutter's axis may stand over; None as above.
        plunges: Straight plunges.
    """

    name: str
    shape: CutterShape
    surface_mm: FloatGrid | None = None
    where: BoolGrid | None = None
    plunges: tuple[Plunge, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Snapshot:
    """The blank after a stage.

    Attributes:
        name: What the stage did.
        shape: Its cutter.
        field: Heights left.
        swept_mm: float32 (rows, cols) lowest height the cutter left over each cell, material or not; infinite
            where it did not come.
        removed_mm3: Material taken from above the bed.
        deepest_mm: Lowest height of its moves above the bed; infinite when it never came down.
        deepest_at_mm: Where, x and y.
        pad_mm: Lowest height on the reference pad.
        pad_ring_mm: How wide a ring around the pad is still at the blank's height, at most 10 mm.
        more_pads_mm: Lowest height on each further pad.
    """

    name: str
    shape: CutterShape
    field: HeightField
    swept_mm: FloatGrid
    removed_mm3: float
    deepest_mm: float
    deepest_at_mm: tuple[float, float]
    pad_mm: float
    pad_ring_mm: float
    more_pads_mm: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class DryRun:
    """A whole job cut as planned.

    Attributes:
        target: What is wanted, and of which blank.
        shots: The blank after each stage.
        layers: Layers of the blank, from the underside up.
        tape_mm: What lies between blank and bed and may be cut; the bed is so far below height 0.
        tabs: Bridges that hold the parts until they are cut by hand, in the sheet frame.
    """

    target: Target
    shots: tuple[Snapshot, ...]
    layers: tuple[Layer, ...]
    tape_mm: float = 0.0
    tabs: tuple[Tab, ...] = ()

    @property
    def blank(self) -> HeightField:
        """Before the first stage."""
        return self.target.blank

    def before(self, stage: int) -> HeightField:
        """The blank before a stage, counted from 1.

        Raises:
            UsageError: There is no such stage.
        """
        if not 1 <= stage <= len(self.shots):
            raise UsageError(
                f"there is no stage {stage}; the job has {len(self.shots)}",
                remedy=f"give a number from 1 to {len(self.shots)}",
            )
        return self.shots[stage - 2].field if stage > 1 else self.blank

    @property
    def last(self) -> HeightField:
        """The blank when all is cut."""
        return self.shots[-1].field if self.shots else self.blank


def run_stages(blank: HeightField, cuts: Sequence[Cut], pad: Box, *more_pads: Box) -> tuple[Snapshot, ...]:
    """Cut a blank stage by stage.

    Args:
        blank: Before the first stage.
        cuts: Stages in their order, over the same grid.
        pad: Sides of the reference pad.
        more_pads: Sides of further pads.

    Returns:
        One snapshot for each stage.

    Raises:
        UsageError: A stage is over another grid.
    """
    shots: list[Snapshot] = []
    before = blank
    full = float(blank.heights_mm[blank.window(pad)].max(initial=0.0))
    for cut in cuts:
        shot = _after(before, cut, cut_mm(blank, cut), (pad, *more_pads), full)
        shots.append(shot)
        before = shot.field
    return tuple(shots)


def cut_mm(field: HeightField, cut: Cut) -> FloatGrid:
    """Lowest height that the cutter of a stage leaves over each cell; infinite where it does not come.

    Raises:
        UsageError: The stage is over another grid.
    """
    if cut.surface_mm is None or cut.where is None:
        low = np.full(field.shape, np.inf, dtype=np.float32)
    else:
        if cut.surface_mm.shape != field.shape or cut.where.shape != field.shape:
            raise UsageError(f'stage "{cut.name}" is planned over another grid than the blank')
        low = swept_mm(tips_mm(cut.surface_mm, cut.shape, field.cell_mm, cut.where), cut.shape, field.cell_mm)
    for plunge in cut.plunges:
        window, left = plunged_mm(field, cut.shape, (plunge.x_mm, plunge.y_mm), plunge.tip_mm)
        np.minimum(low[window], left, out=low[window])
    return low


def _after(before: HeightField, cut: Cut, low: FloatGrid, pads: Sequence[Box], full_mm: float) -> Snapshot:
    after = before.changed(np.minimum(before.heights_mm, low))
    lowest = int(low.argmin())
    row, col = divmod(lowest, low.shape[1])
    at = (float(before.xs_mm[col]), float(before.ys_mm[row]))
    deepest = float(low.ravel()[lowest])
    # A drill's tip may come down between the middles of cells.
    for plunge in cut.plunges:
        if plunge.tip_mm <= deepest:
            deepest, at = plunge.tip_mm, (plunge.x_mm, plunge.y_mm)
    low.setflags(write=False)
    first, *more = (float(after.heights_mm[after.window(pad)].min(initial=full_mm)) for pad in pads)
    return Snapshot(
        name=cut.name,
        shape=cut.shape,
        field=after,
        swept_mm=low,
        removed_mm3=volume_mm3(before) - volume_mm3(after),
        deepest_mm=deepest,
        deepest_at_mm=at,
        pad_mm=first,
        pad_ring_mm=_ring_mm(after, pads[0], full_mm),
        more_pads_mm=tuple(more),
    )


def _ring_mm(field: HeightField, pad: Box, full_mm: float) -> float:
    """Distance from the pad's box to the nearest cell that lies lower than the blank."""
    x0, y0, x1, y1 = pad
    far = _RING_SEEN_MM
    window = field.window((x0 - far, y0 - far, x1 + far, y1 + far))
    lowered = field.heights_mm[window] < full_mm - SAME_MM
    if not lowered.any():
        return far
    xs, ys = field.xs_mm[window[1]], field.ys_mm[window[0]]
    half = field.cell_mm / 2
    dx: FloatArray = np.maximum(np.maximum(x0 - xs, xs - x1) - half, 0.0)
    dy: FloatArray = np.maximum(np.maximum(y0 - ys, ys - y1) - half, 0.0)
    return min(far, float(np.hypot(dx[None], dy[:, None])[lowered].min()))


def pad_untouched(shot: Snapshot, blank_mm: float) -> bool:
    """Whether every cell of the reference pads still has the blank's height."""
    return min(shot.pad_mm, *shot.more_pads_mm, blank_mm) >= blank_mm - SAME_MM


def rest_mm(field: HeightField, wanted_mm: FloatGrid, where: BoolGrid) -> FloatGrid:
    """Material still standing above what is wanted, (rows, cols); 0 outside the cells asked about."""
    rest: FloatGrid = np.where(where, np.maximum(field.heights_mm - wanted_mm, 0.0), 0.0).astype(np.float32)
    return rest


def gouged_mm(field: HeightField, wanted_mm: FloatGrid, where: BoolGrid) -> FloatGrid:
    """How far the surface lies below what is wanted, (rows, cols); 0 outside the cells asked about."""
    deep: FloatGrid = np.where(where, np.maximum(wanted_mm - field.heights_mm, 0.0), 0.0).astype(np.float32)
    return deep


def exposed(field: HeightField, tops_mm: Sequence[float]) -> LayerGrid:
    """Which layer lies open at each cell.

    Args:
        field: Heights.
        tops_mm: Heights above the bed at which the layers end, from the underside up.

    Returns:
        int8 (rows, cols) number of the layer from 0; -1 where nothing is left.
    """
    edges = np.array([0.0, *tops_mm[:-1]], dtype=np.float32) + np.float32(SAME_MM)
    found: LayerGrid = (np.searchsorted(edges, field.heights_mm, side="left") - 1).astype(np.int8)
    return found


def exposed_mm2(field: HeightField, tops_mm: Sequence[float], where: BoolGrid) -> tuple[float, ...]:
    """Area of each layer that lies open in the cells asked about."""
    open_layers = exposed(field, tops_mm)[where]
    counts = np.bincount(open_layers[open_layers >= 0], minlength=len(tops_mm))
    return tuple(float(count) * field.cell_mm2 for count in counts[: len(tops_mm)].tolist())
