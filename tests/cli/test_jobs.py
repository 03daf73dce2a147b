"""Jobs made by the command line: where they go, what is printed, and that nothing is ever half there."""

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scalegen.__main__ import main

ROOT = Path(__file__).parents[2]
ENV = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}


def in_a_process(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "scalegen", *map(str, words)],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=cwd,
        env=ENV,
    )


Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def scalegen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Run the entry point here, in a folder: its code, output and errors."""

    def call(*words: str | Path, cwd: Path) -> tuple[int, str, str]:
        monkeypatch.chdir(cwd)
        code = main(list(map(str, words)))
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


def contents(folder: Path) -> dict[str, str]:
    """Check sums of all files of a folder, hidden ones too."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder as init lays it out, in a folder with a blank in its name."""
    folder = tmp_path_factory.mktemp("work") / "my shop"
    run = in_a_process("init", folder.name, cwd=folder.parent)
    assert run.returncode == 0
    assert "scalegen make 'my shop/profiles/siskin.toml'" in run.stdout
    return folder


@pytest.fixture(scope="module")
def made(shop: Path) -> tuple[Path, str]:
    """The siskin made inside the shop folder, and what was printed."""
    run = in_a_process("make", "profiles/siskin.toml", cwd=shop)
    assert run.returncode == 0, run.stderr
    assert run.stderr == ""
    return shop / "out" / "siskin", run.stdout


def test_a_page_of_a_job_is_opened(
    made: tuple[Path, str], scalegen: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """--open hands the browser the 3D page, or the shop sheet where there is none; else says what to do."""
    asked: list[str] = []
    monkeypatch.setattr("webbrowser.open", lambda url: not asked.append(url))
    folder = tmp_path / "job"
    folder.mkdir()
    for name in ("job.json", "shop-sheet.html"):
        (folder / name).write_bytes((made[0] / name).read_bytes())
    assert scalegen("show", "job", folder, "--open", cwd=tmp_path)[0] == 0
    assert scalegen("show", "job", folder / "job.json", "--open", "--json", cwd=tmp_path)[0] == 0
    (folder / "view.html").touch()
    assert scalegen("show", "job", folder, "--open", cwd=tmp_path)[0] == 0
    sheet = (folder / "shop-sheet.html").as_uri()
    assert asked == [sheet, sheet, (folder / "view.html").as_uri()]
    monkeypatch.setattr("webbrowser.open", lambda _: False)
    code, _, err = scalegen("show", "job", folder, "--open", cwd=tmp_path)
    assert code == 2
    assert "open this file in a browser yourself" in err
    for name in ("shop-sheet.html", "view.html"):
        (folder / name).unlink()
    code, _, err = scalegen("show", "job", folder, "--open", cwd=tmp_path)
    assert code == 2
    assert "this job has no page to open" in err


def test_init_then_make(made: tuple[Path, str]) -> None:
    """In a new shop folder the demo is made into out, with every kind of file, and one screen tells of it."""
    folder, printed = made
    kinds = {path.suffix for path in folder.iterdir()}
    assert kinds == {".step", ".stl", ".dxf", ".svg", ".png", ".csv", ".json", ".pdf", ".html"}
    assert "Siskin paring knife: 1 pair in out" in printed
    assert len(printed.splitlines()) <= 45
    for path in (Path("out/siskin/shop-sheet.pdf"), Path("out/siskin/view.html")):
        assert str(path) in printed
    record = json.loads((folder / "job.json").read_text(encoding="utf-8"))
    sums = {row["path"]: row["sha256"] for row in record["files"]}
    assert sums == {name: value for name, value in contents(folder).items() if name != "job.json"}


def test_show_job_and_its_data(
    made: tuple[Path, str], shop: Path, scalegen: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A job is shown with every file, number and line of its bill, from any folder, and as data."""
    folder, _ = made
    monkeypatch.delenv("COLUMNS", raising=False)
    code, out, _ = scalegen("show", "job", "out/siskin", cwd=shop)
    assert code == 0
    assert "Siskin paring knife: 1 pair in out" in out
    for path in folder.iterdir():
        assert path.name in out.replace("\n", " ")
    data = json.loads(scalegen("show", "job", folder, "--json", cwd=ROOT)[1])
    assert data == json.loads((folder / "job.json").read_text(encoding="utf-8"))
    for row in data["bom"]:
        assert row["item"].split()[0] in out


def test_show_a_part_of_a_job(made: tuple[Path, str], scalegen: Call) -> None:
    """--part shows what is asked for and nothing else; a part there is not is refused with the list."""
    code, out, _ = scalegen("show", "job", made[0], "--part", "Stages,findings", cwd=ROOT)
    assert code == 0
    assert "Stages" in out
    assert "Findings" in out
    assert "Bill of materials" not in out
    assert "shop-sheet.pdf" not in out
    for wrong, words in (("bmo", 'did you mean "bom"?'), ("", "no part is named"), ("bom,", "no part")):
        code, out, err = scalegen("show", "job", made[0], "--part", wrong, cwd=ROOT)
        assert (code, out) == (2, "")
        assert words in err
    code, out, err = scalegen("show", "job", made[0], "--part", "bom", "--json", cwd=ROOT)
    assert code == 2
    assert json.loads(out)["error"]["remedy"] == "leave one of the two out"


def test_a_damaged_job_is_told_so(made: tuple[Path, str], tmp_path: Path, scalegen: Call) -> None:
    """A record with the right keys and wrong content is no fault of the program."""
    record = json.loads((made[0] / "job.json").read_text(encoding="utf-8"))
    record["scale"] = []
    (tmp_path / "job.json").write_text(json.dumps(record), encoding="utf-8")
    code, _, err = scalegen("show", "job", tmp_path, cwd=tmp_path)
    assert code == 2
    assert "the job record is damaged" in err


def test_commands_as_data(shop: Path, scalegen: Call) -> None:
    """Each command with --json prints one JSON document and nothing else."""
    checked = json.loads(scalegen("check", "profiles/siskin.toml", "--json", cwd=shop)[1])
    assert [row["pattern"] for row in checked] == ["siskin"]
    shown = json.loads(scalegen("show", "pattern", "profiles/curlew.toml", "--json", cwd=shop)[1])
    assert set(shown) == {"pattern", "stack", "blank", "scale", "pins", "findings"}
    tables = json.loads(scalegen("show", "tables", "cutters", "--json", cwd=shop)[1])
    assert tables["cutters"][0]["name"] == "flat 1/8in"


def test_two_patterns_from_another_folder(shop: Path, tmp_path: Path, scalegen: Call) -> None:
    """Patterns from elsewhere find drawings and tables; each gets a folder of its own, beside the history."""
    words = ("make", shop / "profiles" / "siskin.toml", shop / "profiles" / "curlew.toml")
    code, out, err = scalegen(*words, "--formats", "dxf", "--out", "results", "--json", cwd=tmp_path)
    assert code == 0, err
    records: list[dict[str, Any]] = json.loads(out)
    assert [record["pattern"]["name"] for record in records] == ["siskin", "curlew"]
    there = sorted(path.name for path in (tmp_path / "results").iterdir())
    assert there == ["curlew", "history.sqlite", "siskin"]
    told = json.loads((tmp_path / "results" / "curlew" / "job.json").read_text(encoding="utf-8"))
    assert told == records[1]


def test_a_batch_file(shop: Path, tmp_path: Path, scalegen: Call) -> None:
    """Paths in a batch file are relative to it; options typed go before what it says; quiet is quiet."""
    batch = shop / "batch.toml"
    batch.write_text(
        'units = "mm"\n[job]\npatterns = ["profiles/siskin.toml"]\npairs = 3\n'
        'out = "batches"\nname = "monday"\n'
        '[sheet]\norigin = "upper-right"\n[files]\nformats = ["dxf"]\nunits = "in"\n',
        encoding="utf-8",
    )
    code, out, err = scalegen("make", batch, "--pairs", "1", "--quiet", cwd=tmp_path)
    assert (code, out, err) == (0, "", "")
    record = json.loads((shop / "batches" / "monday" / "job.json").read_text(encoding="utf-8"))
    assert record["pairs"] == 1
    assert record["sheets"][0]["origin"] == "upper-right"
    code, out, _ = scalegen("check", batch, cwd=tmp_path)
    assert code == 0
    assert "siskin.toml:" in out


def test_a_batch_of_several_shows_no_single_pattern(shop: Path, scalegen: Call) -> None:
    """Show takes one pattern; a batch of several is not silently cut to its first."""
    batch = shop / "both.toml"
    batch.write_text(
        'units = "mm"\n[job]\npatterns = ["profiles/siskin.toml", "profiles/curlew.toml"]\n', encoding="utf-8"
    )
    code, _, err = scalegen("show", "pattern", batch, cwd=shop)
    assert code == 2
    assert "this batch file has 2 patterns" in err
    code, _, err = scalegen("make", batch, "--name", "x", cwd=shop)
    assert code == 2
    assert "one job name for 2 patterns" in err


@pytest.mark.parametrize(
    ("words", "code"), [(("--sheet", "80x40"), 5), (("--measured", "5"), 6), (("--sheet", "nan"), 2)]
)
def test_a_failed_run_leaves_the_earlier_job(
    made: tuple[Path, str], shop: Path, words: tuple[str, ...], code: int, scalegen: Call
) -> None:
    """What was made before is untouched, byte for byte, and nothing is left beside it."""
    before = contents(shop / "out")
    assert scalegen("make", "profiles/siskin.toml", *words, cwd=shop)[0] == code
    assert contents(shop / "out") == before
    assert made[0].is_dir()


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize("sent", ["SIGKILL", "SIGINT"])
def test_a_run_cut_short_leaves_the_earlier_job(made: tuple[Path, str], shop: Path, sent: str) -> None:
    """Killed or interrupted halfway, the earlier job stands; an interrupt also clears up and says so."""
    folder, _ = made
    before = contents(folder)
    left_over = set((shop / "out").glob(".*"))
    code = (
        "import signal, sys, time, types\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from scalegen.__main__ import main\n"
        "stall = types.SimpleNamespace(scale_solids=lambda *_: time.sleep(30), outputs=None)\n"
        "sys.modules['scalegen.solids.scales'] = sys.modules['scalegen.export.outputs'] = stall\n"
        "sys.exit(main(['make', 'profiles/siskin.toml']))\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code],
        cwd=shop,
        env=ENV,
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as run:
        for _ in range(600):
            new = set((shop / "out").glob(".siskin-*")) - left_over
            aside = [path for path in new if list(path.iterdir())]
            if aside or run.poll() is not None:
                break
            time.sleep(0.05)
        assert run.poll() is None, run.stderr.read() if run.stderr else ""
        run.send_signal(getattr(signal, sent))
        _, said = run.communicate(timeout=20)
    assert contents(folder) == before
    if sent == "SIGINT":
        assert run.returncode == 130
        assert said.startswith("scalegen: stopped")
        assert not aside[0].exists()
    else:
        assert run.returncode == -signal.SIGKILL


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written(shop: Path, tmp_path: Path, scalegen: Call) -> None:
    """A folder without the right to write ends with code 7 and says where to write instead."""
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    code, _, err = scalegen("make", "profiles/siskin.toml", "--out", locked, "--formats", "dxf", cwd=shop)
    assert code == 7
    assert "--out" in err
    assert not list(locked.iterdir())


def test_a_folder_that_is_no_job_is_left_alone(shop: Path, tmp_path: Path, scalegen: Call) -> None:
    """A folder of the user's own in the job's place is never replaced."""
    (tmp_path / "siskin").mkdir()
    (tmp_path / "siskin" / "photo.txt").write_text("mine", encoding="utf-8")
    code, _, err = scalegen("make", "profiles/siskin.toml", "--out", tmp_path, "--formats", "dxf", cwd=shop)
    assert code == 7
    assert "not a job folder" in err
    assert contents(tmp_path) == {"siskin/photo.txt": hashlib.sha256(b"mine").hexdigest()}
