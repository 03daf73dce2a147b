"""The tang outline behind the front, carried on straight ahead of it so that everything grows evenly."""

import math

import numpy as np

from scalegen.errors import GeometryError
from scalegen.outline.front import FrontCurve, area_behind_mm2, clip_behind, on_front
from scalegen.outline.measure import middles
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray, Ring

_SQUARE = 0.35
_SAME_MM2 = 1e-3


def behind_front(tang: Ring, curve: FrontCurve) -> Ring:
    """The finished outline: the tang behind the front line.

    Raises:
        GeometryError: The front misses the outline, or cuts it into several pieces.
    """
    parts = clip_behind(tang, curve)
    if not parts:
        x0, _, x1, _ = tang.bounds_mm
        raise GeometryError(
            f"nothing of the tang outline (x = {x0:.1f} to {x1:.1f} mm) lies behind the front line",
            where="front.at",
            remedy="move the front line towards the blade",
        )
    if len(parts) > 1:
        x0, y0, x1, y1 = parts[1].bounds_mm
        raise GeometryError(
            f"behind the front line the tang outline is in {len(parts)} pieces; a second one lies around"
            f" x = {(x0 + x1) / 2:.1f}, y = {(y0 + y1) / 2:.1f}",
            where="front.at",
            remedy="move the front line or correct the outline there",
        )
    return parts[0]


def carried_on(finished: Ring, curve: FrontCurve, ahead_mm: float, least_height_mm: float) -> Ring:
    """The finished outline with its front edge replaced by a straight continuation ahead of it.

    Args:
        finished: Outline behind the front.
        curve: Front it was clipped by.
        ahead_mm: How far ahead of the front to go, measured from its foremost point.
        least_height_mm: Height the far end keeps at least; sides that would run together sooner are
            carried on square to the front instead.

    Returns:
        The ring. Lines are lengthened and arcs carried on by a millimetre before they go straight, so that
        no joint lies on the front itself, unless a side runs along the front rather than across it. Clipped
        by the same front it is the finished outline again.

    Raises:
        GeometryError: The front line meets the outline in more or fewer than two places, or the outline
            can't be carried on without running back over the front.
    """
    n = len(finished)
    mid_on = on_front(curve, middles(pieces_of(finished)), 0.0) & on_front(curve, finished.starts, 0.0)
    runs = np.flatnonzero(mid_on & ~np.roll(mid_on, 1))
    if len(runs) != 1:
        raise GeometryError(
            "the front line does not cross the tang outline in exactly two places",
            where="front.at",
            remedy="move the front line behind the tang's front end, or correct the outline there",
        )
    size = int(mid_on.sum())
    if n - size < 2:
        raise GeometryError("the outline behind the front is a single segment", where="tang.outline")
    keep = [(int(runs[0]) + size + k) % n for k in range(n - size)]
    ring = _with_ends(finished, keep, curve, ahead_mm, least_height_mm)
    if abs(area_behind_mm2(ring, curve) - finished.area_mm2) > _SAME_MM2:
        raise GeometryError(
            "the outline's sides run too much along the front to be carried on ahead of it",
            where="front.at",
            remedy="move the front line to where the sides cross it more squarely",
        )
    return ring


def _with_ends(
    ring: Ring, keep: list[int], curve: FrontCurve, ahead_mm: float, least_height_mm: float
) -> Ring:
    """The kept segments with a continuation at either end."""
    a, b = ring.ends[keep[-1]], ring.starts[keep[0]]
    far_a, far_b = (ahead_mm + _lag_mm(curve, tip) for tip in (a, b))
    spine = _continued(ring, keep[-1], far_a, curve, at_end=True)
    belly = _continued(ring, keep[0], far_b, curve, at_end=False)
    if (spine[-1][:2] - belly[-1][:2]) @ curve.along < least_height_mm:
        spine = [np.array([*a, 0.0]), np.array([*(a - curve.inward * far_a), 0.0])]
        belly = [np.array([*b, 0.0]), np.array([*(b - curve.inward * far_b), 0.0])]
    # The belly's continuation is travelled towards the handle, the spine's away from it.
    start = _joined_start(ring, keep[0], belly)
    end = _joined_end(ring, keep[-1], spine)
    return Ring(np.array([*start, *(ring.rows[k] for k in keep[1:-1]), *end]))


def _lag_mm(curve: FrontCurve, tip: FloatArray) -> float:
    """How far a point of the front lies behind the front's foremost point: a proud arc's middle."""
    return max(0.0, float((tip - curve.point) @ curve.inward)) if curve.arc_mm > 0 else 0.0


def _is_square_on(curve: FrontCurve, tip: FloatArray, heading: FloatArray) -> bool:
    """Whether a side leaving the front at a point does so well across it, and ahead."""
    out = -curve.inward
    if curve.arc_mm:
        away = tip - curve.center
        out = away / np.hypot(*away) * math.copysign(1.0, curve.arc_mm)
    return bool(heading @ -curve.inward >= _SQUARE and heading @ out >= _SQUARE)


def _joined_start(ring: Ring, index: int, belly: list[FloatArray]) -> list[FloatArray]:
    """Rows from the far end on the belly side up to the second kept segment."""
    sweep = ring.sweeps[index]
    if len(belly) == 1 and sweep == 0:
        return [np.array([*belly[0][:2], 0.0])]
    if len(belly) == 2 and sweep != 0 and belly[0][2] != 0:
        extra = belly[0][2]
        return [
            np.array([*belly[1][:2], 0.0]),
            np.array([*belly[0][:2], math.tan((sweep + extra) / 4)]),
        ]
    return [np.array([*belly[1][:2], 0.0]), ring.rows[index]]


def _joined_end(ring: Ring, index: int, spine: list[FloatArray]) -> list[FloatArray]:
    """Rows of the last kept segment and the spine's continuation to the far end."""
    sweep = ring.sweeps[index]
    row = ring.rows[index]
    if len(spine) == 1 and sweep == 0:
        return [row, np.array([*spine[0][:2], 0.0])]
    if len(spine) == 2 and sweep != 0 and spine[0][2] != 0:
        extra = spine[0][2]
        return [
            np.array([row[0], row[1], math.tan((sweep + extra) / 4)]),
            np.array([*spine[0][:2], 0.0]),
            np.array([*spine[1][:2], 0.0]),
        ]
    return [row, np.array([*spine[0][:2], 0.0]), np.array([*spine[1][:2], 0.0])]


def _continued(
    ring: Ring, index: int, ahead_mm: float, curve: FrontCurve, *, at_end: bool
) -> list[FloatArray]:
    """Points of the continuation beyond one end of a segment: rows x, y, extra sweep of its arc."""
    pieces = pieces_of(ring)
    heading = pieces.heading(1.0)[index] if at_end else -pieces.heading(0.0)[index]
    tip = ring.ends[index] if at_end else ring.starts[index]
    forward = -curve.inward
    if not _is_square_on(curve, tip, heading):
        return [np.array([*tip, 0.0]), np.array([*(tip + forward * ahead_mm), 0.0])]
    if ring.sweeps[index] == 0:
        return [np.array([*(tip + heading * ahead_mm / (heading @ forward)), 0.0])]
    radius = abs(ring.radii[index])
    extra = min(1.0 / radius, 0.2) * float(np.sign(ring.sweeps[index]))
    if abs(ring.sweeps[index] + extra) > 1.9 * math.pi:
        return [np.array([*tip, 0.0]), np.array([*(tip + forward * ahead_mm), 0.0])]
    turn = extra if at_end else -extra
    c, s = math.cos(turn), math.sin(turn)
    spin = np.array([[c, -s], [s, c]])
    # Along the chord from the tip: going by way of the centre would lose the digits of a large radius.
    c, s = math.cos(turn / 2), math.sin(turn / 2)
    chord = 2 * radius * math.sin(abs(turn) / 2)
    elbow = tip + chord * (np.array([[c, -s], [s, c]]) @ heading)
    heading = spin @ heading
    if not _is_square_on(curve, tip, heading):
        heading = forward
    rest = max(ahead_mm - float((elbow - tip) @ forward), 0.5)
    return [np.array([*elbow, extra]), np.array([*(elbow + heading * rest / (heading @ forward)), 0.0])]
