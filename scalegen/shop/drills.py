"""The published drill series, and the choice of one drill from them.

Sources: number, letter and fraction drills ASME B94.11M (values from memory, agreeing with two public
copies of the table; the standard itself was not opened). Metric steps BS 328 / ISO 235 as printed in public
tables: 1.00 to 2.95 mm by 0.05 mm, 3.0 to 13.9 mm by 0.1 mm.
"""

import re
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Final, Literal

from scalegen.model import Drill
from scalegen.units import LengthError, describe, parse_length, split_unit

Series = Literal["number", "letter", "fraction", "metric"]

_SLACK_MM: Final = 1e-9
_SAME_MM: Final = 1e-6

# Ten to a line, in units of 0.0001 in: #1 to #10, #11 to #20 ... #71 to #80.
_NUMBERS: Final = (
    *(2280, 2210, 2130, 2090, 2055, 2040, 2010, 1990, 1960, 1935),
    *(1910, 1890, 1850, 1820, 1800, 1770, 1730, 1695, 1660, 1610),
    *(1590, 1570, 1540, 1520, 1495, 1470, 1440, 1405, 1360, 1285),
    *(1200, 1160, 1130, 1110, 1100, 1065, 1040, 1015, 995, 980),
    *(960, 935, 890, 860, 820, 810, 785, 760, 730, 700),
    *(670, 635, 595, 550, 520, 465, 430, 420, 410, 400),
    *(390, 380, 370, 360, 350, 330, 320, 310, 292, 280),
    *(260, 250, 240, 225, 210, 200, 180, 160, 145, 135),
)
# A to Z, in units of 0.001 in.
_LETTERS: Final = (
    *(234, 238, 242, 246, 250, 257, 261, 266, 272, 277, 281, 290, 295),
    *(302, 316, 323, 332, 339, 348, 358, 368, 377, 386, 397, 404, 413),
)


def _drill(designation: str, series: Series, diameter_mm: float) -> Drill:
    # Every size of every series has at most six decimals in mm, so rounding there removes float dust only.
    return Drill(designation=designation, series=series, diameter_mm=round(diameter_mm, 6))


def _numbers() -> Iterable[Drill]:
    for number, size in enumerate(_NUMBERS, start=1):
        yield _drill(f"#{number}", "number", size * 0.00254)


def _letters() -> Iterable[Drill]:
    for letter, size in zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", _LETTERS, strict=True):
        yield _drill(letter, "letter", size * 0.0254)


def _fractions() -> Iterable[Drill]:
    for count in range(1, 64):
        yield _drill(f"{Fraction(count, 64)}in", "fraction", count * 25.4 / 64)
    yield _drill("1in", "fraction", 25.4)


def _metrics() -> Iterable[Drill]:
    for hundredths in (*range(100, 300, 5), *range(300, 1400, 10)):
        size = f"{hundredths / 100:.2f}"
        yield _drill(f"{size.removesuffix('0')} mm", "metric", hundredths / 100)


DRILLS: Final[dict[str, tuple[Drill, ...]]] = {
    "number": tuple(_numbers()),
    "letter": tuple(_letters()),
    "fraction": tuple(_fractions()),
    "metric": tuple(_metrics()),
}


def find_drill(text: str) -> Drill:
    """The drill of a designation.

    Args:
        text: Such as ``"#30"``, ``"F"``, ``"9/64in"``, ``"0.1285in"`` or ``"3.3 mm"``.

    Returns:
        The drill.

    Raises:
        LengthError: No published series has this drill; names the nearest one that exists.
    """
    typed = text.strip()
    allowed = 'a drill is named like "#30", "F", "9/64in" or "3.3 mm"'
    if number := re.fullmatch(r"#\s*([0-9]{1,9})", typed):
        index = int(number[1])
        if 1 <= index <= len(_NUMBERS):
            return DRILLS["number"][index - 1]
        nearest = DRILLS["number"][0 if index < 1 else -1]
        raise LengthError(
            f"there is no number drill {describe(text)}",
            f"they go from #1 to #{len(_NUMBERS)}",
            f"the nearest is {nearest.designation}",
        )
    if re.fullmatch(r"[A-Za-z]", typed):
        return DRILLS["letter"][ord(typed.upper()) - ord("A")]
    bare, unit = split_unit(typed)
    try:
        size_mm = parse_length(typed, "mm", above=0.0)
    except LengthError as error:
        raise LengthError(f"{describe(text)} is not a drill", allowed, error.hint) from None
    if not unit:
        ways = (f"#{bare}", f"{bare} mm") if bare.isdecimal() else (f"{bare} mm", f"{bare}in")
        raise LengthError(
            f"{describe(text)} does not say which drill is meant",
            allowed,
            f'write "{ways[0]}" or "{ways[1]}"',
        )
    own = DRILLS["metric"] if unit == "mm" else [*DRILLS["fraction"], *DRILLS["number"], *DRILLS["letter"]]
    nearest = min(own, key=lambda drill: abs(drill.diameter_mm - size_mm))
    if abs(nearest.diameter_mm - size_mm) > _SAME_MM:
        raise LengthError(
            f"no {'metric' if unit == 'mm' else 'inch'} drill is {describe(text)}",
            allowed,
            f"the nearest is {nearest.designation}",
        )
    return nearest


def largest_drill(most_mm: float, series: Sequence[str]) -> Drill | None:
    """The largest drill that is not over a diameter.

    Args:
        most_mm: Largest diameter that will do.
        series: As for :func:`choose_drill`.

    Returns:
        The drill, or None when all of these series begin above it.

    Raises:
        KeyError: A name that is not a key of :data:`DRILLS`; the shop rules allow no other.
    """
    fitting = [drill for name in series for drill in DRILLS[name] if drill.diameter_mm <= most_mm + _SLACK_MM]
    return max(fitting, key=lambda drill: drill.diameter_mm, default=None)


def choose_drill(least_mm: float, series: Sequence[str]) -> Drill | None:
    """The smallest drill that is not under a diameter.

    Args:
        least_mm: Smallest diameter that will do.
        series: Which series to choose from, the preferred one first; it wins between equal sizes.

    Returns:
        The drill, or None when none of these series reaches that far.

    Raises:
        KeyError: A name that is not a key of :data:`DRILLS`; the shop rules allow no other.
    """
    fitting = [
        drill for name in series for drill in DRILLS[name] if drill.diameter_mm >= least_mm - _SLACK_MM
    ]
    return min(fitting, key=lambda drill: drill.diameter_mm, default=None)
