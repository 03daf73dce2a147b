"""The history as users meet it: kept by make, listed by show, hinted at by check, never in the way."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """The command as users run it, in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "scalegen", *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop that made one measured job."""
    folder = tmp_path_factory.mktemp("shop")
    assert run(folder, "init", ".").returncode == 0
    made = run(folder, *make("siskin-3"), "--measured", "6.84,6.9")
    assert made.returncode == 0, made.stderr
    return folder


def make(name: str, *words: str) -> list[str]:
    """A small job."""
    return ["make", "profiles/siskin.toml", "--formats", "dxf", "--name", name, *words]


def listed(shop: Path) -> list[str]:
    """Names of the jobs in the history."""
    return [job["job"] for job in json.loads(run(shop, "show", "history", "--json").stdout)]


def test_a_job_is_kept_and_listed(shop: Path) -> None:
    """What was made is in the list, with its readings; its record has the run and no clock."""
    (job,) = json.loads(run(shop, "show", "history", "--pattern", "siskin", "--json").stdout)[:1]
    assert (job["job"], job["stack"], job["measured_mm"]) == ("siskin-3", "paper-six", [6.84, 6.9])
    assert "siskin-3" in run(shop, "show", "history").stdout
    record = json.loads((shop / "out" / "siskin-3" / "job.json").read_text(encoding="utf-8"))
    assert record["run"]["readings"]["measured_mm"] == [6.84, 6.9]
    assert job["made_at"][:10] not in json.dumps(record)


def test_check_hints_at_what_was_measured_and_does_not_use_it(shop: Path) -> None:
    """Without readings the hint is there; the blank still counts by the tables; with readings it is gone."""
    hinted = run(shop, "check", "profiles/siskin.toml")
    assert 'the last blank of stack "paper-six" measured 6.84 to 6.90 mm, in job siskin-3' in hinted.stdout
    (data,) = json.loads(run(shop, "check", "profiles/siskin.toml", "--json").stdout)
    assert data["last_measured"]["measured_mm"] == [6.84, 6.9]
    assert data["blank"]["readings"] == 0
    measured = run(shop, "check", "profiles/siskin.toml", "--measured", "6.9")
    assert "the last blank" not in measured.stdout


def test_a_damaged_history_never_stops_a_job(shop: Path) -> None:
    """The job is made, a note says what is wrong, and the file is left as it was; --no-history is silent."""
    file = shop / "out" / "history.sqlite"
    good, bad = file.read_bytes(), b"not a database at all, just some text that is long enough" * 30
    file.write_bytes(bad)
    made = run(shop, *make("siskin-4"))
    assert made.returncode == 0
    assert "the history is damaged" in made.stderr
    assert "Traceback" not in made.stderr
    assert file.read_bytes() == bad
    shown = run(shop, "show", "history")
    assert shown.returncode == 2
    assert "move it away" in shown.stderr
    file.write_bytes(good)


def test_a_job_can_be_left_out(shop: Path) -> None:
    """--no-history makes the job and keeps nothing of it; the hint is told all the same."""
    before = listed(shop)
    made = run(shop, *make("secret", "--no-history"))
    assert made.returncode == 0, made.stderr
    assert "note: the last blank of stack" in made.stdout
    assert listed(shop) == before


def test_a_stated_folder_is_taken_as_it_is(shop: Path) -> None:
    """A folder without a history has no jobs, whatever the shop has; the shop's own folder has its jobs."""
    told = run(shop, "show", "history", "--out", "nowhere")
    assert (told.returncode, told.stdout.startswith("no jobs yet in nowhere")) == (0, True)
    assert json.loads(run(shop, "show", "history", "--out", "nowhere", "--json").stdout) == []
    assert "siskin-3" in run(shop, "show", "history", "--out", "out").stdout
    assert "siskin-3" in run(shop / "profiles", "show", "history").stdout


def test_no_jobs_yet(tmp_path: Path) -> None:
    """A new folder has an empty list, as text and as data."""
    assert "no jobs yet" in run(tmp_path, "show", "history").stdout
    assert json.loads(run(tmp_path, "show", "history", "--json").stdout) == []
