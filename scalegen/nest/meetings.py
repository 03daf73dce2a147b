"""Offsets that put one pose on another, as directed edges; worked once for all who ask."""

from scalegen.nest.convolve import convolution
from scalegen.nest.poses import Pose
from scalegen.outline.ring import FloatArray


class Meetings:
    """Edges of the sums of all parts with all parts, for every two poses."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, int], tuple[FloatArray, ...]] = {}

    def between(self, still: Pose, moving: Pose) -> tuple[FloatArray, ...]:
        """Edges that wind about the offsets from one pose's place to the other's that put them too close.

        Args:
            still: The one that stays.
            moving: The one that is moved.

        Returns:
            For every part of the one with every part of the other float64 (k, 4), closed; not to be changed.
        """
        key = (still.kind, moving.kind)
        if key not in self._known:
            parts = [(one, other) for one in still.grown_mm for other in moving.grown_mm]
            self._known[key] = tuple(convolution(one, -other) for one, other in parts)
        return self._known[key]
