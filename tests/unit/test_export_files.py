"""Job folders: whole or not at all, whatever happens on the way."""

import errno
import hashlib
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from scalegen.errors import WriteError
from scalegen.export.files import describe_files, job_folder, save_bytes

LONG_AGO = 1_000_000_000


def fill(folder: Path, text: str) -> None:
    """Write the files of a job."""
    (folder / "part.step").write_text(text)
    (folder / "job.json").write_text("{}")


def make(target: Path, text: str) -> None:
    """A whole run."""
    with job_folder(target) as folder:
        fill(folder, text)


def content(target: Path) -> str:
    """What the run wrote."""
    return (target / "part.step").read_text()


def names(folder: Path) -> list[str]:
    """What is in a folder, hidden things included."""
    return sorted(p.name for p in folder.iterdir())


def age(folder: Path) -> None:
    """Make a folder look old."""
    os.utime(folder, (LONG_AGO, LONG_AGO))


@contextmanager
def stuck_child(target: Path) -> Iterator[subprocess.Popen[str]]:
    """A run of its own that has written half its files and waits."""
    code = (
        "import sys, time; from pathlib import Path; from scalegen.export.files import job_folder\n"
        "with job_folder(Path(sys.argv[1])) as f:\n"
        "    (f / 'part.step').write_text('half'); print('ready', flush=True); time.sleep(60)"
    )
    child = subprocess.Popen([sys.executable, "-c", code, str(target)], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    try:
        assert child.stdout.readline() == "ready\n"
        yield child
    finally:
        child.kill()
        child.wait()
        child.stdout.close()


def test_new_folder_and_replaced_folder(tmp_path: Path) -> None:
    """A second run must replace the first whole, files that are gone included, and leave nothing beside."""
    make(tmp_path / "out" / "wren", "one")
    (tmp_path / "out" / "wren" / "extra.txt").write_text("from before")
    make(tmp_path / "out" / "wren", "two")
    assert content(tmp_path / "out" / "wren") == "two"
    assert names(tmp_path / "out" / "wren") == ["job.json", "part.step"]
    assert names(tmp_path / "out") == ["wren"]


def test_fault_in_the_block_leaves_the_earlier_result(tmp_path: Path) -> None:
    """An exception half way through must leave the earlier folder and nothing else."""
    make(tmp_path / "wren", "one")

    def fail_half_way() -> None:
        with job_folder(tmp_path / "wren") as folder:
            fill(folder, "two")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    assert content(tmp_path / "wren") == "one"
    assert names(tmp_path) == ["wren"]


def test_killed_run_leaves_the_earlier_result(tmp_path: Path) -> None:
    """A run killed half way must leave the earlier folder; a later run clears away what it left."""
    make(tmp_path / "wren", "one")
    with stuck_child(tmp_path / "wren") as child:
        child.kill()
        child.wait()
    assert content(tmp_path / "wren") == "one"
    (left,) = [p for p in tmp_path.iterdir() if p.name != "wren"]
    make(tmp_path / "wren", "two")
    assert left.exists(), "too young to be taken for a leftover"
    age(left)
    make(tmp_path / "wren", "three")
    assert names(tmp_path) == ["wren"]
    assert content(tmp_path / "wren") == "three"


def test_folder_of_a_running_run_is_left_alone(tmp_path: Path) -> None:
    """However old it looks, the folder of a run that is still at work must not be cleared away."""
    pytest.importorskip("fcntl")
    with stuck_child(tmp_path / "wren"):
        (busy,) = tmp_path.iterdir()
        age(busy)
        make(tmp_path / "wren", "one")
        assert (busy / "part.step").read_text() == "half"


def test_kill_between_the_two_renames_loses_nothing(tmp_path: Path) -> None:
    """A run killed with the old folder moved away must have it put back by the next run."""
    make(tmp_path / "wren", "one")
    code = (
        "import os, signal, sys; from pathlib import Path; from scalegen.export.files import job_folder\n"
        "rename = Path.rename\n"
        "def once(self, target):\n"
        "    rename(self, target); os.kill(os.getpid(), signal.SIGKILL)\n"
        "Path.rename = once\n"
        "with job_folder(Path(sys.argv[1])) as f: (f / 'job.json').write_text('{}')"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path / "wren")], check=False)
    assert done.returncode == -signal.SIGKILL
    assert not (tmp_path / "wren").exists()
    with pytest.raises(ZeroDivisionError), job_folder(tmp_path / "wren"):
        raise ZeroDivisionError
    assert content(tmp_path / "wren") == "one"


def test_second_rename_failing_brings_the_old_folder_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the new folder cannot go in, the old one must come back."""
    make(tmp_path / "wren", "one")
    rename = Path.rename

    def refuse_new(self: Path, target: Path) -> Path:
        if target.name == "wren" and not self.name.endswith("-old"):
            raise OSError(errno.EACCES, "Permission denied")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", refuse_new)
    with pytest.raises(WriteError, match="permission denied"):
        make(tmp_path / "wren", "two")
    monkeypatch.undo()
    assert content(tmp_path / "wren") == "one"
    assert names(tmp_path) == ["wren"]


def test_folder_of_somebody_else_is_refused(tmp_path: Path) -> None:
    """A folder with files but no job.json must be refused before any work, and stay as it is."""
    (tmp_path / "wren").mkdir()
    (tmp_path / "wren" / "holiday.txt").write_text("mine")
    with pytest.raises(WriteError, match="not a job folder"), job_folder(tmp_path / "wren"):
        pytest.fail("the block must not be entered")
    assert names(tmp_path / "wren") == ["holiday.txt"]


def test_empty_folder_is_taken(tmp_path: Path) -> None:
    """An empty folder in the place must be used."""
    (tmp_path / "wren").mkdir()
    make(tmp_path / "wren", "one")
    assert content(tmp_path / "wren") == "one"


def test_file_in_the_way(tmp_path: Path) -> None:
    """A file where the job folder goes, or where its parent goes, must be named and kept."""
    (tmp_path / "wren").write_text("a file")
    for target in (tmp_path / "wren", tmp_path / "wren" / "job"):
        with pytest.raises(WriteError, match="file"):
            make(target, "one")
    assert (tmp_path / "wren").read_text() == "a file"


def test_job_without_its_record_is_refused(tmp_path: Path) -> None:
    """A job that wrote no job.json could never be replaced again, so it must not be put in place."""
    with pytest.raises(WriteError, match=r"job\.json"), job_folder(tmp_path / "wren") as folder:
        (folder / "part.step").write_text("x")
    assert names(tmp_path) == []


def test_look_alikes_are_left_alone(tmp_path: Path) -> None:
    """Only folders named and marked as ours may be cleared away."""
    for name in (".wren-notes", ".wren-0123abcd", ".wren-0123abcd-older", ".robin-0123abcd"):
        (tmp_path / name).mkdir()
        age(tmp_path / name)
    before = names(tmp_path)
    make(tmp_path / "wren", "one")
    assert names(tmp_path) == sorted([*before, "wren"])


@pytest.mark.parametrize(
    ("code", "words"), [(errno.ENOSPC, "free some space"), (errno.EACCES, "--out"), (errno.EIO, "try again")]
)
def test_full_or_closed_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, words: str) -> None:
    """A disk that refuses must give a remedy and exit code 7, and leave the file that was there."""
    save_bytes(tmp_path / "a.stl", b"before")

    def refuse(self: Path, data: bytes) -> int:
        with self.open("wb") as file:
            file.write(data[:3])
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(Path, "write_bytes", refuse)
    with pytest.raises(WriteError, match=words) as caught:
        save_bytes(tmp_path / "a.stl", b"after, and longer")
    assert caught.value.exit_code == 7
    assert (tmp_path / "a.stl").read_bytes() == b"before"
    assert names(tmp_path) == ["a.stl"]


def test_check_sums_and_sizes(tmp_path: Path) -> None:
    """Rows must agree with hashlib and leave out job.json and hidden files; "abc": FIPS 180-4's example."""
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "b.txt").write_bytes(b"abc")
    (tmp_path / "a.txt").write_bytes(b"")
    (tmp_path / ".hidden").write_bytes(b"x")
    (tmp_path / "job.json").write_bytes(b"{}")
    rows = describe_files(tmp_path)
    assert [(r.path, r.bytes) for r in rows] == [("a.txt", 0), ("sub/b.txt", 3)]
    assert rows[0].sha256 == hashlib.sha256(b"").hexdigest()
    assert rows[1].sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
