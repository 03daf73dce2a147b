"""What is looked at: coloured meshes with their sharp edges, as plain arrays. No kernel."""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from scalegen.model import LayerKind

Numbers = npt.NDArray[np.floating[Any]]
"""Floats of either size."""

Floats = npt.NDArray[np.float32]
Rows = npt.NDArray[np.int32]
ShownKind = LayerKind | Literal["tang", "hardware", "pad", "blank"]

LOOK_MM, LOOK_RAD = 0.03, 0.3
"""How far triangles may be off the surface where something is only looked at, and the angle between them. Our
choice; no file to cut by is made from them."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Shown:
    """One solid as it is looked at.

    Attributes:
        name: Layer, hardware or part.
        kind: What it is.
        color: "#rrggbb".
        vertices: float32 (v, 3) in mm; corners on a sharp edge are there once for each face.
        normals: float32 (v, 3) unit, outwards.
        triangles: int32 (t, 3) rows of ``vertices``, counter-clockwise seen from outside.
        faces: int32 (t,) the face that each triangle is a piece of, counted from 0.
        edges: float32 (e, 2, 3) in mm, the sharp edges cut into straight pieces.
    """

    name: str
    kind: ShownKind
    color: str
    vertices: Floats
    normals: Floats
    triangles: Rows
    faces: Rows
    edges: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Looks:
    """One pattern as it is looked at, every piece in its own frame.

    The right scale is the mirror image of the left across y = 0, so only the left one is kept.

    Attributes:
        pattern: Name of the pattern.
        as_cut: Layers of the left scale as cut, from back to face.
        finished: The same, finished.
        tang: The tang about z = 0.
    """

    pattern: str
    as_cut: tuple[Shown, ...]
    finished: tuple[Shown, ...]
    tang: Shown
