"""What a dry run finds fault with: the pad, parts that hang on or are cut into, how deep last cuts go."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from scalegen.design import Scale
from scalegen.machining.card import card_of
from scalegen.machining.dry_run import SAME_MM, DryRun, gouged_mm, pad_untouched
from scalegen.machining.hold import Hold, freed, holds, tabbed
from scalegen.machining.places import found, listed_labels, place_words
from scalegen.machining.stages import Stage
from scalegen.machining.thickness import too_thin
from scalegen.machining.thin import SEEN_MM, thin_layers
from scalegen.model import Finding, ShopRules, Units
from scalegen.units import format_length


def dry_run_findings(
    run: DryRun,
    scale: Scale,
    *,
    stages: Sequence[Stage],
    rules: ShopRules,
    sheet: str = "sheet",
) -> tuple[Finding, ...]:
    """Everything that a dry run shows to be wrong.

    Args:
        run: One sheet cut as planned.
        scale: What is cut from it.
        stages: The plan.
        rules: Plate, travel, and limits of the last cuts.
        sheet: What the sheet is called.

    Returns:
        Findings in the order of the job.
    """
    units = scale.pattern.units
    every = holds(run)
    return (
        *_pad(run, every, _widest(stages) + rules.clearance_mm, units, sheet),
        *_plate(run, rules, units, sheet),
        *_cut_into(run, units, sheet),
        *_free(run, every, stages, units, sheet),
        *_tabs(run, every, sheet),
        *_last_cuts(run, rules, units),
    )


def _widest(stages: Sequence[Stage]) -> float:
    """Diameter of the widest cutter that goes round the parts."""
    around = [2 * stage.shape.radius_mm for stage in stages if stage.does == "outlines"]
    return max(around, default=0.0)


def _pad(run: DryRun, every: Sequence[Hold], keep_mm: float, units: Units, sheet: str) -> Iterator[Finding]:
    keep = format_length(keep_mm, units)
    for number, shot in enumerate(run.shots, 1):
        if not pad_untouched(shot, run.target.blank_mm):
            low = format_length(run.target.blank_mm - min(shot.pad_mm, *shot.more_pads_mm, math.inf), units)
            yield found(
                "pad-touched",
                "stop",
                "reference pad",
                sheet,
                f"stage {number}, {shot.name}, cuts it {low} deep: from then on it is no reference",
                f"keep {keep} between it and the parts",
            )
            break
    for number, hold in enumerate(every, 1):
        if not hold.pad_in_blank:
            last = number == len(run.shots)
            yield found(
                "pad-loose",
                "note" if last else "warning",
                "reference pad",
                sheet,
                f"stage {number}, {hold.stage}, cuts the piece it is on off the blank: it may shift",
                f"give a margin of {keep} or more, or put the pad into a corner with more room",
            )
            break


def _plate(run: DryRun, rules: ShopRules, units: Units, sheet: str) -> Iterator[Finding]:
    room = card_of(run, rules).room
    if not room.fits:
        wide, has = format_length(room.probe_mm, units), format_length(room.room_mm, units)
        remedy = f"give a pad of {wide} or more, with --pad"
        yield found(
            "pad-room", "warning", "reference pad", sheet, f"a plate of {wide} has {has} there", remedy
        )
    if room.in_travel is False:
        yield found(
            "pad-travel",
            "warning",
            "reference pad",
            sheet,
            "the machine's travel does not reach it",
            "put the pad into another corner, with --pad-corner",
        )


def _cut_into(run: DryRun, units: Units, sheet: str) -> Iterator[Finding]:
    """Parts that come out lower than wanted, and layers under the face that are left too thin by it."""
    target = run.target
    deep = gouged_mm(run.last, target.field.heights_mm, target.solid)
    for number, label in enumerate(target.labels):
        own = np.where(target.parts == number, deep, 0.0)
        if own.max(initial=0.0) > SEEN_MM:
            row, col = np.unravel_index(int(own.argmax()), own.shape)
            at = (float(run.blank.xs_mm[col]), float(run.blank.ys_mm[row]))
            yield found(
                "part-cut-into",
                "stop",
                label,
                f"{sheet}, {place_words(at, units)}",
                f"it is cut {format_length(float(own.max()), units)} too deep",
                "change the stages in stages.toml, or take another cutter",
            )
    if not target.solid.any():
        return
    lowest, wanted = (float(f.heights_mm[target.solid].min()) for f in (run.last, target.field))
    for layer in too_thin(thin_layers(run.layers, lowest, wanted)):
        left, planned = format_length(layer.left_mm, units), format_length(layer.planned_mm, units)
        yield found(
            "layer-thin",
            "stop",
            layer.name,
            sheet,
            f"{left} is left of it where {planned} is planned",
            "change the stages in stages.toml",
        )


def _free(
    run: DryRun, every: Sequence[Hold], stages: Sequence[Stage], units: Units, sheet: str
) -> Iterator[Finding]:
    """Parts that still hang in the blank or on one another, those that hang together in one finding."""
    after_tabs = freed(run)
    last = after_tabs or (every[-1] if every else None)
    stuck = [part for part in last.parts if not part.is_loose] if last else []
    ends = min((stage.to_mm for stage in stages if stage.does == "outlines"), default=0.0)
    for group in dict.fromkeys(tuple(sorted({part.label, *part.joined})) for part in stuck):
        free = [part.label for part in stuck if part.label in group]
        many = len(free) > 1
        if ends > SAME_MM:
            why = f": the outlines end {format_length(ends, units)} above the underside of the blank"
            remedy = "let the last stage of the outlines leave no allowance"
        else:
            why = ", and they hang together" if many else ""
            remedy = "keep more room between parts, or take a thinner cutter"
        yield found(
            "part-not-free",
            "stop",
            listed_labels(free),
            sheet,
            f"{'they are' if many else 'it is'} not cut free{why}",
            remedy,
        )


def _tabs(run: DryRun, every: Sequence[Hold], sheet: str) -> Iterator[Finding]:
    """Tabs that do not do what they are there for: parts that come loose all the same."""
    asking = tabbed(run)
    loose = (
        [part.label for part in every[-1].parts if part.is_loose and part.label in asking] if every else []
    )
    if loose:
        yield found(
            "tabs-do-not-hold",
            "warning",
            ", ".join(loose),
            sheet,
            "the tabs are cut through: nothing but the bed holds what they were to hold",
            "give more spacing or margin, or hold the parts down by tape or vacuum as well",
        )


def _last_cuts(run: DryRun, rules: ShopRules, units: Units) -> Iterator[Finding]:
    for row in card_of(run, rules).rows:
        if not row.limits:
            continue
        little = row.limits == "too little"
        goes = format_length(row.full_below_mm, units)
        limit = format_length(rules.below_least_mm if little else rules.below_most_mm, units)
        yield found(
            "last-cut-shallow" if little else "last-cut-deep",
            "warning",
            f"stage {row.stage}, {row.name}",
            "",
            f"it goes {goes} below the blank, {'less' if little else 'more'} than the shop's {limit}",
            "change below_least in shop.toml" if little else "change below_most in shop.toml",
        )
