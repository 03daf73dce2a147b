"""Tabs: small bridges that hold a part in the blank, off the front and off the pins, evenly spaced."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.machining.field import BoolGrid, FloatGrid, HeightField
from scalegen.machining.target import placed_point
from scalegen.outline.front import front_curve
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray
from scalegen.sheet.layout import Placement

WIDTH_MM, HEIGHT_MM = 3.0, 0.8
"""Size of a tab. Common practice, no source."""

KEEP_OFF_MM = 5.0
"""Kept between a tab and the front or a hole. Common practice, no source."""

_STEP_MM = 0.25
_TRIES = 24


@dataclass(frozen=True, kw_only=True)
class Tab:
    """One bridge across the cut around a part.

    Attributes:
        x_mm: Middle of its foot on the outline.
        y_mm: The same.
        out_rad: Direction it leads away from the part.
        width_mm: Along the outline.
        height_mm: Above the underside of the blank.
    """

    x_mm: float
    y_mm: float
    out_rad: float
    width_mm: float = WIDTH_MM
    height_mm: float = HEIGHT_MM


def plan_tabs(
    scale: Scale,
    count: int,
    *,
    width_mm: float = WIDTH_MM,
    height_mm: float = HEIGHT_MM,
    keep_off_mm: float = KEEP_OFF_MM,
) -> tuple[Tab, ...]:
    """Place tabs around the left scale as cut, as evenly as front and pins allow.

    Places evenly spaced along the outline are tried from many starts; each that is not allowed moves to the
    nearest that is. The start whose smallest gap is the largest wins.

    Args:
        scale: The scale.
        count: How many.
        width_mm: Of a tab, along the outline.
        height_mm: Of a tab.
        keep_off_mm: Between a tab and the front or a hole.

    Raises:
        GeometryError: There is no room for so many, or the tabs would reach the face.
    """
    if count <= 0:
        return ()
    if not 0 < height_mm < scale.thickness_mm:
        raise GeometryError(
            f"a tab of {height_mm:g} mm must be above 0 and lower than the scale of"
            f" {scale.thickness_mm:g} mm",
            where="tabs",
            remedy="a half to one millimetre holds well",
        )
    along, points, heading = _walk(scale)
    allowed = along[_allowed(scale, points, width_mm / 2 + keep_off_mm)]
    total = float(pieces_of(scale.footprint).lengths.sum())
    places, gap = _spread(allowed, total, count)
    if gap < 2 * width_mm:
        raise GeometryError(
            f"there is no room for {count} tab{'' if count == 1 else 's'} off the front and the pins",
            where="tabs",
            remedy="ask for fewer or narrower ones",
        )
    index = np.searchsorted(along, places)
    return tuple(
        Tab(
            x_mm=float(points[i, 0]),
            y_mm=float(points[i, 1]),
            out_rad=float(heading[i] - math.pi / 2),
            width_mm=width_mm,
            height_mm=height_mm,
        )
        for i in index.tolist()
    )


def placed_tab(tab: Tab, placement: Placement) -> Tab:
    """A tab of the left scale where a placement puts it, mirrored for the right."""
    x, y = placed_point((tab.x_mm, tab.y_mm), placement)
    out = -tab.out_rad if placement.side == "right" else tab.out_rad
    return Tab(
        x_mm=x,
        y_mm=y,
        out_rad=out + placement.angle_rad,
        width_mm=tab.width_mm,
        height_mm=tab.height_mm,
    )


def raised(
    field: HeightField, surface_mm: FloatGrid, tabs: Sequence[Tab], cutter_radius_mm: float
) -> FloatGrid:
    """A surface with tabs standing on it, from the outline to just beyond the cutter's far side.

    Args:
        field: Grid.
        surface_mm: float32 (rows, cols) without tabs.
        tabs: In the sheet frame.
        cutter_radius_mm: Of the cutter that goes round.
    """
    out = surface_mm.copy()
    for tab in tabs:
        reach = 2 * cutter_radius_mm + 2 * field.cell_mm
        rim = reach + tab.width_mm
        window = field.window((tab.x_mm - rim, tab.y_mm - rim, tab.x_mm + rim, tab.y_mm + rim))
        dx = field.xs_mm[window[1]][None] - tab.x_mm
        dy = field.ys_mm[window[0]][:, None] - tab.y_mm
        c, s = math.cos(tab.out_rad), math.sin(tab.out_rad)
        ahead, beside = dx * c + dy * s, dy * c - dx * s
        stands = (np.abs(beside) <= tab.width_mm / 2) & (ahead >= -tab.width_mm) & (ahead <= reach)
        out[window][stands] = np.maximum(out[window][stands], np.float32(tab.height_mm))
    return out


def _walk(scale: Scale) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Arc lengths (n,), points (n, 2) and headings (n,) along the outline as cut, closely spaced."""
    pieces = pieces_of(scale.footprint)
    counts = np.maximum(1, np.ceil(pieces.lengths / _STEP_MM)).astype(np.intp)
    index = np.repeat(np.arange(len(pieces)), counts)
    share = np.concatenate([(np.arange(k) + 0.5) / k for k in counts.tolist()])
    starts = np.concatenate([[0.0], np.cumsum(pieces.lengths)[:-1]])
    along = starts[index] + share * pieces.lengths[index]
    # The heading by a short step along the same piece.
    step = 1e-4
    ahead = pieces.at(index, share + step) - pieces.at(index, share - step)
    return along, pieces.at(index, share), np.arctan2(ahead[:, 1], ahead[:, 0])


def _allowed(scale: Scale, points: FloatArray, keep_off_mm: float) -> BoolGrid:
    """Which points are far enough behind the front and off every hole."""
    curve = front_curve(scale.pattern.front)
    if curve.arc_mm == 0:
        behind = (points - curve.point) @ curve.inward
    else:
        away = np.hypot(*(points - curve.center).T)
        behind = curve.arc_mm - away if curve.arc_mm > 0 else away + curve.arc_mm
    clear: BoolGrid = behind >= keep_off_mm
    for hole in scale.holes:
        clear &= np.hypot(*(points - np.array(hole.at_mm)).T) >= keep_off_mm + hole.widest_mm / 2
    return clear


def _spread(allowed: FloatArray, total_mm: float, count: int) -> tuple[FloatArray, float]:
    """The best places (count,) among those allowed (n,) along a closed way, and their smallest gap."""
    best, widest = np.zeros(0), -1.0
    if not len(allowed):
        return best, widest
    for start in np.arange(_TRIES) / _TRIES * total_mm / count:
        wanted = (start + np.arange(count) * total_mm / count) % total_mm
        off = np.abs(allowed[None] - wanted[:, None])
        off = np.minimum(off, total_mm - off)
        places = np.sort(allowed[off.argmin(axis=1)])
        gap = float(np.diff(np.append(places, places[0] + total_mm)).min())
        if gap > widest + 1e-9:
            best, widest = places, gap
    return best, widest
