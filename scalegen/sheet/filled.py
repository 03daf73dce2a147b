"""Filled blanks from the places that were found: numbers, last sheets, what is proven, what partners cost."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from scalegen.model import Side
from scalegen.nest.records import Bound
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import Claim, Placement, SheetLayout
from scalegen.sheet.room import region_of
from scalegen.sheet.true_shapes import How, Put, fill_blank

Puts = tuple[Put, ...]


@dataclass(frozen=True, kw_only=True)
class Arranged:
    """Filled blanks, and what there is to say about them.

    Attributes:
        layouts: Blanks "sheet-1", "sheet-2"...
        free_pairs: Pairs on one blank where partners may lie apart, if that is more than was found; else 0.
        stopped: The search was ended before its time.
    """

    layouts: tuple[SheetLayout, ...]
    free_pairs: int = 0
    stopped: bool = False


def may_gain(each: int, pairs: int | None, most: int) -> bool:
    """Whether more pairs on a blank would be of use, as far as is known: more in all, or fewer blanks."""
    if pairs is None or each == 0:
        return each < most
    return blanks(pairs, each) > blanks(pairs, most)


def blanks(pairs: int, each: int) -> int:
    """How many blanks so many pairs take."""
    return -(-pairs // each)


def free_pairs(
    footprints: Mapping[Side, Ring],
    blank: SheetLayout,
    how: How,
    *,
    count: int,
    pairs: int | None,
    most: int,
    known: int | None = None,
) -> tuple[int, bool]:
    """Pairs on a blank with partners apart, by a quick search, 0 where that gains nothing; and if stopped.

    ``known`` is what such a search found already.
    """
    more, stopped = known, False
    if more is None:
        quick = replace(how, pairing="free", effort="quick")
        loose, stopped = fill_blank(footprints, region_of(blank), blank.spacing_mm, quick, most=most)
        more = len(loose) // 2
    gains = more > count and (pairs is None or blanks(pairs, more) < blanks(pairs, count))
    return (more if gains else 0), stopped


def sheets(
    blank: SheetLayout, pattern: str, full: Puts, plain: Sequence[Puts], pairs: int
) -> list[SheetLayout]:
    """Blanks as full as can be, and what is left over on a last one."""
    layouts: list[SheetLayout] = []
    done = 0
    while done < pairs:
        count = min(pairs - done, len(full) // 2)
        # Plain layouts leave the wider strip of a blank whole.
        puts = plain[count - 1] if count <= len(plain) else full[: 2 * count]
        placements = tuple(_placement(index, put, pattern, done) for index, put in enumerate(puts))
        layouts.append(replace(blank, name=f"sheet-{len(layouts) + 1}", placements=placements))
        done += count
    return layouts


def claim_of(limit: Bound, pairs: int | None, layouts: Sequence[SheetLayout], how: How) -> Claim:
    """What is proven about the whole."""
    if pairs is None:
        proven = len(layouts[0].placements) // 2 == limit.groups
    else:
        proven = len(layouts) == blanks(pairs, limit.groups)
    return Claim(
        bound_pairs=limit.groups,
        bound_reason=limit.reason,
        proven=proven,
        effort=how.effort,
        seed=how.seed,
    )


def _placement(index: int, put: Put, pattern: str, pairs_before: int) -> Placement:
    """A scale as it is written down, with its number."""
    return Placement(
        label=f"{pairs_before + index // 2 + 1}{'L' if put.side == 'left' else 'R'}",
        pattern=pattern,
        side=put.side,
        x_mm=put.x_mm,
        y_mm=put.y_mm,
        angle_rad=put.angle_rad,
    )
