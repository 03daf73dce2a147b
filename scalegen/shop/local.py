"""How thick the blank is under each scale, and what there is to say about places that are too thin."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt

from scalegen.model import Finding, Level, Reading, Side, Units
from scalegen.outline.measure import centroid_mm, distances_mm, inside
from scalegen.outline.ring import Ring
from scalegen.shop.blank import BlankReport
from scalegen.shop.facing import UNSEEN_MM
from scalegen.shop.plane import Plane
from scalegen.units import format_length

FloatArray = npt.NDArray[np.float64]

OUTSIDE_MM: Final = 0.5
"""A reading so far outside of the blank is not one of it. Our choice; common practice, no source."""

BESIDE_MM: Final = 5.0
"""A reading so near a scale tells of the blank under it too. Our choice; common practice, no source."""

_FLAT_MM: Final = 0.005


@dataclass(frozen=True, kw_only=True)
class Local:
    """The blank under one scale.

    Attributes:
        least_mm: Thickness where it is thinnest.
        mean_mm: Mean over the scale's area as cut.
        most_mm: Thickness where it is thickest.
        thinnest_mm: Where it is thinnest, x and y from the blank's lower left corner; None without a plane.
    """

    least_mm: float
    mean_mm: float
    most_mm: float
    thinnest_mm: tuple[float, float] | None = None


class Placed(Protocol):
    """One scale on a blank, such as :class:`~scalegen.sheet.layout.Placement`."""

    @property
    def label(self) -> str:
        """Such as "3R"."""

    @property
    def side(self) -> Side:
        """Which half of the pair."""

    def place(self, points_mm: FloatArray) -> FloatArray:
        """Points of the scale's frame, float64 (n, 2) in mm, in that of the blank."""


class Blank(Protocol):
    """One blank with its scales, such as :class:`~scalegen.sheet.layout.SheetLayout`."""

    @property
    def length_mm(self) -> float:
        """Size along the grain."""

    @property
    def width_mm(self) -> float:
        """Size across the grain."""

    @property
    def placements(self) -> Sequence[Placed]:
        """The scales on it."""


def under_ring(plane: Plane, ring: Ring, placed: Placed) -> Local:
    """The blank under a scale by the plane of its readings.

    A plane has its extremes on the outline and its mean at the centroid. Arcs are taken as chords that stay
    within 0.005 mm, which is off by no more than that times the slope.

    Args:
        plane: Plane over the blank, x and y from its lower left corner.
        ring: Outline as cut, in the scale's own frame.
        placed: Where the scale stands.
    """
    points_mm = placed.place(ring.flatten(_FLAT_MM))
    thicknesses_mm = np.array([plane.at(float(x), float(y)) for x, y in points_mm])
    thinnest = points_mm[int(thicknesses_mm.argmin())]
    middle = placed.place(np.array([centroid_mm(ring)]))[0]
    return Local(
        least_mm=float(thicknesses_mm.min()),
        mean_mm=plane.at(float(middle[0]), float(middle[1])),
        most_mm=float(thicknesses_mm.max()),
        thinnest_mm=(float(thinnest[0]), float(thinnest[1])),
    )


def under_scales(
    report: BlankReport | None,
    readings: Sequence[Reading],
    rings: Mapping[Side, Ring],
    blanks: Sequence[Blank],
    *,
    need_mm: float,
    units: Units = "mm",
) -> tuple[dict[str, Local], tuple[Finding, ...]]:
    """The blank under every scale of a job, and what there is to say about it.

    Readings tell of one blank, and of several it is the first that they are taken for. On the others, and
    where readings make no plane, the smallest reading counts.

    Args:
        report: What the readings tell; None when the blank was not measured.
        readings: The readings.
        rings: Outline of each side as cut, in its own frame.
        blanks: The job's blanks, at least one.
        need_mm: Finished thickness and back allowance.
        units: Unit that lengths are shown in.

    Returns:
        The blank under each scale by its label, empty when it was not measured; and a warning for each scale
        that is too thin at its thinnest place, a stop when it is so even at its thickest or when the job
        counts on more than the smallest reading, a warning for
        readings off the blank, a note when there are blanks without readings.
    """
    if report is None:
        return {}, ()
    plane, used_mm = report.plane, report.used_mm
    flat = Local(least_mm=used_mm, mean_mm=used_mm, most_mm=used_mm)
    local = {
        placed.label: flat if plane is None or count else under_ring(plane, rings[placed.side], placed)
        for count, blank in enumerate(blanks)
        for placed in blank.placements
    }
    counted = used_mm < need_mm - UNSEEN_MM
    if counted and plane is not None:
        local = {**local, **_with_readings(local, readings, rings, blanks[0])}
    findings = [*_thin_spots(local, need_mm, units, strict=counted)]
    if plane is not None:
        size_mm = (blanks[0].length_mm, blanks[0].width_mm)
        findings += [*_off_blank(readings, size_mm, units), *_further_blanks(len(blanks))]
    return local, tuple(findings)


def _further_blanks(count: int) -> Iterator[Finding]:
    if count > 1:
        yield Finding(
            code="readings-of-one-blank",
            level="note",
            about="blank",
            where="",
            message=f"the readings tell of one blank, taken for the first of {count}; on the others the"
            " smallest reading is counted on",
            remedy="measure each blank and make it as a job of its own",
        )


def _with_readings(
    local: Mapping[str, Local], readings: Sequence[Reading], rings: Mapping[Side, Ring], blank: Blank
) -> dict[str, Local]:
    """The scales of a blank with readings taken under or beside them, which a plane may smooth away."""
    found = {}
    for placed in blank.placements:
        points_mm = placed.place(rings[placed.side].flatten(_FLAT_MM))
        outline = Ring(np.column_stack([points_mm, np.zeros(len(points_mm))]))
        under = local[placed.label]
        for reading in readings:
            if reading.x_mm is None or reading.y_mm is None or reading.thickness_mm >= under.least_mm:
                continue
            spot = np.array([[reading.x_mm, reading.y_mm]])
            if inside(outline, spot)[0] or distances_mm(outline, spot)[0] < BESIDE_MM:
                at = (reading.x_mm, reading.y_mm)
                under = replace(under, least_mm=reading.thickness_mm, thinnest_mm=at)
        found[placed.label] = under
    return found


def _thin_spots(
    local: Mapping[str, Local], need_mm: float, units: Units, *, strict: bool
) -> Iterator[Finding]:
    def size(mm: float) -> str:
        return format_length(mm, units, 3 + (units == "in"))

    for label, under in local.items():
        if under.thinnest_mm is None or under.least_mm >= need_mm - UNSEEN_MM:
            continue
        all_over = under.most_mm < need_mm - UNSEEN_MM
        level: Level = "stop" if all_over or strict else "warning"
        short_mm = need_mm - (under.most_mm if all_over else under.least_mm)
        reach = f"even at its thickest {size(under.most_mm)}" if all_over else size(under.least_mm)
        yield Finding(
            code="scale-thin-spot",
            level=level,
            about=f"scale {label}",
            where=f"{_place(under.thinnest_mm, units)} from the blank's lower left corner",
            message=f"the blank has {reach} under it where {size(need_mm)} is needed: {size(short_mm)} short",
            remedy="make the scale thinner, or put it where the blank is thicker",
        )


def _off_blank(readings: Sequence[Reading], size_mm: tuple[float, float], units: Units) -> Iterator[Finding]:
    spots = [
        (k, (reading.x_mm, reading.y_mm))
        for k, reading in enumerate(readings, start=1)
        if reading.x_mm is not None and reading.y_mm is not None
    ]
    off = [(k, spot) for k, spot in spots if not _within(spot, size_mm)]
    if not off:
        return
    number, spot = off[0]
    many = (
        f"{len(off)} readings, the first of them {number}, lie" if len(off) > 1 else f"reading {number} lies"
    )
    length, width = (format_length(each, units) for each in size_mm)
    yield Finding(
        code="reading-off-blank",
        level="warning",
        about="blank",
        where=_place(spot, units),
        message=f"{many} outside of the blank of {length} x {width}",
        remedy="count x and y from the blank's lower left corner, x along the grain; check the unit",
    )


def _within(spot: tuple[float, float], size_mm: tuple[float, float]) -> bool:
    return all(-OUTSIDE_MM <= each <= most + OUTSIDE_MM for each, most in zip(spot, size_mm, strict=True))


def _place(spot_mm: tuple[float, float], units: Units) -> str:
    x, y = (format_length(each, units, 1 + (units == "in")) for each in spot_mm)
    return f"x = {x}, y = {y}"
