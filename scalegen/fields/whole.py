"""Putting a new text in the place of a user's file: all of it or nothing."""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from scalegen.errors import WriteError


def replace_text(path: Path, text: str, check: Callable[[Path], None]) -> None:
    """Write a file anew, all or nothing.

    The new text is written beside the file, read back and checked, and only then put in its place. A byte
    order mark and the rights of a file that is there already are kept, and a link stays one.

    Args:
        path: The file; it need not be there yet.
        text: What it is to hold.
        check: Reads the file it is handed and raises where that will not do.

    Raises:
        WriteError: The folder or file cannot be written; the file is as it was.
        ScalegenError: What ``check`` raises; the file is as it was.
    """
    target = path.resolve()
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.stem}-", suffix=".tmp", dir=target.parent)
    except OSError as error:
        raise _write_error(path, error) from None
    spare = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(_mark(target) + text.encode())
            file.flush()
            os.fsync(file.fileno())
        check(spare)
        if target.exists():
            shutil.copymode(target, spare)
        else:
            spare.chmod(0o644)
        spare.replace(target)
    except OSError as error:
        raise _write_error(path, error) from None
    finally:
        with contextlib.suppress(OSError):
            spare.unlink(missing_ok=True)


def _write_error(path: Path, error: OSError) -> WriteError:
    return WriteError(
        f"cannot be written: {error.strerror or error}",
        where=str(path),
        remedy="check your right to write there and the space left; the file is as it was",
    )


def _mark(path: Path) -> bytes:
    """The byte order mark of a file that has one, otherwise nothing."""
    mark = "\ufeff".encode()
    return mark if path.is_file() and path.read_bytes().startswith(mark) else b""
