"""What a dry run finds fault with: the pad, parts that hang on, places and holes no cutter gets into."""

import math
from collections.abc import Iterator, Mapping

from scalegen.design import Scale
from scalegen.machining.card import card_of
from scalegen.machining.corners import tight_places
from scalegen.machining.dry_run import DryRun, pad_untouched
from scalegen.machining.hold import freed, holds
from scalegen.machining.scallop import flute_shortage_mm
from scalegen.machining.thin import SEEN_MM
from scalegen.model import Cutter, Finding, Level, ShopRules, Units
from scalegen.units import format_length


def dry_run_findings(
    run: DryRun,
    scale: Scale,
    *,
    cutter: Cutter,
    cutters: Mapping[str, Cutter],
    rules: ShopRules,
    sheet: str = "sheet",
) -> tuple[Finding, ...]:
    """Everything that a dry run shows to be wrong.

    Args:
        run: One sheet cut as planned.
        scale: What is cut from it.
        cutter: The cutter that goes round the parts.
        cutters: All that are at hand.
        rules: Plate, travel, and limits of the last cuts.
        sheet: What the sheet is called.

    Returns:
        Findings in the order of the job; those about the scale itself come last.
    """
    units = scale.pattern.units
    return (
        *_pad(run, cutter, rules, units, sheet),
        *_plate(run, rules, units, sheet),
        *_free(run, sheet),
        *_tabs(run, sheet),
        *_last_cuts(run, rules, units),
        *_flutes(run, cutter, units),
        *_holes(scale, cutters),
        *_tight(scale, cutter),
    )


def _pad(run: DryRun, cutter: Cutter, rules: ShopRules, units: Units, sheet: str) -> Iterator[Finding]:
    keep = format_length(cutter.diameter_mm + rules.clearance_mm, units)
    for number, shot in enumerate(run.shots, 1):
        if not pad_untouched(shot, run.target.blank_mm):
            low = format_length(run.target.blank_mm - min(shot.pad_mm, *shot.more_pads_mm, math.inf), units)
            yield _found(
                "pad-touched",
                "stop",
                "reference pad",
                sheet,
                f"stage {number}, {shot.name}, cuts it {low} deep: from then on it is no reference",
                f"keep {keep} between it and the parts",
            )
            break
    for number, hold in enumerate(holds(run), 1):
        if not hold.pad_in_blank:
            last = number == len(run.shots)
            yield _found(
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
        yield _found(
            "pad-room", "warning", "reference pad", sheet, f"a plate of {wide} has {has} there", remedy
        )
    if room.in_travel is False:
        yield _found(
            "pad-travel",
            "warning",
            "reference pad",
            sheet,
            "the machine's travel does not reach it",
            "put the pad into another corner, with --pad-corner",
        )


def _free(run: DryRun, sheet: str) -> Iterator[Finding]:
    after_tabs = freed(run)
    last = after_tabs or (holds(run)[-1] if run.shots else None)
    for part in last.parts if last else ():
        if not part.is_loose:
            with_others = f" and hangs together with {', '.join(part.joined)}" if part.joined else ""
            yield _found(
                "part-not-free",
                "stop",
                part.label,
                sheet,
                f"it is not cut free{with_others}",
                "keep more room between parts, or take a thinner cutter",
            )


def _tabs(run: DryRun, sheet: str) -> Iterator[Finding]:
    """Tabs that do not do what they are there for: parts that come loose all the same."""
    loose = [part.label for part in holds(run)[-1].parts if part.is_loose] if run.tabs and run.shots else []
    if loose:
        yield _found(
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
        yield _found(
            "last-cut-shallow" if little else "last-cut-deep",
            "warning",
            f"stage {row.stage}, {row.name}",
            "",
            f"it goes {goes} below the blank, {'less' if little else 'more'} than the shop's {limit}",
            "change below_least in shop.toml" if little else "change below_most in shop.toml",
        )


def _flutes(run: DryRun, cutter: Cutter, units: Units) -> Iterator[Finding]:
    short = flute_shortage_mm(cutter, run.target.blank_mm + run.target.floor_mm)
    if short > SEEN_MM:
        yield _found(
            "flutes-short",
            "warning",
            f"cutter {cutter.name}",
            "",
            f"the walls are {format_length(short, units)} deeper than its flutes of"
            f" {format_length(cutter.flute_mm, units)}",
            "take a cutter with longer flutes",
        )


def _holes(scale: Scale, cutters: Mapping[str, Cutter]) -> Iterator[Finding]:
    flat = [each.diameter_mm for each in cutters.values() if each.kind == "flat"]
    units = scale.pattern.units
    for number, hole in enumerate(scale.holes, 1):
        drilled = [] if hole.drill else [hole.hole_mm]
        for size in [*drilled, *([hole.head_hole_mm] if hole.head_hole_mm else [])]:
            wide = format_length(size, units)
            if not any(each <= size + 1e-9 for each in flat):
                yield _found(
                    "hole-no-cutter",
                    "warning",
                    f"pin {number}",
                    _place(hole.at_mm, units),
                    f"a hole of {wide} must be milled, and no flat cutter at hand enters it",
                    f"add a flat cutter of less than {wide} to cutters.toml",
                )


def _tight(scale: Scale, cutter: Cutter) -> Iterator[Finding]:
    units = scale.pattern.units
    for place in tight_places(scale.footprint, cutter.diameter_mm / 2):
        if place.kind == "slot":
            what = f"a slot {format_length(2 * place.radius_mm, units)} wide"
        elif place.kind == "bend":
            what = f"an inside radius of {format_length(place.radius_mm, units)}"
        else:
            what = "a sharp inside corner"
        rest = f", and stays {format_length(place.rest_mm, units)} off" if place.rest_mm else ""
        yield _found(
            "cutter-too-wide",
            "warning",
            "outline as cut",
            _place(place.at_mm, units),
            f"{what}: {cutter.name} does not get in{rest}",
            "take a thinner cutter, or finish the place by hand",
        )


def _place(at_mm: tuple[float, float], units: Units) -> str:
    return f"x = {format_length(at_mm[0], units, 2)}, y = {format_length(at_mm[1], units, 2)}"


def _found(code: str, level: Level, *words: str) -> Finding:
    about, where, message, remedy = words
    return Finding(code=code, level=level, about=about, where=where, message=message, remedy=remedy)
