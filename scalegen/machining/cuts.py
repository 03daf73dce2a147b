"""The stages of a job as cuts over a grid, from the blank to loose parts."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from scalegen.design import Hole, Scale
from scalegen.form.grooves import Grooves, grooves_of
from scalegen.machining.cutter_shape import CutterShape, ball, flat
from scalegen.machining.dry_run import SAME_MM, Cut, DryRun, Plunge, run_stages
from scalegen.machining.field import BoolGrid, FloatGrid, ring_mask
from scalegen.machining.reach import tips_mm
from scalegen.machining.stages import Stage
from scalegen.machining.tabs import Tab, raised
from scalegen.machining.target import Target, placed_point, placed_points, placed_ring
from scalegen.model import Layer
from scalegen.sheet.layout import SheetLayout

PAD_RING_MM = 0.5
"""Left around the reference pad, so that a blank laid a little askew does not cost it its edge. Common
practice, no source."""

_LANE_CELLS = 1.5
"""A lane for the axis that is wider than this many cells has middles of cells all along it."""

_LESS_CELLS = 0.6
_SLACK_MM = 1e-9


def plan_cuts(
    scale: Scale,
    layout: SheetLayout,
    target: Target,
    stages: Sequence[Stage],
    *,
    tabs: Sequence[Tab] = (),
    pad_ring_mm: float = PAD_RING_MM,
) -> tuple[Cut, ...]:
    """A plan as cuts over a grid; blind holes, drilled from the back afterwards, are left out.

    Args:
        scale: What is cut.
        layout: Where it stands.
        target: The same as heights.
        stages: The plan.
        tabs: Bridges that stay when the outlines are cut, in the sheet frame.
        pad_ring_mm: Kept at full height around the pad.

    Returns:
        One cut for each stage that is cut from the blank, in their order.
    """
    ground = _Ground(
        scale=scale, layout=layout, target=target, whole_mm=_with_pad(target, pad_ring_mm), tabs=tuple(tabs)
    )
    return tuple(_cut(stage, ground) for stage in stages if stage.is_from_blank)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ground:
    """What all cuts of a sheet share; ``whole_mm`` is what none may cut into, holes filled."""

    scale: Scale
    layout: SheetLayout
    target: Target
    whole_mm: FloatGrid
    tabs: tuple[Tab, ...]

    @property
    def inside(self) -> BoolGrid:
        """Cells of the layout's parts; others may stand on the same blank."""
        own = {placement.label for placement in self.layout.placements}
        numbers = [number for number, label in enumerate(self.target.labels) if label in own]
        if len(numbers) == len(self.target.labels):
            return self.target.parts >= 0
        return np.isin(self.target.parts, numbers)

    def near(self, stage: Stage) -> BoolGrid:
        """Cells where the axis of a stage's cutter still touches a part."""
        cell = self.target.field.cell_mm
        return grown(self.inside, stage.shape.radius_mm + stage.allowance_mm + cell, cell)


def _cut(stage: Stage, ground: _Ground) -> Cut:
    level = np.float32(stage.to_mm - stage.allowance_mm)
    if stage.does in {"recesses", "pin holes"}:
        return _hole_cut(stage, ground)
    if stage.does == "outlines":
        return _outline_cut(stage, ground)
    surface = np.maximum(ground.whole_mm, level)
    where = np.ones_like(ground.inside) if stage.does == "face off" else ground.near(stage)
    shape = stage.shape
    if stage.does == "feet":
        surface = np.where(_beyond_feet(stage, ground), np.float32(ground.target.blank_mm), surface)
    elif stage.does == "grooves":
        grooves = grooves_of(ground.scale)
        if grooves is not None:
            where, shape = _axes(ground.layout, ground.target, grooves), _groove_shape(stage, ground.target)
    cut = Cut(name=stage.name, shape=shape, surface_mm=surface, where=where)
    return with_allowance(cut, stage.allowance_mm, ground.target.field.cell_mm)


def _outline_cut(stage: Stage, ground: _Ground) -> Cut:
    """Once round every part, the cutter's side on the outline or an allowance off it."""
    target = ground.target
    cell = target.field.cell_mm
    shape = _passing(stage, ground.layout.spacing_mm, cell)
    spare = np.maximum(ground.whole_mm, np.float32(stage.to_mm - stage.allowance_mm))
    spare = raised(target.field, spare, ground.tabs, stage.shape.radius_mm)
    off = shape.radius_mm + stage.allowance_mm
    path = grown(ground.inside, off + 1.5 * cell, cell) & ~grown(ground.inside, off, cell)
    cut = Cut(name=stage.name, shape=shape, surface_mm=spare, where=path)
    return with_allowance(cut, stage.allowance_mm, cell)


def _passing(stage: Stage, spacing_mm: float, cell_mm: float) -> CutterShape:
    """The cutter that goes round, a little narrower where it just passes between two parts.

    Its axis stands on middles of cells alone, and a lane narrower than a cell may have none. With half a cell
    and a bit less in radius every lane has: two rows of middles of cells k apart leave a row between them as
    soon as k is more than twice the whole cells that go into the radius.
    """
    slack = spacing_mm - 2 * (stage.shape.radius_mm + stage.allowance_mm)
    if stage.kind != "flat" or not -_SLACK_MM <= slack < _LANE_CELLS * cell_mm:
        return stage.shape
    return replace(stage.shape, radius_mm=max(stage.shape.radius_mm - _LESS_CELLS * cell_mm, cell_mm / 2))


def rehearse(
    target: Target,
    cuts: Sequence[Cut],
    layers: Sequence[Layer],
    *,
    tape_mm: float = 0.0,
    tabs: Sequence[Tab] = (),
) -> DryRun:
    """Cut the blank of a layout as planned.

    Args:
        target: What is wanted, and of which blank.
        cuts: Stages, in order.
        layers: Layers of the blank, from the underside up.
        tape_mm: What lies between blank and bed and may be cut.
        tabs: Bridges that the stages leave, in the sheet frame.
    """
    shots = run_stages(target.blank, cuts, *target.pads)
    return DryRun(target=target, shots=shots, layers=tuple(layers), tape_mm=tape_mm, tabs=tuple(tabs))


def with_allowance(cut: Cut, allowance_mm: float, cell_mm: float) -> Cut:
    """The same stage, leaving an even allowance over and beside what it must spare.

    On slopes the allowance, square to the surface, is at least as much: a box as wide and as high as the
    allowance is kept around every point.
    """
    if cut.surface_mm is None or not allowance_mm:
        return cut
    beside = tips_mm(cut.surface_mm, flat(2 * allowance_mm), cell_mm, np.ones(cut.surface_mm.shape, bool))
    return replace(cut, surface_mm=beside + np.float32(allowance_mm))


def grown(mask: BoolGrid, radius_mm: float, cell_mm: float) -> BoolGrid:
    """All cells whose middle is within a distance of the middle of a cell of the mask."""
    around = flat(2 * radius_mm)
    cells: BoolGrid = tips_mm(mask.astype(np.float32), around, cell_mm, np.ones_like(mask)) > 0
    return cells


def _groove_shape(stage: Stage, target: Target) -> CutterShape:
    # A cutter exactly as wide as a groove of cells may not fit between them.
    cell = target.field.cell_mm
    width = max(2 * stage.shape.radius_mm - 1.5 * cell, cell / 2)
    return (ball if stage.kind == "ball" else flat)(width, stage.cutter)


def _beyond_feet(stage: Stage, ground: _Ground) -> BoolGrid:
    """Cells of parts that lie further inside the finished outline than a stage comes."""
    field = ground.target.field
    finished = np.zeros(field.shape, dtype=np.bool_)
    for placement in ground.layout.placements:
        window, inside = ring_mask(field, placed_ring(ground.scale.finished, placement))
        finished[window] |= inside
    reach = stage.reach_mm + 1.5 * field.cell_mm
    return finished & ~grown(~finished, reach, field.cell_mm)


def _axes(layout: SheetLayout, target: Target, grooves: Grooves) -> BoolGrid:
    """Cells that the middle lines of all grooves run over."""
    field = target.field
    where = np.zeros(field.shape, dtype=np.bool_)
    reach = np.hypot(*(grooves.ends - grooves.starts).T)
    for start, end, length in zip(grooves.starts, grooves.ends, reach.tolist(), strict=True):
        share = np.linspace(0.0, 1.0, int(2 * length / field.cell_mm) + 2)[:, None]
        for placement in layout.placements:
            points = placed_points(start + share * (end - start), placement)
            cols = ((points[:, 0] - field.x_mm) / field.cell_mm).astype(np.intp)
            rows = ((points[:, 1] - field.y_mm) / field.cell_mm).astype(np.intp)
            where[rows, cols] = True
    return where & (target.parts >= 0)


def _with_pad(target: Target, ring_mm: float) -> FloatGrid:
    """The wanted surface, holes filled, nowhere above the blank; the pads and a ring around each whole."""
    whole = np.minimum(target.whole_mm, np.float32(target.blank_mm))
    for x0, y0, x1, y1 in target.pads:
        ring = (x0 - ring_mm, y0 - ring_mm, x1 + ring_mm, y1 + ring_mm)
        whole[target.field.window(ring)] = target.blank_mm
    return whole


def _hole_cut(stage: Stage, ground: _Ground) -> Cut:
    """Holes or recesses of one size; milled round ones are as one plunge as wide leaves them."""
    size, recess = stage.size_mm, stage.does == "recesses"
    own = [
        hole
        for hole in ground.scale.holes
        if (recess and hole.head_hole_mm == size and _seat_is(hole, stage, ground))
        or (not recess and not hole.is_blind and hole.hole_mm == size)
    ]
    shape = stage.shape if stage.kind == "drill" else flat(size, stage.cutter)
    return Cut(name=stage.name, shape=shape, plunges=_plunges(own, ground.layout, stage.deepest_mm))


def _seat_is(hole: Hole, stage: Stage, ground: _Ground) -> bool:
    seat = hole.seat_mm + ground.scale.back_allowance_mm + stage.allowance_mm
    return abs(seat - stage.to_mm) < SAME_MM


def _plunges(holes: Sequence[Hole], layout: SheetLayout, tip_mm: float) -> tuple[Plunge, ...]:
    at = [placed_point(hole.at_mm, placement) for placement in layout.placements for hole in holes]
    return tuple(Plunge(x_mm=x, y_mm=y, tip_mm=tip_mm) for x, y in at)
