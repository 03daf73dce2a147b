"""Grades of abrasive in order: from the coarsest that there is room for to the one a surface ends on."""

import math
import re
from collections.abc import Sequence
from typing import Final

from scalegen.model import Abrasive

SCRATCHES: Final = (
    "scratches are as deep as the mean grain, and the next grit takes off all of them: cautious planning"
    " rule, common practice, no source"
)
STEPS: Final = "the next grade's number is at most {:g} times the one before: makers' guides, common practice"

_SLACK_MM = 1e-9
_P = re.compile(r"P([0-9]+)")


def grit_chain(abrasives: Sequence[Abrasive], last: str, room_mm: float, step: float) -> tuple[Abrasive, ...]:
    """The grades from the coarsest that fits to the last one.

    Args:
        abrasives: Grades in the shop.
        last: Grade to end on; where the shop does not have it, the next finer one, or its finest.
        room_mm: What the scratches of all grades but the last may add up to.
        step: The next grade's number is at most so many times the one before, where the shop has such a one.

    Returns:
        At least the last grade; empty where the shop has none.

    Source: :data:`SCRATCHES` and :data:`STEPS`.
    """
    grades = sorted(abrasives, key=lambda each: -each.grain_um)
    if not grades:
        return ()
    end = _end(grades, last)
    grades = grades[: grades.index(end) + 1]
    for first in grades:
        chain = _stepped(grades, first, step)
        if math.fsum(each.grain_um for each in chain[:-1]) / 1000 <= room_mm + _SLACK_MM:
            return chain
    return (end,)


def _end(grades: Sequence[Abrasive], last: str) -> Abrasive:
    """The grade to end on: the one named, or the nearest that is finer, or the finest there is."""
    for grade in grades:
        if grade.grade == last:
            return grade
    wanted = _number(last)
    finer = [each for each in grades if wanted and (_number(each.grade) or 0) >= wanted]
    return finer[0] if finer else grades[-1]


def _stepped(grades: Sequence[Abrasive], first: Abrasive, step: float) -> tuple[Abrasive, ...]:
    """From one grade to the last of them, each time as much finer as the rule allows."""
    chain, here = [first], grades.index(first)
    while here < len(grades) - 1:
        allowed = [
            index for index in range(here + 1, len(grades)) if _finer(grades[here], grades[index]) <= step
        ]
        here = allowed[-1] if allowed else here + 1
        chain.append(grades[here])
    return tuple(chain)


def _finer(coarse: Abrasive, fine: Abrasive) -> float:
    """How much finer: by the numbers of the P scale, or by the grain where they are not both of it."""
    first, second = _number(coarse.grade), _number(fine.grade)
    return second / first if first and second else coarse.grain_um / fine.grain_um


def _number(grade: str) -> int | None:
    match = _P.fullmatch(grade)
    return int(match[1]) if match else None
