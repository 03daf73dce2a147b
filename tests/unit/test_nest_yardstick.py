"""Whether a layout made on a strip is one on the sheet as it is: any way round, and only a sound one."""

import itertools
from dataclasses import replace

import pytest

from benchmarks.nest_jobs import JOBS, SPACING_MM
from benchmarks.nest_yardstick import Lain, Run, lies_on_sheet, verdict
from scalegen.nest.search import search

JOB = JOBS[0]


@pytest.fixture(scope="module")
def sound() -> list[Lain]:
    """A layout of our own beside the pad, from the corner of the sheet inside its margin."""
    found = search(JOB.bodies(), JOB.boards(), shapes=JOB.shapes, spacing_mm=SPACING_MM, effort="quick")
    x0, y0 = JOB.region.bounds[:2]
    assert found.found >= 8
    return [
        Lain(part="LR".index(spot.body), x_mm=spot.x_mm - x0, y_mm=spot.y_mm - y0, angle_rad=spot.angle_rad)
        for spot in found.spots
    ]


def test_a_sound_layout_is_known_any_way_round(sound: list[Lain]) -> None:
    """Seen from behind, from below or turned half round it is the same work."""
    x0, y0, x1, y1 = JOB.region.bounds
    for x, y in itertools.product((False, True), repeat=2):
        assert lies_on_sheet(JOB, [one.mirrored(x1 - x0, y1 - y0, x=x, y=y) for one in sound]) is True


def test_scales_on_one_another_are_not_the_same_work(sound: list[Lain]) -> None:
    """Two scales more in the middle of a full sheet cannot be pushed apart."""
    x0, y0, x1, y1 = JOB.region.bounds
    mid = replace(sound[0], x_mm=(x1 - x0) / 2 - 39, y_mm=(y1 - y0) / 2)
    assert lies_on_sheet(JOB, [*sound, mid, mid]) is False


def test_partners_held_together_are_not_looked_at(sound: list[Lain]) -> None:
    """Nothing is said of jobs whose parts have no mirror image."""
    held = next(job for job in JOBS if job.pairing == "adjacent")
    assert lies_on_sheet(held, sound[:1]) is None


@pytest.mark.parametrize(
    ("as_it_is", "more", "easier"), [(True, 10, None), (None, 10, None), (False, None, 10)]
)
def test_an_easier_job_is_told_apart(as_it_is: bool | None, more: int | None, easier: int | None) -> None:
    """A run with pad or flaws elsewhere is no pair more; one not looked at counts as one."""
    run = Run(pairs=10, seed=1, needs_mm=290.0, room_mm=299.0, wall_s=1.0, cpu_s=1.0, as_it_is=as_it_is)

    class Book:
        """A ledger of one run."""

        @staticmethod
        def runs(_job: object) -> list[Run]:
            """That run."""
            return [run]

    found = verdict(JOB, 9, 12, Book())  # type: ignore[arg-type]  # all that is asked of a ledger
    assert (found.more, found.easier) == (more, easier)
