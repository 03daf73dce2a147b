"""Curves of a drawing on their way from their own planes to the flat: moved about exactly, then laid down.

Lines, arcs of circles and ellipses, and B-splines all stay what they are under any affine map, so blocks that
are scaled unevenly, mirrored or turned cost no accuracy.
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.dxf_records import Place3
from scalegen.outline.join import arc_rows
from scalegen.outline.nurbs import Nurbs
from scalegen.outline.ring import FloatArray

_FLAT = 1e-6
_ROUND = 1e-6
_UP = (0.0, 0.0, 1.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Chain:
    """Lines and circular arcs in one plane.

    Attributes:
        table: float64 (n, 4) x, y, z, bulge in the plane's own frame; an open chain's last bulge
            means nothing.
        frame: (4, 4) world from own frame.
    """

    table: FloatArray
    frame: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Turn:
    """Part of an ellipse: center + cos(t) u + sin(t) v, t from start to start + sweep.

    Attributes:
        center: (3,).
        u: (3,).
        v: (3,).
        start_rad: First parameter.
        sweep_rad: Its whole change, above 0.
    """

    center: FloatArray
    u: FloatArray
    v: FloatArray
    start_rad: float
    sweep_rad: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Path:
    """One entity: a shape in space, whether it closes on itself, and its name in messages."""

    shape: Chain | Turn | Nurbs
    closed: bool
    name: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """A flat curve that is neither line nor arc.

    Attributes:
        at: Points (m, 2) at parameters (m,) between the first break and the last.
        breaks: Parameters between which it is smooth, rising.
    """

    at: Callable[[FloatArray], FloatArray]
    breaks: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class FlatPath:
    """A path laid down: rows x, y, bulge, end point included, or curves; each goes on from the one before."""

    parts: tuple[FloatArray | Curve, ...]
    closed: bool
    height: float
    name: str

    def corners(self) -> FloatArray:
        """Some points on or near it, (m, 2), enough to tell where it is."""
        return np.vstack(
            [
                part.at(np.linspace(part.breaks[0], part.breaks[-1], 33))
                if isinstance(part, Curve)
                else part[:, :2]
                for part in self.parts
            ]
        )


def plane_frame(normal: Place3) -> FloatArray:
    """World from the frame of an entity that only states the direction its plane is seen from.

    Args:
        normal: Extrusion direction, any length.

    Returns:
        (4, 4).

    Raises:
        UnreadableError: The direction is zero.

    Source: the DXF reference, Arbitrary Axis Algorithm (from memory).
    """
    if normal == _UP:
        return np.eye(4)
    n = np.array(normal)
    size = float(np.linalg.norm(n))
    if size < 1e-12:
        raise UnreadableError("its plane has no direction")
    n = n / size
    near = abs(n[0]) < 1 / 64 and abs(n[1]) < 1 / 64
    x = np.cross([0.0, 1.0, 0.0] if near else [0.0, 0.0, 1.0], n)
    x = x / np.linalg.norm(x)
    frame = np.eye(4)
    frame[:3, :3] = np.column_stack([x, np.cross(n, x), n])
    return frame


def moved(path: Path, matrix: FloatArray) -> Path:
    """A path after an affine map (4, 4)."""
    shape = path.shape
    if isinstance(shape, Chain):
        return replace(path, shape=replace(shape, frame=matrix @ shape.frame))
    if isinstance(shape, Nurbs):
        return replace(path, shape=shape.moved(matrix))
    turned = matrix[:3, :3]
    return replace(
        path,
        shape=replace(
            shape, center=turned @ shape.center + matrix[:3, 3], u=turned @ shape.u, v=turned @ shape.v
        ),
    )


def laid_down(path: Path) -> FlatPath:
    """A path in the drawing's plane.

    Raises:
        UnreadableError: It does not lie parallel to that plane.
    """
    shape = path.shape
    parts: tuple[FloatArray | Curve, ...]
    if isinstance(shape, Chain):
        parts, height = _flat_chain(shape, closed=path.closed)
    elif isinstance(shape, Turn):
        parts, height = (_flat_turn(shape),), float(shape.center[2])
    else:
        height = _height(shape.points)
        parts = (_flat_spline(shape),)
    return FlatPath(parts=parts, closed=path.closed, height=height, name=path.name)


def _flat_spline(shape: Nurbs) -> FloatArray | Curve:
    """Straight pieces for a first degree, a curve for any other."""
    if shape.degree == 1:
        points = shape.at(shape.breaks)[:, :2]
        return np.column_stack([points, np.zeros(len(points))])
    return Curve(at=lambda t: shape.at(t)[:, :2], breaks=shape.breaks)


def _height(points: FloatArray) -> float:
    """The one height of points (n, 3)."""
    reach = max(1.0, float(np.ptp(points[:, :2], axis=0).max()))
    if np.ptp(points[:, 2]) > _FLAT * reach:
        raise UnreadableError("not flat")
    return float(points[0, 2])


def _flat_chain(shape: Chain, *, closed: bool) -> tuple[tuple[FloatArray | Curve, ...], float]:
    """A chain's own rows where its arcs stay round, or else its segments one by one."""
    axes, bulges = shape.frame[:3, :3], shape.table[:, 3]
    world = shape.table[:, :3] @ axes.T + shape.frame[:3, 3]
    height = _height(world)
    bent = bulges if closed else bulges[:-1]
    if not bent.any():
        rows = np.column_stack([world[:, :2], np.zeros(len(world))])
        return (_closing(rows) if closed else rows,), height
    x, y = axes[:, 0], axes[:, 1]
    size = float(np.linalg.norm(x))
    if max(abs(x[2]), abs(y[2])) > _FLAT * size:
        raise UnreadableError("not flat")
    if abs(np.linalg.norm(y) - size) <= _ROUND * size and abs(x @ y) <= _ROUND * size**2:
        side = 1.0 if x[0] * y[1] - x[1] * y[0] > 0 else -1.0
        rows = np.column_stack([world[:, :2], side * bulges])
        return (_closing(rows) if closed else rows,), height
    table = np.vstack([shape.table, shape.table[:1]]) if closed else shape.table
    parts: list[FloatArray | Curve] = []
    for a, b in itertools.pairwise(table):
        if not np.hypot(*(b - a)[:2]):
            continue
        parts.append(_segment(a, b, shape.frame))
    return tuple(parts), height


def _closing(rows: FloatArray) -> FloatArray:
    """Rows of a closed chain with the first point again at the end."""
    return np.vstack([rows, [*rows[0, :2], 0.0]])


def _segment(a: FloatArray, b: FloatArray, frame: FloatArray) -> FloatArray | Curve:
    """One line or arc of a chain in a frame that does not keep circles round."""
    if a[3] == 0:
        ends = np.array([a[:3], b[:3]]) @ frame[:3, :3].T + frame[:3, 3]
        return np.column_stack([ends[:, :2], [0.0, 0.0]])
    bulge, step = a[3], (b - a)[:2]
    left = np.array([-step[1], step[0]])
    center = (a[:2] + b[:2]) / 2 + left * (1 - bulge**2) / (4 * bulge)
    arm = a[:2] - center
    side = np.sign(bulge)
    turn = Turn(
        center=frame[:3, :3] @ np.array([*center, a[2]]) + frame[:3, 3],
        u=frame[:3, :3] @ np.array([*arm, 0.0]),
        v=frame[:3, :3] @ (side * np.array([-arm[1], arm[0], 0.0])),
        start_rad=0.0,
        sweep_rad=abs(4 * float(np.arctan(bulge))),
    )
    return _flat_turn(turn)


def _flat_turn(shape: Turn) -> FloatArray | Curve:
    """Arc rows where the ellipse is a circle, a curve where it is not."""
    u, v = shape.u, shape.v
    long, wide = float(np.linalg.norm(u)), float(np.linalg.norm(v))
    if max(abs(u[2]), abs(v[2])) > _FLAT * max(long, wide):
        raise UnreadableError("not flat")
    if min(long, wide) <= 1e-9 * max(long, wide) or max(long, wide) == 0:
        raise UnreadableError("an ellipse without width")
    c, u, v = shape.center[:2], u[:2], v[:2]
    if abs(long - wide) <= _ROUND * long and abs(float(u @ v)) <= _ROUND * long**2:
        side = 1.0 if u[0] * v[1] - u[1] * v[0] > 0 else -1.0
        first = float(np.arctan2(u[1], u[0])) + side * shape.start_rad
        return arc_rows((float(c[0]), float(c[1])), long, first, side * shape.sweep_rad)
    stop = shape.start_rad + shape.sweep_rad
    count = max(2, int(np.ceil(shape.sweep_rad / 0.8)) + 1)
    return Curve(
        at=lambda t: c + np.cos(t)[:, None] * u + np.sin(t)[:, None] * v,
        breaks=np.linspace(shape.start_rad, stop, count),
    )
