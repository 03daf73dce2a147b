"""Records of the shop tables."""

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from scalegen.model.job import Reading
from scalegen.model.words import CurveRows, CutterKind, HardwareKind, LayerKind, MixBy, Work


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
        on_hand: Sheets that lie in the shop, or None when nobody keeps count.
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
    on_hand: float | None = None


@dataclass(frozen=True, kw_only=True)
class Adhesive:
    """A glue and what its label says.

    Attributes:
        name: What stacks call it.
        density_g_cm3: Cured.
        bond_mm: Film it leaves between two sheets.
        waste: Grams mixed for every gram that stays in the joint.
        color: "#rrggbb".
        price_per_g: In the shop's currency, or None when unknown.
        source: Where the figures come from.
        resin: Parts of resin by the label, None where the table does not say; ``hardener`` is None then too.
        hardener: Parts of hardener.
        mix_by: Whether these are parts by weight or by volume.
        resin_density_g_cm3: Of the resin alone, to weigh what is given by volume; None when not known.
        hardener_density_g_cm3: Of the hardener alone.
        working_min: Minutes from mixing until it no longer wets, or None when the table does not say.
        on_hand_g: Grams that stand in the shop, or None when nobody keeps count.
    """

    name: str
    density_g_cm3: float
    bond_mm: float
    waste: float
    color: str
    price_per_g: float | None
    source: str = ""
    resin: float | None = None
    hardener: float | None = None
    mix_by: MixBy = "weight"
    resin_density_g_cm3: float | None = None
    hardener_density_g_cm3: float | None = None
    working_min: float | None = None
    on_hand_g: float | None = None


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
        on_hand: Whole rods or pieces that lie in the shop, or None when nobody keeps count.
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
    on_hand: float | None = None


@dataclass(frozen=True, kw_only=True)
class Cutter:
    """A rotating tool: overall cutting ``diameter_mm``, ``flute_mm`` of cutting length.

    ``side_rad`` lies between the side of a tapered one and its axis; None where it is not known. ``on_hand``
    is how many lie in the shop, None when nobody keeps count.
    """

    name: str
    kind: CutterKind
    diameter_mm: float
    flute_mm: float
    stickout_mm: float
    tip_radius_mm: float
    flutes: int
    price: float | None
    source: str = ""
    side_rad: float | None = None
    on_hand: float | None = None


@dataclass(frozen=True, kw_only=True)
class Drill:
    """One drill of a published series: ``designation`` as engraved, ``series`` it belongs to."""

    designation: str
    series: Literal["number", "letter", "fraction", "metric"]
    diameter_mm: float


@dataclass(frozen=True, kw_only=True)
class Abrasive:
    """One coated-abrasive grade.

    Attributes:
        grade: Such as "P120".
        grain_um: Mean grain.
        source: Where the figures come from.
        paper_mm: Length and width of one sheet of it, or None when the table does not say.
        rate_mm3_min: What it takes off in a minute, as timed in the shop; None when nobody has timed it.
        price: For one sheet, or None when unknown.
        on_hand: Sheets that lie in the shop, or None when nobody keeps count.
    """

    grade: str
    grain_um: float
    source: str = ""
    paper_mm: tuple[float, float] | None = None
    rate_mm3_min: float | None = None
    price: float | None = None
    on_hand: float | None = None


@dataclass(frozen=True, kw_only=True)
class Remnant:
    """What was left over of a bonded blank and was kept.

    Attributes:
        number: What it is called, as written on the piece, such as "R3".
        stack: The stack it was bonded as.
        outline: Its edge; x runs along the grain.
        zones: Outlines of holes and flaws in it, which nothing may be cut from.
        measured_mm: Readings of its thickness; empty when it has not been measured.
        readings: The same with their places, in the frame of the outline; empty when these are not known.
        source: Where it came from, such as the job it was left over from.
        piece: Which piece of which job it is, so that none is kept twice; empty when filled in by hand.
    """

    number: str
    stack: str
    outline: CurveRows
    zones: tuple[CurveRows, ...] = ()
    measured_mm: tuple[float, ...] = ()
    readings: tuple[Reading, ...] = ()
    source: str = ""
    piece: str = ""


@dataclass(frozen=True, kw_only=True)
class ShopRules:
    """What a shop decides once: fits, kerf, blade of the pin saw, tape and currency.

    Attributes:
        slip_fit_mm: What a hole must be larger than its pin, at least.
        close_fit_mm: The same where a pattern asks for a close fit.
        press_fit_mm: What a hole must be smaller than a pressed pin, at least.
        drill_series: Which drill sets are in the drawer.
        clearance_mm: Added to the cutter's diameter between two parts.
        saw_kerf_mm: Lost with each cut of a pin rod.
        tape_waste: Tape laid for each mm2 of blank.
        currency: Three letters.
        probe_mm: Diameter of the plate or probe laid on the pad; 0 where the cutter itself touches.
        travel_mm: How far the machine goes along x and y; None when it is not known.
        tape_mm: Thickness of what lies between blank and bed and may be cut.
        below_least_mm: How far the full width of the last cuts must go below the blank, to free parts.
        below_most_mm: How far they may.
        drill_point_rad: Full angle of the points of drills.
        tape_price_m2: Price of a square metre of tape, or None when unknown.
        spread_cm2_min: Area that one person spreads with glue in a minute.
        closing_min: Minutes of a glue's working time that mixing, closing and clamping take.
        ridge_mm: Height of the ridges that cutters are let leave, to be sanded off.
        front_grit: Grade that fronts end on.
        face_grit: Grade that faces and edges end on.
        back_grit: Grade that backs end on, coarse enough to key the glue.
        grit_step: The next grade's number is at most so many times the one before.
        paper_cover: Area that a sheet of abrasive sands, for its own area, before it is dull.
        finish_allowance_mm: What roughing leaves for the cutter that finishes.
        tabs: How many tabs hold each scale in the blank; 0 for none.
        tab_width_mm: Of a tab, along the outline.
        tab_height_mm: Of a tab, above the underside of the blank.
    """

    slip_fit_mm: float
    drill_series: tuple[str, ...]
    clearance_mm: float
    saw_kerf_mm: float
    tape_waste: float
    currency: str
    close_fit_mm: float = 0.02
    press_fit_mm: float = 0.01
    probe_mm: float = 0.0
    travel_mm: tuple[float, float] | None = None
    tape_mm: float = 0.0
    below_least_mm: float = 0.1
    below_most_mm: float = 0.5
    drill_point_rad: float = math.radians(118.0)
    tape_price_m2: float | None = None
    spread_cm2_min: float = 40.0
    closing_min: float = 2.0
    ridge_mm: float = 0.016
    front_grit: str = "P600"
    face_grit: str = "P400"
    back_grit: str = "P120"
    grit_step: float = 1.5
    paper_cover: float = 4.0
    finish_allowance_mm: float = 0.3
    tabs: int = 0
    tab_width_mm: float = 3.0
    tab_height_mm: float = 0.8


@dataclass(frozen=True, kw_only=True)
class OwnStage:
    """One stage as the shop wants it, in place of the one that would be planned.

    Attributes:
        name: What papers call it.
        does: What it does.
        cutter: Its cutter, or None for the one that the plan would take.
        allowance_mm: What it leaves for a later stage, square to what it cuts.
        depth_per_pass_mm: Depth of one pass, or None for what the plan suggests.
        stepover_mm: From pass to pass beside each other, or None for what follows from the scallop.
        scallop_mm: Height of the ridges wanted, or None for the shop's.
    """

    name: str
    does: Work
    cutter: str | None = None
    allowance_mm: float = 0.0
    depth_per_pass_mm: float | None = None
    stepover_mm: float | None = None
    scallop_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Shop:
    """All shop tables: one mapping per table, keyed by the name that patterns use.

    ``stages`` are the shop's own, in order; empty where each job's are planned.
    """

    folder: Path | None
    rules: ShopRules
    sheets: dict[str, SheetStock]
    adhesives: dict[str, Adhesive]
    stacks: dict[str, StackRecipe]
    hardware: dict[str, Hardware]
    cutters: dict[str, Cutter]
    abrasives: dict[str, Abrasive]
    remnants: dict[str, Remnant] = field(default_factory=dict)
    stages: tuple[OwnStage, ...] = ()


# ------------------------------------------------------------------------------------------- pattern
