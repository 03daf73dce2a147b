"""Files that are either there as a whole or not at all: single ones, and whole job folders.

A job folder is filled aside, in a hidden sibling ``.<job>-<8 hex digits>``, and moved into place by
renaming, which a file system does at once or not at all. The folder it replaces is kept, renamed with
``-old`` at its end, until the new one stands. A run that is killed leaves one of these behind; the next
run for the same job puts an old one back if there is nothing in its place, and removes the rest.
"""

import errno
import hashlib
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from scalegen.errors import WriteError

# Only POSIX systems have it; on others leftovers are told by their age alone.
fcntl: Any = import_module("fcntl") if find_spec("fcntl") else None

JOB_FILE = "job.json"
_UNFINISHED = ".scalegen-unfinished"
_YOUNG_S = 600.0
_YOUNG_UNLOCKED_S = 24 * 3600.0

_REMEDIES = {
    errno.EACCES: "write to a folder that you may change, with {option}",
    errno.EPERM: "write to a folder that you may change, with {option}",
    errno.EROFS: "write to a folder that you may change, with {option}",
    errno.ENOSPC: "free some space, or write to another disk with {option}",
    errno.EDQUOT: "free some space, or write to another disk with {option}",
    errno.ENOTDIR: "a file stands where a folder is needed; move it or choose another {option}",
    errno.EEXIST: "a file stands where a folder is needed; move it or choose another {option}",
    errno.ENAMETOOLONG: "use a shorter name for the job",
}


@dataclass(frozen=True, kw_only=True)
class WrittenFile:
    """One file of a job: ``path`` from the job folder with "/", its SHA-256 in hex and its size."""

    path: str
    sha256: str
    bytes: int


def write_error(fault: OSError, path: Path, option: str = "--out") -> WriteError:
    """The user's error for one of the operating system; another place is said by the option."""
    reason = (fault.strerror or str(fault)).lower()
    remedy = _REMEDIES.get(fault.errno or 0, "check the folder and try again")
    return WriteError(f"cannot be written: {reason}", where=str(path), remedy=remedy.format(option=option))


def require_folder(folder: Path, option: str) -> None:
    """Refuse a folder that cannot be one, before any work is done: a file stands there or on the way.

    Raises:
        WriteError: It cannot.
    """
    there = next((each for each in (folder, *folder.parents) if each.exists()), None)
    if there is not None and not there.is_dir():
        raise write_error(NotADirectoryError(errno.ENOTDIR, "this is a file"), there, option)


def save_bytes(path: Path, data: bytes, option: str = "--out") -> None:
    """Write one file, whole or not at all.

    Args:
        path: File to write; one that is there is replaced.
        data: What it is to hold.
        option: Where another place is said.

    Raises:
        WriteError: The system refuses; what was there before still is.
    """
    aside = path.with_name(f".{path.name}-{secrets.token_hex(4)}")
    try:
        aside.write_bytes(data)
        aside.replace(path)
    except OSError as fault:
        with suppress(OSError):
            aside.unlink(missing_ok=True)
        raise write_error(fault, path, option) from fault


def describe_files(folder: Path) -> tuple[WrittenFile, ...]:
    """Sizes and check sums of all files in a job folder, in the order of their paths.

    Args:
        folder: The folder while it is being filled, or after.

    Returns:
        One row a file; without ``job.json``, which is to hold these rows, and without hidden files.
    """
    found = []
    for path in folder.rglob("*"):
        inner = path.relative_to(folder)
        if (
            path.is_file()
            and inner.as_posix() != JOB_FILE
            and not any(p.startswith(".") for p in inner.parts)
        ):
            data = path.read_bytes()
            found.append(
                WrittenFile(path=inner.as_posix(), sha256=hashlib.sha256(data).hexdigest(), bytes=len(data))
            )
    return tuple(sorted(found, key=lambda f: f.path))


@contextmanager
def job_folder(target: Path) -> Iterator[Path]:
    """Fill a job folder aside and move it into place whole when the block ends well.

    Args:
        target: Where the job folder is to stand; an earlier one with a ``job.json`` is replaced.

    Yields:
        The folder to write into.

    Raises:
        WriteError: The target is a file or a folder that is not a job of ours, the system refuses, or
            the block left no ``job.json``. The earlier folder is untouched then, as it is after any
            other exception in the block.
    """
    place = target.resolve()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with _locked(place.parent):
            _clear_leftovers(place)
        _check_replaceable(place)
        aside = place.with_name(f".{place.name}-{secrets.token_hex(4)}")
        aside.mkdir()
    except OSError as fault:
        raise write_error(fault, target) from fault
    try:
        with _held(aside):
            (aside / _UNFINISHED).touch()
            yield aside
            if not (aside / JOB_FILE).is_file():
                raise WriteError(f"the job wrote no {JOB_FILE}", where=str(target))
            _flush(aside)
            (aside / _UNFINISHED).unlink()
            with _locked(place.parent):
                _check_replaceable(place)
                _swap(aside, place)
    except OSError as fault:
        raise write_error(fault, target) from fault
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _check_replaceable(place: Path) -> None:
    if not place.exists():
        return
    if not place.is_dir():
        raise WriteError(
            "a file stands where the job folder is to go",
            where=str(place),
            remedy="move the file, or give the job another name",
        )
    if any(place.iterdir()) and not (place / JOB_FILE).is_file():
        raise WriteError(
            f"this folder is not a job folder (it has no {JOB_FILE}), so it is left alone",
            where=str(place),
            remedy="move it, or give the job another name",
        )


def _swap(aside: Path, place: Path) -> None:
    """Old away, new in, old removed; if the new one cannot go in, the old one comes back."""
    old = aside.with_name(f"{aside.name}-old")
    had_one = place.exists()
    if had_one:
        place.rename(old)
    try:
        aside.rename(place)
    except OSError:
        if had_one:
            old.rename(place)
        raise
    if had_one:
        shutil.rmtree(old, ignore_errors=True)


def _flush(folder: Path) -> None:
    """Have the disk hold the files before they take the place of others."""
    for path in folder.rglob("*"):
        if path.is_file():
            with path.open("rb+") as file:
                os.fsync(file.fileno())


# ------------------------------------------------------------------------------------------ leftovers


def _clear_leftovers(place: Path) -> None:
    """Put back a folder that a killed run had moved away, and remove what such runs left behind."""
    name = re.compile(rf"\.{re.escape(place.name)}-[0-9a-f]{{8}}(-old)?")
    left = [p for p in place.parent.iterdir() if name.fullmatch(p.name) and p.is_dir() and not p.is_symlink()]
    old = [p for p in left if p.name.endswith("-old") and (p / JOB_FILE).is_file()]
    if old and not place.exists():
        newest = max(old, key=lambda p: p.stat().st_mtime)
        newest.rename(place)
        left.remove(newest)
    for path in left:
        is_ours = (path / _UNFINISHED).is_file() or (path / JOB_FILE).is_file()
        if is_ours and not _in_use(path):
            shutil.rmtree(path, ignore_errors=True)


def _in_use(folder: Path) -> bool:
    """Whether a run may still be at work in a folder: it holds a lock there, or it began just now."""
    age_s = time.time() - folder.stat().st_mtime
    if fcntl is None:
        return age_s < _YOUNG_UNLOCKED_S
    if age_s < _YOUNG_S and not folder.name.endswith("-old"):
        return True
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return True
    else:
        return False
    finally:
        os.close(handle)


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    """Hold a lock on a folder that ends with the process, however that ends."""
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # some network disks have no locks; the folder's age has to do there
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


_locked = _held  # the same lock, on the folder that holds all jobs, while folders change their names
