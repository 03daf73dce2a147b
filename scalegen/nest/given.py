"""Layouts made elsewhere, as a place to begin."""

from collections.abc import Sequence
from dataclasses import replace

from scalegen.nest.fill import Filled
from scalegen.nest.hall import Hall
from scalegen.nest.layout import Rest, on_grid
from scalegen.nest.poses import Pose, make_pose
from scalegen.nest.records import Board, Spot
from scalegen.nest.table import Table


def given_layout(hall: Hall, table: Table, board: Board, spots: Sequence[Spot]) -> Filled | None:
    """What a layout made elsewhere puts on one board.

    Args:
        hall: Bodies and shapes.
        table: The board's table.
        board: The board.
        spots: The layout; spots of other boards are passed over.

    Returns:
        Whole groups only; None where a spot uses a form or a turn that the bodies do not have, or where
        nothing is left. Distances are not looked at.
    """
    rests = []
    for spot in spots:
        if spot.board == board.key:
            rest = _rest(hall, table, spot)
            if rest is None:
                return None
            rests.append(rest)
    kept: list[Rest] = []
    counts = {}
    for name, members in hall.groups.items():
        mine = [[rest for rest in rests if rest.pose.body == body] for body in members]
        limit = hall.bodies[members[0]].count
        whole = min(len(one) for one in mine)
        counts[name] = whole if limit is None else min(whole, limit)
        kept += [rest for one in mine for rest in one[: counts[name]]]
    if not kept:
        return None
    return Filled(
        counts=counts, rests=tuple(kept), pieces=tuple(on_grid(table, rest) for rest in kept), moves=0
    )


def _rest(hall: Hall, table: Table, spot: Spot) -> Rest | None:
    """A spot as a body at rest."""
    number = next((k for k, body in enumerate(hall.bodies) if body.key == spot.body), None)
    if number is None or spot.form >= len(hall.bodies[number].forms):
        return None
    pose = make_pose(
        number,
        spot.form,
        hall.bodies[number].forms[spot.form],
        spot.angle_rad,
        ready=hall.ready,
        kinds=dict(hall.kinds),
    )
    listed = pose.kind in {known.kind for known in table.poses[number]}
    if not listed and not (hall.bodies[number].free and table.usable[number]):
        return None
    return Rest(
        pose=_known(table, pose) if listed else pose,
        x_mm=spot.x_mm - pose.origin_mm[0] - table.place.x_mm,
        y_mm=spot.y_mm - pose.origin_mm[1] - table.place.y_mm,
    )


def _known(table: Table, pose: Pose) -> Pose:
    """The pose with the fields of the table's own; it keeps its turn and its exact outline."""
    own = next(known for known in table.poses[pose.body] if known.kind == pose.kind)
    return replace(pose, grown_mm=own.grown_mm)
