"""Room: true shapes onto boards, as many whole groups as go.

:func:`scalegen.nest.search.search` is the way in, :func:`scalegen.nest.mates.mates` makes rigid pairs,
:func:`scalegen.nest.smallest.smallest_board` cuts the board to the work. The records they take and give are
in :mod:`scalegen.nest.records`.

How it works. Every shape is grown by half the spacing once, so that "far enough apart" becomes "not on one
another". For two turned shapes the set of forbidden offsets is the sum of one and the other turned half
round (:mod:`scalegen.nest.convolve`); laid on a grid it becomes a field of how deep each offset is forbidden
(:mod:`scalegen.nest.raster`). Rows nested into one another and set side by side
(:mod:`scalegen.nest.rows`, :mod:`scalegen.nest.blocks`) give first layouts, with bodies one by one from a
side (:mod:`scalegen.nest.starts`); then one group more is put on them, overlaps and all, and pushed about
until nothing overlaps (:mod:`scalegen.nest.guided` on the grid, :mod:`scalegen.nest.settle` between its
lines, :mod:`scalegen.nest.turning` at any angle). Budgets
are counted in moves, and what decides is an integer or elementary arithmetic, so that one seed gives
one layout.
"""
