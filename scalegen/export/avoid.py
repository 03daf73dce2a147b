"""What no cutter may touch on a sheet, as bodies of their own: reference pads with their ring, and tabs."""

from collections.abc import Iterator, Sequence

import numpy as np
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
from OCP.gp import gp_Pnt

from scalegen.machining.cuts import PAD_RING_MM
from scalegen.machining.tabs import Tab, tab_corners
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, SheetLayout
from scalegen.solids.parts import Part, Solid
from scalegen.solids.plate import plate

AVOID_COLOR = "#8a8f98"
TAB_COLOR = "#5a5a5a"


def avoid_parts(layout: SheetLayout, height_mm: float, tabs: Sequence[Tab] = ()) -> tuple[Part, ...]:
    """Bodies for CAM to keep off, in the frame of the sheet's origin, z = 0 at the blank's underside.

    Args:
        layout: The sheet.
        height_mm: Full thickness of the blank.
        tabs: Its tabs, in the sheet frame.

    Returns:
        For each pad one body with the ring that the dry run keeps about it, at full height; for each tab one
        as high as the tab.
    """
    return (*_pads(layout, height_mm), *_tabs(layout, tabs))


def _pads(layout: SheetLayout, height_mm: float) -> Iterator[Part]:
    for number, pad in enumerate(layout.pads, 1):
        end = f" {number}" if number > 1 else ""
        (x0, y0), (x1, y1) = _with_ring(pad, layout)
        shape = BRepPrimAPI_MakeBox(gp_Pnt(x0, y0, 0), x1 - x0, y1 - y0, height_mm).Shape()
        solid = Solid(name=f"avoid: reference pad{end} with its ring", color=AVOID_COLOR, shape=shape)
        yield Part(name=f"avoid-reference-pad{end.replace(' ', '-')}", solids=(solid,))


def _with_ring(pad: PadBox, layout: SheetLayout) -> tuple[tuple[float, float], tuple[float, float]]:
    """Lower left and upper right corner of a pad and its ring, from the origin; on the blank in any case."""
    ring = min(PAD_RING_MM, layout.margin_mm)
    low = layout.to_origin_frame(pad.x_mm - ring, pad.y_mm - ring)
    return low, layout.to_origin_frame(pad.x_mm + pad.w_mm + ring, pad.y_mm + pad.h_mm + ring)


def _tabs(layout: SheetLayout, tabs: Sequence[Tab]) -> Iterator[Part]:
    for number, tab in enumerate(tabs, 1):
        corners = tab_corners(tab) - np.array(layout.origin_mm)
        ring = Ring(np.column_stack([corners, np.zeros(len(corners))]))
        solid = Solid(name=f"avoid: tab {number}", color=TAB_COLOR, shape=plate(ring, tab.height_mm))
        yield Part(name=f"avoid-tab-{number}", solids=(solid,))
