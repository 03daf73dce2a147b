"""A picture of what a drawing holds: its contours by number, and the places that want looking at."""

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scalegen.fields.words import printable
from scalegen.outline.choose import Contour
from scalegen.outline.join import Place
from scalegen.outline.ring import FloatArray
from scalegen.outline.survey import Survey
from scalegen.report.outline_record import Role, roles
from scalegen.report.picture_lines import flat_points, seen_runs
from scalegen.report.picture_marks import (
    BORDER,
    LINE_MM,
    LOOSE,
    MARK_MM,
    OUTLINE,
    PLAIN,
    TEXT_MM,
    THIN,
    Entry,
    axes_cross,
    legend,
    mark,
    scale_bar,
)
from scalegen.report.picture_place import Ground, place_beside, steps_between
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
from scalegen.report.picture_view import (
    MARGIN_MM,
    PAGE_MM,
    View,
    meets,
    rows_box,
    scale_text,
    span_mm,
    view_of,
)

__all__ = ["Picture", "draw_outline", "picture_png", "picture_svg"]

_MOST_DRAWN, _MOST_LOOSE, _MOST_MARKS, _MOST_NUMBERS = 2000, 1000, 300, 40
_PLAIN_ROWS = 20_000
_TITLE_MM = 6.0
_WIDE_MM = PAGE_MM - 2 * MARGIN_MM
_STATUS_LINES = 4
_BAR_MM = 60.0
_GRAIN_MM, _SMALL_MM, _FINE = 0.05, 2.0, 0.1

_MAINS = ("outline", "candidate")
_PENS: Mapping[Role, Pen] = {
    "outline": OUTLINE,
    "candidate": OUTLINE,
    "hole": THIN,
    "border": BORDER,
    "left out": PLAIN,
    "other": PLAIN,
}
_WORDS: Mapping[Role, str] = {
    "outline": "outline",
    "candidate": "could be the outline",
    "hole": "hole",
    "border": "page border or background",
    "left out": "left out",
    "other": "other contour",
}
_NUMBER_MM: Mapping[Role, float] = {"outline": 4.6, "candidate": 5.6}
_SMALL_NUMBER_MM = 3.4
_MARKS = (
    ("gap", "closed gap"),
    ("open end", "open end"),
    ("branch", "more than two ends meet"),
    ("crossing", "crosses or touches itself"),
)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Content:
    """What of a survey goes onto the page: contours and loose chains, largest first, and places by mark."""

    contours: tuple[Contour, ...]
    loose: tuple[FloatArray, ...]
    places: Mapping[str, Sequence[Place]]
    parts: Mapping[int, Role]

    @property
    def mains(self) -> list[Contour]:
        """What the picture is about."""
        return [contour for contour in self.contours if self.parts[contour.number] in _MAINS]


def draw_outline(found: Survey, title: str) -> Picture:
    """Draw what a drawing holds.

    Args:
        found: The survey of it.
        title: Written on top, such as the name of the file.

    Returns:
        A page 280 mm wide. The outline, or every contour that could be it, is heavy and has a large number;
        things far away from these are not shown.
    """
    content = _content(found)
    header, top = _header(found, title)
    boxes = [contour.bounds_mm for contour in content.contours]
    boxes += [rows_box(rows) for rows in content.loose]
    boxes += [(*place, *place) for places in content.places.values() for place in places]
    if not boxes:
        window = (MARGIN_MM, top, PAGE_MM - MARGIN_MM, top + LINE_MM)
        return Picture(width_mm=PAGE_MM, height_mm=window[3], window_mm=window, drawn=(), over=(*header,))
    view = view_of(boxes, [contour.bounds_mm for contour in content.mains], top)
    seen = [c for c in content.contours if meets(c.bounds_mm, view.box_mm)]
    ground = Ground.empty(view.window_mm)
    axes = _axes(view, ground)
    lines = [*_contours(seen, content, view, ground), *_loose(content, view, ground)]
    marks, entries = _marks(content, view, ground)
    numbers, numbered = _numbers(seen, content, view, ground)
    entries = [*_line_entries(seen, content), *entries]
    remarks = _remarks(found, view, len(seen), numbered, shown_axes=bool(axes))
    footer, height = _footer(view, entries, remarks)
    return Picture(
        width_mm=PAGE_MM,
        height_mm=height,
        window_mm=view.window_mm,
        drawn=(*_fills(seen, content, view), *lines, *axes, *marks, *numbers),
        over=(_frame(view), *header, *footer),
    )


def _content(found: Survey) -> _Content:
    """The largest contours and chains, with the outline and what could be it whatever their size."""
    parts = roles(found)
    mains = [c for c in found.contours if parts[c.number] in _MAINS][:_MOST_DRAWN]
    rest = [c for c in found.contours if parts[c.number] not in _MAINS][: _MOST_DRAWN - len(mains)]
    spans = [span_mm(rows_box(rows)) for rows in found.loose]
    order = sorted(range(len(spans)), key=lambda k: (-spans[k], k))[:_MOST_LOOSE]
    return _Content(
        contours=tuple(sorted([*mains, *rest], key=lambda contour: contour.number)),
        loose=tuple(found.loose[k] for k in order),
        places={
            "gap": tuple(gap.at_mm for gap in found.gaps),
            "open end": found.open_ends,
            "branch": found.branches,
            "crossing": found.crossings,
        },
        parts=parts,
    )


# ------------------------------------------------------------------------------------------- drawing


def _axes(view: View, ground: Ground) -> list[Shape]:
    """The zero point, where it can be seen."""
    spot = view.spot((0.0, 0.0))
    if not view.holds(spot, 4.0):
        return []
    x, y = spot
    ground.take_box((x - 1, y - 13, x + 1, y))
    ground.take_box((x, y - 1, x + 13, y + 1))
    return axes_cross(spot)


def _fills(seen: Sequence[Contour], content: _Content, view: View) -> list[Shape]:
    """The outline's inside, with its holes left white."""
    fills: list[Shape] = []
    thin = _is_much([contour.ring.rows for contour in seen])
    for role, fill in (("outline", PALE), ("hole", WHITE)):
        fills += [
            Curve(rows=_page_rows(c.ring.rows, view, thin=thin), closed=True, pen=None, fill=fill)
            for c in seen
            if content.parts[c.number] == role
        ]
    return fills


def _contours(seen: Sequence[Contour], content: _Content, view: View, ground: Ground) -> Iterator[Shape]:
    """The lines of contours, heavy ones on top."""
    thin = _is_much([contour.ring.rows for contour in seen])
    order = sorted(seen, key=lambda contour: content.parts[contour.number] in _MAINS)
    for contour in order:
        rows = _page_rows(contour.ring.rows, view, thin=thin)
        _take(ground, rows, view, closed=True)
        pen = _PENS[content.parts[contour.number]]
        # A heavy line would fill a very small contour.
        fine = max(THIN.width_mm, _FINE * span_mm(contour.bounds_mm) * view.scale)
        yield Curve(rows=rows, closed=True, pen=replace(pen, width_mm=min(pen.width_mm, fine)))


def _loose(content: _Content, view: View, ground: Ground) -> Iterator[Shape]:
    """The chains that do not close."""
    thin = _is_much(content.loose)
    for chain in content.loose:
        if len(chain) > 1:
            rows = _page_rows(chain, view, thin=thin, closed=False)
            _take(ground, rows, view, closed=False)
            yield Curve(rows=rows, closed=False, pen=LOOSE)


def _is_much(chains: Sequence[FloatArray]) -> bool:
    """Whether chains have more segments than anybody could tell apart."""
    return sum(map(len, chains)) > _PLAIN_ROWS


def _page_rows(rows: FloatArray, view: View, *, thin: bool, closed: bool = True) -> FloatArray:
    """Rows on the page; where there are very many, only as fine as can be seen."""
    page = view.rows(rows)
    if not thin:
        return page
    points = flat_points(page, closed=closed, tolerance=_GRAIN_MM)
    cells = np.round(points / _GRAIN_MM)
    fresh = np.concatenate([[True], (np.diff(cells, axis=0) != 0).any(axis=1)])
    fresh[-1] = not closed
    kept = points[fresh] if fresh.sum() > 1 else points[:2]
    return np.column_stack([kept, np.zeros(len(kept))])


def _take(ground: Ground, rows: FloatArray, view: View, *, closed: bool) -> None:
    """Note on the ground where a chain on the page runs; of a small one, its box."""
    box = rows_box(rows)
    if span_mm(box) < _SMALL_MM:
        ground.take_box(box)
        return
    points = flat_points(rows, closed=closed, tolerance=_GRAIN_MM)
    low, high = np.array(view.window_mm[:2]), np.array(view.window_mm[2:])
    for run in seen_runs(points, low, high):
        ground.take(steps_between(run))


def _marks(content: _Content, view: View, ground: Ground) -> tuple[list[Shape], list[Entry]]:
    """Marks of all places that can be seen, one for those that fall together, and what they mean."""
    shapes: list[Shape] = []
    entries = []
    for kind, words in _MARKS:
        places = content.places[kind]
        if not places:
            continue
        # To a tenth of a mm on the page: what falls together there is one mark.
        spots = dict.fromkeys((round(x, 1), round(y, 1)) for x, y in map(view.spot, places))
        held = [spot for spot in spots if view.holds(spot)]
        shown = held[:: -(-len(held) // _MOST_MARKS) or 1]
        for x, y in shown:
            ground.take_box((x - MARK_MM, y - MARK_MM, x + MARK_MM, y + MARK_MM))
            shapes += mark(kind, (x, y))
        some = f", {len(shown)} marked" if len(shown) < len(held) else ""
        entries.append(Entry(sample=kind, text=f"{words} ({len(places)}{some})"))
    return shapes, entries


def _numbers(
    seen: Sequence[Contour], content: _Content, view: View, ground: Ground
) -> tuple[list[Shape], int]:
    """Numbers in discs, each with a line to its contour; and how many contours have one."""
    order = sorted(seen, key=lambda contour: content.parts[contour.number] not in _MAINS)[:_MOST_NUMBERS]
    lines: list[Shape] = []
    discs: list[Shape] = []
    numbered = 0
    low, high = np.array(view.window_mm[:2]), np.array(view.window_mm[2:])
    for contour in order:
        role = content.parts[contour.number]
        size = _NUMBER_MM.get(role, _SMALL_NUMBER_MM)
        radius = max(0.8 * size, text_width_mm(str(contour.number), size) / 2 + 0.8)
        points = flat_points(view.rows(contour.ring.rows), closed=True, tolerance=_GRAIN_MM)[:-1]
        placed = place_beside(ground, points.clip(low, high), radius)
        if placed is None:
            continue
        numbered += 1
        pen = Pen(color=BLACK if role in _MAINS else GREY, width_mm=0.5 if role in _MAINS else 0.25)
        lines += _leader(*placed, pen)
        discs += _numbered_disc(placed[1], radius, contour.number, size, pen)
    return [*lines, *discs], numbered


def _leader(foot: tuple[float, float], center: tuple[float, float], pen: Pen) -> list[Shape]:
    """A line from a contour to its number."""
    rows = np.array([(*foot, 0.0), (*center, 0.0)])
    return [
        Curve(rows=rows, closed=False, pen=pen),
        Disc(at_mm=foot, radius_mm=0.6, pen=None, fill=pen.color),
    ]


def _numbered_disc(
    center: tuple[float, float], radius: float, number: int, size: float, pen: Pen
) -> list[Shape]:
    return [
        Disc(at_mm=center, radius_mm=radius, pen=pen, fill=WHITE),
        Label(
            at_mm=(center[0], center[1] + 0.36 * size),
            text=str(number),
            size_mm=size,
            anchor="middle",
            bold=size > _SMALL_NUMBER_MM,
        ),
    ]


# ------------------------------------------------------------------------------------ around the window


def _header(found: Survey, title: str) -> tuple[list[Shape], float]:
    """Title and what is to be said first; and where the window begins."""
    y = MARGIN_MM + 4.0
    name = cut_text(printable(title), _TITLE_MM, _WIDE_MM)
    shapes: list[Shape] = [Label(at_mm=(MARGIN_MM, y), text=name, size_mm=_TITLE_MM, bold=True)]
    lines = _wrapped(_status(found))
    if len(lines) > _STATUS_LINES:
        lines = [*lines[: _STATUS_LINES - 1], f"{lines[_STATUS_LINES - 1]} …"]
    y += 1.5
    for line in lines:
        y += LINE_MM
        shapes.append(Label(at_mm=(MARGIN_MM, y), text=line, size_mm=TEXT_MM))
    return shapes, y + 3.5


def _status(found: Survey) -> str:
    """Whether the drawing can be used."""
    if found.chosen is not None and not found.reason:
        long, wide = found.contours[found.chosen - 1].size_mm
        count = len(found.holes)
        holes = f"{count or 'no'} hole{'' if count == 1 else 's'}"
        return f"The outline is contour {found.chosen}, {long:.3f} x {wide:.3f} mm, with {holes}."
    if len(found.choices) > 1:
        return "More than one contour could be the outline: say which by its number."
    remedy = f" What to do: {found.remedy}." if found.remedy else ""
    return f"Cannot be used as it is: {found.reason}.{remedy}"


def _wrapped(text: str) -> list[str]:
    most = int((_WIDE_MM - 4.0) / text_width_mm("x", TEXT_MM))
    return textwrap.wrap(printable(text), most)


def _frame(view: View) -> Shape:
    left, top, right, bottom = view.window_mm
    rows = np.array([(left, top, 0.0), (right, top, 0.0), (right, bottom, 0.0), (left, bottom, 0.0)])
    return Curve(rows=rows, closed=True, pen=Pen(color=GREY, width_mm=0.2))


def _line_entries(seen: Sequence[Contour], content: _Content) -> list[Entry]:
    """What the kinds of lines mean, of those that are there."""
    there = {content.parts[contour.number] for contour in seen}
    entries = [Entry(sample=_PENS[role], text=words) for role, words in _WORDS.items() if role in there]
    if content.loose:
        entries.append(Entry(sample=LOOSE, text="does not close"))
    return entries


def _remarks(found: Survey, view: View, seen: int, numbered: int, *, shown_axes: bool) -> str:
    """What else there is to know about the picture."""
    said = [f"{scale_text(view.scale)} on a page {PAGE_MM:g} mm wide", f"read in {found.units}"]
    if not shown_axes:
        said.append("x = 0, y = 0 lies outside the picture")
    if seen < len(found.contours):
        said.append(f"contours that are far away or very small and not drawn: {len(found.contours) - seen}")
    if len(found.loose) > _MOST_LOOSE:
        said.append(f"short open chains that are not drawn: {len(found.loose) - _MOST_LOOSE}")
    if numbered < seen:
        said.append(f"{numbered} of {seen} contours have their number here")
    return "; ".join(said)


def _footer(view: View, entries: Sequence[Entry], remarks: str) -> tuple[list[Shape], float]:
    """Scale bar, remarks and legend; and the height of the page."""
    bottom = view.window_mm[3]
    bar = scale_bar(view.scale, MARGIN_MM, bottom + 9.5, _BAR_MM)
    shapes, high = legend(entries, MARGIN_MM, bottom + 13.0, _WIDE_MM)
    y = bottom + 13.0 + high + 0.2
    texts: list[Shape] = []
    for line in _wrapped(remarks):
        y += LINE_MM - 0.8
        texts.append(Label(at_mm=(MARGIN_MM, y), text=line, size_mm=TEXT_MM, color=GREY))
    return [*bar, *shapes, *texts], y + 5.0
