"""The stages of a job in plain numbers: cutter, where Z is zeroed, how deep, what goes wrong elsewhere."""

from dataclasses import dataclass

from scalegen.design import Scale
from scalegen.model import JobSpec

THROUGH_MM = 0.2
"""How far the last pass and the drills go below the blank, into tape or spoil board.
Common practice, no source."""

_FACE_FROM_MM = 1e-6


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One run with one cutter between two touch-offs; heights are above the bed.

    Attributes:
        name: What it does.
        cutter: Cutter or drill; for milled holes what it must be.
        touch_off: Where Z is zeroed; always the reference pad, which keeps the blank's full height.
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
    shaped = scale.pattern.front.treatment != "square" or scale.pattern.edge.treatment != "square"
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
        add("fronts and edges", spec.cutter, back + _lowest_shape_mm(scale))
    for tool in _hole_tools(scale):
        add("pin holes", tool, -THROUGH_MM)
    add("outlines", spec.cutter, -THROUGH_MM)
    return tuple(stages)


def _hole_tools(scale: Scale) -> tuple[str, ...]:
    """What makes the holes, the smallest first: drills, or for sizes that none has a cutter that fits in."""
    sizes = {hole.hole_mm: hole.drill for hole in sorted(scale.holes, key=lambda hole: hole.hole_mm)}
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
    if edge.treatment == "round":
        lows.append(top - edge.size_mm)
    if edge.treatment == "chamfer":
        lows.append(top - edge.size_mm - scale.pattern.trim_mm)
    return min(lows)
