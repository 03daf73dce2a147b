"""What a drawing holds, as plain data: the contract of ``show outline --json``. Lengths in mm."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Literal

import numpy as np

from scalegen.errors import PatternError
from scalegen.model import OutlineSource, Shop
from scalegen.outline.choose import Contour, inside
from scalegen.outline.join import Gap, Joined, Place
from scalegen.outline.ring import Ring, segment_excess
from scalegen.outline.survey import Survey
from scalegen.outline.words import join_notes
from scalegen.shop.match import hardware_for

Data = dict[str, Any]
Role = Literal["outline", "candidate", "hole", "border", "left out", "other"]

AMBIGUOUS = "outline-ambiguous"
CROSSES = "outline-crosses-itself"
DOUBTFUL = "outline-doubtful"
NOT_CLOSED = "outline-not-closed"
NOT_THERE = "outline-no-such-contour"
REFUSED = "outline-refused"
GAP = "outline-gap"
READING = "outline-reading"

_WIDE_MM = 0.005
_GAPS_TOLD = 200
_ABOUT = "outline"


def outline_record(found: Survey, source: OutlineSource, shop: Shop | None = None) -> Data:
    """Everything found in a drawing.

    Args:
        found: The survey of it.
        source: Where it came from.
        shop: Tables to look for hardware in; None names none.

    Returns:
        Data for ``json.dumps`` with all keys there: contours largest first, each with its ``role``
        (see :func:`roles`); numbers as they are, not rounded.
    """
    parts = roles(found)
    sizes = zip(found.contours, *_measures([contour.ring for contour in found.contours]), strict=True)
    return {
        "units": found.units,
        "contours": [_contour(contour, parts[contour.number], *size) for contour, *size in sizes],
        "chosen": found.chosen,
        "choices": list(found.choices),
        "holes": [_hole(hole, shop) for hole in found.holes],
        "gaps": [{"at_mm": _spot(gap.at_mm), "size_mm": gap.size_mm} for gap in found.gaps],
        "open_ends": [_spot(place) for place in found.open_ends],
        "branches": [_spot(place) for place in found.branches],
        "crossings": [_spot(place) for place in found.crossings],
        "findings": _findings(found, source),
    }


def refused_record(error: PatternError) -> Data:
    """The same data for a file that could not be read at all.

    Args:
        error: Why not.

    Returns:
        The keys of :func:`outline_record`; no contours, ``units`` None, one stop finding for every fault.
    """
    stops = [
        _finding(
            REFUSED,
            "stop",
            fault.field or (f"line {fault.line}" if fault.line else fault.file),
            f"{fault.found}; {fault.allowed}" if fault.allowed else fault.found,
            fault.hint or error.remedy,
        )
        for fault in error.faults
    ] or [_finding(REFUSED, "stop", error.where, error.message, error.remedy)]
    places = ("contours", "choices", "holes", "gaps", "open_ends", "branches", "crossings")
    return {"units": None, "chosen": None, **{key: [] for key in places}, "findings": stops}


def roles(found: Survey) -> Mapping[int, Role]:
    """What each contour of a drawing is taken for.

    Args:
        found: The survey.

    Returns:
        By contour number: "outline"; "candidate" when it could be the outline and must be asked for;
        "hole" in the outline; "border", a rectangle around the outline or around all candidates; and
        "left out" when there is an outline, "other" when there is none.
    """
    holes, choices = set(found.holes), set(found.choices)
    mains = [found.contours[n - 1] for n in ([found.chosen] if found.chosen else found.choices)]

    def role(contour: Contour) -> Role:
        if contour.number == found.chosen:
            return "outline"
        if contour.number in choices:
            return "candidate"
        if contour.circle in holes and found.chosen and inside(contour, mains[0], found.contours):
            return "hole"
        if contour.rectangle and mains and all(inside(main, contour, found.contours) for main in mains):
            return "border"
        return "left out" if found.chosen else "other"

    return {contour.number: role(contour) for contour in found.contours}


def _measures(rings: Sequence[Ring]) -> tuple[list[float], list[float]]:
    """Areas and perimeters, worked out for all rings together: there may be very many."""
    if not rings:
        return [], []
    first = np.cumsum([0, *(len(ring) for ring in rings)])[:-1]
    starts = np.vstack([ring.rows for ring in rings])
    after = np.arange(1, len(starts) + 1)
    after[np.append(first[1:], len(starts)) - 1] = first
    (ax, ay, bulge), (bx, by) = starts.T, starts[after, :2].T
    turn = 4 * np.arctan(bulge)
    chord = np.hypot(bx - ax, by - ay)
    lengths = chord / np.sinc(np.abs(turn) / 2 / np.pi)
    radius = np.where(turn == 0, 0.0, lengths / np.where(turn == 0, 1.0, turn))
    areas = (ax * by - bx * ay + radius**2 * segment_excess(turn)) / 2
    return np.add.reduceat(areas, first).tolist(), np.add.reduceat(lengths, first).tolist()


def _contour(contour: Contour, role: Role, area_mm2: float, perimeter_mm: float) -> Data:
    return {
        "number": contour.number,
        "role": role,
        "area_mm2": area_mm2,
        "perimeter_mm": perimeter_mm,
        "segments": len(contour.ring),
        "inside_of": contour.inside_of,
        "bounds_mm": list(contour.bounds_mm),
    }


def _hole(hole: tuple[float, float, float], shop: Shop | None) -> Data:
    x, y, diameter = hole
    names = hardware_for(diameter, shop) if shop else ()
    return {"at_mm": [x, y], "diameter_mm": diameter, "hardware": list(names)}


def _spot(place: Place) -> list[float]:
    return [float(place[0]), float(place[1])]


# ------------------------------------------------------------------------------------------ findings


def _findings(found: Survey, source: OutlineSource) -> list[Data]:
    """The stop, if any, then closed gaps, widest first, then notes."""
    findings = [_stop(found, source)] if found.reason else []
    gaps = sorted(found.gaps, key=lambda gap: (-gap.size_mm, gap.at_mm))
    findings += [_gap(gap) for gap in gaps[:_GAPS_TOLD]]
    more = len(gaps) - _GAPS_TOLD
    if more > 0:
        text = f"closed {more} more gaps of up to {gaps[_GAPS_TOLD].size_mm:.6f} mm"
        findings.append(_finding(GAP, "note", "", text, ""))
    told = _gap_notes(found.gaps)
    findings += [_finding(READING, "note", "", note, "") for note in found.notes if note not in told]
    return findings


def _gap_notes(gaps: tuple[Gap, ...]) -> set[str]:
    """What the notes of a survey say about its gaps; here each gap has a finding of its own."""
    return set(join_notes(Joined(contours=(), loose=(), gaps=gaps, branches=(), repeats=0, strays=0, flat=0)))


def _stop(found: Survey, source: OutlineSource) -> Data:
    """Why a drawing cannot be used as it is."""
    places: Iterable[Place] = ()
    if found.crossings:
        code, places = CROSSES, found.crossings
    elif not found.contours:
        code, places = NOT_CLOSED, found.open_ends or found.branches
    elif len(found.choices) > 1:
        code = AMBIGUOUS
    elif found.choices:
        code, places = DOUBTFUL, found.open_ends
    else:
        code = NOT_THERE
    where = next((_place_text(place) for place in places), "")
    name = source.path.name if source.path else "tang.outline"
    return _finding(code, "stop", where or name, found.reason, found.remedy)


def _gap(gap: Gap) -> Data:
    """A closed gap: a warning where closing it moves an end by more than curves are rounded by."""
    wide = gap.size_mm > _WIDE_MM
    return _finding(
        GAP,
        "warning" if wide else "note",
        _place_text(gap.at_mm),
        f"closed a gap of {gap.size_mm:.{4 if wide else 6}f} mm",
        "look whether the two ends are meant to meet there" if wide else "",
    )


def _finding(code: str, level: str, where: str, message: str, remedy: str) -> Data:
    return {
        "code": code,
        "level": level,
        "about": _ABOUT,
        "where": where,
        "message": message,
        "remedy": remedy,
    }


def _place_text(place: Place) -> str:
    return f"x = {place[0]:.3f}, y = {place[1]:.3f} mm"
