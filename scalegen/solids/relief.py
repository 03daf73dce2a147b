"""Grooves as faces of the body itself: walls and a floor that follow the face, or the hollows of a ball.

Nothing is cut: the face gets the grooves' outlines as borders of its own, and walls, floors and hollows share
these. Where two hollows cross squarely they meet above the two diagonals, so every stretch of a hollow is a
spline face between the centre line, the face, and diagonals or ends.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from scalegen.form.grooves import Grooves
from scalegen.outline.ring import FloatArray, Ring
from scalegen.solids.draper import Draper, reversed_border
from scalegen.solids.kernel import ring_pieces
from scalegen.solids.ledge import turned_round
from scalegen.solids.shell import Side
from scalegen.solids.spline import even_knots, greville, surface_through

_TURN_SPANS = 3
_CHORD_MM = 0.01
_SQUARE = 1e-9
_UNIT = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))


def add_grooves(draper: Draper, grooves: Grooves) -> list[list[Side]]:
    """Add the faces of all grooves, and of the islands between them.

    Args:
        draper: The body they are in.
        grooves: Clear of everything else.

    Returns:
        Borders of the grooves in the face around them, each with the material to its left.
    """
    rings = grooves.region()
    around = [ring for ring in rings if ring.area_mm2 > 0]
    islands = [ring for ring in rings if ring.area_mm2 < 0]
    borders = {id(ring): _border(draper, ring) for ring in rings}
    if grooves.ball:
        _hollows(draper, grooves)
    else:
        _level(draper, grooves.depth_mm, rings, around, islands)
    outermost: list[list[Side]] = []
    inner: dict[int, list[list[Side]]] = {id(ring): [] for ring in islands}
    for ring in around:
        home = _smallest_around(ring, islands)
        (outermost if home is None else inner[id(home)]).append(borders[id(ring)])
    for ring in islands:
        draper.graph(0.0, [borders[id(ring)], *inner[id(ring)]])
    return outermost


def _border(draper: Draper, ring: Ring) -> list[Side]:
    """The outline of grooves at the face, with the face to its left."""
    return reversed_border(draper.border(ring_pieces(ring), draper.at_depth(0.0)))


def _smallest_around(ring: Ring, others: Sequence[Ring]) -> Ring | None:
    """The smallest of other rings that holds a ring; None where none does."""
    spot = shapely.Point(ring.starts[0])
    holding = [other for other in others if shapely.Polygon(other.flatten(_CHORD_MM)).contains(spot)]
    return min(holding, key=lambda other: abs(other.area_mm2)) if holding else None


# ------------------------------------------------------------------------------------------ flat cutter


def _level(
    draper: Draper, depth_mm: float, rings: Sequence[Ring], around: Sequence[Ring], islands: Sequence[Ring]
) -> None:
    """Upright walls, and floors at a depth below the face."""
    loops = {}
    for ring in rings:
        pieces = ring_pieces(ring)
        loops[id(ring)] = draper.border(pieces, draper.at_depth(depth_mm))
        # The wall looks into the groove, which lies to the left: the material is on the other side.
        draper.walls(
            turned_round(pieces),
            lambda p, k: draper.spline(p, k, draper.at_depth(depth_mm)),
            lambda p, k: draper.spline(p, k, draper.at_depth(0.0)),
        )
    homes = [_smallest_around(island, around) for island in islands]
    for ring in around:
        holes = [loops[id(island)] for island, home in zip(islands, homes, strict=True) if home is ring]
        draper.graph(depth_mm, [loops[id(ring)], *holes])


# ------------------------------------------------------------------------------------------ ball cutter


@dataclass(frozen=True, kw_only=True)
class _Node:
    """A place along a groove's centre line: an end, or a crossing with another groove."""

    at_mm: float
    crossing: bool


def _hollows(draper: Draper, grooves: Grooves) -> None:
    """Round hollows along all lines, in stretches from crossing to crossing, with a bowl at each end."""
    for start, end in zip(grooves.starts, grooves.ends, strict=True):
        nodes = _nodes(grooves, start, end)
        length = float(np.hypot(*(end - start)))
        along = (end - start) / length
        for a, b in pairwise(nodes):
            _half(draper, grooves, start, along, (a, b))
            back = (
                _Node(at_mm=length - b.at_mm, crossing=b.crossing),
                _Node(at_mm=length - a.at_mm, crossing=a.crossing),
            )
            _half(draper, grooves, end, -along, back)
        _bowl(draper, grooves, end, along)
        _bowl(draper, grooves, start, -along)


def _nodes(grooves: Grooves, start: FloatArray, end: FloatArray) -> list[_Node]:
    """Ends and crossings along one groove, in order."""
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    across = np.array([-along[1], along[0]])
    from_a, from_b = grooves.starts - start, grooves.ends - start
    square = np.abs((from_b - from_a) @ along) < _SQUARE * length + _SQUARE
    sides = (from_a @ across) * (from_b @ across)
    at = from_a @ along
    met = square & (sides < 0) & (at > 0) & (at < length)
    crossed = [_Node(at_mm=float(s), crossing=True) for s in np.sort(at[met])]
    return [_Node(at_mm=0.0, crossing=False), *crossed, _Node(at_mm=length, crossing=False)]


def _half(
    draper: Draper, grooves: Grooves, start: FloatArray, along: FloatArray, nodes: tuple[_Node, _Node]
) -> None:
    """The left half of a hollow between two nodes of a line."""
    left = np.array([-along[1], along[0]])
    a, b = nodes
    # The knots of its border at the face, which the face around it has too.
    border_mm = b.at_mm - a.at_mm - (int(a.crossing) + int(b.crossing)) * grooves.half_mm
    u_knots = draper.knots_for(border_mm)
    turn = greville(even_knots(_TURN_SPANS)) * grooves.turn_rad
    away = grooves.width_mm / 2 * np.sin(turn)
    first, last = a.at_mm + a.crossing * away, b.at_mm - b.crossing * away
    share = greville(u_knots)[:, None]
    far = first + share * (last - first)
    xy = start + far[..., None] * along + np.broadcast_to(away, far.shape)[..., None] * left
    _hollow(draper, grooves, xy, turn, u_knots)


def _bowl(draper: Draper, grooves: Grooves, end: FloatArray, along: FloatArray) -> None:
    """The round end of a hollow."""
    left = np.array([-along[1], along[0]])
    u_knots = draper.knots_for(np.pi * grooves.half_mm, np.pi)
    turn = greville(even_knots(_TURN_SPANS)) * grooves.turn_rad
    away = grooves.width_mm / 2 * np.sin(turn)
    # From the left round to the right, so that the outward normal is up.
    angle = np.pi * (0.5 - greville(u_knots))
    spoke = np.cos(angle)[:, None] * along + np.sin(angle)[:, None] * left
    _hollow(draper, grooves, end + away[None, :, None] * spoke[:, None, :], turn, u_knots)


def _hollow(draper: Draper, grooves: Grooves, xy: FloatArray, turn: FloatArray, u_knots: FloatArray) -> None:
    """A face through places (n, m, 2): along the line, and (m,) round the ball from its lowest point."""
    shell, v_knots = draper.shell, even_knots(_TURN_SPANS)
    n, m = xy.shape[:2]
    radius = grooves.width_mm / 2
    depth = grooves.depth_mm - 2 * radius * np.sin(turn / 2) ** 2
    depth[-1] = 0.0
    z = draper.plan.face.height_mm(xy.reshape(-1, 2)).reshape(n, m) - depth
    points = np.concatenate([xy, z[..., None]], axis=-1)
    if np.ptp(points[:, 0], axis=0).max() > 0:
        low = shell.spline(points[:, 0], u_knots).along(*_UNIT[:2])
    else:
        low = shell.point_edge(points[0, 0], *_UNIT[:2])
    high = shell.spline(points[:, -1], u_knots).turned().along(*_UNIT[2:])
    end = shell.spline(points[-1], v_knots).along(*_UNIT[1:3])
    start = shell.spline(points[0], v_knots).turned().along(_UNIT[3], _UNIT[0])
    shell.face(surface_through(points, u_knots, v_knots), [[low, end, high, start]])
