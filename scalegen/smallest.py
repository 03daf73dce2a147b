"""The smallest rectangle of sheet that takes a number of pairs, its pad, ring and margin with it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from scalegen.errors import SheetError, UsageError
from scalegen.export.drawings import footprints
from scalegen.laying import (
    Progress,
    Studied,
    allowed_turns,
    edge_margin_mm,
    how_of,
    round_cutter,
    silent,
    spacing_between,
)
from scalegen.model import Corner, JobSpec, Pad, Side
from scalegen.nest.records import Body, Part, Shape, Stop, onward
from scalegen.nest.smallest import Smallest, Taken, smallest_board
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import PadBox, Placement, SheetLayout
from scalegen.sheet.room import holding
from scalegen.sheet.true_shapes import bodies_of, puts_of
from scalegen.sheet.verify import verify

_PAD = "pad"
_WIDTHS = 12
_LOOKED_INTO = 2
_UP_TO_MM = 0.1
_QUADRANT = 32
_SLIM = 3.0
_FLAT_MM = 0.001
_HALF_TURNED: dict[Corner, Corner] = {
    "lower-left": "lower-left",
    "upper-left": "upper-left",
    "lower-right": "upper-left",
    "upper-right": "lower-left",
}
"""Where a corner at the right comes to when the sheet is turned half round."""


@dataclass(frozen=True, kw_only=True)
class SmallestSheet:
    """A rectangle that takes what was asked for.

    Attributes:
        layout: The rectangle, its sides rounded up to 0.1 mm, with everything on it.
        pairs: How many it takes.
        least_mm2: No rectangle of less area will do; proven.
        least_length_mm: No rectangle of the width asked for is shorter; proven. None where none was.
    """

    layout: SheetLayout
    pairs: int
    least_mm2: float
    least_length_mm: float | None

    @property
    def proven(self) -> bool:
        """Whether nothing smaller is possible, to the 0.1 mm that sides are rounded to."""
        return self.layout.area_mm2 <= self.least_mm2 + _UP_TO_MM * (
            self.layout.length_mm + self.layout.width_mm
        )


@dataclass(frozen=True, kw_only=True)
class _Watch:
    """Who is told what is tried, and who says when to end."""

    progress: Progress
    stop: Stop


def smallest_sheet(
    study: Studied,
    spec: JobSpec,
    *,
    width_mm: float | None = None,
    within_mm: tuple[float, float] | None = None,
    progress: Progress = silent,
    stop: Stop = onward,
) -> SmallestSheet:
    """Look for the rectangle of least area, or of a width the shortest, that takes the pairs of a job.

    The pad may stand anywhere on it, a second one stands in its corner.

    Args:
        study: Scale and tables.
        spec: Pairs and spares, margin, spacing, pads, grain, turns, pairing, effort.
        width_mm: Width of the rectangle; None to choose it.
        within_mm: Largest length and width it may have; None for any.
        progress: Told what is being tried.
        stop: True ends the search with the best so far.

    Raises:
        SheetError: None was found within the limits, or the cutter does not go between the parts.
        UsageError: The cutter is not in the tables.
    """
    cutter = round_cutter(spec, study.shop)
    spec = replace(spec, margin_mm=edge_margin_mm(spec, cutter, study.shop))
    task = _task(study, spec)
    widths = _widths(task, spec, width_mm, within_mm)
    best = _search(task, spec, widths, within_mm, _Watch(progress=progress, stop=stop))
    if best is None:
        raise SheetError(
            f"no rectangle was found that takes {task.pairs} pair{'s' * (task.pairs != 1)}",
            where="sheet",
            remedy="allow a larger one, other turns or pairings, or look longer with --effort",
        )
    layout = _layout(task, spec, best, width_mm)
    faults = verify(
        [layout],
        task.rings,
        spacing_mm=task.spacing_mm,
        margin_mm=_margin_mm(spec),
        keep_clear_mm=task.ring_mm,
        pairs=task.pairs,
        turns_rad=allowed_turns(spec),
        mirrored=spec.pairing == "mirrored",
    )
    if faults:
        raise SheetError(f"the layout did not pass its check: {'; '.join(faults)}", where="sheet")
    area, length = _least(task, spec, width_mm)
    return SmallestSheet(layout=layout, pairs=task.pairs, least_mm2=area, least_length_mm=length)


def require_plain(spec: JobSpec) -> None:
    """Refuse a job, such as one of a batch file, that asks for more than this search can mind.

    Raises:
        UsageError: Places are kept out of.
    """
    if spec.keep_out:
        raise UsageError(
            "the smallest sheet is looked for as a plain rectangle: it has no flaws",
            where="sheet.keep_out",
            remedy="leave it out here; name the pattern instead of the batch file",
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Task:
    """What goes on the rectangle."""

    pattern: str
    rings: Mapping[Side, Ring]
    shapes: tuple[Shape, ...]
    bodies: tuple[Body, ...]
    pairs: int
    spacing_mm: float
    ring_mm: float

    def taken(self, pad: Pad) -> Taken | None:
        """What a second pad and its ring take of a rectangle inside its margin.

        It stands at the left; a sheet with it at the right is one turned half round. See :func:`_turned`.
        """
        if pad.second is None:
            return None
        high = _HALF_TURNED[pad.second].startswith("upper")
        reach = self.ring_mm / math.cos(math.pi / (4 * _QUADRANT))

        def of(width_mm: float) -> shapely.Geometry:
            y = width_mm - pad.height_mm if high else 0.0
            box = shapely.box(0.0, y, pad.width_mm, y + pad.height_mm)
            return box.buffer(reach, quad_segs=_QUADRANT) if reach else box

        return of


def _task(study: Studied, spec: JobSpec) -> _Task:
    """Outlines and counts; the pad is one more body, as large as what it keeps free beyond the spacing."""
    cutter = round_cutter(spec, study.shop)
    spacing_mm = spacing_between(study, spec, cutter)
    ring_mm = max(spacing_mm, cutter.diameter_mm + study.shop.rules.clearance_mm)
    rings = footprints(study.scale)
    pairs = spec.pairs + spec.spares
    scales = tuple(Shape(key=side, points_mm=holding(ring)) for side, ring in rings.items())
    turn = math.pi if _is_turned(spec.pad) else 0.0
    how = how_of(replace(spec, grain_rad=spec.grain_rad - turn), silent, onward)
    box = shapely.box(0.0, 0.0, spec.pad.width_mm, spec.pad.height_mm)
    if ring_mm > spacing_mm:
        reach = (ring_mm - spacing_mm) / math.cos(math.pi / (4 * _QUADRANT))
        box = box.buffer(reach, quad_segs=_QUADRANT)
    pad = Shape(key=_PAD, points_mm=shapely.get_coordinates(shapely.Polygon(box.exterior).exterior)[:-1])
    bodies = bodies_of(scales, spacing_mm, how, pairs)
    return _Task(
        pattern=study.scale.pattern.name,
        rings=rings,
        shapes=(*scales, pad),
        bodies=(*bodies, Body(key=_PAD, parts=(Part(shape=_PAD),), group=_PAD, count=1)),
        pairs=pairs,
        spacing_mm=spacing_mm,
        ring_mm=ring_mm,
    )


def _margin_mm(spec: JobSpec) -> float:
    """The margin of a job, which is stated by now."""
    return spec.margin_mm or 0.0


def _widths(
    task: _Task, spec: JobSpec, width_mm: float | None, within_mm: tuple[float, float] | None
) -> list[float]:
    """Widths inside the margin to look at: the one asked for, or a range from slim to square."""
    margins = 2 * _margin_mm(spec)
    widest = math.inf if within_mm is None else within_mm[1] - margins
    if width_mm is not None:
        return [min(width_mm - margins, widest)]
    area = _grown_mm2(task, spec)
    slimmest = min(_narrowest_mm(task, spec), widest)
    # Where the grain lies more across than along, the slimmest sheets are the widest.
    along = _narrowest_mm(task, spec, along=True)
    slim = area / along if along < slimmest else 0.0
    squarest = min(max(_SLIM**0.5 * math.sqrt(area), 2 * slimmest, slim), widest)
    return [round(float(each), 2) for each in np.geomspace(slimmest, squarest, _WIDTHS)]


def _search(
    task: _Task,
    spec: JobSpec,
    widths: Sequence[float],
    within_mm: tuple[float, float] | None,
    watch: _Watch,
) -> Smallest | None:
    """Every width plainly, then the best of them as hard as was asked."""
    longest = math.inf if within_mm is None else within_mm[0] - 2 * _margin_mm(spec)

    def area(found: Smallest) -> float:
        return (found.length_mm + 2 * _margin_mm(spec)) * (found.width_mm + 2 * _margin_mm(spec))

    def at(width: float, budget: int | None) -> Smallest | None:
        def tell(found: int, most: int, trying: str) -> None:
            del found, most
            watch.progress(f"looking for the smallest sheet: trying {trying} (Ctrl-C keeps the best)")

        try:
            return smallest_board(
                task.bodies,
                shapes=task.shapes,
                spacing_mm=task.spacing_mm,
                width_mm=width,
                seed=spec.seed,
                effort=spec.effort,
                progress=tell,
                stop=watch.stop,
                budget=budget,
                taken=task.taken(spec.pad),
            )
        except SheetError:
            return None

    plain: list[Smallest] = []
    for width in widths:
        if width > 0 and not (watch.stop() and plain):
            watch.progress(f"looking for the smallest sheet: {width:.1f} mm wide (Ctrl-C keeps the best)")
            found = at(width, 0 if len(widths) > 1 else None)
            plain += [found] if found is not None else []
    found_all = list(plain)
    if len(widths) > 1:
        for best in sorted(plain, key=area)[:_LOOKED_INTO]:
            better = None if watch.stop() else at(best.width_mm, None)
            found_all += [better] if better is not None else []
    return min((each for each in found_all if each.length_mm <= longest), key=area, default=None)


def _layout(task: _Task, spec: JobSpec, best: Smallest, width_mm: float | None) -> SheetLayout:
    """The rectangle with its margin, sides rounded up, and everything in the sheet frame."""
    margin = _margin_mm(spec)
    scales = [spot for spot in best.spots if spot.body != _PAD]
    (stand,) = [spot for spot in best.spots if spot.body == _PAD]
    puts = puts_of(scales, task.bodies)
    placements = tuple(
        Placement(
            label=f"{index // 2 + 1}{'L' if put.side == 'left' else 'R'}",
            pattern=task.pattern,
            side=put.side,
            x_mm=put.x_mm + margin,
            y_mm=put.y_mm + margin,
            angle_rad=put.angle_rad,
        )
        for index, put in enumerate(puts)
    )
    pad = spec.pad
    layout = SheetLayout(
        name="sheet-1",
        length_mm=_up(best.length_mm + 2 * margin),
        width_mm=_up(best.width_mm + 2 * margin) if width_mm is None else width_mm,
        margin_mm=margin,
        spacing_mm=task.spacing_mm,
        pad=PadBox(x_mm=stand.x_mm + margin, y_mm=stand.y_mm + margin, w_mm=pad.width_mm, h_mm=pad.height_mm),
        origin=spec.origin,
        placements=placements,
        keep_clear_mm=task.ring_mm,
        grain_rad=spec.grain_rad,
    )
    if pad.second is None:
        return layout
    # Into the corner of the sheet as rounded up: away from everything that lies on it.
    high = _HALF_TURNED[pad.second].startswith("upper")
    y = layout.width_mm - margin - pad.height_mm if high else margin
    second = PadBox(x_mm=margin, y_mm=y, w_mm=pad.width_mm, h_mm=pad.height_mm)
    layout = replace(layout, more_pads=(second,))
    return _turned(layout) if _is_turned(pad) else layout


def _is_turned(pad: Pad) -> bool:
    """Whether the second pad stands at the right, so that the sheet is looked for turned half round."""
    return pad.second is not None and pad.second != _HALF_TURNED[pad.second]


def _turned(layout: SheetLayout) -> SheetLayout:
    """A sheet turned half round, with everything on it."""
    long, wide = layout.length_mm, layout.width_mm
    pads = [
        replace(pad, x_mm=long - pad.x_mm - pad.w_mm, y_mm=wide - pad.y_mm - pad.h_mm) for pad in layout.pads
    ]
    placements = tuple(
        replace(
            each,
            x_mm=long - each.x_mm,
            y_mm=wide - each.y_mm,
            angle_rad=(each.angle_rad + math.pi) % (2 * math.pi),
        )
        for each in layout.placements
    )
    return replace(layout, pad=pads[0], more_pads=tuple(pads[1:]), placements=placements)


def _up(value_mm: float) -> float:
    """Rounded up to the next 0.1 mm."""
    return round(math.ceil(value_mm / _UP_TO_MM - 1e-6) * _UP_TO_MM, 1)


# --------------------------------------------------------------------------------------------- limits


def _grown_mm2(task: _Task, spec: JobSpec) -> float:
    """Area of scales and pads, each with half the spacing round it; never more than the truth."""
    s, w, h = task.spacing_mm, spec.pad.width_mm, spec.pad.height_mm
    scales = math.fsum(_held(ring).buffer(s / 2, quad_segs=_QUADRANT).area for ring in task.rings.values())
    pads = 1 if spec.pad.second is None else 2
    return task.pairs * scales + pads * (w * h + (w + h) * s + math.pi * s * s / 4)


def _held(ring: Ring) -> shapely.Geometry:
    """Polygons that lie inside a ring."""
    return shapely.Polygon(ring.flatten(_FLAT_MM)).buffer(-_FLAT_MM, join_style="mitre")


def _narrowest_mm(task: _Task, spec: JobSpec, *, along: bool = False) -> float:
    """How wide a scale is across the sheet, or along its length, in the narrowest of its turns.

    Where any turn goes, a shape is narrowest with a side of its hull flush. Source: M. E. Houle and
    G. T. Toussaint, Computing the width of a set, IEEE PAMI 10 (1988), from memory.
    """
    allowed, heights = allowed_turns(spec), []
    for ring in task.rings.values():
        held = _held(ring)
        x, y = shapely.get_coordinates(held).T
        if allowed is None:
            sides = np.diff(shapely.get_coordinates(shapely.convex_hull(held)), axis=0)
            turns = -np.arctan2(sides[:, 1], sides[:, 0])[:, None]
        else:
            turns = np.array(allowed)[:, None] + (math.pi / 2 if along else 0.0)
        heights.append(np.ptp(np.sin(turns) * x + np.cos(turns) * y, axis=1).min())
    return float(max(heights))


def _least(task: _Task, spec: JobSpec, width_mm: float | None) -> tuple[float, float | None]:
    """Least area, and at a width the least length, that any arrangement needs.

    What lies on the rectangle, grown by half the spacing s, lies inside the rectangle less its margins m
    grown by as much: K <= a b, where a and b are length and width less d = 2 m - s. So the area is
    (a + d)(b + d) >= K + d (a + b) + d^2, where a + b is at least 2 sqrt(K); for d below 0, at most what the
    narrowest rectangle has.
    """
    need, d = _grown_mm2(task, spec), 2 * _margin_mm(spec) - task.spacing_mm
    short, narrow = (_narrowest_mm(task, spec, along=along) + task.spacing_mm for along in (True, False))
    if width_mm is not None:
        length = max(need / (width_mm - d), short) + d
        return length * width_mm, length
    narrow = min(short, narrow)
    both = 2 * math.sqrt(need) if d >= 0 else max(2 * math.sqrt(need), narrow + need / narrow)
    return need + d * both + d * d, None
