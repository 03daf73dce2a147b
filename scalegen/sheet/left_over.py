"""What is left over of a blank once its scales are cut: pieces that stay whole and are worth keeping."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from scalegen.model import CurveRows, Side
from scalegen.outline.ring import FloatArray, Ring
from scalegen.sheet.layout import LeftOver, SheetLayout

_FLAT_MM = 0.01
_GIVEN_AWAY_MM = 0.1
_QUADRANT = 16
_CLOSE_MM = 1e-6


@dataclass(frozen=True, kw_only=True)
class Worth:
    """What makes a piece worth keeping.

    Attributes:
        length_mm: A rectangle so long along the grain must go into it,
        width_mm: and so wide across.
    """

    length_mm: float
    width_mm: float

    @property
    def neck_mm(self) -> float:
        """What is narrower drops out: half the shorter side. Our choice; common practice, no source."""
        return min(self.length_mm, self.width_mm) / 2


def room_for_one(footprints: Sequence[Mapping[Side, Ring]], margin_mm: float) -> Worth:
    """The rectangle that takes one scale of the smallest pattern, along the grain, with a margin round it.

    Args:
        footprints: Outline of each side, for each pattern.
        margin_mm: Kept free along the edge.
    """
    boxes = [ring.bounds_mm for rings in footprints for ring in rings.values()]
    sizes = [(x1 - x0 + 2 * margin_mm, y1 - y0 + 2 * margin_mm) for x0, y0, x1, y1 in boxes]
    length_mm, width_mm = min(sizes, key=lambda size: size[0] * size[1])
    return Worth(length_mm=length_mm, width_mm=width_mm)


def left_over(
    layout: SheetLayout, footprints: Mapping[str, Mapping[Side, Ring]], cut_mm: float, worth: Worth
) -> tuple[LeftOver, ...]:
    """The pieces of a blank that no cutter touches and that are worth keeping, largest first.

    The blank without its pads, holes and flaws, and without its scales and the cut round each. What is
    narrower than :attr:`Worth.neck_mm` drops out, and so that few points say a piece, 0.15 mm at most is
    given away along the cuts. The waste between scales stays in its piece as long as it hangs together;
    scales cut from the middle of a piece are holes in it.

    Args:
        layout: The blank.
        footprints: Outline of each side by the pattern's name.
        cut_mm: Width of the cut round every scale.
        worth: What is worth keeping.

    Returns:
        Pieces in the sheet frame.
    """
    boxes = [shapely.box(pad.x_mm, pad.y_mm, pad.x_mm + pad.w_mm, pad.y_mm + pad.h_mm) for pad in layout.pads]
    kept_out = [shapely.Polygon(zone.ring.flatten(_FLAT_MM)) for zone in layout.zones]
    taken = [each.buffer(_GIVEN_AWAY_MM, join_style="mitre") for each in (*boxes, *kept_out)]
    for placement in layout.placements:
        ring = footprints[placement.pattern][placement.side]
        lying = shapely.Polygon(placement.place(ring.flatten(_FLAT_MM)))
        taken.append(lying.buffer(cut_mm + _GIVEN_AWAY_MM, quad_segs=_QUADRANT))
    blank = shapely.Polygon(layout.edge.flatten(_FLAT_MM))
    opened = _opened(blank.difference(shapely.union_all(taken)), worth.neck_mm / 2)
    opened = shapely.intersection(opened.simplify(_GIVEN_AWAY_MM / 2), blank)
    pieces = [piece for piece in shapely.get_parts(opened) if _worth(piece, layout, worth)]
    return tuple(sorted(map(_piece, pieces), key=_order))


def _worth(piece: shapely.Polygon, layout: SheetLayout, worth: Worth) -> bool:
    """Whether a piece is worth keeping, judged along the grain of its blank."""
    along = affinity.rotate(piece, -layout.grain_rad, origin=(0.0, 0.0), use_radians=True)
    return piece.area > 0 and has_room(along, worth)


def _opened(region: shapely.Geometry, radius_mm: float) -> shapely.Geometry:
    """What a disc can run over inside a region, and the corners that it does not quite fill.

    In a square corner the disc leaves a bit that reaches 0.41 of its radius beyond it; what reaches further
    than half of it is a neck or a tail.
    """
    run_over = region.buffer(-radius_mm, quad_segs=_QUADRANT).buffer(radius_mm, quad_segs=_QUADRANT)
    near = run_over.buffer(radius_mm / 2, quad_segs=_QUADRANT)
    bits = [bit for bit in shapely.get_parts(shapely.difference(region, run_over)) if near.covers(bit)]
    return shapely.union_all([run_over, *(bit.buffer(_CLOSE_MM, join_style="mitre") for bit in bits)])


def has_room(piece: shapely.Polygon, worth: Worth) -> bool:
    """Whether a rectangle goes into a piece, its sides along x and y.

    The corner of a rectangle that stays clear of what is not the piece lies outside of that, swept back along
    the rectangle's length and width.
    """
    x0, y0, x1, y1 = piece.bounds
    over = max(worth.length_mm, worth.width_mm)
    spots = shapely.box(x0, y0, x1 - worth.length_mm + _CLOSE_MM, y1 - worth.width_mm + _CLOSE_MM)
    if x1 - worth.length_mm < x0 - _CLOSE_MM or y1 - worth.width_mm < y0 - _CLOSE_MM:
        return False
    outside = shapely.box(x0 - over, y0 - over, x1 + over, y1 + over).difference(piece.buffer(_CLOSE_MM))
    for sweep in ((-worth.length_mm, 0.0), (0.0, -worth.width_mm)):
        outside = shapely.union_all([outside, *_swept(outside, np.array(sweep))])
    return not shapely.difference(spots, outside).is_empty


def _swept(region: shapely.Geometry, along: FloatArray) -> Iterator[shapely.Geometry]:
    """What the edges of a region run over on a straight way."""
    for polygon in shapely.get_parts(region):
        for line in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(line)
            quads = np.stack([points[:-1], points[1:], points[1:] + along, points[:-1] + along], axis=1)
            shapes = shapely.polygons(quads)
            yield from shapes[shapely.area(shapes) > 0]


def _piece(polygon: shapely.Polygon) -> LeftOver:
    """A piece as rows, its numbers to a hundredth of a millimetre."""
    outline, *zones = (_rows(line) for line in (polygon.exterior, *polygon.interiors))
    return LeftOver(outline=outline, zones=tuple(sorted(zones)))


def _rows(line: shapely.LinearRing) -> CurveRows:
    """Counter-clockwise rows, the leftmost point first."""
    points = np.round(shapely.get_coordinates(line)[:-1], 2) + 0.0
    points = points[np.any(points != np.roll(points, 1, axis=0), axis=1)]
    points = Ring.from_rows(points).starts
    first = int(np.lexsort((points[:, 1], points[:, 0]))[0])
    return tuple((x, y, 0.0) for x, y in np.roll(points, -first, axis=0).tolist())


def _order(piece: LeftOver) -> tuple[float, CurveRows]:
    return -round(piece.area_mm2, 2), piece.outline
