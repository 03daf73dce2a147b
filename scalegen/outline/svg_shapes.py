"""The basic shapes of SVG as subpaths in user units."""

import math
import re
from dataclasses import dataclass

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.svg_path import PathData, read_path
from scalegen.outline.svg_segments import Arc, Line, Point, Segment, Subpath
from scalegen.outline.svg_values import NUMBER, number, user_length

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})

_POINTS = re.compile(rf"[\s,]*({NUMBER})[\s,]*({NUMBER})")
_CSS_PATH = re.compile(r"path\(\s*[\"'](.*)[\"']\s*\)", re.DOTALL)


@dataclass(frozen=True, kw_only=True)
class View:
    """What percentages are shares of: width and height in user units, None when not known."""

    width: float | None
    height: float | None

    def across(self) -> float | None:
        """What shares that are neither along x nor along y refer to (SVG 1.1, 7.10)."""
        if self.width is None or self.height is None:
            return None
        return math.hypot(self.width, self.height) / math.sqrt(2)


def read_shape(tag: str, values: dict[str, str], view: View, most: int) -> PathData:
    """Subpaths of a shape.

    Args:
        tag: One of :data:`SHAPES`.
        values: Its attributes, with those of its style before them.
        view: What percentages refer to.
        most: Largest number of segments.

    Returns:
        Its subpaths, none when its size is zero, which SVG takes for "do not draw".

    Raises:
        UnreadableError: A value cannot be read.
    """
    if tag == "path":
        text = values.get("d", "")
        css = _CSS_PATH.fullmatch(text.strip())
        return read_path(css[1] if css else text, most)
    if tag in {"polyline", "polygon"}:
        return _points(values.get("points", ""), most, closed=tag == "polygon")
    if tag == "line":
        ends = [_length(values, name, view) or 0.0 for name in ("x1", "y1", "x2", "y2")]
        segments = (Line(end=(ends[2], ends[3])),)
        return _one(Subpath(start=(ends[0], ends[1]), segments=segments, closed=False))
    if tag == "rect":
        return _rect(values, view)
    return _round(tag, values, view)


def _one(subpath: Subpath) -> PathData:
    return PathData(subpaths=(subpath,), fault="")


_NONE = PathData(subpaths=(), fault="")


def _length(values: dict[str, str], name: str, view: View) -> float | None:
    """A length in user units, None when it is missing or left to the program."""
    text = values.get(name, "auto").strip()
    if text in {"auto", ""}:
        return None
    if name in {"x", "cx", "rx", "width", "x1", "x2"}:
        whole = view.width
    elif name in {"y", "cy", "ry", "height", "y1", "y2"}:
        whole = view.height
    else:
        whole = view.across()
    return user_length(text, whole)


def _points(text: str, most: int, *, closed: bool) -> PathData:
    """Points of a polyline or polygon; a fault ends it."""
    points: list[Point] = []
    at, fault = 0, ""
    while (found := _POINTS.match(text, at)) is not None and len(points) <= most:
        points.append((number(found[1]), number(found[2])))
        at = found.end()
    too_much = len(points) > most
    if text[at:].strip(" \t\r\n,"):
        what = f"more than {most} points" if too_much else "a number is missing or faulty"
        fault = f"points, character {at + 1}: {what}"
    if len(points) < 2:
        return PathData(subpaths=(), fault=fault, too_much=too_much)
    segments = tuple(Line(end=point) for point in points[1:])
    subpath = Subpath(start=points[0], segments=segments, closed=closed)
    return PathData(subpaths=(subpath,), fault=fault, too_much=too_much)


def _round(tag: str, values: dict[str, str], view: View) -> PathData:
    """A circle or an ellipse."""
    x, y = _length(values, "cx", view) or 0.0, _length(values, "cy", view) or 0.0
    if tag == "circle":
        rx = ry = _length(values, "r", view) or 0.0
    else:
        rx, ry = _radii(values, view)
    if min(rx, ry) < 0:
        raise UnreadableError("a negative radius")
    if min(rx, ry) == 0:
        return _NONE
    end = (x + rx, y)
    arc = Arc(center=(x, y), u=(rx, 0.0), v=(0.0, ry), start_rad=0.0, sweep_rad=2 * math.pi, end=end)
    return _one(Subpath(start=end, segments=(arc,), closed=True))


def _radii(values: dict[str, str], view: View) -> tuple[float, float]:
    """Both radii; where one is missing it is like the other."""
    rx, ry = _length(values, "rx", view), _length(values, "ry", view)
    return (rx if rx is not None else ry) or 0.0, (ry if ry is not None else rx) or 0.0


def _rect(values: dict[str, str], view: View) -> PathData:
    """A rectangle, its corners rounded or not.

    Source: SVG 1.1, 9.2: radii are at most half a side; a missing one is like the other.
    """
    x, y = _length(values, "x", view) or 0.0, _length(values, "y", view) or 0.0
    w, h = _length(values, "width", view) or 0.0, _length(values, "height", view) or 0.0
    rx, ry = _radii(values, view)
    if min(w, h, rx, ry) < 0:
        raise UnreadableError("a negative size")
    if min(w, h) == 0:
        return _NONE
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if min(rx, ry) == 0:
        corners = [(x + w, y), (x + w, y + h), (x, y + h)]
        return _one(Subpath(start=(x, y), segments=tuple(Line(end=c) for c in corners), closed=True))
    left, right, top, bottom = x + rx, x + w - rx, y + ry, y + h - ry
    ends = [
        ((right, y), (right, top), (x + w, top)),
        ((x + w, bottom), (right, bottom), (right, y + h)),
        ((left, y + h), (left, bottom), (x, bottom)),
        ((x, top), (left, top), (left, y)),
    ]
    segments: list[Segment] = []
    at = (left, y)
    for k, (line_end, center, end) in enumerate(ends):
        if math.dist(at, line_end) > 0:
            segments.append(Line(end=line_end))
        quarter = math.pi / 2
        segments.append(
            Arc(
                center=center,
                u=(rx, 0.0),
                v=(0.0, ry),
                start_rad=(k - 1) * quarter,
                sweep_rad=quarter,
                end=end,
            )
        )
        at = end
    return _one(Subpath(start=(left, y), segments=tuple(segments), closed=True))
