"""What one writer is handed, whatever its format, and whether it makes sense."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sin
from pathlib import Path
from typing import Literal, Protocol

import numpy as np

from scalegen.errors import WriteError
from scalegen.export.drawing import Drawing
from scalegen.model import Units
from scalegen.outline.ring import FloatArray
from scalegen.solids.parts import Instance, Part

_COLOR = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True, kw_only=True, eq=False)
class Content:
    """One file's worth of geometry; a writer reads what its format can hold.

    Attributes:
        product: Name of the whole.
        parts: Solids, for formats with solids or meshes.
        instances: Where the parts stand.
        drawing: Flat shapes, for formats with drawings.
        units: Unit of the file.
        step_schema: Application protocol of STEP files.
        tolerance_mm: Largest distance between a mesh and the true surface.
    """

    product: str
    parts: Sequence[Part] = ()
    instances: Sequence[Instance] = ()
    drawing: Drawing | None = None
    units: Units = "mm"
    step_schema: Literal["AP214", "AP242"] = "AP214"
    tolerance_mm: float = 0.02


class Writer(Protocol):
    """What every format offers: put a content into a file at a path, or raise WriteError."""

    def __call__(self, path: Path, content: Content) -> None:
        """Write the file."""


def check_parts(parts: Sequence[Part], instances: Sequence[Instance], where: str) -> None:
    """Make sure that parts and instances belong together.

    Args:
        parts: The parts.
        instances: Their uses.
        where: File named in errors.

    Raises:
        WriteError: Nothing to write, a part without solids or without shape, a color that is not
            "#rrggbb", a name used twice, or an instance of a part that is not there.
    """
    if not instances:
        raise WriteError("there is nothing to write", where=where, remedy="give at least one instance")
    for kind, names in (("part", [p.name for p in parts]), ("instance", [i.label for i in instances])):
        twice = [name for name, count in Counter(names).items() if count > 1]
        if twice:
            raise WriteError(f"two {kind}s are called {twice[0]!r}", where=where, remedy="rename one of them")
    known = {part.name for part in parts}
    for instance in instances:
        if instance.part not in known:
            raise WriteError(
                f"instance {instance.label!r} asks for part {instance.part!r}, which is not there",
                where=where,
                remedy=f"use one of: {', '.join(sorted(known)) or 'none'}",
            )
    for part in parts:
        _check_solids(part, where)


def _check_solids(part: Part, where: str) -> None:
    if not part.solids:
        raise WriteError(f"part {part.name!r} has no solids", where=where)
    names = Counter(solid.name for solid in part.solids)
    for solid in part.solids:
        if names[solid.name] > 1:
            raise WriteError(f"part {part.name!r} has two solids called {solid.name!r}", where=where)
        if not _COLOR.fullmatch(solid.color):
            raise WriteError(
                f"solid {solid.name!r} has the color {solid.color!r}",
                where=where,
                remedy='write colors as "#rrggbb"',
            )
        if solid.shape is None or solid.shape.IsNull():
            raise WriteError(f"solid {solid.name!r} has no shape", where=where)


def instance_matrix(instance: Instance) -> FloatArray:
    """Float64 (4, 4): takes points of the part to where the instance stands, in mm."""
    c, s = cos(instance.angle_rad), sin(instance.angle_rad)
    quarters = instance.angle_rad / (pi / 2)
    if abs(quarters - round(quarters)) < 1e-12:
        c, s = float(round(c)), float(round(s))  # else a quarter turn leaves dust such as 6e-17
    over = -1.0 if instance.flipped else 1.0  # half a turn about x is diag(1, -1, -1)
    return np.array(
        [
            [c, -s * over, 0.0, instance.x_mm],
            [s, c * over, 0.0, instance.y_mm],
            [0.0, 0.0, over, instance.z_mm],
            [0.0, 0.0, 0.0, 1.0],
        ]
    )
