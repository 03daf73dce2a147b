"""Filled boards into spots with numbers, partners near one another."""

from collections.abc import Mapping, Sequence

import numpy as np

from scalegen.nest.fill import Filled, middles
from scalegen.nest.lattice import snap
from scalegen.nest.layout import Rest
from scalegen.nest.partners import match
from scalegen.nest.records import Board, Body, Spot


def spots(
    filled: Sequence[Filled],
    boards: Sequence[Board],
    bodies: Sequence[Body],
    groups: Mapping[str, tuple[int, ...]],
) -> tuple[Spot, ...]:
    """Say which copy of its group every body is, and where it lies on its sheet.

    Args:
        filled: What lies on each board.
        boards: The boards, in the same order.
        bodies: The bodies.
        groups: Numbers of the bodies of each group.

    Returns:
        Spots by board, then number, then body. Copies are counted from left to right, then upwards.
    """
    out: list[Spot] = []
    last = dict.fromkeys(groups, 0)
    for board, full in zip(boards, filled, strict=True):
        here: list[tuple[int, int, Spot]] = []
        for name, members in groups.items():
            for number, copy in enumerate(_copies(full.rests, members), start=last[name] + 1):
                last[name] = number
                here += [(number, r.pose.body, spot_of(r, number, board, bodies)) for r in copy]
        out += [spot for _, _, spot in sorted(here, key=lambda entry: entry[:2])]
    return tuple(out)


def _copies(rests: Sequence[Rest], members: Sequence[int]) -> list[list[Rest]]:
    """Bodies of one group by copy."""
    lines = []
    for body in members:
        mine = [rest for rest in rests if rest.pose.body == body]
        lines.append(sorted(mine, key=lambda rest: middles([rest])[0]))
    first = lines[0]
    copies = [[rest] for rest in first]
    for line in lines[1:]:
        for copy, other in zip(copies, match(middles(first), middles(line)), strict=True):
            copy.append(line[other])
    return copies


def spot_of(rest: Rest, number: int, board: Board, bodies: Sequence[Body]) -> Spot:
    """A body at rest in the frame of its sheet.

    Args:
        rest: Where it lies, from the corner of the board's box.
        number: Which copy of its group it is.
        board: The board.
        bodies: The bodies.

    Returns:
        The spot.
    """
    low = snap(np.array(board.region.bounds[:2]))
    return Spot(
        body=bodies[rest.pose.body].key,
        board=board.key,
        number=number,
        form=rest.pose.form,
        angle_rad=rest.pose.angle_rad,
        x_mm=float(low[0]) + rest.x_mm + rest.pose.origin_mm[0],
        y_mm=float(low[1]) + rest.y_mm + rest.pose.origin_mm[1],
    )
