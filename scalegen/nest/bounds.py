"""What no arrangement can beat, with the reason in words."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from scalegen.nest.poses import Outline
from scalegen.nest.records import Board, Body, Bound

_SEGMENTS = 64
_HAIR = 1e-9


def grown_area_mm2(body: Body, ready: Mapping[str, Outline], spacing_mm: float) -> float:
    """Area that a body takes from the board for itself alone, its share of the spacing with it.

    Args:
        body: The body.
        ready: Outlines of its shapes.
        spacing_mm: What must be free between two parts.

    Returns:
        Area of its parts, each grown by half the spacing; never more than the truth.
    """
    return math.fsum(
        float(shapely.Polygon(ready[part.shape].exact_mm).buffer(spacing_mm / 2, quad_segs=_SEGMENTS).area)
        for part in body.parts
    )


def board_area_mm2(board: Board, spacing_mm: float) -> float:
    """Area of a board grown by half the spacing; never less than the truth."""
    reach = spacing_mm / 2 / math.cos(math.pi / (4 * _SEGMENTS))
    return float(board.region.buffer(reach, quad_segs=_SEGMENTS).area)


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
    room = [board_area_mm2(board, spacing_mm) for board in boards]
    most = sum(_filled(area, areas, wanted) for area in room)
    reason = (
        "area of the parts, half the spacing round each, against the board with half the spacing round it"
    )
    if all(wanted[name] is not None for name in homed):
        asked = sum(wanted[name] or 0 for name in homed)
        if asked <= most:
            return Bound(groups=asked, reason="all that was asked for")
    return Bound(groups=most, reason=reason)


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
