"""The kinds of entities that can be part of an outline, each with the function that reads it.

Source of the group codes: the DXF reference, ENTITIES section (from memory).
"""

import math
from collections.abc import Callable

import numpy as np

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.dxf_records import Record
from scalegen.outline.join import arc_rows
from scalegen.outline.nurbs import nurbs, through
from scalegen.outline.paths import Chain, Path, Turn, plane_frame
from scalegen.outline.ring import FloatArray

NO_OUTLINE = frozenset(
    (
        "ACAD_PROXY_ENTITY",
        "ACAD_TABLE",
        "ARC_DIMENSION",
        "ATTDEF",
        "ATTRIB",
        "DIMENSION",
        "HATCH",
        "IMAGE",
        "LARGE_RADIAL_DIMENSION",
        "LEADER",
        "LIGHT",
        "MTEXT",
        "MULTILEADER",
        "OLE2FRAME",
        "OLEFRAME",
        "PDFUNDERLAY",
        "POINT",
        "RAY",
        "RTEXT",
        "SHAPE",
        "TEXT",
        "TOLERANCE",
        "VIEWPORT",
        "WIPEOUT",
        "XLINE",
    )
)
MOST_GROUPS = 120_000
_FULL_RAD = 1e-4
_UP = (0.0, 0.0, 1.0)


def path_of(record: Record) -> Path:
    """The curve of one entity.

    Raises:
        UnreadableError: It cannot be taken; says why.
    """
    if record.damaged:
        raise UnreadableError("damaged")
    if len(record.codes) > MOST_GROUPS:
        raise UnreadableError("too many points")
    return READERS[record.kind](record)


def _frame(record: Record) -> FloatArray:
    return plane_frame(record.place(210, _UP))


def _line(record: Record) -> Path:
    a, b = record.place(10), record.place(11)
    return Path(
        shape=Chain(table=np.array([[*a, 0.0], [*b, 0.0]]), frame=np.eye(4)), closed=False, name="LINE"
    )


def _radius(record: Record) -> float:
    radius = record.number(40)
    if radius <= 0:
        raise UnreadableError("its radius is not above 0")
    return radius


def _circle(record: Record) -> Path:
    (x, y, z), r = record.place(10), _radius(record)
    table = np.array([[x - r, y, z, 1.0], [x + r, y, z, 1.0]])
    return Path(shape=Chain(table=table, frame=_frame(record)), closed=True, name=record.kind)


def _arc(record: Record) -> Path:
    first, last = math.radians(record.number(50)), math.radians(record.number(51))
    sweep = (last - first) % (2 * math.pi)
    if min(sweep, 2 * math.pi - sweep) < 1e-9:
        return _circle(record)
    x, y, z = record.place(10)
    rows = arc_rows((x, y), _radius(record), first, sweep)
    table = np.insert(rows, 2, z, axis=1)
    return Path(shape=Chain(table=table, frame=_frame(record)), closed=False, name="ARC")


def _ellipse(record: Record) -> Path:
    center, u = np.array(record.place(10)), np.array(record.place(11))
    normal = np.array(record.place(210, _UP))
    size, ratio = float(np.linalg.norm(normal)), record.number(40)
    if size < 1e-12 or not u.any():
        raise UnreadableError("its plane or its axis has no direction")
    if ratio == 0:
        raise UnreadableError("an ellipse without width")
    first, last = record.number(41, 0.0), record.number(42, 2 * math.pi)
    sweep = (last - first) % (2 * math.pi)
    full = min(sweep, 2 * math.pi - sweep) < _FULL_RAD
    shape = Turn(
        center=center,
        u=u,
        v=abs(ratio) * np.cross(normal / size, u),
        start_rad=first,
        sweep_rad=2 * math.pi if full else sweep,
    )
    return Path(shape=shape, closed=full, name="ELLIPSE")


def _lwpolyline(record: Record) -> Path:
    rows: list[list[float]] = []
    height = record.number(38, 0.0)
    for code, value in zip(record.codes, record.values, strict=True):
        try:
            if code == 10:
                rows.append([float(value), math.nan, height, 0.0])
            elif code == 20 and rows:
                rows[-1][1] = float(value)
            elif code == 42 and rows:
                rows[-1][3] = float(value)
        except ValueError:
            raise UnreadableError("damaged") from None
    if record.whole(90, len(rows)) != len(rows):
        raise UnreadableError("damaged: points are missing")
    return _polyline_path(
        np.array(rows).reshape(-1, 4), bool(record.whole(70) & 1), _frame(record), record.kind
    )


def _polyline(record: Record) -> Path:
    flags = record.whole(70)
    if flags & (16 | 64):
        raise UnreadableError("a mesh")
    solid = bool(flags & 8)
    frame_point = 16  # control points of a smoothed polyline, which are not on it
    used = [vertex for vertex in record.parts if not vertex.whole(70) & frame_point]
    table = np.array([[*v.place(10), 0.0 if solid else v.number(42, 0.0)] for v in used]).reshape(-1, 4)
    if not solid:
        table[:, 2] = record.number(30, 0.0)
    return _polyline_path(table, bool(flags & 1), np.eye(4) if solid else _frame(record), record.kind)


def _polyline_path(table: FloatArray, closed: bool, frame: FloatArray, name: str) -> Path:
    if len(table) < 2:
        raise UnreadableError("fewer than two points")
    if not np.isfinite(table).all():
        raise UnreadableError("damaged")
    return Path(shape=Chain(table=table, frame=frame), closed=closed, name=name)


def _spline(record: Record) -> Path:
    control = np.array(record.places(10)).reshape(-1, 3)
    if len(control):
        weights, knots = np.array(record.numbers(41)), np.array(record.numbers(40))
        shape = nurbs(control, weights, knots, record.whole(71, 3))
    else:
        points = np.array(record.places(11)).reshape(-1, 3)
        if len(points) > 2 and record.whole(70) & 1:
            points = np.vstack([points, points[:1]])
        directions = [np.array(record.place(code)) if code in record.codes else None for code in (12, 13)]
        shape = through(points, *directions)
    # Whether it closes is seen by its ends: the flag is often wrong.
    return Path(shape=shape, closed=False, name="SPLINE")


READERS: dict[str, Callable[[Record], Path]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}
