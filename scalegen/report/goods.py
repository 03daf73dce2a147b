"""How a job is glued and finished, as the job record has it."""

from collections.abc import Sequence
from typing import Any

from scalegen.design import Scale
from scalegen.machining.stages import Stage
from scalegen.model import Shop
from scalegen.report.adhesive import glue_jobs, glue_records
from scalegen.report.finishing import finishing_plan, left_ridge_mm
from scalegen.report.finishing_views import finishing_record
from scalegen.sheet.layout import SheetLayout
from scalegen.shop.facing import Facing


def goods_record(
    scale: Scale,
    shop: Shop,
    layouts: Sequence[SheetLayout],
    *,
    pairs: int,
    facing: Facing | None = None,
    stages: Sequence[Stage] = (),
) -> dict[str, Any]:
    """The keys ``adhesive`` and ``finishing`` of a job record.

    Args:
        scale: What is made.
        shop: Shop tables.
        layouts: Blanks of the job.
        pairs: Pairs, spares included.
        facing: What facing and flattening leave of the blank.
        stages: Stages of the job, for the ridges they leave.
    """
    sanding = finishing_plan(scale, shop, pairs, facing, left_ridge_mm(stages))
    return {
        "adhesive": glue_records(glue_jobs(scale, shop, layouts, pairs)),
        "finishing": finishing_record(sanding),
    }
