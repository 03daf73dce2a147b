"""What a finished pair weighs, and the rods in it."""

import math
from collections.abc import Mapping

from scalegen.design import Hole, Scale
from scalegen.errors import ScalegenError
from scalegen.model import Hardware


def finished_weight_g(scale: Scale, volumes: Mapping[str, float]) -> float:
    """Weigh a finished pair: both scales and its pins flush with their faces, without tang and glue-up.

    Args:
        scale: What is made.
        volumes: Finished volume of one scale by the name of its span, mm3, holes taken out.

    Returns:
        Grams. A pin counts with its through length, tang plus both scales: what stands out is taken off.
        Rounded edges above a pin are neglected; a stepped fastener counts as its shank and two heads, flush.

    Raises:
        ScalegenError: ``volumes`` names a span that the scale does not have.
    """
    density_g_cm3 = {span.name: span.density_g_cm3 for span in scale.spans}
    unknown = sorted(set(volumes) - set(density_g_cm3))
    if unknown:
        raise ScalegenError(f"there is a volume for {unknown[0]!r}, which is no layer of the scale")
    scales_g = 2 * math.fsum(volume * density_g_cm3[name] for name, volume in volumes.items()) / 1000
    return scales_g + math.fsum(_hardware_weight_g(hole, scale.pattern.tang_mm) for hole in scale.holes)


def _hardware_weight_g(hole: Hole, tang_mm: float) -> float:
    """Weigh what is in one hole of a finished pair."""
    hardware = hole.hardware
    if hardware.kind == "stepped":
        heads_mm3 = 2 * math.pi / 4 * hardware.head_mm**2 * hardware.head_height_mm
        shank_g = rod_weight_g(hardware, max(0.0, tang_mm + 2 * hole.seat_mm))
        return shank_g + heads_mm3 * hardware.density_g_cm3 / 1000
    if hole.is_blind:
        return rod_weight_g(hardware, hole.cut_length_mm)
    return rod_weight_g(hardware, tang_mm + 2 * hole.thickness_mm)


def rod_weight_g(hardware: Hardware, length_mm: float) -> float:
    """Weigh a length of rod or tube.

    Args:
        hardware: Its diameter, bore and density.
        length_mm: How much of it.

    Returns:
        Grams.
    """
    area_mm2 = math.pi / 4 * (hardware.diameter_mm**2 - hardware.bore_mm**2)
    return area_mm2 * length_mm * hardware.density_g_cm3 / 1000
