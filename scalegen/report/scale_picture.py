"""A picture of a scale as it will look from outside, before anything is cut: bands of layers, lines, pins."""

import textwrap
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from scalegen.design import Scale
from scalegen.fields.words import printable
from scalegen.form.draped import draped_plan
from scalegen.form.reveal import Place, Reveal, reveals
from scalegen.outline.front import setback_mm
from scalegen.report.picture_marks import LINE_MM, TEXT_MM, Entry, legend, scale_bar
from scalegen.report.picture_place import Ground
from scalegen.report.picture_shapes import GREY, Curve, Label, Picture, Shape, cut_text, text_width_mm
from scalegen.report.picture_view import MARGIN_MM, PAGE_MM, View, round_scale, scale_text, view_of
from scalegen.report.scale_picture_plan import (
    CREST_RIM,
    OUTLINE,
    Stripe,
    pin_shapes,
    plan_fills,
    reveal_lines,
    section_mark,
    stripe_numbers,
    stripes,
    take_plan,
)
from scalegen.report.scale_picture_profile import (
    LABEL_GAP_MM,
    LAYER,
    LEVEL,
    Cut,
    Sizes,
    across_widest,
    behind_front,
    draw_column,
    draw_cut,
)
from scalegen.report.views import sizes_in

_WIDE_MM = PAGE_MM - 2 * MARGIN_MM
_TITLE_MM = 6.0
_COLUMN_MM, _COLUMN_LEFT_MM, _GAP_MM = 82.0, 24.0, 14.0
_TALLEST_MM = 34.0
_FRONT_MM, _PAST_MM = 8.0, 4.0
_BAR_MM = 60.0

_AWAY: Mapping[Place, str] = {
    "front": "behind the front",
    "edge": "inside the outline, in the edge",
    "face": "beside the crown line, in the face",
}


def draw_scale(scale: Scale) -> Picture:
    """Draw one finished scale: seen from outside, and cut through across the handle and along at the front.

    Args:
        scale: The left one; its front is on the left and its spine up.

    Returns:
        A page 280 mm wide. Layers have their colours from the tables. What shows where is numbered in the
        plan and told below it.

    Raises:
        GeometryError: The shape can't be made.
    """
    sizes = sizes_in(scale.pattern.units)
    header, top = _header(scale, sizes)
    proud = scale.stepped.finished.bounds_mm if scale.stepped else scale.finished.bounds_mm
    view = view_of([scale.finished.bounds_mm, proud], [], top)
    plan, found = draped_plan(scale, finished=True), reveals(scale)
    reach = _FRONT_MM
    if scale.pattern.front.treatment != "square":
        reach = setback_mm(scale.pattern.front, scale.thickness_mm, scale.thickness_mm) + _PAST_MM
    cuts = behind_front(scale, plan, max(_FRONT_MM, reach)), across_widest(scale, plan)
    shown = stripes(scale, found)
    ground = Ground.empty(view.window_mm)
    take_plan(scale, view, ground)
    marks = [shape for cut, name in zip(cuts, "AB", strict=True) for shape in _mark(cut, name, view, ground)]
    numbers = stripe_numbers(shown, view, ground)
    sections, bottom = _sections(scale, cuts, view.window_mm[3] + 16.0, sizes)
    footer, height = _footer(scale, view, shown, bottom, sizes)
    return Picture(
        width_mm=PAGE_MM,
        height_mm=height,
        window_mm=view.window_mm,
        drawn=(
            *plan_fills(scale, view),
            *reveal_lines(scale, found, view),
            *marks,
            *pin_shapes(scale, view),
            *numbers,
        ),
        over=(
            *header,
            *scale_bar(view.scale, MARGIN_MM, view.window_mm[3] + 4.0, _BAR_MM),
            *sections,
            *footer,
        ),
    )


def _header(scale: Scale, sizes: Sizes) -> tuple[list[Shape], float]:
    """Title and sizes; and where the window begins."""
    x0, y0, x1, y1 = scale.finished.bounds_mm
    title = cut_text(printable(scale.pattern.title), _TITLE_MM, _WIDE_MM)
    size = f"{sizes(x1 - x0, 1)} x {sizes(y1 - y0, 1)}, {sizes(scale.thickness_mm, 2)} thick"
    stack = f'cut from "{scale.stack.name}", {sizes(scale.stack.used_mm, 2)}'
    measured = "as measured" if scale.stack.measured_mm else "by the tables"
    said = f"left scale, finished, seen from outside: {size}; {stack} {measured}"
    text = cut_text(printable(said), TEXT_MM, _WIDE_MM)
    y = MARGIN_MM + 4.0
    shapes: list[Shape] = [
        Label(at_mm=(MARGIN_MM, y), text=title, size_mm=_TITLE_MM, bold=True),
        Label(at_mm=(MARGIN_MM, y + 1.5 + LINE_MM), text=text, size_mm=TEXT_MM),
    ]
    return shapes, y + LINE_MM + 3.0


def _mark(cut: Cut, name: str, view: View, ground: Ground) -> list[Shape]:
    """Where a cut goes through, kept clear of numbers at both ends."""
    for place in (cut.start, cut.end):
        x, y = view.spot(place.tolist())
        ground.take_box((x - 4.0, y - 4.0, x + 4.0, y + 4.0))
    return section_mark(cut.start, cut.end, name, view)


# ------------------------------------------------------------------------------------------- sections


def _sections(scale: Scale, cuts: Sequence[Cut], top_mm: float, sizes: Sizes) -> tuple[list[Shape], float]:
    """Both cuts and the column of layers side by side on one level; and where they end on the page."""
    room = _WIDE_MM - _COLUMN_MM - 2 * _GAP_MM
    high = max(scale.thickness_mm, *(float(cut.height_mm.max()) for cut in cuts))
    per_mm = round_scale(min(room / sum(cut.length_mm for cut in cuts), _TALLEST_MM / high))
    # Many thin layers have more text beside them than they are high.
    crowd = max(0.0, len(scale.spans) * LABEL_GAP_MM - per_mm * high) / 2
    base = top_mm + 5.0 + per_mm * high + crowd
    shapes: list[Shape] = []
    left = MARGIN_MM + max(0.0, -cuts[0].foot_mm[0] * per_mm)
    words = ("A: back from the front", "B: across, where it is widest")
    for cut, text in zip(cuts, words, strict=True):
        shapes += draw_cut(cut, scale.spans, left, base, per_mm)
        shapes.append(Label(at_mm=(left, top_mm), text=text, size_mm=TEXT_MM, bold=True))
        left += cut.length_mm * per_mm + _GAP_MM
        # The heading may be longer than the cut is.
        left = max(left, MARGIN_MM + text_width_mm(text, TEXT_MM) + 2.0)
    left = max(left, PAGE_MM - MARGIN_MM - _COLUMN_MM)
    column = left + _COLUMN_LEFT_MM
    for z in (0.0, scale.thickness_mm):
        rows = np.array([(MARGIN_MM, base - per_mm * z, 0.0), (left, base - per_mm * z, 0.0)])
        shapes.append(Curve(rows=rows, closed=False, pen=LEVEL))
    shapes += draw_column(scale, column, base, per_mm, sizes)
    heading = "heights above the back, and layers"
    shapes.append(Label(at_mm=(left, top_mm), text=heading, size_mm=TEXT_MM, bold=True))
    return [*shapes, *_note(base, per_mm)], base + 7.0 + crowd


def _note(base: float, per_mm: float) -> Iterator[Shape]:
    text = f"{scale_text(per_mm)}; finished, holes left out"
    yield Label(at_mm=(MARGIN_MM, base + 5.0), text=text, size_mm=TEXT_MM, color=GREY)


# -------------------------------------------------------------------------------------------- legend


def _footer(
    scale: Scale, view: View, shown: Sequence[Stripe], top_mm: float, sizes: Sizes
) -> tuple[list[Shape], float]:
    """What the numbers and lines mean; and the height of the page."""
    y = top_mm + 2.0
    shapes: list[Shape] = []
    for line in [text for stripe in shown for text in _wrapped(_stripe_text(stripe, sizes))]:
        y += LINE_MM - 0.4
        shapes.append(Label(at_mm=(MARGIN_MM, y), text=line, size_mm=TEXT_MM))
    if not shown:
        y += LINE_MM - 0.4
        text = "No boundary between layers shows in front, edge or face; the layers show in the walls alone."
        shapes.append(Label(at_mm=(MARGIN_MM, y), text=text, size_mm=TEXT_MM))
    entries = [Entry(sample=OUTLINE, text="finished outline")]
    treated = scale.pattern.front.treatment != "square" or scale.pattern.edge.treatment != "square"
    if treated:
        entries.append(Entry(sample=CREST_RIM, text="where front and edge treatment begin"))
    if shown:
        entries.append(Entry(sample=LAYER, text="where layers meet"))
    samples, high = legend(entries, MARGIN_MM, y + 3.0, _WIDE_MM)
    y += 3.0 + high
    for line in _wrapped("; ".join(_remarks(scale, view))):
        y += LINE_MM - 0.8
        shapes.append(Label(at_mm=(MARGIN_MM, y), text=line, size_mm=TEXT_MM, color=GREY))
    return [*shapes, *samples], y + 5.0


def _stripe_text(stripe: Stripe, sizes: Sizes) -> str:
    """What meets where, and how far from front, outline or crown line."""
    below, above = stripe.below, stripe.above
    text = f"{stripe.number}  {above.over} over {below.under}: {_span(below, sizes)} {_AWAY[below.place]}"
    return text if below is above else f"{text}; glue up to {_span(above, sizes)}"


def _span(reveal: Reveal, sizes: Sizes) -> str:
    least, most = sizes(reveal.least_mm, 2), sizes(reveal.most_mm, 2)
    return least if least == most else f"{least} to {most}"


def _remarks(scale: Scale, view: View) -> Iterator[str]:
    yield f"plan {scale_text(view.scale)} on a page {PAGE_MM:g} mm wide"
    if scale.stepped is not None:
        step_mm, sizes = scale.stepped.step_mm, sizes_in(scale.pattern.units)
        stands = "stand proud by" if step_mm > 0 else "are set in by"
        yield f"layers up to {sizes(scale.stepped.top_mm, 2)} {stands} {sizes(abs(step_mm), 2)}"
    counts = Counter(hole.hardware.name + (" (blind)" if hole.is_blind else "") for hole in scale.holes)
    if counts:
        yield "pins: " + ", ".join(f"{count} x {name}" for name, count in counts.items())


def _wrapped(text: str) -> list[str]:
    most = int((_WIDE_MM - 4.0) / text_width_mm("x", TEXT_MM))
    return textwrap.wrap(printable(text), most)
