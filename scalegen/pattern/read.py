"""A pattern file becomes a :class:`~scalegen.model.Pattern`, or every fault in it is named."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from scalegen.errors import PatternError
from scalegen.model import Edge, Front, OutlineSource, Pattern, PinSpec, Units
from scalegen.pattern.load import parse_toml, read_text
from scalegen.pattern.schema import Place, Refused, Table, read_table
from scalegen.pattern.tables import PATTERN


def read_pattern(path: Path) -> Pattern:
    """Read a pattern file.

    Args:
        path: The file. The outline it names is looked for beside it.

    Returns:
        The pattern, in mm and radians. The outline's own content is not looked at.

    Raises:
        PatternError: The file cannot be read, is not TOML, or holds faults; ``faults`` has all of them,
            each with its field path. Entries of lists count from 1: ``pin[2].at`` belongs to the second
            ``[[pin]]``.
    """
    return parse_pattern(read_text(path), path)


def parse_pattern(text: str, path: Path) -> Pattern:
    """As :func:`read_pattern`, from text that belongs in ``path``."""
    return pattern_from_data(parse_toml(text, path), path)


def pattern_from_data(data: Mapping[str, object], path: Path) -> Pattern:
    """As :func:`read_pattern`, from the tables of a TOML file that belong in ``path``."""
    parsed = read_file(data, PATTERN, path)
    tang, scale = parsed["tang"], parsed["scale"]
    outline = tang["outline"]
    return Pattern(
        name=parsed["name"],
        title=parsed.get("title", parsed["name"]),
        units=parsed["units"],
        path=path,
        outline=OutlineSource(path=outline) if isinstance(outline, Path) else OutlineSource(rows=outline),
        tang_mm=tang["tang_mm"],
        front=_front(parsed["front"]),
        thickness_mm=scale["thickness_mm"],
        edge=_edge(scale.get("edge", {})),
        trim_mm=scale["trim_mm"],
        back_allowance_mm=scale["back_allowance_mm"],
        pins=tuple(PinSpec(**pin) for pin in parsed["pins"]),
        stock=parsed.get("stock"),
    )


def read_file(data: Mapping[str, object], table: Table, path: Path) -> dict[str, Any]:
    """Take a whole file through its table of fields.

    Args:
        data: Tables of the file.
        table: Fields of such a file, ``units`` among them.
        path: The file, for messages and for the names inside that are relative to it.

    Returns:
        Parsed values.

    Raises:
        PatternError: With all faults.
    """
    units: Units = "in" if data.get("units") == "in" else "mm"
    try:
        return read_table(data, table, Place(file=str(path), folder=path.parent, units=units))
    except Refused as refusal:
        count = len(refusal.faults)
        raise PatternError(f"{count} fault{'' if count == 1 else 's'}", faults=refusal.faults) from None


def _front(parsed: Mapping[str, Any]) -> Front:
    given = {key: value for key, value in parsed.items() if key != "arc"}
    return Front(**given, **parsed.get("arc", {}))


def _edge(parsed: Mapping[str, Any]) -> Edge:
    size_mm = parsed.get("radius_mm", parsed.get("size_mm", 0.0))
    return Edge(treatment=parsed.get("treatment", "square"), size_mm=size_mm)
