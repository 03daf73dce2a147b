"""A picture as pixels."""

from collections.abc import Callable, Sequence
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np

from scalegen.errors import UsageError
from scalegen.outline.ring import FloatArray
from scalegen.report.picture_lines import flat_points, seen_runs
from scalegen.report.picture_shapes import WHITE, Curve, Disc, Label, Picture, Shape

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import BaseImageFont

_NARROWEST_PX, _WIDEST_PX = 200, 8000
_FINE_PX = 2000
_OFF_PX = 0.1
_FAR_PX = 1e6
_JOINED_PX = 8


def picture_png(picture: Picture, width_px: int = 1600) -> bytes:
    """Write a picture as PNG, drawn larger and then scaled down so that lines are smooth.

    Args:
        picture: The page.
        width_px: Width of the result, 200 to 8000; the height follows.

    Returns:
        The file's bytes; its resolution is that of the page.

    Raises:
        UsageError: A width beyond these, or Pillow is not installed.
    """
    if not _NARROWEST_PX <= width_px <= _WIDEST_PX:
        raise UsageError(
            f"a picture of {width_px} pixels across cannot be made",
            remedy=f"ask for {_NARROWEST_PX} to {_WIDEST_PX} pixels",
        )
    try:
        from PIL import Image, ImageDraw  # noqa: PLC0415 - an optional part, wanted for pixels only
    except ImportError as error:
        raise UsageError(
            "a .png picture needs Pillow, which is not installed",
            remedy="install it with: pip install 'scalegen[scan]'; or ask for a .svg picture",
        ) from error
    finer = 3 if width_px <= _FINE_PX else 2
    scale = width_px * finer / picture.width_mm
    height_px = max(1, round(picture.height_mm * width_px / picture.width_mm))
    image = Image.new("RGB", (width_px * finer, height_px * finer), WHITE)
    draw = ImageDraw.Draw(image)
    _draw_all(draw, picture.drawn, scale, picture.window_mm)
    _cover(draw, picture, scale)
    _draw_all(draw, picture.over, scale, (0.0, 0.0, picture.width_mm, picture.height_mm))
    small = image.resize((width_px, height_px), Image.Resampling.BOX)
    dpi = width_px / picture.width_mm * 25.4
    out = BytesIO()
    small.save(out, "PNG", dpi=(dpi, dpi), optimize=False)
    return out.getvalue()


def _cover(draw: "ImageDraw", picture: Picture, scale: float) -> None:
    """White over everything outside the window."""
    left, top, right, bottom = (round(value * scale) for value in picture.window_mm)
    width, height = round(picture.width_mm * scale), round(picture.height_mm * scale)
    for box in (
        (0, 0, width, top - 1),
        (0, bottom + 1, width, height),
        (0, 0, left - 1, height),
        (right + 1, 0, width, height),
    ):
        if box[2] >= box[0] and box[3] >= box[1]:
            draw.rectangle(box, fill=WHITE)


def _draw_all(
    draw: "ImageDraw", shapes: Sequence[Shape], scale: float, box: tuple[float, float, float, float]
) -> None:
    font = _fonts(scale)
    for shape in shapes:
        if isinstance(shape, Label):
            _draw_label(draw, shape, scale, font(shape.size_mm))
        else:
            _draw_shape(draw, shape, scale, box)


def _draw_shape(
    draw: "ImageDraw", shape: Curve | Disc, scale: float, box: tuple[float, float, float, float]
) -> None:
    """Fill and line of a curve or disc; lines are cut at the box."""
    rows, closed = (shape.rows, shape.closed) if isinstance(shape, Curve) else (_circle(shape), True)
    points = flat_points(rows * np.array([scale, scale, 1.0]), closed=closed, tolerance=_OFF_PX)
    if shape.fill and len(points) > 2:
        draw.polygon(_pairs(points.clip(-_FAR_PX, _FAR_PX)), fill=shape.fill)
    if shape.pen is None:
        return
    pen, low, high = shape.pen, np.array(box[:2]) * scale, np.array(box[2:]) * scale
    width = max(1, round(pen.width_mm * scale))
    dash = (pen.dash_mm[0] * scale, pen.dash_mm[1] * scale) if pen.dash_mm else ()
    if closed and not dash:
        # Once more along the first step, so that the corner where the chain closes is joined too.
        points = np.vstack([points, points[1:2]])
    for run in seen_runs(points, low - 2 * width, high + 2 * width, dash):
        draw.line(_pairs(run), fill=pen.color, width=width, joint="curve" if width >= _JOINED_PX else None)


def _circle(disc: Disc) -> FloatArray:
    """A disc as two half circles."""
    (x, y), r = disc.at_mm, disc.radius_mm
    return np.array([[x - r, y, 1.0], [x + r, y, 1.0]])


def _pairs(points: FloatArray) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in points]


# -------------------------------------------------------------------------------------------- letters


def _fonts(scale: float) -> "Callable[[float], BaseImageFont]":
    """A way to come by the type face that is built in, in a size."""
    from PIL import ImageFont  # noqa: PLC0415 - as above

    @cache
    def font(size_mm: float) -> "BaseImageFont":
        return ImageFont.load_default(size_mm * scale)

    return font


def _draw_label(draw: "ImageDraw", label: Label, scale: float, font: "BaseImageFont") -> None:
    draw.text(
        (label.at_mm[0] * scale, label.at_mm[1] * scale),
        label.text,
        fill=label.color,
        font=font,
        anchor={"start": "ls", "middle": "ms", "end": "rs"}[label.anchor],
        stroke_width=round(label.size_mm * scale * 0.02) if label.bold else 0,
    )
