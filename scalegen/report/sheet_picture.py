"""A picture of one sheet as it will be cut: scales with labels and front ends, pad, ring, margin, grain."""

import math
import textwrap
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from importlib.util import find_spec

import numpy as np
import shapely
from shapely.ops import polylabel

from scalegen.design import Scale
from scalegen.export.drawings import footprints
from scalegen.fields.words import printable
from scalegen.machining.tabs import Tab, tab_corners
from scalegen.outline.measure import centroid_mm
from scalegen.outline.ring import FloatArray, Ring
from scalegen.report.picture_marks import LINE_MM, TEXT_MM, Entry, legend, scale_bar
from scalegen.report.picture_png import picture_png
from scalegen.report.picture_shapes import (
    BLACK,
    GREY,
    PALE,
    WHITE,
    Curve,
    Disc,
    Label,
    Pen,
    Picture,
    Shape,
    cut_text,
    text_width_mm,
)
from scalegen.report.picture_svg import picture_svg
from scalegen.report.picture_view import MARGIN_MM, PAGE_MM, View, scale_text, view_of
from scalegen.report.scale_picture_profile import Sizes
from scalegen.report.views import sizes_in
from scalegen.sheet.layout import PadBox, Placement, SheetLayout, Zone

_WIDE_MM = PAGE_MM - 2 * MARGIN_MM
_TITLE_MM = 6.0
_BAR_MM = 60.0
_FLAT_MM = 0.02
_LABEL_MM, _SMALL_MM = 6.0, 2.2
_GRAIN_MM, _GRAIN_RISE_MM, _TIP_MM = 34.0, 5.0, 2.4
_HATCH_MM = 2.2
_ARM_MM = 4.0
_PIXELS = 1400
_PAD_FILL = "#c4c4c4"
_BLANK = Pen(width_mm=0.5)
_PART = Pen(width_mm=0.45)
_SPACING = Pen(color=GREY, width_mm=0.18)
_MARGIN = Pen(color=GREY, width_mm=0.25, dash_mm=(3.0, 1.5))
_LEFT = Pen(color=GREY, width_mm=0.35, dash_mm=(6.0, 1.0))
_FLAW = Pen(width_mm=0.25)
_TAB, _TAB_FILL = Pen(width_mm=0.3), "#5a5a5a"
_TAB_LINE = Pen(color=_TAB_FILL, width_mm=2.2)
_RING = Pen(width_mm=0.3, dash_mm=(0.8, 0.8))


def draw_sheet(
    scale: Scale, layout: SheetLayout, tabs: Sequence[Tab] = (), others: Sequence[Scale] = ()
) -> Picture:
    """Draw one sheet seen from above, its faces up.

    Args:
        scale: What lies on it.
        layout: Where.
        tabs: Bridges that hold the scales, in the sheet frame.
        others: Scales of further patterns on the same sheet.

    Returns:
        A page 280 mm wide that can be read without colour.
    """
    sizes = sizes_in(scale.pattern.units)
    header, top = _header((scale, *others), layout, sizes)
    view = view_of([(0.0, 0.0, layout.length_mm, layout.width_mm)], [], top)
    further = {each.pattern.name: footprints(each) for each in others}
    first = footprints(scale)
    laid = [(place, further.get(place.pattern, first)[place.side]) for place in layout.placements]
    parts = [shape for place, ring in laid for shape in _part(place, ring, view, named=bool(others))]
    halos = [_halo(place, ring, layout.spacing_mm / 2, view) for place, ring in laid]
    bridges = [_bridge(tab, view) for tab in tabs]
    footer, height = _footer(layout, view, sizes, tabs)
    bottom = view.window_mm[3]
    return Picture(
        width_mm=PAGE_MM,
        height_mm=height,
        window_mm=view.window_mm,
        drawn=(
            *_ground(layout, view),
            *_left_over(layout, view),
            *halos,
            *bridges,
            *parts,
            *_zero(layout, view),
        ),
        over=(
            *header,
            *scale_bar(view.scale, MARGIN_MM, bottom + 6.0, _BAR_MM, scale.pattern.units),
            *_grain(bottom + 6.0, layout.grain_rad),
            *footer,
        ),
    )


def _header(scales: Sequence[Scale], layout: SheetLayout, sizes: Sizes) -> tuple[list[Shape], float]:
    """Title, sizes and count; and where the window begins."""
    titles = " and ".join(scale.pattern.title for scale in scales)
    title = cut_text(printable(f"{titles}: {layout.name}{_from(layout)}"), _TITLE_MM, _WIDE_MM)
    count = sum(place.side == "left" for place in layout.placements)
    said = "" if layout.outline is None else "outline within "
    said += f"{sizes(layout.length_mm, 1)} x {sizes(layout.width_mm, 1)}, {count} pair{'s' * (count != 1)}"
    if len(scales) > 1:
        lefts = Counter(place.pattern for place in layout.placements if place.side == "left")
        said += f" ({', '.join(f'{many} {name}' for name, many in lefts.items())})"
    elif layout.claim is not None:
        said += f"; no more than {layout.claim.bound_pairs} can go"
    said += f"; X0 Y0 in the {layout.origin.replace('-', ' ')} corner; seen from above, faces up"
    y = MARGIN_MM + 4.0
    text = cut_text(printable(said), TEXT_MM, _WIDE_MM)
    shapes: list[Shape] = [
        Label(at_mm=(MARGIN_MM, y), text=title, size_mm=_TITLE_MM, bold=True),
        Label(at_mm=(MARGIN_MM, y + 1.5 + LINE_MM), text=text, size_mm=TEXT_MM),
    ]
    return shapes, y + LINE_MM + 3.0


def _from(layout: SheetLayout) -> str:
    """Which remnant it is, so that the right piece is fetched."""
    return "" if layout.remnant is None else f", remnant {layout.remnant}"


# ------------------------------------------------------------------------------------------- drawing


def _ground(layout: SheetLayout, view: View) -> list[Shape]:
    """Blank, margin, holes and flaws, and the pads with their rings."""
    margin = [_curve(rows, view, _MARGIN) for rows in _margin_lines(layout)]
    zones = [shape for zone in layout.zones for shape in _zone(zone, view)]
    pads = [shape for number, pad in enumerate(layout.pads, 1) for shape in _pad(layout, pad, number, view)]
    return [_curve(layout.edge.rows, view, _BLANK, WHITE), *margin, *zones, *pads]


def _margin_lines(layout: SheetLayout) -> list[FloatArray]:
    """Lines the margin inside the edge of the blank and outside its holes, as rows x, y, bulge."""
    margin = layout.margin_mm
    if layout.outline is None and not layout.holes:
        return [_box(margin, margin, layout.length_mm - margin, layout.width_mm - margin)]
    left = shapely.Polygon(layout.edge.flatten(_FLAT_MM)).buffer(-margin)
    holes = [shapely.Polygon(hole.flatten(_FLAT_MM)).buffer(margin) for hole in layout.holes]
    left = left.difference(shapely.union_all(holes))
    lines = [ring for part in shapely.get_parts(left) for ring in (part.exterior, *part.interiors)]
    chains = [shapely.get_coordinates(line.simplify(_FLAT_MM))[:-1] for line in lines]
    return [np.column_stack([points, np.zeros(len(points))]) for points in chains if len(points) > 2]


def _zone(zone: Zone, view: View) -> list[Shape]:
    """A hole as an edge of the blank, or a flaw hatched."""
    if zone.kind == "hole":
        return [_curve(zone.ring.rows, view, _BLANK, WHITE)]
    shape = shapely.Polygon(zone.ring.flatten(_FLAT_MM))
    x0, y0, x1, y1 = shape.bounds
    step, high = _HATCH_MM / view.scale, y1 - y0
    starts = np.arange(x0 - high + step / 2, x1, step)
    lines = shapely.linestrings([[(x, y0), (x + high, y1)] for x in starts.tolist()])
    cut = [part for part in shapely.get_parts(shapely.intersection(lines, shape)) if part.length > 0]
    hatch: list[Shape] = [
        Curve(
            rows=view.rows(np.column_stack([shapely.get_coordinates(part), np.zeros(2)])),
            closed=False,
            pen=_FLAW,
        )
        for part in cut
    ]
    return [_curve(zone.ring.rows, view, _FLAW, WHITE), *hatch]


def _pad(layout: SheetLayout, pad: PadBox, number: int, view: View) -> list[Shape]:
    """One pad with its ring, and what it is called."""
    box = (pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm)
    name = "pad" if number == 1 else f"pad {number}"
    x, y = view.spot((pad.x_mm + pad.w_mm / 2, pad.y_mm + pad.h_mm / 2))
    size = _fitting(name, pad.w_mm * view.scale)
    return [
        _curve(_ring(box, layout.keep_clear_mm), view, _RING),
        _curve(_box(*box), view, _PART, _PAD_FILL),
        Label(at_mm=(x, y + 0.36 * size), text=name, size_mm=size, anchor="middle", bold=True),
    ]


def _left_over(layout: SheetLayout, view: View) -> Iterator[Shape]:
    """Pieces left over that are worth keeping, and their numbers."""
    for number, piece in enumerate(layout.left_over, start=1):
        for rows in (piece.outline, *piece.zones):
            yield _curve(np.array(rows), view, _LEFT)
        outline, *zones = (Ring.from_rows(rows).flatten(_FLAT_MM) for rows in (piece.outline, *piece.zones))
        middle = shapely.get_coordinates(polylabel(shapely.Polygon(outline, zones), 1.0))[0]
        at = view.spot(middle.tolist())
        yield Label(at_mm=at, text=f"left over {number}", size_mm=TEXT_MM, color=GREY, anchor="middle")


def _zero(layout: SheetLayout, view: View) -> list[Shape]:
    """A cross in a ring on the corner that is X0 Y0, named outside the blank."""
    x, y = view.spot(layout.origin_mm)
    pen = Pen(width_mm=0.4)
    arms = [[(x - _ARM_MM, y), (x + _ARM_MM, y)], [(x, y - _ARM_MM), (x, y + _ARM_MM)]]
    lines: list[Shape] = [
        Curve(rows=np.array([(u, v, 0.0) for u, v in arm]), closed=False, pen=pen) for arm in arms
    ]
    below = y + _ARM_MM + TEXT_MM if layout.origin.startswith("lower") else y - _ARM_MM - 1.0
    name = Label(at_mm=(x, below), text="X0 Y0", size_mm=TEXT_MM, anchor="middle")
    return [*lines, Disc(at_mm=(x, y), radius_mm=0.5 * _ARM_MM, pen=pen), name]


def _part(place: Placement, ring: Ring, view: View, *, named: bool = False) -> list[Shape]:
    """One scale: left ones tinted, right ones white, a wedge at the front, the label in the middle."""
    fill = {"left": PALE, "right": WHITE}[place.side]
    shapes: list[Shape] = [_curve(_placed(place, ring.rows), view, _PART, fill)]
    wedge = np.column_stack([place.place(_wedge(ring)), np.zeros(3)])
    shapes.append(Curve(rows=view.rows(wedge), closed=True, pen=None, fill=BLACK))
    x, y = view.spot(place.place(np.array([centroid_mm(ring)]))[0].tolist())
    low, high = ring.bounds_mm[1], ring.bounds_mm[3]
    size = _fitting(place.label, 0.8 * (high - low) * view.scale)
    label = Label(at_mm=(x, y + 0.36 * size), text=place.label, size_mm=size, anchor="middle", bold=True)
    if not named:
        return [*shapes, label]
    beside = (x + 0.75 * size * len(place.label), y + 0.36 * _SMALL_MM)
    return [*shapes, label, Label(at_mm=beside, text=place.pattern, size_mm=_SMALL_MM)]


def _wedge(ring: Ring) -> FloatArray:
    """A wedge inside a scale that points to its front end: (3, 2) in the scale's own frame."""
    x0, _, x1, _ = ring.bounds_mm
    long = 0.07 * (x1 - x0)
    shape = shapely.Polygon(ring.flatten(_FLAT_MM))
    column = shapely.LineString([(x0 + 1.6 * long, -1e4), (x0 + 1.6 * long, 1e4)]).intersection(shape)
    low, high = column.bounds[1], column.bounds[3]
    middle, half = (low + high) / 2, min(0.3 * (high - low), 0.35 * long)
    tip = x0 + 0.6 * long
    return np.array([(tip, middle), (tip + long, middle - half), (tip + long, middle + half)])


def _halo(place: Placement, ring: Ring, reach_mm: float, view: View) -> Shape:
    """A line half the spacing outside a scale: where two of these touch, parts are the spacing apart."""
    grown = shapely.Polygon(place.place(ring.flatten(_FLAT_MM))).buffer(reach_mm)
    points = shapely.get_coordinates(shapely.Polygon(grown.exterior).simplify(_FLAT_MM).exterior)[:-1]
    return _curve(np.column_stack([points, np.zeros(len(points))]), view, _SPACING)


def _bridge(tab: Tab, view: View) -> Shape:
    """A tab, from the outline to where it ends in what stays."""
    corners = tab_corners(tab)
    return _curve(np.column_stack([corners, np.zeros(len(corners))]), view, _TAB, _TAB_FILL)


def _placed(place: Placement, rows: FloatArray) -> FloatArray:
    """Rows x, y, bulge on the sheet; turning and moving leave bulges as they are."""
    return np.column_stack([place.place(rows[:, :2]), rows[:, 2]])


def _curve(rows: FloatArray, view: View, pen: Pen | None, fill: str = "") -> Shape:
    return Curve(rows=view.rows(rows), closed=True, pen=pen, fill=fill)


def _box(x0: float, y0: float, x1: float, y1: float) -> FloatArray:
    """A rectangle as rows x, y, bulge."""
    return np.array([(x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0)])


def _ring(box: tuple[float, float, float, float], reach_mm: float) -> FloatArray:
    """A box grown by a distance, its corners quarter circles."""
    x0, y0, x1, y1 = box
    r, quarter = reach_mm, math.tan(math.pi / 8)
    return np.array(
        [
            *((x0, y0 - r, 0.0), (x1, y0 - r, quarter), (x1 + r, y0, 0.0), (x1 + r, y1, quarter)),
            *((x1, y1 + r, 0.0), (x0, y1 + r, quarter), (x0 - r, y1, 0.0), (x0 - r, y0, quarter)),
        ]
    )


def _fitting(text: str, wide_mm: float) -> float:
    """The size at which a text goes into a width, within limits."""
    return min(_LABEL_MM, max(_SMALL_MM, wide_mm / text_width_mm(text, 1.0)))


# -------------------------------------------------------------------------------------------- around


def _grain(y: float, grain_rad: float) -> list[Shape]:
    """A double arrow along the grain."""
    # The page counts y downwards.
    c, s = math.cos(grain_rad), -math.sin(grain_rad)
    half = min(_GRAIN_MM / 2, _GRAIN_RISE_MM / max(abs(s), 1e-9))
    pen, x = Pen(width_mm=0.45), PAGE_MM - MARGIN_MM - half * abs(c)
    back = half - _TIP_MM
    chains = [[(-half, 0.0), (half, 0.0)]]
    chains += [[(way * back, -1.2), (way * half, 0.0), (way * back, 1.2)] for way in (-1, 1)]
    lines: list[Shape] = [
        Curve(
            rows=np.array([(x + c * u - s * v, y + s * u + c * v, 0.0) for u, v in chain]),
            closed=False,
            pen=pen,
        )
        for chain in chains
    ]
    turned = f" {math.degrees(grain_rad):g} deg" if grain_rad else ""
    at = (x - half * abs(c) - 2.0, y + 1.2)
    return [*lines, Label(at_mm=at, text=f"grain{turned}", size_mm=TEXT_MM, anchor="end")]


def _footer(layout: SheetLayout, view: View, sizes: Sizes, tabs: Sequence[Tab]) -> tuple[list[Shape], float]:
    """What lines mean, with their sizes; and the height of the page."""
    spacing, ring, margin = (
        sizes(each, 3) for each in (layout.spacing_mm, layout.keep_clear_mm, layout.margin_mm)
    )
    entries = [
        Entry(sample=_PART, text="outline as cut, and pad"),
        Entry(sample=_SPACING, text=f"half the spacing of {spacing} outside a scale"),
        Entry(sample=_MARGIN, text=f"margin of {margin}"),
        Entry(sample=_RING, text=f"ring of {ring} about the pad, for no scale"),
    ]
    if layout.left_over:
        entries.append(Entry(sample=_LEFT, text="piece left over, worth keeping"))
    if any(zone.kind == "flaw" for zone in layout.zones):
        entries.append(Entry(sample=_FLAW, text="hatched: kept out"))
    if tabs:
        size = f"{sizes(tabs[0].width_mm, 3)} wide, {sizes(tabs[0].height_mm, 3)} high"
        entries.append(Entry(sample=_TAB_LINE, text=f"tab, {size}: cut by hand"))
    bottom = view.window_mm[3]
    samples, high = legend(entries, MARGIN_MM, bottom + 10.0, _WIDE_MM)
    y = bottom + 10.0 + high
    shapes: list[Shape] = []
    for line in _wrapped(_remarks(layout, view, sizes)):
        y += LINE_MM - 0.8
        shapes.append(Label(at_mm=(MARGIN_MM, y), text=line, size_mm=TEXT_MM, color=GREY))
    return [*samples, *shapes], y + 5.0


def _remarks(layout: SheetLayout, view: View, sizes: Sizes) -> str:
    """What else there is to know."""
    said = ["L left (tinted), R right; a black wedge points to the front end"]
    for number, pad in enumerate(layout.pads, 1):
        x, y = layout.to_origin_frame(pad.x_mm, pad.y_mm)
        name = "pad" if number == 1 else f"pad {number}"
        size = f"{sizes(pad.w_mm, 2)} x {sizes(pad.h_mm, 2)}"
        said.append(f"{name} {size} from X {sizes(x, 2)}, Y {sizes(y, 2)}")
    return "; ".join([f"{scale_text(view.scale)} on a page {PAGE_MM:g} mm wide", *said])


def _wrapped(text: str) -> Sequence[str]:
    most = int((_WIDE_MM - 4.0) / text_width_mm("x", TEXT_MM))
    return textwrap.wrap(printable(text), most)


def sheet_pictures(
    scale: Scale,
    layouts: Sequence[SheetLayout],
    tabs: Mapping[str, Sequence[Tab]] | None = None,
    others: Sequence[Scale] = (),
) -> Iterator[tuple[str, bytes]]:
    """Every sheet's picture as files.

    Args:
        scale: What lies on the sheets.
        layouts: The sheets.
        tabs: Bridges that hold the scales, by the sheets' names.
        others: Scales of further patterns on the same sheets.

    Yields:
        Name and content: "sheet-1.svg", and "sheet-1.png" where Pillow is installed.
    """
    pixels = find_spec("PIL") is not None
    for layout in layouts:
        picture = draw_sheet(scale, layout, (tabs or {}).get(layout.name, ()), others)
        yield f"{layout.name}.svg", picture_svg(picture).encode()
        if pixels:
            yield f"{layout.name}.png", picture_png(picture, _PIXELS)
