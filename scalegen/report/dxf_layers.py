"""What each layer of the sheets' drawings is, between which heights it is cut, and which stages cut it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from scalegen.design import Scale
from scalegen.machining.bridges import Bridges
from scalegen.machining.mixed import Shared
from scalegen.machining.stages import Stage
from scalegen.model import Work
from scalegen.report.record_scale import Data
from scalegen.sheet.layout import SheetLayout

_SAME_DIGITS = 6
"""Decimals of a depth in mm that count when layers are compared."""


@dataclass(frozen=True, kw_only=True)
class _Row:
    """One layer: what it is, the works that cut along it, the heights where no stage tells them."""

    layer: str
    what: str
    works: tuple[Work, ...] = ()
    from_mm: float | None = None
    to_mm: float | None = None


def dxf_layer_records(
    scale: Scale, stages: Sequence[Stage], layouts: Sequence[SheetLayout], bridges: Sequence[Bridges] = ()
) -> list[Data]:
    """The layers that have something on them, in the order of the drawing.

    Args:
        scale: What is drawn.
        stages: The plan.
        layouts: The sheets.
        bridges: Tabs of the sheets.

    Returns:
        For each layer ``layer``, ``what``, ``patterns`` (names), ``stages`` (names, in order), and where it
        is cut or kept ``from_above_bed_mm``, ``to_above_bed_mm``, and the same below the top of the blank,
        ``from_below_top_mm``, ``to_below_top_mm``; None for layers that say where something is and no more.
    """
    return [_record(row, scale, stages) for row in _rows(scale, layouts, bridges)]


def shared_layer_records(
    scales: Sequence[Scale],
    shared: Sequence[Shared],
    layouts: Sequence[SheetLayout],
    bridges: Sequence[Bridges] = (),
) -> list[Data]:
    """The layers of a job of several patterns: one row where they are alike, else a row for each pattern.

    Args:
        scales: The patterns' scales, numbered as in ``shared``.
        shared: The stages of the job, which the rows name.
        layouts: The sheets.
        bridges: Tabs of the sheets.

    Returns:
        As :func:`dxf_layer_records`; ``patterns`` has the names of those that a row is for.
    """
    rows: dict[tuple[object, ...], Data] = {}
    order: list[str] = []
    for number, scale in enumerate(scales):
        own = [replace(stage, name=each.stage.name) for each in shared for k, stage in each.of if k == number]
        place = 0
        held = bridges_of(scale.pattern.name, layouts, bridges)
        for row in dxf_layer_records(scale, own, layouts, held):
            if row["layer"] not in order:
                order.insert(place, row["layer"])
            place = order.index(row["layer"]) + 1
            rows.setdefault(_alike(row), {**row, "patterns": []})["patterns"] += row["patterns"]
    return sorted(rows.values(), key=lambda row: order.index(row["layer"]))


def bridges_of(
    pattern: str, layouts: Sequence[SheetLayout], bridges: Sequence[Bridges]
) -> tuple[Bridges, ...]:
    """Tabs of the sheets that begin or end at a scale of one pattern, sheet by sheet."""
    return tuple(
        each.at([place.label for place in layout.placements if place.pattern == pattern])
        for layout, each in zip(layouts, bridges, strict=bool(bridges))
    )


def _alike(row: Mapping[str, Any]) -> tuple[object, ...]:
    """What is the same for layers that can be told in one row."""
    ends = (row["from_below_top_mm"], row["to_below_top_mm"])
    depths = (None if end is None else round(end, _SAME_DIGITS) for end in ends)
    return (row["layer"], row["what"], *depths, *row["stages"])


def _rows(scale: Scale, layouts: Sequence[SheetLayout], bridges: Sequence[Bridges]) -> Iterator[_Row]:
    stepped, back, top = scale.stepped, scale.back_allowance_mm, scale.stack.used_mm
    proud = stepped is not None and stepped.step_mm > 0
    yield _Row(
        layer="outline-as-cut",
        what="down to the layers that stand proud" if proud else "all the way through",
        works=("liner",) if proud else ("outlines",),
    )
    yield _Row(layer="outline-finished", what="the handle once it is sanded on the knife; not cut")
    if stepped is not None:
        what = "the layers that stand proud, all the way through" if proud else "the layers set in; not cut"
        yield _Row(layer="liner-outline", what=what, works=("outlines",) if proud else ())
    front = scale.pattern.front
    foot = back + front.land_mm if front.treatment == "bevel" else None
    yield _Row(layer="front-edge", what="the front, all the way through", works=("outlines",), from_mm=foot)
    if front.treatment != "square":
        low = foot if foot is not None else back + scale.thickness_mm - front.radius_mm
        yield _Row(
            layer="bevel-start",
            what="where the front's treatment leaves the face; it falls from here to the front-edge",
            works=("rough", "shape"),
            from_mm=back + scale.thickness_mm,
            to_mm=low,
        )
    yield _Row(layer="reveals", what="where layers will show; not cut")
    if any(not hole.is_blind for hole in scale.holes):
        yield _Row(layer="pin-holes", what="through holes", works=("pin holes",))
    if any(hole.head_hole_mm for hole in scale.holes):
        yield _Row(layer="head-recesses", what="recesses for heads, from the face", works=("recesses",))
    if scale.pattern.relief is not None:
        yield _Row(layer="grooves", what="grooves in the face", works=("grooves",))
    tabs = [tab for each in bridges for tab in each.tabs]
    if tabs:
        high = tabs[0].height_mm
        what = "tabs: left standing, cut by hand at the end"
        yield _Row(layer="tabs", what=what, from_mm=high, to_mm=0.0)
    yield _Row(layer="reference-pad", what="never cut: full height for zeroing", from_mm=top, to_mm=0.0)
    yield _Row(layer="blank", what="the blank's edge and holes", from_mm=top, to_mm=0.0)
    if any(layout.left_over for layout in layouts):
        yield _Row(layer="left-over", what="pieces worth keeping; not cut")
    if any(layout.zones for layout in layouts):
        yield _Row(layer="keep-out", what="flaws and holes that nothing lies on")
    yield _Row(layer="origin", what="X0 Y0")
    yield _Row(layer="labels", what="labels; not cut")


def _record(row: _Row, scale: Scale, stages: Sequence[Stage]) -> Data:
    own = [stage for stage in stages if stage.does in row.works and stage.is_from_blank]
    high, low = row.from_mm, row.to_mm
    if own:
        high = max(stage.from_mm for stage in own) if high is None else high
        low = min(stage.to_mm for stage in own) if low is None else low
    top = scale.stack.used_mm
    return {
        "layer": row.layer,
        "what": row.what,
        "patterns": [scale.pattern.name],
        "stages": [stage.name for stage in own],
        "from_above_bed_mm": high,
        "to_above_bed_mm": low,
        "from_below_top_mm": None if high is None else top - high,
        "to_below_top_mm": None if low is None else top - low,
    }
