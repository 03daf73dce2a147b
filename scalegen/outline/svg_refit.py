"""Subpaths in mm turned into pieces: lines stay lines, round arcs stay arcs, other curves are refitted."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.join import Piece, arc_rows
from scalegen.outline.paths import Curve, FlatPath, Path, Turn, laid_down
from scalegen.outline.refit import SAMPLE_SHARE, TOLERANCE_MM, curves_off_mm, piece_of
from scalegen.outline.ring import FloatArray
from scalegen.outline.svg_arcs import arcs_of
from scalegen.outline.svg_segments import Arc, Bezier, Line, Point, Segment, Subpath

_SAME_MM = 1e-6
_STRAIGHT = 1e-9
_ROUND_SHARE = 3.5e-4
_ROUND_LEAST_MM = 2e-4
_MOST_OF_CIRCLE = 64

Part = FloatArray | Curve


@dataclass(frozen=True, kw_only=True, eq=False)
class Bent:
    """A subpath in mm, cleaned: what has no length is gone, and what is straight is a line.

    Attributes:
        name: What drew it, for messages.
        closed: As the subpath says.
        steps: Segments and where each begins.
        points: (n, 2), their box holds it.
    """

    name: str
    closed: bool
    steps: tuple[tuple[Point, Segment], ...]
    points: FloatArray

    @property
    def curved(self) -> tuple[int, ...]:
        """Numbers of the steps that are neither lines nor parts of circles."""
        return tuple(
            k
            for k, (_, segment) in enumerate(self.steps)
            if isinstance(segment, Bezier) or (isinstance(segment, Arc) and not _is_round(segment))
        )

    @property
    def size_mm(self) -> float:
        """Longer side of its box."""
        return float(np.ptp(self.points, axis=0).max())


def bent_of(subpath: Subpath, name: str) -> Bent:
    """Clean a subpath.

    Args:
        subpath: In mm.
        name: What drew it.
    """
    steps: list[tuple[Point, Segment]] = []
    at = subpath.start
    for segment in [*subpath.segments, Line(end=subpath.start)] if subpath.closed else subpath.segments:
        step: Segment = segment
        if isinstance(segment, Bezier):
            if _is_point(at, segment):
                continue
            if _is_straight(at, segment):
                step = Line(end=segment.end)
        if isinstance(step, Line) and math.dist(at, step.end) <= _SAME_MM:
            continue
        steps.append((at, step))
        at = step.end
    return Bent(name=name, closed=subpath.closed, steps=tuple(steps), points=subpath.points())


def _is_round(arc: Arc) -> bool:
    long, wide = math.hypot(*arc.u), math.hypot(*arc.v)
    return (
        abs(long - wide) <= 1e-6 * long and abs(arc.u[0] * arc.v[0] + arc.u[1] * arc.v[1]) <= 1e-6 * long**2
    )


def samples_needed(bent: Bent, tolerance_mm: float) -> int:
    """About how many points :func:`careful_piece` will work with, which is what its work goes by.

    A chord over the part s of a cubic or of an ellipse is off it by at most the second derivative times
    s^2 / 8.
    """
    count = 0.0
    for k in bent.curved:
        at, item = bent.steps[k]
        bends = 0.0
        if isinstance(item, Bezier):
            bends = max(_bend(at, item.first, item.second), _bend(item.first, item.second, item.end)) * 6
        elif isinstance(item, Arc):
            bends = max(math.hypot(*item.u), math.hypot(*item.v)) * item.sweep_rad**2
        count += max(8.0, math.ceil(math.sqrt(bends / 8 / (SAMPLE_SHARE * tolerance_mm))))
    return int(count)


def _bend(a: Point, b: Point, c: Point) -> float:
    return math.hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1])


def plain_piece(bent: Bent, tolerance_mm: float) -> Piece | None:
    """The piece of a subpath without curves, or with Beziers that stand for a full circle; else None.

    Args:
        bent: The subpath.
        tolerance_mm: Largest distance of Beziers from the circle they stand for.
    """
    if not bent.curved:
        return _piece(bent, _parts(bent.steps, {}))
    if len(bent.steps) > _MOST_OF_CIRCLE or not all(isinstance(s, Bezier) for _, s in bent.steps):
        return None
    (curve,) = _parts(bent.steps, {})
    rows = _circle(curve, tolerance_mm) if isinstance(curve, Curve) else None
    return None if rows is None else _piece(bent, [rows])


def careful_piece(bent: Bent, tolerance_mm: float) -> Piece:
    """Few arcs for a subpath with curves.

    Args:
        bent: The subpath.
        tolerance_mm: Largest distance between a curve and the arcs that stand for it.

    Raises:
        UnreadableError: A curve is too long or too involved to be followed in this way.
    """
    return _piece(bent, _parts(bent.steps, {}), tolerance_mm)


def quick_pieces(bents: Sequence[Bent], tolerance_mm: float, most: int) -> list[Piece | UnreadableError]:
    """Arcs for many subpaths with curves, each curve by itself; or why one cannot be taken.

    Args:
        bents: The subpaths.
        tolerance_mm: Largest distance between a curve and the arcs that stand for it.
        most: Largest number of arcs in all.

    Raises:
        UnreadableError: There would be more arcs than that.
    """
    places = [(i, k) for i, bent in enumerate(bents) for k in bent.curved]
    starts = [bents[i].steps[k][0] for i, k in places]
    segments = [item for i, k in places if not isinstance(item := bents[i].steps[k][1], Line)]
    ready: list[dict[int, FloatArray | None]] = [{} for _ in bents]
    for (i, k), rows in zip(places, arcs_of(starts, segments, tolerance_mm, most), strict=True):
        ready[i][k] = rows
    return [_quick_piece(bent, rows) for bent, rows in zip(bents, ready, strict=True)]


def _quick_piece(bent: Bent, ready: Mapping[int, FloatArray | None]) -> Piece | UnreadableError:
    """A piece of what is ready for its curves, or why there is none."""
    known = {k: rows for k, rows in ready.items() if rows is not None}
    if len(known) < len(ready):
        return UnreadableError("a curve with too many bends")
    try:
        return _piece(bent, _parts(bent.steps, known))
    except UnreadableError as error:
        return error


def _piece(bent: Bent, parts: Sequence[Part], tolerance_mm: float = TOLERANCE_MM) -> Piece:
    path = FlatPath(parts=tuple(parts), closed=bent.closed, height=0.0, name=bent.name)
    return piece_of(path, 1.0, tolerance_mm)


def reached_mm(bent: Bent, piece: Piece) -> float:
    """Largest distance found from the curves of a subpath to its piece."""
    return curves_off_mm(_parts(bent.steps, {}), piece)


def _parts(steps: Sequence[tuple[Point, Segment]], ready: Mapping[int, FloatArray]) -> list[Part]:
    """Rows for lines, round arcs and what is ready; one curve for each run of Beziers that is not."""
    parts: list[Part] = []
    lines: list[Point] = []
    cubics: list[list[Point]] = []

    def finish() -> None:
        if len(lines) > 1:
            parts.append(np.array([(*point, 0.0) for point in lines]))
        if cubics:
            parts.append(_bezier_curve(cubics))
        lines.clear()
        cubics.clear()

    for k, (at, segment) in enumerate(steps):
        if isinstance(segment, Line):
            if not lines:
                finish()
                lines.append(at)
            lines.append(segment.end)
        elif isinstance(segment, Bezier) and k not in ready:
            if not cubics:
                finish()
            cubics.append([at, segment.first, segment.second, segment.end])
        else:
            finish()
            parts.append(ready[k] if isinstance(segment, Bezier) or k in ready else _turn(at, segment))
    finish()
    return parts


def _is_point(at: Point, cubic: Bezier) -> bool:
    return max(math.dist(at, p) for p in (cubic.first, cubic.second, cubic.end)) <= _SAME_MM


def _is_straight(at: Point, cubic: Bezier) -> bool:
    """Whether all control points lie between the ends on the line through them."""
    step = (cubic.end[0] - at[0], cubic.end[1] - at[1])
    length_sq = step[0] ** 2 + step[1] ** 2
    if length_sq <= _SAME_MM**2:
        return False
    for p in (cubic.first, cubic.second):
        arm = (p[0] - at[0], p[1] - at[1])
        along = (arm[0] * step[0] + arm[1] * step[1]) / length_sq
        off = abs(arm[0] * step[1] - arm[1] * step[0]) / length_sq
        if not -_STRAIGHT <= along <= 1 + _STRAIGHT or off * math.sqrt(length_sq) > max(
            _STRAIGHT * math.sqrt(length_sq), _SAME_MM
        ):
            return False
    return True


def _bezier_curve(cubics: Sequence[Sequence[Point]]) -> Curve:
    """Cubics one after another as one curve; cubic k has the parameters k to k + 1."""
    table = np.array(cubics, dtype=np.float64)
    last = len(table) - 1

    def at(t: FloatArray) -> FloatArray:
        k = np.clip(np.floor(t).astype(np.intp), 0, last)
        u = (t - k)[:, None]
        a, b, c, d = (table[k, j] for j in range(4))
        s = 1 - u
        return np.asarray(s**3 * a + 3 * s**2 * u * b + 3 * s * u**2 * c + u**3 * d)

    return Curve(at=at, breaks=np.arange(len(table) + 1, dtype=np.float64))


def _turn(at: Point, arc: Arc) -> Part:
    """Rows of a round arc, a curve for any other; both end exactly where the neighbours begin."""
    if _is_round(arc):
        turned = 1.0 if arc.u[0] * arc.v[1] - arc.u[1] * arc.v[0] > 0 else -1.0
        first = math.atan2(arc.u[1], arc.u[0]) + turned * arc.start_rad
        rows = arc_rows(arc.center, math.hypot(*arc.u), first, turned * arc.sweep_rad)
        rows[0, :2], rows[-1, :2] = at, arc.end
        return rows
    side = 1.0 if arc.sweep_rad > 0 else -1.0
    # A turn only goes forwards; backwards is forwards with the second axis the other way round.
    shape = Turn(
        center=np.array([*arc.center, 0.0]),
        u=np.array([*arc.u, 0.0]),
        v=side * np.array([*arc.v, 0.0]),
        start_rad=side * arc.start_rad,
        sweep_rad=abs(arc.sweep_rad),
    )
    return laid_down(Path(shape=shape, closed=False, name="arc")).parts[0]


def _circle(curve: Curve, tolerance_mm: float) -> FloatArray | None:
    """Rows of a full circle where Beziers go once round one as closely as Beziers can; else None.

    Four cubics that stand for a circle are up to 2.7e-4 of its radius off (common knowledge, checked in the
    tests), which would make a pin hole a little out of round.
    """
    t = np.linspace(curve.breaks[0], curve.breaks[-1], 16 * (len(curve.breaks) - 1) + 1)
    points = curve.at(t)
    middle = points[:-1].mean(axis=0)
    p = points - middle
    if np.hypot(*(p[-1] - p[0])) > _SAME_MM:
        return None
    table = np.column_stack([2 * p, np.ones(len(p))])
    x, y, _ = np.linalg.lstsq(table, (p**2).sum(axis=1), rcond=None)[0]
    arm = p - [x, y]
    reach = np.hypot(*arm.T)
    radius = float(reach.max() + reach.min()) / 2
    off = float(np.abs(reach - radius).max())
    angles = np.unwrap(np.arctan2(arm[:, 1], arm[:, 0]))
    steps, turned = np.diff(angles), float(angles[-1] - angles[0])
    if (
        off > min(tolerance_mm, max(_ROUND_LEAST_MM, _ROUND_SHARE * radius))
        or abs(abs(turned) - 2 * np.pi) > 1e-6
    ):
        return None
    if not ((steps > 0).all() or (steps < 0).all()):
        return None
    # Cubics with the usual handles touch the circle from outside.
    return arc_rows((x + middle[0], y + middle[1]), float(reach.min()), float(angles[0]), turned)
