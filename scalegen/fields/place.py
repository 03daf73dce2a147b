"""Where a value stands in a file, and the faults found there."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from dataclasses import field as made_by
from pathlib import Path

from scalegen.errors import Fault
from scalegen.fields.words import printable, show_key
from scalegen.model import Units


class Refused(ValueError):  # noqa: N818 - it is a way to hand faults up, not an error a user sees
    """What stands at a place cannot be used; carries one fault or many."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = faults


@dataclass(frozen=True, kw_only=True)
class Place:
    """A place in a file and what is needed to understand what stands there.

    Attributes:
        file: The file as the user named it.
        folder: What file names inside it are relative to.
        units: Unit of bare lengths.
        field: Path of the field; entries of lists count from 1, so ``pin[2].at`` is the ``at`` of the
            second ``[[pin]]``. Empty for the file as a whole.
        homes: For keys of the file, where they go, such as "under [scale]".
    """

    file: str
    folder: Path = Path()
    units: Units = "mm"
    field: str = ""
    homes: Mapping[str, str] = made_by(default_factory=dict)

    def key(self, name: str) -> "Place":
        """The place of a key inside this one."""
        shown = show_key(name)
        return replace(self, field=f"{self.field}.{shown}" if self.field else shown)

    def item(self, number: int) -> "Place":
        """The place of an entry inside this one; ``number`` counts from 1."""
        return replace(self, field=f"{self.field}[{number}]")

    def fault(self, found: str, allowed: str = "", hint: str = "") -> Fault:
        """A fault at this place."""
        return Fault(
            file=self.file, field=self.field, found=printable(found), allowed=allowed, hint=printable(hint)
        )


def units_of(data: Mapping[str, object]) -> Units:
    """The unit of bare lengths in a file; mm as long as the file does not name another that is known."""
    return "in" if data.get("units") == "in" else "mm"
