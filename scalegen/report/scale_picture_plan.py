"""A scale seen from outside: every layer's visible band, the lines on it, and its pins."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from scalegen.design import Hole, Scale
from scalegen.form.grooves import grooves_of
from scalegen.form.reveal import Reveal, creases, face_lines, regions
from scalegen.outline.ring import FloatArray
from scalegen.report.picture_marks import TEXT_MM
from scalegen.report.picture_place import Ground, place_beside, steps_between
from scalegen.report.picture_shapes import BLACK, WHITE, Curve, Disc, Label, Pen, Shape, text_width_mm
from scalegen.report.picture_view import View
from scalegen.report.scale_picture_profile import HAIR, LIGHT, between

OUTLINE = Pen(width_mm=0.35)
CREST = Pen(color="#ffffff", width_mm=0.3)
CREST_RIM = Pen(color="#555555", width_mm=0.55)
GROOVE = Pen(color="#333333", width_mm=0.2)
HOLE = Pen(color=BLACK, width_mm=0.25)
BLIND = Pen(color=BLACK, width_mm=0.3, dash_mm=(0.9, 0.7))
_RIM = Pen(color=WHITE, width_mm=0.7)
_NUMBER_MM = 3.6
_ROOM_MM = 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Stripe:
    """What shows at one place between two layers: one boundary, or both sides of a film of glue.

    Attributes:
        number: Its number in the picture.
        below: Boundary that lies lower.
        above: Boundary that lies higher; the same where no glue is between.
    """

    number: int
    below: Reveal
    above: Reveal


def stripes(scale: Scale, found: Sequence[Reveal]) -> tuple[Stripe, ...]:
    """Boundaries that show, in the order they are numbered: by place, from back to face.

    Args:
        scale: The scale.
        found: Every boundary that shows.
    """
    films = {span.name for span in scale.spans if span.kind == "bond"}
    order = sorted(found, key=lambda each: (each.place, each.z_mm))
    below = {id(b): a for a, b in pairwise(order) if a.place == b.place and a.over == b.under}
    joined: list[tuple[Reveal, Reveal]] = []
    for each in order:
        if each.under in films and id(each) in below and joined:
            joined[-1] = (joined[-1][0], each)
        else:
            joined.append((each, each))
    return tuple(Stripe(number=k, below=a, above=b) for k, (a, b) in enumerate(joined, start=1))


def plan_fills(scale: Scale, view: View) -> list[Shape]:
    """Bands of the layers, grooves, lines of the treatments, and the outline round them."""
    shapes: list[Shape] = []
    for span, chains in zip(scale.spans, regions(scale), strict=True):
        shapes += [Curve(rows=view.rows(rows), closed=True, pen=HAIR, fill=span.color) for rows in chains]
    grooves = grooves_of(scale)
    if grooves is not None:
        shapes += [Curve(rows=view.rows(r.rows), closed=True, pen=GROOVE) for r in grooves.region()]
    # A light line with a dark rim can be seen on every colour.
    for pen in (CREST_RIM, CREST):
        shapes += [Curve(rows=view.rows(rows), closed=True, pen=pen) for rows in face_lines(scale)]
        shapes += [Curve(rows=view.rows(_chain(points)), closed=False, pen=pen) for points in creases(scale)]
    left, top, right, bottom = view.window_mm
    outline, paper = (
        view.rows(scale.finished.rows),
        [(left, top), (right, top), (right, bottom), (left, bottom)],
    )
    # Bands of short lines may reach beyond the outline.
    shapes.append(_around(_chain(np.array(paper)), outline, WHITE))
    if scale.stepped is not None and scale.stepped.step_mm > 0:
        proud, color = view.rows(scale.stepped.finished.rows), scale.spans[scale.stepped.count - 1].color
        shapes.append(_around(proud, outline, color))
        shapes.append(Curve(rows=proud, closed=True, pen=OUTLINE))
    return [*shapes, Curve(rows=outline, closed=True, pen=OUTLINE)]


def _chain(points: FloatArray) -> FloatArray:
    return np.column_stack([points, np.zeros(len(points))])


def _around(outer: FloatArray, inner: FloatArray, fill: str) -> Shape:
    """What lies in one ring (n, 3) on the page and outside another (m, 3) in it."""
    clockwise = _twice_area(outer) * _twice_area(inner) > 0
    if clockwise:
        inner = np.column_stack([inner[::-1, :2], -np.roll(inner[::-1, 2], -1)])
    # In by the same way as out, so that the inner ring is left out of what is painted.
    first = outer[:1] * [1.0, 1.0, 0.0]
    rows = np.vstack([outer, first, inner, inner[:1] * [1.0, 1.0, 0.0]])
    return Curve(rows=rows, closed=True, pen=None, fill=fill)


def _twice_area(rows: FloatArray) -> float:
    x, y = rows[:, 0], rows[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def pin_shapes(scale: Scale, view: View) -> list[Shape]:
    """What one sees of every pin: its end or head, the gap round it, the bore of a tube."""
    shapes: list[Shape] = []
    for hole in scale.holes:
        shapes += _pin(hole, view)
    return shapes


def _pin(hole: Hole, view: View) -> list[Shape]:
    at_mm, part = view.spot(hole.at_mm), hole.hardware

    def disc(diameter_mm: float, pen: Pen, fill: str) -> Shape:
        return Disc(at_mm=at_mm, radius_mm=diameter_mm / 2 * view.scale, pen=pen, fill=fill)

    if hole.is_blind:
        return [
            disc(hole.hole_mm, replace(BLIND, color=WHITE, dash_mm=()), ""),
            disc(hole.hole_mm, BLIND, ""),
        ]
    wide = part.head_mm if hole.head_hole_mm else part.diameter_mm
    shapes = [disc(hole.widest_mm, HOLE, "#222222"), disc(wide, HOLE, part.color)]
    if part.bore_mm:
        shapes.append(disc(part.bore_mm, HOLE, "#222222"))
    return shapes


def reveal_lines(scale: Scale, found: Sequence[Reveal], view: View) -> list[Shape]:
    """The lines where layers meet: dark, with a light core where both layers are dark."""
    color = {span.name: span.color for span in scale.spans}
    shapes: list[Shape] = []
    for each in found:
        core = between(color[each.under], color[each.over])
        pens = (core,) if core is not LIGHT else (replace(core, color=BLACK, width_mm=0.4), core)
        shapes += [
            Curve(rows=view.rows(_chain(line)), closed=False, pen=pen) for line in each.lines for pen in pens
        ]
    return shapes


def stripe_numbers(shown: Sequence[Stripe], view: View, ground: Ground) -> list[Shape]:
    """A number beside every line of every stripe, with a line to it."""
    shapes: list[Shape] = []
    for stripe in shown:
        for line in _longest(stripe.below.lines):
            points = view.rows(_chain(line))[:, :2]
            placed = place_beside(ground, np.vstack([points, points[-2:0:-1]]), _ROOM_MM)
            if placed is not None:
                shapes += _numbered(*placed, str(stripe.number))
    return shapes


def _longest(lines: Sequence[FloatArray]) -> list[FloatArray]:
    """The one or two longest lines of a boundary: those on both sides have a number each."""
    length = [float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in lines]
    order = sorted(range(len(lines)), key=lambda k: (-length[k], k))
    return [lines[k] for k in order[:2] if length[k] > length[order[0]] / 3]


def _numbered(foot: tuple[float, float], center: tuple[float, float], text: str) -> list[Shape]:
    leader = _chain(np.array([foot, center]))
    radius = max(_ROOM_MM, text_width_mm(text, _NUMBER_MM) / 2 + 0.6)
    return [
        Curve(rows=leader, closed=False, pen=_RIM),
        Curve(rows=leader, closed=False, pen=HOLE),
        Disc(at_mm=foot, radius_mm=0.6, pen=Pen(color=WHITE, width_mm=0.2), fill=BLACK),
        Disc(at_mm=center, radius_mm=radius, pen=HOLE, fill=WHITE),
        Label(
            at_mm=(center[0], center[1] + 0.36 * _NUMBER_MM), text=text, size_mm=_NUMBER_MM, anchor="middle"
        ),
    ]


def section_mark(start: FloatArray, end: FloatArray, name: str, view: View) -> list[Shape]:
    """Where a cut goes through: a dash-and-dot line with its letter at both ends."""
    a, b = (np.array(view.spot(place)) for place in (start.tolist(), end.tolist()))
    along = (b - a) / math.hypot(*(b - a))
    a, b = a - 4.0 * along, b + 4.0 * along
    pens = Pen(color=WHITE, width_mm=0.6), Pen(color=BLACK, width_mm=0.25, dash_mm=(2.6, 1.2))
    shapes: list[Shape] = [Curve(rows=_chain(np.array([a, b])), closed=False, pen=pen) for pen in pens]
    for tip, way in ((a, -along), (b, along)):
        at_mm = (float(tip[0] + 2.4 * way[0]), float(tip[1] + 2.4 * way[1] + 0.36 * TEXT_MM))
        shapes.append(Label(at_mm=at_mm, text=name, size_mm=TEXT_MM, anchor="middle", bold=True))
    return shapes


def take_plan(scale: Scale, view: View, ground: Ground) -> None:
    """Note what numbers must keep clear of: the outline and the pins."""
    points = view.rows(_chain(scale.finished.flatten(0.02)))[:, :2]
    ground.take(steps_between(np.vstack([points, points[:1]])))
    for hole in scale.holes:
        (x, y), r = view.spot(hole.at_mm), hole.widest_mm / 2 * view.scale
        ground.take_box((x - r, y - r, x + r, y + r))
