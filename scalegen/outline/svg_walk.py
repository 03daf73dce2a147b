"""Walk through the elements of an SVG drawing: what is shown, where, and what is not taken."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from scalegen.outline.drawing import LeftOut, UnreadableError
from scalegen.outline.ring import FloatArray
from scalegen.outline.svg_css import Sheet, sheet_of, style_of
from scalegen.outline.svg_segments import Subpath, mapped
from scalegen.outline.svg_shapes import SHAPES, View, read_shape
from scalegen.outline.svg_tree import DEEPEST, Node
from scalegen.outline.svg_values import around_origin, transform, user_length
from scalegen.outline.svg_view import ViewBox, fitted, view_box

MOST_SEGMENTS = 100_000
MOST_SUBPATHS = 7_000
MOST_VISITS = 30_000

_LARGEST = 1e12
_GROUPS = frozenset({"g", "a", "switch"})
_NOT_CURVES = frozenset({"text", "image", "foreignObject", "video", "audio", "canvas", "iframe"})
_PAINT = frozenset({"linearGradient", "radialGradient", "pattern", "filter", "meshgradient", "hatch"})
_HELPERS = frozenset({"clipPath", "mask", "marker"})
_MOVING = frozenset({"animate", "animateTransform", "animateMotion", "set"})
_TYPED = frozenset(
    {"d", "points", "x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "x1", "y1", "x2", "y2"}
)


class TooMuchError(Exception):
    """The drawing is refused: it says why."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Shown:
    """A subpath where it is shown, in the units of the outermost view box, and what drew it."""

    subpath: Subpath
    tag: str
    line: int


@dataclass(kw_only=True)
class Walk:
    """What walking through found.

    Attributes:
        shown: Subpaths.
        left_out: Elements that were not taken.
        clipped: Elements with a clip path or mask, which are taken whole.
        moving: Animations, which are not followed.
        unread_rules: Style rules that were not followed.
    """

    shown: list[Shown] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    clipped: int = 0
    moving: int = 0
    unread_rules: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class _Step:
    """An element still to be looked at, and what it takes over from those around it."""

    node: Node
    matrix: FloatArray
    view: View
    visible: bool
    depth: int
    uses: tuple[int, ...] = ()
    size: dict[str, str] = field(default_factory=dict)


def walk(root: Node) -> Walk:
    """Everything a drawing shows.

    Args:
        root: The outermost element.

    Returns:
        Subpaths in the units of the outermost view box, y down.

    Raises:
        TooMuchError: An element uses itself, or there is too much to draw.
    """
    nodes = list(_all(root))
    ids: dict[str, Node] = {}
    for node in nodes:
        ids.setdefault(node.values.get("id", ""), node)
    sheet = sheet_of(["".join(node.text) for node in nodes if node.tag == "style"])
    found = Walk(unread_rules=sheet.unread)
    stack = [_Step(node=root, matrix=np.eye(3), view=View(width=None, height=None), visible=True, depth=0)]
    count = segments = 0
    while stack:
        step = stack.pop()
        count += 1
        if count > MOST_VISITS or step.depth > DEEPEST:
            raise TooMuchError(f"more than {MOST_VISITS} elements, or too deep, once every <use> is followed")
        before = len(found.shown)
        try:
            stack += reversed(_taken(step, found, ids, sheet))
        except UnreadableError as reason:
            found.left_out.append(_left_out(step.node, str(reason), curve=True))
        segments += sum(len(item.subpath.segments) for item in found.shown[before:])
        if segments > MOST_SEGMENTS:
            raise TooMuchError(f"more than {MOST_SEGMENTS} lines and curves")
        if len(found.shown) > MOST_SUBPATHS:
            raise TooMuchError(f"more than {MOST_SUBPATHS} shapes")
    return found


def _all(root: Node) -> Iterator[Node]:
    """Every element, in the order of the file."""
    stack = [root]
    while stack:
        node = stack.pop()
        yield node
        stack += reversed(node.children)


def _left_out(node: Node, reason: str, *, curve: bool) -> LeftOut:
    place = f", line {node.line}" if curve and "hidden" not in reason else ""
    return LeftOut(kind=f"<{node.tag}>", reason=f"{reason}{place}", curve=curve)


def _taken(step: _Step, found: Walk, ids: dict[str, Node], sheet: Sheet) -> list[_Step]:
    """Take one element; the elements to look at next."""
    node = step.node
    if node.tag in _NOT_CURVES | _PAINT | _HELPERS | _MOVING or not node.tag:
        _note_other(node, found)
        return []
    if node.tag not in SHAPES | _GROUPS | {"svg", "use", "symbol", "defs"}:
        return []
    style = style_of(node, sheet)

    def value(name: str) -> str:
        return style.get(name, node.values.get(name, "")).strip()

    if value("display") == "none":
        found.left_out.append(_left_out(node, "hidden: display is none", curve=True))
        return []
    if node.tag == "defs" or (node.tag == "symbol" and not step.size):
        # Only what is not a shape is worth a word here; shapes are drawn where they are used.
        for child in node.children:
            _note_other(child, found)
        return []
    found.clipped += any(value(name) not in {"", "none"} for name in ("clip-path", "mask"))
    visibility = value("visibility")
    visible = step.visible if visibility in {"", "inherit"} else visibility == "visible"
    matrix = step.matrix
    if step.depth or node.tag != "svg":
        own = transform(value("transform"))
        if value("transform-origin"):
            own = around_origin(own, value("transform-origin"))
        matrix = _after(matrix, own)
    here = replace(step, matrix=matrix, visible=visible, depth=step.depth + 1, size={})
    if node.tag in SHAPES:
        _draw(here, style, found)
        return []
    if node.tag == "use":
        return _used(here, ids)
    if node.tag in _GROUPS:
        return _inside(here)
    return _inside(_into_view(here, step.size, outermost=step.depth == 0))


def _after(outer: FloatArray, inner: FloatArray) -> FloatArray:
    """The map that does ``inner`` first.

    Raises:
        UnreadableError: Its numbers are beyond reason.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        both = outer @ inner
    if not np.abs(both).max() <= _LARGEST:
        raise UnreadableError("transforms with numbers beyond reason")
    return both


def _note_other(node: Node, found: Walk) -> None:
    """Say what becomes of an element that is no shape."""
    if node.tag in _NOT_CURVES:
        found.left_out.append(_left_out(node, "not a curve", curve=False))
    elif node.tag in _PAINT:
        found.left_out.append(_left_out(node, "only paint", curve=False))
    elif node.tag in _HELPERS:
        found.left_out.append(_left_out(node, "not shown by itself", curve=False))
    elif node.tag in _MOVING:
        found.moving += 1


def _inside(step: _Step) -> list[_Step]:
    """An element's children, which take over what it has."""
    return [replace(step, node=child) for child in step.node.children]


def _draw(step: _Step, style: dict[str, str], found: Walk) -> None:
    """Take a shape."""
    node = step.node
    if not step.visible:
        found.left_out.append(_left_out(node, "hidden: visibility", curve=True))
        return
    for child in node.children:
        _note_other(child, found)
    values = {**node.values, **{name: text for name, text in style.items() if name in _TYPED}}
    data = read_shape(node.tag, values, step.view, MOST_SEGMENTS)
    if data.too_much:
        raise TooMuchError(f"more than {MOST_SEGMENTS} lines and curves")
    shown = [mapped(subpath, step.matrix) for subpath in data.subpaths]
    if not data.fault:
        found.shown += [Shown(subpath=subpath, tag=node.tag, line=node.line) for subpath in shown]
        return
    item = _left_out(node, data.fault, curve=True)
    if shown:
        points = np.vstack([subpath.points() for subpath in shown])
        (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        item = replace(item, box_mm=(x0, y0, x1, y1))
    found.left_out.append(item)


def _used(step: _Step, ids: dict[str, Node]) -> list[_Step]:
    """The element that a ``use`` refers to, moved to its place."""
    values = step.node.values
    href = values.get("href", "").strip()
    if not href.startswith("#"):
        raise UnreadableError(
            "it refers to another file, which is never opened" if href else "it refers to nothing"
        )
    target = ids.get(href[1:])
    if target is None:
        raise UnreadableError(f"there is no {href[:30]!r} in the file")
    if id(target) in step.uses or target is step.node:
        raise TooMuchError(f"the <use> in line {step.node.line} leads back to itself")
    x = user_length(values.get("x", "0"), step.view.width)
    y = user_length(values.get("y", "0"), step.view.height)
    moved = _after(step.matrix, np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]]))
    size = {"used": ""} | {name: text for name, text in values.items() if name in {"width", "height"}}
    uses = (*step.uses, id(target))
    return [replace(step, node=target, matrix=moved, uses=uses, size=size)]


def _into_view(step: _Step, size: dict[str, str], *, outermost: bool) -> _Step:
    """An ``svg`` or ``symbol`` with its own place and view box."""
    values = {**step.node.values, **size}
    box = view_box(values)
    if outermost:
        return replace(step, view=_outermost_view(values, box))
    x, y = (0.0, 0.0)
    if step.node.tag == "svg":
        x = user_length(values.get("x", "0"), step.view.width)
        y = user_length(values.get("y", "0"), step.view.height)
    matrix = _after(step.matrix, np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]]))
    width, height = (
        user_length(text if text not in {"", "auto"} else "100%", whole)
        if text not in {"", "auto"} or whole is not None
        else None
        for text, whole in (
            (values.get("width", "").strip(), step.view.width),
            (values.get("height", "").strip(), step.view.height),
        )
    )
    if box is None:
        return replace(step, matrix=matrix, view=View(width=width, height=height))
    if width is None or height is None:
        raise UnreadableError("the place it is shown in has no known size")
    matrix = _after(matrix, fitted(box, width, height, values.get("preserveAspectRatio", "")))
    return replace(step, matrix=matrix, view=View(width=box.width, height=box.height))


def _outermost_view(values: dict[str, str], box: ViewBox | None) -> View:
    """What percentages refer to in the whole drawing."""
    if box is not None:
        return View(width=box.width, height=box.height)
    found: list[float | None] = []
    for name in ("width", "height"):
        try:
            found.append(user_length(values.get(name, ""), None))
        except UnreadableError:
            found.append(None)
    return View(width=found[0], height=found[1])
