"""Stages planned for one thickness of the blank, run on another."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from scalegen.errors import UsageError
from scalegen.machining.dry_run import SAME_MM, DryRun
from scalegen.machining.field import BoolGrid, FloatGrid
from scalegen.machining.places import listed_labels
from scalegen.machining.thin import SEEN_MM, ThinLayer, layers_at, thin_layers
from scalegen.machining.touch_off import shortfalls
from scalegen.model import Units
from scalegen.units import format_length

Reference = Literal["pad", "bed"]


@dataclass(frozen=True, kw_only=True)
class WrongThickness:
    """What a job does to a blank it was not planned for.

    Attributes:
        planned_mm: Thickness the stages count on.
        actual_mm: Thickness of the blank.
        reference: Where Z was zeroed: on the pad, or on the bed.
        shift_mm: How much higher than planned every move comes out above the bed; below 0 is lower.
        uncut_mm: The most that is left standing above what is wanted on the parts.
        uncut_mm2: Area of the parts that stand too high.
        too_deep_mm: The most that lies below what is wanted on the parts, whether cut or never there.
        too_deep_mm2: Area of the parts that lie too low.
        web_mm: Thickness of what still joins a part to the blank where it was to be cut free.
        not_free: Labels of parts that such a web holds.
        closed_holes: Labels of parts with a hole that does not go through.
        layers: What is left of each layer where the parts are thinnest.
        into_bed_mm: How deep the bed is cut.
        planned_into_bed_mm: How deep it would be cut as planned.
        verdict: All that in words.
    """

    planned_mm: float
    actual_mm: float
    reference: Reference
    shift_mm: float
    uncut_mm: float
    uncut_mm2: float
    too_deep_mm: float
    too_deep_mm2: float
    web_mm: float
    not_free: tuple[str, ...]
    closed_holes: tuple[str, ...]
    layers: tuple[ThinLayer, ...]
    into_bed_mm: float
    planned_into_bed_mm: float
    verdict: str


def on_blank(
    run: DryRun, actual_mm: float, *, reference: Reference = "pad", units: Units = "mm"
) -> WrongThickness:
    """Run a planned job on a blank of another thickness.

    Args:
        run: The job as planned.
        actual_mm: Thickness of the blank; its top layer is taken to be the one that differs.
        reference: "pad" when every stage is zeroed on the top of the pad, "bed" when on the bed.
        units: Unit of the verdict.

    Raises:
        UsageError: A thickness that is not above 0.
    """
    if not 0 < actual_mm < np.inf:
        raise UsageError(f"a blank of {actual_mm:g} mm cannot be cut; its thickness must be above 0")
    target, planned = run.target, run.last.heights_mm
    shift = actual_mm - target.blank_mm if reference == "pad" else 0.0
    final = _final_mm(run, actual_mm, shift)
    solid = target.solid
    off = (final - planned)[solid]
    web = (planned <= SAME_MM) & (final > SEEN_MM)
    outside = web & (target.parts < 0)
    lowest, wanted = (float(grid[solid].min()) if solid.any() else 0.0 for grid in (final, planned))
    deepest = min((shot.deepest_mm for shot in run.shots), default=np.inf)
    found = WrongThickness(
        planned_mm=target.blank_mm,
        actual_mm=actual_mm,
        reference=reference,
        shift_mm=shift,
        uncut_mm=max(0.0, float(off.max(initial=0.0))),
        uncut_mm2=float((off > SEEN_MM).sum()) * run.blank.cell_mm2,
        too_deep_mm=max(0.0, -float(off.min(initial=0.0))),
        too_deep_mm2=float((off < -SEEN_MM).sum()) * run.blank.cell_mm2,
        web_mm=float(final[outside].max(initial=0.0)),
        not_free=_labels(run, _beside(outside)),
        closed_holes=_labels(run, web),
        layers=thin_layers(layers_at(run.layers, actual_mm), lowest, wanted, run.layers),
        into_bed_mm=max(0.0, -deepest - shift - run.tape_mm),
        planned_into_bed_mm=max(0.0, -deepest - run.tape_mm),
        verdict="",
    )
    return _with_verdict(found, units)


def over_spread(
    run: DryRun, measured_mm: float, spread_mm: float, *, reference: Reference = "pad", units: Units = "mm"
) -> tuple[WrongThickness, ...]:
    """The job at the measured thickness less the spread, at it, and with the spread added."""
    each = (measured_mm - spread_mm, measured_mm, measured_mm + spread_mm) if spread_mm else (measured_mm,)
    return tuple(on_blank(run, actual, reference=reference, units=units) for actual in each)


def _final_mm(run: DryRun, actual_mm: float, shift_mm: float) -> FloatGrid:
    there = run.blank.heights_mm > 0
    final: FloatGrid = np.where(there, np.float32(actual_mm), np.float32(0.0))
    for shot in run.shots:
        np.minimum(final, shot.swept_mm + np.float32(shift_mm), out=final)
    return final


def _beside(mask: BoolGrid) -> BoolGrid:
    """The mask and the cells beside it, two deep."""
    grown = mask.copy()
    for _ in range(2):
        last = grown.copy()
        grown[1:] |= last[:-1]
        grown[:-1] |= last[1:]
        grown[:, 1:] |= last[:, :-1]
        grown[:, :-1] |= last[:, 1:]
    return grown


def _labels(run: DryRun, mask: BoolGrid) -> tuple[str, ...]:
    """Labels of the parts that have a cell in a mask."""
    numbers = np.unique(run.target.parts[mask])
    return tuple(run.target.labels[number] for number in numbers.tolist() if number >= 0)


def _with_verdict(found: WrongThickness, units: Units) -> WrongThickness:
    def say(length_mm: float) -> str:
        return format_length(length_mm, units)

    words = []
    if found.uncut_mm > SEEN_MM:
        words.append(f"up to {say(found.uncut_mm)} too much is left on the parts")
    if found.too_deep_mm > SEEN_MM:
        words.append(f"parts come out up to {say(found.too_deep_mm)} too low")
    words += shortfalls(found.layers, units)
    if found.not_free:
        words.append(
            f"{listed_labels(found.not_free)} not free: {say(found.web_mm)} still joins them to the blank"
        )
    if found.closed_holes:
        words.append(f"holes not through in {listed_labels(found.closed_holes)}")
    if found.into_bed_mm > found.planned_into_bed_mm + SEEN_MM:
        words.append(f"the bed is cut {say(found.into_bed_mm)}")
    verdict = "; ".join(words) or "everything comes out as planned"
    return WrongThickness(**{**vars(found), "verdict": verdict})
