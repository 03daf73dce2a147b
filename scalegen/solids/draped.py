"""The body of a draped plan: walls on lines and arcs, a spline face for each piece of the edge treatment."""

from collections.abc import Sequence

import numpy as np
from OCP.Geom import Geom_Plane
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt
from OCP.TopoDS import TopoDS_Shape

from scalegen.form.draped import DrapedPlan
from scalegen.form.run import EdgeRun, crests
from scalegen.outline.pieces import Pieces
from scalegen.outline.ring import FloatArray
from scalegen.solids.draper import Draper, reversed_border
from scalegen.solids.kernel import ring_pieces, within_half_turns
from scalegen.solids.ledge import seat_of
from scalegen.solids.relief import add_grooves
from scalegen.solids.shell import Side
from scalegen.solids.spline import even_knots, greville, surface_through

_TURN_SPANS = 6
_NOTHING_MM = 1e-9


def uncut_body(plan: DrapedPlan) -> TopoDS_Shape:
    """The body with its grooves, carried on past the front, without front and holes."""
    return _Body(plan).solid()


class _Body(Draper):
    """Puts the faces of one body together."""

    def solid(self) -> TopoDS_Shape:
        plan, run = self.plan, self.plan.run
        if run is None:
            wall = ring_pieces(plan.base)
            self.walls(wall, self.bottom, lambda p, k: self.spline(p, k, self.at_depth(0.0)))
            self._top(self.border(wall, self.at_depth(0.0)))
        else:
            seat = seat_of(plan.base, within_half_turns(run.pieces))
            wall, lip = seat.wall, seat.lip
            crest = self._bands(lip, run)
            level = self.at_depth(plan.seat_drop_mm)
            if not run.is_steady:
                self.walls(lip, lambda p, k: self.spline(p, k, level), lambda p, k: self._foot(p, k, run))
            self.walls(wall, self.bottom, lambda p, k: self.spline(p, k, level))
            border = self.border(wall, level)
            if seat.apart:
                self.graph(plan.seat_drop_mm, [border, reversed_border(self.border(lip, level))])
            else:
                for patch in seat.patches:
                    self.graph(plan.seat_drop_mm, [self.border(patch, level)], against=_area(patch) < 0)
            self._top(crest)
        floor = Geom_Plane(gp_Ax3(gp_Pnt(0, 0, plan.bottom_mm), gp_Dir(0, 0, 1)))
        self.shell.face(
            floor, [reversed_border([self.bottom(wall, k) for k in range(len(wall))])], against=True
        )
        return self.shell.solid()

    def _top(self, border: Sequence[Side]) -> None:
        """The face itself inside its border, with the grooves in it."""
        grooves = self.plan.grooves
        self.graph(0.0, [border, *([] if grooves is None else add_grooves(self, grooves))])

    def _foot(self, lip: Pieces, k: int, run: EdgeRun) -> Side:
        """Where the treatment starts above one piece of the lip."""

        def lift(pieces: Pieces, k: int, share: FloatArray) -> FloatArray:
            points = self.at_depth(0.0)(pieces, k, share)
            points[:, 2] -= _sizes(run, points[:, :2])
            return points

        return self.spline(lip, k, lift)

    def _bands(self, lip: Pieces, run: EdgeRun) -> list[Side]:
        """The edge treatment's faces; returns the border of the face inside them."""
        crest = []
        for k in range(len(lip)):
            share = greville(self.knots(lip, k))
            size = _sizes(run, lip.at(np.full(len(share), k), share))
            if size.max() < _NOTHING_MM:
                crest.append(self.spline(lip, k, self.at_depth(0.0)))
            else:
                crest.append(self._band(lip, k, size))
        return crest

    def _band(self, lip: Pieces, k: int, size: FloatArray) -> Side:
        plan, shell = self.plan, self.shell
        u_knots, v_knots = self.knots(lip, k), even_knots(_TURN_SPANS)
        u, v = (each.ravel() for each in np.meshgrid(greville(u_knots), greville(v_knots), indexing="ij"))
        sizes = np.repeat(size, len(greville(v_knots)))
        inset = plan.inset_mm(sizes, v)
        bare = EdgeRun(pieces=lip, sizes=np.zeros((len(lip), 4)))
        xy = crests(bare, np.full(len(u), k), u, inset)
        z = plan.face.height_mm(xy) - plan.depth_mm(sizes, inset)
        points = np.column_stack([xy, z]).reshape(len(size), -1, 3)
        foot, crest = shell.spline(points[:, 0], u_knots), shell.spline(points[:, -1], u_knots)
        ends = [
            shell.point_edge(points[i, 0], (at, 0.0), (at, 1.0))
            if size[i] < _NOTHING_MM
            else shell.spline(points[i], v_knots).along((at, 0.0), (at, 1.0))
            for i, at in ((0, 0.0), (-1, 1.0))
        ]
        loop = [
            foot.along((0.0, 0.0), (1.0, 0.0)),
            ends[1],
            crest.turned().along((1.0, 1.0), (0.0, 1.0)),
            ends[0].turned(),
        ]
        shell.face(surface_through(points, u_knots, v_knots), [loop])
        return crest


def _sizes(run: EdgeRun, points: FloatArray) -> FloatArray:
    """Sizes (n,) of the treatment at points (n, 2) of the lip."""
    index, share, _ = run.feet(points)
    return run.size_mm(index, share)


def _area(pieces: Pieces) -> float:
    """Signed area inside a closed run of pieces, mm2."""
    a, b = pieces.start, pieces.end
    bulge = pieces.radius**2 * (pieces.sweep - np.sin(pieces.sweep)) / 2
    return float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum() / 2 + bulge.sum())
