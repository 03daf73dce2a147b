"""What a drawing holds that has to do with outlines: contours numbered, the outer one chosen or asked for."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from scalegen.errors import GeometryError
from scalegen.outline.choose import Choice, Contour, choose, contours_of, inside
from scalegen.outline.crossing import self_crossings
from scalegen.outline.drawing import Box, Drawing, LeftOut
from scalegen.outline.join import Gap, Joined, Place, join_pieces
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.words import (
    contour_text,
    crossing_text,
    join_notes,
    left_out_notes,
    no_contour_text,
    places_text,
)

_ROUNDING_MM = 1e-3
_CHOICES_SHOWN = 12
_LONG_RING = 1000


@dataclass(frozen=True, kw_only=True, eq=False)
class Survey:
    """Everything a drawing holds that has to do with outlines, whether or not it can be used.

    Attributes:
        units: The unit it came in and how that is known.
        contours: Closed contours, largest first.
        chosen: Number of the outer contour; None when there is none or it must be asked for.
        choices: Numbers of the contours that could be meant, when it must be asked for.
        reason: Why the drawing cannot be used as it is; empty when it can.
        remedy: What to do about that.
        holes: Circles inside the chosen contour: x, y, diameter in mm, from left to right.
        gaps: Gaps that were closed.
        open_ends: Ends that meet nothing, mm.
        loose: Chains that do not close, rows x, y, bulge in mm each.
        branches: Places where more than two ends meet, mm.
        crossings: Places where the chosen contour crosses or touches itself, mm.
        notes: What the user should know about the reading.
        left_out: Entities that were not read.
    """

    units: str
    contours: tuple[Contour, ...] = ()
    chosen: int | None = None
    choices: tuple[int, ...] = ()
    reason: str = ""
    remedy: str = ""
    holes: tuple[tuple[float, float, float], ...] = ()
    gaps: tuple[Gap, ...] = ()
    open_ends: tuple[Place, ...] = ()
    loose: tuple[FloatArray, ...] = ()
    branches: tuple[Place, ...] = ()
    crossings: tuple[Place, ...] = ()
    notes: tuple[str, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


def survey_drawing(drawing: Drawing, *, contour: int | None = None) -> Survey:
    """Join a drawing's pieces, number the contours and choose.

    Args:
        drawing: Pieces in mm.
        contour: Number of the contour to take; None to find it.
    """
    empty = Survey(units=drawing.units, notes=drawing.notes, left_out=drawing.left_out)
    try:
        joined = join_pieces(drawing.pieces)
    except GeometryError as error:
        remedy = "; ".join(filter(None, [error.remedy, f"it was read in {drawing.units}"]))
        return replace(empty, reason=error.message, remedy=remedy)
    found = replace(
        empty,
        contours=contours_of(joined.contours),
        gaps=joined.gaps,
        open_ends=joined.open_ends,
        loose=joined.loose,
        branches=joined.branches,
        notes=(*drawing.notes, *left_out_notes(drawing.left_out), *join_notes(joined)),
    )
    if not found.contours:
        reason, remedy = no_contour_text(joined, drawing)
        return replace(found, reason=reason, remedy=remedy)
    return _with_choice(found, joined, contour)


def survey_rows(rows: Sequence[Sequence[float]], *, where: str) -> Survey:
    """A survey of rows x, y, bulge in mm, typed into a pattern.

    Raises:
        GeometryError: They make no ring.
    """
    ring = Ring.from_rows(rows, where)
    found = Survey(units="millimetres (typed)", contours=contours_of([ring]), chosen=1)
    crossings = _crossings(ring)
    if not crossings:
        return found
    reason, remedy = crossing_text(crossings)
    return replace(found, chosen=None, choices=(1,), crossings=crossings, reason=reason, remedy=remedy)


def _with_choice(found: Survey, joined: Joined, contour: int | None) -> Survey:
    """The survey with its outer contour, or with why there is none."""
    if contour is None:
        choice = choose(found.contours)
    elif 1 <= contour <= len(found.contours):
        choice = Choice(number=contour)
    else:
        reason = (
            f"there is no contour {contour}; {_listed(found.contours, [c.number for c in found.contours])}"
        )
        return replace(found, reason=reason, remedy=f"choose from 1 to {len(found.contours)}")
    if choice.number is None:
        return replace(
            found,
            choices=choice.choices,
            reason=f"more than one contour could be the outline; {_listed(found.contours, choice.choices)}",
            remedy="say which by its number, --contour 1 or the like, in a pattern contour = 1 under [tang];"
            ' "scalegen show outline FILE" draws them with their numbers',
        )
    outer = found.contours[choice.number - 1]
    if contour is None:
        doubt = _doubt(outer, joined, found)
        if doubt:
            remedy = (
                "close the outline, draw it with flat lines and curves, and delete what does not belong to it"
            )
            return replace(found, choices=(outer.number,), reason=doubt, remedy=remedy)
    crossings = _crossings(outer.ring)
    holes, notes = _rest(found, outer, choice)
    found = replace(
        found,
        chosen=outer.number,
        holes=holes,
        crossings=crossings,
        notes=(*found.notes, *notes),
    )
    if not crossings:
        return found
    reason, remedy = crossing_text(crossings)
    return replace(found, chosen=None, choices=(outer.number,), reason=reason, remedy=remedy)


def _listed(contours: tuple[Contour, ...], numbers: Sequence[int]) -> str:
    """Contours by number, in words."""
    shown = [f"{n}: {contour_text(contours[n - 1].ring)}" for n in numbers[:_CHOICES_SHOWN]]
    more = len(numbers) - _CHOICES_SHOWN
    return " and ".join(shown) + (f" and {more} smaller ones" if more > 0 else "")


def _doubt(outer: Contour, joined: Joined, found: Survey) -> str:
    """Why something that could not be closed or read may be the real outline; empty when nothing is."""
    boxes = [("an open chain of lines", _box(rows)) for rows in joined.loose]
    boxes += [(i.kind, i.box_mm) for i in found.left_out if i.curve and i.box_mm is not None]
    bounds = outer.bounds_mm
    around = sorted({name for name, box in boxes if _covers(box, bounds)})
    unread = any(item.curve for item in found.left_out)
    only_circle = outer.circle is not None and (boxes or unread or joined.branches)
    if not around and not only_circle:
        return ""
    why = f"{', '.join(around)} lies around it" if around else "other lines or curves beside it do not close"
    ends = f"; open ends at {places_text(joined.open_ends)}" if joined.open_ends else ""
    notes = "".join(f"; {note}" for note in left_out_notes(found.left_out))
    named = contour_text(outer.ring)
    return f"the largest closed contour, {named}, is probably not the outline: {why}{ends}{notes}"


def _box(rows: FloatArray) -> Box:
    (x0, y0), (x1, y1) = rows[:, :2].min(axis=0), rows[:, :2].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def _covers(box: Box, inner: Box) -> bool:
    """Whether one box reaches as far as another on all sides."""
    r = _ROUNDING_MM
    low = box[0] <= inner[0] + r and box[1] <= inner[1] + r
    return low and box[2] >= inner[2] - r and box[3] >= inner[3] - r


def _rest(
    found: Survey, outer: Contour, choice: Choice
) -> tuple[tuple[tuple[float, float, float], ...], list[str]]:
    """Holes among the other contours, and notes about the rest."""
    holes, others = [], []
    for contour in found.contours:
        if contour is outer or contour.number in choice.borders:
            continue
        if contour.circle is not None and inside(contour, outer, found.contours):
            holes.append(contour.circle)
        else:
            others.append(contour)
    notes = [
        f"left out a contour {_where(contour, outer, found.contours)}: {contour_text(contour.ring)}"
        for contour in others[:_CHOICES_SHOWN]
    ]
    if len(others) > _CHOICES_SHOWN:
        notes.append(f"left out {len(others) - _CHOICES_SHOWN} more contours")
    if choice.note:
        notes.append(choice.note)
    long = outer.size_mm[0]
    if long > 600 or long < 15:
        notes.append(f"the outline is {long:.4g} mm long; check the unit of the drawing")
    return tuple(sorted(holes)), notes


def _where(contour: Contour, outer: Contour, contours: Sequence[Contour]) -> str:
    """Where a contour lies, seen from the outline."""
    if inside(outer, contour, contours):
        return "around the outline"
    if inside(contour, outer, contours):
        return "inside the outline"
    return "across it" if _meet(contour.ring, outer.ring) else "outside it"


def _meet(a: Ring, b: Ring) -> bool:
    """Whether two curves come together."""
    points_a, points_b = a.flatten(0.01), b.flatten(0.01)
    return bool(shapely.LinearRing(points_a).distance(shapely.LinearRing(points_b)) <= _ROUNDING_MM)


def _crossings(ring: Ring) -> tuple[Place, ...]:
    """Where a ring crosses or touches itself; of a very long one only the first place."""
    if len(ring) <= _LONG_RING:
        return tuple((float(x), float(y)) for x, y in self_crossings(ring))
    reason = shapely.is_valid_reason(shapely.Polygon(ring.flatten(0.01)))
    place = re.search(r"\[(\S+) (\S+)\]", reason)
    return ((float(place[1]), float(place[2])),) if place else ()
