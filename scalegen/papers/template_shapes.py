"""What a template shows of one scale at full size, in the scale's own frame turned onto paper."""

from dataclasses import dataclass

import numpy as np

from scalegen.design import Scale
from scalegen.export.drawings import front_lines
from scalegen.outline.front import front_curve, on_front
from scalegen.outline.measure import middles
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray, Ring
from scalegen.report.picture_marks import Entry
from scalegen.report.picture_shapes import GREY, Curve, Disc, Label, Pen, Shape, Spot

Box = tuple[float, float, float, float]

FINISHED = Pen(width_mm=0.25)
AS_CUT = Pen(width_mm=0.18, dash_mm=(3.0, 1.5))
FRONT = Pen(width_mm=0.7)
TREATMENT = Pen(color=GREY, width_mm=0.2, dash_mm=(1.0, 1.0))
LINER = Pen(color=GREY, width_mm=0.25, dash_mm=(5.0, 1.0))
THIN = Pen(width_mm=0.15)
_CROSS_MM, _NUMBER_MM, _RIM_MM = 3.0, 3.8, 6.0


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Where the scale's own frame lies on paper: ``zero_mm`` is the place of x = 0, y = 0; y goes up."""

    zero_mm: Spot

    def spot(self, at_mm: Spot) -> Spot:
        """A place of the scale on paper."""
        return self.zero_mm[0] + at_mm[0], self.zero_mm[1] - at_mm[1]

    def rows(self, rows: FloatArray) -> FloatArray:
        """Rows x, y, bulge (n, 3) of the scale on paper, whose y goes down."""
        x, y = self.zero_mm
        return np.column_stack([x + rows[:, 0], y - rows[:, 1], -rows[:, 2]])


def scale_box(scale: Scale) -> Box:
    """Left, lower, right and upper side of all that is drawn, in the scale's own frame."""
    x0, y0, x1, y1 = scale.footprint.bounds_mm
    return x0 - _RIM_MM, y0 - _RIM_MM, x1 + _RIM_MM, y1 + _RIM_MM


def scale_shapes(scale: Scale, frame: Frame) -> list[Shape]:
    """Outlines, front and pins of the left scale, seen from its face, at full size."""
    shapes: list[Shape] = [_ring(scale.as_cut, frame, AS_CUT), _ring(scale.finished, frame, FINISHED)]
    if scale.stepped is not None:
        shapes.append(_ring(scale.stepped.finished, frame, LINER))
    start = front_lines(scale)[1]
    if start is not None:
        shapes.append(Curve(rows=frame.rows(start), closed=False, pen=TREATMENT))
    shapes += _front(scale, frame)
    for number, hole in enumerate(scale.holes, 1):
        shapes += _pin(number, frame.spot(hole.at_mm), hole.hole_mm, hole.head_hole_mm)
    return shapes


def entries(scale: Scale) -> list[Entry]:
    """What its lines mean."""
    found = [
        Entry(sample=FINISHED, text="finished outline"),
        Entry(sample=AS_CUT, text="as cut"),
        Entry(sample=FRONT, text="front line"),
    ]
    if scale.pattern.front.treatment != "square":
        found.append(Entry(sample=TREATMENT, text="where the front treatment meets the face"))
    if scale.stepped is not None:
        found.append(Entry(sample=LINER, text="finished liner"))
    return found


def _ring(ring: Ring, frame: Frame, pen: Pen) -> Curve:
    return Curve(rows=frame.rows(ring.rows), closed=True, pen=pen)


def _front(scale: Scale, frame: Frame) -> list[Shape]:
    """The pieces of the finished outline that lie on the front line."""
    ring, curve = scale.finished, front_curve(scale.pattern.front)
    on = on_front(curve, middles(pieces_of(ring)), 0.0) & on_front(curve, ring.starts, 0.0)
    return [
        Curve(rows=frame.rows(np.array([ring.rows[k], [*ring.ends[k], 0.0]])), closed=False, pen=FRONT)
        for k in np.flatnonzero(on)
    ]


def _pin(number: int, at: Spot, hole_mm: float, head_mm: float) -> list[Shape]:
    """A hole with a cross through its middle and its number."""
    x, y = at
    reach = max(hole_mm, head_mm) / 2 + _CROSS_MM
    arms = [[(x - reach, y), (x + reach, y)], [(x, y - reach), (x, y + reach)]]
    shapes: list[Shape] = [Disc(at_mm=at, radius_mm=hole_mm / 2, pen=FINISHED)]
    if head_mm:
        shapes.append(Disc(at_mm=at, radius_mm=head_mm / 2, pen=TREATMENT))
    shapes += [line(arm, THIN) for arm in arms]
    side = max(hole_mm, head_mm) / 2 + 0.8
    return [
        *shapes,
        Label(at_mm=(x + side, y - side), text=str(number), size_mm=_NUMBER_MM, bold=True),
    ]


def line(points: list[Spot], pen: Pen) -> Curve:
    """An open chain of straight lines on paper."""
    return Curve(rows=np.array([(x, y, 0.0) for x, y in points]), closed=False, pen=pen)
