"""A free strip packer (spyrrow, MIT) as a yardstick: does it lay one pair more than ours on the same sheet?

It knows strips only, so every job is put to it as one, at least as easy as ours where that can be had:

* The sheet is a strip as wide as the sheet inside its margin. The spacing it keeps to the strip's edges is
  given back on all sides. It has more pairs than ours where what it needs is no longer than the sheet.
* The pad, flaws and what a remnant lacks of its box become parts that may lie anywhere, not only where they
  are. Each is made smaller by the spacing first: no part need keep that from the edge of the board.
* Where all went on a strip short enough, the scales are laid on the sheet as it is, pad and flaws where they
  are: that way round and mirrored, each pushed apart as our own search does it in its last step. Only what
  lies there soundly is the same work. (Mirrored pairs are pairs again, left and right changed over.)
* Partners held together are one part: both scales and all between them that nothing else could reach (a
  closing by the spacing). Of several forms it gets the tightest; ours may choose, so it has it harder there.

Its limit is wall time, and a busy machine gives it less than that: the CPU seconds it really got are kept.
"""

import itertools
import json
import math
import resource
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from benchmarks.nest_jobs import SPACING_MM, TURNS, Job
from scalegen.nest.hall import SCALES, hall
from scalegen.nest.layout import Rest, keeps_distance
from scalegen.nest.poses import placed
from scalegen.nest.settle import settle
from scalegen.outline.ring import FloatArray

SEEDS = (1, 2, 3, 4, 5)
SECONDS = 60
_CRUMB_MM2 = 1.0
_SIMPLE_MM = 0.002
_ROUNDS = 300
_HAIR_MM = 0.05  # it stays this far from what would be exact


@dataclass(frozen=True, kw_only=True)
class Run:
    """One run of the yardstick.

    Attributes:
        pairs: How many pairs it was given.
        seed: Its seed.
        needs_mm: Length of strip it needed; None where it gave up with an error.
        room_mm: Length of the sheet inside its margin.
        wall_s: How long it ran.
        cpu_s: How much of a processor it got.
        as_it_is: Whether all lies on the sheet with pad and flaws where they are too; None where that was not
            looked at.
    """

    pairs: int
    seed: int
    needs_mm: float | None
    room_mm: float
    wall_s: float
    cpu_s: float
    as_it_is: bool | None = None

    @property
    def fits(self) -> bool:
        """Whether all pairs are on a strip no longer than the sheet."""
        return self.needs_mm is not None and self.needs_mm <= self.room_mm + _HAIR_MM

    @property
    def counts(self) -> bool:
        """Whether all pairs are on the sheet as it is, or may be."""
        return self.fits and self.as_it_is is not False


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What all runs of a job come to.

    Attributes:
        more: Most pairs above ours that it laid; None where it laid none.
        easier: The same with pad or flaws elsewhere than on the sheet.
        runs: Runs with one pair more than ours, or with still more.
        reached: Whether it laid as many as ours; None where that was not tried.
        over_mm: What the best run with one pair more lacked; None without such a run or where it fitted.
        cpu_s: CPU seconds of all runs.
        note: Why there are no runs, where that is so.
    """

    more: int | None
    easier: int | None
    runs: int
    reached: bool | None
    over_mm: float | None
    cpu_s: float
    note: str


class Ledger:
    """Runs kept in a JSON file, written after each.

    Args:
        path: The file; it is made when it is not there.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._rows: dict[str, list[dict[str, float | int | None]]] = {}
        if path.exists():
            self._rows = json.loads(path.read_text(encoding="utf-8"))

    def runs(self, job: Job) -> list[Run]:
        """Runs of a job so far."""
        return [Run(**row) for row in self._rows.get(_name(job), [])]  # type: ignore[arg-type]  # as written

    def keep(self, job: Job, run: Run) -> None:
        """Add a run and write the file."""
        row = {name: getattr(run, name) for name in Run.__dataclass_fields__}
        self._rows.setdefault(_name(job), []).append(row)
        aside = self._path.with_suffix(".part")
        aside.write_text(json.dumps(self._rows, indent=1) + "\n", encoding="utf-8")
        aside.replace(self._path)


def _name(job: Job) -> str:
    """How a job is called in the file."""
    return f"{job.outline} {job.board} {job.turns} {job.pairing}"


def measure(found: Mapping[Job, tuple[int, int]], ledger: Ledger, seconds: int = SECONDS) -> None:
    """Run the yardstick wherever it can decide something: one pair more than ours first, seed by seed.

    Args:
        found: For each job the pairs of ours and the proven limit.
        ledger: Runs so far; new ones are added.
        seconds: Wall time for each run.
    """
    for job, pairs, seed in _todo(found, ledger):
        run = run_once(job, pairs, seed, seconds)
        ledger.keep(job, run)
        needs = "failed" if run.needs_mm is None else f"{run.needs_mm:.1f} of {run.room_mm:.1f} mm"
        print(
            f"{_name(job)}: {pairs} pairs, seed {seed}: {needs}, {run.cpu_s:.1f} s CPU of {run.wall_s:.1f} s",
            file=sys.stderr,
            flush=True,
        )


def _todo(found: Mapping[Job, tuple[int, int]], ledger: Ledger) -> Iterator[tuple[Job, int, int]]:
    """Job, pairs and seed of every run that is still worth it."""
    for above in (1, 0):
        for seed in SEEDS:
            for job, (ours, limit) in found.items():
                runs = ledger.runs(job)
                most = max((run.pairs for run in runs if run.counts), default=0)
                pairs = max(ours + above, most + 1) if above else ours
                known = any(run.pairs == pairs and run.seed == seed for run in runs)
                if pairs <= limit and not known and not (above == 0 and most >= ours):
                    yield job, pairs, seed


def verdict(job: Job, ours: int, limit: int, ledger: Ledger) -> Verdict:
    """Sum up the runs of a job.

    Args:
        job: The job.
        ours: Pairs of ours.
        limit: The proven limit.
        ledger: All runs.

    Returns:
        What they come to.
    """
    runs = ledger.runs(job)
    more = max((run.pairs for run in runs if run.counts and run.pairs > ours), default=None)
    easier = max((run.pairs for run in runs if run.fits and run.pairs > ours), default=None)
    above = [run for run in runs if run.pairs > ours]
    lacks = [run.needs_mm - run.room_mm for run in above if run.needs_mm is not None]
    level = [run for run in runs if run.pairs >= ours]
    tried = [run for run in level if run.pairs == ours or run.fits]
    return Verdict(
        more=more,
        easier=easier if easier != more else None,
        runs=len(above),
        reached=any(run.fits for run in tried) if tried else None,
        over_mm=min(lacks) if lacks and more is None else None,
        cpu_s=sum(run.cpu_s for run in runs),
        note="ours is the limit" if ours >= limit else "" if runs else "not run",
    )


def run_once(job: Job, pairs: int, seed: int, seconds: int) -> Run:
    """Give the yardstick a number of pairs and see how long a strip it needs.

    Args:
        job: The job.
        pairs: How many pairs.
        seed: Seed of the yardstick.
        seconds: Wall time.

    Returns:
        The run.
    """
    x0, y0, x1, y1 = job.region.bounds
    begin, cpu = time.monotonic(), _cpu_s()
    needs: float | None = None
    placed: list[Lain] = []
    try:
        needs, placed = _strip_mm(job, pairs, y1 - y0, seed, seconds)
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as error:  # noqa: BLE001  # its panics are no ordinary exceptions
        print(f"the yardstick failed: {error}", file=sys.stderr)
    run = Run(
        pairs=pairs,
        seed=seed,
        needs_mm=needs,
        room_mm=x1 - x0,
        wall_s=time.monotonic() - begin,
        cpu_s=_cpu_s() - cpu,
    )
    return replace(run, as_it_is=lies_on_sheet(job, placed)) if run.fits else run


def _cpu_s() -> float:
    """CPU seconds of this process, all threads."""
    usage = resource.getrusage(resource.RUSAGE_SELF)
    return usage.ru_utime + usage.ru_stime


def _strip_mm(job: Job, pairs: int, width_mm: float, seed: int, seconds: int) -> tuple[float, list["Lain"]]:
    """Length of strip the yardstick needs, what it keeps free at both ends given back, and its parts."""
    import spyrrow

    angles = None if job.turns == "free" else [float(np.degrees(angle)) for angle in TURNS[job.turns]]
    items = [
        spyrrow.Item(key, _pairs_of(points), count, turns)
        for key, points, count, turns in (
            *((f"part {k}", points, pairs, angles) for k, points in enumerate(parts(job))),
            *((f"waste {k}", points, 1, [0.0]) for k, points in enumerate(waste(job))),
        )
    ]
    strip = spyrrow.StripPackingInstance("sheet", width_mm + 2 * SPACING_MM + _HAIR_MM, items)
    config = spyrrow.StripPackingConfig(
        total_computation_time=seconds, num_workers=1, seed=seed, min_items_separation=SPACING_MM
    )
    solution = strip.solve(config)
    lain = [
        Lain(
            part=int(item.id.split()[1]),
            x_mm=float(item.translation[0]) - SPACING_MM,
            y_mm=float(item.translation[1]) - SPACING_MM,
            angle_rad=math.radians(item.rotation),
        )
        for item in solution.placed_items
        if item.id.startswith("part")
    ]
    return float(solution.width) - 2 * SPACING_MM, lain


@dataclass(frozen=True, kw_only=True)
class Lain:
    """A part where the yardstick laid it, from the corner of the sheet inside its margin."""

    part: int
    x_mm: float
    y_mm: float
    angle_rad: float

    def mirrored(self, length_mm: float, width_mm: float, *, x: bool, y: bool) -> "Lain":
        """Its partner on the sheet seen from behind; parts are mirror images of one another across y."""
        lain = self
        if x:
            lain = replace(
                lain, part=1 - lain.part, x_mm=length_mm - lain.x_mm, angle_rad=math.pi - lain.angle_rad
            )
        if y:
            lain = replace(lain, part=1 - lain.part, y_mm=width_mm - lain.y_mm, angle_rad=-lain.angle_rad)
        return lain


def lies_on_sheet(job: Job, lain: Sequence[Lain]) -> bool | None:
    """Whether a layout goes on the sheet as it is.

    Args:
        job: The job.
        lain: What the yardstick laid on a strip as wide as the sheet.

    Returns:
        True where it lies soundly, that way round or mirrored, once pushed apart a little; None where
        partners are held together, as these have no mirror image among the parts.
    """
    if job.pairing != "free":
        return None
    x0, y0, x1, y1 = job.region.bounds
    board = job.boards()[0]
    for x, y in itertools.product((False, True), repeat=2):
        seen = [one.mirrored(x1 - x0, y1 - y0, x=x, y=y) for one in lain]
        angles = tuple(sorted({math.remainder(one.angle_rad, 2 * math.pi) for one in seen}))
        bodies = [replace(body, angles_rad=angles, free=False) for body in job.bodies()]
        room = hall(bodies, job.shapes, SPACING_MM, SCALES["thorough"], [board])
        table = room.tables([board])[0]
        rests = []
        for one in seen:
            turn = one.angle_rad
            pose = min(room.ways[one.part], key=lambda way, turn=turn: _off(way.angle_rad, turn))
            rests.append(
                Rest(pose=pose, x_mm=one.x_mm - pose.origin_mm[0], y_mm=one.y_mm - pose.origin_mm[1])
            )
        settled, deepest = settle(table, rests, rounds=_ROUNDS)
        if deepest == 0 and keeps_distance(table.place, settled, SPACING_MM):
            return True
    return False


def _off(one_rad: float, other_rad: float) -> float:
    """Angle between two angles."""
    return abs(math.remainder(one_rad - other_rad, 2 * math.pi))


def _pairs_of(points: FloatArray) -> list[tuple[float, float]]:
    """Points as plain tuples."""
    return [(float(x), float(y)) for x, y in points]


def parts(job: Job) -> list[FloatArray]:
    """Outlines of what is laid as often as there are pairs.

    Args:
        job: The job.

    Returns:
        Left and right, or one outline round both where partners are held together.
    """
    points = {shape.key: np.asarray(shape.points_mm, dtype=np.float64) for shape in job.shapes}
    bodies = job.bodies()
    if job.pairing == "free":
        return list(points.values())
    both = shapely.union_all(
        [shapely.Polygon(placed(part, points[part.shape], 0.0)) for part in bodies[0].parts]
    )
    reach = SPACING_MM * (1 - 1e-6)
    closed = both.buffer(reach, quad_segs=32).buffer(-reach, quad_segs=32).simplify(_SIMPLE_MM)
    return [_outer(closed)]


def waste(job: Job) -> list[FloatArray]:
    """Pad, flaws and missing corners as parts: what the board lacks of its box, made smaller by the spacing.

    Args:
        job: The job.

    Returns:
        Their outlines.
    """
    box = shapely.box(*job.region.bounds).buffer(SPACING_MM, join_style="mitre")
    rest = box.difference(job.region).buffer(-SPACING_MM, join_style="mitre", mitre_limit=20.0)
    return [_outer(piece) for piece in shapely.get_parts(rest) if piece.area > _CRUMB_MM2]


def _outer(area: shapely.Polygon) -> FloatArray:
    """A polygon's outer ring, the first point once."""
    return np.asarray(area.simplify(_SIMPLE_MM).exterior.coords)[:-1, :2]
