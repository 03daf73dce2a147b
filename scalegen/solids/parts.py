"""What the writers are handed: parts made of named, coloured solids, and where they stand."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True, eq=False)
class Solid:
    """One solid: ``shape`` is a kernel TopoDS_Shape in mm, ``color`` "#rrggbb"."""

    name: str
    color: str
    shape: Any


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """Solids that belong together, such as the layers of a left scale."""

    name: str
    solids: Sequence[Solid]


@dataclass(frozen=True, kw_only=True)
class Instance:
    """One use of a part: turned about +z by ``angle_rad``, then moved.

    Attributes:
        part: Name of the part.
        label: Name of this use, such as "1L".
        x_mm: Move along x.
        y_mm: Move along y.
        z_mm: Move along z.
        angle_rad: Turn about the part's own origin.
        flipped: Turned over first, by half a turn about +x (for a scale on the far side of the tang).
    """

    part: str
    label: str
    x_mm: float = 0.0
    y_mm: float = 0.0
    z_mm: float = 0.0
    angle_rad: float = 0.0
    flipped: bool = False
