"""Exchange files: one writer per format, found by name; the kernel is loaded when one of them runs."""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

from scalegen.export.content import Content, Writer


@dataclass(frozen=True)
class _LateWriter:
    """The function ``write`` of a module that is imported when it is first needed."""

    module: str

    def __call__(self, path: Path, content: Content) -> None:
        writer: Writer = import_module(self.module).write
        writer(path, content)


WRITERS: Mapping[str, Writer] = {
    "step": _LateWriter("scalegen.export.step"),
    "stl": _LateWriter("scalegen.export.stl"),
    "dxf": _LateWriter("scalegen.export.dxf"),
}

__all__ = ["WRITERS", "Content", "Writer"]
