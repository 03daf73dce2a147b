"""What no arrangement can beat, with the reason in words."""

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache

import numpy as np
import shapely

from scalegen.nest.poses import Outline
from scalegen.nest.records import Board, Body, Bound
from scalegen.nest.slices import Slices, Weigher, slices, weighers

_SEGMENTS = 64
_HAIR = 1e-9
_AREA = "area of the parts, half the spacing round each, against the board with half the spacing round it"
_LINES = (
    "lengths that straight lines cut out of the parts, half the spacing round each, against those that they"
    " cut out of the board with half the spacing round it"
)
_DIRECTIONS = (0.0, math.pi / 2)
_HALF_TURN = round(math.pi / 2, 12)
_UNLIMITED = 10**6


def grown_area_mm2(body: Body, ready: Mapping[str, Outline], spacing_mm: float) -> float:
    """Area that a body takes from the board for itself alone, its share of the spacing with it.

    Args:
        body: The body.
        ready: Outlines of its shapes.
        spacing_mm: What must be free between two parts.

    Returns:
        Area of its parts, each grown by half the spacing; never more than the truth.
    """
    return math.fsum(_grown(ready[part.shape], spacing_mm).area for part in body.parts)


def _grown(outline: Outline, spacing_mm: float) -> shapely.Polygon:
    """A part with half the spacing round it; never more than the truth."""
    return shapely.Polygon(outline.exact_mm).buffer(spacing_mm / 2, quad_segs=_SEGMENTS)


def board_area_mm2(board: Board, spacing_mm: float) -> float:
    """Area of a board grown by half the spacing; never less than the truth."""
    return float(_grown_board(board, spacing_mm).area)


def _grown_board(board: Board, spacing_mm: float) -> shapely.Polygon | shapely.MultiPolygon:
    """A board with half the spacing round it; never less than the truth."""
    reach = spacing_mm / 2 / math.cos(math.pi / (4 * _SEGMENTS))
    return board.region.buffer(reach, quad_segs=_SEGMENTS)


def bound(
    groups: Mapping[str, Sequence[Body]],
    boards: Sequence[Board],
    ready: Mapping[str, Outline],
    spacing_mm: float,
    homeless: frozenset[str],
) -> Bound:
    """Most groups that all boards together can take.

    Args:
        groups: Bodies by group.
        boards: The boards.
        ready: Outlines of the shapes.
        spacing_mm: What must be free between two parts.
        homeless: Groups with a body that goes on no board even alone.

    Returns:
        The limit, the number wanted being one of the reasons.
    """
    wanted = {name: members[0].count for name, members in groups.items()}
    homed = [name for name in groups if name not in homeless]
    if not homed:
        return Bound(groups=0, reason="no part lies on the board even alone")
    areas = {
        name: math.fsum(grown_area_mm2(body, ready, spacing_mm) for body in groups[name]) for name in homed
    }
    asked = (
        sum(wanted[name] or 0 for name in homed) if all(wanted[name] is not None for name in homed) else None
    )
    most = sum(_filled(board_area_mm2(board, spacing_mm), areas, wanted) for board in boards)
    reason = _AREA
    if (asked is None or asked > most) and not any(body.free for name in homed for body in groups[name]):
        lines = _Lines({name: groups[name] for name in homed}, wanted, ready, spacing_mm)
        by_lines = lines.most(boards, most)
        most, reason = (by_lines, _LINES) if by_lines < most else (most, reason)
    if asked is not None and asked <= most:
        return Bound(groups=asked, reason="all that was asked for")
    return Bound(groups=most, reason=reason)


class _Lines:
    """Limits by the lengths that straight lines cut out; see :mod:`scalegen.nest.slices`."""

    def __init__(
        self,
        groups: Mapping[str, Sequence[Body]],
        wanted: Mapping[str, int | None],
        ready: Mapping[str, Outline],
        spacing_mm: float,
    ) -> None:
        self._groups = groups
        self._wanted = wanted
        self._spacing_mm = spacing_mm
        shapes = {part.shape for members in groups.values() for body in members for part in body.parts}
        self._grown = {key: _grown(ready[key], spacing_mm) for key in sorted(shapes)}
        self._sliced = cache(self._slices)

    def most(self, boards: Sequence[Board], enough: int) -> int:
        """Most groups on all boards together, each board by the function that says least for it."""
        known: dict[bytes, int] = {}
        total = 0
        for board in boards:
            look = shapely.normalize(board.region).wkb
            if look not in known:
                known[look] = min((self._by(*way) for way in self._ways(board)), default=enough)
            total += known[look]
        return min(total, enough)

    def _ways(self, board: Board) -> Iterator[tuple[Slices, Weigher, float]]:
        """The board's slices in both directions, each with the functions to try, and the direction."""
        grown = _grown_board(board, self._spacing_mm)
        for direction in _DIRECTIONS:
            room = slices(grown, direction)
            longest = max(
                float(self._sliced(part.shape, _half(part.angle_rad + angle + direction)).most_mm.max())
                for members in self._groups.values()
                for body in members
                for parts in body.forms
                for part in parts
                for angle in body.angles_rad
            )
            for weigher in weighers(longest, float(room.most_mm.max())):
                yield room, weigher, direction

    def _by(self, room: Slices, weigher: Weigher, direction: float) -> int:
        """Most groups on a board by one function and direction."""
        weights = {
            name: math.fsum(self._weight(body, weigher, direction) for body in members)
            for name, members in self._groups.items()
        }
        if min(weights.values()) <= 0:
            return _UNLIMITED
        return _filled(room.at_most(weigher) * (1 + _HAIR), weights, self._wanted)

    def _weight(self, body: Body, weigher: Weigher, direction: float) -> float:
        """The least a body weighs, over all ways it may lie."""
        looks = {
            tuple(sorted((part.shape, _half(part.angle_rad + angle + direction)) for part in parts))
            for parts in body.forms
            for angle in body.angles_rad
        }
        return min(
            math.fsum(self._weighed(key, angle, weigher) for key, angle in look) for look in sorted(looks)
        )

    def _weighed(self, key: str, angle_rad: float, weigher: Weigher) -> float:
        """What a part weighs, turned."""
        return self._sliced(key, angle_rad).at_least(weigher)

    def _slices(self, key: str, angle_rad: float) -> Slices:
        """A grown part, turned and sliced."""
        return slices(self._grown[key], angle_rad)


def _half(angle_rad: float) -> float:
    """An angle less whole half turns, which change no lengths; rounded so that equal ones are equal."""
    rest = round(math.remainder(angle_rad, math.pi), 12)
    return rest if rest > -_HALF_TURN else -rest


def _filled(room_mm2: float, areas: Mapping[str, float], wanted: Mapping[str, int | None]) -> int:
    """How many groups fit a room by area alone, the smallest first."""
    count = 0
    for name in sorted(areas, key=lambda key: (areas[key], key)):
        take = int(room_mm2 / areas[name] + _HAIR)
        limit = wanted[name]
        take = take if limit is None else min(take, limit)
        count += take
        room_mm2 -= take * areas[name]
    return count


def fewest_boards(areas_mm2: Sequence[float], rooms_mm2: Sequence[float]) -> int:
    """Fewest boards that can hold an area, the largest first.

    Args:
        areas_mm2: Grown areas of everything that is placed.
        rooms_mm2: Grown areas of the boards.

    Returns:
        The number; 0 when nothing is placed.
    """
    left = math.fsum(areas_mm2)
    largest = np.sort(np.asarray(rooms_mm2, dtype=np.float64))[::-1]
    for used, room in enumerate(largest.tolist()):
        if left <= _HAIR:
            return used
        left -= room + _HAIR
    return len(rooms_mm2)
