"""The stages of a job: what each does with which cutter and why, where Z is zeroed, from where to where.

One plan serves the job record, the dry run and the papers.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from scalegen.design import Scale
from scalegen.machining.cutter_shape import CutterShape, point_mm
from scalegen.machining.passes import Going, going
from scalegen.machining.works import THROUGH_MM, Item, Works, works_of
from scalegen.model import Cutter, CutterKind, JobSpec, OwnStage, Shop, Work

__all__ = ("PAD", "THROUGH_MM", "Stage", "missing_works", "plan_stages")

PAD, TURNED = "reference pad", "back of the scale"

_OPTIONAL: tuple[Work, ...] = ("rough", "feet")
_MOATS: tuple[Work, ...] = ("rough", "shape", "liner", "outlines")
_AROUND: tuple[Work, ...] = ("outlines", "liner")
_SLACK_MM = 1e-9


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One run with one cutter between two touch-offs; heights are above the bed.

    Attributes:
        name: What papers call it.
        does: What it does.
        cutter: Cutter or drill; for one that is not at hand what it must be.
        kind: Kind of cutter.
        shape: Its envelope.
        tool: Its row in the shop tables; None for a drill, and for a cutter that is not at hand.
        is_at_hand: Whether the shop has it; drills are taken to be in the drawer.
        touch_off: Where Z is zeroed: the reference pad, which keeps the blank's full height, for all that is
            cut from the blank; the back of a scale that was freed and turned over.
        z_zero_mm: Height of that place above the bed.
        from_mm: Where its cutting begins.
        to_mm: Where its full width ends; negative means below the blank.
        deepest_mm: Height of the tip's deepest move; a drill's point goes further than its full width.
        allowance_mm: What it leaves for a later stage, square to what it cuts.
        depth_per_pass_mm: Depth of one pass.
        stepover_mm: From pass to pass beside each other, or None.
        scallop_mm: Height of ridges or stairs that stay, or None where the surface is level or upright.
        passes: How many passes, one above the other.
        reason: Why this cutter, in words.
        surface_error_if_zeroed_elsewhere_mm: How much too deep everything comes out when this stage is
            zeroed on a face that an earlier stage has already lowered; 0 while no face is lowered.
        size_mm: Diameter of the holes or recesses it makes; 0 for others.
        reach_mm: How far inside the finished outline it comes; 0 where it goes over all of it.
    """

    name: str
    does: Work
    cutter: str
    kind: CutterKind
    shape: CutterShape
    tool: Cutter | None
    is_at_hand: bool
    touch_off: str
    z_zero_mm: float
    from_mm: float
    to_mm: float
    deepest_mm: float
    allowance_mm: float
    depth_per_pass_mm: float
    stepover_mm: float | None
    scallop_mm: float | None
    passes: int
    reason: str
    surface_error_if_zeroed_elsewhere_mm: float
    size_mm: float = 0.0
    reach_mm: float = 0.0

    @property
    def is_from_blank(self) -> bool:
        """Whether it is cut while the part is in the blank, zeroed on the pad."""
        return self.touch_off == PAD


def plan_stages(scale: Scale, spec: JobSpec, shop: Shop) -> tuple[Stage, ...]:
    """Stages from the blank to loose scales, planned from scale and cutters, or as the shop states them.

    Planned: face off, rough, finish fronts and edges, their feet, grooves, recesses, holes from small to
    large, outlines; last of all blind holes, from the back of scales turned over. Stages of the shop's own
    replace all that; those that a scale has no need of are left out.

    Args:
        scale: What is cut.
        spec: For the cutter that goes round the parts, and the spacing.
        shop: Cutters, rules, and the shop's own stages.

    Raises:
        UsageError: A cutter is not in the tables, or a stated stepover makes no sense with it.
        GeometryError: The edge treatment does not fit the outline or the thickness.
    """
    works = works_of(scale, spec, shop)
    items: list[tuple[Item, OwnStage | None]] = []
    if shop.stages:
        for own in shop.stages:
            items += [(item, own) for item in works.stated(own)]
    else:
        items = [(item, None) for item in works.planned()]
    return tuple(_in_order(items, works, shop))


def missing_works(scale: Scale, spec: JobSpec, shop: Shop) -> tuple[Work, ...]:
    """What a scale needs and none of the shop's own stages does; nothing where the stages are planned."""
    if not shop.stages:
        return ()
    stated = {own.does for own in shop.stages}
    planned = dict.fromkeys(item.does for item in works_of(scale, spec, shop).planned())
    return tuple(does for does in planned if does not in stated and does not in _OPTIONAL)


def _in_order(items: list[tuple[Item, OwnStage | None]], works: Works, shop: Shop) -> Iterator[Stage]:
    """Each item with what those before it leave to it."""
    heights = works.heights
    face, lowered = heights.top_mm, 0.0
    moats: list[tuple[float, float]] = []
    left: float | None = None
    ball = 0.0
    for item, own in items:
        tool = item.tool
        allowance = item.allowance_mm if own is None else own.allowance_mm
        start = face if item.from_mm is None else item.from_mm
        if item.does in _AROUND:
            # Where a cutter as wide has been round the parts, there is less left to go through.
            start = min([face, *(low for low, wide in moats if wide >= tool.diameter_mm - _SLACK_MM)])
        end = item.to_mm + allowance
        foot = (heights.foot_mm, ball) if item.does == "feet" and ball else None
        gone = going(item.does, tool, start - end, shop.rules, left_mm=left, foot=foot, own=own)
        yield _stage(
            item,
            own,
            gone,
            works,
            start_mm=start,
            end_mm=end,
            allowance_mm=allowance,
            lowered_mm=lowered,
        )
        if item.does == "face off":
            face, lowered = end, max(lowered, heights.top_mm - end)
        if item.does in _MOATS:
            moats.append((end, tool.diameter_mm))
        if item.does == "rough":
            left = allowance
        if item.does == "shape":
            ball = tool.shape.tip_radius_mm


def _stage(
    item: Item,
    own: OwnStage | None,
    gone: Going,
    works: Works,
    *,
    start_mm: float,
    end_mm: float,
    allowance_mm: float,
    lowered_mm: float,
) -> Stage:
    tool = item.tool
    turned = item.does == "blind holes"
    point = point_mm(tool.shape)
    # A blind hole ends where the tip does, so that the cover stays whole.
    tip, full = (end_mm, end_mm + point) if turned else (end_mm - point, end_mm)
    return Stage(
        name=item.name if own is None else own.name,
        does=item.does,
        cutter=tool.name,
        kind=tool.shape.kind,
        shape=tool.shape,
        tool=tool.cutter,
        is_at_hand=tool.is_at_hand,
        touch_off=TURNED if turned else PAD,
        z_zero_mm=start_mm if turned else works.heights.top_mm,
        from_mm=start_mm,
        to_mm=full,
        deepest_mm=tip,
        allowance_mm=allowance_mm,
        depth_per_pass_mm=gone.depth_per_pass_mm,
        stepover_mm=gone.stepover_mm,
        scallop_mm=gone.scallop_mm,
        passes=gone.passes,
        reason=tool.reason,
        surface_error_if_zeroed_elsewhere_mm=0.0 if turned else lowered_mm,
        size_mm=item.size_mm,
        reach_mm=item.reach_mm,
    )
