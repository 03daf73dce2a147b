"""Rows of a bill: made from their columns, held against what is on hand, summed up."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from scalegen.design import Scale
from scalegen.model import BomRow, Shop, Units
from scalegen.shop.facing import Facing
from scalegen.units import format_length

BOUGHT: Final = ("sheets", "adhesive", "hardware", "abrasives", "tape")
"""Sections whose costs make the total."""

NO_PRICE: Final = "no price in the tables"


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """One pattern's part of a job.

    Attributes:
        scale: What is made.
        pairs: How many pairs of it.
        spares: Further pairs against mishaps.
        volumes_mm3: Finished volume of one scale by the name of its span, holes taken out; empty leaves the
            weight out.
        facing: What facing and flattening leave of the blank, or None.
        ridge_mm: Height of the ridges its cutters leave; None for the shop's rule.
    """

    scale: Scale
    pairs: int
    spares: int = 0
    volumes_mm3: Mapping[str, float]
    facing: Facing | None = None
    ridge_mm: float | None = None

    @property
    def cut(self) -> int:
        """Pairs that are cut."""
        return self.pairs + self.spares


def row(
    section: str,
    item: str,
    amount: tuple[float, str],
    note: str,
    *,
    cost: float | None = None,
    details: Mapping[str, Any] | None = None,
) -> BomRow:
    """A row from its columns; the amount is a quantity and its unit."""
    quantity, unit = amount
    return BomRow(
        section=section,
        item=item,
        quantity=float(quantity),
        unit=unit,
        note=note,
        cost=cost,
        details=dict(details or {}),
    )


def priced(
    section: str,
    item: str,
    amount: tuple[float, str],
    note: str,
    *,
    price: float | None,
    details: Mapping[str, Any] | None = None,
) -> BomRow:
    """A row to buy; the price is that of all of it."""
    text = note if price is not None else f"{note}; {NO_PRICE}"
    return row(section, item, amount, text, cost=price, details=details)


def times(price: float | None, number: float) -> float | None:
    """The price of so many, or None where there is none."""
    return None if price is None else price * number


def size(length_mm: float, width_mm: float, units: Units) -> str:
    """Length and width in the user's unit."""
    return f"{format_length(length_mm, units)} × {format_length(width_mm, units)}"


def against_stock(rows: Iterable[BomRow], shop: Shop) -> tuple[BomRow, ...]:
    """The same rows with what is on hand and what is short.

    What a row takes is not there for the rows after it. Rows say by ``details["name"]`` which row of the
    tables they take from.
    """
    left = _on_hand(shop)
    held = []
    for each in rows:
        key = (each.section, str(each.details.get("name", "")))
        there = left.get(key)
        if there is None:
            held.append(each)
            continue
        short = max(0.0, each.quantity - there)
        left[key] = max(0.0, there - each.quantity)
        held.append(replace(each, on_hand=there, short=short))
    return tuple(held)


def _on_hand(shop: Shop) -> dict[tuple[str, str], float]:
    """What the tables count, by section and name."""
    counted = {
        "sheets": {name: each.on_hand for name, each in shop.sheets.items()},
        "adhesive": {name: each.on_hand_g for name, each in shop.adhesives.items()},
        "hardware": {name: each.on_hand for name, each in shop.hardware.items()},
        "abrasives": {name: each.on_hand for name, each in shop.abrasives.items()},
        "tools": {name: each.on_hand for name, each in shop.cutters.items()},
    }
    return {
        (section, name): number
        for section, table in counted.items()
        for name, number in table.items()
        if number is not None
    }


def bought_cost(rows: Iterable[BomRow]) -> float | None:
    """Sum of what is priced among what is bought; None where nothing is."""
    costs = [each.cost for each in rows if each.section in BOUGHT and each.cost is not None]
    return math.fsum(costs) if costs else None


def short_cost(rows: Iterable[BomRow]) -> float | None:
    """What has still to be bought, as far as it is priced; None where nobody keeps count of anything.

    What nobody keeps count of is counted as still to be bought.
    """
    bought = [each for each in rows if each.section in BOUGHT]
    if all(each.short is None for each in bought):
        return None
    return math.fsum(
        each.cost if each.short is None else each.cost * each.short / each.quantity
        for each in bought
        if each.cost is not None and each.quantity > 0
    )


def missing_prices(rows: Sequence[BomRow]) -> list[str]:
    """What is bought and has no price."""
    return [each.item for each in rows if each.section in BOUGHT and each.cost is None]
