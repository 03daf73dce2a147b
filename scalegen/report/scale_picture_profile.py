"""Cuts through a scale, drawn to scale: its layers in their colours, their heights beside them."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scalegen.design import Scale, Span
from scalegen.form.draped import DrapedPlan
from scalegen.outline.front import on_front
from scalegen.outline.measure import sampled
from scalegen.outline.ring import FloatArray
from scalegen.report.picture_marks import TEXT_MM
from scalegen.report.picture_shapes import BLACK, GREY, Anchor, Curve, Label, Pen, Shape, cut_text

LAYER = Pen(width_mm=0.15)
HAIR = Pen(width_mm=0.06)
LIGHT = Pen(color="#f2f2f2", width_mm=0.2)
BODY = Pen(width_mm=0.5)
LEVEL = Pen(color=GREY, width_mm=0.15, dash_mm=(1.2, 0.9))

_POINTS = 600
_SAMPLE_MM = 0.2
_SAME_MM = 1e-3
LABEL_GAP_MM = 4.4
_BAR_MM = 9.0
_DARK, _APART = 110.0, 80.0
_TICK_MM = 1.5
_ELBOW_MM = 5.0

Sizes = Callable[[float, int], str]


@dataclass(frozen=True, kw_only=True, eq=False)
class Cut:
    """A scale as it looks cut through along a straight line, holes filled.

    Attributes:
        start: (2,) where the cut begins in the plan.
        end: (2,) where it ends.
        along_mm: (n,) growing from 0.
        height_mm: (n,) of the surface above the finished back.
        foot_mm: From where to where along it layers with an outline of their own reach.
        floor_mm: Height up to which those reach; 0 without them.
    """

    start: FloatArray
    end: FloatArray
    along_mm: FloatArray
    height_mm: FloatArray
    foot_mm: tuple[float, float] = (0.0, 0.0)
    floor_mm: float = 0.0

    @property
    def length_mm(self) -> float:
        """From end to end."""
        return float(self.along_mm[-1])


def across_widest(scale: Scale, plan: DrapedPlan) -> Cut:
    """The cut straight across the handle where it is widest, from belly to spine.

    Of places equally wide it is the one nearest to the middle of the handle's length.
    """
    x0, _, x1, _ = scale.finished.bounds_mm
    points = scale.finished.flatten(0.01)
    # The width along x changes its rule at corners only, so the widest place is at one of them.
    inner = np.append(points[:, 0].clip(x0 + _SAMPLE_MM, x1 - _SAMPLE_MM), (x0 + x1) / 2)
    spans = np.array([_stretch(points, float(x)) for x in inner])
    widths = spans[:, 1] - spans[:, 0]
    off = np.where(widths > widths.max() - _SAME_MM, np.abs(inner - (x0 + x1) / 2), np.inf)
    x, (low, high) = float(inner[off.argmin()]), spans[off.argmin()].tolist()
    found = _cut(scale, plan, np.array([x, low]), np.array([x, high]))
    if scale.stepped is None:
        return found
    foot = _stretch(scale.stepped.finished.flatten(0.01), x)
    return replace(found, foot_mm=(foot[0] - low, foot[1] - low), floor_mm=scale.stepped.top_mm)


def behind_front(scale: Scale, plan: DrapedPlan, least_mm: float) -> Cut:
    """The cut from the middle of the front straight back, past its treatment.

    Args:
        scale: The scale.
        plan: Its finished form.
        least_mm: How far back it goes at least, if the handle is as long.
    """
    points = sampled(scale.finished, _SAMPLE_MM)
    edge = points[on_front(plan.curve, points, 0.0)]
    middle = edge[np.hypot(*(edge - edge.mean(axis=0)).T).argmin()]
    room = float(((points - middle) @ plan.curve.inward).max())
    end = middle + min(least_mm, 0.9 * room) * plan.curve.inward
    # At the front all layers end together.
    return _cut(scale, plan, middle, end)


def _stretch(points: FloatArray, x_mm: float) -> tuple[float, float]:
    """The widest stretch of a polygon's inside straight across at x: its lower and upper y."""
    after = np.roll(points, -1, axis=0)
    over = (points[:, 0] > x_mm) != (after[:, 0] > x_mm)
    a, b = points[over], after[over]
    ys = np.sort(a[:, 1] + (x_mm - a[:, 0]) / (b[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1]))
    if len(ys) < 2:
        return 0.0, 0.0
    widest = 2 * int(np.argmax(np.diff(ys)[::2]))
    return float(ys[widest]), float(ys[widest + 1])


def _cut(scale: Scale, plan: DrapedPlan, start: FloatArray, end: FloatArray) -> Cut:
    """Heights along a line, closer together towards its ends, with every layer's crossings among them."""
    share = (1.0 - np.cos(np.linspace(0.0, np.pi, _POINTS))) / 2
    height = plan.under_mm(start + share[:, None] * (end - start))
    along = share * float(np.hypot(*(end - start)))
    for span in scale.spans[1:]:
        along, height = _with_level(along, height, span.bottom_mm)
    return Cut(start=start, end=end, along_mm=along, height_mm=height)


def _with_level(along: FloatArray, height: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """A run of heights with points put in where it passes a level."""
    k = np.flatnonzero((height[:-1] > level) != (height[1:] > level))
    share = (level - height[k]) / (height[k + 1] - height[k])
    at = along[k] + share * (along[k + 1] - along[k])
    return np.insert(along, k + 1, at), np.insert(height, k + 1, level)


# -------------------------------------------------------------------------------------------- drawing


def draw_cut(cut: Cut, spans: Sequence[Span], left_mm: float, base_mm: float, scale: float) -> list[Shape]:
    """A cut on the page.

    Args:
        cut: What is drawn.
        spans: Layers from back to face.
        left_mm: Its left end on the page.
        base_mm: Height of the finished back on the page.
        scale: Length on the page of one mm.
    """
    floor = base_mm - scale * cut.floor_mm

    def filled(heights: FloatArray, fill: str, pen: Pen | None) -> Curve:
        x = left_mm + scale * cut.along_mm
        top = np.column_stack([x, base_mm - scale * heights, np.zeros(len(x))])
        corners = [[x[0], floor, 0.0], *_thinned(top), [x[-1], floor, 0.0]]
        return Curve(rows=np.array(corners), closed=True, pen=pen, fill=fill)

    # From the face down: each layer covers what lies in it of those painted before.
    upper = [span for span in spans if span.top_mm > cut.floor_mm]
    over = [*upper[1:], upper[-1]]
    shapes: list[Shape] = [
        filled(np.minimum(cut.height_mm, span.top_mm), span.color, between(span.color, above.color))
        for span, above in zip(reversed(upper), reversed(over), strict=True)
    ]
    shapes.append(filled(cut.height_mm, "", BODY))
    x0, x1 = (left_mm + scale * at for at in cut.foot_mm)
    for span in spans[: len(spans) - len(upper)]:
        low, high = (base_mm - scale * max(z, 0.0) for z in (span.bottom_mm, span.top_mm))
        shapes.append(_box((x0, low, x1, high), span.color, BODY))
    return shapes


def between(one: str, other: str) -> Pen:
    """A line between two colours that shows them apart without colours too: light where both are dark.

    Where they differ by themselves it is a hair: a film of glue between dark layers stays a light line.
    """
    dark, bright = sorted((_brightness(one), _brightness(other)))
    if bright < _DARK:
        return LIGHT
    return HAIR if bright - dark > _APART else LAYER


def _brightness(color: str) -> float:
    """Of "#rrggbb", from 0 to 255. Source: luma of ITU-R BT.601, from memory."""
    red, green, blue = (int(color[k : k + 2], 16) for k in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue


def _thinned(rows: FloatArray) -> FloatArray:
    """Rows (n, 3) without those that lie on the straight line between their neighbours."""
    before, after = rows[1:-1, :2] - rows[:-2, :2], rows[2:, :2] - rows[1:-1, :2]
    bent = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) > 1e-9
    kept: FloatArray = rows[np.concatenate([[True], bent, [True]])]
    return kept


def draw_column(scale: Scale, left_mm: float, base_mm: float, per_mm: float, sizes: Sizes) -> list[Shape]:
    """All layers at their full height, heights of their boundaries to the left, thicknesses to the right.

    Args:
        scale: The scale.
        left_mm: Left edge of the layers on the page.
        base_mm: Height of the finished back on the page.
        per_mm: Length on the page of one mm.
        sizes: How lengths are written.
    """
    spans, top = scale.spans, scale.thickness_mm
    bounds = [(max(span.bottom_mm, 0.0), min(span.top_mm, top)) for span in spans]
    shapes: list[Shape] = [
        _box((left_mm, base_mm - per_mm * high, left_mm + _BAR_MM, base_mm - per_mm * low), span.color, None)
        for span, (low, high) in zip(spans, bounds, strict=True)
    ]
    for k, (_, high) in enumerate(bounds[:-1]):
        ends = [(left_mm + at, base_mm - per_mm * high, 0.0) for at in (0.0, _BAR_MM)]
        pen = between(spans[k].color, spans[k + 1].color)
        shapes.append(Curve(rows=np.array(ends), closed=False, pen=pen))
    shapes.append(_box((left_mm, base_mm - per_mm * top, left_mm + _BAR_MM, base_mm), "", BODY))
    heights = [0.0, *(high for _, high in bounds)]
    texts = [sizes(z, 2) for z in heights]
    shapes += _beside(left_mm, [base_mm - per_mm * z for z in heights], texts, -1)
    middles = [base_mm - per_mm * (low + high) / 2 for low, high in bounds]
    named = [
        f"{sizes(high - low, 2)}  {cut_text(span.name, TEXT_MM, 42.0)}"
        for span, (low, high) in zip(spans, bounds, strict=True)
    ]
    return [*shapes, *_beside(left_mm + _BAR_MM, middles, named, 1)]


def _box(box: tuple[float, float, float, float], fill: str, pen: Pen | None) -> Curve:
    x0, y0, x1, y1 = box
    rows = np.array([(x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0)])
    return Curve(rows=rows, closed=True, pen=pen, fill=fill)


def _beside(x_mm: float, spots: Sequence[float], texts: Sequence[str], way: int) -> Iterator[Shape]:
    """Texts to one side of a column, each with a line to its height, apart from each other."""
    for spot, place, text in zip(spots, spread(spots, LABEL_GAP_MM), texts, strict=True):
        elbow = [(x_mm, spot), (x_mm + way * _TICK_MM, spot), (x_mm + way * _ELBOW_MM, place)]
        yield Curve(rows=np.array([(*at, 0.0) for at in elbow]), closed=False, pen=Pen(width_mm=0.15))
        at_mm = (x_mm + way * (_ELBOW_MM + 0.8), place + 0.35 * TEXT_MM)
        anchor: Anchor = "start" if way > 0 else "end"
        yield Label(at_mm=at_mm, text=text, size_mm=TEXT_MM, anchor=anchor, color=BLACK)


def spread(spots: Sequence[float], gap_mm: float) -> list[float]:
    """Places from the lowest on the page up, moved as little as needed to lie so far apart.

    Args:
        spots: Where they should lie, on the page, falling.
        gap_mm: From each to the next.
    """
    groups: list[list[float]] = []
    for spot in spots:
        groups.append([spot])
        # Places that would come too near move together about their common middle.
        while len(groups) > 1 and _first(groups[-2], gap_mm) - gap_mm * len(groups[-2]) < _first(
            groups[-1], gap_mm
        ):
            last = groups.pop()
            groups[-1] += last
    return [_first(group, gap_mm) - gap_mm * k for group in groups for k in range(len(group))]


def _first(group: Sequence[float], gap_mm: float) -> float:
    """Where the first of a group lies."""
    return sum(group) / len(group) + gap_mm * (len(group) - 1) / 2
