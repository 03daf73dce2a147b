"""The picture that ``show pattern`` draws: a finished scale, before anything is cut."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from scalegen.design import Scale

PictureOption = Annotated[
    Path | None,
    typer.Option(
        "--picture",
        metavar="FILE",
        help="Draw the finished scale, layers, pins and profiles into a .svg or .png.",
    ),
]


def require_kind(target: Path | None) -> None:
    """Refuse a picture of a kind that is not written, before any work is done.

    Raises:
        UsageError: It ends neither in .svg nor in .png.
    """
    from scalegen.errors import UsageError

    if target is not None and target.suffix.lower() not in {".svg", ".png"}:
        raise UsageError("a picture is .svg or .png", where="--picture", remedy="end its name so")


def save_scale_picture(scale: "Scale", target: Path) -> None:
    """Draw a finished scale into a file whose kind was looked at.

    Raises:
        GeometryError: The shape can't be made.
        UsageError: A .png is asked for and Pillow is not installed.
        WriteError: The file can't be written.
    """
    from scalegen.export.files import save_bytes, write_error
    from scalegen.report.picture_png import picture_png
    from scalegen.report.picture_svg import picture_svg
    from scalegen.report.scale_picture import draw_scale

    drawing = draw_scale(scale)
    png = target.suffix.lower() == ".png"
    data = picture_png(drawing) if png else picture_svg(drawing).encode()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        save_bytes(target, data)
    except OSError as error:
        raise write_error(error, target) from error
