"""Where a ring crosses or touches itself."""

import numpy as np

from scalegen.outline.pieces import SNAP_MM, BoolArray, box_pairs, crossings, pieces_of
from scalegen.outline.ring import FloatArray, Ring


def self_crossings(ring: Ring) -> FloatArray:
    """Places (k, 2) where two segments meet other than end to start; empty for a sound outline.

    Segments that fold back over each other count too: one place is given for each pair.
    """
    p = pieces_of(ring)
    n = len(p)
    i, j = box_pairs(p, p)
    pairs = (i[i < j], j[i < j])
    which, ti, tj = crossings(p, p, pairs)
    a, b = pairs[0][which], pairs[1][which]
    points = p.at(a, ti)
    joint = np.zeros(len(which), dtype=bool)
    for first, second, at_end, at_start in ((a, b, ti, tj), (b, a, tj, ti)):
        follows = (first + 1) % n == second
        end_gap = (1 - at_end) * p.lengths[first]
        start_gap = at_start * p.lengths[second]
        joint |= follows & (end_gap < SNAP_MM) & (start_gap < SNAP_MM)
    places = points[~joint]
    folds = p.end[_folds(p.heading(1.0), np.roll(p.heading(0.0), -1, axis=0), p.sweep)]
    both = np.vstack([places, folds])
    if not len(both):
        return both
    _, first_of = np.unique(np.round(both, 5), axis=0, return_index=True)
    return both[np.sort(first_of)]


def _folds(arrive: FloatArray, leave: FloatArray, sweep: FloatArray) -> BoolArray:
    """Joints where a line turns straight back on itself."""
    straight = (sweep == 0) & (np.roll(sweep, -1) == 0)
    folded: BoolArray = straight & ((arrive * leave).sum(axis=1) < -1 + 1e-12)
    return folded
