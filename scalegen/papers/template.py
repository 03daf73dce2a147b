"""The template: every left scale at full size, to lay a tang on, with bars that show whether a print is true.

As SVG it is one sheet with true arcs. As PDF it is cut up into pages where it is larger than one; neighbours
overlap and share register marks, and arcs are Bézier curves within 0.01 mm (see ``papers.bezier``).
"""

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from scalegen.design import Scale
from scalegen.fields.words import printable
from scalegen.model.words import Paper, Units
from scalegen.papers.document import PAPER_MM
from scalegen.papers.pdf_shapes import PT_PER_MM, draw_picture, load_fonts, shown
from scalegen.papers.template_shapes import Box, Frame, entries, line, scale_box, scale_shapes
from scalegen.papers.words import bare
from scalegen.report.picture_marks import legend
from scalegen.report.picture_shapes import Curve, Disc, Label, Pen, Picture, Shape, Spot, cut_text
from scalegen.report.picture_svg import picture_svg

OVERLAP_MM = 15.0
BARS_MM = (("100 mm", 100.0), ("4 in", 101.6))
"""Bars to check a print by, and how long they are. 1 in = 25.4 mm exactly (NBS Circular 572, addendum)."""

_RIM_MM = 10.0
_TITLE_MM, _TEXT_MM = 6.0, 3.8
_HEAD_MM, _FOOT_MM = 46.0, 8.0
_GAP_MM = 14.0
_BAR, _MARK, _EDGE = Pen(width_mm=0.3), Pen(width_mm=0.2), Pen(width_mm=0.15, dash_mm=(1.0, 2.0))
_TICK_MM, _MARK_MM, _CLEAR_MM = 2.5, 5.0, 50.0
_PRINT = "Print at 100 % (actual size), no fit to page. Measure the bars before you trust the print."


@dataclass(frozen=True, kw_only=True)
class Tile:
    """One page of a template: which box of the scale it shows, and its row and column, from 1."""

    box: Box
    row: int
    column: int


# ------------------------------------------------------------------------------------------------- SVG


def template_svg(scales: Sequence[Scale], units: Units) -> str:
    """All scales of a job on one sheet as SVG, in mm.

    Args:
        scales: One for each pattern.
        units: Unit of what is written.
    """
    boxes = [scale_box(scale) for scale in scales]
    wide = max(200.0, *(box[2] - box[0] for box in boxes)) + 2 * _RIM_MM
    drawn: list[Shape] = []
    top = _RIM_MM
    for scale, (x0, y0, _, y1) in zip(scales, boxes, strict=True):
        drawn += _head(scale, top, wide)
        top += _HEAD_MM
        drawn += scale_shapes(scale, Frame(zero_mm=(_RIM_MM - x0, top + y1)))
        top += y1 - y0
        drawn.append(_pin_words(scale, units, top + 4.0, wide))
        top += _FOOT_MM + _GAP_MM
    high = top - _GAP_MM + _RIM_MM
    window = (0.0, 0.0, wide, high)
    return picture_svg(Picture(width_mm=wide, height_mm=high, window_mm=window, drawn=tuple(drawn), over=()))


# ------------------------------------------------------------------------------------------------- PDF


def template_pdf(scales: Sequence[Scale], units: Units, paper: Paper) -> bytes:
    """All scales of a job as PDF, lying across the page, on as many pages as they need.

    Args:
        scales: One for each pattern.
        units: Unit of what is written.
        paper: Size of the pages.
    """
    load_fonts()
    high, wide = PAPER_MM[paper]
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(wide * PT_PER_MM, high * PT_PER_MM), invariant=1)
    canvas.setTitle(shown(f"{' + '.join(scale.pattern.title for scale in scales)}: template"))
    canvas.setAuthor("scalegen")
    canvas.setViewerPreference("PrintScaling", "None")
    for scale in scales:
        for picture in template_pages(scale, units, (wide, high)):
            draw_picture(canvas, picture, 0.0, 0.0)
            canvas.showPage()
    canvas.save()
    return file.getvalue()


def template_pages(scale: Scale, units: Units, page_mm: tuple[float, float]) -> Iterator[Picture]:
    """The pages of one scale's template.

    Args:
        scale: What to draw.
        units: Unit of what is written.
        page_mm: Width and height of a page.
    """
    wide, high = page_mm
    room = (wide - 2 * _RIM_MM, high - 2 * _RIM_MM - _HEAD_MM - _FOOT_MM)
    tiles = tiles_of(scale_box(scale), room)
    for number in range(1, len(tiles) + 1):
        yield _page(scale, units, page_mm, tiles, number)


def tiles_of(box: Box, room_mm: tuple[float, float]) -> list[Tile]:
    """Cut a box up into pages, row by row from its upper left corner.

    Args:
        box: Left, lower, right and upper side.
        room_mm: Width and height that a page has for it.

    Returns:
        One tile where all goes on a page. Else tiles as large as the room, neighbours overlapping by
        :data:`OVERLAP_MM`.
    """
    x0, y0, x1, y1 = box
    columns, rows = (
        max(1, math.ceil((size - OVERLAP_MM) / (room - OVERLAP_MM) - 1e-9))
        for size, room in zip((x1 - x0, y1 - y0), room_mm, strict=True)
    )
    step_x, step_y = room_mm[0] - OVERLAP_MM, room_mm[1] - OVERLAP_MM
    return [
        Tile(
            box=(
                x0 + column * step_x,
                y1 - row * step_y - room_mm[1] if rows > 1 else y0,
                x0 + column * step_x + room_mm[0] if columns > 1 else x1,
                y1 - row * step_y,
            ),
            row=row + 1,
            column=column + 1,
        )
        for row in range(rows)
        for column in range(columns)
    ]


def _marks(tiles: Sequence[Tile]) -> list[tuple[str, Spot]]:
    """Named places in the middle of every overlap, two for each pair of neighbours."""
    by_place = {(tile.row, tile.column): tile for tile in tiles}
    found: list[Spot] = []
    for (row, column), tile in by_place.items():
        x0, y0, x1, y1 = tile.box
        if (row, column + 1) in by_place:
            found += [(x1 - OVERLAP_MM / 2, y0 + share * (y1 - y0)) for share in (0.25, 0.75)]
        if (row + 1, column) in by_place:
            found += [(x0 + share * (x1 - x0), y0 + OVERLAP_MM / 2) for share in (0.25, 0.75)]
    return [(f"M{number}", spot) for number, spot in enumerate(found, 1)]


def _page(
    scale: Scale, units: Units, page_mm: tuple[float, float], tiles: Sequence[Tile], number: int
) -> Picture:
    """One page: head, the part of the drawing that its tile holds, register marks, and which page it is."""
    tile, pages = tiles[number - 1], len(tiles)
    wide, high = page_mm
    x0, y0, x1, y1 = tile.box
    top = _RIM_MM + _HEAD_MM
    frame = Frame(zero_mm=(_RIM_MM - x0, top + y1))
    window = (_RIM_MM, top, _RIM_MM + x1 - x0, top + y1 - y0)
    drawn = scale_shapes(scale, frame)
    over = [*_head(scale, _RIM_MM, wide), _pin_words(scale, units, high - _RIM_MM, wide - 60.0)]
    if not any(
        isinstance(each, Curve) and each.rows[:, 0].max() > wide - _RIM_MM - _CLEAR_MM for each in drawn
    ):
        over += _upright_bar((wide - _RIM_MM, top + 2.0))
    said = f"page {number} of {pages}"
    if pages > 1:
        said += f", row {tile.row}, column {tile.column}"
        left, upper, right, lower = window
        corners = [(left, upper), (right, upper), (right, lower), (left, lower), (left, upper)]
        over.append(line(corners, _EDGE))
        for name, spot in _marks(tiles):
            if x0 <= spot[0] <= x1 and y0 <= spot[1] <= y1:
                over += _mark(name, frame.spot(spot))
    over.append(Label(at_mm=(wide - _RIM_MM, high - _RIM_MM), text=said, size_mm=_TEXT_MM, anchor="end"))
    return Picture(width_mm=wide, height_mm=high, window_mm=window, drawn=tuple(drawn), over=tuple(over))


def _mark(name: str, at: Spot) -> list[Shape]:
    """A register mark: a cross in a ring, the same on both pages that show it."""
    x, y = at
    arms = [[(x - _MARK_MM, y), (x + _MARK_MM, y)], [(x, y - _MARK_MM), (x, y + _MARK_MM)]]
    return [
        *(line(arm, _MARK) for arm in arms),
        Disc(at_mm=at, radius_mm=0.5 * _MARK_MM, pen=_MARK),
        Label(at_mm=(x + 1.0, y - 3.4), text=name, size_mm=_TEXT_MM),
    ]


# ---------------------------------------------------------------------------------------- head and foot


def _head(scale: Scale, top: float, wide: float) -> list[Shape]:
    """What it is, which side, how to print it, the bars and what the lines mean."""
    x, room = _RIM_MM, wide - 2 * _RIM_MM
    title = cut_text(printable(scale.pattern.title), _TITLE_MM, room)
    side = "Left scale, seen from its face: blade to the left, spine up. Right scale: the print from behind."
    shapes: list[Shape] = [Label(at_mm=(x, top + 5.0), text=title, size_mm=_TITLE_MM, bold=True)]
    for row, text in enumerate((side, _PRINT)):
        at = (x, top + 11.5 + 5.5 * row)
        shapes.append(Label(at_mm=at, text=cut_text(text, _TEXT_MM, room * 1.1), size_mm=_TEXT_MM))
    for row, (name, length) in enumerate(BARS_MM):
        shapes += _bar(name, length, (x, top + 27.0 + 10.0 * row))
    samples, _ = legend(entries(scale), x + 112.0, top + 21.0, room - 112.0)
    return [*shapes, *samples]


def _bar(name: str, length_mm: float, at: Spot) -> list[Shape]:
    """A line of an exact length with upright ends, its length written over it."""
    x, y = at
    ends = [[(x + off, y - _TICK_MM), (x + off, y + _TICK_MM / 2)] for off in (0.0, length_mm)]
    return [
        line([(x, y), (x + length_mm, y)], _BAR),
        *(line(end, _BAR) for end in ends),
        Label(at_mm=(x + 3.0, y - 1.2), text=f"this bar is {name} long", size_mm=_TEXT_MM),
    ]


def _upright_bar(top: Spot) -> list[Shape]:
    """A bar down the page: a printer may be true across and not along."""
    (name, length), (x, y) = BARS_MM[0], top
    ends = [[(x - _TICK_MM, y + off), (x + _TICK_MM / 2, y + off)] for off in (0.0, length)]
    return [
        line([(x, y), (x, y + length)], _BAR),
        *(line(end, _BAR) for end in ends),
        Label(
            at_mm=(x - 2.0, y + length / 2), text=f"this bar is {name} long", size_mm=_TEXT_MM, anchor="end"
        ),
    ]


def _pin_words(scale: Scale, units: Units, y: float, wide: float) -> Label:
    """What the numbers at the holes stand for."""
    words = [
        f"{number}: {hole.hardware.name}, hole {bare(hole.hole_mm, units)}"
        for number, hole in enumerate(scale.holes, 1)
    ]
    text = f"Pins ({units}): {'; '.join(words)}" if words else "No pins"
    return Label(
        at_mm=(_RIM_MM, y), text=cut_text(printable(text), _TEXT_MM, wide - 2 * _RIM_MM), size_mm=_TEXT_MM
    )
