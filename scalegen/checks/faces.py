"""Findings about faces that are not flat and edges that change along the outline."""

from collections.abc import Iterator

import numpy as np

from scalegen.checks.common import DUST_MM, finding, place_of, shown
from scalegen.design import Scale
from scalegen.form.body import edge_name
from scalegen.form.draped import DrapedPlan
from scalegen.form.plans import Plan
from scalegen.model import Finding
from scalegen.outline.measure import sampled
from scalegen.outline.ring import FloatArray

_SAMPLE_MM = 0.5


def shaped_layers(scale: Scale, plan: Plan | None) -> Iterator[Finding]:
    """Layers that a crown, a swell or an edge that changes cuts into, and where it goes deepest."""
    if not isinstance(plan, DrapedPlan):
        return
    points = sampled(scale.finished, _SAMPLE_MM)
    points = points[plan.nose.behind_mm(points) > DUST_MM]
    face = scale.face.height_mm(points)
    foot = face - _sizes_mm(plan, points)
    shape = "crown" if scale.face.crown_mm else "swell"
    for span in scale.spans[:-1]:
        if span.kind == "bond":
            continue
        for heights, about in ((face, shape), (foot, edge_name(scale.pattern.edge))):
            deep = int(heights.argmin())
            if heights[deep] < span.top_mm - DUST_MM:
                where = place_of(scale, *points[deep].tolist())
                low = shown(scale, 2)(float(heights[deep]))
                text = f'it comes down to {low} above the back and cuts into layer "{span.name}"'
                remedy = "make it smaller if that layer is not meant to show there"
                yield finding("note", "edge-shows-layer", (about, where), text, remedy)
                break


def _sizes_mm(plan: DrapedPlan, points: FloatArray) -> FloatArray:
    """Sizes (n,) of the edge treatment beside points (n, 2) of the finished outline."""
    if plan.run is None:
        return np.zeros(len(points))
    index, share, _ = plan.run.feet(points)
    return plan.run.size_mm(index, share)
