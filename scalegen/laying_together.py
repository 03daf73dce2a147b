"""Pairs of several patterns onto the same blanks, as :mod:`scalegen.laying` does it for one."""

from collections.abc import Sequence

from scalegen.errors import SheetError
from scalegen.export.drawings import footprints
from scalegen.laying import (
    Laid,
    Progress,
    Studied,
    gaps_of,
    ground_of,
    how_of,
    require_sound,
    round_cutter,
    search_notes,
    silent,
    with_left_over,
)
from scalegen.model import JobSpec
from scalegen.nest.records import Stop, onward
from scalegen.sheet.mixed import Order, arranged_together
from scalegen.sheet.rows import blank_of
from scalegen.sheet.zones import check_zones
from scalegen.shop.measured import sheet_size_mm


def laid_together(
    studies: Sequence[Studied],
    counts: Sequence[int],
    spec: JobSpec,
    progress: Progress = silent,
    stop: Stop = onward,
) -> Laid:
    """As :func:`scalegen.laying.laid_out`, for several patterns on the same blanks.

    Args:
        studies: Scales and tables, one for each pattern.
        counts: Pairs of each, spares included; 0 for a pattern that has all its pairs elsewhere.
        spec: On which sheet, how; its own numbers of pairs say nothing. Where it asks for as many as go, one
            blank takes as many of the pairs as are found to go on it.
        progress: As there.
        stop: As there.

    Raises:
        SheetError: Not all pairs find room, the cutter does not go between the parts, or the layout does not
            pass the check.
        UsageError: The cutter is not in the tables.
    """
    first, gaps = studies[0], gaps_of(studies[0], spec)
    size_mm = spec.sheet_mm or sheet_size_mm(first.shop, first.scale.stack)
    ground = ground_of(spec)
    check_zones(ground, *size_mm)
    rings = {each.scale.pattern.name: footprints(each.scale) for each in studies}
    orders = [
        Order(pattern=name, footprints=rings[name], pairs=pairs)
        for name, pairs in zip(rings, counts, strict=True)
        if pairs
    ]
    blank = blank_of(
        spec.pad,
        ground,
        size_mm=size_mm,
        margin_mm=gaps.margin_mm,
        spacing_mm=gaps.spacing_mm,
        keep_clear_mm=gaps.keep_clear_mm,
        origin=spec.origin,
    )
    found = arranged_together(
        orders,
        blank,
        how_of(spec, progress, stop),
        anywhere=spec.pad.corner == "anywhere",
        one_blank=spec.fill,
    )
    if stop() and not found.stopped:
        raise KeyboardInterrupt
    due = None if spec.fill else {order.pattern: order.pairs for order in orders}
    require_sound(found.layouts, rings, spec, gaps, due)
    if spec.remnant is not None and len(found.layouts) > 1:
        raise SheetError(
            f"these pairs take {len(found.layouts)} sheets, and there is only one remnant {spec.remnant}",
            where="sheet",
            remedy="ask for fewer pairs, and cut the rest from another sheet",
        )
    layouts = with_left_over(found.layouts, rings, spec, round_cutter(spec, first.shop))
    return Laid(layouts=layouts, spec=spec, findings=tuple(search_notes(found, spec)))
