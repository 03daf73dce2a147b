"""A pattern file becomes a :class:`~scalegen.model.Pattern`, or every fault in it is named."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from scalegen.errors import Fault, PatternError
from scalegen.fields.files import parse_toml, read_text
from scalegen.fields.lines import with_lines
from scalegen.fields.place import Place, Refused, units_of
from scalegen.fields.table import Table, homes, read_table
from scalegen.model import Crown, Edge, Face, Front, Liner, OutlineSource, Pattern, PinSpec, Relief, Restock
from scalegen.pattern.tables import PATTERN
from scalegen.sources import Hints, Marks, Placing, ScanSettings

_SAME_MM = 1e-6


def read_pattern(path: Path) -> Pattern:
    """Read a pattern file.

    Args:
        path: The file. The outline it names is looked for beside it.

    Returns:
        The pattern, in mm and radians. The outline's own content is not looked at.

    Raises:
        PatternError: The file cannot be read, is not TOML, or holds faults; ``faults`` has all of them,
            each with its line and field path. Entries of lists count from 1: ``pin[2].at`` belongs to
            the second ``[[pin]]``.
    """
    return parse_pattern(read_text(path), path)


def parse_pattern(text: str, path: Path) -> Pattern:
    """As :func:`read_pattern`, from text that belongs in ``path``."""
    return _pattern(read_file(parse_toml(text, path), PATTERN, path, text), path)


def pattern_from_data(data: Mapping[str, object], path: Path) -> Pattern:
    """As :func:`read_pattern`, from the tables of a TOML file that belong in ``path``."""
    return _pattern(read_file(data, PATTERN, path), path)


def read_file(data: Mapping[str, object], table: Table, path: Path, text: str = "") -> Mapping[str, Any]:
    """Take a whole file through its table of fields.

    Args:
        data: Tables of the file.
        table: Fields of such a file, ``units`` among them.
        path: The file, for messages and for the names inside that are relative to it.
        text: Its text, so that faults can name their lines.

    Returns:
        Parsed values.

    Raises:
        PatternError: With all faults.
    """
    place = Place(file=str(path), folder=path.parent, units=units_of(data), homes=homes(table))
    try:
        return read_table(data, table, place)
    except Refused as refusal:
        count = len(refusal.faults)
        raise PatternError(
            f"{count} fault{'' if count == 1 else 's'}", faults=with_lines(refusal.faults, text)
        ) from None


def _pattern(parsed: Mapping[str, Any], path: Path) -> Pattern:
    tang, scale = parsed["tang"], parsed["scale"]
    _require_thickness(scale, path)
    return Pattern(
        name=parsed["name"],
        title=parsed.get("title", parsed["name"]),
        units=parsed["units"],
        path=path,
        outline=outline_source(tang),
        tang_mm=tang["tang_mm"],
        front=_front(parsed["front"]),
        thickness_mm=scale.get("thickness_mm", max((t for _, t in scale.get("swell", ())), default=None)),
        face=_face(scale),
        relief=Relief(**scale["relief"]) if "relief" in scale else None,
        liner=Liner(**scale["liner"]) if "liner" in scale else None,
        edge=_edge(scale.get("edge", {})),
        trim_mm=scale["trim_mm"],
        back_allowance_mm=scale["back_allowance_mm"],
        pins=tuple(PinSpec(**pin) for pin in parsed["pins"]),
        stock=parsed.get("stock"),
        restock=Restock(**parsed.get("restock", {})),
    )


def outline_source(tang: Mapping[str, Any]) -> OutlineSource:
    """Where an outline is, and what is said about reading and placing it: fields of a tang or a sheet."""
    scan = dict(tang.get("scan", {}))
    if "marks" in scan:
        scan["marks"] = Marks(**scan["marks"])
    hints = Hints(
        scan=ScanSettings(**scan),
        smooth=tang["points"] == "smooth" if "points" in tang else None,
        tolerance_mm=tang.get("tolerance_mm", Hints.tolerance_mm),
    )
    outline = tang["outline"]
    file = isinstance(outline, Path)
    return OutlineSource(
        path=outline if file else None,
        rows=() if file else outline,
        units=tang.get("outline_units"),
        contour=tang.get("contour"),
        hints=hints,
        placing=Placing(**tang.get("place", {})),
    )


def _front(parsed: Mapping[str, Any]) -> Front:
    given = {key: value for key, value in parsed.items() if key != "arc"}
    return Front(**given, **parsed.get("arc", {}))


def _edge(parsed: Mapping[str, Any]) -> Edge:
    stated = parsed.get("radius_mm", parsed.get("size_mm", 0.0))
    treatment = parsed.get("treatment", "square")
    everywhere = ((0.0, stated),)
    return Edge.along(treatment, parsed.get("spine", everywhere), parsed.get("belly", everywhere))


def _face(scale: Mapping[str, Any]) -> Face:
    crown = scale.get("crown")
    return Face(crown=Crown(**crown) if crown else None, swell=tuple(scale.get("swell", ())))


def _require_thickness(scale: Mapping[str, Any], path: Path) -> None:
    """A thickness must be said once: as a number, by the swell, or both alike.

    Raises:
        PatternError: It is missing, or said twice in two ways.
    """
    stated, swell = scale.get("thickness_mm"), scale.get("swell")
    if "thickness_mm" not in scale and not swell:
        allowed = 'give a length, such as 3.2, "3.2 mm" or "1/8in", or "stack"'
        fault = Fault(file=str(path), field="scale.thickness", found="is missing", allowed=allowed)
        raise PatternError("1 fault", faults=[fault])
    if stated is None or not swell:
        return
    most = max(thickness for _, thickness in swell)
    if abs(stated - most) > _SAME_MM:
        fault = Fault(
            file=str(path),
            field="scale.thickness",
            found=f"{stated:g} mm is not the largest thickness of the swell, {most:g} mm",
            allowed="leave thickness out, or make the two agree",
        )
        raise PatternError("1 fault", faults=[fault])
