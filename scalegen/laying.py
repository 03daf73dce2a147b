"""A job's pairs onto sheets: spacing from the cutter, arrangement, independent check, what to tell."""

import math
import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import FrameType
from typing import Protocol

from scalegen.design import Scale
from scalegen.errors import SheetError, UsageError
from scalegen.export.drawings import footprints
from scalegen.fields.words import suggest
from scalegen.model import Cutter, Finding, JobSpec, Shop, Side
from scalegen.model.job import TURNS
from scalegen.nest.records import Stop, onward
from scalegen.outline.ring import Ring
from scalegen.sheet.filled import Arranged
from scalegen.sheet.layout import Ground, SheetLayout, Zone, pair_count
from scalegen.sheet.left_over import Worth, left_over, room_for_one
from scalegen.sheet.rows import arranged
from scalegen.sheet.true_shapes import How
from scalegen.sheet.verify import verify
from scalegen.sheet.zones import check_zones
from scalegen.shop.measured import sheet_size_mm
from scalegen.units import format_length

Progress = Callable[[str], None]
Interrupts = Callable[[], AbstractContextManager[Stop]]
Rings = Mapping[str, Mapping[Side, Ring]]
"""Outline of each side, by the pattern's name."""


class Studied(Protocol):
    """What is needed of a study: the scale, and the tables it was resolved with."""

    @property
    def scale(self) -> Scale:
        """Every number of the scale."""

    @property
    def shop(self) -> Shop:
        """Shop tables."""


@dataclass(frozen=True, kw_only=True)
class Laid:
    """Pairs on sheets.

    Attributes:
        layouts: Filled blanks.
        spec: The job with its pairs counted, where as many were asked for as go.
        findings: Notes about the search.
    """

    layouts: tuple[SheetLayout, ...]
    spec: JobSpec
    findings: tuple[Finding, ...]


def silent(step: str) -> None:
    """Progress that says nothing."""
    del step


def lay_out(study: Studied, spec: JobSpec) -> tuple[SheetLayout, ...]:
    """The sheets of :func:`laid_out` alone."""
    return laid_out(study, spec).layouts


def laid_out(study: Studied, spec: JobSpec, progress: Progress = silent, stop: Stop = onward) -> Laid:
    """Pairs and spares on as few blanks as can be found, checked by independent means.

    Args:
        study: Scale and tables.
        spec: How many, on which sheet, how.
        progress: Told pairs found, the limit and what is being tried.
        stop: True ends the search with the best so far.

    Raises:
        SheetError: Not even one pair fits, the cutter does not go between the parts, or the layout does
            not pass the check.
        UsageError: The cutter is not in the tables, or spares are asked for beside as many as go.
    """
    if spec.fill and spec.spares:
        raise UsageError(
            "spares are asked for, and as many pairs as one sheet takes",
            where="spares",
            remedy="leave the spares out: some of the pairs can be your spares; or give a number of pairs",
        )
    gaps, name = gaps_of(study, spec), study.scale.pattern.name
    length, width = spec.sheet_mm or sheet_size_mm(study.shop, study.scale.stack)
    ground = ground_of(spec)
    check_zones(ground, length, width)
    rings = footprints(study.scale)
    pairs = None if spec.fill else spec.pairs + spec.spares
    found = arranged(
        rings,
        pattern=name,
        pairs=pairs,
        length_mm=length,
        width_mm=width,
        margin_mm=gaps.margin_mm,
        spacing_mm=gaps.spacing_mm,
        pad=spec.pad,
        origin=spec.origin,
        keep_clear_mm=gaps.keep_clear_mm,
        how=how_of(spec, progress, stop),
        ground=ground,
    )
    if stop() and not found.stopped:
        # There was nothing to search, so it is the job that was meant.
        raise KeyboardInterrupt
    if spec.remnant is not None and len(found.layouts) > 1:
        most = max(len(layout.placements) // 2 for layout in found.layouts)
        raise SheetError(
            f"room was found for {most} pair{'s' * (most != 1)} on remnant {spec.remnant}, and {pairs} are"
            " due: there is only one of it",
            where="sheet",
            remedy="ask for so many, or for --pairs max, and cut the rest from another sheet",
        )
    require_sound(found.layouts, {name: rings}, spec, gaps, None if pairs is None else {name: pairs})
    counted = replace(spec, fill=False, pairs=pair_count(found.layouts)) if spec.fill else spec
    layouts = with_left_over(found.layouts, {name: rings}, spec, round_cutter(spec, study.shop))
    return Laid(layouts=layouts, spec=counted, findings=tuple(search_notes(found, spec)))


@dataclass(frozen=True, kw_only=True)
class Gaps:
    """What is kept free, in mm: between parts, along the edge, and about the pads."""

    spacing_mm: float
    margin_mm: float
    keep_clear_mm: float


def gaps_of(study: Studied, spec: JobSpec) -> Gaps:
    """What a job keeps free.

    Raises:
        SheetError: The cutter does not go between the parts.
        UsageError: It is not in the tables.
    """
    cutter = round_cutter(spec, study.shop)
    return Gaps(
        spacing_mm=spacing_between(study, spec, cutter),
        margin_mm=edge_margin_mm(spec, cutter, study.shop),
        keep_clear_mm=cutter.diameter_mm + study.shop.rules.clearance_mm,
    )


def require_sound(
    layouts: Sequence[SheetLayout],
    rings: Rings,
    spec: JobSpec,
    gaps: Gaps,
    pairs_each: Mapping[str, int] | None = None,
) -> None:
    """Have a layout looked over by independent means.

    Args:
        layouts: All blanks of a job.
        rings: Outline of each side, by the pattern's name.
        spec: For turns and pairing.
        gaps: What must be free.
        pairs_each: How many pairs of each pattern there must be; None not to count.

    Raises:
        SheetError: It does not pass; says why.
    """
    (_, first), *others = rings.items()
    faults = verify(
        layouts,
        first,
        spacing_mm=gaps.spacing_mm,
        margin_mm=gaps.margin_mm,
        keep_clear_mm=gaps.keep_clear_mm,
        pairs_each=pairs_each,
        turns_rad=allowed_turns(spec),
        mirrored=spec.pairing == "mirrored",
        adjacent=spec.pairing == "adjacent",
        others=dict(others),
    )
    if faults:
        raise SheetError(f"the layout did not pass its check: {'; '.join(faults)}", where="sheet")


def with_left_over(
    layouts: Sequence[SheetLayout], rings: Rings, spec: JobSpec, cutter: Cutter
) -> tuple[SheetLayout, ...]:
    """The blanks with what is left over of them, and what they are called where they are at hand."""
    worth = room_for_one(list(rings.values()), layouts[0].margin_mm)
    if spec.left_over_mm is not None:
        worth = Worth(length_mm=spec.left_over_mm[0], width_mm=spec.left_over_mm[1])
    return tuple(
        replace(
            layout,
            remnant=spec.remnant,
            drawing=_drawing(spec),
            left_over=left_over(layout, rings, cutter.diameter_mm, worth),
        )
        for layout in layouts
    )


def _drawing(spec: JobSpec) -> str | None:
    """Name of the file that the blank was drawn in."""
    if spec.sheet_shape is None or spec.remnant is not None:
        return None
    return Path(spec.sheet_shape.source).name or "outline"


def how_of(spec: JobSpec, progress: Progress, stop: Stop) -> How:
    """How pairs may lie on the sheet, and how hard to look."""
    return How(
        pairing=spec.pairing,
        turns_rad=tuple(turn + spec.grain_rad for turn in spec.turns_rad),
        effort=spec.effort,
        seed=spec.seed,
        progress=_teller(progress),
        stop=stop,
    )


def ground_of(spec: JobSpec) -> Ground:
    """What the blank of a job is like beyond its size."""
    shape = spec.sheet_shape
    holes = [Zone(ring=Ring.from_rows(rows), kind="hole") for rows in (shape.holes if shape else ())]
    told = [Zone(ring=Ring.from_rows(each.rows), kind=each.kind) for each in spec.keep_out]
    return Ground(
        outline=Ring.from_rows(shape.outline) if shape else None,
        zones=(*holes, *told),
        grain_rad=spec.grain_rad,
    )


def allowed_turns(spec: JobSpec) -> tuple[float, ...] | None:
    """Turns that a scale may have, None for any; a partner may lie half round: the grain stays along it."""
    if spec.turns_rad == TURNS["free"]:
        return None
    turns = [turn + spec.grain_rad for turn in spec.turns_rad]
    return (*turns, *(turn + math.pi for turn in turns if spec.pairing != "free"))


def edge_margin_mm(spec: JobSpec, cutter: Cutter, shop: Shop) -> float:
    """What is kept free along the blank's edge: what was asked for, or what leaves a frame beside the cut.

    A scale at the margin is cut round on the margin's side, so of a margin as wide as the cutter nothing
    stays. Of one as wide as cutter and clearance a web of the clearance does, and it holds the pad.
    """
    return cutter.diameter_mm + shop.rules.clearance_mm if spec.margin_mm is None else spec.margin_mm


def spacing_between(study: Studied, spec: JobSpec, cutter: Cutter) -> float:
    """What is kept free between parts, mm.

    Raises:
        SheetError: It is less than the cutter is wide.
    """
    clearance = study.shop.rules.clearance_mm
    spacing = cutter.diameter_mm + clearance if spec.spacing_mm is None else spec.spacing_mm
    if spacing < cutter.diameter_mm - 1e-9:
        units = study.scale.pattern.units
        raise SheetError(
            f"{format_length(spacing, units)} between parts is less than the cutter's"
            f" {format_length(cutter.diameter_mm, units)}: going round one part, it would cut into the next",
            where="spacing",
            remedy=f"give {format_length(cutter.diameter_mm + clearance, units)} or so, or a thinner cutter",
        )
    return spacing


def round_cutter(spec: JobSpec, shop: Shop) -> Cutter:
    """The cutter that goes round the parts.

    Raises:
        UsageError: It is not in the tables.
    """
    cutter = shop.cutters.get(spec.cutter)
    if cutter is None:
        hint = suggest(spec.cutter, shop.cutters)
        raise UsageError(
            f'there is no cutter "{spec.cutter}" in the shop tables',
            where="cutter",
            remedy=f"{hint} the cutters are: {', '.join(sorted(shop.cutters))}".strip(),
        )
    return cutter


def _teller(progress: Progress) -> Callable[[int, int, str], None]:
    """Tells a search's progress in words."""

    def tell(found: int, most: int, trying: str) -> None:
        progress(f"laying out sheets: {found} found, {most} at most; trying {trying} (Ctrl-C keeps the best)")

    return tell


def search_notes(found: Arranged, spec: JobSpec) -> Iterator[Finding]:
    """What there is to say about the blank and the search."""
    shape = spec.sheet_shape
    if shape is not None and shape.notes:
        yield _note(
            "sheet-outline", f"{shape.source}: {'; '.join(shape.notes)}", "look at the picture of the sheet"
        )
    if found.free_pairs:
        here = max(len(layout.placements) // 2 for layout in found.layouts)
        yield _note(
            "pairing-costs",
            f"with {spec.pairing} partners {here} of the pairs go on a sheet; with partners apart"
            f" {found.free_pairs} were found to go",
            "give --pairing free if colour and figure of partners need not match",
        )
    if found.stopped:
        yield _note(
            "arranging-stopped",
            "the search for room was stopped; the best layout found until then is used",
            "make the job again and let the search end, if more pairs would help",
        )


def _note(code: str, message: str, remedy: str) -> Finding:
    return Finding(code=code, level="note", about="sheet", where="", message=message, remedy=remedy)


@contextmanager
def never() -> Iterator[Stop]:
    """A search that nobody stops."""
    yield onward


@contextmanager
def on_interrupt() -> Iterator[Stop]:
    """While this lasts the first Ctrl-C asks the search to end with its best; a second one ends the program.

    Does nothing outside the main thread, where signals cannot be caught.
    """
    if threading.current_thread() is not threading.main_thread():
        yield onward
        return
    asked = threading.Event()

    def ask(number: int, frame: FrameType | None) -> None:
        if asked.is_set():
            signal.default_int_handler(number, frame)
        asked.set()

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)
