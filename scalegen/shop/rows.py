"""What the rows of each shop table are like."""

import re
from collections.abc import Iterator
from typing import Any, Final

from scalegen.model import (
    Abrasive,
    Adhesive,
    Cutter,
    Hardware,
    SheetStock,
    ShopRules,
    StackRecipe,
)
from scalegen.shop.drills import DRILLS
from scalegen.shop.fields import (
    choice,
    color,
    count,
    currency,
    length,
    names,
    number,
    remark,
    title,
)
from scalegen.shop.table import Complaint, RowKind

_PRICE: Final = number("price", minimum=0, default=None)
_DENSITY: Final = number("density", name="density_g_cm3", above=0, maximum=25)
_SOURCE: Final = remark("source")


def _rules(source: str, **values: Any) -> ShopRules:  # noqa: ANN401 - read from a file, checked by its fields
    del source
    return ShopRules(**values)


def _recipe(source: str, **values: Any) -> StackRecipe:  # noqa: ANN401 - as above
    del source
    return StackRecipe(**values)


def _hardware(**values: Any) -> Hardware:  # noqa: ANN401 - as above
    measured_mm = values.pop("diameter_mm")
    return Hardware(diameter_mm=values["nominal_mm"] if measured_mm is None else measured_mm, **values)


def _cutter(**values: Any) -> Cutter:  # noqa: ANN401 - as above
    tip_mm = values.pop("tip_radius_mm")
    if tip_mm is None:
        tip_mm = values["diameter_mm"] / 2 if values["kind"] == "ball" else 0.0
    return Cutter(tip_radius_mm=tip_mm, **values)


def _sheet_complaints(sheet: SheetStock) -> Iterator[Complaint]:
    if sheet.tolerance_mm >= sheet.thickness_mm:
        yield (
            "tolerance",
            f"{sheet.tolerance_mm:g} mm is as much as the sheet itself",
            "give less than thickness",
        )


def _hardware_complaints(item: Hardware) -> Iterator[Complaint]:
    if item.kind == "tube" and item.bore_mm == 0:
        yield "bore", "missing", "a tube needs its inner diameter"
    if item.kind != "tube" and item.bore_mm > 0:
        yield "bore", f"a {item.kind} has no bore", 'leave it out, or give kind = "tube"'
    if item.bore_mm >= item.diameter_mm:
        yield "bore", f"{item.bore_mm:g} mm leaves no wall", f"give less than {item.diameter_mm:g} mm"


def _cutter_complaints(cutter: Cutter) -> Iterator[Complaint]:
    if cutter.flute_mm > cutter.stickout_mm:
        yield "flute", "longer than the cutter sticks out", "give at most the stickout"
    radius_mm = cutter.diameter_mm / 2
    if cutter.tip_radius_mm > radius_mm + 1e-9:
        yield "tip_radius", "more than half the diameter", f"give at most {radius_mm:g} mm"
    elif cutter.kind == "ball" and cutter.tip_radius_mm < radius_mm - 1e-9:
        yield "tip_radius", "a ball's tip is half its diameter", f"give {radius_mm:g} mm or leave it out"


def _abrasive_complaints(abrasive: Abrasive) -> Iterator[Complaint]:
    if re.fullmatch(r"[0-9]+", abrasive.grade):
        yield (
            "grade",
            f'"{abrasive.grade}" does not say which scale',
            f'write "P{abrasive.grade}" if it is that',
        )


RULES: Final = RowKind(
    label="",
    make=_rules,
    fields=(
        length("slip_fit", minimum=0, maximum=1),
        names("drill_series", tuple(DRILLS)),
        length("clearance", minimum=0, maximum=50),
        length("saw_kerf", minimum=0, maximum=10),
        number("tape_waste", minimum=0, maximum=10),
        currency("currency"),
        _SOURCE,
    ),
)

SHEET: Final = RowKind(
    label="sheet",
    make=SheetStock,
    complaints=_sheet_complaints,
    fields=(
        title("name"),
        choice("kind", ("liner", "spacer", "face")),
        title("material"),
        length("thickness", above=0, maximum=100),
        length("tolerance", minimum=0),
        length("length", above=0),
        length("width", above=0),
        _DENSITY,
        color("color"),
        _PRICE,
        _SOURCE,
    ),
)

ADHESIVE: Final = RowKind(
    label="adhesive",
    make=Adhesive,
    fields=(
        title("name"),
        _DENSITY,
        length("bond", minimum=0, maximum=2),
        number("waste", minimum=1, maximum=20),
        color("color"),
        number("price_per_g", minimum=0, default=None),
        _SOURCE,
    ),
)

STACK: Final = RowKind(
    label="stack",
    make=_recipe,
    fields=(title("name"), names("sheets"), title("adhesive"), title("glue_up"), _SOURCE),
)

HARDWARE: Final = RowKind(
    label="hardware",
    make=_hardware,
    complaints=_hardware_complaints,
    fields=(
        title("name"),
        choice("kind", ("pin", "tube", "stepped")),
        title("material"),
        length("nominal", above=0, maximum=50),
        length("diameter", above=0, maximum=50, default=None),
        length("bore", minimum=0, default=0.0),
        length("length", minimum=0),
        length("end_allowance", minimum=0, maximum=20),
        _DENSITY,
        color("color"),
        _PRICE,
        _SOURCE,
    ),
)

CUTTER: Final = RowKind(
    label="cutter",
    make=_cutter,
    complaints=_cutter_complaints,
    fields=(
        title("name"),
        choice("kind", ("flat", "ball", "tapered", "drill")),
        length("diameter", above=0, maximum=100),
        length("flute", above=0),
        length("stickout", above=0),
        length("tip_radius", minimum=0, default=None),
        count("flutes", minimum=1, maximum=12),
        _PRICE,
        _SOURCE,
    ),
)

ABRASIVE: Final = RowKind(
    label="abrasive",
    key="grade",
    make=Abrasive,
    complaints=_abrasive_complaints,
    fields=(title("grade"), number("grain_um", above=0, maximum=5000), _SOURCE),
)
