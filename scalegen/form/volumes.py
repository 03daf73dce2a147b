"""Volumes of a scale by layer, as cut and finished, worked out from its outline without the kernel."""

from dataclasses import dataclass

from scalegen.design import Scale
from scalegen.form.storeys import storeys_of


@dataclass(frozen=True, kw_only=True)
class Volumes:
    """Volumes of one scale in mm3, by the name of its layers from back to face."""

    as_cut_mm3: dict[str, float]
    finished_mm3: dict[str, float]


def scale_volumes(scale: Scale) -> Volumes:
    """Work out all volumes of a scale.

    Raises:
        GeometryError: The shape can't be made.
    """
    return Volumes(as_cut_mm3=_by_layer(scale, finished=False), finished_mm3=_by_layer(scale, finished=True))


def _by_layer(scale: Scale, *, finished: bool) -> dict[str, float]:
    return {
        span.name: volume
        for storey in storeys_of(scale, finished=finished)
        for span, volume in zip(storey.spans, storey.volumes_mm3(), strict=True)
    }
