"""The unit of a DXF drawing: what the file says, what the user says, and when to ask.

Source: the DXF reference, HEADER section, $INSUNITS and $MEASUREMENT (from memory).
"""

from collections.abc import Mapping

from scalegen.errors import PatternError
from scalegen.outline.dxf_tags import Value
from scalegen.sources import FILE_UNITS, FileUnit

# $INSUNITS -> name and mm.
UNITS_MM = {
    1: ("inches", 25.4),
    2: ("feet", 304.8),
    4: ("millimetres", 1.0),
    5: ("centimetres", 10.0),
    6: ("metres", 1000.0),
    8: ("microinches", 25.4e-6),
    9: ("thousandths of an inch", 0.0254),
    10: ("yards", 914.4),
    13: ("micrometres", 1e-3),
    14: ("decimetres", 100.0),
}
_IMPERIAL = frozenset((1, 2, 8, 9, 10))
_SHORTEST_MM, _LONGEST_MM = 40.0, 400.0


def unit_of(
    header: Mapping[str, Value], stated: FileUnit | None, longest: float, where: str
) -> tuple[str, float, str]:
    """The unit of a drawing.

    A file whose two statements contradict each other is believed only where the unit makes the drawing as
    long as a tang and the other system does not.

    Args:
        header: Variables of the file.
        stated: What the user says, which goes first.
        longest: Longer side of the drawing, in its own unit; 0 when there is nothing in it.
        where: Named in errors.

    Returns:
        Name of the unit and how it is known, its length in mm, and a note or nothing.

    Raises:
        PatternError: The unit is not known.
    """
    code, system = _whole(header, "$INSUNITS", 0), _whole(header, "$MEASUREMENT", -1)
    if stated is not None:
        name, scale = FILE_UNITS[stated]
        differs = code in UNITS_MM and UNITS_MM[code][1] != scale
        note = f"the file says {UNITS_MM[code][0]}; read as {name} as stated" if differs else ""
        return f"{name} (stated)", scale, note
    if code not in UNITS_MM:
        said = "does not say its unit"
        if code != 0:
            said = f"gives a unit that makes no sense here ($INSUNITS = {code})"
        raise _asked(said, longest, where)
    name, scale = UNITS_MM[code]
    known = f"{name} ($INSUNITS = {code})"
    if system not in {0, 1} or (system == 0) == (code in _IMPERIAL):
        return known, scale, ""
    other, other_scale = ("inches", 25.4) if system == 0 else ("millimetres", 1.0)
    kind = "imperial" if system == 0 else "metric"
    if longest and (not _likely(longest * scale) or _likely(longest * other_scale)):
        said = (
            f"contradicts itself about its unit: $INSUNITS = {code} is {name}, "
            f"$MEASUREMENT = {system} is {kind}"
        )
        raise _asked(said, longest, where)
    note = (
        f"the file names {name} but calls itself {kind}; read in {name}, which makes it "
        f"{_length_text(longest * scale)} (in {other} it would be {_length_text(longest * other_scale)})"
    )
    return known, scale, note


def _asked(said: str, longest: float, where: str) -> PatternError:
    sizes = f"; as mm this tang is {_length_text(longest)}, as inches {_length_text(longest * 25.4)}"
    return PatternError(
        f"the drawing {said}",
        where=where,
        remedy="state it: --units mm or --units in on the command line, or in the pattern, under [tang]:"
        f' outline_units = "mm" or "in"{sizes if longest else ""}',
    )


def _whole(header: Mapping[str, Value], name: str, missing: int) -> int:
    try:
        return int(float(header.get(name, missing)))
    except (ValueError, OverflowError):
        return missing


def _likely(length_mm: float) -> bool:
    """Whether a tang can be that long."""
    return _SHORTEST_MM <= length_mm <= _LONGEST_MM


def _length_text(length_mm: float) -> str:
    """A length, with a remark when a tang cannot be that long."""
    text = f"{length_mm:.4g} mm long" if length_mm < 1000 else f"{length_mm / 1000:.4g} m long"
    return text if _likely(length_mm) else f"{text} (hardly a tang)"
