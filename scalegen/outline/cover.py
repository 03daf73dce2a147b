"""A smooth stretch of points covered by as few biarcs as the tolerance allows, searched for side by side.

Where the curvature k grows steadily, arcs of equal length a that follow a curve best leave the error
k' a^3 / 6 times the third Bernoulli polynomial: it is zero at the joints, and its slope there is k' a^2 / 12.
So joints stay on the points, but their tangents lean away from the curve's, by about 10 times the tolerance
over a. Which way and how far each should lean is tried out: from every lean of one joint to every lean of the
next, each as far as it reaches, and the chain that is through first is taken.
"""

import itertools
from dataclasses import dataclass, replace

import numpy as np

from scalegen.outline.biarc import biarc, biarcs, deviation_of, unit
from scalegen.outline.pieces import IntArray
from scalegen.outline.ring import FloatArray

LEANS = np.array([0.0, 0.2, -0.2, 0.4, -0.4, 0.6, -0.6, 0.8, -0.8, 1.0, -1.0, 1.2, -1.2])
SHARES = np.array([1.0, 0.7, 1 / 0.7])
_WAYS = len(SHARES)

LEAN = 6 * np.sqrt(3)  # k' a^2 / 12 over k' a^3 / (72 sqrt 3), the largest error, times a
_SAMPLES = 48
_SHORT, _CLOSER = 4, (0.05, 0.4)  # joints of a chain short enough to be made once more, and how
_SPARED = 0.98  # the rest is for what lies between the places measured


@dataclass(frozen=True, kw_only=True, eq=False)
class Smooth:
    """Points of one smooth stretch.

    Attributes:
        points: (n, 2).
        angles_rad: (n,) directions of the tangents.
        free: Whether the direction at the first and at the last point may be changed.
        closed: The last point repeats the first, and the curve goes on there without a kink.
    """

    points: FloatArray
    angles_rad: FloatArray
    free: tuple[bool, bool]
    closed: bool = False


@dataclass(frozen=True, kw_only=True)
class Joint:
    """A point that two biarcs share.

    Attributes:
        at: Number of the point.
        angle_rad: Direction there.
        share: Tangent lengths of the biarc that ends here, first over second.
    """

    at: int
    angle_rad: float
    share: float = 1.0


@dataclass(frozen=True, kw_only=True)
class _State:
    """A joint reached and the one before it."""

    joint: Joint
    before: "_State | None"


def covered(smooth: Smooth, tolerance_mm: float) -> tuple[Joint, ...]:
    """Joints of few biarcs that stay within a distance of all points.

    Args:
        smooth: At least two points.
        tolerance_mm: Largest distance, both from the points and from the lines between these.

    Returns:
        The first point's joint to the last point's. Where not even neighbouring points can be joined by a
        biarc the next joint is the neighbour all the same.
    """
    best = _chain(smooth, tolerance_mm)
    if len(best) <= _SHORT:
        closer = (_chain(smooth, share * tolerance_mm, len(best)) for share in _CLOSER)
        best = next((chain for chain in closer if 0 < len(chain) <= len(best)), best)
    return _evened(smooth, best, tolerance_mm)


def _chain(smooth: Smooth, tolerance_mm: float, most: int | None = None) -> tuple[Joint, ...]:
    """A chain of few biarcs, all of which hold when measured fully; empty when ``most`` are not enough."""
    chain = _fewest(smooth, _SPARED * tolerance_mm, most)
    out = [*chain[:1]]
    for a, b in itertools.pairwise(chain):
        out += _mended(smooth, a, b, tolerance_mm)
    return tuple(out)


def _evened(smooth: Smooth, chain: tuple[Joint, ...], tolerance_mm: float) -> tuple[Joint, ...]:
    """The chain with its last joint but one moved back where the last biarc is but a stub."""
    if len(chain) < 3:
        return chain
    a, b, c = chain[-3:]
    run = np.insert(np.cumsum(np.hypot(*np.diff(smooth.points[a.at : c.at + 1], axis=0).T)), 0, 0.0)
    if run[-1] - run[b.at - a.at] > 0.5 * run[b.at - a.at]:
        return chain
    for part, lean in itertools.product((0.5, 0.6, 0.7), LEANS):
        at = a.at + int(np.searchsorted(run, part * run[-1]))
        if not a.at < at < c.at:
            continue
        turned = float(smooth.angles_rad[at]) + float(lean) * LEAN * tolerance_mm / (part * run[-1] / 2)
        middle, last = Joint(at=at, angle_rad=turned), replace(c, share=1.0)
        if _holds(smooth, a, middle, tolerance_mm) and _holds(smooth, middle, last, tolerance_mm):
            return (*chain[:-2], middle, last)
    return chain


def _mended(smooth: Smooth, a: Joint, b: Joint, tolerance_mm: float) -> list[Joint]:
    """What follows joint a, up to joint b: cut in halves where one biarc is not enough after all."""
    if b.at == a.at + 1 or _holds(smooth, a, b, tolerance_mm):
        return [b]
    at = (a.at + b.at) // 2
    middle = Joint(at=at, angle_rad=float(smooth.angles_rad[at]))
    last = replace(b, share=1.0)
    return [*_mended(smooth, a, middle, tolerance_mm), *_mended(smooth, middle, last, tolerance_mm)]


def _holds(smooth: Smooth, a: Joint, b: Joint, tolerance_mm: float) -> bool:
    """Whether a biarc stays within the tolerance of all of its points, and they of it."""
    points = smooth.points[a.at : b.at + 1]
    rows = biarc(points[0], unit(a.angle_rad), points[-1], unit(b.angle_rad), b.share)
    return deviation_of(rows, points, tolerance_mm) <= tolerance_mm


def _fewest(smooth: Smooth, tolerance_mm: float, most: int | None) -> tuple[Joint, ...]:
    """The chain that is through first, going on layer by layer from some leans at the first point."""
    last = len(smooth.points) - 1
    edge = float(np.hypot(*np.diff(smooth.points, axis=0).T).sum()) / 40
    leans = LEANS * LEAN * tolerance_mm / edge if smooth.free[0] else LEANS[:1]
    first = float(smooth.angles_rad[0])
    states = [_State(joint=Joint(at=0, angle_rad=first + float(lean)), before=None) for lean in leans]
    step, count = 8, 1
    while most is None or count < most:
        count += 1
        lead = max(state.joint.at for state in states)
        following = _following(smooth, states, tolerance_mm, step)
        through = [state for state in following if state.joint.at == last]
        if through:
            return _traced(through[0])
        following = [state for state in following if state.joint.at > lead]
        if not following:
            front = max(states, key=lambda state: state.joint.at)
            stuck = Joint(at=lead + 1, angle_rad=float(smooth.angles_rad[lead + 1]))
            following = [_State(joint=stuck, before=front)]
            if stuck.at == last:
                return _traced(following[0])
        step = max(2, max(state.joint.at for state in following) - lead)
        states = following
    return ()


def _following(smooth: Smooth, states: list[_State], tolerance_mm: float, step: int) -> list[_State]:
    """For each lean the state farthest on that one biarc leads to."""
    reach, angles, shares = _reaches(smooth, states, tolerance_mm, step)
    out = []
    for m, best in enumerate(reach.argmax(axis=0)):
        joint = Joint(at=int(reach[best, m]), angle_rad=float(angles[best, m]), share=float(shares[best, m]))
        out.append(_State(joint=joint, before=states[best]))
    return out


def _traced(state: _State) -> tuple[Joint, ...]:
    """The joints that led to a state, first to last."""
    out = []
    at: _State | None = state
    while at is not None:
        out.append(at.joint)
        at = at.before
    return tuple(reversed(out))


def _reaches(
    smooth: Smooth, states: list[_State], tolerance_mm: float, step: int
) -> tuple[IntArray, FloatArray, FloatArray]:
    """For each state and each lean, the last point a biarc reaches, and its direction there.

    Returns:
        Two tables (states, leans).
    """
    last, shape = len(smooth.points) - 1, (len(states), len(LEANS), _WAYS)
    each = len(LEANS) * _WAYS
    start = np.repeat([state.joint.at for state in states], each).astype(np.intp)
    lean = np.tile(np.repeat(LEANS, _WAYS), len(states))
    share = np.tile(SHARES, len(states) * len(LEANS))
    first = np.repeat([state.joint.angle_rad for state in states], each)
    halves = np.repeat(smooth.points, 2, axis=0)[:-1]
    halves[1::2] = (smooth.points[:-1] + smooth.points[1:]) / 2
    run = np.insert(np.cumsum(np.hypot(*np.diff(smooth.points, axis=0).T)), 0, 0.0)

    def turned(stop: IntArray) -> FloatArray:
        leaning = lean * LEAN * tolerance_mm * 2 / np.maximum(run[stop] - run[start], 1e-12)
        angle = smooth.angles_rad[stop] + np.clip(leaning, -0.3, 0.3)
        given = (stop == last) & (not smooth.free[1])
        return np.asarray(np.where(given, smooth.angles_rad[last], angle))

    good, bad = start.copy(), np.full(len(start), last + 1)
    ahead = np.full(len(start), max(step, 2))
    while True:
        open_ = np.flatnonzero((bad - good > 1) & (good < last))
        if not len(open_):
            break
        probe = np.minimum(np.where(bad > last, good + ahead, (good + bad) // 2), last)
        angles = (first[open_], turned(probe)[open_])
        fits = _off(halves, (start[open_], probe[open_]), angles, share[open_]) <= tolerance_mm
        good[open_[fits]] = probe[open_[fits]]
        bad[open_[~fits]] = probe[open_[~fits]]
        ahead[open_[fits]] *= 2
    reached, final = good.reshape(shape), turned(good).reshape(shape)
    way = reached.argmax(axis=2)[..., None]
    return (
        np.take_along_axis(reached, way, 2)[..., 0],
        np.take_along_axis(final, way, 2)[..., 0],
        SHARES[way[..., 0]],
    )


def _off(
    halves: FloatArray,
    ends: tuple[IntArray, IntArray],
    angles: tuple[FloatArray, FloatArray],
    share: FloatArray,
) -> FloatArray:
    """Largest distances (k,) from the biarcs of points and of the middles between these (``halves``)."""
    start, stop = 2 * ends[0], 2 * ends[1]
    made = biarcs(halves[start], halves[stop], angles, share)
    return made.off(halves[between(start, stop)])


def between(start: IntArray, stop: IntArray) -> IntArray:
    """Numbers (k, m) spread evenly between two."""
    parts = np.linspace(0.0, 1.0, _SAMPLES + 2)[1:-1]
    return np.rint(start[:, None] + (stop - start)[:, None] * parts).astype(np.intp)
