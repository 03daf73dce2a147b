"""Every field of a pattern file and of a batch file: its key, what it takes, its default."""

from collections.abc import Sequence
from typing import Any, get_args

from scalegen.model import Corner, EdgeTreatment, FrontArc, Treatment, Units
from scalegen.pattern import values
from scalegen.pattern.schema import ABSENT, Field, Parser, Place, Table

OUTLINE_SUFFIXES = (".dxf",)
FORMATS = ("step", "stl", "dxf")
STEP_SCHEMAS = ("AP214", "AP242")

_A_NAME = "must be a name of letters, digits, - and _"
_A_POINT = "a point [x, y]"


def _length(
    key: str,
    to: str,
    *,
    above: float | None = None,
    minimum: float | None = None,
    word: str | None = None,
    needed: bool = False,
    default: Any = ABSENT,  # noqa: ANN401 - a default is whatever the record's field takes
    only_for: tuple[str, tuple[str, ...]] | None = None,
) -> Field:
    return Field(
        name=key,
        to=to,
        parse=values.length(above=above, minimum=minimum, word=word),
        allowed=values.length_words(above=above, minimum=minimum, word=word),
        needed=needed,
        default=default,
        only_for=only_for,
    )


def _choice(
    key: str, words: Sequence[str], *, to: str = "", needed: bool = False, default: object = ABSENT
) -> Field:
    return Field(
        name=key,
        to=to,
        parse=values.choice(*words),
        allowed=values.choice_words(*words),
        needed=needed,
        default=default,
    )


def _outline(value: object, place: Place) -> Any:  # noqa: ANN401 - a path or a tuple of rows
    """Either a file name or rows typed into the pattern."""
    parser: Parser = _OUTLINE_ROWS if isinstance(value, list) else _OUTLINE_FILE
    return parser(value, place)


_OUTLINE_WORDS = "must be a .dxf file name, or rows [x, y] and [x, y, bulge]"
_OUTLINE_ROWS = values.many(values.outline_row, "a list of rows [x, y] or [x, y, bulge]")
_OUTLINE_FILE = values.file_beside(OUTLINE_SUFFIXES, "an outline drawing")

_UNITS = _choice("units", get_args(Units), needed=True)

_TANG = Table(
    fields=(
        Field(name="outline", parse=_outline, needed=True, allowed=_OUTLINE_WORDS),
        _length("thickness", "tang_mm", above=0, needed=True),
    )
)

_ARC = Table(
    fields=(
        _length("radius", "arc_mm", above=0, needed=True),
        _choice("shape", get_args(FrontArc), to="arc_shape"),
    )
)

_FRONT = Table(
    fields=(
        _length("at", "at_mm", needed=True),
        Field(name="angle", to="angle_rad", parse=values.angle(20, 160), default=values.RIGHT_ANGLE_RAD),
        values.subtable("arc", _ARC),
        _choice("treatment", get_args(Treatment), default="square"),
        Field(
            name="slope",
            to="slope_rad",
            parse=values.angle(0, 90),
            allowed=values.angle_words(0, 90),
            needed=True,
            only_for=("treatment", ("bevel",)),
        ),
        _length("land", "land_mm", minimum=0, only_for=("treatment", ("bevel",))),
        _length("radius", "radius_mm", above=0, needed=True, only_for=("treatment", ("round",))),
        _length("allowance", "allowance_mm", minimum=0),
    )
)

_EDGE = Table(
    fields=(
        _choice("treatment", get_args(EdgeTreatment), default="square"),
        _length("radius", "radius_mm", above=0, needed=True, only_for=("treatment", ("round",))),
        _length("size", "size_mm", above=0, needed=True, only_for=("treatment", ("chamfer",))),
    )
)

_SCALE = Table(
    fields=(
        _length("thickness", "thickness_mm", above=0, word="stack", needed=True),
        values.subtable("edge", _EDGE),
        _length("trim", "trim_mm", minimum=0, default=0.8),
        _length("back_allowance", "back_allowance_mm", minimum=0, default=0.0),
    )
)

_PIN = Table(
    fields=(
        Field(
            name="at",
            to="at_mm",
            parse=values.pair(values.length(), _A_POINT),
            needed=True,
            allowed=f"must be {_A_POINT}",
        ),
        Field(name="hardware", parse=values.text),
        _length("diameter", "diameter_mm", above=0),
        _length("hole", "hole_mm", above=0),
        Field(name="drill", parse=values.drill),
    ),
    one_of=(("hardware", "diameter"),),
    not_both=(("hole", "drill"),),
)

PATTERN = Table(
    fields=(
        Field(name="name", parse=values.name, needed=True, allowed=_A_NAME),
        Field(name="title", parse=values.text),
        _UNITS,
        Field(name="stock", parse=values.text),
        values.subtable("tang", _TANG, needed=True),
        values.subtable("front", _FRONT, needed=True),
        values.subtable("scale", _SCALE, needed=True),
        values.subtables("pin", _PIN, to="pins"),
    )
)

_JOB = Table(
    fields=(
        Field(
            name="patterns",
            parse=values.distinct(
                values.many(values.file_beside((".toml",), "a pattern file"), 'a list such as ["a.toml"]'),
                "raise pairs instead of naming a pattern twice",
            ),
            needed=True,
            allowed='must be a list of pattern files, such as ["a.toml", "b.toml"]',
        ),
        Field(name="pairs", parse=values.whole(1, 10_000)),
        Field(name="spares", parse=values.whole(0, 10_000)),
        Field(name="stock", parse=values.text),
        Field(
            name="measured",
            to="measured_mm",
            parse=values.many(values.length(above=0), "one length or a list of lengths", alone=True),
        ),
        Field(name="out", parse=values.folder_beside),
        Field(name="name", to="job", parse=values.name),
    )
)

_SHEET = Table(
    fields=(
        Field(
            name="size",
            to="sheet_mm",
            parse=values.pair(values.length(above=0), "[length, width]"),
        ),
        _length("margin", "margin_mm", minimum=0),
        _length("spacing", "spacing_mm", minimum=0),
        Field(name="cutter", parse=values.text),
        _choice("origin", get_args(Corner)),
    )
)

_PAD = Table(
    fields=(
        _choice("corner", get_args(Corner)),
        Field(name="size", parse=values.pair(values.length(above=0), "[width, height]")),
    )
)

_FILES = Table(
    fields=(
        _choice("units", get_args(Units), to="file_units"),
        _choice("step", STEP_SCHEMAS, to="step_schema"),
        _length("stl_tolerance", "stl_tolerance_mm", above=0),
        Field(
            name="formats",
            parse=values.distinct(
                values.many(values.choice(*FORMATS), 'a list such as ["step", "stl"]'), "name it once"
            ),
        ),
    )
)

BATCH = Table(
    fields=(
        _UNITS,
        values.subtable("job", _JOB, needed=True),
        values.subtable("sheet", _SHEET),
        values.subtable("pad", _PAD),
        values.subtable("files", _FILES),
    )
)
