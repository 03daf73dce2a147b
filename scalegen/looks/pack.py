"""Meshes packed for the page: places in sixteen bits of their box, directions in eight, all as base64."""

import base64
from typing import Any

import numpy as np
import numpy.typing as npt

from scalegen.looks.ink import ink_tone
from scalegen.looks.scene import METALS
from scalegen.solids.look import Numbers, Shown

_STEPS = 65535
_WIRE = "#8a8478"  # shows on light and on dark paper
_MOST_SHORT = 65536


def packed(shown: Shown) -> dict[str, Any]:
    """One piece as the page takes it.

    Returns:
        ``color`` and ``ink`` "#rrggbb", ``metal``, ``low`` and ``size`` of its box in mm, ``counts`` of
        corners, triangles, whether rows take 32 bits, and line ends; and ``data`` in base64, little-endian:
        corners (x, y, z and a spare in 16 bits of the box), normals (x, y, z and a spare in 8 bits with
        sign), line ends like corners, rows of triangles. A place is off by 0.5 / 65535 of the box at most.
    """
    # The two edges of a film of glue would run into one thick line.
    ends = shown.edges.reshape(-1, 3)[: 0 if shown.kind == "bond" else None]
    points = np.vstack([shown.vertices, ends]).astype(np.float64)
    low, high = points.min(axis=0), points.max(axis=0)
    size = np.maximum(high - low, 1e-6)
    wide = len(shown.vertices) > _MOST_SHORT
    normals = np.zeros((len(shown.normals), 4), dtype=np.int8)
    normals[:, :3] = np.rint(shown.normals * 127).astype(np.int8)
    parts = [
        _shorts(shown.vertices, low, size).tobytes(),
        normals.tobytes(),
        _shorts(ends, low, size).tobytes(),
        shown.triangles.astype("<u4" if wide else "<u2").tobytes(),
    ]
    return {
        "name": shown.name,
        "color": shown.color,
        "ink": _WIRE if shown.kind == "blank" else ink_tone(shown.color),
        "metal": shown.kind in METALS,
        "low": [round(float(value), 6) for value in low],
        "size": [round(float(value), 6) for value in size],
        "counts": [len(shown.vertices), len(shown.triangles), int(wide), len(ends)],
        "data": base64.b64encode(b"".join(parts)).decode("ascii"),
    }


def _shorts(points: Numbers, low: Numbers, size: Numbers) -> npt.NDArray[np.uint16]:
    out = np.zeros((len(points), 4), dtype="<u2")
    out[:, :3] = np.rint((points.astype(np.float64) - low) / size * _STEPS).clip(0, _STEPS)
    return out
