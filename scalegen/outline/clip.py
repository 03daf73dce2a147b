"""What two rings have in common, as rings."""

from scalegen.errors import GeometryError
from scalegen.outline.chain import chained
from scalegen.outline.measure import distances_mm, inside, middles, same_way
from scalegen.outline.pieces import Pieces, box_pairs, crossings, joined, pieces_of
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved

_LOOSE_MM = 5e-3
_LEAST_MM2 = 1e-9
_ON_MM = 1e-8
_NUDGES_MM = ((0.0, 0.0), (4e-8, 0.0), (-4e-8, 0.0), (0.0, 4e-8), (0.0, -4e-8))


def common(a: Ring, b: Ring) -> tuple[Ring, ...]:
    """The regions inside both rings, largest first.

    Lines and arcs stay exact. Where the rings run along each other the shared stretch is taken once; where it
    is a close call whether they do, the second ring is moved by 4e-8 mm, which settles it.

    Raises:
        GeometryError: The pieces don't close to rings (one of the rings crosses itself).
    """
    loose = 0.0
    for x, y in _NUDGES_MM:
        rings, loose = _shared(pieces_of(a), moved(b, x, y), a)
        if loose <= _LOOSE_MM:
            return tuple(sorted((r for r in rings if r.area_mm2 > _LEAST_MM2), key=lambda r: -r.area_mm2))
    raise GeometryError(
        f"{loose:.3f} mm of the outline can't be followed where it is cut",
        where="outline",
        remedy="look for places where the outline touches itself near the cut",
    )


def _shared(pa: Pieces, b: Ring, a: Ring) -> tuple[list[Ring], float]:
    """Rings around what both share, and the length of pieces that found no place in one."""
    pb = pieces_of(b)
    pairs = box_pairs(pa, pb)
    which, ta, tb = crossings(pa, pb, pairs)
    cut_a, cut_b = pa.cut(pairs[0][which], ta), pb.cut(pairs[1][which], tb)
    on_b = distances_mm(b, middles(cut_a)) < _ON_MM
    on_a = distances_mm(a, middles(cut_b)) < _ON_MM
    keep_a = inside(b, middles(cut_a))
    keep_a[on_b] = same_way(cut_a[on_b], pb)
    keep_b = inside(a, middles(cut_b)) & ~on_a
    return chained(joined(cut_a[keep_a], cut_b[keep_b]))
