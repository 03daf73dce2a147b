"""Every documented exit code by a real case, with a clear message on standard error and never a traceback."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from scalegen.__main__ import main

ROOT = Path(__file__).parents[2]
NOTCHED = "outline = [[0, -15], [40, -15], [40, -5], [10, -5], [10, 5], [120, 5], [120, 15], [0, 15]]"
QUICK = ("--formats", "dxf")


def in_a_process(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "scalegen", *map(str, words)],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
    )


Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def scalegen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, shop: Path) -> Call:
    """Run the entry point here, in the shop folder: its code, output and errors."""

    def call(*words: str) -> tuple[int, str, str]:
        monkeypatch.chdir(shop)
        code = main(list(words))
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with one pattern for each thing that can go wrong."""
    folder = tmp_path_factory.mktemp("shop")
    for name in ("profiles", "shared"):
        shutil.copytree(ROOT / name, folder / name)
    text = (folder / "profiles" / "siskin.toml").read_text(encoding="utf-8")
    start = text.index("outline = [")
    end = text.index("]\n\n[front]") + 1
    notched = text[:start] + NOTCHED + text[end:]
    (folder / "profiles" / "notched.toml").write_text(notched, encoding="utf-8")
    edge = text.replace("at = [35, -0.6]", "at = [35, 8]")
    (folder / "profiles" / "edge.toml").write_text(edge, encoding="utf-8")
    (folder / "profiles" / "spaced.toml").write_text(
        text.replace('"siskin"', '"my siskin"', 1), encoding="utf-8"
    )
    (folder / "profiles" / "latin.toml").write_bytes(text.replace("paring", "für").encode("latin-1"))
    batch = 'units = "mm"\n[job]\npatterns = ["profiles/siskin.toml"]\n'
    (folder / "batch.toml").write_text(batch, encoding="utf-8")
    (folder / "a file").write_text("not a folder", encoding="utf-8")
    return folder


CASES = {
    "no command": (2, [], ["which command?", "Usage: scalegen"]),
    "unknown command": (2, ["mke"], ["no such command 'mke'", '"scalegen --help"']),
    "unknown option": (2, ["check", "--wat"], ["no such option: --wat"]),
    "no pattern": (2, ["make"], ["missing argument 'PATTERN'", '"scalegen make --help"']),
    "size": (2, ["make", "profiles/siskin.toml", "--sheet", "300"], ["--sheet:", '"300x150"']),
    "comma": (2, ["make", "profiles/siskin.toml", "--measured", "6,9"], ["--measured:", '"6.9"']),
    "stock": (2, ["check", "profiles/siskin.toml", "--stock", "paper"], ["linen-quarter"]),
    "name": (2, ["make", "profiles/siskin.toml", "--name", "my job"], ["--name:", "without spaces"]),
    "pairs by a wrong name": (
        2,
        [
            "make",
            "profiles/siskin.toml",
            "profiles/harrier.toml",
            "--together",
            "--pairs",
            "siskn=2,harrier=1",
        ],
        ["how many pairs of siskin", 'did you mean "siskin" where it says "siskn"?'],
    ),
    "batch and pattern": (
        2,
        ["check", "batch.toml", "profiles/siskin.toml"],
        ["batch.toml: this is a batch file"],
    ),
    "same name twice": (2, ["make", "profiles/siskin.toml", "profiles/edge.toml"], ['called "siskin"']),
    "no job": (2, ["show", "job", "out/none"], ["no job here"]),
    "no table": (2, ["show", "tables", "drils"], ['"drills"']),
    "init onto a file": (2, ["init", "a file"], ["this is a file"]),
    "no such pattern": (3, ["check", "profiles/sisken.toml"], ["no such file", "siskin.toml"]),
    "a folder": (3, ["check", "profiles"], ["this is a folder"]),
    "not UTF-8": (3, ["check", "profiles/latin.toml"], ["not UTF-8", "line "]),
    "name with a space": (3, ["make", "profiles/spaced.toml"], ["name", '"my siskin"']),
    "no shop": (3, ["check", "profiles/siskin.toml", "--shop", "nowhere"], ["nowhere", "scalegen init"]),
    "two pieces": (4, ["check", "profiles/notched.toml"], ["front.at", "2 pieces", "x = 27.0, y = -10.0"]),
    "sheet too small": (5, ["make", "profiles/siskin.toml", "--sheet", "80x40"], ["one pair needs"]),
    "spacing too small": (5, ["make", "profiles/siskin.toml", "--spacing", "1"], ["spacing", "cut into"]),
    "stop, checked": (6, ["check", "profiles/edge.toml"], []),
    "stop, made": (6, ["make", "profiles/edge.toml"], ["pin 1 (x = 35.00 mm", "nothing was written"]),
    "misread": (6, ["make", "profiles/siskin.toml", "--measured", "270"], ["270.000 mm can't be right"]),
    "out is a file": (7, ["make", "profiles/siskin.toml", "--out", "a file", *QUICK], ["a file", "--out"]),
}


@pytest.mark.parametrize("case", CASES)
def test_exit_code_and_message(scalegen: Call, shop: Path, case: str) -> None:
    """Each mistake ends with its code and says on standard error what is wrong and what to do."""
    expected, words, said = CASES[case]
    code, out, err = scalegen(*words)
    assert code == expected, err
    for text in said:
        assert text in err
    if said:
        assert err.startswith("scalegen: ")
        assert out == ""
    assert not (shop / "out").exists()


IN_A_SHELL = (
    "unknown command",
    "no such pattern",
    "two pieces",
    "sheet too small",
    "stop, made",
    "out is a file",
)


@pytest.mark.parametrize("case", IN_A_SHELL)
def test_exit_codes_reach_the_shell(shop: Path, case: str) -> None:
    """A process of its own ends with the same code and words, and never with a traceback."""
    expected, words, said = CASES[case]
    run = in_a_process(*words, cwd=shop)
    assert run.returncode == expected
    assert run.stdout == ""
    assert "Traceback" not in run.stderr
    assert all(text in run.stderr for text in said)


AS_DATA = (
    *("unknown option", "no pattern", "comma", "no such pattern", "name with a space"),
    *("two pieces", "sheet too small", "stop, checked", "stop, made"),
)


@pytest.mark.parametrize("case", AS_DATA)
def test_errors_as_data(scalegen: Call, case: str) -> None:
    """With --json the same error comes on standard output as one object, usage slips included."""
    expected, words, _ = CASES[case]
    code, out, err = scalegen(*words, "--json")
    data = json.loads(out)
    assert code == expected
    if case == "stop, checked":
        assert data[0]["findings"][0]["level"] == "stop"
        return
    assert set(data["error"]) == {"exit_code", "message", "where", "remedy", "faults"}
    assert data["error"]["exit_code"] == expected
    assert data["error"]["message"] in err


def test_a_fault_of_the_program_is_owned_up_to(scalegen: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    """A bug gives code 1 and asks to be reported, as data too; SCALEGEN_TRACE lets it through."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("of all things")

    monkeypatch.setattr("scalegen.pipeline.study_pattern", broken)
    code, out, err = scalegen("check", "profiles/siskin.toml")
    assert (code, out) == (1, "")
    assert "a fault of the program, not of your files (ZeroDivisionError: of all things)" in err
    assert "report it" in err
    assert json.loads(scalegen("check", "profiles/siskin.toml", "--json")[1])["error"]["exit_code"] == 1
    monkeypatch.setenv("SCALEGEN_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        scalegen("check", "profiles/siskin.toml")


def test_checking_goes_on_past_a_faulty_pattern(scalegen: Call) -> None:
    """One pattern that can't be read does not hide what there is to say about the others."""
    words = ("check", "profiles/none.toml", "profiles/siskin.toml")
    code, out, err = scalegen(*words)
    assert code == 3
    assert "none.toml: there is no such file" in err
    assert "profiles/siskin.toml:" in out
    assert "2 notes" in out
    told = json.loads(scalegen(*words, "--json")[1])
    assert [set(row) for row in told] == [
        {"file", "error"},
        {"file", "pattern", "blank", "last_measured", "findings"},
    ]


def test_making_starts_only_when_all_can_be_made(scalegen: Call, shop: Path) -> None:
    """A stop in the second pattern is told before the first is cut."""
    code, out, _ = scalegen("make", "profiles/harrier.toml", "profiles/edge.toml")
    assert (code, out) == (6, "")
    assert not (shop / "out").exists()


@pytest.mark.parametrize("words", [["show", "tables", "drills"], ["--help"]])
def test_a_reader_that_goes_away_is_no_error(shop: Path, words: list[str]) -> None:
    """Piping into something that reads one line, or none, ends quietly."""
    read_end, write_end = os.pipe()
    os.close(read_end)
    with os.fdopen(write_end, "wb") as gone:
        run = subprocess.run(
            [sys.executable, "-m", "scalegen", *words],
            stdout=gone,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            cwd=shop,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
    assert (run.returncode, run.stderr) == (0, "")


def test_a_terminal_with_few_signs_stops_nothing(shop: Path) -> None:
    """Where a sign can't be shown a question mark takes its place."""
    run = subprocess.run(
        [sys.executable, "-m", "scalegen", "check", "profiles/siskin.toml"],
        capture_output=True,
        check=False,
        cwd=shop,
        env={
            **os.environ,
            "COLUMNS": "120",
            "PYTHONPATH": str(ROOT),
            "PYTHONIOENCODING": "ascii",
            "PYTHONUTF8": "0",
        },
    )
    assert run.returncode == 0
    assert b"6.900 mm ? 0.470 mm" in run.stdout
