"""Random jobs through the dry run: random outlines, faces, edges, stacks, cutters, layouts, tabs.

Held against brute force: the pad is whole after every stage, no part is cut into, the map of zeroes is what
the heights say, and in a small window every stage leaves what the definition of a cutter says, cell by cell.
"""

import sys
import time
from collections import Counter
from dataclasses import dataclass

import numpy as np

from benchmarks.outlines import KINDS
from benchmarks.robustness import random_scale
from scalegen.design import Scale, design
from scalegen.errors import ScalegenError
from scalegen.export.drawings import footprints
from scalegen.machining.bridges import TabsAsked, around_mm, plan_bridges
from scalegen.machining.cuts import plan_cuts, rehearse
from scalegen.machining.dry_run import Cut, DryRun, pad_untouched
from scalegen.machining.hold import freed, holds
from scalegen.machining.stages import plan_stages
from scalegen.machining.target import target_of
from scalegen.machining.touch_off import lowest_mm, touch_off_map
from scalegen.model import Corner, JobSpec, Pad, Shop
from scalegen.outline.ring import FloatArray, Ring
from scalegen.sheet.layout import SheetLayout
from scalegen.sheet.rows import arrange
from scalegen.shop import load_shop, resolve_stack

RIGHT, REFUSED, WRONG = "right", "refused", "WRONG"
_CUTTERS = ("flat 1/8in", "flat 3mm", "flat 6mm")
_CORNERS: tuple[Corner, ...] = ("lower-left", "lower-right", "upper-left", "upper-right")
_WINDOW = 14
_SAME_MM = 2e-4


@dataclass(frozen=True, kw_only=True, eq=False)
class _Job:
    scale: Scale
    layout: SheetLayout
    run: DryRun
    cuts: tuple[Cut, ...]


def run(count: int, first: int = 0) -> str:
    """Try so many jobs, and tell what became of them.

    Args:
        count: How many.
        first: Number of the first; the same number is the same job.
    """
    shop, verdicts, told = load_shop(None), Counter[str](), Counter[str]()
    wrong, start, cells = [], time.process_time(), 0
    for seed in range(first, first + count):
        try:
            job = _random_job(seed, shop)
        except ScalegenError as error:
            verdicts[REFUSED] += 1
            told[error.message[:60]] += 1
            continue
        faults = _faults(job, seed)
        cells += job.run.blank.heights_mm.size * len(job.cuts)
        verdicts[WRONG if faults else RIGHT] += 1
        if faults:
            wrong.append(f"{seed}: {'; '.join(faults)}")
            print(wrong[-1], file=sys.stderr, flush=True)
    spent = time.process_time() - start
    tried = ", ".join(f"{verdicts[word]} {word}" for word in (RIGHT, REFUSED, WRONG))
    lines = [
        f"{count} jobs from {first}: {tried}; {cells / 1e6:.0f} million cells cut, {spent:.0f} s",
        *(f"  refused {many} times: {said}" for said, many in told.most_common(8)),
        *wrong,
    ]
    return "\n".join(lines)


def _random_job(seed: int, shop: Shop) -> _Job:
    random = np.random.default_rng([seed, 77])
    kind = sorted(KINDS)[seed % len(KINDS)]
    scale = random_scale(kind, seed, shaped=bool(random.random() < 0.7))
    # A stack of another thickness: some of it faced off, or all of it used.
    used = float(random.choice([6.35, 6.5, 6.9, 7.4]))
    outline = Ring.from_rows(scale.pattern.outline.rows)
    scale = design(scale.pattern, outline, resolve_stack(shop, "paper-six", (used,)), shop)
    cutter = str(random.choice(_CUTTERS))
    spec = JobSpec(pairs=int(random.integers(1, 3)), cutter=cutter, measured_mm=(used,))
    wide = shop.cutters[cutter].diameter_mm
    size = float(random.uniform(6, 20))
    rings = footprints(scale)
    x0, y0, x1, y1 = scale.footprint.bounds_mm
    layout = arrange(
        rings,
        pattern="random",
        pairs=spec.pairs,
        length_mm=x1 - x0 + float(random.uniform(30, 60)),
        width_mm=2 * spec.pairs * (y1 - y0 + 6) + float(random.uniform(15, 40)),
        margin_mm=float(random.uniform(1, 8)),
        spacing_mm=wide + float(random.uniform(0.2, 3)),
        pad=Pad(corner=_CORNERS[int(random.integers(4))], width_mm=size, height_mm=size),
        origin="lower-left",
        keep_clear_mm=wide + 1.0,
    )[0]
    stages = plan_stages(scale, spec, shop)
    target = target_of(scale, layout, cell_mm=float(random.choice([0.4, 0.5])))
    asked = TabsAsked(count=int(random.integers(0, 4)))
    tabs = plan_bridges(scale, layout, asked, around_mm(stages)).tabs
    cuts = plan_cuts(scale, layout, target, stages, tabs=tabs)
    return _Job(
        scale=scale, layout=layout, run=rehearse(target, cuts, scale.stack.layers, tabs=tabs), cuts=cuts
    )


def _faults(job: _Job, seed: int) -> list[str]:
    run, target, faults = job.run, job.run.target, list[str]()
    random = np.random.default_rng([seed, 78])
    for number, (shot, cut) in enumerate(zip(run.shots, job.cuts, strict=True), 1):
        if not pad_untouched(shot, target.blank_mm) or shot.pad_ring_mm < 0.2:
            faults.append(f"stage {number}: the pad is cut")
        before = np.maximum(run.before(number).heights_mm, 0.0)
        errors = touch_off_map(number, run)
        blank = run.blank.heights_mm > 0
        if np.abs(errors[blank] - (target.blank_mm - before[blank])).max() > _SAME_MM:
            faults.append(f"stage {number}: the map of zeroes is off")
        faults += [f"stage {number}: {said}" for said in _window_faults(job, number, cut, random)]
    # In the trim a swell may rise above the blank: there the blank itself is too low, and no cutter.
    wanted = np.minimum(target.field.heights_mm, target.blank_mm)
    gouged = (wanted - run.last.heights_mm)[target.solid]
    if gouged.size and gouged.max() > _SAME_MM:
        faults.append(f"a part is cut {gouged.max():.3f} too deep")
    after = freed(run)
    for part in holds(run)[-1].parts if after is None else after.parts:
        if not part.is_loose:
            faults.append(f"{part.label} is not free, joined to {part.joined}")
    return faults


def _window_faults(job: _Job, number: int, cut: Cut, random: np.random.Generator) -> list[str]:
    """A stage in a small window, near a part's edge, straight from the definition; then zeroed wrongly."""
    run, field = job.run, job.run.blank
    if cut.surface_mm is None or cut.where is None:
        return []
    swept = run.shots[number - 1].swept_mm
    edge = np.argwhere(np.isfinite(swept))
    if not len(edge):
        return []
    row, col = edge[int(random.integers(len(edge)))].tolist()
    r = int(cut.shape.radius_mm / field.cell_mm + 1e-9)
    rows = slice(max(0, row - _WINDOW), row + _WINDOW)
    cols = slice(max(0, col - _WINDOW), col + _WINDOW)
    want = _by_hand(cut, field.cell_mm, r, (rows, cols))
    got = swept[rows, cols]
    both = np.isfinite(want) == np.isfinite(got)
    there = np.isfinite(want) & np.isfinite(got)
    faults = []
    if not both.all() or (there.any() and np.abs(want[there] - got[there]).max() > _SAME_MM):
        faults.append(f"it leaves other heights than the definition near row {row}, column {col}")
    error = float(random.uniform(0.1, 2.0))
    before = run.before(number)
    where = np.zeros(field.shape, dtype=np.bool_)
    where[rows, cols] = True
    sunk = np.minimum(before.heights_mm[rows, cols], want - error)
    if abs(lowest_mm(before, swept, where, error) - float(sunk.min())) > _SAME_MM:
        faults.append(f"zeroed {error:.2f} too low it leaves another lowest place than the definition")
    return faults


def _by_hand(cut: Cut, cell: float, r: int, window: tuple[slice, slice]) -> FloatArray:
    """What a cutter leaves in a window: the least over all places of its axis of tip and envelope."""
    assert cut.surface_mm is not None  # noqa: S101 - stages of plunges do not come here
    assert cut.where is not None  # noqa: S101 - as above
    k = np.arange(-r, r + 1)
    rise = cut.shape.rise_mm(cell * np.hypot(k[:, None], k[None]))
    size = cut.surface_mm.shape
    rows, cols = range(*window[0].indices(size[0])), range(*window[1].indices(size[1]))
    left = np.full((len(rows), len(cols)), np.inf)
    padded = np.pad(cut.surface_mm.astype(np.float64), r, constant_values=-1e9)
    top, bottom = max(0, rows[0] - r), min(size[0], rows[-1] + r + 1)
    start, stop = max(0, cols[0] - r), min(size[1], cols[-1] + r + 1)
    for y, x in np.argwhere(cut.where[top:bottom, start:stop]) + np.array([top, start]):
        tip = float((padded[y : y + 2 * r + 1, x : x + 2 * r + 1] - rise).max())
        dy, dx = np.array(rows) - y + r, np.array(cols) - x + r
        oy, ox = (dy >= 0) & (dy <= 2 * r), (dx >= 0) & (dx <= 2 * r)
        part = tip + rise[np.ix_(dy[oy], dx[ox])]
        spot = np.ix_(np.flatnonzero(oy), np.flatnonzero(ox))
        left[spot] = np.minimum(left[spot], part)
    return left
