"""A changed pattern as a file beside the one it came from, whose text and comments it keeps."""

import math
from collections.abc import Callable
from dataclasses import asdict
from functools import partial
from pathlib import Path

from scalegen.errors import UsageError
from scalegen.model import Pattern, Stations, Units
from scalegen.pattern.edit import edited_text
from scalegen.pattern.read import parse_pattern

_DIGITS = 6


def variant_text(old: Pattern, new: Pattern, name: str, heading: str) -> str:
    """Text of the variant's file.

    Args:
        old: The pattern as its file says it.
        new: The same with other numbers.
        name: The variant's name.
        heading: What is said in a comment at its head, one or more lines.

    Returns:
        The old file's text with what differs changed.

    Raises:
        PatternError: The old file cannot be read.
        UsageError: The name will not do for a pattern.
    """
    text = edited_text(old.path, {"name": name, **_changes(old, new)})
    comment = "".join(f"# {line}\n" for line in heading.splitlines())
    text = f"{comment}#\n{text}"
    # Whatever a variant says must come back as it was meant.
    parse_pattern(text, old.path)
    return text


def variant_path(old: Pattern, name: str) -> Path:
    """Where the variant goes: beside the pattern it came from.

    Raises:
        UsageError: That is the pattern itself.
    """
    path = old.path.with_name(f"{name}.toml")
    if path.resolve() == old.path.resolve():
        raise UsageError(
            "a variant needs a name of its own", where="--save", remedy=f'such as "{old.name}-thin"'
        )
    return path


def _length(mm: float, units: Units) -> float:
    return round(mm / 25.4 if units == "in" else mm, _DIGITS)


def _rows(stations: Stations, units: Units) -> list[list[float]]:
    return [[_length(x, units), _length(size, units)] for x, size in stations]


def _changes(old: Pattern, new: Pattern) -> dict[str, object]:
    """What differs, by field path, in the file's own unit."""
    length, rows = partial(_length, units=old.units), partial(_rows, units=old.units)
    was, rules = asdict(old.restock), asdict(new.restock)
    return {
        **_scale_changes(old, new, length, rows),
        **_other_changes(old, new, length),
        **{f"restock.{rule}": word for rule, word in rules.items() if word != was[rule]},
    }


def _scale_changes(
    old: Pattern,
    new: Pattern,
    length: Callable[[float], float],
    rows: Callable[[Stations], list[list[float]]],
) -> dict[str, object]:
    """What differs under ``[scale]``."""
    found: dict[str, object] = {}
    if new.thickness_mm is not None and new.thickness_mm != old.thickness_mm:
        found["scale.thickness"] = length(new.thickness_mm)
    if new.face.swell != old.face.swell:
        found["scale.swell"] = rows(new.face.swell)
    crown = new.face.crown
    if crown is not None and crown != old.face.crown:
        inner = {"height": length(crown.height_mm or 0.0)} if crown.radius_mm is None else {}
        inner |= {} if crown.radius_mm is None else {"radius": length(crown.radius_mm)}
        inner |= {} if crown.at_mm is None else {"at": length(crown.at_mm)}
        inner |= {"angle": round(math.degrees(crown.angle_rad), _DIGITS)} if crown.angle_rad else {}
        found["scale.crown"] = inner
    if new.edge != old.edge:
        key = "radius" if new.edge.treatment == "round" else "size"
        found[f"scale.edge.{key}"] = length(new.edge.size_mm)
        if new.edge.changes:
            found |= {"scale.edge.spine": rows(new.edge.spine), "scale.edge.belly": rows(new.edge.belly)}
    return found


def _other_changes(old: Pattern, new: Pattern, length: Callable[[float], float]) -> dict[str, object]:
    """What differs in the front and the pins."""
    found: dict[str, object] = {}
    for field in ("land_mm", "radius_mm", "top_radius_mm"):
        value = getattr(new.front, field)
        if value != getattr(old.front, field):
            found[f"front.{field.removesuffix('_mm')}"] = length(value)
    if new.front.slope_rad != old.front.slope_rad:
        found["front.slope"] = round(math.degrees(new.front.slope_rad), _DIGITS)
    for number, (pin, was) in enumerate(zip(new.pins, old.pins, strict=True), start=1):
        for field in ("head_depth_mm", "cover_mm"):
            value = getattr(pin, field)
            if value is not None and value != getattr(was, field):
                found[f"pin[{number}].{field.removesuffix('_mm')}"] = length(value)
    return found
