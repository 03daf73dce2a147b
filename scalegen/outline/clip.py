"""What two rings have in common, as rings."""

from scalegen.errors import GeometryError
from scalegen.outline.chain import chained
from scalegen.outline.measure import distances_mm, inside, middles, same_way
from scalegen.outline.pieces import box_pairs, crossings, joined, pieces_of
from scalegen.outline.ring import Ring

_LOOSE_MM = 5e-3
_LEAST_MM2 = 1e-9


def common(a: Ring, b: Ring) -> tuple[Ring, ...]:
    """The regions inside both rings, largest first.

    Lines and arcs stay exact. Where the rings run along each other the shared stretch is taken once.

    Raises:
        GeometryError: The pieces don't close to rings (one of the rings crosses itself).
    """
    pa, pb = pieces_of(a), pieces_of(b)
    pairs = box_pairs(pa, pb)
    which, ta, tb = crossings(pa, pb, pairs)
    cut_a, cut_b = pa.cut(pairs[0][which], ta), pb.cut(pairs[1][which], tb)
    on_b = distances_mm(b, middles(cut_a)) < 1e-8
    on_a = distances_mm(a, middles(cut_b)) < 1e-8
    keep_a = inside(b, middles(cut_a))
    keep_a[on_b] = same_way(cut_a[on_b], pb)
    keep_b = inside(a, middles(cut_b)) & ~on_a
    rings, loose = chained(joined(cut_a[keep_a], cut_b[keep_b]))
    if loose > _LOOSE_MM:
        raise GeometryError(
            f"{loose:.3f} mm of the outline can't be followed where it is cut",
            where="outline",
            remedy="look for places where the outline touches itself near the cut",
        )
    return tuple(sorted((ring for ring in rings if ring.area_mm2 > _LEAST_MM2), key=lambda r: -r.area_mm2))
