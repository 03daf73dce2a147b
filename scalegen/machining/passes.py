"""How a stage is gone through: depth of a pass, from pass to pass, the ridges that stay, how many passes.

What is suggested is common practice, no source; the cutter maker's data come first. No feeds and no speeds:
they belong to the cutter, the spindle and the material.
"""

import math
from dataclasses import dataclass

from scalegen.machining.heights import foot_height_mm
from scalegen.machining.scallop import pass_depth, scallop_mm, stepover_mm
from scalegen.machining.tools import Tool
from scalegen.model import OwnStage, ShopRules, Work

SIDE_SHARE = 0.5
"""From pass to pass on level places, in diameters. Common practice, no source."""

_PECK_SHARE = 1.0
_BESIDE: tuple[Work, ...] = ("face off", "rough", "recesses")


@dataclass(frozen=True, kw_only=True)
class Going:
    """How a stage is gone through; None where it has no such thing.

    Attributes:
        depth_per_pass_mm: Depth of one pass.
        stepover_mm: From pass to pass beside each other.
        scallop_mm: Height of the ridges or stairs that stay, square to the surface.
        passes: How many passes, one above the other.
    """

    depth_per_pass_mm: float
    stepover_mm: float | None
    scallop_mm: float | None
    passes: int


def going(
    does: Work,
    tool: Tool,
    depth_mm: float,
    rules: ShopRules,
    *,
    left_mm: float | None = None,
    foot: tuple[float, float] | None = None,
    own: OwnStage | None = None,
) -> Going:
    """How a stage is gone through, as the shop states it or as suggested.

    Args:
        does: What the stage does.
        tool: Its cutter.
        depth_mm: From where it begins to where it ends.
        rules: For the ridges wanted.
        left_mm: What an earlier stage left for this one to finish; None where none roughed.
        foot: Radius of the rounded edge and of the ball that finished it, for a stage that cuts its foot.
        own: What the shop states.

    Raises:
        UsageError: Stepover or scallop make no sense with this cutter.
    """
    stated = own or OwnStage(name="", does=does)
    wanted = rules.ridge_mm if stated.scallop_mm is None else stated.scallop_mm
    tip = tool.shape.tip_radius_mm
    side: float | None = None
    ridge: float | None = None
    deep = _suggested_mm(tool)
    if does == "shape" and tip > 0:
        side = stated.stepover_mm
        if side is None:
            side = stepover_mm(tip, min(wanted, tip))
        ridge = scallop_mm(tip, side)
        deep = deep if left_mm is None else max(left_mm, deep)
    elif does == "shape":
        # Stairs of this rise are nowhere higher, square to the surface, than the rise itself.
        deep = wanted
    elif does == "feet" and foot is not None:
        # A stair of rise d is d cos a high on a slope of a; the foot is gentlest where the ball touches.
        deep = wanted * foot[0] / max(foot_height_mm(*foot), 1e-9)
    elif does in _BESIDE:
        side = SIDE_SHARE * tool.diameter_mm if stated.stepover_mm is None else stated.stepover_mm
    if stated.depth_per_pass_mm is not None:
        deep = stated.depth_per_pass_mm
    if does == "shape" and tip == 0:
        ridge = deep
    elif does == "feet" and foot is not None:
        ridge = deep * foot_height_mm(*foot) / foot[0]
    finishes = does == "shape" and tip > 0 and left_mm is not None and stated.depth_per_pass_mm is None
    return Going(
        depth_per_pass_mm=deep,
        stepover_mm=side,
        scallop_mm=ridge,
        passes=1 if finishes else max(1, math.ceil(depth_mm / deep - 1e-9)),
    )


def _suggested_mm(tool: Tool) -> float:
    """Depth of one pass: the careful end of common practice; a drill is lifted after each diameter."""
    if tool.shape.kind == "drill":
        return _PECK_SHARE * tool.diameter_mm
    if tool.cutter is None:
        return SIDE_SHARE * tool.diameter_mm
    return pass_depth(tool.cutter).least_mm
