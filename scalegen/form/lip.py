"""The lip: the smooth ring on which a round-over or chamfer rides.

A round-over needs a ring without corners whose convex arcs are wider than the round-over itself. Opening the
outline gives it that, closing rounds the inside corners; where the outline is already smooth and wide enough
both leave it exactly as it is. Only the top edge follows the lip; the wall at the tang follows the outline.
"""

import numpy as np

from scalegen.errors import GeometryError
from scalegen.outline.measure import distances_mm
from scalegen.outline.offset import closed, opened, shrink
from scalegen.outline.pieces import pieces_of
from scalegen.outline.ring import FloatArray, Ring

_ROOMY_MM = 0.25
_SNUG_MM = 0.05
_CLEAR_MM = 0.01
_INSIDE_CORNER_MM = 0.5


def parallel(ring: Ring, distance_mm: float) -> Ring:
    """The curve at a distance outside (positive) or inside a smooth ring, segment by segment.

    Concentric arcs keep their bulge, so only the points move. Right only while no arc is used up; see
    :func:`smooth_lip`, which makes rings for which that holds.
    """
    return Ring(np.column_stack([pieces_of(ring).shifted(distance_mm).start, ring.bulges]))


def smooth_lip(carried: Ring, inset_mm: float, outset_mm: float, what: str, behind_x: FloatArray) -> Ring:
    """The smooth ring nearest to an outline that can be set in and out by given distances.

    Args:
        carried: Outline, carried on past the front.
        inset_mm: How far the edge treatment reaches in.
        outset_mm: How far it reaches out (a chamfer's plane going down through the trim flange).
        what: Name of the treatment, for errors.
        behind_x: Points (k, 2) of the finished outline; only these count when the place is looked for.

    Returns:
        Ring whose lines and arcs join smoothly, whose convex arcs are wider than ``inset_mm`` and whose
        concave arcs are wider than ``outset_mm``.

    Raises:
        GeometryError: The outline is narrower than twice the inset; names the place.
    """
    hollow = max(_INSIDE_CORNER_MM, outset_mm + 0.25)
    for disc in _discs_mm(carried, inset_mm):
        parts = opened(carried, disc)
        if len(parts) != 1:
            continue
        lip = closed(parts[0], hollow)
        far = distances_mm(lip, behind_x)
        if far.max() > disc:
            continue
        if _holds(lip, inset_mm, outset_mm):
            return lip
    raise GeometryError(
        f"the outline is narrower than twice the {what} of {inset_mm:g} mm"
        f" {_narrow_place(carried, inset_mm, behind_x)}",
        where="scale.edge",
        remedy=f"make the {what} smaller or the handle wider there",
    )


def _discs_mm(carried: Ring, inset_mm: float) -> tuple[float, ...]:
    """Radii to open with, the best first.

    A disc a little wider than the inset is roomy; but where the outline has arcs hardly wider than the
    inset, the disc stays just inside them, so that the lip keeps to these arcs instead of missing them by
    a hair.
    """
    radii = carried.radii
    tight = radii[
        np.isfinite(radii) & (radii > inset_mm + 2 * _CLEAR_MM) & (radii < inset_mm + _ROOMY_MM + _CLEAR_MM)
    ]
    roomy = inset_mm + _ROOMY_MM
    first = float(tight.min()) - _CLEAR_MM if len(tight) else roomy
    return tuple(dict.fromkeys((first, roomy, inset_mm + _SNUG_MM)))


def _holds(lip: Ring, inset_mm: float, outset_mm: float) -> bool:
    """Whether segment-by-segment parallels are the true ones, inside and outside."""
    inner = shrink(lip, inset_mm)
    plain = parallel(lip, -inset_mm)
    if len(inner) != 1 or abs(inner[0].area_mm2 - plain.area_mm2) > 1e-6 * lip.area_mm2:
        return False
    radii = lip.radii
    bent = np.isfinite(radii)
    tight = (bent & (radii > 0) & (radii < inset_mm + 0.01)) | (
        bent & (radii < 0) & (-radii < outset_mm + 0.01)
    )
    return not tight.any()


def _narrow_place(carried: Ring, inset_mm: float, behind_x: FloatArray) -> str:
    """Stretch of x in which the outline can't be reached by a disc of the inset's radius."""
    parts = opened(carried, inset_mm)
    if not parts:
        return "everywhere"
    gaps = np.min([distances_mm(part, behind_x) for part in parts], axis=0)
    far = behind_x[gaps > 0.5 * inset_mm]
    if not len(far):
        far = behind_x[[int(gaps.argmax())]]
    low, high = far[:, 0].min(), far[:, 0].max()
    if high - low < 1:
        return f"around x = {(low + high) / 2:.1f} mm"
    return f"between x = {low:.0f} and x = {high:.0f} mm"
