"""A table of measured points as a closed outline in mm: smooth through them, or straight between them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from scalegen.errors import GeometryError, PatternError
from scalegen.outline.drawing import NO_HINTS, Drawing, UnreadableError, file_bytes
from scalegen.outline.fit import fit_arcs
from scalegen.outline.join import Piece
from scalegen.outline.paths import Curve, FlatPath
from scalegen.outline.read_points_order import ordered
from scalegen.outline.read_points_spline import arcs_along, corners_of, smooth_parts
from scalegen.outline.read_points_table import MM_PER_UNIT, Table, read_table
from scalegen.outline.refit import SAMPLE_SHARE, curves_off_mm, piece_of
from scalegen.outline.ring import FloatArray
from scalegen.sources import FILE_UNITS, FileUnit, Hints

MOST_SPLINE_POINTS = 1000
MOST_FITTED_POINTS = 5_000
LARGEST_MM = 1e5

_LARGEST_BYTES = 32_000_000
_SAME = 1e-6

_WORDS: dict[str, str] = {unit: name for unit, (name, _) in FILE_UNITS.items()}


def read_drawing(path: Path, *, units: FileUnit | None, where: str, hints: Hints = NO_HINTS) -> Drawing:
    """Read points along a closed outline, in either direction.

    Columns may be separated by tabs, semicolons, commas or blanks; a header may name ``x`` and ``y`` and the
    unit (``x_mm``, ``y (in)``). A line ``# straight`` joins the points by straight lines, ``# smooth`` or
    nothing by a smooth curve; ``# units: mm`` states the unit.

    Args:
        path: A CSV, TSV or text file.
        units: Unit stated by the user, which goes before what the file says; None to go by the file.
        where: Named in errors.
        hints: Smooth or straight as stated by the user, which goes before what the file says.

    Returns:
        One closed piece.

    Raises:
        PatternError: The table cannot be read, has too few points, or its unit is not known.
    """
    table = read_table(file_bytes(path, _LARGEST_BYTES, where), path.name, where)
    found, dropped = _differing(np.array(table.points, dtype=np.float64).reshape(-1, 2))
    if len(found) < 3:
        raise PatternError(
            f"the table has {len(found)} different points",
            where=where,
            remedy="measure at least three around the outline, and many more where it is curved",
        )
    name, scale, notes = _unit(table, units, where)
    points = found * scale
    if not np.abs(points).max() <= LARGEST_MM:
        raise PatternError(
            "points far beyond any handle", where=where, remedy="check the unit and the numbers"
        )
    if dropped:
        notes.append(f"dropped {dropped} points that repeat the one before, or the first at the end")
    if table.other_columns:
        notes.append(f"passed over {table.other_columns} columns that are neither x nor y")
    points = _in_order(points, notes, where)
    wish = table.smooth if hints.smooth is None else hints.smooth
    if wish is False:
        notes.append(f"joined {len(points)} points by straight lines, as asked")
        rows = np.column_stack([points, np.zeros(len(points))])
        piece = Piece(rows=rows, closed=True, name="points")
    else:
        piece = _smooth(points, hints.tolerance_mm, notes, where)
        if wish is None:
            notes.append('to join the points by straight lines, write a line "# straight" into the table')
    return Drawing(pieces=(piece,), units=name, notes=tuple(notes))


def _unit(table: Table, units: FileUnit | None, where: str) -> tuple[str, float, list[str]]:
    """The unit's name and how it is known, its length in mm, and notes."""
    if units is not None:
        differs = table.unit and table.unit != units
        name, scale = FILE_UNITS[units]
        note = f"the table says {_WORDS[table.unit]}; read as {name} as stated" if differs else ""
        return f"{name} (stated)", scale, [note] if note else []
    if table.unit:
        return f"{_WORDS[table.unit]} (the table says so)", MM_PER_UNIT[table.unit], []
    sizes = ""
    if table.points:
        long = float(np.ptp(np.array(table.points), axis=0).max())
        sizes = f"; as mm the outline is {long:.4g} mm long, as inches {25.4 * long:.4g} mm"
    raise PatternError(
        "the table does not say its unit",
        where=where,
        remedy="name the columns x_mm and y_mm (or x_in and y_in), or say it: --units mm or --units in, or "
        f'in the pattern, under [tang], outline_units = "mm" or "in"{sizes}',
    )


def _differing(points: FloatArray) -> tuple[FloatArray, int]:
    """Points without repeats of the one before, and how many those were."""
    if len(points) < 2:
        return points, 0
    keep = np.hypot(*(points - np.roll(points, 1, axis=0)).T) > _SAME
    if not keep.any():
        return points[:1], len(points) - 1
    return points[keep], int((~keep).sum())


def _in_order(points: FloatArray, notes: list[str], where: str) -> FloatArray:
    """Points in order round the outline."""
    try:
        found = ordered(points)
    except UnreadableError as error:
        raise PatternError(
            f"{len(points)} points cannot be put in order: {error}",
            where=where,
            remedy="leave fewer points, each next to its neighbour round the outline",
        ) from error
    if found.turned is not None:
        a, b = found.turned
        notes.append(
            f"took points {a} to {b} in the opposite order: as they stand, the outline would cross itself"
        )
    if found.crossing is None:
        return found.points
    (x, y), i, j = found.crossing.at, found.crossing.first, found.crossing.second
    n = len(points)
    raise PatternError(
        f"the points do not go round the outline: the line from point {i} to {i % n + 1} meets the one from "
        f"point {j} to {j % n + 1} at ({x:.3f}, {y:.3f}) mm",
        where=where,
        remedy="number the points round the outline, one beside the other, and write them in that order; "
        "spine and belly may also come one after the other, both from front to butt",
    )


def _smooth(points: FloatArray, tolerance_mm: float, notes: list[str], where: str) -> Piece:
    """A smooth closed curve through points, made of lines and arcs."""
    try:
        if len(points) > MOST_SPLINE_POINTS:
            return _fitted(points, tolerance_mm, notes, where)
        corners = corners_of(points)
        parts = smooth_parts(points, corners)
        piece = _followed(parts, tolerance_mm)
    except (UnreadableError, GeometryError, np.linalg.LinAlgError) as error:
        raise PatternError(
            f"no smooth curve goes through the points: {error}",
            where=where,
            remedy='check their order, or write a line "# straight" into the table',
        ) from error
    sharp = "no corner" if not corners else f"{len(corners)} corner{'s' if len(corners) > 1 else ''} kept"
    notes.append(
        f"laid a smooth curve through {len(points)} points, {sharp}, and made it {len(piece.rows)} lines and "
        f"arcs within {tolerance_mm:g} mm of it (reached {curves_off_mm(parts, piece):.4f})"
    )
    return piece


def _fitted(points: FloatArray, tolerance_mm: float, notes: list[str], where: str) -> Piece:
    """Lines and arcs along points that lie so close that no curve needs to be laid through them."""
    off_mm = SAMPLE_SHARE * tolerance_mm
    telling = shapely.get_coordinates(shapely.LinearRing(points).simplify(off_mm))[:-1]
    if len(telling) > MOST_FITTED_POINTS:
        raise PatternError(
            f"{len(points)} points are too many for a smooth curve",
            where=where,
            remedy=f'leave at most {MOST_FITTED_POINTS}, or write a line "# straight" into the table',
        )
    fit = fit_arcs(telling, tolerance_mm - 2 * off_mm, closed=True)
    notes.append(
        f"fitted {len(fit.rows)} lines and arcs to {len(points)} points, within {tolerance_mm:g} mm "
        f"(reached {fit.deviation_mm + off_mm:.4f})"
    )
    return Piece(rows=fit.rows, closed=True, name="points")


def _followed(parts: list[FloatArray | Curve], tolerance_mm: float) -> Piece:
    """Lines and arcs for a curve: few of them, or, where that is too much work, some for every step of it."""
    path = FlatPath(parts=tuple(parts), closed=True, height=0.0, name="points")
    try:
        piece = piece_of(path, 1.0, tolerance_mm)
        if curves_off_mm(parts, piece) <= tolerance_mm:
            return piece
    except UnreadableError:
        pass
    stepwise: list[FloatArray | Curve] = []
    for part in parts:
        stepwise += arcs_along(part, tolerance_mm) if isinstance(part, Curve) else [part]
    return piece_of(replace(path, parts=tuple(stepwise)), 1.0, tolerance_mm)
