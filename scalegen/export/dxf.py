"""DXF drawings: true arcs, one layer per meaning, the unit stated three times over."""

from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from math import degrees
from pathlib import Path

import numpy as np
from ezdxf._options import options
from ezdxf.document import Drawing as Document
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from scalegen.errors import WriteError
from scalegen.export.content import Content
from scalegen.export.drawing import (
    ChainShape,
    CircleShape,
    CrossShape,
    Drawing,
    RectangleShape,
    RingShape,
    Shape2D,
    TextShape,
)
from scalegen.export.files import save_bytes
from scalegen.model import Units
from scalegen.outline.ring import FloatArray

_MM_PER_UNIT = {"mm": 1.0, "in": 25.4}
_INSUNITS = {"mm": 4, "in": 1}
_MEASUREMENT = {"mm": 1, "in": 0}
_UNIT_TEXT = {"mm": "all sizes in mm", "in": "all sizes in inches"}
_LABELS = "labels"

# Layer and colour number of the DXF palette (7 is black or white, 8 and 9 are greys).
LAYERS = {
    "outline-as-cut": 1,
    "outline-finished": 7,
    "liner-outline": 2,
    "front-edge": 30,
    "bevel-start": 40,
    "reveals": 140,
    "pin-holes": 5,
    "head-recesses": 5,
    "grooves": 4,
    "tabs": 1,
    "reference-pad": 6,
    "blank": 8,
    "left-over": 9,
    "keep-out": 10,
    "origin": 3,
    _LABELS: 9,
}

__all__ = [
    "LAYERS",
    "ChainShape",
    "CircleShape",
    "CrossShape",
    "Drawing",
    "RectangleShape",
    "RingShape",
    "Shape2D",
    "TextShape",
    "write_dxf",
]


def write_dxf(path: Path, drawing: Drawing) -> None:
    """Write a drawing as DXF R2000, with a line below it that states the unit.

    Args:
        path: File to write.
        drawing: Shapes in mm, on layers of :data:`LAYERS`.

    Raises:
        WriteError: A layer of another name, a shape without sense, nothing to draw, or a file that
            cannot be written.
    """
    _check(drawing, path)
    with _fixed_metadata():
        document = new("R2000")
        _fill_header(document, drawing.units)
        for name, color in LAYERS.items():
            document.layers.add(name, color=color)
        space = document.modelspace()
        for name in LAYERS:
            for shape in drawing.layers.get(name, ()):
                _add(space, name, shape, 1 / _MM_PER_UNIT[drawing.units])
        _add_frame(document, drawing)
        stream = StringIO()
        document.write(stream)
    save_bytes(path, stream.getvalue().encode(document.output_encoding, errors="dxfreplace"))


def write(path: Path, content: Content) -> None:
    """Write the drawing of a content; see :func:`write_dxf`.

    Raises:
        WriteError: The content has no drawing, or it cannot be written.
    """
    if content.drawing is None:
        raise WriteError("there is no drawing to write", where=path.name)
    write_dxf(path, content.drawing)


def _check(drawing: Drawing, path: Path) -> None:
    for name, shapes in drawing.layers.items():
        if name not in LAYERS:
            raise WriteError(
                f"there is no drawing layer {name!r}",
                where=path.name,
                remedy=f"use one of: {', '.join(LAYERS)}",
            )
        for number, shape in enumerate(shapes):
            points = _reach(shape)
            sized = not isinstance(shape, CircleShape) or shape.diameter_mm > 0
            if not len(points) or not np.isfinite(points).all() or not sized:
                raise WriteError(
                    "this shape has no size or a coordinate that is not a number", where=f"{name}[{number}]"
                )
    if not any(drawing.layers.values()):
        raise WriteError("there is nothing to draw", where=path.name)


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Have dates, authors and identifiers written as constants, so that equal drawings are equal files."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _fill_header(document: Document, units: Units) -> None:
    document.header["$INSUNITS"] = _INSUNITS[units]
    document.header["$MEASUREMENT"] = _MEASUREMENT[units]
    document.header["$LUNITS"] = 2  # decimal
    document.header["$LUPREC"] = 3 if units == "mm" else 4


def _add(space: Modelspace, layer: str, shape: Shape2D, scale: float) -> None:
    attributes = {"layer": layer}
    match shape:
        case RingShape():
            rows = _scaled(shape.ring.rows, scale)
            space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs=attributes)
        case ChainShape():
            space.add_lwpolyline(_scaled(shape.rows, scale), format="xyb", dxfattribs=attributes)
        case CircleShape():
            x, y = shape.center_mm
            radius = shape.diameter_mm / 2 * scale
            space.add_circle((x * scale, y * scale), radius, dxfattribs=attributes)
        case RectangleShape():
            corners = _scaled(_rectangle(shape), scale)
            space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs=attributes)
        case CrossShape():
            x, y, arm = (v * scale for v in (*shape.at_mm, shape.size_mm / 2))
            space.add_point((x, y), dxfattribs=attributes)
            space.add_line((x - arm, y), (x + arm, y), dxfattribs=attributes)
            space.add_line((x, y - arm), (x, y + arm), dxfattribs=attributes)
        case TextShape():
            x, y = shape.at_mm
            text = space.add_text(
                " ".join(shape.text.split()),
                height=shape.height_mm * scale,
                rotation=degrees(shape.angle_rad),
                dxfattribs=attributes,
            )
            text.set_placement((x * scale, y * scale), align=TextEntityAlignment.LEFT)


def _add_frame(document: Document, drawing: Drawing) -> None:
    """The line that states the unit, below the lower left corner, and the extents."""
    scale = 1 / _MM_PER_UNIT[drawing.units]
    reach = np.vstack([_reach(shape) for shapes in drawing.layers.values() for shape in shapes])
    low, high = reach.min(axis=0), reach.max(axis=0)
    note = TextShape(text=_UNIT_TEXT[drawing.units], at_mm=(float(low[0]), float(low[1]) - 6.0))
    _add(document.modelspace(), _LABELS, note, scale)
    document.header["$EXTMIN"] = (low[0] * scale, (low[1] - 6.0) * scale, 0.0)
    document.header["$EXTMAX"] = (high[0] * scale, high[1] * scale, 0.0)


def _reach(shape: Shape2D) -> FloatArray:
    """Points whose box holds the shape, (n, 2) mm; of a text only where it starts."""
    match shape:
        case RingShape():
            return np.array(shape.ring.bounds_mm).reshape(2, 2)
        case ChainShape():
            return shape.rows[:, :2] if len(shape.rows) > 1 else np.empty((0, 2))
        case CircleShape():
            r = shape.diameter_mm / 2
            x, y = shape.center_mm
            return np.array([[x - r, y - r], [x + r, y + r]])
        case RectangleShape():
            return _rectangle(shape)[:, :2]
        case CrossShape():
            arm = shape.size_mm / 2
            x, y = shape.at_mm
            return np.array([[x - arm, y - arm], [x + arm, y + arm]])
        case TextShape():
            return np.array([shape.at_mm])


def _rectangle(shape: RectangleShape) -> FloatArray:
    x, y = shape.corner_mm
    w, h = shape.width_mm, shape.height_mm
    return np.array([[x, y, 0.0], [x + w, y, 0.0], [x + w, y + h, 0.0], [x, y + h, 0.0]])


def _scaled(rows: FloatArray, scale: float) -> list[tuple[float, float, float]]:
    """Rows in the file's unit; bulges are ratios and stay."""
    return [(x * scale, y * scale, bulge) for x, y, bulge in rows.tolist()]
