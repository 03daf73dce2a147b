"""A paper as PDF: one file, its fonts embedded, the same bytes for the same paper."""

import io
from collections.abc import Iterator
from functools import singledispatch
from html import escape
from typing import Any

from reportlab.lib.colors import black, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    KeepTogether,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
)

from scalegen.papers import document as doc
from scalegen.papers.pdf_shapes import BOLD, PT_PER_MM, REGULAR, draw_picture, load_fonts, shown

MARGIN_MM = 13.0
_FOOT_MM = 7.0
_PAD_PT, _LINE_PT = 3.0, 0.6
_WITH_HEADING_MM = 34.0
_BOX_MM, _WRITE_MM = 4.6, 8.2
_GUTTER_PT = 8.0
_BIG_PT, _LEAST_BIG_PT = 22.0, 12.0
_SHADE = "#e8e8e8"


def document_pdf(paper: doc.Document) -> bytes:
    """Write a paper as PDF.

    Args:
        paper: What it says.

    Returns:
        The file. It is laid out twice: the first time tells how many pages there are.
    """
    load_fonts()
    _, pages = _built(paper, None)
    return _built(paper, pages)[0]


def _built(paper: doc.Document, pages: int | None) -> tuple[bytes, int]:
    """The file, and its number of pages."""
    wide, high = doc.PAPER_MM[paper.paper]
    file, drawn = io.BytesIO(), [0]

    def foot(canvas: Canvas, _: SimpleDocTemplate) -> None:
        drawn[0] = canvas.getPageNumber()
        canvas.setFont(REGULAR, 9)
        y = _FOOT_MM * PT_PER_MM
        canvas.drawString(MARGIN_MM * PT_PER_MM, y, shown(paper.foot))
        number = f"page {drawn[0]}" + (f" of {pages}" if pages else "")
        canvas.drawRightString((wide - MARGIN_MM) * PT_PER_MM, y, number)

    # The library keeps 6 points inside its frame.
    margins = {f"{side}Margin": MARGIN_MM * PT_PER_MM - 6 for side in ("left", "right", "top")}
    template = SimpleDocTemplate(
        file,
        pagesize=(wide * PT_PER_MM, high * PT_PER_MM),
        **margins,
        bottomMargin=MARGIN_MM * PT_PER_MM - 6,
        title=shown(f"{paper.title}: {paper.kind}"),
        author="scalegen",
        invariant=1,
    )
    room = (wide - 2 * MARGIN_MM) * PT_PER_MM
    parts: list[Flowable] = [*_title(paper, room)]
    for block in paper.blocks:
        parts += _flow(block, room)
    template.build(parts, onFirstPage=foot, onLaterPages=foot)
    return file.getvalue(), drawn[0]


def _style(size: float, *, bold: bool = False, after: float = 3.0, right: bool = False) -> ParagraphStyle:
    name = f"{size}{bold}{after}{right}"
    return ParagraphStyle(
        name,
        fontName=BOLD if bold else REGULAR,
        fontSize=size,
        leading=round(size * 1.24, 2),
        spaceAfter=after,
        alignment=2 if right else 0,
    )


_BODY = 10.5


def _text(text: str, size: float = _BODY, *, bold: bool = False, after: float = 3.0) -> Paragraph:
    return Paragraph(escape(shown(text), quote=False), _style(size, bold=bold, after=after))


def _title(paper: doc.Document, room: float) -> Iterator[Flowable]:
    cells = [[_text(paper.title, 20, bold=True, after=0), _right(paper.kind, 14)]]
    yield _table(cells, [0.72 * room, 0.28 * room], [("LINEBELOW", (0, 0), (-1, -1), 1.4, black)])
    yield Spacer(1, 5)


def _right(text: str, size: float = _BODY, *, bold: bool = False) -> Paragraph:
    return Paragraph(escape(shown(text), quote=False), _style(size, bold=bold, after=0, right=True))


def _table(cells: list[list[Any]], wide: list[float], style: list[tuple[Any, ...]], **more: object) -> Table:
    plain = [
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), _PAD_PT),
        ("RIGHTPADDING", (0, 0), (-1, -1), _PAD_PT),
        ("TOPPADDING", (0, 0), (-1, -1), _PAD_PT - 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), _PAD_PT),
    ]
    return Table(cells, colWidths=wide, style=[*plain, *style], hAlign="LEFT", **more)


class _Box(Flowable):  # type: ignore[misc] # the library has no types
    """An empty square to tick."""

    def wrap(self, *_: float) -> tuple[float, float]:
        return _BOX_MM * PT_PER_MM, _BOX_MM * PT_PER_MM

    def draw(self) -> None:
        self.canv.setLineWidth(1.1)
        self.canv.rect(0, 0, _BOX_MM * PT_PER_MM, _BOX_MM * PT_PER_MM)


class _Drawn(Flowable):  # type: ignore[misc] # as above
    """A picture at its size."""

    def __init__(self, drawing: doc.Drawing) -> None:
        super().__init__()
        self._picture = drawing.picture

    def wrap(self, *_: float) -> tuple[float, float]:
        return self._picture.width_mm * PT_PER_MM, self._picture.height_mm * PT_PER_MM

    def draw(self) -> None:
        draw_picture(self.canv, self._picture, 0.0, 0.0)


@singledispatch
def _flow(block: doc.Block, _room: float) -> list[Flowable]:
    raise TypeError(block)


@_flow.register
def _(block: doc.Heading, _room: float) -> list[Flowable]:
    big = block.level == 1
    text = _text(block.text, 16 if big else 12.5, bold=True, after=4 if big else 2)
    # A heading stays with some of what follows, and a long table under it may go on overleaf.
    # One that opens a part stays with the heading of its first section too.
    room = (1.5 if big else 1.0) * _WITH_HEADING_MM * PT_PER_MM
    return [CondPageBreak(room), Spacer(1, 3 if big else 5), text]


@_flow.register
def _(block: doc.Text, _room: float) -> list[Flowable]:
    return [_text(block.text, bold=block.strong)]


@_flow.register
def _(block: doc.Numbers, room: float) -> list[Flowable]:
    wide = room / len(block.numbers)
    longest = max(pdfmetrics.stringWidth(shown(each.value), BOLD, 1.0) for each in block.numbers)
    size = max(_LEAST_BIG_PT, min(_BIG_PT, (wide - 2 * _PAD_PT - 1) / longest))
    cells = [
        [_text(each.value, size, bold=True, after=0) for each in block.numbers],
        [_text(each.label, 10, after=0) for each in block.numbers],
    ]
    style: list[tuple[Any, ...]] = [("BOX", (k, 0), (k, 1), 1.2, black) for k in range(len(block.numbers))]
    style.append(("VALIGN", (0, 1), (-1, 1), "TOP"))
    return [_table(cells, [wide] * len(block.numbers), style), Spacer(1, 5)]


@_flow.register
def _(block: doc.Table, room: float) -> list[Flowable]:
    shares = (0.0, *block.shares) if block.ticks else block.shares
    tick = (_BOX_MM + 2.6) * PT_PER_MM if block.ticks else 0.0
    total = sum(block.shares)
    wide = [share / total * (room - tick) for share in shares]
    heads: list[Any] = [_text(head, 10, bold=True, after=0) for head in block.heads]
    if block.ticks:
        heads, wide[0] = ["", *heads], tick
    cells = [heads, *(_cells(block, row) for row in block.rows)]
    style: list[tuple[Any, ...]] = [
        ("GRID", (0, 0), (-1, -1), _LINE_PT, black),
        ("BACKGROUND", (0, 0), (-1, 0), _SHADE),
    ]
    least = [None, *([_WRITE_MM * PT_PER_MM] * len(block.rows))] if block.write_in else None
    table = _table(cells, wide, style, repeatRows=1, rowHeights=least if _bare(block) else None)
    if block.write_in and not _bare(block):
        table = _table(cells, wide, [*style, *_roomy()], repeatRows=1)
    title = [_text(block.title, bold=True, after=2)] if block.title else []
    for each in title:
        each.keepWithNext = True
    return [*title, table, Spacer(1, 6)]


def _bare(block: doc.Table) -> bool:
    """Whether its rows are one line high each, so that a fixed height does not cut any."""
    return all(len(cell) <= 8 for row in block.rows for cell in row)


def _roomy() -> list[tuple[Any, ...]]:
    return [("TOPPADDING", (0, 1), (-1, -1), 4.5), ("BOTTOMPADDING", (0, 1), (-1, -1), 5.5)]


def _cells(block: doc.Table, row: tuple[str, ...]) -> list[Any]:
    cells: list[Any] = [_Box()] if block.ticks else []
    for k, text in enumerate(row):
        bold = k in block.strong
        cells.append(_right(text, bold=bold) if k in block.right else _text(text, bold=bold, after=0))
    return cells


@_flow.register
def _(block: doc.Steps, room: float) -> list[Flowable]:
    tick = (_BOX_MM + 3.0) * PT_PER_MM
    cells = [
        [
            _Box(),
            [
                _text(f"{step.number}  {step.title}", 11.5, bold=True, after=1),
                *(_text(line, after=1) for line in step.details),
            ],
        ]
        for step in block.steps
    ]
    style = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, black)]
    return [_table(cells, [tick, room - tick], style), Spacer(1, 5)]


@_flow.register
def _(block: doc.Drawing, _room: float) -> list[Flowable]:
    return [_Drawn(block), Spacer(1, 4)]


@_flow.register
def _(block: doc.Cautions, room: float) -> list[Flowable]:
    said = [_led(each.title, each.text) for each in block.cautions]
    cells = [[_Sign(), [*said, _text(block.last, 10, bold=True, after=0)]]]
    tick = 11 * PT_PER_MM
    style = [("BOX", (0, 0), (-1, -1), 1.2, black), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    return [_table(cells, [tick, room - tick], style), Spacer(1, 4)]


def _led(title: str, text: str) -> Paragraph:
    """A paragraph that begins with its title."""
    lead, rest = (escape(shown(each), quote=False) for each in (title, text))
    return Paragraph(f'<font name="{BOLD}">{lead}.</font> {rest}', _style(10, after=2))


class _Sign(Flowable):  # type: ignore[misc] # as above
    """A triangle with a stroke and a dot in it."""

    def wrap(self, *_: float) -> tuple[float, float]:
        return 8 * PT_PER_MM, 7 * PT_PER_MM

    def draw(self) -> None:
        unit, canvas = PT_PER_MM, self.canv
        path = canvas.beginPath()
        path.moveTo(0, 0)
        path.lineTo(8 * unit, 0)
        path.lineTo(4 * unit, 7 * unit)
        path.close()
        canvas.setFillColor(black)
        canvas.drawPath(path, stroke=0, fill=1)
        canvas.setFillColor(white)
        canvas.rect(3.6 * unit, 2.2 * unit, 0.8 * unit, 2.6 * unit, stroke=0, fill=1)
        canvas.circle(4 * unit, 1.3 * unit, 0.5 * unit, stroke=0, fill=1)


@_flow.register
def _(_block: doc.PageBreak, _room: float) -> list[Flowable]:
    return [PageBreak()]


@_flow.register
def _(block: doc.Columns, room: float) -> list[Flowable]:
    share = (room + _GUTTER_PT) / len(block.columns)
    cells = [
        [[part for each in column for part in _flow(each, share - _GUTTER_PT)] for column in block.columns]
    ]
    flat = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), _GUTTER_PT)]
    flat += [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]
    flat.append(("RIGHTPADDING", (-1, 0), (-1, -1), 0))
    wide = [*[share] * (len(block.columns) - 1), share - _GUTTER_PT]
    return [_table(cells, wide, [*flat, ("VALIGN", (0, 0), (-1, -1), "TOP")])]


@_flow.register
def _(block: doc.Group, room: float) -> list[Flowable]:
    parts = [part for each in block.blocks for part in _flow(each, room)]
    return [KeepTogether([part for part in parts if not isinstance(part, CondPageBreak)])]
