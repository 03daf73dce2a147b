"""Records of what one run is asked to make."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from scalegen.model.words import Corner, Units


@dataclass(frozen=True, kw_only=True)
class Pad:
    """The reference pad asked for: a rectangle in one corner of the blank, inside the margin."""

    corner: Corner = "lower-left"
    width_mm: float = 20.0
    height_mm: float = 20.0


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One reading of a blank's thickness.

    Attributes:
        thickness_mm: What the gauge showed, above 0.
        x_mm: Where along the blank, from its lower left corner whatever corner a job calls X0 Y0; None when
            only the thickness was noted.
        y_mm: Where across the blank, from that corner; None whenever ``x_mm`` is.
        line: Line of the file it stands on, counted from 1; 0 when it was not read from a file.
    """

    thickness_mm: float
    x_mm: float | None = None
    y_mm: float | None = None
    line: int = 0


@dataclass(frozen=True, kw_only=True)
class JobSpec:
    """What one run is asked to make, options and batch file merged.

    Attributes:
        pairs: Pairs to cut.
        spares: Further pairs cut against mishaps.
        stock: Stack in the shop tables, or None for the pattern's own.
        measured_mm: Readings of the bonded stack; empty when it has not been measured.
        readings: The same readings with their places, where these are known; empty when they are not.
        sheets_measured_mm: What each sheet measured before it was bonded, from back to face; empty when they
            were not measured.
        sheet_mm: Length (along the grain) and width of one blank, or None for the size of the sheets.
        margin_mm: Kept free along the blank's edge.
        cutter: Name of the cutter that goes round the parts.
        spacing_mm: Between parts, or None for cutter diameter plus the shop's clearance.
        pad: Reference pad.
        origin: Corner of the blank that is X0 Y0.
        out: Folder that the job folder goes into.
        job: Name of the job folder, or None for the pattern's name.
        file_units: Unit of the files written.
        step_schema: "AP214" or "AP242".
        stl_tolerance_mm: Largest distance between a mesh and the true surface.
        formats: Which kinds of files are written.
    """

    pairs: int = 1
    spares: int = 0
    stock: str | None = None
    measured_mm: tuple[float, ...] = ()
    readings: tuple[Reading, ...] = ()
    sheets_measured_mm: tuple[float, ...] = ()
    sheet_mm: tuple[float, float] | None = None
    margin_mm: float = 3.0
    cutter: str = "flat 1/8in"
    spacing_mm: float | None = None
    pad: Pad = field(default_factory=Pad)
    origin: Corner = "lower-left"
    out: Path = Path("out")
    job: str | None = None
    file_units: Units = "mm"
    step_schema: Literal["AP214", "AP242"] = "AP214"
    stl_tolerance_mm: float = 0.02
    formats: tuple[str, ...] = ("step", "stl", "dxf")
