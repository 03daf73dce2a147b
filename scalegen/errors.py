"""Every error a user can meet, each with the exit code the command line ends with.

    ScalegenError          base
    ├── UsageError         2  the command was called wrongly
    ├── PatternError       3  a pattern, batch, table or outline file is faulty
    ├── GeometryError      4  a shape cannot be made
    ├── SheetError         5  the parts do not go on the sheet
    ├── StopError          6  a check found something that stops the job
    └── WriteError         7  a file cannot be written

Exit code 1 is kept for faults of the program itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing that is wrong in a file a user wrote.

    Attributes:
        file: The file as the user named it.
        field: Path of the field inside it, such as ``pin[2].at``; empty for the file as a whole.
        found: What is there.
        allowed: What may be there instead.
        hint: What to do, such as the key that was probably meant; may be empty.
        line: Line of the file it is on, counted from 1; 0 when not known.
    """

    file: str
    field: str
    found: str
    allowed: str
    hint: str = ""
    line: int = 0

    def __str__(self) -> str:
        file = f"{self.file}, line {self.line}" if self.line else self.file
        place = f"{file}: {self.field}" if self.field else file
        text = f"{place}: {self.found}; {self.allowed}" if self.allowed else f"{place}: {self.found}"
        return f"{text} ({self.hint})" if self.hint else text


class ScalegenError(Exception):
    """Base of all errors meant for the user: a message, a place, a remedy and an exit code."""

    exit_code = 1

    def __init__(self, message: str, *, where: str = "", remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        return f"{text}\n  what to do: {self.remedy}" if self.remedy else text


class UsageError(ScalegenError):
    """The command was called in a way that cannot work."""

    exit_code = 2


class PatternError(ScalegenError):
    """A file the user wrote is faulty; carries every fault found in it.

    Args:
        message: One line that sums up.
        faults: Every fault, in the order of the file.
        where: The file, when there are no separate faults.
        remedy: What to do, when there are no separate faults.
    """

    exit_code = 3

    def __init__(
        self, message: str, *, faults: Sequence[Fault] = (), where: str = "", remedy: str = ""
    ) -> None:
        super().__init__(message, where=where, remedy=remedy)
        self.faults = tuple(faults)

    def __str__(self) -> str:
        return "\n".join([super().__str__(), *(f"  {fault}" for fault in self.faults)])


class GeometryError(ScalegenError):
    """A shape cannot be made; ``where`` names the place on the outline."""

    exit_code = 4


class SheetError(ScalegenError):
    """The parts do not go on the sheet."""

    exit_code = 5


class StopError(ScalegenError):
    """A check found something that must not be cut."""

    exit_code = 6


class WriteError(ScalegenError):
    """A result cannot be written; what was there before is untouched."""

    exit_code = 7
