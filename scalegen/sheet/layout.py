"""Where scales stand on a blank: plain records, no shapely and no kernel.

Sheet frame: the lower left corner of the box round the blank is (0, 0), x runs along its length, y across it;
the grain lies along x unless it is said to lie otherwise. The origin a user asked for changes only the
numbers that are shown or written, see :meth:`SheetLayout.to_origin_frame`; the axes keep their directions.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.model import Corner, CurveRows, Side
from scalegen.model.job import Effort, ZoneKind
from scalegen.outline.ring import FloatArray, Ring


@dataclass(frozen=True, kw_only=True)
class Placement:
    """One scale on a blank: turned about its own origin, then moved there.

    Attributes:
        label: Number of the pair and a letter for the side, such as "1L".
        pattern: Name of the pattern.
        side: "left" or "right".
        x_mm: Where the scale's own origin lands, along the sheet.
        y_mm: Where it lands, across the sheet.
        angle_rad: Turn about the scale's own origin, counter-clockwise.
    """

    label: str
    pattern: str
    side: Side
    x_mm: float
    y_mm: float
    angle_rad: float

    def place(self, points_mm: FloatArray) -> FloatArray:
        """Take points from the scale's own frame into the sheet frame.

        Args:
            points_mm: float64 (n, 2) x, y in mm.

        Returns:
            float64 (n, 2) in mm.
        """
        c, s = np.cos(self.angle_rad), np.sin(self.angle_rad)
        placed: FloatArray = points_mm @ np.array([[c, s], [-s, c]]) + np.array([self.x_mm, self.y_mm])
        return placed


@dataclass(frozen=True, kw_only=True)
class PadBox:
    """The reference pad on a blank: lower left corner and size, in the sheet frame."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Zone:
    """A place on a blank that neither scales nor pads may lie on.

    Attributes:
        ring: Its outline, in the sheet frame.
        kind: "hole", an edge like the blank's own, with the margin about it; or "flaw", material that is
            there but is not wanted, kept free as drawn.
    """

    ring: Ring
    kind: ZoneKind = "flaw"


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """What a blank is like beyond its size.

    Attributes:
        outline: Its edge in the sheet frame; None for a plain rectangle.
        zones: Holes and flaws.
        grain_rad: Direction of the grain against x.
    """

    outline: Ring | None = None
    zones: tuple[Zone, ...] = ()
    grain_rad: float = 0.0

    @property
    def is_plain(self) -> bool:
        """Whether it is a rectangle without holes and flaws."""
        return self.outline is None and not self.zones


PLAIN = Ground()


@dataclass(frozen=True, kw_only=True)
class Claim:
    """What is proven about a layout, and how hard a better one was looked for.

    Attributes:
        bound_pairs: No blank of this kind takes more pairs.
        bound_reason: Why, in words.
        proven: Nothing better is possible: the blank is full, or fewer cannot hold the pairs asked for.
        effort: How hard to look was asked for.
        seed: What decided between equals.
    """

    bound_pairs: int
    bound_reason: str
    proven: bool
    effort: Effort
    seed: int


@dataclass(frozen=True, kw_only=True)
class LeftOver:
    """A piece of a blank that stays whole when its scales are cut.

    Attributes:
        outline: Its edge in the sheet frame, counter-clockwise rows x, y, bulge.
        zones: Holes in it.
    """

    outline: CurveRows
    zones: tuple[CurveRows, ...] = ()

    @property
    def area_mm2(self) -> float:
        """Area without the holes."""
        outline, *zones = (Ring.from_rows(rows).area_mm2 for rows in (self.outline, *self.zones))
        return outline - sum(zones)


@dataclass(frozen=True, kw_only=True)
class SheetLayout:
    """One blank with everything that stands on it.

    Attributes:
        name: Such as "sheet-1".
        length_mm: Size of the blank, or of the box round it, along x.
        width_mm: Size along y.
        margin_mm: Kept free along the edge of the blank and about holes in it.
        spacing_mm: Kept free between two scales.
        pad: Reference pad, the one that every stage is zeroed on.
        origin: Corner of the blank, or of the box round it, that is X0 Y0 in what is shown and written.
        placements: Scales, in the order of their labels.
        keep_clear_mm: Kept free about each pad: its ring.
        claim: What is proven about the number of pairs; None where nothing was looked into.
        left_over: Pieces worth keeping once the scales are cut, largest first.
        remnant: Number of the remnant that the blank is; None where it is none.
        drawing: File that the blank's outline was drawn in; None where it is none.
        outline: Edge of the blank where it is no plain rectangle, in the sheet frame; else None.
        zones: Holes and flaws.
        more_pads: Further pads, to check the first by.
        grain_rad: Direction of the grain against x, counter-clockwise.
    """

    name: str
    length_mm: float
    width_mm: float
    margin_mm: float
    spacing_mm: float
    pad: PadBox
    origin: Corner
    placements: tuple[Placement, ...]
    keep_clear_mm: float = 0.0
    claim: Claim | None = None
    left_over: tuple[LeftOver, ...] = ()
    remnant: str | None = None
    drawing: str | None = None
    outline: Ring | None = None
    zones: tuple[Zone, ...] = ()
    more_pads: tuple[PadBox, ...] = ()
    grain_rad: float = 0.0

    @property
    def pads(self) -> tuple[PadBox, ...]:
        """All pads, the one to zero on first."""
        return (self.pad, *self.more_pads)

    @property
    def at_hand(self) -> str:
        """What the blank is called where it is there already, a remnant or one that was drawn; else empty."""
        if self.remnant is not None:
            return f"remnant {self.remnant}"
        return "" if self.drawing is None else f"drawn blank: {self.drawing}"

    @property
    def edge(self) -> Ring:
        """Edge of the blank, a rectangle or not, in the sheet frame."""
        return box_ring(self.length_mm, self.width_mm) if self.outline is None else self.outline

    @property
    def holes(self) -> tuple[Ring, ...]:
        """Edges of the holes in the blank, each counter-clockwise."""
        return tuple(zone.ring for zone in self.zones if zone.kind == "hole")

    @property
    def area_mm2(self) -> float:
        """Area of the blank, holes left out."""
        return self.edge.area_mm2 - sum(hole.area_mm2 for hole in self.holes)

    @property
    def origin_mm(self) -> tuple[float, float]:
        """The corner that is X0 Y0, in the sheet frame."""
        x = self.length_mm if self.origin.endswith("right") else 0.0
        y = self.width_mm if self.origin.startswith("upper") else 0.0
        return x, y

    def to_origin_frame(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Take a point from the sheet frame into the frame shown to the user.

        Only the zero moves: x still runs along the length to the right and y upwards, so a blank whose
        origin is its lower right corner has x from minus its length to 0.

        Args:
            x_mm: Along the sheet from its lower left corner.
            y_mm: Across the sheet from its lower left corner.

        Returns:
            x and y from the origin corner, in mm.
        """
        zero_x, zero_y = self.origin_mm
        return x_mm - zero_x, y_mm - zero_y

    def utilisation(self, areas_mm2: Mapping[str, float]) -> float:
        """Part of the blank's area that becomes scales.

        Args:
            areas_mm2: Area of one footprint by the pattern's name.

        Returns:
            0 for an empty blank, 1 would be all of it.
        """
        return sum(areas_mm2[placement.pattern] for placement in self.placements) / self.area_mm2


def box_ring(length_mm: float, width_mm: float, x_mm: float = 0.0, y_mm: float = 0.0) -> Ring:
    """A rectangle parallel to the axes.

    Args:
        length_mm: Size along x.
        width_mm: Size along y.
        x_mm: Left side.
        y_mm: Lower side.
    """
    x, y = x_mm + length_mm, y_mm + width_mm
    return Ring(np.array([(x_mm, y_mm, 0.0), (x, y_mm, 0.0), (x, y, 0.0), (x_mm, y, 0.0)]))


def side_by_side_mm(spacing_mm: float) -> float:
    """How far partners may be apart and still count as side by side: twice the spacing, at least 1 mm more.

    Room that no third scale could use. Our choice; common practice, no source.
    """
    return spacing_mm + max(spacing_mm, 1.0)


def pair_count(layouts: Sequence[SheetLayout]) -> int:
    """How many pairs the blanks hold: their left scales.

    Args:
        layouts: Blanks of one job.

    Returns:
        The number of left scales.
    """
    return sum(placement.side == "left" for layout in layouts for placement in layout.placements)
