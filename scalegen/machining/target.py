"""What a blank is to look like when all is cut: parts where they stand, the pad whole, the rest gone."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.design import Scale
from scalegen.form.draped import DrapedPlan, draped_plan
from scalegen.machining.field import (
    CELL_MM,
    BoolGrid,
    Box,
    FloatGrid,
    HeightField,
    Window,
    blank_field,
    box_mask,
    disc_mask,
    ring_mask,
)
from scalegen.outline.pieces import Pieces, gaps_mm, pieces_of
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.transform import mirrored, moved
from scalegen.sheet.layout import PadBox, Placement, SheetLayout

PartGrid = npt.NDArray[np.int16]

APRON_MM = 4.0
"""Bare bed around the blank, so that a cutter of up to twice that may go round its edge."""

FLOOR_MM = 0.2
"""How far cutters go below the blank outside the parts. Common practice, no source."""

_CHORD_MM = 4.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Target:
    """The blank as it is to be cut, cell by cell.

    Attributes:
        field: Heights wanted: tops of the parts with recesses and holes, the blank's height on the pad, minus
            the floor depth elsewhere and in holes that go through.
        whole_mm: float32 (rows, cols) the same with holes and recesses filled.
        blank_mm: Thickness of the blank.
        floor_mm: How far below the blank cutters go.
        blank: The blank before anything is cut, with bare bed around it.
        parts: int16 (rows, cols) number of the placement that a cell belongs to, from 0, holes included; -1
            in the waste.
        solid: (rows, cols) cells of parts that are not in a hole or recess.
        labels: Label of each placement.
        pad: Box of the reference pad.
        more_pads: Boxes of further pads.
    """

    field: HeightField
    whole_mm: FloatGrid
    blank_mm: float
    floor_mm: float
    blank: HeightField
    parts: PartGrid
    solid: BoolGrid
    labels: tuple[str, ...]
    pad: Box
    more_pads: tuple[Box, ...] = ()

    def __post_init__(self) -> None:
        self.whole_mm.setflags(write=False)
        self.parts.setflags(write=False)
        self.solid.setflags(write=False)

    @property
    def pads(self) -> tuple[Box, ...]:
        """Boxes of all pads, the one to zero on first."""
        return (self.pad, *self.more_pads)

    @property
    def pad_mask(self) -> BoolGrid:
        """Cells of the reference pad."""
        return box_mask(self.field, self.pad)


def pad_sides(pad: PadBox) -> Box:
    """The sides of a reference pad."""
    return pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm


def placed_ring(ring: Ring, placement: Placement) -> Ring:
    """A ring of the left scale where a placement puts it, mirrored for the right."""
    own = mirrored(ring) if placement.side == "right" else ring
    return moved(own, placement.x_mm, placement.y_mm, placement.angle_rad)


def placed_point(at_mm: tuple[float, float], placement: Placement) -> tuple[float, float]:
    """A point of the left scale where a placement puts it, mirrored for the right."""
    x, y = placed_points(np.array([at_mm]), placement)[0].tolist()
    return x, y


def placed_points(points: FloatArray, placement: Placement) -> FloatArray:
    """Points (n, 2) of the left scale where a placement puts them, mirrored for the right."""
    return placement.place(points * [1.0, -1.0 if placement.side == "right" else 1.0])


def own_points(points: FloatArray, placement: Placement) -> FloatArray:
    """Points (n, 2) of the sheet in the frame of the left scale."""
    c, s = np.cos(placement.angle_rad), np.sin(placement.angle_rad)
    own: FloatArray = (points - [placement.x_mm, placement.y_mm]) @ np.array([[c, -s], [s, c]])
    own[:, 1] *= -1.0 if placement.side == "right" else 1.0
    return own


def target_of(
    scale: Scale,
    layout: SheetLayout,
    *,
    cell_mm: float = CELL_MM,
    floor_mm: float = FLOOR_MM,
    apron_mm: float = APRON_MM,
    others: Mapping[str, Scale] | None = None,
) -> Target:
    """Lay the as-cut scales of a blank out as heights.

    Args:
        scale: The scale that stands there, left and right.
        layout: Where.
        cell_mm: Side of a cell.
        floor_mm: How far below the blank cutters go outside the parts and in holes.
        apron_mm: Bare bed around the blank, where a cutter's axis may stand.
        others: Scales of further patterns on the same blank, by name; ``scale`` is what all others are.

    Raises:
        GeometryError: The edge treatment does not fit the outline or the thickness.
        UsageError: Too many cells.
    """
    blank = scale.stack.used_mm
    field = _standing(
        blank_field(layout.length_mm, layout.width_mm, blank, cell_mm, apron_mm=apron_mm), layout
    )
    heights = np.full(field.shape, -floor_mm, dtype=np.float32)
    parts = np.full(field.shape, -1, dtype=np.int16)
    solid = np.zeros(field.shape, dtype=np.bool_)
    more = others or {}
    plan = draped_plan(scale, finished=False)
    plans = {name: draped_plan(other, finished=False) for name, other in more.items()}
    pads = [pad_sides(pad) for pad in layout.pads]
    for number, placement in enumerate(layout.placements):
        name = placement.pattern
        window, inside, tops = part_tops(field, more.get(name, scale), plans.get(name, plan), placement)
        heights[window][inside] = tops
        parts[window][inside] = number
        solid[window][inside] = True
    for pad in pads:
        heights[field.window(pad)] = blank
    whole = heights.copy()
    for placement in layout.placements:
        for hole, cells, floor in _holes(field, more.get(placement.pattern, scale), placement, -floor_mm):
            # A recess below the face never lifts what is already lower.
            heights[hole][cells] = np.minimum(heights[hole][cells], floor)
            solid[hole][cells] = False
    return Target(
        field=field.changed(heights),
        whole_mm=whole,
        blank_mm=blank,
        floor_mm=floor_mm,
        blank=field,
        parts=parts,
        solid=solid,
        labels=tuple(placement.label for placement in layout.placements),
        pad=pads[0],
        more_pads=tuple(pads[1:]),
    )


def _standing(field: HeightField, layout: SheetLayout) -> HeightField:
    """A blank without material outside its outline and in its holes."""
    if layout.outline is None and not layout.holes:
        return field
    heights = np.array(field.heights_mm)
    if layout.outline is not None:
        window, inside = ring_mask(field, layout.outline)
        heights = np.zeros_like(heights)
        heights[window][inside] = field.heights_mm[window][inside]
    for hole in layout.holes:
        window, inside = ring_mask(field, hole)
        heights[window][inside] = 0.0
    return field.changed(heights)


def part_tops(
    field: HeightField, scale: Scale, plan: DrapedPlan, placement: Placement
) -> tuple[Window, BoolGrid, FloatGrid]:
    """Heights above the bed over one part as cut, holes filled.

    Args:
        field: The grid.
        scale: The scale.
        plan: Its plan as cut.
        placement: Where it stands.

    Returns:
        Window of the grid; its cells inside the part; their heights, row by row.
    """
    window, inside = ring_mask(field, placed_ring(scale.footprint, placement))
    points = field.points_mm(window)[inside.ravel()]
    own = own_points(points, placement)
    if plan.run is None or not plan.run.is_steady:
        # Sizes that change along the edge need the foot of every point.
        body = plan.body_mm(own)
    else:
        body = plan.face.height_mm(own)
        if plan.grooves is not None:
            body = body - plan.grooves.depth_at_mm(own)
        body = body - _edge_mm(field, plan, placement, window)[inside]
    behind = np.maximum(plan.nose.behind_mm(own), 0.0)
    tops = np.minimum(body, plan.nose.limit_mm(behind, plan.face.height_mm(own)))
    stepped = scale.stepped
    if stepped is not None and stepped.step_mm > 0:
        step_window, upper = ring_mask(field, placed_ring(scale.as_cut, placement))
        whole = np.zeros(field.shape, dtype=np.bool_)
        whole[step_window] = upper
        tops = np.where(whole[window][inside], tops, np.minimum(tops, stepped.top_mm))
    return window, inside, (np.maximum(tops, plan.bottom_mm) - plan.bottom_mm).astype(np.float32)


def _edge_mm(field: HeightField, plan: DrapedPlan, placement: Placement, window: Window) -> FloatArray:
    """How far below the face an edge of steady size lies over a window, (rows, cols)."""
    rows, cols = window
    depth = np.zeros((rows.stop - rows.start, cols.stop - cols.start))
    if plan.run is None or plan.lip is None:
        return depth
    size = float(plan.run.sizes[0, 0])
    lip = placed_ring(plan.lip, placement)
    near = _near_mm(field, pieces_of(lip), window, size + field.cell_mm)
    lip_window, within = ring_mask(field, lip)
    inner = np.zeros(field.shape, dtype=np.bool_)
    inner[lip_window] = within
    inner = inner[window]
    depth[inner] = plan.depth_mm(np.full(int(inner.sum()), size), np.minimum(near[inner], size))
    # On the lip itself the treatment lies as deep as the flange.
    return np.where(inner, depth, plan.seat_drop_mm)


def _near_mm(field: HeightField, pieces: Pieces, window: Window, reach_mm: float) -> FloatArray:
    """Distances (rows, cols) of the cells of a window from the nearest piece, right up to ``reach_mm``."""
    rows, cols = window
    near = np.full((rows.stop - rows.start, cols.stop - cols.start), np.inf)
    counts = np.maximum(1, np.ceil(pieces.lengths / _CHORD_MM)).astype(int)
    for index, count in enumerate(counts.tolist()):
        share = np.linspace(0.0, 1.0, 2 * count + 1)
        path = pieces.at(np.full(len(share), index), share)
        for k in range(count):
            part = path[2 * k : 2 * k + 3]
            # An arc bulges beyond its chords by less than a quarter of its length.
            rim = reach_mm + float(pieces.lengths[index]) / count / 4 * bool(pieces.is_arc[index])
            low, high = part.min(axis=0) - rim, part.max(axis=0) + rim
            box = field.window((low[0], low[1], high[0], high[1]))
            top, bottom = max(box[0].start, rows.start), min(box[0].stop, rows.stop)
            left, right = max(box[1].start, cols.start), min(box[1].stop, cols.stop)
            if top >= bottom or left >= right:
                continue
            cells = (slice(top, bottom), slice(left, right))
            points = field.points_mm(cells)
            gaps = gaps_mm(pieces[np.full(len(points), index)], points).reshape(bottom - top, right - left)
            shown = near[top - rows.start : bottom - rows.start, left - cols.start : right - cols.start]
            np.minimum(shown, gaps, out=shown)
    return near


def _holes(
    field: HeightField, scale: Scale, placement: Placement, floor_mm: float
) -> Iterator[tuple[Window, BoolGrid, float]]:
    """Cells of every bore that opens in the face, and the height of its floor above the bed, wide first."""
    for hole in scale.holes:
        center = placed_point(hole.at_mm, placement)
        for bore in sorted(hole.bores, key=lambda bore: -bore.diameter_mm):
            if np.isinf(bore.top_mm):
                floor = floor_mm if np.isinf(bore.bottom_mm) else bore.bottom_mm + scale.back_allowance_mm
                yield *disc_mask(field, center, bore.diameter_mm / 2), floor
