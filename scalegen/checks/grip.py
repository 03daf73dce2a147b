"""Findings about the handle in the hand."""

import math
from collections.abc import Iterator

from scalegen.checks.common import finding, shown
from scalegen.design import Scale
from scalegen.model import Finding
from scalegen.units import format_length

GRIP_MM = (31.75, 50.8)
"""Power-grip diameter of single-handled tools, 1 1/4 to 2 in. Source: NIOSH publication 2004-164."""


def grip_diameter_mm(scale: Scale) -> float:
    """Diameter of the round handle with the same girth as this one at its highest place.

    The section is taken as a rectangle with corners of the edge treatment's size.
    """
    _, y0, _, y1 = scale.finished.bounds_mm
    high, thick = y1 - y0, scale.pattern.tang_mm + 2 * scale.thickness_mm
    edge = scale.pattern.edge
    saved = {"square": 0.0, "round": 8 - 2 * math.pi, "chamfer": 8 - 4 * math.sqrt(2)}[edge.treatment]
    return (2 * (high + thick) - saved * edge.size_mm) / math.pi


def grip(scale: Scale) -> Iterator[Finding]:
    """Findings about how far round the handle is."""
    units = scale.pattern.units
    girth, (low, high) = grip_diameter_mm(scale), GRIP_MM
    if low <= girth <= high:
        return
    thick = shown(scale, 1)(scale.pattern.tang_mm + 2 * scale.thickness_mm)
    text = (
        f"{thick} thick in all, it is as far round as a round handle of {shown(scale, 1)(girth)};"
        f" {'slimmer' if girth < low else 'fuller'} than the {format_length(low, units)} to"
        f" {format_length(high, units)} published for a firm grip (NIOSH 2004-164)"
    )
    remedy = "advice only: many good knives are slimmer, and hands differ"
    yield finding("note", "grip-size", ("handle", ""), text, remedy)
