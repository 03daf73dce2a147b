"""The bill of materials: what to buy, what to cut it to, what it costs and what a pair will weigh.

Amounts are for all pairs of the job, spares included. What is bought is counted in whole sheets, rods and
pieces; the left-over is named in the note. A blank at hand, a remnant or one that was drawn, costs nothing
and takes no sheets and no glue. Tools and what keeps you safe are listed and not counted into the cost.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, replace

from scalegen.design import Scale
from scalegen.machining.stages import Stage
from scalegen.model import BomRow, JobSpec, Shop
from scalegen.report.adhesive import GlueJob, adhesive_net_g, glue_jobs, lot_words, mix_words
from scalegen.report.bom_cost import cost_rows
from scalegen.report.bom_hardware import cut_rows, hardware_rows
from scalegen.report.bom_rows import (
    BOUGHT,
    Part,
    against_stock,
    bought_cost,
    missing_prices,
    priced,
    row,
    times,
)
from scalegen.report.bom_sheets import blank_rows, sheet_rows
from scalegen.report.bom_tools import abrasive_rows, safety_rows, tool_rows
from scalegen.report.bom_weight import finished_weight_g, rod_weight_g
from scalegen.report.finishing import left_ridge_mm
from scalegen.sheet.layout import SheetLayout, pair_count
from scalegen.shop.facing import Facing
from scalegen.units import format_length

__all__ = ("BOUGHT", "Part", "adhesive_net_g", "bill", "bill_of", "finished_weight_g", "rod_weight_g")

_KEY = "key both faces (about P120), wipe clean"


def bill(
    scale: Scale,
    spec: JobSpec,
    shop: Shop,
    layouts: Sequence[SheetLayout],
    volumes: Mapping[str, float],
    *,
    facing: Facing | None = None,
    stages: Sequence[Stage] = (),
) -> tuple[BomRow, ...]:
    """List all that a job of one pattern takes; see :func:`bill_of`.

    Args:
        scale: What is made.
        spec: How many pairs and spares, and the cutter.
        shop: Shop tables.
        layouts: Blanks of the job.
        volumes: Finished volume of one scale by the name of its span, mm3, holes taken out; empty leaves
            the weight out.
        facing: What facing and flattening leave of the blank; None goes by the layers as they should be.
        stages: Stages of the job, for their cutters.

    Raises:
        ScalegenError: ``volumes`` names a span that the scale does not have.
    """
    part = Part(
        scale=scale,
        pairs=spec.pairs,
        spares=spec.spares,
        volumes_mm3=volumes,
        facing=facing,
        ridge_mm=left_ridge_mm(stages),
    )
    return bill_of((part,), spec.cutter, shop, layouts, stages)


def bill_of(
    parts: Sequence[Part],
    cutter: str,
    shop: Shop,
    layouts: Sequence[SheetLayout],
    stages: Sequence[Stage] = (),
) -> tuple[BomRow, ...]:
    """List all that a job takes.

    Args:
        parts: Its patterns, one at least; all are cut from one kind of blank.
        cutter: What goes round the parts.
        shop: Shop tables.
        layouts: Blanks of the job.
        stages: Stages of the job, for their cutters.

    Returns:
        Rows in the order of the sections "sheets", "blanks", "adhesive", "hardware" (to buy), "cut list",
        "abrasives", "tape", "tools", "safety", "weight", "cost" (for the batch and for a pair, as
        quantities) and "total". ``cost`` is None where there is no price, or nothing to pay for.

    Raises:
        ScalegenError: Volumes name a span that the scale does not have.
    """
    rows = [
        *against_stock(
            [*_material_rows(parts, shop, layouts), *tool_rows(parts, cutter, shop, stages)], shop
        ),
        *safety_rows(parts[0].scale, shop, _lots(parts, shop, layouts)),
        *_weight_rows(parts),
    ]
    needed = _without_spares(parts, layouts)
    bare = None
    if needed is not None:
        bare = _material_rows([replace(part, spares=0) for part in parts], shop, needed)
    rows += cost_rows(rows, bare, sum(part.pairs for part in parts), shop)
    return (*rows, _total_row(rows, shop.rules.currency))


def _material_rows(parts: Sequence[Part], shop: Shop, layouts: Sequence[SheetLayout]) -> list[BomRow]:
    """All that is bought, and how it is cut and mixed."""
    return [
        *sheet_rows(parts[0].scale, shop, layouts),
        *blank_rows(parts, layouts),
        *_adhesive_rows(parts, shop, layouts),
        *hardware_rows(parts, shop),
        *cut_rows(parts),
        *abrasive_rows(parts, shop),
        _tape_row(shop, layouts),
    ]


def _without_spares(parts: Sequence[Part], layouts: Sequence[SheetLayout]) -> list[SheetLayout] | None:
    """Blanks at hand, then the fullest, as many as the pairs need; None where there are no spares.

    Any blank of a job of one pattern may stay out; of a job of several all are kept.
    """
    if not any(part.spares for part in parts):
        return None
    if len(parts) > 1 or not pair_count(layouts):
        return list(layouts)
    kept: list[SheetLayout] = []
    for layout in sorted(layouts, key=lambda each: (not each.at_hand, -pair_count([each]))):
        if pair_count(kept) >= parts[0].pairs:
            break
        kept.append(layout)
    return kept


# ------------------------------------------------------------------------------------------ adhesive


def _glue(parts: Sequence[Part], shop: Shop, layouts: Sequence[SheetLayout]) -> Iterator[tuple[GlueJob, str]]:
    """All glue of a job: once for its blanks, and for the tangs of each pattern, with its name."""
    for number, part in enumerate(parts):
        for job in glue_jobs(part.scale, shop, layouts, part.cut):
            if job.use == "glue-up" or number == 0:
                named = len(parts) > 1 and job.use == "glue-up"
                yield job, f" ({part.scale.pattern.name})" if named else ""


def _lots(parts: Sequence[Part], shop: Shop, layouts: Sequence[SheetLayout]) -> int:
    """How many times glue is mixed."""
    return sum(job.lots.count if job.lots else 1 for job, _ in _glue(parts, shop, layouts))


def _adhesive_rows(parts: Sequence[Part], shop: Shop, layouts: Sequence[SheetLayout]) -> Iterator[BomRow]:
    """Glue for the stack, and glue between scales and tang."""
    units = parts[0].scale.pattern.units
    for job, named in _glue(parts, shop, layouts):
        item = f"{job.use}: {job.name}{named}"
        film = f", film {format_length(job.film_mm, units)}" if job.film_mm else ""
        place = "in the stack" if job.use == "lamination" else "on the tang"
        each = job.joints // job.pieces if job.pieces else 0
        joints = (
            f"{each} × {job.pieces} joints {place}"
            if job.use == "lamination"
            else f"{job.joints} joints {place}"
        )
        if job.glue is None:
            yield row("adhesive", item, (job.net_g, "g"), f"{joints}{film}; not in the adhesive table")
            continue
        stays = f"{job.net_g:.2f} g stay, mix {job.glue.waste:g} times that"
        mix = mix_words(job.mix, job.glue) or "mix by the label's ratio"
        words = [f"{joints}{film}", stays, mix, lot_words(job, units), _KEY]
        price = times(job.glue.price_per_g, job.mix.mixed_g)
        details = {
            "name": job.name,
            "area_mm2": job.area_mm2,
            "net_g": job.net_g,
            **asdict(job.mix),
            "lots": asdict(job.lots) if job.lots else None,
        }
        note = "; ".join(filter(None, words))
        yield priced("adhesive", item, (job.mix.mixed_g, "g"), note, price=price, details=details)


# ---------------------------------------------------------------------------------- tape, weight, total


def _tape_row(shop: Shop, layouts: Sequence[SheetLayout]) -> BomRow:
    """Tape that holds the blanks down."""
    area_cm2 = math.fsum(layout.area_mm2 for layout in layouts) * shop.rules.tape_waste / 100
    note = f"blanks × {shop.rules.tape_waste:g}"
    price = shop.rules.tape_price_m2
    if price is None:
        note += "; the tables keep no price for tape"
    details = {"area_mm2": area_cm2 * 100}
    cost = times(price, area_cm2 / 10_000)
    return row("tape", "double-sided tape", (area_cm2, "cm2"), note, cost=cost, details=details)


def _weight_rows(parts: Sequence[Part]) -> Iterator[BomRow]:
    """Weight of a finished pair."""
    note = "both scales and the pins flush with their faces; without tang and glue-up"
    for part in parts:
        if part.volumes_mm3:
            item = "finished pair" if len(parts) == 1 else f"finished pair of {part.scale.pattern.name}"
            yield row("weight", item, (finished_weight_g(part.scale, part.volumes_mm3), "g"), note)


def _total_row(rows: Sequence[BomRow], currency: str) -> BomRow:
    """Sum of all known costs, and what is missing from it."""
    missing = missing_prices(rows)
    note = f"{currency}, whole sheets and rods, without tools"
    if missing:
        note += f"; not in it, for want of a price: {', '.join(missing)}"
    return row("total", "materials", (1, "job"), note, cost=bought_cost(rows))
