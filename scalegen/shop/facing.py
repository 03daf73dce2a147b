"""What facing and flattening leave of a blank: how much is taken off, and what remains of each layer."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from scalegen.model import LayerKind, SheetStock, Stack
from scalegen.shop.blank import BlankReport
from scalegen.shop.plane import Plane

UNSEEN_MM: Final = 0.005
"""Less is not taken for lacking: half of a calliper's step. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class LayerLeft:
    """What is left of one layer where the finished scale is thickest.

    Attributes:
        name: Layer of the stack.
        kind: "liner", "spacer", "face" or "bond".
        bonded_mm: Its thickness in the bonded blank, before anything is taken off.
        least_left_mm: The least that is left of it anywhere, at least 0.
        most_left_mm: The most.
    """

    name: str
    kind: LayerKind
    bonded_mm: float
    least_left_mm: float
    most_left_mm: float


@dataclass(frozen=True, kw_only=True)
class Facing:
    """A blank faced down to what the scales need.

    Attributes:
        nominal_mm: Sheets of the tables and their films of glue.
        worst_case_mm: Sum of the sheets' tolerances, plus or minus.
        root_sum_square_mm: Root of the sum of their squares, plus or minus.
        need_mm: Finished thickness and back allowance.
        least_mm: The least thickness of the blank anywhere.
        most_mm: The greatest.
        layers: What is left of each layer, from back to face.
    """

    nominal_mm: float
    worst_case_mm: float
    root_sum_square_mm: float
    need_mm: float
    least_mm: float
    most_mm: float
    layers: tuple[LayerLeft, ...]

    @property
    def faced_least_mm(self) -> float:
        """The least that the face is faced by; below 0 by as much as is lacking."""
        return self.least_mm - self.need_mm

    @property
    def faced_most_mm(self) -> float:
        """The most that the face is faced by; below 0 when all of the blank is too thin."""
        return self.most_mm - self.need_mm

    @property
    def enough_everywhere(self) -> bool:
        """Whether the finished thickness can be had all over the blank."""
        return self.faced_least_mm >= -UNSEEN_MM


@dataclass(frozen=True, kw_only=True)
class _Bonded:
    """One layer in the blank: thickness, and how much more or less it may be."""

    name: str
    kind: LayerKind
    least_mm: float
    usual_mm: float
    most_mm: float


def face_blank(
    stack: Stack,
    sheets: Sequence[SheetStock],
    report: BlankReport | None,
    *,
    sheet_readings_mm: Sequence[float] = (),
    size_mm: tuple[float, float],
    need_mm: float,
    back_allowance_mm: float,
) -> Facing:
    """Face a blank, lying on its back, down to what the scales need, and flatten their backs.

    A sheet that was not measured may be off by its tolerance. What a measured blank has more or less than
    the tables then is the face sheet's, as everywhere; once the sheets were measured it is the glue's.

    Args:
        stack: The blank; its layers are sheets with films of glue between.
        sheets: Its n sheets from back to face, for their tolerances.
        report: What readings of the blank tell; None when it was not measured.
        sheet_readings_mm: What the n sheets measured before they were bonded; empty when they were not.
        size_mm: Length and width of the blank; a plane is followed into its corners.
        need_mm: Finished thickness where it is thickest, and the back allowance.
        back_allowance_mm: Taken off the back.

    Returns:
        The blank faced. Thicknesses are those of the readings and their plane. Without readings they are
        nominal, give or take the worst case of the tolerances; or, where the sheets were measured, their
        sum and the glue of the tables.
    """
    least_mm, most_mm = _range_mm(stack, report, sheet_readings_mm, size_mm)
    bonded = _bonded(stack, sheets, report, sheet_readings_mm, (least_mm, most_mm))
    return Facing(
        nominal_mm=stack.nominal_mm,
        worst_case_mm=math.fsum(sheet.tolerance_mm for sheet in sheets),
        root_sum_square_mm=math.hypot(*(sheet.tolerance_mm for sheet in sheets)),
        need_mm=need_mm,
        least_mm=least_mm,
        most_mm=most_mm,
        layers=tuple(
            _left(
                each,
                _face_left_mm(bonded, (least_mm, most_mm), need_mm, report, sheet_readings_mm)
                if k == len(bonded) - 1
                else (each.least_mm, each.most_mm),
                0.0 if k else back_allowance_mm,
            )
            for k, each in enumerate(bonded)
        ),
    )


def corner_range_mm(plane: Plane, size_mm: tuple[float, float]) -> tuple[float, float]:
    """Least and greatest thickness of a plane over a blank with its lower left corner at 0, 0; in mm."""
    corners_mm = [plane.at(x, y) for x in (0.0, size_mm[0]) for y in (0.0, size_mm[1])]
    return min(corners_mm), max(corners_mm)


def _range_mm(
    stack: Stack,
    report: BlankReport | None,
    sheet_readings_mm: Sequence[float],
    size_mm: tuple[float, float],
) -> tuple[float, float]:
    """The least and the greatest thickness of the blank."""
    if report is None:
        if sheet_readings_mm:
            films_mm = (layer.thickness_mm for layer in stack.layers if layer.kind == "bond")
            sum_mm = math.fsum([*sheet_readings_mm, *films_mm])
            return sum_mm, sum_mm
        return stack.nominal_mm - stack.tolerance_mm, stack.nominal_mm + stack.tolerance_mm
    read = (report.used_mm, report.used_mm + report.spread_mm)
    if report.plane is None:
        return read
    low_mm, high_mm = corner_range_mm(report.plane, size_mm)
    return min(low_mm, read[0]), max(high_mm, read[1])


def _bonded(
    stack: Stack,
    sheets: Sequence[SheetStock],
    report: BlankReport | None,
    sheet_readings_mm: Sequence[float],
    blank_mm: tuple[float, float],
) -> tuple[_Bonded, ...]:
    """The layers in the blank, from back to face."""
    films = _films_mm(report, sheet_readings_mm, blank_mm)
    singles = iter(
        (read_mm, 0.0) if read_mm else (None, sheet.tolerance_mm)
        for sheet, read_mm in zip(sheets, sheet_readings_mm or [0.0] * len(sheets), strict=True)
    )

    def each() -> Iterator[_Bonded]:
        for layer in stack.layers:
            usual_mm = layer.thickness_mm
            least_mm = most_mm = usual_mm
            if layer.kind == "bond":
                least_mm, usual_mm, most_mm = films or (usual_mm, usual_mm, usual_mm)
            else:
                read_mm, off_mm = next(singles)
                usual_mm = usual_mm if read_mm is None else read_mm
                least_mm, most_mm = usual_mm - off_mm, usual_mm + off_mm
            yield _Bonded(
                name=layer.name, kind=layer.kind, least_mm=least_mm, usual_mm=usual_mm, most_mm=most_mm
            )

    return tuple(each())


def _films_mm(
    report: BlankReport | None, sheet_readings_mm: Sequence[float], blank_mm: tuple[float, float]
) -> tuple[float, float, float] | None:
    """Least, mean and greatest film of glue by the readings of blank and sheets; None without them."""
    if report is None or report.bond_mm is None:
        return None
    sum_mm = math.fsum(sheet_readings_mm)
    low_mm, high_mm = ((edge_mm - sum_mm) / report.bond_lines for edge_mm in blank_mm)
    return max(low_mm, 0.0), max(report.bond_mm, 0.0), max(high_mm, 0.0)


def _face_left_mm(
    bonded: Sequence[_Bonded],
    blank_mm: tuple[float, float],
    need_mm: float,
    report: BlankReport | None,
    sheet_readings_mm: Sequence[float],
) -> tuple[float, float]:
    """The least and the most that facing leaves of the outermost layer."""
    face, (low_mm, high_mm) = bonded[-1], blank_mm
    if sheet_readings_mm:
        return face.usual_mm - max(high_mm - need_mm, 0.0), face.usual_mm - max(low_mm - need_mm, 0.0)
    most_under_mm = math.fsum(layer.most_mm for layer in bonded[:-1])
    least_under_mm = math.fsum(layer.least_mm for layer in bonded[:-1])
    if report is None:
        return min(face.least_mm, need_mm - most_under_mm), min(face.most_mm, need_mm - least_under_mm)
    return min(low_mm, need_mm) - most_under_mm, min(high_mm, need_mm) - least_under_mm


def _left(layer: _Bonded, left_mm: tuple[float, float], cut_mm: float) -> LayerLeft:
    """What is left of a layer once its back is flattened too."""
    return LayerLeft(
        name=layer.name,
        kind=layer.kind,
        bonded_mm=layer.usual_mm,
        least_left_mm=max(left_mm[0] - cut_mm, 0.0),
        most_left_mm=max(left_mm[1] - cut_mm, 0.0),
    )
