"""What the rows of each shop table are like."""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final, get_args

from scalegen.errors import GeometryError
from scalegen.fields.kinds import angle, choice, curve, length, many, number, row, rows, spelt, text, whole
from scalegen.fields.table import Table, may, need, table_of
from scalegen.fields.words import quoted
from scalegen.model import (
    Abrasive,
    Adhesive,
    Cutter,
    Hardware,
    MixBy,
    OwnStage,
    Reading,
    Remnant,
    SheetStock,
    ShopRules,
    StackRecipe,
    Units,
    Work,
)
from scalegen.model.job import MOST_TABS
from scalegen.outline.crossing import self_crossings
from scalegen.outline.ring import Ring
from scalegen.shop.drills import DRILLS
from scalegen.shop.table import Complaint, RowKind

_NAME: Final = text(60, what="a name", exact=True)
_COLOR: Final = need("color", spelt("#[0-9a-fA-F]{6}", 7, 'a colour as "#rrggbb", such as "#c0a060"'))
_PRICE: Final = may("price", number(minimum=0), default=None)
_ON_HAND: Final = may("on_hand", number(minimum=0), default=None)
_PART: Final = number(above=0, maximum=1000, what="parts, a number")
_DENSITY: Final = need("density", number(above=0, maximum=25), to="density_g_cm3")
_SOURCE: Final = may("source", text(300, exact=True), default="")
_UNITS: Final = may("units", choice(get_args(Units)), default="mm")


def _rules(units: Units, source: str, **values: Any) -> ShopRules:  # noqa: ANN401 - checked by its fields
    del units, source
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


def _remnant(**values: Any) -> Remnant:  # noqa: ANN401 - as above
    found = tuple(Reading(x_mm=x, y_mm=y, thickness_mm=t) for x, y, t in values.pop("readings", ()))
    measured_mm = tuple(each.thickness_mm for each in found) or values.pop("measured_mm", ())
    values.pop("by")
    return Remnant(**{**values, "measured_mm": measured_mm, "readings": found})


def _rule_complaints(rules: ShopRules) -> Iterator[Complaint]:
    if rules.below_least_mm > rules.below_most_mm:
        most = f"{rules.below_most_mm:g} mm"
        yield "below_least", f"more than below_most, {most}", f"give at most {most}, or a larger below_most"


def _sheet_complaints(sheet: SheetStock) -> Iterator[Complaint]:
    if sheet.tolerance_mm >= sheet.thickness_mm:
        yield (
            "tolerance",
            f"{sheet.tolerance_mm:g} mm is as much as the sheet itself",
            "give less than thickness",
        )


def _hardware_complaints(item: Hardware) -> Iterator[Complaint]:
    if item.kind == "tube" and item.bore_mm == 0:
        yield "bore", "is missing", "a tube needs its inner diameter"
    if item.kind != "tube" and item.bore_mm > 0:
        yield "bore", f"a {item.kind} has no bore", 'leave it out, or give kind = "tube"'
    if item.bore_mm >= item.diameter_mm:
        yield "bore", f"{item.bore_mm:g} mm leaves no wall", f"give less than {item.diameter_mm:g} mm"
    for key, size_mm in (("head", item.head_mm), ("head_height", item.head_height_mm)):
        if item.kind == "stepped" and not size_mm:
            yield key, "is missing", "a stepped fastener needs the size of its head"
        if item.kind != "stepped" and size_mm:
            yield key, f"a {item.kind} has no head", 'leave it out, or give kind = "stepped"'
    if 0 < item.head_mm <= item.diameter_mm:
        yield "head", f"{item.head_mm:g} mm is no wider than the shank", f"give over {item.diameter_mm:g} mm"
    if item.grip_mm and item.grip_mm[0] >= item.grip_mm[1]:
        yield "grip", "the greatest is not above the least", "give [least, greatest]"


def _cutter_complaints(cutter: Cutter) -> Iterator[Complaint]:
    if cutter.flute_mm > cutter.stickout_mm:
        yield "flute", "longer than the cutter sticks out", "give at most the stickout"
    if cutter.side_rad is not None and cutter.kind != "tapered":
        yield "taper", f"a {cutter.kind} cutter has straight sides", 'leave it out, or give kind = "tapered"'
    radius_mm = cutter.diameter_mm / 2
    if cutter.tip_radius_mm > radius_mm + 1e-9:
        yield "tip_radius", "more than half the diameter", f"give at most {radius_mm:g} mm"
    elif cutter.kind == "ball" and cutter.tip_radius_mm < radius_mm - 1e-9:
        yield "tip_radius", "a ball's tip is half its diameter", f"give {radius_mm:g} mm or leave it out"


def _remnant_complaints(remnant: Remnant) -> Iterator[Complaint]:
    named = [("outline", "", remnant.outline)]
    named += [("zones", f"entry {count} ", rows) for count, rows in enumerate(remnant.zones, start=1)]
    for key, which, rows_mm in named:
        try:
            crossings = self_crossings(Ring.from_rows(rows_mm, where=key))
        except GeometryError as error:
            yield key, f"{which}{error.message}", error.remedy or "look at its rows"
            continue
        if len(crossings):
            x, y = crossings[0]
            words = f"{which}crosses or touches itself at x = {x:.2f}, y = {y:.2f} mm"
            yield key, words, "put its rows in order"


def _adhesive_complaints(glue: Adhesive) -> Iterator[Complaint]:
    if (glue.resin is None) != (glue.hardener is None):
        missing = "resin" if glue.resin is None else "hardener"
        yield missing, "is missing", "give parts of resin and of hardener, or neither"


_DRILLED: Final = ("pin holes", "blind holes")
_IN_RIDGES: Final = ("shape", "feet")


def _stage_complaints(stage: OwnStage) -> Iterator[Complaint]:
    if stage.allowance_mm and stage.does in _DRILLED:
        yield "allowance", "holes are made in one go", "leave it out"
    if stage.scallop_mm is not None and stage.does not in _IN_RIDGES:
        words = f'"{stage.does}" leaves no ridges'
        yield "scallop", words, f"leave it out; it is for {quoted(_IN_RIDGES)}"


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
    complaints=_rule_complaints,
    table=table_of(
        _UNITS,
        need("slip_fit", length(minimum=0, maximum=1)),
        may("close_fit", length(minimum=0, maximum=1)),
        may("press_fit", length(minimum=0, maximum=1)),
        need(
            "drill_series",
            many(
                choice(tuple(DRILLS)),
                f"a list of drill sets: {quoted(tuple(DRILLS))}",
                numbered=False,
                once="name each set once",
            ),
        ),
        need("clearance", length(minimum=0, maximum=50)),
        need("saw_kerf", length(minimum=0, maximum=10)),
        need("tape_waste", number(minimum=0, maximum=10)),
        may("probe", length(minimum=0, maximum=200)),
        may("travel", row((length(above=0), length(above=0)), "[x, y] how far the machine goes")),
        may("tape", length(minimum=0, maximum=5)),
        may("below_least", length(minimum=0, maximum=10)),
        may("below_most", length(minimum=0, maximum=10)),
        may("drill_point", angle(30, 180)),
        may("finish_allowance", length(minimum=0, maximum=5)),
        may("tape_price", number(minimum=0, what="the price of a square metre"), to="tape_price_m2"),
        may("spread", number(above=0, maximum=10000, what="cm2 in a minute"), to="spread_cm2_min"),
        may("closing_minutes", number(minimum=0, maximum=600), to="closing_min"),
        may("ridge", length(minimum=0, maximum=1)),
        may("front_grit", _NAME),
        may("face_grit", _NAME),
        may("back_grit", _NAME),
        may("grit_step", number(minimum=1.1, maximum=10)),
        may("paper_cover", number(above=0, maximum=1000)),
        may("tabs", whole(0, MOST_TABS)),
        may("tab_width", length(above=0, maximum=50)),
        may("tab_height", length(above=0, maximum=20)),
        need("currency", spelt("[A-Z]{3}", 3, 'three capital letters, such as "EUR"')),
        _SOURCE,
    ),
)

SHEET: Final = RowKind(
    label="sheet",
    make=SheetStock,
    complaints=_sheet_complaints,
    table=table_of(
        need("name", _NAME),
        need("kind", choice(("liner", "spacer", "face"))),
        need("material", _NAME),
        need("thickness", length(above=0, maximum=100)),
        need("tolerance", length(minimum=0)),
        need("length", length(above=0)),
        need("width", length(above=0)),
        _DENSITY,
        _COLOR,
        _PRICE,
        _ON_HAND,
        _SOURCE,
    ),
)

ADHESIVE: Final = RowKind(
    label="adhesive",
    make=Adhesive,
    complaints=_adhesive_complaints,
    table=table_of(
        need("name", _NAME),
        _DENSITY,
        need("bond", length(minimum=0, maximum=2)),
        need("waste", number(minimum=1, maximum=20)),
        _COLOR,
        may("price_per_g", number(minimum=0), default=None),
        may("mix_by", choice(get_args(MixBy)), default="weight"),
        may("resin", _PART, default=None),
        may("hardener", _PART, default=None),
        may("resin_density", number(above=0, maximum=25), to="resin_density_g_cm3", default=None),
        may("hardener_density", number(above=0, maximum=25), to="hardener_density_g_cm3", default=None),
        may("working_minutes", number(above=0, maximum=1440), to="working_min", default=None),
        may("on_hand", number(minimum=0, what="grams"), to="on_hand_g", default=None),
        _SOURCE,
    ),
)

STACK: Final = RowKind(
    label="stack",
    make=_recipe,
    table=table_of(
        need("name", _NAME),
        need("sheets", many(_NAME, 'a list of names, such as ["one", "two"]')),
        need("adhesive", _NAME),
        need("glue_up", _NAME),
        _SOURCE,
    ),
)

HARDWARE: Final = RowKind(
    label="hardware",
    make=_hardware,
    complaints=_hardware_complaints,
    table=table_of(
        need("name", _NAME),
        need("kind", choice(("pin", "tube", "stepped"))),
        need("material", _NAME),
        need("nominal", length(above=0, maximum=50)),
        may("diameter", length(above=0, maximum=50), default=None),
        may("bore", length(minimum=0), default=0.0),
        need("length", length(minimum=0)),
        need("end_allowance", length(minimum=0, maximum=20)),
        may("tolerance", length(minimum=0, maximum=1), default=0.0),
        may("head", length(above=0, maximum=50), default=0.0),
        may("head_height", length(above=0, maximum=20), default=0.0),
        may(
            "grip",
            row(
                (length(above=0), length(above=0)),
                "[least, greatest] distance between the seats of the heads",
            ),
            default=None,
        ),
        _DENSITY,
        _COLOR,
        _PRICE,
        _ON_HAND,
        _SOURCE,
    ),
)

CUTTER: Final = RowKind(
    label="cutter",
    make=_cutter,
    complaints=_cutter_complaints,
    table=table_of(
        need("name", _NAME),
        need("kind", choice(("flat", "ball", "tapered", "drill"))),
        need("diameter", length(above=0, maximum=100)),
        need("flute", length(above=0)),
        need("stickout", length(above=0)),
        may("tip_radius", length(minimum=0), default=None),
        may("taper", angle(0, 60), to="side_rad", default=None),
        need("flutes", whole(1, 12)),
        _PRICE,
        _ON_HAND,
        _SOURCE,
    ),
)

ABRASIVE: Final = RowKind(
    label="abrasive",
    key="grade",
    make=Abrasive,
    complaints=_abrasive_complaints,
    table=table_of(
        need("grade", _NAME),
        need("grain_um", number(above=0, maximum=5000)),
        may(
            "paper",
            row((length(above=0), length(above=0)), "[length, width] of one sheet"),
            default=None,
        ),
        may("rate", number(above=0, what="mm3 taken off in a minute"), to="rate_mm3_min", default=None),
        _PRICE,
        _ON_HAND,
        _SOURCE,
    ),
)


_READING: Final = row((length(), length(), length(above=0)), "a row [x, y, thickness]")

REMNANT: Final = RowKind(
    label="remnant",
    key="number",
    make=_remnant,
    complaints=_remnant_complaints,
    table=table_of(
        need("number", spelt("[A-Za-z0-9][A-Za-z0-9_-]*", 20, 'a number as on the piece, such as "R3"')),
        need("stack", _NAME),
        need("outline", curve()),
        may("zones", many(curve(), "a list of outlines, one for each hole or flaw"), default=()),
        may("measured", many(length(above=0), "one length or a list of lengths", alone=True)),
        may("readings", many(_READING, "a list of rows [x, y, thickness]"), to="readings"),
        _SOURCE,
        may("piece", text(80, exact=True), default=""),
        may("by", text(100), default=""),
        not_both=(("measured", "readings"),),
    ),
)

USED: Final = replace(REMNANT, label="used")
"""A remnant that is used up: the same entry, with the job that it went into."""


STAGE: Final = RowKind(
    label="stage",
    make=OwnStage,
    complaints=_stage_complaints,
    table=table_of(
        need("name", _NAME),
        need("does", choice(get_args(Work))),
        may("cutter", _NAME),
        may("allowance", length(minimum=0, maximum=10)),
        may("depth_per_pass", length(above=0, maximum=100)),
        may("stepover", length(above=0, maximum=100)),
        may("scallop", length(above=0, maximum=1)),
        not_both=(("stepover", "scallop"),),
    ),
)


def _top_level(*kinds: RowKind[Any]) -> Table:
    return table_of(_UNITS, *(may(kind.label, rows(kind.label)) for kind in kinds))


TOP_LEVELS: Final = {
    "shop.toml": RULES.table,
    "stock.toml": _top_level(SHEET, ADHESIVE, STACK),
    "hardware.toml": _top_level(HARDWARE),
    "cutters.toml": _top_level(CUTTER),
    "abrasives.toml": _top_level(ABRASIVE),
    "remnants.toml": _top_level(REMNANT, USED),
    "stages.toml": _top_level(STAGE),
}
"""What may stand at the top level of each table file."""
