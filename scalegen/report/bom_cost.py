"""What a batch and a pair cost, with spares and without, and what is still to be bought."""

from collections.abc import Iterator, Sequence

from scalegen.model import BomRow, Shop
from scalegen.report.bom_rows import bought_cost, row, short_cost


def cost_rows(rows: Sequence[BomRow], bare: Sequence[BomRow] | None, pairs: int, shop: Shop) -> list[BomRow]:
    """Costs as quantities in the shop's currency.

    Args:
        rows: The bill, spares included.
        bare: What the same job takes without its spares; None where it has none.
        pairs: Pairs asked for, spares not counted.
        shop: For the currency.

    Returns:
        Rows for the batch and for a pair; none where nothing has a price. A pair's part is the batch's cost
        by the pairs asked for: spares are paid for by the others.
    """
    return list(_cost_rows(rows, bare, pairs, shop.rules.currency))


def _cost_rows(
    rows: Sequence[BomRow], bare: Sequence[BomRow] | None, pairs: int, currency: str
) -> Iterator[BomRow]:
    whole = "whole sheets and rods"
    total, alone = bought_cost(rows), None if bare is None else bought_cost(bare)
    if total is None:
        return
    spares = "" if bare is None else ", spares included"
    yield _cost(f"batch{spares}", total, currency, whole)
    if alone is not None:
        yield _cost("batch without spares", alone, currency, f"{whole}, on as few blanks as are needed then")
    if pairs > 0:
        share = f"the batch's cost by {pairs} pair{'s' if pairs > 1 else ''}"
        yield _cost(f"pair{spares}", total / pairs, currency, share)
        if alone is not None:
            yield _cost("pair without spares", alone / pairs, currency, share)
    still = short_cost(rows)
    if still is not None:
        yield _cost("still to buy", still, currency, "what is short, and what nobody keeps count of")


def _cost(item: str, amount: float, currency: str, note: str) -> BomRow:
    return row("cost", item, (round(amount, 2), currency), note)
