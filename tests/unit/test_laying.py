"""A job's pairs onto sheets: as many as go, notes, and Ctrl-C."""

import os
import signal
import threading
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.errors import UsageError
from scalegen.laying import laid_out, never, on_interrupt
from scalegen.machining.hold import holds
from scalegen.model import JobSpec, Pad
from scalegen.pipeline import Study, study_pattern
from scalegen.rehearsal import rehearse_sheet

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
SMALL = JobSpec(sheet_mm=(200.0, 90.0))


@pytest.fixture(scope="module")
def study() -> Study:
    """A demo pattern, looked at."""
    return study_pattern(SISKIN, SMALL)


def test_as_many_as_go_are_counted(study: Study) -> None:
    """A job that fills a sheet comes back with its pairs counted, on one sheet, under the limit."""
    laid = laid_out(study, replace(SMALL, fill=True))
    (layout,) = laid.layouts
    assert layout.claim is not None
    assert (laid.spec.fill, laid.spec.pairs) == (False, len(layout.placements) // 2)
    assert len(laid_out(study, replace(SMALL, pairs=laid.spec.pairs)).layouts) == 1
    assert 1 <= laid.spec.pairs <= layout.claim.bound_pairs


def test_spares_beside_as_many_as_go_are_refused(study: Study) -> None:
    """There is no room left for spares on a sheet that is filled."""
    with pytest.raises(UsageError, match="as many pairs as one sheet takes"):
        laid_out(study, replace(SMALL, fill=True, spares=1))


def test_a_count_is_left_as_it_was(study: Study) -> None:
    """A job with a number keeps it, and there is nothing to note."""
    spec = replace(SMALL, pairs=1, spares=1)
    laid = laid_out(study, spec)
    assert (laid.spec, laid.findings) == (spec, ())


def test_a_stopped_search_is_noted(study: Study) -> None:
    """Whoever ends the search reads so in the findings."""
    laid = laid_out(study, replace(SMALL, fill=True, pairing="mirrored"), stop=lambda: True)
    assert [finding.code for finding in laid.findings] == ["arranging-stopped"]


def test_a_stop_without_a_search_ends_the_job(study: Study) -> None:
    """Where nothing was searched there is nothing to keep, so the interrupt is meant for the job."""
    with pytest.raises(KeyboardInterrupt):
        laid_out(study, SMALL, stop=lambda: True)


def test_the_first_interrupt_asks_and_the_second_ends() -> None:
    """Ctrl-C once ends the search, twice the program; afterwards all is as before."""
    before = signal.getsignal(signal.SIGINT)
    with on_interrupt() as stop:
        assert not stop()
        os.kill(os.getpid(), signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


def test_interrupts_are_left_alone_elsewhere() -> None:
    """Outside the main thread, and by default, nobody stops the search."""
    answers: list[bool] = []

    def ask() -> None:
        with on_interrupt() as stop:
            answers.append(stop())

    other = threading.Thread(target=ask)
    other.start()
    other.join()
    with never() as stop:
        answers.append(stop())
    assert answers == [False, False]


@pytest.mark.parametrize(("margin_mm", "stays"), [(None, True), (3.0, False)])
def test_the_margin_left_to_the_cutter_keeps_a_frame_for_the_pad(
    study: Study, margin_mm: float | None, stays: bool
) -> None:
    """Cut in thought, the pad hangs in the blank to the end; with a margin under the cutter it does not."""
    pad = Pad(width_mm=12.0, height_mm=12.0)
    spec = JobSpec(pairs=1, sheet_mm=(130.0, 90.0), measured_mm=(6.9,), pad=pad, margin_mm=margin_mm)
    (layout,) = laid_out(study, spec).layouts
    assert layout.margin_mm == pytest.approx(margin_mm or 3.175 + study.shop.rules.clearance_mm)
    run = rehearse_sheet(study, layout, spec)
    assert holds(run)[-1].pad_in_blank == stays


def test_the_frame_is_no_narrower_for_a_thicker_cutter(study: Study) -> None:
    """The margin follows the cutter that goes round the parts."""
    (layout,) = laid_out(study, replace(SMALL, cutter="flat 6mm")).layouts
    assert layout.margin_mm == pytest.approx(6.0 + study.shop.rules.clearance_mm)
