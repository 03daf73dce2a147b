"""What a user says about a file with a tang outline, so that reading it gives the same every time."""

from dataclasses import dataclass, field
from typing import Literal

FileUnit = Literal["mm", "cm", "m", "in", "px"]
Tone = Literal["dark", "light", "auto"]
FrontSide = Literal["left", "right", "top", "bottom"]
Zero = Literal["drawing", "front"]

Spot = tuple[float, float]

FILE_UNITS: dict[FileUnit, tuple[str, float]] = {
    "mm": ("millimetres", 1.0),
    "cm": ("centimetres", 10.0),
    "m": ("metres", 1000.0),
    "in": ("inches", 25.4),
    "px": ("pixels, 96 to the inch", 25.4 / 96),
}
"""Units a file's numbers may be stated to be in, with their lengths in mm. Source: NBS Circular 572 for the
inch; CSS Values and Units for the pixel of vector drawings."""


@dataclass(frozen=True, kw_only=True)
class Marks:
    """Two places a known distance apart; places in pixels from the upper left, as picture viewers show."""

    first_px: Spot
    second_px: Spot
    distance_mm: float


@dataclass(frozen=True, kw_only=True)
class ScanSettings:
    """What a user may say about a scan. At most one of dpi, marks and card; none: by the file.

    Attributes:
        dpi: Resolution of the scan.
        marks: Two marks a known distance apart.
        card: A card of 85.60 x 53.98 mm lies beside the tang; straighten the picture by its corners.
        tang: Whether the tang is "dark" or "light" against its ground; "auto" goes by the border.
        threshold: Grey level between the two, 0 black to 255 white; None to find it.
        tolerance_mm: Largest distance between the smoothed edge and the lines and arcs fitted to it.
    """

    dpi: float | None = None
    marks: Marks | None = None
    card: bool = False
    tang: Tone = "auto"
    threshold: float | None = None
    tolerance_mm: float = 0.02


@dataclass(frozen=True, kw_only=True)
class Hints:
    """What only readers of some kinds of files want to know.

    Attributes:
        scan: For scans and photos.
        smooth: For measured points: a smooth curve through them, or straight lines; None to go by the file.
        tolerance_mm: How far lines and arcs may be from a curve they stand for.
    """

    scan: ScanSettings = field(default_factory=ScanSettings)
    smooth: bool | None = None
    tolerance_mm: float = 0.005


@dataclass(frozen=True, kw_only=True)
class Placing:
    """How a drawing is laid into the pattern's axes: x from front to butt, y towards the spine.

    The drawing is turned by ``rotate_rad``; then its ``front`` side is brought to the left, by a quarter turn
    from top or bottom and by mirroring from the right, which leaves the spine where it is; then it is
    mirrored top to bottom where ``flip`` says so; then moved.

    Attributes:
        rotate_rad: Turn of the drawing, counter-clockwise.
        front: Side of the turned drawing that the blade is on.
        flip: The spine would come out at the bottom otherwise.
        zero: "drawing" keeps the drawing's own zero point; "front" puts it at the outline's leftmost
            point in x and half-way up its box in y.
    """

    rotate_rad: float = 0.0
    front: FrontSide = "left"
    flip: bool = False
    zero: Zero = "drawing"
