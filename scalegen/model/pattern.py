"""Records of a pattern file."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from scalegen.model.words import EdgeTreatment, Fit, FrontArc, Stations, Treatment, Units
from scalegen.sources import FileUnit, Hints, Placing


@dataclass(frozen=True, kw_only=True)
class OutlineSource:
    """Where a tang outline comes from.

    Attributes:
        path: A file, or None.
        rows: Rows x, y, bulge typed into the pattern, mm.
        units: Unit of the file's numbers when the pattern states it; None to go by the file.
        contour: Which of its contours is meant, counted from the largest, 1 first; None to find it.
        hints: What the user says to readers of some kinds of files.
        placing: How it is laid into the pattern's axes.
    """

    path: Path | None = None
    rows: tuple[tuple[float, float, float], ...] = ()
    units: FileUnit | None = None
    contour: int | None = None
    hints: Hints = field(default_factory=Hints)
    placing: Placing = field(default_factory=Placing)


@dataclass(frozen=True, kw_only=True)
class Front:
    """Where the scale begins on the tang, and how that edge is finished.

    Attributes:
        at_mm: x where the front line crosses y = 0.
        angle_rad: Angle of the front line against +x (pi/2 = straight across); of its tangent for an arc.
        arc_mm: Radius of a front arc, None for a straight line.
        arc_shape: "proud": the middle reaches furthest towards the blade (centre on the butt side);
            "hollow": the ends do (centre on the blade side). Only read when ``arc_mm`` is given.
        treatment: "bevel", "round" or "square".
        slope_rad: bevel only: angle between the bevel and the back, in (0, pi/2).
        land_mm: bevel only: height of the upright strip left above the back.
        top_radius_mm: bevel only: radius that rounds the edge between bevel and face; 0 leaves it sharp.
        radius_mm: round only: radius of the rounded top edge.
        allowance_mm: Extra left ahead of the front for hand finishing.
    """

    at_mm: float
    angle_rad: float
    arc_mm: float | None = None
    arc_shape: FrontArc = "proud"
    treatment: Treatment = "square"
    slope_rad: float = 0.0
    land_mm: float = 0.0
    top_radius_mm: float = 0.0
    radius_mm: float = 0.0
    allowance_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Edge:
    """Treatment of the face's edge along the finished outline.

    Attributes:
        treatment: "square", "chamfer" or "round".
        size_mm: Radius or chamfer leg; the largest there is when it changes along the outline.
        spine: Sizes along the spine side as (x, size) in mm, x growing; empty for the same size all along.
        belly: The same for the belly side.
    """

    treatment: EdgeTreatment = "square"
    size_mm: float = 0.0
    spine: Stations = ()
    belly: Stations = ()

    @classmethod
    def along(cls, treatment: EdgeTreatment, spine: Stations, belly: Stations) -> "Edge":
        """An edge by its sizes along both sides, as simple as they allow."""
        sizes = {size for side in (spine, belly) for _, size in side}
        if treatment == "square" or max(sizes) == 0:
            return cls()
        if len(sizes) == 1:
            return cls(treatment=treatment, size_mm=max(sizes))
        return cls(treatment=treatment, size_mm=max(sizes), spine=spine, belly=belly)

    @property
    def changes(self) -> bool:
        """Whether the size changes along the outline."""
        return bool(self.spine or self.belly)


@dataclass(frozen=True, kw_only=True)
class Crown:
    """A face that is round across the handle: part of a cylinder whose highest line is the crown line.

    Attributes:
        radius_mm: Radius of the cylinder, or None when the height is stated.
        height_mm: How much lower the face lies at the widest place of the handle than on the crown line.
        at_mm: y where the crown line crosses the middle of the handle's length; None for the middle there.
        angle_rad: Turn of the crown line against +x.
    """

    radius_mm: float | None = None
    height_mm: float | None = None
    at_mm: float | None = None
    angle_rad: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Face:
    """Shape of the outer side: flat unless it is crowned, swelled or both.

    Attributes:
        crown: Roundness across the handle, or None.
        swell: Finished thickness along the handle as (x, thickness) in mm, x growing; empty for the same
            all along. A natural cubic spline runs through the stations.
    """

    crown: Crown | None = None
    swell: Stations = ()

    @property
    def is_flat(self) -> bool:
        """Whether it is one plane."""
        return self.crown is None and not self.swell


@dataclass(frozen=True, kw_only=True)
class PinSpec:
    """One hole of the pattern as typed.

    Attributes:
        at_mm: Centre (x, y).
        hardware: Name in the hardware table, or None when ``diameter_mm`` is given instead.
        diameter_mm: Diameter of the pin itself when it is not in the tables.
        hole_mm: Hole diameter when the pattern states it; otherwise it follows from pin and slip fit.
        drill: Drill designation when the pattern states it, such as "#30".
        fit: How closely the hole follows the hardware; None for a slip fit. A pressed pin is driven into a
            hole smaller than itself.
        head_depth_mm: How far the seat of a stepped fastener's head lies below the face; None for the height
            of the head, which leaves it flush.
        cover_mm: How much of the face is left over a blind pin; None for a hole that goes through.
    """

    at_mm: tuple[float, float]
    hardware: str | None = None
    diameter_mm: float | None = None
    hole_mm: float | None = None
    drill: str | None = None
    fit: Fit | None = None
    head_depth_mm: float | None = None
    cover_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Relief:
    """Shallow grooves cut into the face with a flat or a ball cutter, for grip.

    Attributes:
        lines: "straight" runs one way, "crossed" a second way too, square to the first.
        angle_rad: Direction of the grooves against +x.
        pitch_mm: From groove to groove.
        depth_mm: Below the face.
        width_mm: Diameter of the cutter; a flat one's grooves are as wide, a ball's are narrower.
        margin_mm: Kept clear of the edge treatment, the finished front and the pins.
        cutter: "flat" leaves a level floor and upright sides, "ball" a round hollow.
    """

    lines: Literal["straight", "crossed"]
    angle_rad: float
    pitch_mm: float
    depth_mm: float
    width_mm: float
    margin_mm: float
    cutter: Literal["flat", "ball"] = "flat"


@dataclass(frozen=True, kw_only=True)
class Liner:
    """Sheets at the back that are cut smaller than the scale, or stand proud of it.

    Attributes:
        step_mm: How far they stand beyond the finished outline, square to it; below 0 they are set in.
        sheets: How many sheets from the back, films of glue between them included; None for all liners.
    """

    step_mm: float
    sheets: int | None = None


@dataclass(frozen=True, kw_only=True)
class Restock:
    """What each number does when the stack comes out at another thickness; places never move.

    Attributes:
        thickness: "follow" moves with the stack, "keep" stays and faces off the rest.
        bevel: "keep slope" lets the run change, "keep run" the slope.
        land: Upright strip under a bevel.
        sizes: Radii and chamfers of edges and fronts.
        crown: "keep" its radius, and so its height; "share" its height; "keep sides" the thickness at the
            widest place, so that the crown alone gives way.
        swell: "keep drops" moves all stations alike, "share" in proportion.
        heads: Depths of heads below the face and covers over blind pins.
    """

    thickness: Literal["follow", "keep"] = "follow"
    bevel: Literal["keep slope", "keep run"] = "keep slope"
    land: Literal["keep", "share"] = "keep"
    sizes: Literal["keep", "share"] = "keep"
    crown: Literal["keep", "share", "keep sides"] = "keep"
    swell: Literal["keep drops", "share"] = "keep drops"
    heads: Literal["keep", "share"] = "keep"


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """One knife model's handle as its file says it, in mm and radians.

    Attributes:
        name: Used in file names: letters, digits, "-" and "_".
        title: Free text for the papers.
        units: Unit of bare numbers in the file, and of lengths shown to the user.
        path: The file it came from.
        outline: Where the tang outline comes from.
        tang_mm: Thickness of the tang.
        front: Front line and treatment.
        thickness_mm: Finished thickness of one scale where it is thickest, or None for "stack" (all there
            is).
        face: Shape of the outer side.
        relief: Grooves in the face, or None.
        liner: Sheets at the back with an outline of their own, or None.
        edge: Edge treatment on the finished outline.
        trim_mm: Material left outside the finished outline.
        back_allowance_mm: Extra at the back, removed when the back is flattened.
        pins: Holes.
        stock: Stack in the shop tables that this pattern is usually cut from, or None.
        restock: What its numbers do at another thickness of the stack.
    """

    name: str
    title: str
    units: Units
    path: Path
    outline: OutlineSource
    tang_mm: float
    front: Front
    thickness_mm: float | None
    edge: Edge
    trim_mm: float
    back_allowance_mm: float
    pins: tuple[PinSpec, ...]
    face: Face = field(default_factory=Face)
    relief: Relief | None = None
    liner: Liner | None = None
    stock: str | None = None
    restock: Restock = field(default_factory=Restock)


# ----------------------------------------------------------------------------------------------- job
