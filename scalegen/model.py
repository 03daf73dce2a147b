"""Frozen records that the rooms hand to each other. All lengths in mm, all angles in radians.

What a user typed becomes a :class:`Pattern` and a :class:`JobSpec`; the shop tables become a
:class:`Shop`. Records with outlines or placements live where those are made (``outline``, ``design``,
``sheet``).
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from scalegen.sources import FileUnit, Hints, Placing

Units = Literal["mm", "in"]
Side = Literal["left", "right"]
Corner = Literal["lower-left", "lower-right", "upper-left", "upper-right"]
LayerKind = Literal["liner", "spacer", "face", "bond"]
Treatment = Literal["bevel", "round", "square"]
EdgeTreatment = Literal["square", "chamfer", "round"]
FrontArc = Literal["proud", "hollow"]
HardwareKind = Literal["pin", "tube", "stepped"]
Fit = Literal["slip", "close"]
CutterKind = Literal["flat", "ball", "tapered", "drill"]
Level = Literal["stop", "warning", "note"]
Stations = tuple[tuple[float, float], ...]

# ---------------------------------------------------------------------------------------- shop tables


@dataclass(frozen=True, kw_only=True)
class SheetStock:
    """A sheet as bought, before anything is bonded.

    Attributes:
        name: What patterns and stacks call it.
        kind: Where it goes in a stack: "liner", "spacer" or "face".
        material: Plain name of the material, for the papers.
        thickness_mm: Nominal thickness.
        tolerance_mm: Thickness tolerance, plus or minus.
        length_mm: Size along the grain.
        width_mm: Size across the grain.
        density_g_cm3: For weights.
        color: "#rrggbb", for files and pictures.
        price: For one sheet in the shop's currency, or None when unknown.
        source: Where the figures come from.
    """

    name: str
    kind: LayerKind
    material: str
    thickness_mm: float
    tolerance_mm: float
    length_mm: float
    width_mm: float
    density_g_cm3: float
    color: str
    price: float | None
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class Adhesive:
    """A glue: ``bond_mm`` is the film it leaves, ``waste`` what is mixed for every gram that stays."""

    name: str
    density_g_cm3: float
    bond_mm: float
    waste: float
    color: str
    price_per_g: float | None
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class StackRecipe:
    """A stack by name: sheet names from back to face, and the glue between them."""

    name: str
    sheets: tuple[str, ...]
    adhesive: str
    glue_up: str


@dataclass(frozen=True, kw_only=True)
class Hardware:
    """A pin, tube or stepped fastener.

    Attributes:
        name: What patterns call it.
        kind: "pin", "tube" or "stepped".
        material: Plain name, for the papers.
        nominal_mm: Size it is sold as.
        diameter_mm: Size it measured in the shop; holes follow this one.
        bore_mm: Inner diameter of a tube, 0 for a solid pin.
        length_mm: Length of a stock rod; 0 when it comes as single pieces.
        end_allowance_mm: Extra length at each end, for peening or for trimming flush.
        tolerance_mm: How much thicker than its diameter a piece may come; holes allow for it.
        head_mm: Diameter of a stepped fastener's head, 0 for pins and tubes.
        head_height_mm: Height of that head.
        grip_mm: Least and greatest distance between the seats of its two heads, or None when not known.
        density_g_cm3: For weights.
        color: "#rrggbb".
        price: For one stock rod or piece, or None when unknown.
        source: Where the figures come from.
    """

    name: str
    kind: HardwareKind
    material: str
    nominal_mm: float
    diameter_mm: float
    bore_mm: float
    length_mm: float
    end_allowance_mm: float
    density_g_cm3: float
    color: str
    price: float | None
    source: str = ""
    tolerance_mm: float = 0.0
    head_mm: float = 0.0
    head_height_mm: float = 0.0
    grip_mm: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Cutter:
    """A rotating tool: overall cutting ``diameter_mm``, ``flute_mm`` of cutting length."""

    name: str
    kind: CutterKind
    diameter_mm: float
    flute_mm: float
    stickout_mm: float
    tip_radius_mm: float
    flutes: int
    price: float | None
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class Drill:
    """One drill of a published series: ``designation`` as engraved, ``series`` it belongs to."""

    designation: str
    series: Literal["number", "letter", "fraction", "metric"]
    diameter_mm: float


@dataclass(frozen=True, kw_only=True)
class Abrasive:
    """One coated-abrasive grade: ``grade`` such as "P120" and its mean grain."""

    grade: str
    grain_um: float
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class ShopRules:
    """What a shop decides once: fits, kerf, blade of the pin saw, tape and currency.

    Attributes:
        slip_fit_mm: What a hole must be larger than its pin, at least.
        close_fit_mm: The same where a pattern asks for a close fit.
        drill_series: Which drill sets are in the drawer.
        clearance_mm: Added to the cutter's diameter between two parts.
        saw_kerf_mm: Lost with each cut of a pin rod.
        tape_waste: Tape laid for each mm2 of blank.
        currency: Three letters.
    """

    slip_fit_mm: float
    drill_series: tuple[str, ...]
    clearance_mm: float
    saw_kerf_mm: float
    tape_waste: float
    currency: str
    close_fit_mm: float = 0.02


@dataclass(frozen=True, kw_only=True)
class Shop:
    """All shop tables: one mapping per table, keyed by the name that patterns use."""

    folder: Path | None
    rules: ShopRules
    sheets: dict[str, SheetStock]
    adhesives: dict[str, Adhesive]
    stacks: dict[str, StackRecipe]
    hardware: dict[str, Hardware]
    cutters: dict[str, Cutter]
    abrasives: dict[str, Abrasive]


# ------------------------------------------------------------------------------------------- pattern


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
        fit: How closely the hole follows the hardware; None for a slip fit.
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
    """Shallow grooves cut into the face with a flat cutter, for grip.

    Attributes:
        lines: "straight" runs one way, "crossed" a second way too, square to the first.
        angle_rad: Direction of the grooves against +x.
        pitch_mm: From groove to groove.
        depth_mm: Below the face.
        width_mm: Diameter of the cutter, and so the width of a groove.
        margin_mm: Kept clear of the edge treatment, the finished front and the pins.
    """

    lines: Literal["straight", "crossed"]
    angle_rad: float
    pitch_mm: float
    depth_mm: float
    width_mm: float
    margin_mm: float


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
    stock: str | None = None
    restock: Restock = field(default_factory=Restock)


# ----------------------------------------------------------------------------------------------- job


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


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer of the blank, from its underside up.

    Attributes:
        name: Sheet or glue it is made of.
        kind: "liner", "spacer", "face" or "bond" (the film of glue between two sheets).
        thickness_mm: Thickness in the bonded blank.
        density_g_cm3: For weights.
        color: "#rrggbb".
    """

    name: str
    kind: LayerKind
    thickness_mm: float
    density_g_cm3: float
    color: str


@dataclass(frozen=True, kw_only=True)
class Stack:
    """The bonded blank: layers from back to face.

    Attributes:
        name: Recipe it was built by.
        layers: Layers as they are taken to be; the face layer takes up what was measured.
        nominal_mm: Sum of the tables' thicknesses and bond lines.
        measured_mm: Readings, empty when not measured.
        tolerance_mm: Worst case of the sheets' tolerances, plus or minus.
        adhesive: Glue between the layers.
        glue_up: Glue between scale and tang.
    """

    name: str
    layers: tuple[Layer, ...]
    nominal_mm: float
    measured_mm: tuple[float, ...]
    tolerance_mm: float
    adhesive: str
    glue_up: str

    @property
    def used_mm(self) -> float:
        """Thickness the job counts on: the smallest reading, or the nominal sum when not measured."""
        return min(self.measured_mm) if self.measured_mm else self.nominal_mm

    @property
    def spread_mm(self) -> float:
        """Largest reading less smallest, 0 when not measured."""
        return max(self.measured_mm) - min(self.measured_mm) if self.measured_mm else 0.0


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What a check has to say.

    Attributes:
        code: Stable short name, such as "pin-edge-distance".
        level: "stop" (must not be cut), "warning" or "note".
        about: What it concerns, such as "pin 2" or "front".
        where: Place, such as "x = 30.0, y = 1.5 mm".
        message: What is the matter, with numbers.
        remedy: What to do.
    """

    code: str
    level: Level
    about: str
    where: str
    message: str
    remedy: str


@dataclass(frozen=True, kw_only=True)
class BomRow:
    """One line of the bill of materials; ``cost`` is None where the tables have no price."""

    section: str
    item: str
    quantity: float
    unit: str
    note: str
    cost: float | None = None
