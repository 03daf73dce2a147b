"""The entities of a drawing as they are seen: blocks put in their places, hidden things left out.

Source: the DXF reference, INSERT and LAYER (from memory). A thing on layer "0" inside a block goes by the
layer of the INSERT; what is inserted on a frozen layer is not shown at all.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from scalegen.outline.drawing import Box, LeftOut, UnreadableError
from scalegen.outline.dxf_entities import NO_OUTLINE, READERS, path_of
from scalegen.outline.dxf_records import Block, Content, Record
from scalegen.outline.dxf_tags import TooMuchError
from scalegen.outline.paths import FlatPath, laid_down, moved, plane_frame
from scalegen.outline.ring import FloatArray

DEEPEST = 24
MOST_CURVES = 7_000
MOST_POINTS = 100_000
MOST_VISITS = 400_000
INSERT_COUNTS = 50


@dataclass(frozen=True, kw_only=True, eq=False)
class _Place:
    """Where and on what layer the things of a block appear.

    Attributes:
        matrix: (4, 4) world from block.
        layer: Layer that "0" stands for.
        inside: Names of the blocks this one is inside of, itself included.
    """

    matrix: FloatArray
    layer: str
    inside: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Step:
    """One thing come upon: a record at its place, or one that is left out and why."""

    record: Record
    place: _Place
    reason: str = ""
    curve: bool = False


def curves_of(content: Content) -> tuple[list[FlatPath], list[LeftOut]]:
    """All curves of the model space, laid down, in the drawing's unit, and what is not among them.

    Raises:
        TooMuchError: There are more than an outline and what is around it can have.
    """
    kept: list[_Step] = []
    left_out: list[LeftOut] = []
    start = _Place(matrix=np.eye(4), layer="0", inside=())
    visits = points = 0
    for step in _walk(content, content.entities, start):
        visits += INSERT_COUNTS if step.record.kind == "INSERT" else 1
        if visits > MOST_VISITS:
            raise TooMuchError(f"more than {MOST_VISITS} entities, counting what blocks repeat")
        if step.reason:
            left_out.append(LeftOut(kind=step.record.kind, reason=step.reason, curve=step.curve))
            continue
        if step.record.kind == "INSERT":
            continue
        if len(kept) == MOST_CURVES:
            raise TooMuchError(f"more than {MOST_CURVES} lines and curves")
        points += len(step.record.codes) // 2 + len(step.record.parts)
        if points > MOST_POINTS:
            raise TooMuchError(f"more than {MOST_POINTS} points")
        kept.append(step)
    paths: list[FlatPath] = []
    for step in kept:
        try:
            paths.append(laid_down(moved(path_of(step.record), step.place.matrix)))
        except UnreadableError as reason:
            left_out.append(_unread(step, str(reason)))
        except (ArithmeticError, LookupError, ValueError, np.linalg.LinAlgError):
            left_out.append(_unread(step, "damaged"))
    return paths, left_out


def _walk(content: Content, records: tuple[Record, ...], place: _Place) -> Iterator[_Step]:
    """Everything in some records, and in the blocks they insert; each INSERT itself comes too."""
    for record in records:
        layer = record.text(8, "0")
        layer = place.layer if layer == "0" else layer
        hidden = _hidden(content, record, layer)
        if hidden:
            yield _Step(record=record, place=place, reason=hidden)
        elif record.kind in NO_OUTLINE:
            yield _Step(record=record, place=place, reason="no outline")
        elif record.kind == "INSERT":
            yield from _inserted(content, record, replace(place, layer=layer))
        elif record.kind not in READERS:
            yield _Step(record=record, place=place, reason="cannot be read", curve=True)
        else:
            yield _Step(record=record, place=place)


def _hidden(content: Content, record: Record, layer: str) -> str:
    """Why a record does not show; empty when it does. A layer that is off hides no block as a whole."""
    if layer.lower() in content.frozen:
        return f"layer {layer!r} is off or frozen"
    if layer.lower() in content.off and record.kind != "INSERT":
        return f"layer {layer!r} is off or frozen"
    try:
        return "invisible" if record.whole(60) else ""
    except UnreadableError:
        return ""


def _inserted(content: Content, record: Record, place: _Place) -> Iterator[_Step]:
    """What an INSERT puts into the drawing."""
    name = record.text(2).lower()
    block = content.blocks.get(name)
    reason = ""
    if record.damaged:
        reason = "damaged"
    elif name in place.inside:
        reason = "a block that contains itself"
    elif len(place.inside) >= DEEPEST:
        reason = f"blocks more than {DEEPEST} deep"
    elif block is None or block.outside:
        reason = "a block that is not in this file"
    if reason or block is None:
        yield _Step(record=record, place=place, reason=reason, curve=True)
        return
    try:
        matrices = _matrices(record, block)
    except UnreadableError as error:
        yield _Step(record=record, place=place, reason=str(error), curve=True)
        return
    inside = (*place.inside, name)
    for matrix in matrices:
        yield _Step(record=record, place=place)
        yield from _walk(
            content, block.records, _Place(matrix=place.matrix @ matrix, layer=place.layer, inside=inside)
        )


def _matrices(record: Record, block: Block) -> Iterator[FloatArray]:
    """Where a block goes: (4, 4) for each place of its array.

    Raises:
        UnreadableError: A number is missing or makes no sense.
    """
    scales = [record.number(code, 1.0) for code in (41, 42, 43)]
    angle = np.radians(record.number(50, 0.0))
    columns, rows = max(1, record.whole(70, 1)), max(1, record.whole(71, 1))
    apart_x, apart_y = record.number(44, 0.0), record.number(45, 0.0)
    frame = plane_frame(record.place(210, (0.0, 0.0, 1.0)))
    to_place, turned, scaled, from_base = np.eye(4), np.eye(4), np.diag([*scales, 1.0]), np.eye(4)
    to_place[:3, 3] = record.place(10)
    turned[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
    from_base[:3, 3] = -np.array(block.base)

    def at(column: int, row: int) -> FloatArray:
        shifted = np.eye(4)
        shifted[:2, 3] = column * apart_x, row * apart_y
        return np.asarray(frame @ to_place @ turned @ shifted @ scaled @ from_base)

    return (at(column, row) for row in range(rows) for column in range(columns))


def _unread(step: _Step, reason: str) -> LeftOut:
    """A curve that could not be taken, and where it is as far as its points tell."""
    return LeftOut(kind=step.record.kind, reason=reason, curve=True, box_mm=_box(step))


def _box(step: _Step) -> Box | None:
    """Box of the points a record names, in the drawing's unit; None when that tells nothing."""
    try:
        named = [point for code in (10, 11) for point in step.record.places(code)]
        named += [vertex.place(10) for vertex in step.record.parts]
    except UnreadableError:
        return None
    if step.record.kind not in {"LINE", "SPLINE", "LWPOLYLINE", "POLYLINE"} or not named:
        return None
    matrix = step.place.matrix
    points = np.array(named) @ matrix[:3, :3].T + matrix[:3, 3]
    (x0, y0), (x1, y1) = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)
