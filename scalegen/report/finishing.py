"""The finishing plan: which grits on which surface, what they take off, and whether there is enough to take.

Every grit must take off the scratches of the grit before it; the first one takes off the ridges between the
cutter's passes. What all of them take must be there: the allowance, or what the shop lets sanding cost.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from scalegen.design import Scale
from scalegen.machining.scallop import stepover_mm
from scalegen.machining.stages import Stage
from scalegen.model import Shop
from scalegen.outline.front import front_curve, on_front
from scalegen.outline.measure import sampled
from scalegen.report.grits import SCRATCHES, STEPS, grit_chain
from scalegen.shop.facing import Facing
from scalegen.units import format_length

Surface = Literal["backs", "fronts", "trim", "faces and edges"]

LOSS_MM: Final = 0.1
"""The most that sanding may take from a surface without an allowance. Our choice; common practice, no
source."""

RIDGES: Final = "ridges by h = R - sqrt(R^2 - (s/2)^2), the height of a circular segment"
KEY: Final = "flat mating faces are keyed at about P120: formulators' and makers' guides"
BEFORE: Final = "fronts cannot be reached after assembly without marking the blade: makers' accounts"
COVER: Final = (
    "a sheet of paper sands {:g} times its own area: rule of the shop, common practice, no source;"
    " count your own"
)

_SAMPLE_MM = 0.5
_SHAPING = ("shape", "feet")


@dataclass(frozen=True, kw_only=True)
class GritStep:
    """One grade on one surface.

    Attributes:
        grade: Such as "P120".
        grain_um: Its mean grain, and how deep its scratches are taken to be.
        removes_mm: What it must take off: ridges and the rest of the allowance for the first, the scratches
            of the grade before for the others.
        minutes: Time for all scales of the job; None where the shop has timed no rate.
        paper_mm2: Paper it wears out.
    """

    grade: str
    grain_um: float
    removes_mm: float
    minutes: float | None
    paper_mm2: float


@dataclass(frozen=True, kw_only=True)
class SurfacePlan:
    """One kind of surface from the cutter to its last grit.

    Attributes:
        surface: Which.
        when: When it is done.
        how: How, in a sentence or two.
        area_mm2: All of it, over all pairs.
        allowance_mm: What was left on it to take off.
        ridge_mm: Height of the ridges the cutter leaves on it.
        takes_mm: The least that must come off: ridges, and the scratches of every grit but the last.
        below_mm: How far that goes below the finished surface.
        layer: Layer that is sanded into; empty where none is at risk.
        layer_left_mm: What is left of that layer at its thinnest, the last grit's scratches taken off too;
            None where none is at risk.
        steps: Grits in order; none where the table has no grades.
        notes: What to mind.
    """

    surface: Surface
    when: str
    how: str
    area_mm2: float
    allowance_mm: float
    ridge_mm: float
    takes_mm: float
    below_mm: float
    layer: str
    layer_left_mm: float | None
    steps: tuple[GritStep, ...]
    notes: tuple[str, ...] = ()

    @property
    def through(self) -> bool:
        """Whether the sanding could go through a layer."""
        return self.layer_left_mm is not None and self.layer_left_mm <= 0

    @property
    def minutes(self) -> float | None:
        """Time for all of it; None where a rate is not known."""
        known = [step.minutes for step in self.steps if step.minutes is not None]
        return math.fsum(known) if self.steps and len(known) == len(self.steps) else None


@dataclass(frozen=True, kw_only=True)
class Paper:
    """What a job takes of one grade: area worn out, and sheets where the table knows their size."""

    grade: str
    surfaces: tuple[Surface, ...]
    paper_mm2: float
    sheets: int | None


@dataclass(frozen=True, kw_only=True)
class FinishingPlan:
    """All surfaces in the order in which they are done, the paper they take, and the figures' sources."""

    surfaces: tuple[SurfacePlan, ...]
    papers: tuple[Paper, ...]
    sources: tuple[str, ...]


def finishing_plan(
    scale: Scale, shop: Shop, pairs: int, facing: Facing | None = None, ridge_mm: float | None = None
) -> FinishingPlan:
    """Plan the sanding of a job.

    Args:
        scale: What is made.
        shop: Its grades and its rules.
        pairs: Pairs to finish, spares included.
        facing: What facing and flattening leave of each layer; None goes by the layers as they should be.
        ridge_mm: Height of the ridges the cutter leaves; None for the shop's rule.
    """
    ridge = shop.rules.ridge_mm if ridge_mm is None else ridge_mm
    surfaces = (
        _backs(scale, shop, pairs, facing),
        _fronts(scale, shop, pairs, ridge),
        *_trim(scale, shop, pairs),
        _faces(scale, shop, pairs, facing, ridge),
    )
    return FinishingPlan(
        surfaces=surfaces, papers=_papers(surfaces, shop), sources=tuple(_sources(surfaces, shop))
    )


def left_ridge_mm(stages: Sequence[Stage]) -> float | None:
    """The highest ridges that the stages of a job leave on its shapes; None where they plan none."""
    ridges = [stage.scallop_mm for stage in stages if stage.does in _SHAPING and stage.scallop_mm is not None]
    return max(ridges, default=None)


# --------------------------------------------------------------------------------------------- surfaces


def _plan(
    surface: Surface,
    shop: Shop,
    *,
    last: str,
    when: str,
    how: str,
    area_mm2: float,
    allowance_mm: float,
    ridge_mm: float,
    layer: str = "",
    layer_mm: float | None = None,
    notes: Sequence[str] = (),
) -> SurfacePlan:
    """Grits for one surface, within its allowance, or within what the shop lets sanding cost."""
    room_mm = allowance_mm if allowance_mm > 0 else LOSS_MM
    chain = grit_chain(tuple(shop.abrasives.values()), last, room_mm - ridge_mm, shop.rules.grit_step)
    takes_mm = ridge_mm + math.fsum(each.grain_um for each in chain[:-1]) / 1000
    below_mm = max(0.0, takes_mm - allowance_mm)
    left_mm = None
    if layer_mm is not None:
        left_mm = layer_mm - below_mm - (chain[-1].grain_um / 1000 if chain else 0.0)
    told = list(notes)
    if chain and chain[-1].grade != last:
        told.append(f"the abrasives table has no {last}; it ends on {chain[-1].grade}")
    if not chain:
        told.append("the abrasives table has no grades")
    removals = [ridge_mm + max(0.0, allowance_mm - takes_mm), *(each.grain_um / 1000 for each in chain[:-1])]
    return SurfacePlan(
        surface=surface,
        when=when,
        how=how,
        area_mm2=area_mm2,
        allowance_mm=allowance_mm,
        ridge_mm=ridge_mm,
        takes_mm=takes_mm,
        below_mm=below_mm,
        layer=layer if layer_mm is not None else "",
        layer_left_mm=left_mm,
        steps=tuple(
            GritStep(
                grade=each.grade,
                grain_um=each.grain_um,
                removes_mm=off_mm,
                minutes=None if each.rate_mm3_min is None else area_mm2 * off_mm / each.rate_mm3_min,
                paper_mm2=area_mm2 / shop.rules.paper_cover,
            )
            for each, off_mm in zip(chain, removals, strict=False)
        ),
        notes=tuple(told),
    )


def _backs(scale: Scale, shop: Shop, pairs: int, facing: Facing | None) -> SurfacePlan:
    """Flattened and keyed before glue-up; the allowance at the back is what there is."""
    span = scale.spans[0]
    left_mm = facing.layers[0].least_left_mm if facing and facing.layers else span.top_mm
    return _plan(
        "backs",
        shop,
        last=shop.rules.back_grit,
        when="before glue-up",
        how="face up on a flat plate, turned half round now and then; leave the last scratches, they key"
        " the glue, and wipe the dust off",
        area_mm2=2 * pairs * scale.footprint.area_mm2,
        allowance_mm=scale.back_allowance_mm,
        ridge_mm=0.0,
        layer=span.name,
        layer_mm=left_mm,
    )


def _fronts(scale: Scale, shop: Shop, pairs: int, ridge_mm: float) -> SurfacePlan:
    """Finished in pairs before glue-up; the allowance ahead of the front is what there is."""
    front, units = scale.pattern.front, scale.pattern.units
    square = front.treatment == "square"
    notes = [] if square or ridge_mm <= 0 else list(_steps_of_balls(scale, shop, ridge_mm))
    if front.allowance_mm <= 0:
        most = format_length(LOSS_MM, units)
        notes.append(f"no allowance ahead of the front: it moves back, by {most} at most")
    return _plan(
        "fronts",
        shop,
        last=shop.rules.front_grit,
        when="before glue-up, all the way to the polish",
        how="both scales of a pair pinned together back to back, so that their fronts come out alike; nothing"
        " reaches them on the knife without marking the blade",
        area_mm2=2 * pairs * _front_width_mm(scale) * _front_height_mm(scale),
        allowance_mm=front.allowance_mm,
        ridge_mm=0.0 if square else ridge_mm,
        notes=notes,
    )


def _trim(scale: Scale, shop: Shop, pairs: int) -> Iterator[SurfacePlan]:
    """What was left outside the outline, sanded flush with the tang."""
    trim_mm = scale.pattern.trim_mm
    if trim_mm <= 0:
        return
    ends_mm = max((hole.hardware.end_allowance_mm for hole in scale.holes if not hole.is_blind), default=0.0)
    ends = format_length(ends_mm, scale.pattern.units)
    pins = f"; take the ends of the pins off first, {ends} each" if ends_mm else ""
    around_mm = scale.finished.perimeter_mm - _front_width_mm(scale)
    yield _plan(
        "trim",
        shop,
        last=shop.rules.face_grit,
        when="on the knife, blade taped",
        how=f"flush with the tang all round but at the front, which has no trim{pins}",
        area_mm2=2 * pairs * around_mm * scale.thickness_mm,
        allowance_mm=trim_mm,
        ridge_mm=0.0,
    )


def _faces(scale: Scale, shop: Shop, pairs: int, facing: Facing | None, ridge_mm: float) -> SurfacePlan:
    """The outer side: no allowance, so what sanding takes comes off the finished thickness."""
    span = scale.spans[-1]
    lowest_mm = float(np.min(scale.face.height_mm(sampled(scale.finished, _SAMPLE_MM))))
    left_mm = facing.layers[-1].least_left_mm if facing and facing.layers else span.top_mm - span.bottom_mm
    milled = not scale.face.is_flat or scale.pattern.edge.treatment != "square"
    notes = ["the thickness of the finished scale comes out less by what sanding takes"]
    relief = scale.pattern.relief
    if relief is not None:
        notes.append("grooves come out shallower by as much; sand along them, not across")
    return _plan(
        "faces and edges",
        shop,
        last=shop.rules.face_grit,
        when="on the knife, last",
        how="by hand or with a soft pad, along the grain; wet where the glue and the material allow it",
        area_mm2=2 * pairs * scale.finished.area_mm2,
        allowance_mm=0.0,
        ridge_mm=ridge_mm if milled else 0.0,
        layer=span.name,
        layer_mm=left_mm - (scale.thickness_mm - lowest_mm),
        notes=notes,
    )


def _front_width_mm(scale: Scale) -> float:
    """Length of the front line on the finished outline."""
    curve, ring = front_curve(scale.pattern.front), scale.finished
    on = on_front(curve, ring.starts, 0.0) & on_front(curve, ring.ends, 0.0)
    return float(ring.lengths[on].sum())


def _front_height_mm(scale: Scale) -> float:
    """Height of the front as it lies under the paper: along its slope or round."""
    front, top = scale.pattern.front, scale.thickness_mm
    if front.treatment == "bevel":
        return front.land_mm + max(0.0, top - front.land_mm) / math.sin(front.slope_rad)
    if front.treatment == "round":
        return top - front.radius_mm + math.pi / 2 * front.radius_mm
    return top


def _steps_of_balls(scale: Scale, shop: Shop, ridge_mm: float) -> Iterator[str]:
    """How far apart passes may lie to leave ridges no higher than that."""
    units, front = scale.pattern.units, scale.pattern.front
    slope_rad = front.slope_rad if front.treatment == "bevel" else 0.0
    where = f"on the bevel of {math.degrees(slope_rad):g}°" if slope_rad else "where the surface is level"
    digits = 3 if units == "in" else 2
    steps = []
    for cutter in shop.cutters.values():
        if cutter.kind == "ball" and cutter.tip_radius_mm >= ridge_mm:
            apart_mm = stepover_mm(cutter.tip_radius_mm, ridge_mm, slope_rad)
            steps.append(f"{cutter.name} {format_length(apart_mm, units, digits)}")
    if steps:
        yield (
            f"ridges of {format_length(ridge_mm, units)} are planned for: passes at most so far apart, seen"
            f" from above, {where}: {', '.join(steps)}"
        )


# ---------------------------------------------------------------------------------------- paper, sources


def _papers(surfaces: Sequence[SurfacePlan], shop: Shop) -> tuple[Paper, ...]:
    """Paper by grade, coarsest first."""
    papers = []
    for abrasive in sorted(shop.abrasives.values(), key=lambda each: -each.grain_um):
        used = [
            (plan.surface, step.paper_mm2)
            for plan in surfaces
            for step in plan.steps
            if step.grade == abrasive.grade
        ]
        if not used:
            continue
        worn_mm2 = math.fsum(each for _, each in used)
        sheets = None
        if abrasive.paper_mm is not None:
            sheets = math.ceil(worn_mm2 / (abrasive.paper_mm[0] * abrasive.paper_mm[1]) - 1e-9)
        papers.append(
            Paper(
                grade=abrasive.grade,
                surfaces=tuple(surface for surface, _ in used),
                paper_mm2=worn_mm2,
                sheets=sheets,
            )
        )
    return tuple(papers)


def _sources(surfaces: Sequence[SurfacePlan], shop: Shop) -> Iterator[str]:
    """Where the figures come from, each once."""
    used = {step.grade for plan in surfaces for step in plan.steps}
    grains = (each.source for each in shop.abrasives.values() if each.grade in used and each.source)
    yield from (f"grain: {source}" for source in dict.fromkeys(grains))
    yield SCRATCHES
    yield STEPS.format(shop.rules.grit_step)
    yield RIDGES
    yield KEY
    yield BEFORE
    yield COVER.format(shop.rules.paper_cover)
    if any(step.minutes is None for plan in surfaces for step in plan.steps):
        yield "no minutes: the abrasives table has no rate; give one in mm3 a minute, timed on your material"
