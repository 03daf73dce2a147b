"""Records of what one run is asked to make."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from scalegen.model.words import Corner, CurveRows, Lengths, Paper, Units

Effort = Literal["quick", "normal", "thorough"]
Pairing = Literal["adjacent", "mirrored", "free"]
ZoneKind = Literal["flaw", "hole"]
PadCorner = Literal["lower-left", "lower-right", "upper-left", "upper-right", "anywhere"]

TURNS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "grain": (0.0, math.pi),
        "quarter": tuple(math.radians(90 * k) for k in range(4)),
        "free": tuple(math.radians(15 * k) for k in range(24)),
    }
)
"""Words for the turns a scale may take on the sheet, and the angles they stand for, from 0 to below 2 pi."""

FORMATS = ("step", "stl", "dxf", "pictures", "page", "papers")
"""Kinds of files a job can write: exchange files, pictures, and papers for the machine and the bench."""

MOST_TURNS = 72
MOST_SEED = 2**31 - 1
MOST_TABS = 20


def turns_of(degrees: Sequence[float]) -> tuple[float, ...]:
    """Turns in degrees as a job keeps them: rad, from 0 to below a full turn, each once, in order."""
    return tuple(math.radians(turn) for turn in sorted({turn % 360.0 for turn in degrees}))


@dataclass(frozen=True, kw_only=True)
class Pad:
    """The reference pad asked for: a rectangle inside the margin.

    Attributes:
        corner: Corner of the blank that it stands in, or as near as it fits; "anywhere" is where it was found
            to cost least.
        width_mm: Size along x.
        height_mm: Size along y.
        second: Corner for a second pad of the same size, to check the first by; None without.
    """

    corner: PadCorner = "lower-left"
    width_mm: float = 20.0
    height_mm: float = 20.0
    second: Corner | None = None


@dataclass(frozen=True, kw_only=True)
class KeepOut:
    """A place on the blank that nothing may be cut from.

    Attributes:
        rows: Its outline, counted from the lower left corner of the box round the blank.
        kind: "flaw", kept free as drawn, or "hole", an edge with the margin about it.
    """

    rows: CurveRows
    kind: ZoneKind = "flaw"


@dataclass(frozen=True, kw_only=True)
class SheetShape:
    """A blank that is no plain rectangle.

    Attributes:
        outline: Its edge; the lower left corner of the box round it is (0, 0).
        holes: Edges of the holes in it.
        source: What it was read from, for messages.
        notes: What was noticed in reading it.
    """

    outline: CurveRows
    holes: tuple[CurveRows, ...] = ()
    source: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Rest:
    """A blank at hand, cut from once before a job's own kind of blank.

    Attributes:
        sheet_mm: Length and width of it or of the box round it; None for a remnant not looked up yet.
        sheet_shape: Outline and holes; None for a plain rectangle.
        remnant: Number of the remnant that it is, or None.
    """

    sheet_mm: tuple[float, float] | None = None
    sheet_shape: SheetShape | None = None
    remnant: str | None = None


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
        pairs: Pairs to cut; says nothing when ``fill`` is set.
        fill: As many pairs as one blank takes, instead of a number.
        spares: Further pairs cut against mishaps.
        stock: Stack in the shop tables, or None for the pattern's own.
        measured_mm: Readings of the bonded stack; empty when it has not been measured.
        readings: The same readings with their places, where these are known; empty when they are not.
        sheets_measured_mm: What each sheet measured before it was bonded, from back to face; empty when they
            were not measured.
        sheet_mm: Length (along x) and width of one blank or of the box round it, or None for the size of the
            sheets.
        sheet_shape: Outline and holes of the blank; None for a plain rectangle.
        remnant: Number of the remnant in the shop tables that it is, or None.
        rests: Blanks of other kinds that are cut from first, each once, in this order.
        keep_out: Places on it that nothing may be cut from.
        grain_rad: Direction of its grain against x, counter-clockwise.
        margin_mm: Kept free along the blank's edge, or None for cutter diameter plus the shop's clearance, so
            that the cutter leaves a frame that holds the pad.
        cutter: Name of the cutter that goes round the parts.
        spacing_mm: Between parts, or None for cutter diameter plus the shop's clearance.
        pad: Reference pad.
        origin: Corner of the blank that is X0 Y0.
        out: Folder that the job folder goes into.
        job: Name of the job folder, or None for the pattern's name.
        file_units: Unit of the files written.
        step_schema: "AP214" or "AP242".
        stl_tolerance_mm: Largest distance between a mesh and the true surface.
        formats: Which kinds of files are written; see :data:`FORMATS`.
        paper: Size of paper; None for Letter where files or patterns are in inches, A4 elsewhere.
        paper_units: Unit that papers are read in, "fraction" for inches, with fractions where rods are cut;
            None for the pattern's.
        turns_rad: Turns a scale may take against the grain; see :data:`TURNS`.
        pairing: How partners lie: side by side, as mirror images of each other, or anywhere on one sheet.
        effort: How hard to look for room once plain means find none.
        seed: Decides between equals; the same seed gives the same layout.
        accept: Stops of the dry run that are to be warnings, by code, and the reason in words for each.
        together: Several patterns share their sheets and their folder.
        pairs_each: Pairs by the pattern's name, where each has a number of its own.
        spares_each: Further pairs by the pattern's name, as above.
        tabs_each: Tabs on each scale by the pattern's name; the others have as many as ``tabs`` says.
        left_over_mm: Length (along the grain) and width that must go into a piece left over for it to be
            worth keeping, or None for the room that one scale takes.
        tabs: How many tabs hold each scale in the blank, or None for as many as the shop says.
    """

    pairs: int = 1
    fill: bool = False
    spares: int = 0
    stock: str | None = None
    measured_mm: tuple[float, ...] = ()
    readings: tuple[Reading, ...] = ()
    sheets_measured_mm: tuple[float, ...] = ()
    sheet_mm: tuple[float, float] | None = None
    sheet_shape: SheetShape | None = None
    remnant: str | None = None
    rests: tuple[Rest, ...] = ()
    keep_out: tuple[KeepOut, ...] = ()
    grain_rad: float = 0.0
    margin_mm: float | None = None
    cutter: str = "flat 1/8in"
    spacing_mm: float | None = None
    pad: Pad = field(default_factory=Pad)
    origin: Corner = "lower-left"
    out: Path = Path("out")
    job: str | None = None
    file_units: Units = "mm"
    step_schema: Literal["AP214", "AP242"] = "AP214"
    stl_tolerance_mm: float = 0.02
    formats: tuple[str, ...] = FORMATS
    paper: Paper | None = None
    paper_units: Lengths | None = None
    turns_rad: tuple[float, ...] = TURNS["grain"]
    pairing: Pairing = "adjacent"
    effort: Effort = "quick"
    seed: int = 0
    accept: tuple[tuple[str, str], ...] = ()
    left_over_mm: tuple[float, float] | None = None
    together: bool = False
    pairs_each: tuple[tuple[str, int], ...] = ()
    spares_each: tuple[tuple[str, int], ...] = ()
    tabs_each: tuple[tuple[str, int], ...] = ()
    tabs: int | None = None
