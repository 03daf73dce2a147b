"""Laying out a new shop folder with the tables and patterns that come with the program."""

from collections.abc import Sequence
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

from scalegen.errors import UsageError, WriteError

_FILLED: Final = {"profiles": (".toml", ".dxf"), "shared": (".toml",)}
_EMPTY: Final = "out"


def init_folder(folder: Path) -> tuple[Path, ...]:
    """Lay out ``profiles/``, ``shared/`` and ``out/``.

    Args:
        folder: Where; made when it is not there yet. Other files in it stay as they are.

    Returns:
        The files written, in alphabetical order.

    Raises:
        UsageError: One of the files is there already, or the folder is not a folder; nothing is written.
        WriteError: A file could not be written; what had been written until then is taken away again.
    """
    if folder.exists() and not folder.is_dir():
        raise UsageError("this is a file, not a folder", where=str(folder), remedy="name another folder")
    content = {
        folder / name / source.name: source
        for name, endings in _FILLED.items()
        for source in _bundled(name, endings)
    }
    there = sorted(str(path.relative_to(folder)) for path in content if path.exists() or path.is_symlink())
    if there:
        raise UsageError(
            f"already there: {', '.join(there)}",
            where=str(folder),
            remedy="name another folder, or move these files away first",
        )
    made: list[Path] = []
    try:
        for sub in (*_FILLED, _EMPTY):
            _make_folders(folder / sub, made)
        for path, source in content.items():
            with path.open("xb") as stream:
                made.append(path)
                stream.write(source.read_bytes())
    except OSError as error:
        _take_away(made)
        raise WriteError(
            f"cannot write: {error.strerror or error}",
            where=str(error.filename or folder),
            remedy="check that the folder may be written and the disk has room",
        ) from error
    return tuple(sorted(content))


def _bundled(name: str, endings: Sequence[str]) -> list[Traversable]:
    """Files of one folder of the program's data, in alphabetical order; none when it is not there."""
    source = files("scalegen").joinpath("data", name)
    if not source.is_dir():
        return []
    return sorted(
        (each for each in source.iterdir() if each.is_file() and each.name.endswith(tuple(endings))),
        key=lambda each: each.name,
    )


def _make_folders(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it, noting each one that is new."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    for each in reversed(missing):
        each.mkdir()
        made.append(each)
    if not folder.is_dir():
        raise NotADirectoryError(20, "there is a file of this name", str(folder))


def _take_away(made: Sequence[Path]) -> None:
    """Remove what was made, newest first; what cannot be removed stays."""
    for path in reversed(made):
        try:
            if path.is_dir():
                path.rmdir()
            else:
                path.unlink(missing_ok=True)
        except OSError:
            continue
