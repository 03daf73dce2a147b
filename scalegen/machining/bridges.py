"""Tabs on a sheet: for every scale places where a bridge leads to something that stays, and what they hold.

Scales lie close: what a cutter leaves between two of them may be a strip that is cut off itself. So a tab
leads on until it meets the blank or another scale, there too off the front and the pins, and whether every
scale hangs together with the blank is looked at afterwards. A tab between two scales holds both. Where
patterns share a sheet, no tab leads to a scale of a pattern that has none: nothing would hold that scale.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.machining.stages import Stage
from scalegen.machining.tabs import (
    HEIGHT_MM,
    KEEP_OFF_MM,
    WIDTH_MM,
    Tab,
    Way,
    off_front_and_pins,
    require_low,
    spread,
    walk,
)
from scalegen.machining.target import own_points, placed_points, placed_ring
from scalegen.model import Finding, JobSpec, Level, ShopRules
from scalegen.outline.ring import FloatArray
from scalegen.sheet.layout import Placement, SheetLayout
from scalegen.units import format_length

BoolArray = npt.NDArray[np.bool_]
Rays = npt.NDArray[np.object_]

BLANK = "blank"
"""What a tab leads to when it leads to no other scale."""

_STEP_MM = 0.5
_FLAT_MM = 0.01
_FOOTING_MM = 0.5
_WIDER_MM = 0.2
_CRUMB_MM2 = 4.0
_INSIDE_MM = 0.1
_EVEN_ENOUGH = 0.6
_STURDY_MM = 3.0
_SHARED = 0.25


@dataclass(frozen=True, kw_only=True)
class TabsAsked:
    """How many tabs each scale is to have, and how large; ``count`` 0 for none."""

    count: int = 0
    width_mm: float = WIDTH_MM
    height_mm: float = HEIGHT_MM


@dataclass(frozen=True, kw_only=True)
class Bridge:
    """One tab of one scale on a sheet.

    Attributes:
        label: Of the scale's placement.
        own_mm: Its foot on the outline as cut, in the frame of the left scale.
        along_mm: The way along that outline to it, counter-clockwise from where the outline begins.
        tab: The tab in the sheet frame; it ends in what it leads to.
        to: Label of the scale it leads to, or :data:`BLANK`.
    """

    label: str
    own_mm: tuple[float, float]
    along_mm: float
    tab: Tab
    to: str


@dataclass(frozen=True, kw_only=True)
class Bridges:
    """The tabs of a sheet, by scale in the order of the placements, and what there is to say about them."""

    bridges: tuple[Bridge, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def tabs(self) -> tuple[Tab, ...]:
        """The tabs alone, in the sheet frame."""
        return tuple(bridge.tab for bridge in self.bridges)

    def at(self, labels: Collection[str]) -> "Bridges":
        """Those that begin or end at one of some scales, without the findings."""
        return Bridges(bridges=tuple(each for each in self.bridges if {each.label, each.to} & {*labels}))


@dataclass(frozen=True, kw_only=True, eq=False)
class Held:
    """One pattern on a sheet, and the tabs that each of its scales is to have."""

    scale: Scale
    asked: TabsAsked

    @property
    def name(self) -> str:
        """The pattern's."""
        return self.scale.pattern.name


def tabs_asked(spec: JobSpec, rules: ShopRules) -> TabsAsked:
    """The tabs of a job: as it asks for, else as the shop has them."""
    return TabsAsked(
        count=rules.tabs if spec.tabs is None else spec.tabs,
        width_mm=rules.tab_width_mm,
        height_mm=rules.tab_height_mm,
    )


def around_mm(stages: Sequence[Stage]) -> float:
    """Diameter of the widest cutter that goes round the parts, all the way down."""
    return max((2 * stage.shape.radius_mm for stage in stages if stage.does == "outlines"), default=0.0)


def plan_bridges(scale: Scale, layout: SheetLayout, asked: TabsAsked, cutter_mm: float) -> Bridges:
    """Place the tabs of every scale on a sheet.

    Args:
        scale: What lies on the sheet.
        layout: Where.
        asked: How many tabs, and their size.
        cutter_mm: Diameter of the cutter that goes round.

    Returns:
        The tabs; findings that stop where there is no room for as many, warnings where scales hang together
        but not with the blank.
    """
    return plan_shared_bridges([Held(scale=scale, asked=asked)], layout, cutter_mm)


def plan_shared_bridges(lots: Sequence[Held], layout: SheetLayout, cutter_mm: float) -> Bridges:
    """As :func:`plan_bridges`, for a sheet with scales of several patterns, each with tabs of its own.

    Args:
        lots: The patterns; where there is one, all scales are of it.
        layout: Where they lie.
        cutter_mm: Diameter of the widest cutter that goes round.
    """
    high = tuple(found for lot in lots for found in _too_high(lot, layout, alone=len(lots) == 1))
    if high or all(lot.asked.count <= 0 for lot in lots):
        return Bridges(findings=high)
    named = {lot.name: lot for lot in lots}
    here = tuple(named.get(place.pattern, lots[0]) for place in layout.placements)
    ways = {lot.name: walk(lot.scale, _STEP_MM) for lot in lots if lot.asked.count > 0}
    ground = _Ground.of(here, layout, cutter_mm)
    found: list[Bridge] = []
    short: dict[str, int] = {}
    for number, placement in enumerate(layout.placements):
        asked = here[number].asked
        if asked.count <= 0:
            continue
        way = ways[here[number].name]
        ends = _ends(here, layout, number, way=way, ground=ground)
        chosen = _chosen(way, ends, asked)
        if chosen is None:
            short[placement.label] = _most(way, ends, asked)
            continue
        shared = _shared(found, placement, way, ends, asked)
        rows = [row for row in chosen if not shared[row]]
        found += [_bridge(layout, placement, row, way=way, ends=ends, asked=asked) for row in rows]
    owners = {place.label: lot for place, lot in zip(layout.placements, here, strict=True)}
    findings = [
        *_no_room(short, owners, layout, alone=len(lots) == 1),
        *_adrift(found, short, owners, layout, cutter_mm),
    ]
    return Bridges(bridges=tuple(found), findings=tuple(findings))


# ---------------------------------------------------------------------------------- what is around


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ground:
    """A sheet after the outlines are cut: the scales, and the largest piece of what stays of the blank."""

    parts: tuple[shapely.Polygon, ...]
    frame: shapely.Geometry
    reach_mm: float

    @classmethod
    def of(cls, here: Sequence[Held], layout: SheetLayout, cutter_mm: float) -> "_Ground":
        parts = tuple(
            shapely.Polygon(placed_ring(lot.scale.footprint, place).flatten(_FLAT_MM))
            for lot, place in zip(here, layout.placements, strict=True)
        )
        gone = shapely.union_all([part.buffer(cutter_mm + _WIDER_MM) for part in parts])
        blank = shapely.Polygon(layout.edge.flatten(_FLAT_MM))
        holes = [shapely.Polygon(hole.flatten(_FLAT_MM)) for hole in layout.holes]
        stays = blank.difference(shapely.union_all([gone, *holes]))
        pieces = [piece for piece in shapely.get_parts(stays) if piece.area >= _CRUMB_MM2]
        frame = max(pieces, key=lambda piece: float(piece.area), default=shapely.Polygon())
        # A thin sliver along the edge of the blank breaks off, and nobody knows what a flaw holds.
        flaws = [shapely.Polygon(zone.ring.flatten(_FLAT_MM)) for zone in layout.zones if zone.kind == "flaw"]
        sound = frame.difference(shapely.union_all(flaws))
        sturdy = sound.buffer(-_STURDY_MM / 2).buffer(_STURDY_MM / 2).intersection(sound)
        return cls(parts=parts, frame=sturdy, reach_mm=2 * cutter_mm + layout.spacing_mm)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ends:
    """Where a tab from each point of an outline would end.

    Attributes:
        length_mm: (n,) how far it leads; infinite where there may be none.
        to: (n,) number of the placement it ends at, -1 for the blank.
        points: (n, 2) the feet in the sheet frame.
        out_rad: (n,) directions away from the part.
    """

    length_mm: FloatArray
    to: FloatArray
    points: FloatArray
    out_rad: FloatArray


def _ends(here: Sequence[Held], layout: SheetLayout, number: int, *, way: Way, ground: _Ground) -> _Ends:
    scale, asked = here[number].scale, here[number].asked
    placement, keep = layout.placements[number], asked.width_mm / 2 + KEEP_OFF_MM
    points = placed_points(way.points, placement)
    away = way.heading_rad - np.pi / 2
    out = placed_points(way.points + np.column_stack([np.cos(away), np.sin(away)]), placement) - points
    across = np.column_stack([-out[:, 1], out[:, 0]])
    # The middle of a tab and both its sides.
    rays = [
        shapely.linestrings(np.stack([foot, foot + ground.reach_mm * out], axis=1))
        for foot in (points + side * asked.width_mm / 2 * across for side in (0.0, -1.0, 1.0))
    ]
    others = [k for k in range(len(ground.parts)) if k != number]
    targets = [ground.frame, *(ground.parts[k] for k in others)]
    first = np.stack([[_first_mm(ray, target) for ray in rays] for target in targets])
    nearest = first.argmin(axis=0)
    length = first.min(axis=0).max(axis=0)
    # All of it must end at one and the same thing, and none of it at the scale that it starts from.
    fits = (nearest == nearest[0]).all(axis=0) & np.isfinite(length)
    fits &= off_front_and_pins(scale, way.points, keep)
    fits &= ~shapely.intersects(rays[0], ground.parts[number].buffer(-_INSIDE_MM))
    to = np.array([-1, *others])[nearest[0]]
    for k in others:
        if here[k].asked.count <= 0:
            fits &= to != k
            continue
        ends = points + np.where(fits, first[:, 0].min(axis=0), 0.0)[:, None] * out
        fits &= (to != k) | off_front_and_pins(here[k].scale, own_points(ends, layout.placements[k]), keep)
    return _Ends(
        length_mm=np.where(fits, length, np.inf),
        to=to,
        points=points,
        out_rad=np.arctan2(out[:, 1], out[:, 0]),
    )


def _first_mm(rays: Rays, target: shapely.Geometry) -> FloatArray:
    """How far along each ray a polygon begins, (n,); infinite where it is missed."""
    gaps: FloatArray = shapely.distance(shapely.get_point(rays, 0), shapely.intersection(rays, target))
    return np.where(np.isnan(gaps), np.inf, gaps)


# --------------------------------------------------------------------------------------- choosing


def _chosen(way: Way, ends: _Ends, asked: TabsAsked) -> list[int] | None:
    """Rows of the way for the tabs: to the blank alone where that is even enough; None without room."""
    least = 2 * asked.width_mm
    any_rows, any_gap = spread(way, np.isfinite(ends.length_mm), asked.count)
    rows, gap = spread(way, np.isfinite(ends.length_mm) & (ends.to < 0), asked.count)
    if gap >= max(least, _EVEN_ENOUGH * any_gap):
        return rows
    return any_rows if any_gap >= least else None


def _most(way: Way, ends: _Ends, asked: TabsAsked) -> int:
    """How many tabs there is room for, fewer than asked."""
    for count in range(asked.count - 1, 0, -1):
        if spread(way, np.isfinite(ends.length_mm), count)[1] >= 2 * asked.width_mm:
            return count
    return 0


def _shared(
    found: Sequence[Bridge], placement: Placement, way: Way, ends: _Ends, asked: TabsAsked
) -> BoolArray:
    """Which points of an outline lie near the end of a tab that another scale has already."""
    near: BoolArray = np.zeros(len(way.along_mm), dtype=np.bool_)
    for tab in (bridge.tab for bridge in found if bridge.to == placement.label):
        reach = tab.length_mm - _FOOTING_MM
        end = (tab.x_mm + reach * np.cos(tab.out_rad), tab.y_mm + reach * np.sin(tab.out_rad))
        at = way.along_mm[int(np.hypot(*(ends.points - end).T).argmin())]
        off = np.abs(way.along_mm - at)
        near |= np.minimum(off, way.total_mm - off) < _SHARED * way.total_mm / asked.count
    return near


def _bridge(
    layout: SheetLayout, placement: Placement, row: int, *, way: Way, ends: _Ends, asked: TabsAsked
) -> Bridge:
    x, y = way.points[row].tolist()
    to = int(ends.to[row])
    return Bridge(
        label=placement.label,
        own_mm=(x, y),
        along_mm=float(way.along_mm[row]),
        tab=Tab(
            x_mm=float(ends.points[row, 0]),
            y_mm=float(ends.points[row, 1]),
            out_rad=float(ends.out_rad[row]),
            width_mm=asked.width_mm,
            height_mm=asked.height_mm,
            length_mm=float(ends.length_mm[row]) + _FOOTING_MM,
        ),
        to=BLANK if to < 0 else layout.placements[to].label,
    )


# -------------------------------------------------------------------------------------- what to say


def _too_high(lot: Held, layout: SheetLayout, *, alone: bool) -> Iterator[Finding]:
    """Tabs that would reach the face of a pattern's scales."""
    try:
        if lot.asked.count > 0:
            require_low(lot.scale, lot.asked.height_mm)
    except GeometryError as error:
        about = "tabs" if alone else f"tabs of {lot.name}"
        yield _found("tab-height", "stop", about, layout.name, error.message, error.remedy)


def _no_room(
    short: Mapping[str, int], owners: Mapping[str, Held], layout: SheetLayout, *, alone: bool
) -> Iterator[Finding]:
    for label, most in short.items():
        asked, units = owners[label].asked, owners[label].scale.pattern.units
        many = f"{asked.count} tab{'s' * (asked.count != 1)} of {format_length(asked.width_mm, units)}"
        fewer = f"{most}" if alone else f"{owners[label].name}={most}"
        yield _found(
            "tabs-no-room",
            "stop",
            label,
            layout.name,
            f"there is no room for {many} off the front, the pins and what lies beside it; {most} would go",
            f"give --tabs {fewer}, narrower tabs in shop.toml, or more spacing or margin",
        )


def _adrift(
    bridges: Sequence[Bridge],
    short: Mapping[str, int],
    owners: Mapping[str, Held],
    layout: SheetLayout,
    cutter_mm: float,
) -> Iterator[Finding]:
    """Scales whose tabs lead to one another, and none of them to the blank."""
    hung, before = {BLANK}, 0
    while len(hung) > before:
        before = len(hung)
        hung |= {bridge.label for bridge in bridges if bridge.to in hung}
        hung |= {bridge.to for bridge in bridges if bridge.label in hung}
    asking = [label for label, lot in owners.items() if lot.asked.count > 0]
    loose = [label for label in asking if label not in hung | short.keys()]
    if loose:
        units = owners[loose[0]].scale.pattern.units
        yield _found(
            "tabs-not-to-blank",
            "warning",
            ", ".join(loose),
            layout.name,
            "tabs hold them to one another, but not to the blank: nothing of it stays beside them",
            f"give a margin of {format_length(cutter_mm + 2.0, units)} or more, or hold them down as well",
        )


def _found(code: str, level: Level, *words: str) -> Finding:
    about, where, message, remedy = words
    return Finding(code=code, level=level, about=about, where=where, message=message, remedy=remedy)
