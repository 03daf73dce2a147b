"""Every field of a pattern file and of a batch file: its key, what it takes, its default."""

import math
from pathlib import Path
from typing import Final, get_args

from scalegen.fields.kinds import (
    angle,
    choice,
    curve,
    length,
    many,
    number,
    row,
    section,
    sections,
    text,
    whole,
    yes_no,
)
from scalegen.fields.table import Table, may, need, table_of
from scalegen.model import Corner, EdgeTreatment, Fit, FrontArc, Treatment, Units
from scalegen.model.job import FORMATS, MOST_SEED, Effort, PadCorner, Pairing, ZoneKind
from scalegen.model.words import ACCEPTABLE, Paper
from scalegen.pattern.values import (
    DRILL,
    EDGE_STATIONS,
    NAME,
    PAIRS,
    POINT,
    SPARES,
    STEP,
    SWELL_STATIONS,
    TABS,
    TURNS_LIST,
    file_beside,
    folder_beside,
    outline,
)
from scalegen.sources import FileUnit, FrontSide, Tone, Zero

OUTLINE_SUFFIXES: Final = (
    ".dxf",
    ".svg",
    ".svgz",
    ".csv",
    ".tsv",
    ".txt",
    ".png",
    ".jpg",
    ".jpeg",
    ".tif",
    ".tiff",
)
STEP_SCHEMAS: Final = ("AP214", "AP242")

_ANY: Final = length()
_ABOVE_ZERO: Final = length(above=0)
_ZERO_OR_MORE: Final = length(minimum=0)
_TEXT: Final = text(200)
_CORNER: Final = choice(get_args(Corner))
_UNITS: Final = need("units", choice(get_args(Units)))
_BEVEL: Final = ("treatment", ("bevel",))
_ROUND: Final = ("treatment", ("round",))
_CHAMFER: Final = ("treatment", ("chamfer",))

_ARC = table_of(
    need("radius", _ABOVE_ZERO, to="arc_mm"),
    may("shape", choice(get_args(FrontArc)), to="arc_shape"),
)

_PIXEL = row((number(minimum=0), number(minimum=0)), "a place [column, row] in pixels, such as [120, 340]")

_MARKS = table_of(
    need("first", _PIXEL, to="first_px"),
    need("second", _PIXEL, to="second_px"),
    need("distance", _ABOVE_ZERO),
)

_SCAN = table_of(
    may("dpi", number(minimum=25, maximum=9600)),
    may("marks", section("marks", _MARKS, like="{ first = [120, 340], second = [890, 352], distance = 90 }")),
    may("card", yes_no()),
    may("tang", choice(get_args(Tone))),
    may("threshold", number(minimum=0, maximum=255)),
    may("tolerance", length(minimum=0.001, maximum=1)),
    not_both=(("dpi", "marks"), ("dpi", "card"), ("marks", "card")),
)

_PLACE = table_of(
    may("rotate", angle(-360, 360)),
    may("front", choice(get_args(FrontSide))),
    may("flip", yes_no()),
    may("zero", choice(get_args(Zero))),
)

_TANG = table_of(
    need("outline", outline(OUTLINE_SUFFIXES)),
    may("outline_units", choice(get_args(FileUnit))),
    may("contour", whole(1, 1_000_000)),
    may("place", section("place", _PLACE, like='{ rotate = 12.5, front = "right", zero = "front" }')),
    may("points", choice(("smooth", "straight"))),
    may("scan", section("scan", _SCAN, like="{ dpi = 300 }")),
    may("tolerance", length(minimum=0.001, maximum=0.1)),
    need("thickness", _ABOVE_ZERO, to="tang_mm"),
)

_FRONT = table_of(
    need("at", _ANY),
    may("angle", angle(20, 160), default=math.pi / 2),
    may("arc", section("arc", _ARC, like='{ radius = 40, shape = "proud" }')),
    may("treatment", choice(get_args(Treatment)), default="square"),
    need("slope", angle(0, 90), only_for=_BEVEL),
    may("land", _ZERO_OR_MORE, only_for=_BEVEL),
    may("top_radius", _ZERO_OR_MORE, only_for=_BEVEL),
    need("radius", _ABOVE_ZERO, only_for=_ROUND),
    may("allowance", _ZERO_OR_MORE),
)

_EDGE = table_of(
    may("treatment", choice(get_args(EdgeTreatment)), default="square"),
    need("radius", _ABOVE_ZERO, only_for=_ROUND),
    need("size", _ABOVE_ZERO, only_for=_CHAMFER),
    may("spine", EDGE_STATIONS, to="spine"),
    may("belly", EDGE_STATIONS, to="belly"),
)

_CROWN = table_of(
    may("radius", _ABOVE_ZERO),
    may("height", _ABOVE_ZERO),
    may("at", _ANY),
    may("angle", angle(-60, 60)),
    one_of=(("radius", "height"),),
)

_RELIEF = table_of(
    may("lines", choice(("straight", "crossed")), default="straight"),
    may("angle", angle(-90.001, 90.001), default=0.0),
    need("pitch", _ABOVE_ZERO),
    need("depth", _ABOVE_ZERO),
    need("width", _ABOVE_ZERO),
    may("margin", _ZERO_OR_MORE, default=1.5),
    may("cutter", choice(("flat", "ball")), default="flat"),
)

_LINER = table_of(
    need("step", STEP),
    may("sheets", whole(1, 100)),
)

_SCALE = table_of(
    may("thickness", length(above=0, word="stack")),
    may("edge", section("edge", _EDGE, like='{ treatment = "round", radius = 2 }')),
    may("crown", section("crown", _CROWN, like="{ radius = 55 }")),
    may("swell", SWELL_STATIONS, to="swell"),
    may(
        "relief",
        section(
            "relief", _RELIEF, like='{ lines = "crossed", angle = 45, pitch = 5, depth = 0.4, width = 2 }'
        ),
    ),
    may("liner", section("liner", _LINER, like="{ step = 0.5 }")),
    may("trim", _ZERO_OR_MORE, default=0.8),
    may("back_allowance", _ZERO_OR_MORE, default=0.0),
)

_PIN = table_of(
    need("at", POINT),
    may("hardware", _TEXT),
    may("diameter", _ABOVE_ZERO),
    may("hole", _ABOVE_ZERO),
    may("drill", DRILL),
    may("fit", choice(get_args(Fit))),
    may("head_depth", _ABOVE_ZERO),
    may("cover", _ABOVE_ZERO),
    one_of=(("hardware", "diameter"),),
    not_both=(("hole", "drill"), ("hole", "fit"), ("drill", "fit"), ("head_depth", "cover")),
)

_RESTOCK = table_of(
    may("thickness", choice(("follow", "keep"))),
    may("bevel", choice(("keep slope", "keep run"))),
    may("land", choice(("keep", "share"))),
    may("sizes", choice(("keep", "share"))),
    may("crown", choice(("keep", "share", "keep sides"))),
    may("swell", choice(("keep drops", "share"))),
    may("heads", choice(("keep", "share"))),
)

PATTERN: Final[Table] = table_of(
    need("name", NAME),
    may("title", _TEXT),
    _UNITS,
    may("stock", _TEXT),
    need("tang", section("tang", _TANG)),
    need("front", section("front", _FRONT)),
    need("scale", section("scale", _SCALE)),
    may("restock", section("restock", _RESTOCK)),
    may("pin", sections("pin", _PIN), to="pins", default=()),
)

_ACCEPT = table_of(*(may(code, text(300), to=code) for code in ACCEPTABLE))

_JOB = table_of(
    need(
        "patterns",
        many(
            file_beside((".toml",), "a pattern file"),
            'a list of pattern files, such as ["a.toml", "b.toml"]',
            once="name it once and raise pairs instead",
            same=Path.resolve,
        ),
    ),
    may("pairs", PAIRS),
    may("spares", SPARES),
    may("together", yes_no()),
    may("stock", _TEXT),
    may("measured", many(_ABOVE_ZERO, "one length or a list of lengths", alone=True)),
    may("sheets_measured", many(_ABOVE_ZERO, "a list of lengths, one for each sheet from back to face")),
    may("accept", section("accept", _ACCEPT, like='{ part-not-free = "the reason" }')),
    may("out", folder_beside("for the results")),
    may("name", NAME, to="job"),
)

_KEEP_OUT = table_of(
    may("at", POINT),
    may("size", row((_ABOVE_ZERO, _ABOVE_ZERO), "[width, height], such as [30, 20]")),
    may("radius", _ABOVE_ZERO),
    may("outline", curve(), to="rows"),
    may("kind", choice(get_args(ZoneKind)), default="flaw"),
    one_of=(("size", "radius", "outline"),),
    not_both=(("at", "outline"),),
)

_USE = table_of(
    may("size", row((_ABOVE_ZERO, _ABOVE_ZERO), "[length, width], such as [300, 150]"), to="sheet_mm"),
    may("outline", outline(OUTLINE_SUFFIXES)),
    may("outline_units", choice(get_args(FileUnit))),
    may("contour", whole(1, 1_000_000)),
    may("remnant", _TEXT),
    one_of=(("size", "outline", "remnant"),),
    not_both=(("size", "outline"), ("size", "remnant"), ("outline", "remnant")),
)

_SHEET = table_of(
    may("size", row((_ABOVE_ZERO, _ABOVE_ZERO), "[length, width], such as [300, 150]"), to="sheet_mm"),
    may("outline", outline(OUTLINE_SUFFIXES)),
    may("outline_units", choice(get_args(FileUnit))),
    may("contour", whole(1, 1_000_000)),
    may("points", choice(("smooth", "straight"))),
    may("scan", section("scan", _SCAN, like="{ dpi = 300 }")),
    may("tolerance", length(minimum=0.001, maximum=0.1)),
    may("remnant", _TEXT),
    may("use", sections("sheet.use", _USE), to="rests", default=()),
    may("keep_out", sections("sheet.keep_out", _KEEP_OUT), default=()),
    may("grain", angle(-360.001, 360.001)),
    may("margin", _ZERO_OR_MORE),
    may("spacing", _ZERO_OR_MORE),
    may("cutter", _TEXT),
    may("origin", _CORNER),
    may("turns", TURNS_LIST, to="turns_rad"),
    may("pairing", choice(get_args(Pairing))),
    may("effort", choice(get_args(Effort))),
    may("seed", whole(0, MOST_SEED)),
    may("left_over", row((_ABOVE_ZERO, _ABOVE_ZERO), "[length, width], such as [120, 35]")),
    may("tabs", TABS),
    not_both=(("size", "outline"), ("size", "remnant"), ("outline", "remnant")),
)

_PAD = table_of(
    may("corner", choice(get_args(PadCorner))),
    may("size", row((_ABOVE_ZERO, _ABOVE_ZERO), "[width, height], such as [20, 20]")),
    may("second", _CORNER),
)

_FILES = table_of(
    may("units", choice(get_args(Units)), to="file_units"),
    may("step", choice(STEP_SCHEMAS), to="step_schema"),
    may("stl_tolerance", _ABOVE_ZERO),
    may("formats", many(choice(FORMATS), 'a list such as ["step", "stl"]', once="name it once")),
    may("paper", choice(get_args(Paper))),
)

BATCH: Final[Table] = table_of(
    _UNITS,
    need("job", section("job", _JOB)),
    may("sheet", section("sheet", _SHEET)),
    may("pad", section("pad", _PAD)),
    may("files", section("files", _FILES)),
)
