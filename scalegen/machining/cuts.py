"""The stages of a job as cuts over a grid, from the blank to loose parts."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from scalegen.design import Hole, Scale
from scalegen.form.grooves import Grooves, grooves_of
from scalegen.machining.cutter_shape import POINT_RAD, CutterShape, ball, drill, flat, point_mm
from scalegen.machining.dry_run import SAME_MM, Cut, DryRun, Plunge, run_stages
from scalegen.machining.field import BoolGrid, FloatGrid
from scalegen.machining.reach import tips_mm
from scalegen.machining.tabs import Tab, raised
from scalegen.machining.target import Target, placed_point, placed_points
from scalegen.model import Layer
from scalegen.sheet.layout import SheetLayout

PAD_RING_MM = 0.5
"""Left around the reference pad, so that a blank laid a little askew does not cost it its edge. Common
practice, no source."""


def plan_cuts(
    scale: Scale,
    layout: SheetLayout,
    target: Target,
    round_shape: CutterShape,
    *,
    face_shape: CutterShape | None = None,
    tabs: Sequence[Tab] = (),
    pad_ring_mm: float = PAD_RING_MM,
    point_rad: float = POINT_RAD,
) -> tuple[Cut, ...]:
    """Stages from the blank to loose scales; blind holes, drilled from the back afterwards, are left out.

    Args:
        scale: What is cut.
        layout: Where it stands.
        target: The same as heights.
        round_shape: Cutter that faces off and goes round the parts.
        face_shape: Cutter for fronts, edges and faces; None for the same.
        tabs: Bridges that stay when the outlines are cut, in the sheet frame.
        pad_ring_mm: Kept at full height around the pad.
        point_rad: Full angle of the drills' points.

    Returns:
        The stages in the order that ``stages`` names them.
    """
    shaping = face_shape or round_shape
    cell = target.field.cell_mm
    inside = target.parts >= 0
    faced = scale.thickness_mm + scale.back_allowance_mm
    ledge = _ledge_mm(scale)
    upper = target.whole_mm[inside & (target.whole_mm > ledge + SAME_MM)]
    low = float(upper.min(initial=faced))
    whole = _with_pad(target, pad_ring_mm)
    shaped = np.maximum(whole, np.float32(low))
    cuts: list[Cut] = []
    if scale.faced_off_mm > SAME_MM:
        over = np.maximum(whole, np.float32(faced))
        cuts.append(Cut(name="face off", shape=round_shape, surface_mm=over, where=np.ones_like(inside)))
    if low < faced - SAME_MM:
        faces = "" if scale.face.is_flat else "faces, "
        near = grown(inside, shaping.radius_mm + cell, cell)
        cuts.append(Cut(name=f"{faces}fronts and edges", shape=shaping, surface_mm=shaped, where=near))
    grooves = grooves_of(scale)
    if grooves is not None:
        cuts.append(_groove_cut(grooves, layout, target, shaped))
    cuts += _hole_cuts(scale, layout, target.floor_mm, point_rad)
    if ledge > 0:
        step = np.maximum(whole, np.float32(ledge))
        near = grown(inside, round_shape.radius_mm + cell, cell)
        name = "face outlines, down to the liner"
        cuts.append(Cut(name=name, shape=round_shape, surface_mm=step, where=near))
    spare = raised(target.field, whole, tabs, round_shape.radius_mm)
    beside = grown(inside, round_shape.radius_mm, cell)
    path = grown(inside, round_shape.radius_mm + 1.5 * cell, cell) & ~beside
    cuts.append(Cut(name="outlines", shape=round_shape, surface_mm=spare, where=path))
    return tuple(cuts)


def rehearse(
    target: Target,
    cuts: Sequence[Cut],
    layers: Sequence[Layer],
    *,
    tape_mm: float = 0.0,
) -> DryRun:
    """Cut the blank of a layout as planned.

    Args:
        target: What is wanted, and of which blank.
        cuts: Stages, in order.
        layers: Layers of the blank, from the underside up.
        tape_mm: What lies between blank and bed and may be cut.
    """
    shots = run_stages(target.blank, cuts, *target.pads)
    return DryRun(target=target, shots=shots, layers=tuple(layers), tape_mm=tape_mm)


def with_allowance(cut: Cut, allowance_mm: float) -> Cut:
    """The same stage, leaving an even allowance above what it must spare."""
    if cut.surface_mm is None:
        return cut
    return replace(cut, surface_mm=cut.surface_mm + np.float32(allowance_mm))


def grown(mask: BoolGrid, radius_mm: float, cell_mm: float) -> BoolGrid:
    """All cells whose middle is within a distance of the middle of a cell of the mask."""
    around = flat(2 * radius_mm)
    cells: BoolGrid = tips_mm(mask.astype(np.float32), around, cell_mm, np.ones_like(mask)) > 0
    return cells


def _groove_cut(grooves: Grooves, layout: SheetLayout, target: Target, surface_mm: FloatGrid) -> Cut:
    cell = target.field.cell_mm
    kind = "ball" if grooves.ball else "flat"
    # A cutter exactly as wide as a groove of cells may not fit between them.
    width = max(grooves.width_mm - 1.5 * cell, cell / 2)
    make = ball if grooves.ball else flat
    return Cut(
        name="grooves",
        shape=make(width, f"{kind} cutter of {grooves.width_mm:.2f} mm"),
        surface_mm=surface_mm,
        where=_axes(layout, target, grooves),
    )


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


def _ledge_mm(scale: Scale) -> float:
    """Height above the bed of layers at the back that stand out beyond those over them; 0 without."""
    stepped = scale.stepped
    if stepped is None or stepped.step_mm <= 0:
        return 0.0
    return stepped.top_mm + scale.back_allowance_mm


def _with_pad(target: Target, ring_mm: float) -> FloatGrid:
    """The wanted surface, holes filled, nowhere above the blank; the pads and a ring around each whole."""
    whole = np.minimum(target.whole_mm, np.float32(target.blank_mm))
    for x0, y0, x1, y1 in target.pads:
        ring = (x0 - ring_mm, y0 - ring_mm, x1 + ring_mm, y1 + ring_mm)
        whole[target.field.window(ring)] = target.blank_mm
    return whole


def _hole_cuts(scale: Scale, layout: SheetLayout, floor_mm: float, point_rad: float) -> list[Cut]:
    """Recesses, then holes from small to large; a milled round hole is as one plunge as wide leaves it."""
    cuts = []
    for size, seat in sorted(
        {(hole.head_hole_mm, hole.seat_mm) for hole in scale.holes if hole.head_hole_mm}
    ):
        own = [hole for hole in scale.holes if (hole.head_hole_mm, hole.seat_mm) == (size, seat)]
        shape = flat(size, f"flat cutter up to {size:.2f} mm")
        tip = seat + scale.back_allowance_mm
        cuts.append(Cut(name="head recesses", shape=shape, plunges=_plunges(own, layout, tip)))
    through = [hole for hole in scale.holes if not hole.is_blind]
    for size in sorted({hole.hole_mm for hole in through}):
        own = [hole for hole in through if hole.hole_mm == size]
        made = own[0].drill
        if made:
            shape = drill(size, point_rad, name=f"drill {made.designation}")
        else:
            shape = flat(size, f"flat cutter under {size:.2f} mm")
        # The full width goes below the blank, and the point goes further.
        tip = -floor_mm - point_mm(shape)
        cuts.append(Cut(name="pin holes", shape=shape, plunges=_plunges(own, layout, tip)))
    return cuts


def _plunges(holes: Sequence[Hole], layout: SheetLayout, tip_mm: float) -> tuple[Plunge, ...]:
    at = [placed_point(hole.at_mm, placement) for placement in layout.placements for hole in holes]
    return tuple(Plunge(x_mm=x, y_mm=y, tip_mm=tip_mm) for x, y in at)
