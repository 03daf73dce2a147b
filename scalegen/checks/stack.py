"""Findings about readings, stack, layers, their steps and trim."""

from collections.abc import Iterator

import numpy as np

from scalegen.checks.common import DUST_MM, finding, hole_at, shown
from scalegen.checks.pins import EDGE_STOP
from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.form.plans import Plan
from scalegen.form.storeys import storeys_of
from scalegen.layers import Stepped
from scalegen.model import Finding
from scalegen.outline.measure import distances_mm

SPREAD_WARN_MM = 0.1
SPREAD_STOP = 0.2
MISREAD = 2.0
BOND_RANGE_MM = 0.15
"""Readings of a stack: range that is warned of; range, as a share of the nominal thickness, and factor from
the nominal thickness that can only be a slip; what one bond line may add or lack (published films go from
0.05 to 0.25 mm). Otherwise our choice; common practice, no source."""

THIN_FACE_MM = 1.0
THIN_LINER_MM = 0.3
THIN_TRIM_MM = 0.3
"""Face, liner and trim allowance below which they are warned of. Our choice; common practice, no source."""


def readings(scale: Scale) -> Iterator[Finding]:
    """Findings about the readings of the stack."""
    stack, size = scale.stack, shown(scale, 3)
    if not stack.measured_mm:
        text = (
            f"its thickness is only added up from the tables: {size(stack.nominal_mm)}"
            f" ± {size(stack.tolerance_mm)}, and the glue besides"
        )
        remedy = "measure the bonded blank in several places and give the readings with --measured"
        yield finding("note", "stack-not-measured", ("stack", stack.name), text, remedy)
        return
    odd = [r for r in stack.measured_mm if not 1 / MISREAD <= r / stack.nominal_mm <= MISREAD]
    bonds = sum(layer.kind == "bond" for layer in stack.layers)
    if odd:
        text = (
            f"a reading of {size(odd[0])} can't be right where the tables add up to {size(stack.nominal_mm)}"
        )
        remedy = "check the readings, their unit and the stock"
        yield finding("stop", "stack-misread", ("stack", stack.name), text, remedy)
    elif abs(stack.used_mm - stack.nominal_mm) > stack.tolerance_mm + BOND_RANGE_MM * bonds + DUST_MM:
        text = f"it measures {size(stack.used_mm)} where sheets and glue add up to {size(stack.nominal_mm)}"
        remedy = "check that the readings are of this stack; the difference is put down to the face sheet"
        yield finding("warning", "stack-unlike-tables", ("stack", stack.name), text, remedy)
    if stack.spread_mm > SPREAD_WARN_MM + DUST_MM and not odd:
        low, used = size(min(stack.measured_mm)), size(stack.used_mm)
        counted = "is counted on" if stack.counted_mm is None else f"is too little, {used} is counted on"
        text = f"the readings differ by {size(stack.spread_mm)}; the smallest, {low}, {counted}"
        wild = stack.spread_mm > SPREAD_STOP * stack.nominal_mm
        remedy = "check the readings; flatten the blank or use it where it is even"
        yield finding("stop" if wild else "warning", "stack-uneven", ("stack", stack.name), text, remedy)


def stack_thickness(scale: Scale) -> Iterator[Finding]:
    """Findings about a stack that is too thin."""
    stack, size = scale.stack, shown(scale, 3)
    if scale.faced_off_mm < -DUST_MM:
        need = size(scale.thickness_mm + scale.back_allowance_mm)
        short = size(-scale.faced_off_mm)
        text = f"the scale needs {need} and the stack has {size(stack.used_mm)}: {short} short"
        remedy = "make the scale thinner, the back allowance smaller, or take a thicker stack"
        yield finding("stop", "stack-too-thin", ("stack", stack.name), text, remedy)
    if stack.counted_mm is not None:
        low = min(stack.measured_mm)
        text = (
            f"the scale needs {size(stack.counted_mm)} and the blank has {size(low)} in places:"
            f" {size(stack.counted_mm - low)} short there"
        )
        remedy = "no scale may lie there: a job stops where one would; choose the origin or pad to suit"
        yield finding("warning", "stack-thin-in-places", ("stack", stack.name), text, remedy)


def layers(scale: Scale) -> Iterator[Finding]:
    """Findings about what is left of the liner and the face."""
    size = shown(scale, 3)
    back, cut = scale.stack.layers[0], scale.back_allowance_mm
    left, about = back.thickness_mm - cut, f'layer "{back.name}"'
    remedy = "use a smaller back allowance or a thicker liner"
    if left <= DUST_MM:
        text = f"flattening the back takes {size(cut)} off, which is all {size(back.thickness_mm)} of it"
        yield finding("stop", "liner-cut-away", (about, "back"), text, remedy)
    elif cut > 0 and left < THIN_LINER_MM - DUST_MM:
        text = f"only {size(left)} of it is left when the back is flattened"
        yield finding("warning", "liner-thin", (about, "back"), text, remedy)
    if len(scale.stack.layers) == 1:
        return
    face = scale.stack.layers[-1]
    below = scale.stack.used_mm - face.thickness_mm - cut
    left, about = scale.thickness_mm - below, f'layer "{face.name}"'
    remedy = "make the scale thicker, or use thinner layers under the face"
    if left <= DUST_MM:
        text = (
            f"none of it is left at {size(scale.thickness_mm)}: the layers under it reach up to {size(below)}"
        )
        yield finding("stop", "face-cut-away", (about, "face"), text, remedy)
    elif left < THIN_FACE_MM - DUST_MM:
        text = f"only {size(left)} of it is left after facing"
        yield finding("warning", "face-thin", (about, "face"), text, remedy)


def liner_step(scale: Scale, plan: Plan | None) -> Iterator[Finding]:
    """Findings about layers at the back with an outline of their own."""
    stepped, size = scale.stepped, shown(scale, 2)
    if stepped is None or plan is None:
        return
    try:
        for finished in (False, True):
            storeys_of(scale, finished=finished)
    except GeometryError as error:
        yield finding("stop", "liner-step-does-not-fit", ("liner", ""), error.message, error.remedy)
        return
    if stepped.step_mm < 0:
        text = f"it ends {size(-stepped.step_mm)} inside the outline, out of reach of a cutter from above"
        remedy = (
            "cut its sheets to the DXF layer liner-outline before the stack is bonded, or cut the step from"
            " the side with a slotting cutter"
        )
        yield finding("note", "liner-cut-before-bonding", ("liner", ""), text, remedy)
    else:
        text = (
            f"it stands {size(stepped.step_mm)} beyond tang and face, which can't be sanded flush in one go"
        )
        remedy = "work tang and face down to the outline above and below it, then its own edge by hand"
        yield finding("note", "liner-stands-proud", ("liner", ""), text, remedy)
    yield from _pins_at_step(scale, stepped)


def _pins_at_step(scale: Scale, stepped: Stepped) -> Iterator[Finding]:
    """Holes that leave little of a layer set in."""
    size = shown(scale, 2)
    for number, hole in enumerate(scale.holes, start=1):
        gap = float(distances_mm(stepped.finished, np.array([hole.at_mm]))[0])
        if stepped.step_mm < 0 and gap < EDGE_STOP * hole.hole_mm - DUST_MM:
            spot = (f"pin {number}", hole_at(scale, hole))
            text = f"its centre is only {size(gap)} inside the liner, {gap / hole.hole_mm:.2f} times its hole"
            remedy = "make the liner's step smaller, or move the pin inwards"
            yield finding("warning", "liner-thin-at-pin", spot, text, remedy)


def trim(scale: Scale) -> Iterator[Finding]:
    """Findings about the trim allowance."""
    left, size = scale.pattern.trim_mm, shown(scale, 2)
    if left < THIN_TRIM_MM - DUST_MM:
        text = f"{size(left)} is left outside the outline: glued a little off, a scale leaves tang bare"
        yield finding(
            "warning", "trim-thin", ("trim allowance", ""), text, f"leave {size(THIN_TRIM_MM)} or more"
        )
