"""Look over a finished layout with other means than those that made it.

Nothing here is shared with the ways to fill a blank: footprints are flattened anew, placed by an affine
transform of shapely's, and measured there.

How sharp the measure is: flattening replaces an arc by chords that stay within a distance e of it, so a
distance between two flattened outlines is off by 2 e at most, either way. Everything is measured with
e = 0.001 mm first; what comes within 0.002 mm of its limit is measured again with e = 5e-7 mm. A layout
that passes therefore keeps its distances to 2e-6 mm.
"""

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import shapely
from shapely import affinity

from scalegen.model import Side
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import Placement, SheetLayout, side_by_side_mm
from scalegen.sheet.verify_blank import (
    COARSE_MM,
    FINE_MM,
    SAME_MM2,
    Laid,
    blank_faults,
    overlap,
    too_close,
)
from scalegen.sheet.verify_turns import mirror_faults, turn_faults

_ROUNDING_MM = 0.05
_LABEL = re.compile(r"([1-9][0-9]*)([LR])")
_SIDES: dict[str, Side] = {"L": "left", "R": "right"}


def verify(
    layouts: Sequence[SheetLayout],
    footprints: Mapping[Side, Ring],
    *,
    spacing_mm: float,
    margin_mm: float,
    keep_clear_mm: float = 0.0,
    pairs: int | None = None,
    turns_rad: Sequence[float] | None = None,
    mirrored: bool = False,
    adjacent: bool = False,
    others: Mapping[str, Mapping[Side, Ring]] | None = None,
    pairs_each: Mapping[str, int] | None = None,
) -> tuple[str, ...]:
    """List everything that is wrong with a layout.

    Args:
        layouts: Blanks of one job.
        footprints: Outline of each side in its own frame.
        spacing_mm: What must be free between two scales, and between a scale and the pad.
        margin_mm: What must be free along the blank's edge and about holes in it.
        keep_clear_mm: What must be free about the pads where that is more.
        pairs: How many pairs there must be, or None not to count.
        turns_rad: Turns that are allowed, or None for any.
        mirrored: Partners must be mirror images of each other.
        adjacent: Partners must lie side by side; see :func:`~scalegen.sheet.layout.side_by_side_mm`.
        others: Outlines of further patterns by name; ``footprints`` are those of all that are not among them.
        pairs_each: How many pairs there must be of each pattern by name, or None not to count.

    Returns:
        One line for each fault; empty when all is well.
    """
    more = others or {}
    faults = [*_label_faults(layouts, pairs), *_partner_faults(layouts)]
    faults += _count_faults(layouts, pairs_each) if pairs_each is not None else ()
    for rings in (footprints, *more.values()):
        faults += _mirror_faults(rings)
    faults += turn_faults(layouts, turns_rad) if turns_rad else ()
    faults += mirror_faults(layouts) if mirrored else ()
    first = _shapes(footprints)
    further = {name: _shapes(rings) for name, rings in more.items()}
    for layout in layouts:
        laid = [
            _lay(placement, further.get(placement.pattern, first))
            for placement in layout.placements
            if _finite(placement)
        ]
        lost = [placement.label for placement in layout.placements if not _finite(placement)]
        faults += [f"{layout.name}: {label} stands at a place that is not a number" for label in lost]
        reach = max(spacing_mm, keep_clear_mm)
        found = [
            *blank_faults(layout, laid, margin_mm=margin_mm, reach_mm=reach),
            *_gap_faults(laid, spacing_mm),
            *(_apart_faults(laid, spacing_mm) if adjacent else ()),
        ]
        faults += [f"{layout.name}: {fault}" for fault in found]
    return tuple(faults)


def _shapes(footprints: Mapping[Side, Ring]) -> dict[Side, tuple[shapely.Polygon, shapely.Polygon]]:
    """Outlines flattened coarsely and finely."""
    return {
        side: (shapely.Polygon(ring.flatten(COARSE_MM)), shapely.Polygon(ring.flatten(FINE_MM)))
        for side, ring in footprints.items()
    }


def _partner_faults(layouts: Sequence[SheetLayout]) -> Iterator[str]:
    """Partners that are not of one pattern."""
    for layout in layouts:
        patterns: dict[str, str] = {}
        for placement in layout.placements:
            first = patterns.setdefault(placement.label[:-1], placement.pattern)
            if first != placement.pattern:
                yield f"{layout.name}: {placement.label} is of {placement.pattern}, its partner of {first}"


def _count_faults(layouts: Sequence[SheetLayout], pairs_each: Mapping[str, int]) -> Iterator[str]:
    """Patterns of which there are too few or too many scales, or none are due."""
    found = Counter(placement.pattern for layout in layouts for placement in layout.placements)
    for name in sorted({*found, *pairs_each}):
        due = 2 * pairs_each.get(name, 0)
        if found[name] != due:
            yield f"{found[name]} scales of {name} are placed, {due} are due"


def _finite(placement: Placement) -> bool:
    """Whether a placement's numbers are numbers."""
    return all(map(math.isfinite, (placement.x_mm, placement.y_mm, placement.angle_rad)))


def _lay(placement: Placement, shapes: Mapping[Side, tuple[shapely.Polygon, shapely.Polygon]]) -> Laid:
    """Turn a footprint about its own origin and move it."""
    coarse, fine = (
        affinity.translate(
            affinity.rotate(shape, placement.angle_rad, origin=(0.0, 0.0), use_radians=True),
            placement.x_mm,
            placement.y_mm,
        )
        for shape in shapes[placement.side]
    )
    return Laid(label=placement.label, coarse=coarse, fine=fine)


def _gap_faults(laid: Sequence[Laid], spacing_mm: float) -> Iterator[str]:
    """Scales too close to one another, or on one another."""
    if len(laid) < 2:
        return
    shapes = [scale.coarse for scale in laid]
    near = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=spacing_mm + 1.0)
    for first, second in sorted((int(i), int(j)) for i, j in near.T if i < j):
        one, other = laid[first], laid[second]
        if overlap(one, other):
            yield f"{one.label} and {other.label} overlap"
        elif too_close(one, other, spacing_mm):
            gap = shapely.distance(one.fine, other.fine)
            yield f"{one.label} and {other.label} are {gap:.4f} mm apart, {spacing_mm:.4f} mm are due"


def _apart_faults(laid: Sequence[Laid], spacing_mm: float) -> Iterator[str]:
    """Partners that do not lie side by side."""
    here = {scale.label: scale for scale in laid}
    for label, left in here.items():
        right = here.get(f"{label[:-1]}R")
        if not label.endswith("L") or right is None:
            continue
        gap = float(shapely.distance(left.coarse, right.coarse))
        if gap > side_by_side_mm(spacing_mm) + _ROUNDING_MM:
            yield f"{label} and {right.label} are {gap:.4f} mm apart, which is not side by side"


def _label_faults(layouts: Sequence[SheetLayout], pairs: int | None) -> Iterator[str]:
    """Labels used twice, of the wrong side, or without their partner on the same blank."""
    names = [placement.label for layout in layouts for placement in layout.placements]
    yield from (
        f"label {name} is used {names.count(name)} times"
        for name in sorted(set(names))
        if names.count(name) > 1
    )
    for layout in layouts:
        here = {placement.label for placement in layout.placements}
        for placement in layout.placements:
            match = _LABEL.fullmatch(placement.label)
            if match is None:
                yield f"{layout.name}: label {placement.label!r} is not a number and L or R"
                continue
            if _SIDES[match[2]] != placement.side:
                yield f"{layout.name}: {placement.label} is a {placement.side} scale"
            partner = match[1] + ("R" if match[2] == "L" else "L")
            if partner not in here:
                yield f"{layout.name}: {placement.label} has no {partner} beside it"
    if pairs is not None and len(names) != 2 * pairs:
        yield f"{len(names)} scales are placed, {2 * pairs} are due"


def _mirror_faults(footprints: Mapping[Side, Ring]) -> Iterator[str]:
    """A right footprint that is not the left one mirrored across its own x axis."""
    left, right = (shapely.Polygon(footprints[side].flatten(COARSE_MM)) for side in ("left", "right"))
    mirrored = affinity.scale(left, yfact=-1.0, origin=(0.0, 0.0))
    # The band that two flattenings of one curve can differ by, both ways.
    limit = 2 * COARSE_MM * float(left.length) + SAME_MM2
    if shapely.symmetric_difference(mirrored, right).area > limit:
        yield "the right footprint is not the left one mirrored across its x axis"
