"""What goes into the drawing of a sheet, on the layers of the DXF files."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.design import Scale
from scalegen.export.drawing import (
    ChainShape,
    CircleShape,
    CrossShape,
    Drawing,
    RectangleShape,
    RingShape,
    Shape2D,
    TextShape,
)
from scalegen.form.grooves import grooves_of
from scalegen.form.nose import Nose
from scalegen.form.reveal import reveals
from scalegen.machining.tabs import Tab, tab_corners
from scalegen.model import Side, Units
from scalegen.outline.fit import fit_arcs
from scalegen.outline.front import FrontCurve, clip_behind, front_curve, on_front, setback_mm
from scalegen.outline.measure import inside, middles
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.transform import moved
from scalegen.sheet.layout import Placement, SheetLayout

_LABEL_MM = 4.0
_LEAST_LABEL_MM = 1.0
_CHORDS = 60
_REVEAL_OFF_MM = 0.01


def mirrored_ring(ring: Ring) -> Ring:
    """The ring of the right scale: mirrored across y = 0, still counter-clockwise."""
    rows = ring.rows * np.array([1.0, -1.0, -1.0])
    return Ring(rows).reversed()


def footprints(scale: Scale) -> dict[Side, Ring]:
    """What both sides as cut cover of the blank, in their own frames."""
    return {"left": scale.footprint, "right": mirrored_ring(scale.footprint)}


def sheet_drawing(
    scale: Scale,
    layout: SheetLayout,
    units: Units,
    tabs: Sequence[Tab] = (),
    others: Mapping[str, Scale] | None = None,
) -> Drawing:
    """The drawing of one blank, in the frame of its origin corner.

    Args:
        scale: What lies on the blank.
        layout: Where.
        units: Unit of the file.
        tabs: Bridges that stay, in the sheet frame: over each the cutter is to be lifted to its height.
        others: Scales of further patterns on the same blank, by name.
    """
    layers: dict[str, list[Shape2D]] = {
        name: []
        for name in (
            "blank",
            "left-over",
            "keep-out",
            "reference-pad",
            "outline-as-cut",
            "outline-finished",
            "liner-outline",
            "front-edge",
            "bevel-start",
            "reveals",
            "pin-holes",
            "head-recesses",
            "grooves",
            "tabs",
            "origin",
            "labels",
        )
    }
    zero = np.array([*layout.origin_mm, 0.0])
    layers["left-over"] += [
        RingShape(ring=Ring(np.array(rows) - zero))
        for piece in layout.left_over
        for rows in (piece.outline, *piece.zones)
    ]
    layers["blank"].append(_blank(layout))
    layers["keep-out"] += [RingShape(ring=_on_sheet(zone.ring, layout)) for zone in layout.zones]
    layers["reference-pad"] += [
        RectangleShape(
            corner_mm=layout.to_origin_frame(pad.x_mm, pad.y_mm), width_mm=pad.w_mm, height_mm=pad.h_mm
        )
        for pad in layout.pads
    ]
    layers["tabs"] += [RingShape(ring=_bridge(tab, layout)) for tab in tabs]
    layers["origin"].append(CrossShape(at_mm=(0.0, 0.0)))
    scales = {scale.pattern.name: scale, **(others or {})}
    lines = {name: _Lines.of(each) for name, each in scales.items()}
    for placement in layout.placements:
        own = placement.pattern if placement.pattern in scales else scale.pattern.name
        _add_scale(layers, scales[own], lines[own], placement, layout)
    return Drawing(units=units, layers=layers)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Lines:
    """Lines on a scale that are the same wherever it stands."""

    front: FloatArray
    edge: FloatArray | None
    grooves: Sequence[Ring]
    stripes: Sequence[FloatArray]

    @classmethod
    def of(cls, scale: Scale) -> "_Lines":
        """Those of a scale."""
        front, edge = front_lines(scale)
        found = grooves_of(scale)
        return cls(
            front=front,
            edge=edge,
            grooves=found.region() if found else [],
            stripes=reveal_chains(scale),
        )


def _add_scale(
    layers: dict[str, list[Shape2D]], scale: Scale, lines: _Lines, placement: Placement, layout: SheetLayout
) -> None:
    """All lines of one scale where it stands."""
    spot = _Spot(placement, layout)
    layers["outline-as-cut"].append(RingShape(ring=spot.ring(scale.as_cut)))
    layers["outline-finished"].append(RingShape(ring=spot.ring(scale.finished)))
    if scale.stepped is not None:
        layers["liner-outline"].append(RingShape(ring=spot.ring(scale.stepped.as_cut)))
    layers["front-edge"].append(ChainShape(rows=spot.chain(lines.front)))
    if lines.edge is not None:
        layers["bevel-start"].append(ChainShape(rows=spot.chain(lines.edge)))
    layers["reveals"] += [ChainShape(rows=spot.chain(rows)) for rows in lines.stripes]
    for hole in scale.holes:
        x, y = spot.points(np.array([hole.at_mm]))[0]
        center = (float(x), float(y))
        layers["pin-holes"].append(CircleShape(center_mm=center, diameter_mm=hole.hole_mm))
        if hole.head_hole_mm:
            layers["head-recesses"].append(CircleShape(center_mm=center, diameter_mm=hole.head_hole_mm))
    layers["grooves"] += [RingShape(ring=spot.ring(ring)) for ring in lines.grooves]
    layers["labels"].append(_label(placement, scale, spot))


def _blank(layout: SheetLayout) -> Shape2D:
    """The edge of the blank."""
    if layout.outline is not None:
        return RingShape(ring=_on_sheet(layout.outline, layout))
    corner = layout.to_origin_frame(0.0, 0.0)
    return RectangleShape(corner_mm=corner, width_mm=layout.length_mm, height_mm=layout.width_mm)


def _on_sheet(ring: Ring, layout: SheetLayout) -> Ring:
    """A ring of the sheet frame in the frame of the origin corner."""
    return moved(ring, *layout.to_origin_frame(0.0, 0.0))


def front_lines(scale: Scale) -> tuple[FloatArray, FloatArray | None]:
    """The front's edge and the line where its treatment meets the face, as open chains x, y, bulge.

    Both span the as-cut outline; the second is None for a square front.
    """
    front = scale.pattern.front
    curve = front_curve(front)
    edge = _on_curve(scale.as_cut, curve, -front.allowance_mm)
    back = setback_mm(front, scale.thickness_mm, scale.thickness_mm) - front.allowance_mm
    if front.treatment == "square":
        return edge, None
    if not scale.face.is_flat:
        return edge, _start_on(scale, edge)
    parts = clip_behind(scale.as_cut, curve, back)
    return edge, _on_curve(parts[0], curve, back) if parts else None


def reveal_chains(scale: Scale) -> list[FloatArray]:
    """Where boundaries between layers show on the finished scale, as open chains (n, 3) of lines and arcs.

    Raises:
        GeometryError: The shape can't be made.
    """
    chains = []
    for line in (line for each in reveals(scale) for line in each.lines):
        closed = len(line) > 3 and bool((line[0] == line[-1]).all())
        rows = fit_arcs(line, _REVEAL_OFF_MM, closed=closed).rows
        chains.append(np.vstack([rows, [*rows[0, :2], 0.0]]) if closed else rows)
    return chains


def _start_on(scale: Scale, edge: FloatArray) -> FloatArray | None:
    """Where the treatment meets a face that is not flat: a chain of short lines within the as-cut outline."""
    front, curve = scale.pattern.front, front_curve(scale.pattern.front)
    nose = Nose(front=front, curve=curve, allowance_mm=front.allowance_mm)
    ends = (edge[[0, -1], :2] - curve.point) @ curve.along
    if curve.arc_mm:
        # By the arc's length, and a little more: the outline may widen behind the front.
        ends = np.arcsin(np.clip(ends / abs(curve.arc_mm), -1, 1)) * abs(curve.arc_mm)
    middle, half = ends.mean(), 0.75 * np.ptp(ends)
    points = nose.start_mm(np.linspace(0, 1, _CHORDS + 1), (middle - half, middle + half), scale.face)
    points = points[inside(scale.as_cut, points)]
    return np.column_stack([points, np.zeros(len(points))]) if len(points) > 1 else None


def _on_curve(ring: Ring, curve: FrontCurve, setback: float) -> FloatArray:
    """The run of a ring that lies on the front, as an open chain."""
    on = on_front(curve, middles(pieces_of(ring)), setback) & on_front(curve, ring.starts, setback)
    n = len(ring)
    first = int(np.flatnonzero(on & ~np.roll(on, 1))[0])
    rows = [ring.rows[(first + k) % n] for k in range(int(on.sum()))]
    last = ring.ends[(first + len(rows) - 1) % n]
    return np.array([*rows, [*last, 0.0]])


def _bridge(tab: Tab, layout: SheetLayout) -> Ring:
    """A tab as a rectangle in the frame of the origin corner."""
    corners = tab_corners(tab) - np.array(layout.origin_mm)
    return Ring(np.column_stack([corners, np.zeros(len(corners))]))


class _Spot:
    """Takes shapes of the left scale to where a placement stands, mirrored for the right."""

    def __init__(self, placement: Placement, layout: SheetLayout) -> None:
        self._placement = placement
        self._layout = layout
        self._mirror = placement.side == "right"

    def points(self, points_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the left scale on the sheet."""
        own = points_mm * np.array([1.0, -1.0]) if self._mirror else points_mm
        placed: FloatArray = self._placement.place(own) - np.array(self._layout.origin_mm)
        return placed

    def ring(self, ring: Ring) -> Ring:
        """A ring of the left scale on the sheet."""
        own = mirrored_ring(ring) if self._mirror else ring
        placed = self._placement.place(own.starts) - np.array(self._layout.origin_mm)
        return Ring(np.column_stack([placed, own.bulges]))

    def chain(self, rows: FloatArray) -> FloatArray:
        """An open chain of the left scale on the sheet."""
        turn = -1.0 if self._mirror else 1.0
        return np.column_stack([self.points(rows[:, :2]), turn * rows[:, 2]])


def _label(placement: Placement, scale: Scale, spot: _Spot) -> TextShape:
    """The part's label: upright, in the longest stretch of the handle without a hole, half way up there."""
    x0, _, x1, _ = scale.finished.bounds_mm
    holes = sorted(
        (hole.at_mm[0] - hole.hole_mm / 2, hole.at_mm[0] + hole.hole_mm / 2) for hole in scale.holes
    )
    stops = np.array([x0, *(x for ends in holes for x in ends), x1])
    free = np.diff(stops)[::2]
    first = 2 * int(np.argmax(free))
    middle = float(stops[first] + stops[first + 1]) / 2
    low, high = _across(scale.finished, middle)
    x, y = spot.points(np.array([[middle, (low + high) / 2]]))[0]
    # Letters are taken to be as wide as they are high, which is more than they are.
    room = min((high - low) / 3, float(free.max()) / (len(placement.label) + 1))
    height = max(_LEAST_LABEL_MM, min(_LABEL_MM, room))
    wide = 0.4 * height * len(placement.label)
    return TextShape(text=placement.label, at_mm=(float(x) - wide, float(y) - height / 2), height_mm=height)


def _across(ring: Ring, x_mm: float) -> tuple[float, float]:
    """The widest stretch of a ring's inside straight across at x: its lower and upper y."""
    points = ring.flatten(0.05)
    after = np.roll(points, -1, axis=0)
    over = (points[:, 0] > x_mm) != (after[:, 0] > x_mm)
    a, b = points[over], after[over]
    ys = np.sort(a[:, 1] + (x_mm - a[:, 0]) / (b[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1]))
    widest = 2 * int(np.argmax(np.diff(ys)[::2]))
    return float(ys[widest]), float(ys[widest + 1])
