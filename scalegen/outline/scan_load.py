"""A picture from a file as one table of grey levels, whatever it was saved as."""

import math
import struct
import warnings
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from scalegen.errors import PatternError

if TYPE_CHECKING:
    from PIL.Image import Image

Grey = npt.NDArray[np.uint8]

LARGEST_PIXELS = 40_000_000
SMALLEST_SIDE = 40

_LARGEST_BYTES = 200_000_000
_FORMATS = ("PNG", "JPEG", "TIFF")
_CAMERA_TAGS = (0x829A, 0x829D, 0x920A)  # Exif: exposure time, f-number, focal length
_EXIF_IFD = 0x8769
_ORIENTATION = 0x0112

# What Pillow was seen to raise on damaged files, besides its own errors.
_BROKEN = (
    OSError,
    EOFError,
    SyntaxError,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    ArithmeticError,
    AssertionError,
    RuntimeError,
    MemoryError,
    struct.error,
    zlib.error,
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """Grey levels of a scan or photo.

    Attributes:
        grey: uint8 (h, w); row 0 is the lowest row of the picture, so that y runs up.
        dpi: Resolution in x and y that the file states, or None.
        camera: The file says it was taken with a lens, so its resolution means nothing.
        notes: What the user should know about the reading.
    """

    grey: Grey
    dpi: tuple[float, float] | None
    camera: bool
    notes: tuple[str, ...] = ()


def load_picture(path: Path, where: str) -> Picture:
    """Read a PNG, JPEG or TIFF file, turned upright as the camera noted it.

    Args:
        path: The file.
        where: Named in errors.

    Returns:
        The picture. Colours become their luminance, see-through parts white, deep grey levels are spread
        over 256.

    Raises:
        PatternError: Pillow is not there, or the file is no such picture, is damaged, or is too large.
    """
    try:
        from PIL import Image  # noqa: PLC0415 - an optional extra: without it, the message below
    except ImportError as error:
        raise PatternError(
            "pictures are read with the library Pillow, which is not installed",
            where=where,
            remedy="install it with: pip install pillow",
        ) from error
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise _too_large(f"{path.stat().st_size / 1e6:.0f} MB", where)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path, formats=_FORMATS) as image:
                return _picture(image, where)
    except Image.DecompressionBombError as error:
        raise _too_large("far more than that", where) from error
    except _BROKEN as error:
        reason = "there is no such file" if isinstance(error, FileNotFoundError) else _reason(error)
        raise PatternError(
            f"the picture cannot be read: {reason}",
            where=where,
            remedy="save it again as PNG, JPEG or TIFF",
        ) from error


def _reason(error: BaseException) -> str:
    """The library's words on one line, without the path."""
    text = str(error).split(" '", maxsplit=1)[0].splitlines()
    return text[0][:120] if text and text[0] else type(error).__name__


def _too_large(size: str, where: str) -> PatternError:
    return PatternError(
        f"the picture is too large: {size}; at most {LARGEST_PIXELS / 1e6:.0f} million pixels are read",
        where=where,
        remedy="crop it to the tang, or scan at 300 or 600 dpi",
    )


def _picture(image: "Image", where: str) -> Picture:
    """Check the size before anything is unpacked, then unpack."""
    width, height = image.size
    if width * height > LARGEST_PIXELS:
        raise _too_large(f"{width} x {height} pixels", where)
    if min(width, height) < SMALLEST_SIDE:
        raise PatternError(
            f"the picture is only {width} x {height} pixels",
            where=where,
            remedy="scan the tang at 300 dpi or more",
        )
    notes = ["read the first of several pages"] if getattr(image, "n_frames", 1) > 1 else []
    dpi, camera = _dpi(image), _is_photo(image)
    turned = image.getexif().get(_ORIENTATION, 1)
    image.load()
    if turned in {5, 6, 7, 8} and dpi is not None:
        dpi = dpi[1], dpi[0]
    grey = np.ascontiguousarray(_upright(_grey(image), turned)[::-1])
    return Picture(grey=grey, dpi=dpi, camera=camera, notes=tuple(notes))


def _upright(grey: Grey, turned: object) -> Grey:
    """The picture as it is to be seen.

    Source: the Exif standard, tag Orientation: which side of the picture row 0 and column 0 are (from
    memory): 3 bottom right, 6 right top, 8 left bottom; 2, 4, 5, 7 the same mirrored.
    """
    ways = {
        2: lambda: grey[:, ::-1],
        3: lambda: grey[::-1, ::-1],
        4: lambda: grey[::-1],
        5: lambda: grey.T,
        6: lambda: grey.T[:, ::-1],
        7: lambda: grey.T[::-1, ::-1],
        8: lambda: grey.T[::-1],
    }
    return ways[turned]() if isinstance(turned, int) and turned in ways else grey


def _grey(image: "Image") -> Grey:
    """Grey levels (h, w), top row first."""
    if image.mode in {"F", "I"} or image.mode.startswith("I;16"):
        deep = np.asarray(image).astype(np.float32)
        if not np.isfinite(deep).all():
            raise ValueError("its grey levels are not numbers")
        low, high = float(deep.min()), float(deep.max())
        levels: Grey = ((deep - low) * np.float32(255 / max(high - low, 1e-30))).astype(np.uint8)
        return levels
    if image.mode in {"RGBA", "LA", "PA", "La", "RGBa"} or "transparency" in image.info:
        grey, cover = np.moveaxis(np.asarray(image.convert("RGBA").convert("LA")).astype(np.uint16), 2, 0)
        on_white: Grey = ((grey * cover + 255 * (255 - cover)) // 255).astype(np.uint8)
        return on_white
    return np.asarray(image.convert("L"), dtype=np.uint8)


def _dpi(image: "Image") -> tuple[float, float] | None:
    """Resolution the file states, if it is a pair of numbers above 0."""
    stated = image.info.get("dpi")
    if stated is None or image.info.get("jfif_unit") == 0:
        return None
    x, y = (float(value) for value in stated)
    if not (math.isfinite(x) and math.isfinite(y) and x > 0 and y > 0):
        return None
    return _whole(x), _whole(y)


def _whole(dpi: float) -> float:
    """PNG keeps whole dots per metre, so 300 dpi comes back as 299.9994."""
    near = round(dpi)
    return float(near) if abs(dpi - near) < 0.02 else dpi


def _is_photo(image: "Image") -> bool:
    """Whether the file tells of a lens or an exposure."""
    tags = image.getexif()
    inner = tags.get_ifd(_EXIF_IFD)
    return any(tag in tags or tag in inner for tag in _CAMERA_TAGS)
