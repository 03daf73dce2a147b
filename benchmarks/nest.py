"""``python -m benchmarks nest jobs | pairs | scaling | open PATH``: the arrangement measured."""

import sys
import time
from pathlib import Path

import numpy as np
import shapely

from benchmarks.nest_jobs import JOBS, MARGIN_MM, PAD_MM, SPACING_MM, Job
from benchmarks.nest_yardstick import SECONDS, Ledger, Verdict, measure, verdict
from scalegen.model import Side
from scalegen.model.job import TURNS as MODEL_TURNS
from scalegen.nest.lattice import counter_clockwise
from scalegen.nest.records import Effort
from scalegen.nest.search import search
from scalegen.outline.ring import Ring
from scalegen.sheet.grid import Field, grid_spots
from scalegen.sheet.grid import Shape as BoxShape
from scalegen.sheet.partners import adjacent_pairs
from scalegen.sheet.true_shapes import How

USAGE = (
    "usage: python -m benchmarks nest"
    " [jobs [EFFORT] [--yardstick FILE [SECONDS]] | pairs [EFFORT] | scaling | open PATH [NAME...]]"
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
        ledger, seconds = None, SECONDS
        if "--yardstick" in words:
            at = words.index("--yardstick")
            if len(words) <= at + 1:
                raise SystemExit(USAGE)
            ledger = Ledger(Path(words[at + 1]))
            seconds = int(words[at + 2]) if len(words) > at + 2 else SECONDS
            words = words[:at]
        return jobs(words[1] if len(words) > 1 else "normal", ledger, seconds)
    if what == "pairs":
        return pairs(words[1] if len(words) > 1 else "quick")
    if what == "scaling":
        return scaling()
    if what == "open" and len(words) > 1:
        from benchmarks import nest_open

        return nest_open.run(words[1:])
    raise SystemExit(USAGE)


def jobs(effort: Effort, ledger: Ledger | None, seconds: int) -> str:
    """The job table: pairs found beside the proven limit, the box grid and perhaps the yardstick.

    Args:
        effort: How hard to try.
        ledger: Where runs of the yardstick are kept; None leaves it out.
        seconds: Wall time for each run of the yardstick; 0 runs none and only sums up.

    Returns:
        The table.
    """
    head = f"{'outline':<9}{'board':<9}{'turns':<9}{'pairing':<10} pairs limit  boxes   moves   cpu s"
    rows: dict[Job, str] = {}
    ratios: list[float] = []
    found: dict[Job, tuple[int, int]] = {}
    for job in JOBS:
        begin = time.process_time()
        result = search(job.bodies(), job.boards(), shapes=job.shapes, spacing_mm=SPACING_MM, effort=effort)
        spent = time.process_time() - begin
        boxes = box_grid(job)
        if boxes:
            ratios.append(result.found / boxes)
        found[job] = result.found, result.bound.groups
        rows[job] = (
            f"{job.outline:<9}{job.board:<9}{job.turns:<9}{job.pairing:<10} {result.found:5d} "
            f"{result.bound.groups:5d}  {'-' if boxes is None else boxes:>5} {result.moves:7d} {spent:7.2f}"
        )
        print(rows[job], file=sys.stderr, flush=True)
    foot = [f"against the box grid: {float(np.mean(ratios)):.2f} times as many pairs on average"]
    if ledger is None:
        return "\n".join([head, *rows.values(), *foot])
    if seconds:
        measure(found, ledger, seconds)
    verdicts = {job: verdict(job, *counts, ledger) for job, counts in found.items()}
    behind = sum(one.more is not None for one in verdicts.values())
    lines = [f"{row}  {_told(verdicts[job])}" for job, row in rows.items()]
    easier = sum(one.more is None and one.easier is not None for one in verdicts.values())
    foot.append(f"jobs on which the yardstick has more: {behind}, and with pad or flaws elsewhere: {easier}")
    return "\n".join([f"{head}  yardstick", *lines, *foot])


def _told(verdict: Verdict) -> str:
    """What the yardstick did, in words."""
    if verdict.more is not None:
        return f"more: {verdict.more} pairs"
    if verdict.easier is not None:
        return f"{verdict.easier} pairs, but only with pad or flaws elsewhere"
    if verdict.note:
        return verdict.note
    lacks = "" if verdict.over_mm is None else f", {verdict.over_mm:.1f} mm too long at best"
    reached = {None: "", True: "; as many as ours: yes", False: "; as many as ours: no"}[verdict.reached]
    return f"one pair more: {verdict.runs} runs{lacks}{reached} ({verdict.cpu_s:.0f} s CPU)"


def pairs(effort: Effort) -> str:
    """What keeping partners together costs: pairs found each way on every job's sheet.

    Args:
        effort: How hard to try.

    Returns:
        The table.
    """
    ways = ("free", "adjacent", "mirrored")
    lines = [f"{'outline':<9}{'board':<9}{'turns':<9}{''.join(f'  {way}' for way in ways)}"]
    lost = dict.fromkeys(ways, 0)
    for key in dict.fromkeys((job.outline, job.board, job.turns) for job in JOBS):
        counts = {}
        limit = 0
        for way in ways:
            job = Job(outline=key[0], board=key[1], turns=key[2], pairing=way)
            if way == "adjacent":
                counts[way] = _beside(job, effort, limit)
                continue
            found = search(
                job.bodies(), job.boards(), shapes=job.shapes, spacing_mm=SPACING_MM, effort=effort
            )
            counts[way], limit = found.found, found.bound.groups
        for way in ways:
            lost[way] = max(lost[way], counts["free"] - counts[way])
        numbers = "".join(f"{counts[way]:{len(way) + 2}d}" for way in ways)
        lines.append(f"{key[0]:<9}{key[1]:<9}{key[2]:<9}{numbers}")
        print(lines[-1], file=sys.stderr, flush=True)
    lines.append(f"most lost on a sheet: adjacent {lost['adjacent']}, mirrored {lost['mirrored']}")
    return "\n".join(lines)


def _beside(job: Job, effort: Effort, most: int) -> int:
    """Pairs with partners next to each other, by every way there is to lay them so."""
    sides: tuple[Side, Side] = ("left", "right")
    footprints = {
        side: Ring.from_rows([(float(x), float(y), 0.0) for x, y in counter_clockwise(shape.points_mm)])
        for side, shape in zip(sides, job.shapes, strict=True)
    }
    turns = MODEL_TURNS["grain" if job.turns == "half" else job.turns]
    how = How(pairing="adjacent", turns_rad=turns, effort=effort)
    puts, _, _ = adjacent_pairs(footprints, job.region, SPACING_MM, how, most=most)
    return len(puts) // 2


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
