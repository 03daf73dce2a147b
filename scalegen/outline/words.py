"""Contours, places and left-outs put into words."""

from collections import Counter
from collections.abc import Sequence

from scalegen.outline.drawing import Drawing, LeftOut
from scalegen.outline.join import GAP_MM, Joined, Place, circle_of
from scalegen.outline.ring import Ring

_PLACES_SHOWN = 6
_GAPS_SHOWN = 20
_SLIGHT_MM = 1e-3


def contour_text(ring: Ring) -> str:
    """A contour in words."""
    x0, y0, x1, y1 = ring.bounds_mm
    size = f"{x1 - x0:.3f} x {y1 - y0:.3f} mm around {place_text((x0 + x1) / 2, (y0 + y1) / 2)}"
    return f"{'circle' if circle_of(ring) else f'{len(ring)} segments'}, {size}"


def place_text(x: float, y: float) -> str:
    """A place in words."""
    return f"({x:.3f}, {y:.3f})"


def places_text(places: Sequence[Place]) -> str:
    """The first few places, and how many more."""
    shown = ", ".join(place_text(*place) for place in places[:_PLACES_SHOWN])
    more = len(places) - _PLACES_SHOWN
    return f"{shown} and {more} more (mm)" if more > 0 else f"{shown} (mm)"


def left_out_notes(left_out: Sequence[LeftOut]) -> list[str]:
    """One note for each reason, with counts by kind."""
    reasons: dict[str, Counter[str]] = {}
    for item in left_out:
        reasons.setdefault(item.reason, Counter())[item.kind] += 1
    return [
        f"left out ({reason}): "
        + ", ".join(f"{count} {kind[:40]}" for kind, count in sorted(kinds.items())[:12])
        for reason, kinds in sorted(reasons.items())[:12]
    ]


def join_notes(joined: Joined) -> list[str]:
    """Notes about gaps, loose ends, branches and repeats."""
    wide = [gap for gap in joined.gaps if gap.size_mm >= _SLIGHT_MM]
    notes = [
        f"closed a gap of {gap.size_mm:.4f} mm at {place_text(*gap.at_mm)}" for gap in wide[:_GAPS_SHOWN]
    ]
    if len(wide) > _GAPS_SHOWN:
        largest = max(gap.size_mm for gap in wide)
        notes.append(f"closed {len(wide) - _GAPS_SHOWN} more gaps; the widest of all was {largest:.4f} mm")
    slight = [gap.size_mm for gap in joined.gaps if gap.size_mm < _SLIGHT_MM]
    if slight:
        notes.append(f"drew {len(slight)} joints together that were up to {max(slight):.6f} mm open")
    if joined.loose:
        notes.append(f"left out {len(joined.loose)} open chains with ends at {places_text(joined.open_ends)}")
    if joined.branches:
        notes.append(f"more than two ends meet at {places_text(joined.branches)}")
    if joined.repeats:
        notes.append(f"left out {joined.repeats} repeats that lie exactly on other lines")
    if joined.strays:
        notes.append(f"left out {joined.strays} chains that branch off and end nowhere")
    if joined.flat:
        notes.append(f"left out {joined.flat} closed chains without any area")
    return notes


def crossing_text(places: tuple[Place, ...]) -> tuple[str, str]:
    """What to say about an outline that crosses itself, and what to do."""
    return (
        f"the outline crosses or touches itself at {places_text(places)}",
        "look for lines drawn past each other or a wrong bulge there, and trim them",
    )


def no_contour_text(joined: Joined, drawing: Drawing) -> tuple[str, str]:
    """Why there is no closed contour, and what to do."""
    parts = ["no closed contour"]
    if not drawing.pieces:
        parts.append("there are no lines or arcs to read")
    if joined.branches:
        parts.append(f"more than two ends meet at {places_text(joined.branches)}")
    if joined.open_ends:
        parts.append(f"open ends at {places_text(joined.open_ends)}")
    if joined.flat:
        parts.append("some lines only lead there and back")
    parts += [*left_out_notes(drawing.left_out), *drawing.notes]
    hidden = sorted(
        {item.reason for item in drawing.left_out if item.reason != "no outline" and not item.curve}
    )
    blame = sorted({item.kind for item in drawing.left_out if item.curve})
    remedy = f"draw the outline as one closed chain; ends up to {GAP_MM} mm apart are joined"
    if blame:
        remedy = f"turn {', '.join(blame)} into flat lines and arcs before saving the drawing"
    elif hidden and not drawing.pieces:
        remedy = f"show what is hidden ({hidden[0]}) and save the drawing again"
    elif not drawing.pieces and any("paper space" in note for note in drawing.notes):
        remedy = "copy the outline into the model space and save the drawing again"
    return "; ".join(parts), remedy
