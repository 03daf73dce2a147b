"""The tang outline behind the front, carried on straight ahead of it so that everything grows evenly."""

import math

import numpy as np

from scalegen.errors import GeometryError
from scalegen.form.front import FrontCurve, clip_behind, on_front
from scalegen.outline.measure import middles
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray, Ring


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
        ahead_mm: How far ahead of the front line to go.
        least_height_mm: Height the far end keeps at least; sides that would run together sooner are
            carried on square to the front instead.

    Returns:
        The ring. Lines are lengthened and arcs carried on by a millimetre before they go straight, so that
        no joint lies on the front itself.

    Raises:
        GeometryError: The front line meets the outline in more or fewer than two places.
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
    first = int(runs[0])
    keep = [(first + size + k) % n for k in range(n - size)]
    ring = finished
    spine = _continued(ring, keep[-1], ahead_mm, curve, at_end=True)
    belly = _continued(ring, keep[0], ahead_mm, curve, at_end=False)
    if (spine[-1][:2] - belly[-1][:2]) @ curve.along < least_height_mm:
        a, b = ring.ends[keep[-1]], ring.starts[keep[0]]
        spine = [np.array([*a, 0.0]), np.array([*(a - curve.inward * ahead_mm), 0.0])]
        belly = [np.array([*b, 0.0]), np.array([*(b - curve.inward * ahead_mm), 0.0])]
    rows = [ring.rows[k] for k in keep[1:]]
    # The belly's continuation is travelled towards the handle, the spine's away from it.
    start = _joined_start(ring, keep[0], belly)
    end = _joined_end(ring, keep[-1], spine)
    if len(keep) == 1:
        raise GeometryError("the outline behind the front is a single segment", where="tang.outline")
    return Ring(np.array([*start, *rows[:-1], *end]))


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
    if heading @ forward < 0.35:
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
    center = ring.centers[index]
    elbow = center + spin @ (tip - center)
    heading = spin @ heading
    if heading @ forward < 0.35:
        heading = forward
    rest = max(ahead_mm - float((elbow - tip) @ forward), 0.5)
    return [np.array([*elbow, extra]), np.array([*(elbow + heading * rest / (heading @ forward)), 0.0])]
