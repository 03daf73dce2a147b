"""Records that rooms work out: the bonded stack, findings, rows of the bill."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from scalegen.model.words import LayerKind, Level


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
        counted_mm: What the scales need, where only places of the blank that none lies on are thinner; None
            to count on the smallest reading.
    """

    name: str
    layers: tuple[Layer, ...]
    nominal_mm: float
    measured_mm: tuple[float, ...]
    tolerance_mm: float
    adhesive: str
    glue_up: str
    counted_mm: float | None = None

    @property
    def used_mm(self) -> float:
        """Thickness the job counts on: the smallest reading, or the nominal sum when not measured."""
        if self.counted_mm is not None:
            return self.counted_mm
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
    """One line of the bill of materials.

    Attributes:
        section: Part of the bill.
        item: What it is.
        quantity: How much of it, in ``unit``.
        unit: Unit of the quantities.
        note: How it is cut, mixed or used.
        cost: Price of all of it; None where the tables have none, or nothing is paid for.
        on_hand: How much of it the shop has, not promised to a row above; None when nobody keeps count.
        short: How much of it is missing; None when nobody keeps count.
        details: The same in numbers for programs: lengths in mm, areas in mm2, grams, minutes.
    """

    section: str
    item: str
    quantity: float
    unit: str
    note: str
    cost: float | None = None
    on_hand: float | None = None
    short: float | None = None
    details: Mapping[str, Any] = field(default_factory=dict)
