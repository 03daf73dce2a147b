"""Frozen records that the rooms hand to each other. All lengths in mm, all angles in radians.

What a user typed becomes a :class:`Pattern` and a :class:`JobSpec`; the shop tables become a
:class:`Shop`. Records with outlines or placements live where those are made (``outline``, ``design``,
``sheet``).
"""

from scalegen.model.job import JobSpec, Pad, Reading
from scalegen.model.pattern import (
    Crown,
    Edge,
    Face,
    Front,
    Liner,
    OutlineSource,
    Pattern,
    PinSpec,
    Relief,
    Restock,
)
from scalegen.model.results import BomRow, Finding, Layer, Stack
from scalegen.model.shop import (
    Abrasive,
    Adhesive,
    Cutter,
    Drill,
    Hardware,
    Remnant,
    SheetStock,
    Shop,
    ShopRules,
    StackRecipe,
)
from scalegen.model.words import (
    Corner,
    CutterKind,
    EdgeTreatment,
    Fit,
    FrontArc,
    HardwareKind,
    LayerKind,
    Level,
    Side,
    Stations,
    Treatment,
    Units,
)

__all__ = (
    "Abrasive",
    "Adhesive",
    "BomRow",
    "Corner",
    "Crown",
    "Cutter",
    "CutterKind",
    "Drill",
    "Edge",
    "EdgeTreatment",
    "Face",
    "Finding",
    "Fit",
    "Front",
    "FrontArc",
    "Hardware",
    "HardwareKind",
    "JobSpec",
    "Layer",
    "LayerKind",
    "Level",
    "Liner",
    "OutlineSource",
    "Pad",
    "Pattern",
    "PinSpec",
    "Reading",
    "Relief",
    "Remnant",
    "Restock",
    "SheetStock",
    "Shop",
    "ShopRules",
    "Side",
    "Stack",
    "StackRecipe",
    "Stations",
    "Treatment",
    "Units",
)
