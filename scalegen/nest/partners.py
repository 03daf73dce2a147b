"""Which left scale is whose: partners as near one another as they come, after everything is laid."""

from collections.abc import Sequence

Point = tuple[float, float]

_UNIT = 1024


def match(lefts: Sequence[Point], rights: Sequence[Point]) -> tuple[int, ...]:
    """Give every left one right one so that the distances squared add up to little.

    Args:
        lefts: Middles in mm.
        rights: As many.

    Returns:
        For each left the number of its right. Swapping any two of them would make it no better.
    """
    cost = [[round(((a - c) ** 2 + (b - d) ** 2) * _UNIT) for c, d in rights] for a, b in lefts]
    order = sorted((cost[i][j], i, j) for i in range(len(lefts)) for j in range(len(rights)))
    chosen: dict[int, int] = {}
    taken: set[int] = set()
    for _, i, j in order:
        if i not in chosen and j not in taken:
            chosen[i] = j
            taken.add(j)
    mine = [chosen[i] for i in range(len(lefts))]
    better = True
    while better:
        better = False
        for i in range(len(mine)):
            for k in range(i):
                if cost[i][mine[k]] + cost[k][mine[i]] < cost[i][mine[i]] + cost[k][mine[k]]:
                    mine[i], mine[k] = mine[k], mine[i]
                    better = True
    return tuple(mine)
