"""Tabs: small bridges that hold a part in the blank, off the front and off the pins, evenly spaced."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.design import Scale
from scalegen.errors import GeometryError
from scalegen.form.nose import Nose
from scalegen.machining.field import BoolGrid, FloatGrid, HeightField, Window
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
        length_mm: From its foot to where it ends in what stays; 0 for just across the cutter's way.
    """

    x_mm: float
    y_mm: float
    out_rad: float
    width_mm: float = WIDTH_MM
    height_mm: float = HEIGHT_MM
    length_mm: float = 0.0


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
    require_low(scale, height_mm)
    way = walk(scale)
    index, gap = spread(way, off_front_and_pins(scale, way.points, width_mm / 2 + keep_off_mm), count)
    if gap < 2 * width_mm:
        raise GeometryError(
            f"there is no room for {count} tab{'' if count == 1 else 's'} off the front and the pins",
            where="tabs",
            remedy="ask for fewer or narrower ones",
        )
    points, heading = way.points, way.heading_rad
    return tuple(
        Tab(
            x_mm=float(points[i, 0]),
            y_mm=float(points[i, 1]),
            out_rad=float(heading[i] - math.pi / 2),
            width_mm=width_mm,
            height_mm=height_mm,
        )
        for i in index
    )


def require_low(scale: Scale, height_mm: float) -> None:
    """Refuse tabs that are flat, or would reach the face.

    Raises:
        GeometryError: They are not above 0 and lower than the scale.
    """
    if not 0 < height_mm < scale.thickness_mm:
        raise GeometryError(
            f"a tab of {height_mm:g} mm must be above 0 and lower than the scale of"
            f" {scale.thickness_mm:g} mm",
            where="tabs",
            remedy="a half to one millimetre holds well",
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
        length_mm=tab.length_mm,
    )


def tab_corners(tab: Tab) -> FloatArray:
    """Corners (4, 2) of a tab in the sheet frame, counter-clockwise from its foot."""
    out = np.array([math.cos(tab.out_rad), math.sin(tab.out_rad)])
    side = tab.width_mm / 2 * np.array([-out[1], out[0]])
    foot = np.array([tab.x_mm, tab.y_mm])
    end = foot + tab.length_mm * out
    return np.array([foot - side, end - side, end + side, foot + side])


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
        window, stands = tab_cells(field, tab, cutter_radius_mm)
        out[window][stands] = np.maximum(out[window][stands], np.float32(tab.height_mm))
    return out


def tab_cells(
    field: HeightField, tab: Tab, cutter_radius_mm: float, beside_mm: float = 0.0
) -> tuple[Window, BoolGrid]:
    """A window of the grid, and which of its cells a tab stands on.

    Args:
        field: Grid.
        tab: In the sheet frame.
        cutter_radius_mm: Of the cutter that goes round; for tabs that do not say their length.
        beside_mm: Counted to it on either side.
    """
    reach = tab.length_mm or 2 * cutter_radius_mm + 2 * field.cell_mm
    rim = reach + tab.width_mm + beside_mm
    window = field.window((tab.x_mm - rim, tab.y_mm - rim, tab.x_mm + rim, tab.y_mm + rim))
    dx = field.xs_mm[window[1]][None] - tab.x_mm
    dy = field.ys_mm[window[0]][:, None] - tab.y_mm
    c, s = math.cos(tab.out_rad), math.sin(tab.out_rad)
    ahead, beside = dx * c + dy * s, dy * c - dx * s
    wide = np.abs(beside) <= tab.width_mm / 2 + beside_mm
    return window, wide & (ahead >= -tab.width_mm) & (ahead <= reach)


@dataclass(frozen=True, kw_only=True, eq=False)
class Way:
    """The outline as cut, closely spaced: ``along_mm`` (n,), ``points`` (n, 2), ``heading_rad`` (n,)."""

    along_mm: FloatArray
    points: FloatArray
    heading_rad: FloatArray
    total_mm: float


def walk(scale: Scale, step_mm: float = _STEP_MM) -> Way:
    """The outline as cut of the left scale in steps of at most so much."""
    pieces = pieces_of(scale.footprint)
    counts = np.maximum(1, np.ceil(pieces.lengths / step_mm)).astype(np.intp)
    index = np.repeat(np.arange(len(pieces)), counts)
    share = np.concatenate([(np.arange(k) + 0.5) / k for k in counts.tolist()])
    starts = np.concatenate([[0.0], np.cumsum(pieces.lengths)[:-1]])
    # The heading by a short step along the same piece.
    step = 1e-4
    ahead = pieces.at(index, share + step) - pieces.at(index, share - step)
    return Way(
        along_mm=starts[index] + share * pieces.lengths[index],
        points=pieces.at(index, share),
        heading_rad=np.arctan2(ahead[:, 1], ahead[:, 0]),
        total_mm=float(pieces.lengths.sum()),
    )


def off_front_and_pins(scale: Scale, points: FloatArray, keep_off_mm: float) -> BoolGrid:
    """Which points (n, 2) of the left scale are far enough behind the front and off every hole."""
    front = scale.pattern.front
    nose = Nose(front=front, curve=front_curve(front), allowance_mm=0.0)
    clear: BoolGrid = nose.behind_mm(points) >= keep_off_mm
    for hole in scale.holes:
        clear &= np.hypot(*(points - np.array(hole.at_mm)).T) >= keep_off_mm + hole.widest_mm / 2
    return clear


def spread(way: Way, allowed: BoolGrid, count: int) -> tuple[list[int], float]:
    """The best places along an outline, as evenly as those allowed go.

    Args:
        way: The outline.
        allowed: (n,) which of its points may be taken.
        count: How many places.

    Returns:
        Rows of the points, in order along the outline, and the smallest gap between two in mm; none and -1
        where no point is allowed.
    """
    best: list[int] = []
    widest, total = -1.0, way.total_mm
    rows = np.flatnonzero(allowed)
    if not len(rows):
        return best, widest
    for start in np.arange(_TRIES) / _TRIES * total / count:
        wanted = (start + np.arange(count) * total / count) % total
        off = np.abs(way.along_mm[rows][None] - wanted[:, None])
        chosen = np.sort(rows[np.minimum(off, total - off).argmin(axis=1)])
        places = way.along_mm[chosen]
        gap = float(np.diff(np.append(places, places[0] + total)).min())
        if gap > widest + 1e-9:
            best, widest = chosen.tolist(), gap
    return best, widest
