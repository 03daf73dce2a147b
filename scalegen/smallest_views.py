"""The smallest rectangle of sheet as data and in words."""

import math
from collections.abc import Iterator

from scalegen.model import Units
from scalegen.report.record_scale import Data
from scalegen.sheet.layout import PadBox
from scalegen.smallest import SmallestSheet
from scalegen.units import format_length


def smallest_record(found: SmallestSheet) -> Data:
    """A rectangle found as data."""
    layout = found.layout
    return {
        "pairs": found.pairs,
        "length_mm": layout.length_mm,
        "width_mm": layout.width_mm,
        "area_mm2": layout.area_mm2,
        "least_area_mm2": found.least_mm2,
        "least_length_mm": found.least_length_mm,
        "proven": found.proven,
        "grain_deg": math.degrees(layout.grain_rad),
        "pad": _pad_record(layout.pad),
        "pads": [_pad_record(pad) for pad in layout.pads],
        "placements": [
            {
                "label": place.label,
                "pattern": place.pattern,
                "side": place.side,
                "x_mm": place.x_mm,
                "y_mm": place.y_mm,
                "angle_deg": math.degrees(place.angle_rad),
            }
            for place in layout.placements
        ],
    }


def _pad_record(pad: PadBox) -> Data:
    return {"x_mm": pad.x_mm, "y_mm": pad.y_mm, "w_mm": pad.w_mm, "h_mm": pad.h_mm}


def smallest_lines(found: SmallestSheet, units: Units) -> Iterator[str]:
    """A rectangle found in words, line by line."""
    layout, word = found.layout, "cm2" if units == "mm" else "in2"
    per = 100.0 if units == "mm" else 25.4**2
    size = f"{format_length(layout.length_mm, units)} x {format_length(layout.width_mm, units)}"
    many = f"{found.pairs} pair{'s' * (found.pairs != 1)}"
    yield f"{size} takes {many}, with pad, ring and margin: {layout.area_mm2 / per:.1f} {word}"
    if found.proven:
        yield "no smaller one is possible"
    elif found.least_length_mm is not None:
        least = format_length(round(found.least_length_mm, 2), units)
        yield f"the smallest found; proven: at this width none shorter than {least} will do"
    else:
        least, share = f"{found.least_mm2 / per:.1f} {word}", 100 * found.least_mm2 / layout.area_mm2
        yield f"the smallest found; proven: none below {least} will do ({share:.0f} % of it)"
    for number, pad in enumerate(layout.pads, 1):
        x, y = layout.to_origin_frame(pad.x_mm, pad.y_mm)
        name = "pad" if number == 1 else "second pad"
        at = f"X {format_length(round(x, 2), units)}, Y {format_length(round(y, 2), units)}"
        yield f"its {name} stands at {at}"
    if layout.grain_rad:
        yield f"its grain lies at {math.degrees(layout.grain_rad):g} degrees against its length"
