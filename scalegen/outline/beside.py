"""An outline that runs beside another at a constant distance and ends with it at the front."""

from scalegen.errors import GeometryError
from scalegen.outline.front import FrontCurve, clip_behind
from scalegen.outline.offset import offset
from scalegen.outline.ring import Ring

_WHERE = "scale.liner.step"


def beside(carried: Ring, curve: FrontCurve, distance_mm: float, ahead_mm: float) -> tuple[Ring, Ring]:
    """The outline at a distance from another, everywhere but at the front.

    Args:
        carried: Finished outline, carried on ahead of the front by more than the distance.
        curve: Front.
        distance_mm: Outwards when positive, inwards when negative, square to the outline. Not 0.
        ahead_mm: How far ahead of the front it begins.

    Returns:
        The outline carried on ahead of the front, and what of it lies behind its beginning.

    Raises:
        GeometryError: It closes onto itself, or is in several pieces or none; names the place.
    """
    rings = offset(carried, distance_mm)
    pockets = [ring for ring in rings if ring.area_mm2 < 0]
    if pockets:
        x, y = _middle(pockets[0])
        raise GeometryError(
            f"{distance_mm:g} mm outside the outline the liner closes onto itself around"
            f" x = {x:.1f}, y = {y:.1f} mm",
            where=_WHERE,
            remedy="make the step smaller, or open the pocket in the outline",
        )
    parts = [part for ring in rings for part in clip_behind(ring, curve, -ahead_mm)]
    if not parts:
        raise GeometryError(
            f"the scale is nowhere wide enough for a liner set in by {-distance_mm:g} mm",
            where=_WHERE,
            remedy="make the step smaller",
        )
    if len(parts) > 1 or len(rings) > 1:
        x, y = _middle(min([*parts, *rings], key=lambda ring: ring.area_mm2))
        raise GeometryError(
            f"set in by {-distance_mm:g} mm the liner is in pieces; one lies around x = {x:.1f},"
            f" y = {y:.1f} mm",
            where=_WHERE,
            remedy="make the step smaller, or the handle wider beside that place",
        )
    return rings[0], parts[0]


def _middle(ring: Ring) -> tuple[float, float]:
    x0, y0, x1, y1 = ring.bounds_mm
    return (x0 + x1) / 2, (y0 + y1) / 2
