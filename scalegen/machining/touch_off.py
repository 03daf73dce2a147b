"""What happens when a cutter is zeroed at some place of the blank instead of the reference pad.

The program counts from the blank's full height. Zeroed on a place that lies lower, a stage comes out lower by
the difference everywhere: its moves are the same, only sunk. So what it would cut follows from what it was
planned to cut, exactly.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.errors import UsageError
from scalegen.machining.cutter_shape import flat
from scalegen.machining.dry_run import SAME_MM, DryRun
from scalegen.machining.field import BoolGrid, Box, FloatGrid, HeightField, disc_mask
from scalegen.machining.reach import tips_mm
from scalegen.machining.thin import SEEN_MM, ThinLayer, thin_layers
from scalegen.model import Units
from scalegen.units import format_length

CROSS_MM = 0.05
"""How far pad and stack may differ before a zero is doubted. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class TouchOff:
    """A cutter zeroed at one place before one stage.

    Attributes:
        stage: Number of the stage, from 1.
        name: Its name.
        at_mm: Place, x and y in the sheet frame.
        height_mm: Height of the place above the bed side of the blank, before the stage.
        below_top_mm: How far it lies below the blank's full height.
        depth_error_mm: How much too deep everything in this stage comes out.
        thinnest_left_mm: What is left of each layer where the parts are thinnest, from the underside up.
        into_bed_mm: How deep the bed itself is cut.
        planned_into_bed_mm: How deep it would be cut with the right zero.
        verdict: All that in words.
    """

    stage: int
    name: str
    at_mm: tuple[float, float]
    height_mm: float
    below_top_mm: float
    depth_error_mm: float
    thinnest_left_mm: tuple[ThinLayer, ...]
    into_bed_mm: float
    planned_into_bed_mm: float
    verdict: str


@dataclass(frozen=True, kw_only=True)
class CrossCheck:
    """The bed as a second reference: pad above bed against the measured stack."""

    difference_mm: float
    agrees: bool
    verdict: str


def touch_off(
    at_mm: tuple[float, float], stage: int, run: DryRun, *, probe_mm: float = 0.0, units: Units = "mm"
) -> TouchOff:
    """Say what a stage does when its cutter is zeroed at a place.

    Args:
        at_mm: x and y in the sheet frame.
        stage: Number of the stage, from 1.
        run: The job as planned.
        probe_mm: Diameter of a plate laid on the place, which rests on the highest spot under it; 0 to touch
            the place itself.
        units: Unit of the verdict.

    Raises:
        UsageError: The place is not on the blank, or there is no such stage.
    """
    _require_blank(run, at_mm)
    before, shot = run.before(stage), run.shots[stage - 1]
    found = _touched_mm(before, at_mm, probe_mm)
    # What falls through the blank lands on the bed.
    height = found if found > SAME_MM else -run.tape_mm
    error = run.target.blank_mm - height
    error = error if abs(error) > SAME_MM else 0.0
    solid = run.target.solid
    left = lowest_mm(before, shot.swept_mm, solid, error)
    planned = lowest_mm(before, shot.swept_mm, solid, 0.0)
    layers = thin_layers(run.layers, left, planned)
    into = max(0.0, error - shot.deepest_mm - run.tape_mm)
    planned_into = max(0.0, -shot.deepest_mm - run.tape_mm)
    verdict = _verdict(error, layers, into, planned_into, units)
    if found <= SAME_MM:
        verdict = f"nothing is left to touch here, the zero would be the bed: {verdict}"
    return TouchOff(
        stage=stage,
        name=shot.name,
        at_mm=at_mm,
        height_mm=height,
        below_top_mm=run.target.blank_mm - height,
        depth_error_mm=error,
        thinnest_left_mm=layers,
        into_bed_mm=into,
        planned_into_bed_mm=planned_into,
        verdict=verdict,
    )


def touch_off_map(stage: int, run: DryRun, *, probe_mm: float = 0.0) -> FloatGrid:
    """How much too deep a stage comes out for a zero at every cell, float32 (rows, cols).

    Args:
        stage: Number of the stage, from 1.
        run: The job as planned.
        probe_mm: Diameter of a plate laid on the place; 0 to touch the cell itself.

    Returns:
        0 is right; not a number beside the blank.

    Raises:
        UsageError: There is no such stage.
    """
    heights = run.before(stage).heights_mm
    if probe_mm:
        everywhere = np.ones(heights.shape, dtype=np.bool_)
        heights = tips_mm(heights, flat(probe_mm), run.blank.cell_mm, everywhere)
    landed = np.where(heights > SAME_MM, heights, np.float32(-run.tape_mm))
    error = np.float32(run.target.blank_mm) - landed
    errors = np.where(np.abs(error) > SAME_MM, error, np.float32(0.0))
    errors[run.blank.heights_mm <= 0] = np.nan
    return errors


def may_zero(stage: int, run: DryRun, *, probe_mm: float = 0.0, within_mm: float = SEEN_MM) -> BoolGrid:
    """Where a cutter may be zeroed for a stage without error worth a word, (rows, cols)."""
    right: BoolGrid = np.abs(touch_off_map(stage, run, probe_mm=probe_mm)) <= within_mm
    return right


def lowest_mm(before: HeightField, swept: FloatGrid, where: BoolGrid, error_mm: float) -> float:
    """Lowest height in the cells asked about after a stage that runs too deep by an error."""
    if not where.any():
        return float(before.heights_mm.max())
    stood = float(before.heights_mm[where].min())
    return min(stood, float(swept[where].min()) - error_mm)


def probe_room_mm(field: HeightField, pad: Box, full_mm: float) -> float:
    """Diameter of the largest round probe or plate that fits on what is whole of the pad.

    Args:
        field: After a stage.
        pad: Sides of the pad.
        full_mm: The blank's height.
    """
    x0, y0, x1, y1 = pad
    window = field.window(pad)
    whole = field.heights_mm[window] >= full_mm - SAME_MM
    if not whole.any():
        return 0.0
    if whole.all():
        return min(x1 - x0, y1 - y0)
    points = field.points_mm(window)
    good, bad = points[whole.ravel()], points[~whole.ravel()]
    sides = np.minimum.reduce([good[:, 0] - x0, x1 - good[:, 0], good[:, 1] - y0, y1 - good[:, 1]])
    gaps = sides
    for part in np.array_split(bad, max(1, len(bad) * len(good) // 2_000_000 + 1)):
        if len(part):
            away = np.hypot(good[:, None, 0] - part[None, :, 0], good[:, None, 1] - part[None, :, 1])
            gaps = np.minimum(gaps, away.min(axis=1) - field.cell_mm / 2)
    return max(0.0, 2 * float(gaps.max()))


def within_travel(pad: Box, travel: Box, probe_mm: float) -> bool:
    """Whether the machine's axis gets far enough over the pad to touch it with the whole of a probe.

    Args:
        pad: Sides of the pad, sheet frame.
        travel: Sides of what the axis reaches, sheet frame.
        probe_mm: Diameter of the probe or plate.
    """
    r = probe_mm / 2
    x0, y0 = max(pad[0] + r, travel[0]), max(pad[1] + r, travel[1])
    x1, y1 = min(pad[2] - r, travel[2]), min(pad[3] - r, travel[3])
    return x0 <= x1 and y0 <= y1


def cross_check(
    pad_above_bed_mm: float, stack_mm: float, *, within_mm: float = CROSS_MM, units: Units = "mm"
) -> CrossCheck:
    """Hold the pad's height above the bed, read on the machine, against the measured stack.

    Args:
        pad_above_bed_mm: As read.
        stack_mm: Thickness the job is planned for, with the tape under it if there is any.
        within_mm: Largest difference that counts as agreeing.
        units: Unit of the verdict.
    """
    off = pad_above_bed_mm - stack_mm
    shown = format_length(abs(off), units)
    if abs(off) <= within_mm:
        return CrossCheck(difference_mm=off, agrees=True, verdict=f"pad and bed agree within {shown}")
    way = "higher" if off > 0 else "lower"
    why = "something lies under the blank" if off > 0 else "the pad is cut or the blank is thinner"
    verdict = (
        f"the pad is {shown} {way} above the bed than the stack is thick: {why}, or the bed was touched"
        " elsewhere; measure the blank again before anything is cut"
    )
    return CrossCheck(difference_mm=off, agrees=False, verdict=verdict)


def _require_blank(run: DryRun, at_mm: tuple[float, float]) -> None:
    x0, y0, x1, y1 = _blank_sides(run.blank)
    # Written so that nan is refused too.
    if not (x0 <= at_mm[0] <= x1 and y0 <= at_mm[1] <= y1):
        raise UsageError(
            f"x = {at_mm[0]:g}, y = {at_mm[1]:g} mm is not on the blank",
            remedy=f"give x from {x0:g} to {x1:g} and y from {y0:g} to {y1:g} mm",
        )


def _blank_sides(blank: HeightField) -> Box:
    rows = np.flatnonzero(blank.heights_mm.max(axis=1) > 0)
    cols = np.flatnonzero(blank.heights_mm.max(axis=0) > 0)
    cell, digits = blank.cell_mm, 9
    return (
        round(blank.x_mm + float(cols[0]) * cell, digits),
        round(blank.y_mm + float(rows[0]) * cell, digits),
        round(blank.x_mm + float(cols[-1] + 1) * cell, digits),
        round(blank.y_mm + float(rows[-1] + 1) * cell, digits),
    )


def _touched_mm(field: HeightField, at_mm: tuple[float, float], probe_mm: float) -> float:
    if probe_mm < 0:
        raise UsageError("a probe's diameter cannot be below 0")
    here = field.at_mm(at_mm)
    if not probe_mm:
        return here
    window, disc = disc_mask(field, at_mm, probe_mm / 2)
    return max(here, float(field.heights_mm[window][disc].max(initial=here)))


def _verdict(
    error_mm: float, layers: Sequence[ThinLayer], into_mm: float, planned_into_mm: float, units: Units
) -> str:
    if abs(error_mm) <= SEEN_MM:
        return "right: this place has the blank's full height"
    words = [f"{format_length(error_mm, units)} too deep"]
    words += shortfalls(layers, units)
    if into_mm > planned_into_mm + SEEN_MM:
        words.append(f"the bed is cut {format_length(into_mm, units)}")
    return "; ".join(words)


def shortfalls(layers: Sequence[ThinLayer], units: Units) -> list[str]:
    """Every sheet of which less is left than planned, in words; glue lines are left out."""
    words = []
    for layer in layers:
        if layer.kind == "bond" or not layer.is_short:
            continue
        left = format_length(layer.left_mm, units) if layer.left_mm > SEEN_MM else "nothing"
        words.append(f"{left} of {layer.kind} left instead of {format_length(layer.planned_mm, units)}")
    return words
