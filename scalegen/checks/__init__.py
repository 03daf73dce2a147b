"""Everything known about a scale becomes findings. Never raises for a finding; never loads the kernel.

Limits and where they come from are stated in each module, one by one.
"""

from collections.abc import Sequence

from scalegen.checks.faces import shaped_layers
from scalegen.checks.front import edge_layers, finished_plan, front
from scalegen.checks.grip import GRIP_MM, grip, grip_diameter_mm
from scalegen.checks.pins import EDGE_STOP, EDGE_WARN, check_tang_holes, pins, pitch
from scalegen.checks.stack import layers, liner_step, readings, stack_thickness, trim
from scalegen.design import Scale
from scalegen.model import Finding, Level, Shop

__all__ = [
    "EDGE_STOP",
    "EDGE_WARN",
    "GRIP_MM",
    "by_level",
    "check_scale",
    "check_tang_holes",
    "grip_diameter_mm",
]


def check_scale(scale: Scale, shop: Shop) -> tuple[Finding, ...]:
    """All findings about one scale, stops first, then warnings, then notes.

    Args:
        scale: As designed.
        shop: For the slip fit.
    """
    plan, misfit = finished_plan(scale)
    return by_level(
        [
            *readings(scale),
            *stack_thickness(scale),
            *layers(scale),
            *liner_step(scale, plan),
            *trim(scale),
            *front(scale),
            *misfit,
            *edge_layers(scale, plan),
            *shaped_layers(scale, plan),
            *pins(scale, plan, shop),
            *pitch(scale),
            *grip(scale),
        ]
    )


def by_level(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings with stops first, then warnings, then notes; those of one level keep their order."""
    order: dict[Level, int] = {"stop": 0, "warning": 1, "note": 2}
    return tuple(sorted(findings, key=lambda finding: order[finding.level]))
