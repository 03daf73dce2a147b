"""How much of each layer is left where the parts are thinnest."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from scalegen.model import Layer, LayerKind

SEEN_MM = 0.005
"""Half of a calliper's step: less is not worth a word. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class ThinLayer:
    """One layer at the thinnest place of all parts, holes left out, as it lies on the bed.

    Attributes:
        name: Layer of the stack.
        kind: "liner", "spacer", "face" or "bond".
        left_mm: What is left of it.
        planned_mm: What would be left if all went as planned.
    """

    name: str
    kind: LayerKind
    left_mm: float
    planned_mm: float

    @property
    def is_short(self) -> bool:
        """Whether visibly less is left than planned."""
        return self.planned_mm - self.left_mm > SEEN_MM


def tops_mm(layers: Sequence[Layer]) -> tuple[float, ...]:
    """Heights above the bed at which the layers end, from the underside up."""
    return tuple(accumulate(layer.thickness_mm for layer in layers))


def layers_at(layers: Sequence[Layer], total_mm: float) -> tuple[Layer, ...]:
    """The same layers in a blank of another thickness: the top one gives way, then those below it."""
    out, room = [], total_mm
    for layer in layers[:-1]:
        out.append(replace(layer, thickness_mm=min(layer.thickness_mm, room)))
        room -= out[-1].thickness_mm
    return (*out, replace(layers[-1], thickness_mm=room)) if layers else ()


def thin_layers(
    layers: Sequence[Layer],
    lowest_mm: float,
    planned_mm: float,
    planned_layers: Sequence[Layer] | None = None,
) -> tuple[ThinLayer, ...]:
    """What is left of each layer under the lowest place of the parts.

    Args:
        layers: Of the blank, from the underside up.
        lowest_mm: Lowest height of the parts above the bed.
        planned_mm: The same as planned.
        planned_layers: Of the blank as planned, when it is another one.
    """
    planned = layers if planned_layers is None else planned_layers
    found = []
    for layer, wanted, top, planned_top in zip(
        layers, planned, tops_mm(layers), tops_mm(planned), strict=True
    ):
        thickness, intended = layer.thickness_mm, wanted.thickness_mm
        found.append(
            ThinLayer(
                name=layer.name,
                kind=layer.kind,
                left_mm=min(max(lowest_mm - (top - thickness), 0.0), thickness),
                planned_mm=min(max(planned_mm - (planned_top - intended), 0.0), intended),
            )
        )
    return tuple(found)
