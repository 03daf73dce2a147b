"""Ways to hold the two scales of a pair together as one rigid body."""

import math
from collections.abc import Sequence
from typing import Literal, TypeAlias

import numpy as np
import shapely

from scalegen.nest.convolve import convolution
from scalegen.nest.exact import covered
from scalegen.nest.lattice import counter_clockwise, snap, turned
from scalegen.nest.poses import outlines
from scalegen.nest.records import Part, Shape
from scalegen.outline.ring import FloatArray

Mode: TypeAlias = Literal["adjacent", "mirrored"]

_TOLERANCE_MM = 0.01
_WALK_MM = 1.0
_BESIDE = 0.5
_CLEAR_MM = 1e-6
_ALONG, _ACROSS = (0.0, 1.0), (1.0, 0.0)


def mates(
    left: Shape, right: Shape, spacing_mm: float, mode: Mode, most: int = 8
) -> tuple[tuple[Part, ...], ...]:
    """Find ways to lay partners beside each other exactly the spacing apart.

    Args:
        left: The left scale; it stays where it is.
        right: The right one, in its own frame: the left one mirrored across its x axis.
        spacing_mm: What must be free between the two.
        mode: "adjacent": side by side for half their length at least, the right one as it is or turned half
            round, wherever is tightest; after these the ways of "mirrored" that lie so, for sheets that want
            them.
            "mirrored": each the mirror image of the other across a line along x (the first two ways, facing
            on either side) or across it (the last two), so that a figure opened like a book meets itself.
        most: Most ways to hand over when adjacent.

    Returns:
        Forms for a body, the tightest first.

    Raises:
        GeometryError: A shape is not a simple polygon.
    """
    ready = outlines([left, right], spacing_mm, _TOLERANCE_MM)
    stays, comes = ready[left.key].grown_mm, ready[right.key].grown_mm
    offsets = [
        (angle, *_along(_forbidden(stays, turned(comes, angle)), axis, sign))
        for angle, axis in ((0.0, _ALONG), (math.pi, _ACROSS))
        for sign in (1.0, -1.0)
    ]
    if mode == "adjacent":
        # Facing each other along their length is next to one another too; end to end colours drift apart.
        one, other = ready[left.key].exact_mm, ready[right.key].exact_mm
        facing = [
            (angle, x, y)
            for angle, x, y in offsets
            if _beside(one, turned(other, angle), np.array([[x, y]])).all()
        ]
        tight = _tightest(one, other, stays, comes, max(1, most - len(facing)))
        offsets = _apart([*tight, *facing])[:most]
    return tuple(
        (Part(shape=left.key), Part(shape=right.key, angle_rad=angle, x_mm=x, y_mm=y))
        for angle, x, y in offsets
    )


def _forbidden(stays: FloatArray, comes: FloatArray) -> shapely.Geometry:
    """Offsets that put one grown polygon on another."""
    return covered([convolution(stays, -counter_clockwise(snap(comes)))])


def _along(region: shapely.Geometry, axis: tuple[float, float], sign: float) -> tuple[float, float]:
    """First free offset along an axis, coming from outside."""
    far = 2.0 * max(map(abs, region.bounds))
    line = shapely.LineString([(0.0, 0.0), (sign * far * axis[0], sign * far * axis[1])])
    hit = shapely.get_coordinates(region.intersection(line))
    reach = float(np.abs(hit).max(initial=0.0)) + _CLEAR_MM
    reach = math.ceil(reach * 2**20) / 2**20
    return sign * reach * axis[0], sign * reach * axis[1]


def _tightest(
    left: FloatArray, right: FloatArray, stays: FloatArray, comes: FloatArray, most: int
) -> list[tuple[float, float, float]]:
    """Angles and offsets of the tightest couples: by hull and by box, for both turns of the right one."""
    ranked: list[tuple[int, int, float, float, float]] = []
    for angle in (math.pi, 0.0):
        other = turned(right, angle)
        walk = _walk(_forbidden(stays, turned(comes, angle)))
        walk = walk[_beside(left, other, walk)]
        for measure in (_hulls, _boxes):
            sizes = np.round(measure(left, other, walk) * 1024).astype(np.int64)
            ranked += [
                (place, int(sizes[k]), angle, float(walk[k, 0]), float(walk[k, 1]))
                for place, k in enumerate(_different(walk, sizes, 2))
            ]
    return _apart([entry[2:] for entry in sorted(ranked, key=lambda entry: entry[:2])])[:most]


def _apart(offsets: Sequence[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Offsets that differ by more than a little, in the same order."""
    out: list[tuple[float, float, float]] = []
    for angle, x, y in offsets:
        if all(angle != a or abs(x - u) + abs(y - v) > _WALK_MM for a, u, v in out):
            out.append((angle, x, y))
    return out


def _walk(region: shapely.Geometry) -> FloatArray:
    """Offsets along a region's outline, a hair outside: its corners and points between."""
    # Of equally tight couples the first on the walk is taken, so no library may say where it starts.
    outline = region.buffer(_CLEAR_MM, join_style="mitre")
    rings = [
        counter_clockwise(np.asarray(piece.exterior.coords)[:-1, :2]) for piece in shapely.get_parts(outline)
    ]
    rings.sort(key=lambda ring: ring[0].tolist())
    closed = [shapely.LineString(np.vstack([ring, ring[:1]])[::-1]) for ring in rings]
    points = [shapely.get_coordinates(shapely.segmentize(line, _WALK_MM))[:-1] for line in closed]
    walked: FloatArray = snap(np.concatenate(points))
    return walked


def _beside(left: FloatArray, right: FloatArray, offsets: FloatArray) -> np.typing.NDArray[np.bool_]:
    """Which offsets put the two side by side rather than end to end: (k,)."""
    low, high = left.min(axis=0), left.max(axis=0)
    axis = int(np.argmax(high - low))
    start, end = right[:, axis].min() + offsets[:, axis], right[:, axis].max() + offsets[:, axis]
    shared = np.minimum(end, high[axis]) - np.maximum(start, low[axis])
    beside: np.typing.NDArray[np.bool_] = shared >= _BESIDE * (high[axis] - low[axis])
    return beside


def _hulls(left: FloatArray, right: FloatArray, offsets: FloatArray) -> FloatArray:
    """Areas of the tightest bands round both, (k,)."""
    clouds = [shapely.MultiPoint(np.concatenate([left, right + offset])) for offset in offsets]
    areas: FloatArray = shapely.area(shapely.convex_hull(clouds))
    return areas


def _boxes(left: FloatArray, right: FloatArray, offsets: FloatArray) -> FloatArray:
    """Areas of the boxes round both, (k,)."""
    low = np.minimum(left.min(axis=0), right.min(axis=0) + offsets)
    high = np.maximum(left.max(axis=0), right.max(axis=0) + offsets)
    areas: FloatArray = (high - low).prod(axis=1)
    return areas


def _different(walk: FloatArray, sizes: np.typing.NDArray[np.int64], most: int) -> Sequence[int]:
    """The smallest few that are not near one another."""
    chosen: list[int] = []
    for k in np.argsort(sizes, kind="stable").tolist():
        if all(abs(walk[k] - walk[j]).max() > 4 * _WALK_MM for j in chosen):
            chosen.append(k)
        if len(chosen) == most:
            break
    return chosen
