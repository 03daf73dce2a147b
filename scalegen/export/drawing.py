"""What a drawing holds: flat shapes on named layers. Lengths in mm, angles in rad."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scalegen.model import Units
from scalegen.outline.ring import FloatArray, Ring


@dataclass(frozen=True, kw_only=True, eq=False)
class RingShape:
    """A closed chain of lines and arcs."""

    ring: Ring


@dataclass(frozen=True, kw_only=True, eq=False)
class ChainShape:
    """An open chain: float64 (n, 3) x, y, bulge in mm, n >= 2; the bulge of the last row is not used."""

    rows: FloatArray


@dataclass(frozen=True, kw_only=True)
class CircleShape:
    """A full circle, such as a pin hole."""

    center_mm: tuple[float, float]
    diameter_mm: float


@dataclass(frozen=True, kw_only=True)
class RectangleShape:
    """An upright rectangle from its lower left corner."""

    corner_mm: tuple[float, float]
    width_mm: float
    height_mm: float


@dataclass(frozen=True, kw_only=True)
class CrossShape:
    """A point with a small upright cross through it, such as the origin."""

    at_mm: tuple[float, float]
    size_mm: float = 5.0


@dataclass(frozen=True, kw_only=True)
class TextShape:
    """One line of text, its lower left corner at a point."""

    text: str
    at_mm: tuple[float, float]
    height_mm: float = 3.0
    angle_rad: float = 0.0


Shape2D = RingShape | ChainShape | CircleShape | RectangleShape | CrossShape | TextShape


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawing:
    """Shapes by layer.

    Attributes:
        units: Unit of the file; the shapes are in mm all the same.
        layers: For each layer, its shapes in the order they are to be written.
    """

    units: Units
    layers: Mapping[str, Sequence[Shape2D]]
