"""``python -m benchmarks.nest_digests [all]``: what the arrangement gives, to the last bit, as digests.

Printed without ``all`` it is ``tests/unit/nest_digests.txt``; the platform goes to the error stream. Needs
numpy and shapely alone, so that it also runs where the CAD kernel has no wheel.
"""

import hashlib
import platform
import sys
from collections.abc import Iterator

import numpy as np
import shapely

from benchmarks.nest_jobs import JOBS, SPACING_MM, Job
from scalegen.nest.records import Spot
from scalegen.nest.search import search
from scalegen.nest.smallest import smallest_board

QUICK = (2, 4, 10, 13, 23, 26, 27)  # free turns, mates of both kinds, plain ones, three remnants
SHORTEST = (13,)
_COUNT, _WIDTH_MM, _MOVES = 4, 90.0, 300


def table(*, everything: bool = False) -> Iterator[str]:
    """One line for each job: its name, pairs, limit, moves, digest.

    Args:
        everything: All jobs of :mod:`benchmarks.nest_jobs` instead of a handful.

    Yields:
        Lines; the digest is of every spot's exact numbers.
    """
    for number in range(len(JOBS)) if everything else QUICK:
        yield _laid(number, JOBS[number])
    for number in SHORTEST:
        yield _shortest(number, JOBS[number])


def _name(number: int, job: Job) -> str:
    """A job's words."""
    return f"{number} {job.outline} {job.board} {job.turns} {job.pairing}"


def _laid(number: int, job: Job) -> str:
    """As many as go, found quickly."""
    found = search(
        job.bodies(), job.boards(), shapes=job.shapes, spacing_mm=SPACING_MM, seed=0, effort="quick"
    )
    facts = f"{found.found} of {found.bound.groups}, {found.moves} moves"
    return f"{_name(number, job)}: {facts}, {_digest(found.spots)}"


def _shortest(number: int, job: Job) -> str:
    """A few on the shortest strip."""
    strip = smallest_board(
        job.bodies(_COUNT), shapes=job.shapes, spacing_mm=SPACING_MM, width_mm=_WIDTH_MM, budget=_MOVES
    )
    facts = f"{strip.length_mm.hex()} mm, {strip.moves} moves"
    return f"{_name(number, job)} shortest: {facts}, {_digest(strip.spots)}"


def _digest(spots: tuple[Spot, ...]) -> str:
    """The SHA-256 of where everything lies, cut to 16 digits."""
    lines = (
        f"{s.body} {s.board} {s.number} {s.form} {s.angle_rad.hex()} {s.x_mm.hex()} {s.y_mm.hex()}\n"
        for s in spots
    )
    return hashlib.sha256("".join(lines).encode()).hexdigest()[:16]


if __name__ == "__main__":
    libc = " ".join(platform.libc_ver())
    versions = f"numpy {np.__version__}, shapely {shapely.__version__}, GEOS {shapely.geos_version_string}"
    print(
        f"{platform.machine()} {libc} Python {platform.python_version()}, {versions}",
        file=sys.stderr,
        flush=True,
    )
    for line in table(everything="all" in sys.argv[1:]):
        print(line, flush=True)
