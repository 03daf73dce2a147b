"""Chaining loose lines and arcs into rings."""

import numpy as np

from scalegen.outline.pieces import SNAP_MM, BoolArray, IntArray, Pieces
from scalegen.outline.ring import FloatArray, Ring


def chain(p: Pieces) -> list[Ring]:
    """Rings made of pieces that follow each other end to start; see :func:`chained`."""
    return chained(p)[0]


def chained(p: Pieces) -> tuple[list[Ring], float]:
    """Rings made of pieces that follow each other end to start, and the length that found no place in one.

    Ends within ``SNAP_MM`` are one point. Pieces that run over each other in opposite directions cancel, and
    of those that run the same way one is left. Dead ends are pruned, so a stray sliver does no harm; where
    a point has several ways on, the leftmost is taken, and a walk that comes back to a point is split there,
    which keeps touching lobes apart. Rings keep the direction of their pieces: counter-clockwise around
    material, clockwise around a hole.

    Args:
        p: m pieces.

    Returns:
        (rings, length in mm of the pieces pruned as dead ends).
    """
    if not len(p):
        return [], 0.0
    ends = np.concatenate([p.start, p.end])
    node = _clusters(ends)
    tail, head = node[: len(p)], node[len(p) :]
    alive = (tail != head) | (np.abs(p.sweep) > np.pi)
    alive &= ~_doubled(p, tail, head, alive)
    pruned = _dead_ends(tail, head, alive)
    alive &= ~pruned
    points = _centers(node, ends)
    rings = [
        Ring(np.column_stack([points[tail[loop]], np.tan(p.sweep[loop] / 4)]))
        for walk in _walks(p, tail, head, alive)
        for loop in _loops(walk, tail)
        if len(loop) > 1 or abs(p.sweep[loop[0]]) > np.pi
    ]
    return rings, float(p.lengths[pruned].sum())


def _doubled(p: Pieces, tail: IntArray, head: IntArray, alive: BoolArray) -> BoolArray:
    """Pieces to leave out because another runs over them: both where they run opposite ways, else one."""
    out = np.zeros(len(p), dtype=np.bool_)
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    picks = np.flatnonzero(alive)
    order = picks[np.lexsort((high[picks], low[picks]))]
    same = (low[order[:-1]] == low[order[1:]]) & (high[order[:-1]] == high[order[1:]])
    if not same.any():
        return out
    middle = p.at(np.arange(len(p)), np.full(len(p), 0.5))
    groups = np.split(order, np.flatnonzero(~same) + 1)
    for group in (g for g in groups if len(g) > 1):
        for k, i in enumerate(group):
            for j in group[k + 1 :]:
                if out[i] or out[j] or np.hypot(*(middle[i] - middle[j])) > SNAP_MM:
                    continue
                out[j] = True
                out[i] = tail[i] != tail[j]
    return out


def _dead_ends(tail: IntArray, head: IntArray, alive: BoolArray) -> BoolArray:
    """Pieces that nothing leads to or on from, and those that are so once they are gone."""
    left = alive.copy()
    count = int(max(tail.max(), head.max())) + 1
    while True:
        incoming = np.bincount(head[left], minlength=count)
        outgoing = np.bincount(tail[left], minlength=count)
        dead = left & ((incoming[tail] == 0) | (outgoing[head] == 0))
        if not dead.any():
            return alive & ~left
        left &= ~dead


def _walks(p: Pieces, tail: IntArray, head: IntArray, alive: BoolArray) -> list[list[int]]:
    """Closed walks over the pieces, leftmost turn first."""
    leave, arrive = p.heading(0.0), p.heading(1.0)
    order = [int(i) for i in np.flatnonzero(alive)]
    free = set(order)
    start, stop = tail.tolist(), head.tolist()
    ways: dict[int, list[int]] = {}
    for i in order:
        ways.setdefault(start[i], []).append(i)
    walks = []
    for origin in order:
        if origin not in free:
            continue
        walk = [origin]
        free.discard(origin)
        while stop[walk[-1]] != start[origin]:
            here = [i for i in ways.get(stop[walk[-1]], []) if i in free]
            if not here:
                walk = []
                break
            turns = [_turn(arrive[walk[-1]], leave[i]) for i in here] if len(here) > 1 else [0.0]
            best = here[turns.index(max(turns))]
            walk.append(best)
            free.discard(best)
        if walk:
            walks.append(walk)
    return walks


def _loops(walk: list[int], tail: IntArray) -> list[list[int]]:
    """A closed walk, split so that no loop passes a point twice."""
    loops: list[list[int]] = []
    path: list[int] = []
    place: dict[int, int] = {}
    for i in walk:
        node = int(tail[i])
        if node in place:
            loop = path[place[node] :]
            del path[place[node] :]
            for k in loop:
                del place[int(tail[k])]
            loops.append(loop)
        place[node] = len(path)
        path.append(i)
    return [path, *loops]


def _turn(arrive: FloatArray, leave: FloatArray) -> float:
    """Signed angle from one heading to the next."""
    return float(np.arctan2(arrive[0] * leave[1] - arrive[1] * leave[0], arrive @ leave))


def _clusters(points: FloatArray) -> IntArray:
    """Number of the cluster each point (k, 2) belongs to; points within SNAP_MM share one."""
    order = np.lexsort((points[:, 1], points[:, 0]))
    p = points[order]
    label = np.arange(len(p))
    first, second = [label[:0]], [label[:0]]
    step = 1
    near = label
    while True:
        near = near[near + step < len(p)]
        near = near[p[near + step, 0] - p[near, 0] <= SNAP_MM]
        if not len(near):
            break
        close = near[np.abs(p[near + step, 1] - p[near, 1]) <= SNAP_MM]
        close = close[np.hypot(*(p[close + step] - p[close]).T) <= SNAP_MM]
        first.append(close)
        second.append(close + step)
        step += 1
    i, j = np.concatenate(first), np.concatenate(second)
    while (label[i] != label[j]).any():
        low = np.minimum(label[i], label[j])
        np.minimum.at(label, i, low)
        np.minimum.at(label, j, low)
    out = np.empty(len(p), dtype=np.intp)
    out[order] = np.unique(label, return_inverse=True)[1]
    return out


def _centers(node: IntArray, points: FloatArray) -> FloatArray:
    """Mean point (c, 2) of each cluster."""
    count = np.bincount(node).astype(float)
    return np.column_stack([np.bincount(node, weights=points[:, k]) / count for k in (0, 1)])
