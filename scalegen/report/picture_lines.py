"""Chains of lines and arcs cut into what a page shows of them: straight steps, seen stretches, dashes."""

import numpy as np

from scalegen.outline.ring import FloatArray

_MOST_STEPS = 20_000


def flat_points(rows: FloatArray, *, closed: bool, tolerance: float) -> FloatArray:
    """Points on a chain of lines and arcs.

    Args:
        rows: float64 (n, 3) x, y, bulge, n >= 2.
        closed: Whether the last row leads back to the first; its first point is then repeated at the end.
        tolerance: Most that the points' chords may be off an arc, in the unit of the rows, above 0.

    Returns:
        float64 (m, 2).
    """
    ends = np.roll(rows, -1, axis=0) if closed else rows[1:]
    starts = rows if closed else rows[:-1]
    chord = ends[:, :2] - starts[:, :2]
    turn = 4 * np.arctan(starts[:, 2])
    half = np.maximum(np.abs(turn) / 2, 1e-12)
    radius = np.hypot(*chord.T) / (2 * np.sin(half))
    # The sagitta r (1 - cos(a / 2)) of a short arc is r a^2 / 8.
    most = np.abs(turn) * np.sqrt(radius / (8 * tolerance))
    counts = np.where(turn == 0, 1, np.clip(np.ceil(most), 2, _MOST_STEPS)).astype(np.intp)
    index = np.repeat(np.arange(len(starts)), counts)
    number = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    # A point of an arc as a share of its chord, turned: sin(a) / sin(half) at the angle a - half.
    part = turn[index] / 2 * number / counts[index]
    whole = turn[index] / 2
    straight = whole == 0
    reach = np.where(straight, number / counts[index], np.sin(part) / np.where(straight, 1.0, np.sin(whole)))
    angle = part - whole
    cos, sin = reach * np.cos(angle), reach * np.sin(angle)
    x, y = chord[index].T
    points = starts[index, :2] + np.column_stack([x * cos - y * sin, x * sin + y * cos])
    return np.vstack([points, ends[-1:, :2]])


def _within(points: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """For each step from point to point, the shares (n, 2) of it between which it lies in a box.

    Steps that miss the box have the first share above the second. Source: Liang and Barsky, A new concept
    and method for line clipping (1984), from memory.
    """
    start, step = points[:-1], np.diff(points, axis=0)
    flat = step == 0
    safe = np.where(flat, 1.0, step)
    one, other = (low - start) / safe, (high - start) / safe
    out = flat & ((start < low) | (start > high))
    enter = np.where(flat, np.where(out, 2.0, 0.0), np.minimum(one, other)).max(axis=1)
    leave = np.where(flat, 1.0, np.maximum(one, other)).min(axis=1)
    return np.column_stack([np.maximum(enter, 0.0), np.minimum(leave, 1.0)])


def seen_runs(
    points: FloatArray,
    low: FloatArray,
    high: FloatArray,
    dash: tuple[float, float] | tuple[()] = (),
) -> list[FloatArray]:
    """The pieces of a chain that are drawn.

    Args:
        points: float64 (m, 2), m >= 2.
        low: Lower corner (2,) of the box that is seen.
        high: Its upper corner (2,).
        dash: What is drawn and left out by turns, counted from the first point; empty for a solid line.

    Returns:
        Chains float64 (k, 2), k >= 2, inside the box.
    """
    lengths = np.hypot(*np.diff(points, axis=0).T)
    travelled = np.concatenate([[0.0], np.cumsum(lengths)])
    spans = _stretches(lengths, travelled, _within(points, low, high))
    if dash:
        spans = [piece for begin, end in spans for piece in _cut(begin, end, dash)]
    return _parts(points, lengths, travelled, np.array(spans).reshape(-1, 2))


def _stretches(lengths: FloatArray, travelled: FloatArray, shares: FloatArray) -> list[tuple[float, float]]:
    """Where along a chain it lies in the box: begin and end of each stretch."""
    seen = np.flatnonzero((shares[:, 0] <= shares[:, 1]) & (lengths > 0))
    begins = travelled[seen] + shares[seen, 0] * lengths[seen]
    ends = travelled[seen] + shares[seen, 1] * lengths[seen]
    if not len(seen):
        return []
    fresh = np.concatenate([[True], begins[1:] > ends[:-1] + 1e-6])
    first = np.flatnonzero(fresh)
    last = np.concatenate([first[1:] - 1, [len(seen) - 1]])
    return [(float(a), float(b)) for a, b in zip(begins[first], ends[last], strict=True)]


def _cut(begin: float, end: float, dash: tuple[float, float]) -> list[tuple[float, float]]:
    """The dashes of a stretch."""
    drawn, period = dash[0], dash[0] + dash[1]
    first, last = int(begin // period), int(end // period)
    spans = ((max(begin, k * period), min(end, k * period + drawn)) for k in range(first, last + 1))
    return [(a, b) for a, b in spans if b > a]


def _parts(
    points: FloatArray, lengths: FloatArray, travelled: FloatArray, spans: FloatArray
) -> list[FloatArray]:
    """The points of a chain from one travelled length to another, for each of spans (k, 2)."""
    step = np.clip(np.searchsorted(travelled, spans, side="right") - 1, 0, len(lengths) - 1)
    share = (spans - travelled[step]) / np.where(lengths[step] > 0, lengths[step], 1.0)
    tips = points[step] + share[:, :, None] * (points[step + 1] - points[step])
    first = np.searchsorted(travelled, spans[:, 0] + 1e-9)
    last = np.searchsorted(travelled, spans[:, 1] - 1e-9)
    return [np.vstack([tips[k, :1], points[first[k] : last[k]], tips[k, 1:]]) for k in range(len(spans))]
