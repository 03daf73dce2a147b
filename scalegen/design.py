"""A pattern and a measured stack become a Scale: every number resolved, nothing left to choose."""

from dataclasses import dataclass

from scalegen.model import Drill, Hardware, LayerKind, Pattern, Stack
from scalegen.outline.ring import Ring


@dataclass(frozen=True, kw_only=True)
class Hole:
    """One hole with everything about it settled.

    Attributes:
        at_mm: Centre (x, y) in the pattern's frame.
        hole_mm: Diameter of the hole.
        drill: Drill that makes it, or None when it is to be milled.
        hardware: What goes through it; made up from the pattern's diameter when it is not in the tables.
        cut_length_mm: Length to cut the pin to: both scales, the tang and the allowance at both ends.
    """

    at_mm: tuple[float, float]
    hole_mm: float
    drill: Drill | None
    hardware: Hardware
    cut_length_mm: float


@dataclass(frozen=True, kw_only=True)
class Span:
    """One layer's place in the scale: ``bottom_mm`` to ``top_mm`` above the finished back (z = 0)."""

    name: str
    kind: LayerKind
    bottom_mm: float
    top_mm: float
    density_g_cm3: float
    color: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Scale:
    """One handle scale, as the left one lies on the bed: back at z = 0, x to the butt, y to the spine.

    Attributes:
        pattern: What it was made from.
        stack: Blank it is cut from.
        tang: Tang outline as read.
        carried: Tang outline behind the front, carried on straight ahead of it; everything grows from it.
        finished: Tang outline behind the front line.
        as_cut: Grown by the trim allowance, behind the front line moved ahead by the front allowance.
        thickness_mm: Finished thickness.
        back_allowance_mm: Extra at the back; the as-cut solid starts at minus this.
        spans: Layers from back to face as cut (the first starts at minus the back allowance, the last
            ends at the thickness).
        holes: Holes in the pattern's order.
        faced_off_mm: What is taken off the blank's face to come to the thickness.
    """

    pattern: Pattern
    stack: Stack
    tang: Ring
    carried: Ring
    finished: Ring
    as_cut: Ring
    thickness_mm: float
    back_allowance_mm: float
    spans: tuple[Span, ...]
    holes: tuple[Hole, ...]
    faced_off_mm: float
