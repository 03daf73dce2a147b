"""What two rings have in common, as rings."""

from scalegen.outline.chain import chain
from scalegen.outline.measure import distances_mm, inside, middles, same_way
from scalegen.outline.pieces import box_pairs, crossings, joined, pieces_of
from scalegen.outline.ring import Ring


def common(a: Ring, b: Ring) -> tuple[Ring, ...]:
    """The regions inside both rings, largest first.

    Lines and arcs stay exact. Where the rings run along each other the shared stretch is taken once.
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
    rings = [ring for ring in chain(joined(cut_a[keep_a], cut_b[keep_b])) if ring.area_mm2 > 1e-9]
    return tuple(sorted(rings, key=lambda ring: -ring.area_mm2))
