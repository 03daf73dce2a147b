"""The engine's way to fill one blank: true shapes in any turn, pairs held together or let go."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from scalegen.model import Side
from scalegen.model.job import TURNS, Effort, Pairing
from scalegen.nest.mates import mates
from scalegen.nest.records import Board, Body, Part, Progress, Shape, Spot, Stop, onward, silent
from scalegen.nest.search import search
from scalegen.outline.ring import Ring
from scalegen.sheet.room import BOARD, holding

_SIDES: tuple[Side, Side] = ("left", "right")
_PAIR = "pair"
_TURN_RAD = 1e-12


@dataclass(frozen=True, kw_only=True)
class How:
    """How pairs may lie and how hard to look.

    Attributes:
        pairing: "adjacent", "mirrored" or "free".
        turns_rad: Turns that are allowed.
        effort: How hard to look once plain means find no room.
        seed: Decides between equals.
        progress: Told pairs found on a blank, the proven limit, and what is being tried.
        stop: Asked now and then; True ends the search with the best so far.
    """

    pairing: Pairing = "adjacent"
    turns_rad: tuple[float, ...] = TURNS["grain"]
    effort: Effort = "quick"
    seed: int = 0
    progress: Progress = silent
    stop: Stop = onward

    @property
    def free(self) -> bool:
        """Whether any turn will do, the listed ones being but where the search begins."""
        steps = [turn - self.turns_rad[0] for turn in self.turns_rad]
        listed = TURNS["free"]
        return len(steps) == len(listed) and all(
            abs(step - turn) < _TURN_RAD for step, turn in zip(steps, listed, strict=True)
        )

    @property
    def limit_turns_rad(self) -> tuple[float, ...] | None:
        """Turns that a proven limit may count on; None where any turn will do."""
        return None if self.free else self.turns_rad

    @property
    def plain(self) -> bool:
        """Whether the plain ways keep to what is asked: grain along x, partners not mirrored."""
        both = all(any(abs(turn - want) < _TURN_RAD for turn in self.turns_rad) for want in TURNS["grain"])
        return both and self.pairing != "mirrored"


@dataclass(frozen=True, kw_only=True)
class Put:
    """Where one scale lies: its own origin in the sheet frame, and its turn."""

    side: Side
    x_mm: float
    y_mm: float
    angle_rad: float


def fill_blank(
    footprints: Mapping[Side, Ring],
    region: shapely.Polygon | shapely.MultiPolygon,
    spacing_mm: float,
    how: How,
    *,
    most: int,
    starts: Sequence[Put] = (),
) -> tuple[tuple[Put, ...], bool]:
    """Lay pairs on one blank.

    Args:
        footprints: Outline of each side.
        region: Where parts may lie, never larger than the truth.
        spacing_mm: What must be free between two scales.
        how: Turns, pairing, effort.
        most: Stop after so many pairs.
        starts: A layout to begin with, left and right in turn; of use where partners are free.

    Returns:
        Left and right in turn, pair by pair; and whether the search was stopped before its end.
    """
    shapes = tuple(Shape(key=side, points_mm=holding(footprints[side])) for side in _SIDES)
    bodies = bodies_of(shapes, spacing_mm, how, most)
    result = search(
        bodies,
        [Board(key=BOARD, region=region)],
        shapes=shapes,
        spacing_mm=spacing_mm,
        seed=how.seed,
        effort=how.effort,
        progress=how.progress,
        stop=how.stop,
        starts=[_as_spots(starts)] if starts and how.pairing == "free" else (),
    )
    return puts_of(result.spots, bodies), result.stopped


def bodies_of(shapes: Sequence[Shape], spacing_mm: float, how: How, most: int) -> tuple[Body, ...]:
    """What the engine moves: single scales, or both of a pair held together."""
    if how.pairing == "free":
        return tuple(
            Body(
                key=shape.key,
                parts=(Part(shape=shape.key),),
                group=_PAIR,
                angles_rad=how.turns_rad,
                count=most,
                free=how.free,
            )
            for shape in shapes
        )
    forms = mates(shapes[0], shapes[1], spacing_mm, how.pairing)
    pair = Body(
        key=_PAIR,
        parts=forms[0],
        others=forms[1:],
        group=_PAIR,
        angles_rad=how.turns_rad,
        count=most,
        free=how.free,
    )
    return (pair,)


def _as_spots(puts: Sequence[Put]) -> list[Spot]:
    """A layout as the engine wants it."""
    return [
        Spot(
            body=put.side,
            board=BOARD,
            number=index // 2 + 1,
            form=0,
            angle_rad=put.angle_rad,
            x_mm=put.x_mm,
            y_mm=put.y_mm,
        )
        for index, put in enumerate(puts)
    ]


def puts_of(spots: Sequence[Spot], bodies: Sequence[Body]) -> tuple[Put, ...]:
    """Scales one by one, left before right, in the order of the pairs."""
    forms = {body.key: body.forms for body in bodies}
    found = [
        (spot.number, _SIDES.index(put.side), put)
        for spot in spots
        for part in forms[spot.body][spot.form]
        for put in [_put(spot, part)]
    ]
    return tuple(put for _, _, put in sorted(found, key=lambda entry: entry[:2]))


def _put(spot: Spot, part: Part) -> Put:
    """A part of a body that was turned and moved."""
    c, s = np.cos(spot.angle_rad), np.sin(spot.angle_rad)
    side: Side = "left" if part.shape == "left" else "right"
    return Put(
        side=side,
        x_mm=float(spot.x_mm + c * part.x_mm - s * part.y_mm),
        y_mm=float(spot.y_mm + s * part.x_mm + c * part.y_mm),
        angle_rad=_turn(spot.angle_rad + part.angle_rad),
    )


def _turn(angle_rad: float) -> float:
    """A turn from 0 to below a full one, whole quarters exactly."""
    quarters = angle_rad / (math.pi / 2)
    near = round(quarters)
    if abs(quarters - near) < _TURN_RAD * 100:
        return math.pi / 2 * (near % 4)
    return angle_rad % (2 * math.pi)
