"""The stages of a job in plain numbers: cutter, where Z is zeroed, how deep, what goes wrong elsewhere."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.design import Hole, Scale
from scalegen.form.draped import draped_plan, is_draped
from scalegen.form.grooves import grooves_of
from scalegen.model import JobSpec
from scalegen.outline.measure import sampled

THROUGH_MM = 0.2
"""How far the last pass and the drills go below the blank, into tape or spoil board.
Common practice, no source."""

_FACE_FROM_MM = 1e-6
_SAMPLE_MM = 0.5


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One run with one cutter between two touch-offs; heights are above the bed.

    Attributes:
        name: What it does.
        cutter: Cutter or drill; for milled holes what it must be.
        touch_off: Where Z is zeroed: the reference pad, which keeps the blank's full height, for all that is
            cut from the blank; the back of a scale that was freed and turned over.
        z_zero_mm: Height of that place above the bed.
        deepest_mm: Height of the deepest move above the bed; negative means into the bed.
        surface_error_if_zeroed_elsewhere_mm: How much too deep everything comes out when this stage is
            zeroed on a face that an earlier stage has already lowered; 0 while no face is lowered.
    """

    name: str
    cutter: str
    touch_off: str
    z_zero_mm: float
    deepest_mm: float
    surface_error_if_zeroed_elsewhere_mm: float


def plan_stages(scale: Scale, spec: JobSpec) -> tuple[Stage, ...]:
    """Stages from the blank to loose scales: face off, fronts and edges, holes, outlines.

    Args:
        scale: What is cut.
        spec: For the cutter that goes round the parts.
    """
    zero = scale.stack.used_mm
    faced = max(0.0, scale.faced_off_mm)
    back = scale.back_allowance_mm
    front, edge = scale.pattern.front, scale.pattern.edge
    shaped = front.treatment != "square" or edge.treatment != "square" or not scale.face.is_flat
    stages: list[Stage] = []

    def add(name: str, cutter: str, deepest_mm: float) -> None:
        earlier = any(stage.name == "face off" for stage in stages)
        stages.append(
            Stage(
                name=name,
                cutter=cutter,
                touch_off="reference pad",
                z_zero_mm=zero,
                deepest_mm=deepest_mm,
                surface_error_if_zeroed_elsewhere_mm=faced if earlier else 0.0,
            )
        )

    if faced > _FACE_FROM_MM:
        add("face off", spec.cutter, zero - faced)
    if shaped:
        faces = "" if scale.face.is_flat else "faces, "
        add(f"{faces}fronts and edges", spec.cutter, back + _lowest_shape_mm(scale))
    grooves = grooves_of(scale)
    if grooves is not None:
        lines = np.vstack([grooves.starts, grooves.ends])
        floor = float(scale.face.height_mm(lines).min()) - grooves.depth_mm
        add(
            "grooves",
            f"{'ball' if grooves.ball else 'flat'} cutter of {grooves.width_mm:.2f} mm",
            back + floor,
        )
    heads = {(hole.head_hole_mm, hole.seat_mm) for hole in scale.holes if hole.head_hole_mm}
    for size_mm, seat_mm in sorted(heads):
        add("head recesses", f"flat cutter up to {size_mm:.2f} mm", back + seat_mm)
    for tool in _hole_tools([hole for hole in scale.holes if not hole.is_blind]):
        add("pin holes", tool, -THROUGH_MM)
    if scale.stepped is not None and scale.stepped.step_mm > 0:
        add("face outlines, down to the liner", spec.cutter, back + scale.stepped.top_mm)
    add("outlines", spec.cutter, -THROUGH_MM)
    stages += _blind_stages(scale)
    return tuple(stages)


def _blind_stages(scale: Scale) -> Iterator[Stage]:
    """Blind holes open at the back: they are drilled last, the freed scale lying on its face."""
    tall = scale.thickness_mm + scale.back_allowance_mm
    blind = {(hole.hole_mm, hole.end_mm): hole for hole in scale.holes if hole.is_blind}
    for (_, end_mm), hole in sorted(blind.items()):
        yield Stage(
            name="blind holes, scale turned over",
            cutter=_hole_tools([hole])[0],
            touch_off="back of the scale",
            z_zero_mm=tall,
            deepest_mm=scale.thickness_mm - end_mm,
            surface_error_if_zeroed_elsewhere_mm=0.0,
        )


def _hole_tools(holes: Sequence[Hole]) -> tuple[str, ...]:
    """What makes the holes, the smallest first: drills, or for sizes that none has a cutter that fits in."""
    sizes = {hole.hole_mm: hole.drill for hole in sorted(holes, key=lambda hole: hole.hole_mm)}
    return tuple(
        f"drill {drill.designation}" if drill else f"flat cutter under {size_mm:.2f} mm"
        for size_mm, drill in sizes.items()
    )


def _lowest_shape_mm(scale: Scale) -> float:
    """Lowest height above the finished back that a front or edge treatment reaches."""
    front, edge, top = scale.pattern.front, scale.pattern.edge, scale.thickness_mm
    lows = [top]
    if front.treatment == "bevel":
        lows.append(front.land_mm)
    if front.treatment == "round":
        lows.append(top - front.radius_mm)
    if is_draped(scale):
        plan = draped_plan(scale, finished=False)
        points = sampled(plan.outline(), _SAMPLE_MM)
        lows.append(float(scale.face.height_mm(points).min()) - plan.seat_drop_mm)
    elif edge.treatment == "round":
        lows.append(top - edge.size_mm)
    elif edge.treatment == "chamfer":
        lows.append(top - edge.size_mm - scale.pattern.trim_mm)
    return min(lows)
