"""``python -m benchmarks nest jobs | scaling | open PATH``: the arrangement measured."""

import sys
import time
from dataclasses import dataclass

import numpy as np
import shapely

from benchmarks.nest_jobs import JOBS, MARGIN_MM, PAD_MM, SPACING_MM, Job
from scalegen.nest.records import Effort, Result
from scalegen.nest.search import search
from scalegen.sheet.grid import Field, grid_spots
from scalegen.sheet.grid import Shape as BoxShape

USAGE = (
    "usage: python -m benchmarks nest [jobs [EFFORT] [--spyrrow [SECONDS]] | scaling | open PATH [NAME...]]"
)


def run(words: list[str]) -> str:
    """Do what the words ask for.

    Args:
        words: What stands after ``nest``.

    Returns:
        A table.
    """
    what = words[0] if words else "jobs"
    if what == "jobs":
        yardstick = None
        if "--spyrrow" in words:
            at = words.index("--spyrrow")
            yardstick = int(words[at + 1]) if len(words) > at + 1 else 60
            words = words[:at]
        return jobs(words[1] if len(words) > 1 else "normal", yardstick)
    if what == "scaling":
        return scaling()
    if what == "open" and len(words) > 1:
        from benchmarks import nest_open

        return nest_open.run(words[1:])
    raise SystemExit(USAGE)


def jobs(effort: Effort, yardstick_s: int | None) -> str:
    """The job table: pairs found beside the proven limit, the box grid and perhaps the yardstick.

    Args:
        effort: How hard to try.
        yardstick_s: Seconds for each run of the yardstick; None leaves it out.

    Returns:
        The table.
    """
    head = f"{'outline':<9}{'board':<9}{'turns':<9}{'pairing':<10} pairs limit  boxes   moves   cpu s"
    lines = [head + ("  yardstick" if yardstick_s else "")]
    ratios, behind = [], 0
    for job in JOBS:
        begin = time.process_time()
        result = search(job.bodies(), job.boards(), shapes=job.shapes, spacing_mm=SPACING_MM, effort=effort)
        seconds = time.process_time() - begin
        boxes = box_grid(job)
        if boxes:
            ratios.append(result.found / boxes)
        line = (
            f"{job.outline:<9}{job.board:<9}{job.turns:<9}{job.pairing:<10} {result.found:5d} "
            f"{result.bound.groups:5d}  {'-' if boxes is None else boxes:>5} {result.moves:7d} {seconds:7.2f}"
        )
        if yardstick_s:
            other = yardstick(job, result, yardstick_s)
            behind += other is not None and other > result.found
            line += f"  {'-' if other is None else other:>9}"
        lines.append(line)
        print(line, file=sys.stderr, flush=True)
    lines.append(f"against the box grid: {float(np.mean(ratios)):.2f} times as many pairs on average")
    if yardstick_s:
        lines.append(f"jobs on which the yardstick has more: {behind}")
    return "\n".join(lines)


def box_grid(job: Job) -> int | None:
    """Pairs in the plain grid of boxes, on rectangular sheets."""
    if "x" not in job.board:
        return None
    length, width = (float(side) for side in job.board.split("x"))
    left, right = (
        BoxShape(side=side, bounds_mm=shapely.Polygon(shape.points_mm).bounds, points_mm=shape.points_mm)
        for side, shape in zip(("left", "right"), job.shapes, strict=True)
    )
    field = Field(
        length_mm=length - 2 * MARGIN_MM,
        width_mm=width - 2 * MARGIN_MM,
        spacing_mm=SPACING_MM,
        pad_length_mm=PAD_MM,
        pad_width_mm=PAD_MM,
        pad_gap_mm=SPACING_MM,
        pad_right=False,
    )
    return len(grid_spots(left, right, field)) // 2


def yardstick(job: Job, result: Result, seconds: int) -> int | None:
    """Most pairs, from one more than ours downwards, that a free strip packer gets onto the sheet.

    It knows strips only: the pad is handed over as one more part that may lie anywhere, which is easier than
    a corner. Jobs on remnants and with partners held together are left out.
    """
    if "x" not in job.board or job.pairing != "free":
        return None
    length, width = (float(side) - 2 * MARGIN_MM for side in job.board.split("x"))
    for pairs in range(result.found + 1, 0, -1):
        if _strip_mm(job, pairs, width, seconds) <= length + 1e-6:
            return pairs
    return 0


@dataclass(frozen=True, kw_only=True)
class _Item:
    """One kind of part for the strip packer."""

    key: str
    points: list[tuple[float, float]]
    count: int


def _strip_mm(job: Job, pairs: int, width_mm: float, seconds: int) -> float:
    """Length of strip the yardstick needs; the spacing it keeps to the strip's edges is given back."""
    import spyrrow

    angles = (
        None if job.turns == "free" else [0.0, 180.0] if job.turns == "half" else [0.0, 90.0, 180.0, 270.0]
    )
    items = [
        _Item(key=shape.key, points=[(float(x), float(y)) for x, y in shape.points_mm], count=pairs)
        for shape in job.shapes
    ]
    pad = [(0.0, 0.0), (PAD_MM, 0.0), (PAD_MM, PAD_MM), (0.0, PAD_MM)]
    packed = [spyrrow.Item(item.key, item.points, item.count, angles) for item in items]
    packed.append(spyrrow.Item("pad", pad, 1, [0.0]))
    strip = spyrrow.StripPackingInstance("sheet", width_mm + 2 * SPACING_MM, packed)
    config = spyrrow.StripPackingConfig(
        total_computation_time=seconds, num_workers=1, seed=1, min_items_separation=SPACING_MM
    )
    return float(strip.solve(config).width) - 2 * SPACING_MM


def scaling() -> str:
    """Cost from 2 to 200 scales: sheets that grow with the work.

    Returns:
        The table.
    """
    lines = ["scales  boards  found    cpu s"]
    job = JOBS[0]
    for scales, boards in ((2, 1), (6, 1), (10, 1), (20, 2), (40, 4), (80, 8), (200, 20)):
        begin = time.process_time()
        result = search(
            job.bodies(scales // 2),
            job.boards(boards),
            shapes=job.shapes,
            spacing_mm=SPACING_MM,
            effort="normal",
        )
        seconds = time.process_time() - begin
        lines.append(f"{scales:6d}  {len(result.boards):6d}  {2 * result.found:5d}  {seconds:7.2f}")
    return "\n".join(lines)
