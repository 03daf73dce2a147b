"""What the thickness of the blank can do to a job: its spread, its tolerances, and a plan by the tables."""

from collections.abc import Iterator

from scalegen.machining.cutter_shape import point_mm
from scalegen.machining.dry_run import DryRun
from scalegen.machining.thin import SEEN_MM, ThinLayer
from scalegen.machining.wrong_thickness import WrongThickness, on_blank
from scalegen.model import Finding, Level, ShopRules, Stack, Units
from scalegen.units import format_length

LEAST_SHARE = 0.5
"""Share of what is planned of a layer that must be left at least. Our choice; common practice, no source."""

WORTH_A_WORD_MM = 0.1
"""A plan that is less off than this does no harm worth a word. Our choice; common practice, no source."""


def too_thin(layers: tuple[ThinLayer, ...]) -> tuple[ThinLayer, ...]:
    """Layers of which less than half is left of what is planned at the thinnest place.

    Glue is left out, and so is the face where there are layers under it: at a bevel or an edge it runs out to
    little or nothing by design.
    """
    under = [layer for layer in layers if layer.kind not in {"bond", "face"}] or layers
    return tuple(
        layer
        for layer in under
        if layer.kind != "bond" and layer.is_short and layer.left_mm < LEAST_SHARE * layer.planned_mm
    )


def thickness_findings(run: DryRun, stack: Stack, rules: ShopRules, units: Units) -> Iterator[Finding]:
    """What a blank of another thickness than the plan counts on would come to, zeroed on the pad.

    A measured blank differs from the thinnest reading by its spread, one that was not measured from the
    tables by their tolerances: the pad may be as much thicker or thinner than the places of the parts.

    Args:
        run: One sheet cut as planned.
        stack: The blank.
        rules: How far the last cuts may go below the blank.
        units: For the messages.
    """
    measured = bool(stack.measured_mm)
    off = stack.spread_mm if measured else stack.tolerance_mm
    if off <= SEEN_MM:
        return
    why = "as its readings do" if measured else "as the tables' tolerances allow"
    for sign, word in ((-1, "thinner"), (1, "thicker")):
        actual = stack.used_mm + sign * off
        if actual <= 0:
            continue
        found = on_blank(run, actual, units=units)
        deep = _full_below_mm(run) - found.shift_mm > rules.below_most_mm + SEEN_MM
        if not (deep or _matters(found)):
            continue
        thin = too_thin(found.layers)
        level: Level = "stop" if thin and measured else "warning"
        by = format_length(off, units)
        yield Finding(
            code="layer-thin" if thin else f"blank-{word}",
            level=level,
            about="blank",
            where="",
            message=f"where it is {by} {word} than the plan counts on, {why}: {found.verdict}",
            remedy="zero on the pad and measure there; sort out or flatten blanks that differ so much"
            if measured
            else "measure the blank, and give the readings with --measured",
        )


def nominal_finding(run: DryRun, used_mm: float, units: Units) -> Finding | None:
    """What a job planned by the tables would do to the blank as measured, or None where it does no harm.

    Args:
        run: The job planned for the thickness that the tables add up to.
        used_mm: Thickness that the blank has.
        units: For the message.
    """
    if abs(used_mm - run.target.blank_mm) <= SEEN_MM:
        return None
    found = on_blank(run, used_mm, units=units)
    if not _matters(found) and abs(found.shift_mm) < WORTH_A_WORD_MM:
        return None
    planned, used = format_length(run.target.blank_mm, units), format_length(used_mm, units)
    return Finding(
        code="nominal-plan",
        level="note",
        about="blank",
        where="",
        message=f"cut with files made for the tables' {planned}, this blank of {used} would go wrong:"
        f" {found.verdict}",
        remedy="use the files of this job alone",
    )


def _matters(found: WrongThickness) -> bool:
    """Whether more is wrong than a face that is a little high or low, or a bed that is cut deeper."""
    return bool(found.not_free or found.closed_holes or too_thin(found.layers))


def _full_below_mm(run: DryRun) -> float:
    """How far below the blank the full width of the deepest cutter goes."""
    return max((-shot.deepest_mm - point_mm(shot.shape) for shot in run.shots), default=0.0)
