"""Lines and arcs of a DXF drawing, taken from the entities exactly.

Source of the entities' meaning: the DXF reference, ENTITIES section (from memory, as ezdxf names it).
"""

import io
import logging
import math
import struct
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from ezdxf import filemanagement, recover
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.spline import Spline
from ezdxf.lldxf.const import DXFError

from scalegen.errors import PatternError
from scalegen.model import Units
from scalegen.outline.join import Piece, arc_rows
from scalegen.outline.read import Box, Drawing, LeftOut
from scalegen.outline.ring import FloatArray

# $INSUNITS -> name and mm. Source: the DXF reference, HEADER section.
UNITS_MM = {
    1: ("inches", 25.4),
    2: ("feet", 304.8),
    4: ("millimetres", 1.0),
    5: ("centimetres", 10.0),
    6: ("metres", 1000.0),
    8: ("microinches", 25.4e-6),
    9: ("thousandths of an inch", 0.0254),
    10: ("yards", 914.4),
    13: ("micrometres", 1e-3),
    14: ("decimetres", 100.0),
}
_STATED: dict[Units, tuple[str, float]] = {"mm": UNITS_MM[4], "in": UNITS_MM[1]}

# What ezdxf was seen to raise on damaged files, besides its own errors.
_BROKEN = (
    DXFError,
    OSError,
    EOFError,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    ArithmeticError,
    AssertionError,
    RuntimeError,
    StopIteration,
    MemoryError,
    struct.error,
)
_NO_OUTLINE = frozenset(
    (
        "ATTDEF",
        "ATTRIB",
        "DIMENSION",
        "HATCH",
        "IMAGE",
        "LEADER",
        "MTEXT",
        "MULTILEADER",
        "POINT",
        "RAY",
        "TEXT",
        "TOLERANCE",
        "VIEWPORT",
        "XLINE",
    )
)
_FLAT_MM = 1e-6
_NO_HEADER = "  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n  1\nAC1015\n  0\nENDSEC\n"


class _Unreadable(Exception):  # noqa: N818 - never leaves this module
    """An entity is of a known kind but cannot be taken; says why."""


def read_drawing(path: Path, *, units: Units | None, where: str) -> Drawing:
    """Read the model space of a DXF file.

    Args:
        path: The file, text or binary.
        units: Unit stated by the user, which goes before what the file says; None to go by the file.
        where: Named in errors.

    Returns:
        Pieces in mm; layers that are off or frozen are left out with a note.

    Raises:
        PatternError: The file cannot be read, or its unit is not known.
    """
    with _quiet():
        doc, notes = _load(path, where)
        pieces, left_out = _take(doc)
        if not pieces:
            notes += _elsewhere(doc)
        unit_code = _unit_code(doc)
    name, scale, unit_note = _unit(unit_code, units, pieces, where)
    if unit_note:
        notes.append(unit_note)
    return Drawing(
        pieces=tuple(replace(piece, rows=piece.rows * [scale, scale, 1.0]) for piece in pieces),
        units=name,
        notes=tuple(notes),
        left_out=tuple(replace(item, box_mm=_scaled(item.box_mm, scale)) for item in left_out),
    )


# ------------------------------------------------------------------------------------------ the file


def _load(path: Path, where: str) -> tuple[Document, list[str]]:
    """The document, by whichever way reads it, and notes about that."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise PatternError(
            f"the file cannot be opened: {error.strerror or error}",
            where=where,
            remedy="check name and folder",
        ) from error
    counts, has_header = _scan(data)
    if has_header:
        ways: list[Callable[[], Document]] = [
            lambda: filemanagement.readfile(path),
            lambda: recover.readfile(path)[0],
        ]
    else:
        # Without a header the version is taken for one that knows no closed flag, and the unit for metres.
        text = _NO_HEADER + data.decode("utf-8", "surrogateescape")
        ways = [
            lambda: filemanagement.read(io.StringIO(text)),
            lambda: recover.read(io.BytesIO(text.encode("utf-8", "surrogateescape")))[0],
        ]
    reasons = []
    for number, way in enumerate(ways):
        try:
            doc = way()
        except _BROKEN as error:
            reasons.append(str(error).strip(" .") or type(error).__name__)
            continue
        notes = ["the file is damaged; it was read by repairing it"] if number else []
        return doc, notes + _lost(doc, counts)
    raise PatternError(
        f"this is not a DXF file that can be read ({reasons[0][:120]})",
        where=where,
        remedy="open it in the drawing program and save it again as DXF, R2000 or later",
    )


def _scan(data: bytes) -> tuple[Counter[str], bool]:
    """Entities by kind as the text of the file has them, and whether it has a header.

    A binary file gives no counts, and counts as having a header.
    """
    counts: Counter[str] = Counter()
    if data.startswith(b"AutoCAD Binary DXF"):
        return counts, True
    lines = [line.strip() for line in data.splitlines()]
    sections: set[bytes] = set()
    section = b""
    for k in range(0, len(lines) - 1, 2):
        code, value = lines[k], lines[k + 1]
        if code == b"2" and k >= 2 and lines[k - 1] == b"SECTION":
            section = value
            sections.add(section)
        elif code == b"0" and section == b"ENTITIES":
            counts[value.decode("ascii", "replace")] += 1
    return counts, b"HEADER" in sections or b"ENTITIES" not in sections


def _lost(doc: Document, counts: Counter[str]) -> list[str]:
    """Note entities that are in the text of the file but did not arrive."""
    arrived = Counter(entity.dxftype() for layout in doc.layouts for entity in layout)
    missing = {kind: counts[kind] - arrived[kind] for kind in ENTITY_READERS if counts[kind] > arrived[kind]}
    if not missing:
        return []
    named = ", ".join(f"{count} {kind}" for kind, count in sorted(missing.items()))
    return [f"lost in a damaged file: {named}"]


def _elsewhere(doc: Document) -> list[str]:
    """Where the entities are when the model space has none."""
    count = sum(len(layout) for layout in doc.layouts if not layout.is_modelspace)
    return [f"{count} entities are in paper space, which is not read"] if count else []


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the library's log off the user's screen; what matters is said in notes."""
    logger = logging.getLogger("ezdxf")
    before, logger.disabled = logger.disabled, True
    try:
        yield
    finally:
        logger.disabled = before


# ------------------------------------------------------------------------------------------ the unit


def _unit_code(doc: Document) -> int:
    """$INSUNITS, 0 when missing."""
    try:
        return int(doc.header.get("$INSUNITS", 0))
    except _BROKEN:
        return 0


def _unit(code: int, stated: Units | None, pieces: Sequence[Piece], where: str) -> tuple[str, float, str]:
    """Name of the unit, its length in mm, and a note when the file disagrees with the user."""
    if stated is not None:
        name, scale = _STATED[stated]
        differs = code in UNITS_MM and UNITS_MM[code][1] != scale
        note = f"the file says {UNITS_MM[code][0]}; read as {name} as stated" if differs else ""
        return f"{name} (stated)", scale, note
    if code in UNITS_MM:
        name, scale = UNITS_MM[code]
        return f"{name} ($INSUNITS = {code})", scale, ""
    said = (
        "does not say its unit"
        if code == 0
        else f"gives a unit that makes no sense here ($INSUNITS = {code})"
    )
    points = np.vstack([piece.rows[:, :2] for piece in pieces]) if pieces else np.zeros((1, 2))
    long = float((points.max(axis=0) - points.min(axis=0)).max())
    raise PatternError(
        f"the drawing {said}",
        where=where,
        remedy='state it in the pattern, under [tang]: outline_units = "mm" or "in"; '
        f"as mm the drawing is {_length_text(long)}, as inches {_length_text(long * 25.4)}",
    )


def _length_text(length_mm: float) -> str:
    """A length, with a remark when a tang cannot be that long."""
    text = f"{length_mm:.4g} mm long" if length_mm < 1000 else f"{length_mm / 1000:.4g} m long"
    return text if 40 <= length_mm <= 400 else f"{text} (hardly a tang)"


def _scaled(box: Box | None, scale: float) -> Box | None:
    """A box in mm."""
    return None if box is None else (box[0] * scale, box[1] * scale, box[2] * scale, box[3] * scale)


# -------------------------------------------------------------------------------------- the entities


def _take(doc: Document) -> tuple[list[Piece], list[LeftOut]]:
    """Pieces of the model space in the file's unit, and what is not among them."""
    pieces: list[Piece] = []
    left_out: list[LeftOut] = []
    hidden = {layer.dxf.name.lower() for layer in doc.layers if layer.is_off() or layer.is_frozen()}
    for entity in doc.modelspace():
        kind = entity.dxftype()
        layer = str(entity.dxf.get("layer", "0"))
        if layer.lower() in hidden:
            left_out.append(LeftOut(kind=kind, reason=f"layer {layer!r} is off or frozen", curve=False))
        elif entity.dxf.get("invisible", 0):
            left_out.append(LeftOut(kind=kind, reason="invisible", curve=False))
        elif kind in _NO_OUTLINE:
            left_out.append(LeftOut(kind=kind, reason="no outline", curve=False))
        elif kind not in ENTITY_READERS:
            left_out.append(LeftOut(kind=kind, reason="cannot be read yet", curve=True, box_mm=_box(entity)))
        else:
            try:
                pieces.append(_checked(ENTITY_READERS[kind](entity)))
            except _Unreadable as reason:
                left_out.append(LeftOut(kind=kind, reason=str(reason), curve=True))
            except _BROKEN:
                left_out.append(LeftOut(kind=kind, reason="damaged", curve=True))
    return pieces, left_out


def _checked(piece: Piece) -> Piece:
    """The piece, if all its numbers are finite."""
    if not np.isfinite(piece.rows).all():
        raise _Unreadable("a number is not finite")
    return piece


def _box(entity: DXFEntity) -> Box | None:
    """Where a curve is that cannot be read yet: the box of its control points or axes."""
    try:
        if isinstance(entity, Spline):
            points = [(p[0], p[1]) for p in (*entity.control_points, *entity.fit_points)]
        elif entity.dxftype() == "ELLIPSE":
            c, long = entity.dxf.center, entity.dxf.major_axis.magnitude
            points = [(c.x - long, c.y - long), (c.x + long, c.y + long)]
        else:
            return None
        x, y = zip(*points, strict=True)
        return float(min(x)), float(min(y)), float(max(x)), float(max(y))
    except _BROKEN:
        return None


def _flip(entity: DXFEntity) -> bool:
    """Whether the entity's own plane is seen from behind.

    Raises:
        _Unreadable: The plane is tilted.
    """
    normal = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    x, y, z = (float(v) for v in normal)
    size = math.sqrt(x * x + y * y + z * z)
    if size == 0 or math.hypot(x, y) > _FLAT_MM * size:
        raise _Unreadable("not flat")
    return z < 0


def _in_world(rows: FloatArray, entity: DXFEntity) -> FloatArray:
    """Rows out of the entity's own plane: seen from behind, x and the turning change sign."""
    return rows * [-1.0, 1.0, -1.0] if _flip(entity) else rows


def _line(entity: DXFEntity) -> Piece:
    a, b = entity.dxf.start, entity.dxf.end
    if abs(a.z - b.z) > _FLAT_MM:
        raise _Unreadable("not flat")
    return Piece(rows=np.array([[a.x, a.y, 0.0], [b.x, b.y, 0.0]]), closed=False, name="LINE")


def _arc(entity: DXFEntity) -> Piece:
    first, last = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    sweep = (last - first) % (2 * math.pi)
    if sweep < 1e-12:
        return _circle(entity)
    rows = arc_rows(_center(entity), _radius(entity), first, sweep)
    return Piece(rows=_in_world(rows, entity), closed=False, name="ARC")


def _circle(entity: DXFEntity) -> Piece:
    (x, y), r = _center(entity), _radius(entity)
    rows = np.array([[x - r, y, 1.0], [x + r, y, 1.0]])
    return Piece(rows=_in_world(rows, entity), closed=True, name="CIRCLE")


def _center(entity: DXFEntity) -> tuple[float, float]:
    return float(entity.dxf.center.x), float(entity.dxf.center.y)


def _radius(entity: DXFEntity) -> float:
    radius = float(entity.dxf.radius)
    if radius <= 0:
        raise _Unreadable("its radius is not above 0")
    return radius


def _lwpolyline(entity: LWPolyline) -> Piece:
    rows = np.array([tuple(map(float, p)) for p in entity.get_points("xyb")]).reshape(-1, 3)
    return _polyline_piece(rows, bool(entity.closed), entity, "LWPOLYLINE")


def _polyline(entity: Polyline) -> Piece:
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        raise _Unreadable("a mesh")
    frame = 16  # control points of a smoothed polyline, which are not on it
    used = [v for v in entity.vertices if not v.dxf.get("flags", 0) & frame]
    points = [(*map(float, v.dxf.location), float(v.dxf.get("bulge", 0.0))) for v in used]
    table = np.array(points).reshape(-1, 4)
    if entity.is_3d_polyline:
        if np.ptp(table[:, 2]) > _FLAT_MM:
            raise _Unreadable("not flat")
        table[:, 3] = 0.0
    rows = table[:, [0, 1, 3]]
    closed = bool(entity.is_closed)
    if entity.is_3d_polyline:
        return _polyline_piece(rows, closed, None, "POLYLINE")
    return _polyline_piece(rows, closed, entity, "POLYLINE")


def _polyline_piece(rows: FloatArray, closed: bool, plane: DXFEntity | None, name: str) -> Piece:
    if len(rows) < 2:
        raise _Unreadable("fewer than two points")
    return Piece(rows=rows if plane is None else _in_world(rows, plane), closed=closed, name=name)


ENTITY_READERS: dict[str, Callable[[Any], Piece]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
