"""Scenes: pieces put in their places, and the camera they are seen by."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scalegen.solids.look import Numbers, Rows, Shown

Finish = Literal["matte", "metal"]
METALS = ("tang", "hardware")

IDENTITY: Numbers = np.hstack([np.eye(3), np.zeros((3, 1))])
MIRRORED: Numbers = np.hstack([np.diag([1.0, -1.0, 1.0]), np.zeros((3, 1))])
"""A right scale on the bed from a left one."""
BELOW: Numbers = np.hstack([np.diag([1.0, 1.0, -1.0]), np.zeros((3, 1))])
"""A right scale on the far side of the tang from a left one: mirrored, then turned over."""


def moved(move: Numbers, x_mm: float = 0.0, y_mm: float = 0.0, z_mm: float = 0.0) -> Numbers:
    """A move (3, 4) followed by a shift."""
    return np.hstack([move[:, :3], move[:, 3:] + np.array([[x_mm], [y_mm], [z_mm]])])


def turned(move: Numbers, angle_rad: float) -> Numbers:
    """A move (3, 4) followed by a turn about +z."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return np.hstack([turn @ move[:, :3], turn @ move[:, 3:]])


@dataclass(frozen=True, kw_only=True, eq=False)
class Placed:
    """One piece where it stands: ``move`` is float64 (3, 4), a turn or mirror image and a shift in mm."""

    shown: Shown
    move: Numbers

    @property
    def finish(self) -> Finish:
        """How it takes the light."""
        return "metal" if self.shown.kind in METALS else "matte"

    def points(self) -> Numbers:
        """Its corners (v, 3) in place."""
        return into_place(self.shown.vertices, self.move)

    def table(self) -> Rows:
        """Its triangles (t, 3), counter-clockwise seen from outside in place too."""
        flips = float(np.linalg.det(self.move[:, :3])) < 0
        return self.shown.triangles[:, ::-1] if flips else self.shown.triangles


def into_place(points: Numbers, move: Numbers) -> Numbers:
    """Points (..., 3) taken by a move (3, 4)."""
    p = np.asarray(points, dtype=np.float64)
    # Written out, so that the sums come in the same order on every machine.
    return np.stack(
        [
            p[..., 0] * move[k, 0] + p[..., 1] * move[k, 1] + p[..., 2] * move[k, 2] + move[k, 3]
            for k in range(3)
        ],
        axis=-1,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Camera:
    """Where a scene is seen from.

    Attributes:
        eye: (3,) mm.
        axes: (3, 3) unit rows: to the right, up, and towards the eye.
        zoom: Picture widths of a length at distance 1, in pixels.
        size_px: Width and height of the picture.
        middle_px: Where the line of sight meets the picture, from its upper left corner.
    """

    eye: Numbers
    axes: Numbers
    zoom: float
    size_px: tuple[int, int]
    middle_px: tuple[float, float]

    def project(self, points: Numbers) -> Numbers:
        """Points (..., 3) in mm as x, y in pixels from the upper left corner and the distance ahead in mm."""
        d = points - self.eye
        right, up, back = (d[..., 0] * row[0] + d[..., 1] * row[1] + d[..., 2] * row[2] for row in self.axes)
        ahead = -back
        x = self.middle_px[0] + self.zoom * right / ahead
        y = self.middle_px[1] - self.zoom * up / ahead
        return np.stack([x, y, ahead], axis=-1)


def aimed(
    points: Numbers,
    *,
    azimuth_deg: float,
    height_deg: float,
    size_px: tuple[int, int],
    field_deg: float = 24.0,
    rim: float = 0.06,
    roll_deg: float = 0.0,
) -> Camera:
    """A camera that has all points in view, as large as they go.

    Args:
        points: (n, 3) mm.
        azimuth_deg: Where it stands, seen from above: 0 on the +x side, -90 on the -y side.
        height_deg: How far up from level.
        size_px: Width and height of the picture.
        field_deg: Width of its field of view; narrower shows less perspective.
        rim: Part of width and height kept free on every side.
        roll_deg: Turn about the line of sight, counter-clockwise.
    """
    az, up = math.radians(azimuth_deg), math.radians(height_deg)
    back = np.array([math.cos(up) * math.cos(az), math.cos(up) * math.sin(az), math.sin(up)])
    right = np.array([-math.sin(az), math.cos(az), 0.0])
    above = np.cross(back, right)
    c, s = math.cos(math.radians(roll_deg)), math.sin(math.radians(roll_deg))
    right, above = c * right + s * above, c * above - s * right
    axes = np.stack([right, above, back])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    reach = float(np.sqrt(((points - middle) ** 2).sum(axis=1)).max())
    away = 1.2 * reach / math.tan(math.radians(field_deg) / 2)
    camera = Camera(eye=middle + away * back, axes=axes, zoom=1.0, size_px=size_px, middle_px=(0.0, 0.0))
    flat = camera.project(points)[:, :2]
    low, high = flat.min(axis=0), flat.max(axis=0)
    wide, tall = size_px[0] * (1 - 2 * rim), size_px[1] * (1 - 2 * rim)
    zoom = min(wide / (high[0] - low[0]), tall / (high[1] - low[1]))
    center = (low + high) / 2 * zoom
    return Camera(
        eye=camera.eye,
        axes=axes,
        zoom=float(zoom),
        size_px=size_px,
        middle_px=(float(size_px[0] / 2 - center[0]), float(size_px[1] / 2 - center[1])),
    )
