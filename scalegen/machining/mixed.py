"""Several patterns on the same blanks: their plans made one, and that plan as cuts."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np

from scalegen.design import Scale
from scalegen.machining.cuts import plan_cuts
from scalegen.machining.dry_run import Cut
from scalegen.machining.field import CELL_MM
from scalegen.machining.stages import Stage
from scalegen.machining.tabs import Tab
from scalegen.machining.target import Target, target_of
from scalegen.model import Work
from scalegen.sheet.layout import SheetLayout

_ORDER = {does: rank for rank, does in enumerate(get_args(Work))}
_ALONE: tuple[Work, ...] = ("feet", "grooves", "face off")
_DIGITS = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class Plan:
    """One pattern's part of a mixed job: its scale and the stages it needs."""

    scale: Scale
    stages: tuple[Stage, ...]

    @property
    def name(self) -> str:
        """The pattern's."""
        return self.scale.pattern.name


@dataclass(frozen=True, kw_only=True, eq=False)
class Shared:
    """One stage of a mixed job, and the stage of each pattern that it does, by the pattern's number."""

    stage: Stage
    of: tuple[tuple[int, Stage], ...]


def shared_stages(plans: Sequence[Plan]) -> tuple[Shared, ...]:
    """The stages of a mixed job.

    What several patterns need with the same cutter to the same depth is one stage. The rest stay apart, each
    with its pattern's name, in the order of the work; of facings the highest comes first, so that each leaves
    what a higher scale needs.

    Args:
        plans: One for each pattern, each with a name of its own.
    """
    runs: dict[tuple[object, ...], list[tuple[int, Stage]]] = {}
    for number, plan in enumerate(plans):
        for place, stage in enumerate(plan.stages):
            runs.setdefault(_alike(stage, number, place), []).append((number, stage))
    found = [_shared(each, plans) for each in runs.values()]
    return tuple(sorted(found, key=_rank))


def _alike(stage: Stage, number: int, place: int) -> tuple[object, ...]:
    """What is the same for stages that are one run."""
    if stage.does in _ALONE:
        return (number, place)
    depths = (stage.to_mm, stage.deepest_mm, stage.allowance_mm, stage.size_mm)
    return (stage.does, stage.name, stage.cutter, stage.touch_off, *(round(each, _DIGITS) for each in depths))


def _shared(each: Sequence[tuple[int, Stage]], plans: Sequence[Plan]) -> Shared:
    """One run: the longest way down of those in it, named where it is not for all patterns."""
    stage = max((stage for _, stage in each), key=lambda stage: (stage.from_mm, stage.passes))
    worst = max(stage.surface_error_if_zeroed_elsewhere_mm for _, stage in each)
    names = [plans[number].name for number, _ in each]
    name = stage.name if len(each) == len(plans) else f"{stage.name}, {' and '.join(names)}"
    return Shared(stage=replace(stage, name=name, surface_error_if_zeroed_elsewhere_mm=worst), of=tuple(each))


def _rank(each: Shared) -> tuple[float, ...]:
    """Where a stage comes: by the work, holes from small to large, high before low, then by the patterns."""
    stage = each.stage
    return (_ORDER[stage.does], stage.size_mm, -stage.to_mm, each.of[0][0])


def mixed_target(plans: Sequence[Plan], layout: SheetLayout, cell_mm: float = CELL_MM) -> Target:
    """A blank with scales of several patterns as it is to be cut.

    Raises:
        GeometryError: An edge treatment does not fit its outline or the thickness.
        UsageError: Too many cells.
    """
    first, *rest = plans
    return target_of(first.scale, layout, cell_mm=cell_mm, others={plan.name: plan.scale for plan in rest})


def mixed_cuts(
    plans: Sequence[Plan],
    shared: Sequence[Shared],
    layout: SheetLayout,
    target: Target,
    *,
    tabs: Sequence[Tab] = (),
) -> tuple[Cut, ...]:
    """A mixed plan as cuts over a grid: one for each stage that is cut from the blank, in their order.

    None cuts below what any scale on the blank is to be, whichever pattern it is for; where a pattern has no
    scale on this blank, its stages do nothing.

    Args:
        plans: The patterns.
        shared: Their stages.
        layout: The blank.
        target: The same as heights.
        tabs: Bridges of all patterns that stay when the outlines are cut, in the sheet frame.
    """
    own = [
        replace(layout, placements=tuple(each for each in layout.placements if each.pattern == plan.name))
        for plan in plans
    ]
    cuts = []
    for each in shared:
        if each.stage.is_from_blank:
            made = [
                plan_cuts(plans[number].scale, own[number], target, (stage,), tabs=tabs)[0]
                for number, stage in each.of
                if own[number].placements
            ]
            cuts.append(_joined(each.stage.name, made, each, target))
    return tuple(cuts)


def _joined(name: str, made: Sequence[Cut], each: Shared, target: Target) -> Cut:
    """The cuts of one run as one."""
    if not made:
        nowhere = np.zeros(target.parts.shape, dtype=np.bool_)
        return Cut(name=name, shape=each.stage.shape, surface_mm=target.whole_mm, where=nowhere)
    first = made[0]
    if first.surface_mm is None or first.where is None:
        return replace(first, name=name, plunges=tuple(spot for cut in made for spot in cut.plunges))
    where, surface = np.array(first.where), np.array(first.surface_mm)
    for cut in made[1:]:
        if cut.surface_mm is not None and cut.where is not None:
            where |= cut.where
            surface = np.maximum(surface, cut.surface_mm)
    return replace(first, name=name, surface_mm=surface, where=where)
