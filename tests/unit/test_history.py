"""A shop's history: kept in order, robust against damage, and never used by itself."""

import io
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from rich.console import Console

from scalegen.errors import UsageError
from scalegen.history import (
    FILE,
    Entry,
    HistoryError,
    append,
    entries,
    entry_of,
    history_of,
    last_measured,
    measured_record,
    record_of,
    suggestion,
)
from scalegen.report.history_views import print_history

SISKIN = Entry(
    made_at="2026-11-20T14:03:00+01:00",
    job="siskin-3",
    pattern="siskin",
    stack="paper-six",
    pairs=6,
    spares=1,
    sheets=1,
    measured_mm=(6.84, 6.9, 6.87),
    used_mm=6.84,
    cost=41.305,
    currency="EUR",
    record_sha256="00" * 32,
    run={"options": {"pairs": 6}},
)
UNMEASURED = replace(SISKIN, job="siskin-4", measured_mm=(), cost=None, currency=None)
CURLEW = replace(SISKIN, job="curlew", pattern="curlew", stack="linen-quarter", measured_mm=(6.95,))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where a history goes; the folder is not there yet."""
    return tmp_path / "out" / FILE


def filled(file: Path, *jobs: Entry) -> Path:
    """A history of these jobs."""
    for job in jobs:
        append(file, job)
    return file


def test_jobs_come_back_as_they_were_in_order(file: Path) -> None:
    """Every field survives, empty readings and missing prices too."""
    jobs = (SISKIN, UNMEASURED, CURLEW)
    assert entries(filled(file, *jobs)) == jobs


def test_no_history_has_no_jobs(file: Path) -> None:
    """Looking makes no file."""
    assert entries(file) == ()
    assert last_measured(file, "paper-six") is None
    assert not file.exists()


def test_jobs_of_one_pattern(file: Path) -> None:
    """Only its jobs; a pattern that is not there is refused with the nearest that is."""
    filled(file, SISKIN, CURLEW, UNMEASURED)
    assert entries(file, "siskin") == (SISKIN, UNMEASURED)
    with pytest.raises(UsageError) as caught:
        entries(file, "siskn")
    assert 'did you mean "siskin"?' in caught.value.remedy
    assert "siskin, curlew" in caught.value.remedy


def test_the_last_measured_blank_of_a_stack(file: Path) -> None:
    """The latest measured one of the same stack, whatever was made after it without readings."""
    thinner = replace(SISKIN, job="siskin-5", measured_mm=(6.5,))
    filled(file, SISKIN, thinner, CURLEW, UNMEASURED)
    found = last_measured(file, "paper-six")
    assert found == thinner
    assert last_measured(file, "maple-spacer") is None


def test_the_suggestion_reads_well() -> None:
    """Readings from least to most, the job, the day, and what to do; in the pattern's unit."""
    text = suggestion(SISKIN, "mm")
    assert text == (
        'the last blank of stack "paper-six" measured 6.84 to 6.90 mm, in job siskin-3 on 2026-11-20;'
        " no two are alike: measure this one, and give --measured T,T,..."
    )
    assert "measured 0.274 in, in job" in suggestion(replace(SISKIN, measured_mm=(6.95,)), "in")


def test_a_file_that_is_no_database_is_told_and_left_alone(file: Path) -> None:
    """A damaged history is never written over."""
    file.parent.mkdir()
    file.write_bytes(b"no database, but long enough to be looked at as one" * 50)
    before = file.read_bytes()
    for act in (lambda: append(file, SISKIN), lambda: entries(file)):
        with pytest.raises(HistoryError, match="damaged"):
            act()
    assert file.read_bytes() == before


def test_a_history_cut_short_is_told(file: Path) -> None:
    """Half a file: an error with what to do, no traceback of another kind."""
    filled(file, *[SISKIN] * 200)
    data = file.read_bytes()
    file.write_bytes(data[: len(data) // 2])
    with pytest.raises(HistoryError):
        entries(file)


def test_rows_that_make_no_sense_are_told(file: Path) -> None:
    """Readings that are no list of numbers are damage too."""
    filled(file, SISKIN)
    with closing(sqlite3.connect(file)) as database, database:
        database.execute("UPDATE jobs SET measured_mm = '{not json'")
    with pytest.raises(HistoryError, match="damaged"):
        entries(file)


def test_another_program_that_holds_it_is_waited_for_and_told(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lock that stays ends in a warning that says so; once it is gone the job goes in."""
    monkeypatch.setattr("scalegen.history._WAIT_S", 0.05)
    filled(file, SISKIN)
    with closing(sqlite3.connect(file)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(HistoryError, match=r"written: database is locked"):
            append(file, CURLEW)
        other.rollback()
    append(file, CURLEW)
    assert len(entries(file)) == 2


@pytest.fixture
def other_tables(tmp_path: Path) -> Iterator[Path]:
    """A sound database of something else."""
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("CREATE TABLE jobs (other INTEGER)")
    return path


def test_somebody_elses_database_is_not_written_to(other_tables: Path) -> None:
    """A table of the same name with other columns is refused, and stays as it is."""
    with pytest.raises(HistoryError):
        append(other_tables, SISKIN)
    with closing(sqlite3.connect(other_tables)) as database:
        assert database.execute("SELECT COUNT(*) FROM jobs").fetchone() == (0,)
        assert database.execute("PRAGMA user_version").fetchone() == (0,)


def test_a_later_version_is_left_alone(file: Path) -> None:
    """A history that a later program wrote is neither read nor written."""
    filled(file, SISKIN)
    with closing(sqlite3.connect(file)) as database, database:
        database.execute("PRAGMA user_version = 99")
    with pytest.raises(HistoryError, match="later version"):
        append(file, SISKIN)
    with pytest.raises(HistoryError, match="later version"):
        entries(file)


def test_a_folder_in_its_place_is_told(tmp_path: Path) -> None:
    """A folder of that name, or a file where the folder belongs, is no crash."""
    (tmp_path / FILE).mkdir()
    with pytest.raises(HistoryError, match="cannot be written"):
        append(tmp_path / FILE, SISKIN)
    (tmp_path / "taken").touch()
    with pytest.raises(HistoryError, match="cannot be written"):
        append(tmp_path / "taken" / FILE, SISKIN)


def test_where_the_history_is(tmp_path: Path) -> None:
    """Beside the jobs; else the shop's own, where there is one."""
    shared = tmp_path / "shop" / "shared"
    (tmp_path / "shop" / "out").mkdir(parents=True)
    here = tmp_path / "results"
    assert history_of(here) == here / FILE
    assert history_of(here, shared) == here / FILE
    (tmp_path / "shop" / "out" / FILE).touch()
    assert history_of(here, shared) == tmp_path / "shop" / "out" / FILE
    here.mkdir()
    (here / FILE).touch()
    assert history_of(here, shared) == here / FILE


def test_an_entry_is_taken_from_a_record() -> None:
    """Names, counts, readings and the total come from the record; the time from the clock that was given."""
    record = {
        "pattern": {"name": "wren", "stock": "paper-six"},
        "pairs": 2,
        "spares": 1,
        "sheets": [{}, {}],
        "stack": {"measured_mm": [6.8], "used_mm": 6.8},
        "bom": [{"section": "sheets", "cost": 3.0}, {"section": "total", "cost": 9.5}],
        "run": {"versions": {}},
    }
    now = datetime(2026, 11, 20, 14, 3, 0, tzinfo=timezone(timedelta(hours=1)))
    entry = entry_of(record, Path("out/wren-2"), "{}", "EUR", now)
    assert (entry.made_at, entry.job, entry.pattern) == ("2026-11-20T14:03:00+01:00", "wren-2", "wren")
    assert (entry.sheets, entry.measured_mm, entry.cost, entry.currency) == (2, (6.8,), 9.5, "EUR")
    # SHA-256 of "{}", as sha256sum gives it.
    assert entry.record_sha256 == "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"
    assert measured_record(entry)["measured_mm"] == [6.8]
    assert record_of(entry)["run"] == {"versions": {}}


@pytest.mark.parametrize("lengths", ["mm", "in", "fraction"])
def test_jobs_are_listed(lengths: str) -> None:
    """One line for each job, with its readings in the lengths asked for."""
    out = io.StringIO()
    print_history([record_of(SISKIN), record_of(UNMEASURED)], lengths, Console(file=out, width=120))  # type: ignore[arg-type]
    text = out.getvalue()
    assert {"mm": "6.84, 6.90, 6.87", "in": "0.269, 0.272, 0.270", "fraction": "17/64 (+0.004)"}[
        lengths
    ] in text
    assert "2026-11-20 14:03" in text
    assert "41.30 EUR" in text or "41.31 EUR" in text
    assert "6 + 1" in text
