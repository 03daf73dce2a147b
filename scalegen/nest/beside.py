"""Partners side by side in rows: a row of lefts, over it their rights, and so on; none held together."""

from collections.abc import Sequence

from scalegen.nest.blocks import Blocks
from scalegen.nest.families import aslant, families
from scalegen.nest.fill import Work
from scalegen.nest.hall import SCALES, hall
from scalegen.nest.layout import keeps_distance
from scalegen.nest.records import Board, Body, Shape, Spot
from scalegen.nest.spots import spot_of


def rows_of_pairs(
    bodies: Sequence[Body], board: Board, *, shapes: Sequence[Shape], spacing_mm: float
) -> list[tuple[Spot, ...]]:
    """Lay a left and a right in rows by twos.

    Args:
        bodies: The two of one group.
        board: Where.
        shapes: Outlines of the parts.
        spacing_mm: What must be free between two parts.

    Returns:
        Sound layouts, numbers not given; a body that lost its partner to what the board lacks may be among
        them.
    """
    room = hall(bodies, shapes, spacing_mm, SCALES["quick"], [board])
    table = room.tables([board])[0]
    name = next(iter(room.groups))
    most = bodies[0].count or 10**6
    work = Work(members=room.groups, left={name: most}, order=(name,), level=False, most=most)
    paired = Blocks(work, spacing_mm, room.meetings, paired=True)
    made = []
    for narrow in families(table):
        if not aslant(narrow):
            for rests in (*paired.laid(narrow), *paired.spread(narrow)):
                if keeps_distance(table.place, rests, spacing_mm):
                    made += [tuple(spot_of(rest, 1, board, room.bodies) for rest in rests)]
    return made
