"""The touch-off card: where each stage is zeroed, what must be read afterwards, how deep it goes."""

from dataclasses import dataclass

import numpy as np

from scalegen.machining.cutter_shape import point_mm
from scalegen.machining.dry_run import SAME_MM, DryRun
from scalegen.machining.field import Box, disc_mask
from scalegen.machining.target import Target
from scalegen.machining.thin import SEEN_MM
from scalegen.machining.touch_off import probe_room_mm, within_travel
from scalegen.model import ShopRules

_FLAT_OVER_MM = 1.5
_TRIES = 400


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A place to read a second number at: on which part, x and y in the sheet frame."""

    label: str
    at_mm: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class CardRow:
    """One stage on the touch-off card; readings count from the zero on the pad, up.

    Attributes:
        stage: Number, from 1.
        name: What it does.
        cutter: Its cutter.
        zero_at_mm: Middle of the reference pad, sheet frame.
        pad_mm: What must be read on the pad after the stage: 0 while it is whole.
        spot: A second place.
        spot_mm: What must be read there after the stage; None where nothing is left.
        below_mm: How far the tip of the cutter goes below the blank; 0 where it stays inside.
        full_below_mm: The same for its full width: a drill's point is left out.
        into_bed_mm: How far the tip goes beyond the tape.
        limits: "" inside the shop's limits or where the stage stays in the blank; else "too little" or
            "too much".
        second_pad_at_mm: Middle of a second pad, sheet frame; None where there is one only.
        second_pad_mm: What must be read on it after the stage.
    """

    stage: int
    name: str
    cutter: str
    zero_at_mm: tuple[float, float]
    pad_mm: float
    spot: Spot
    spot_mm: float | None
    below_mm: float
    full_below_mm: float
    into_bed_mm: float
    limits: str
    second_pad_at_mm: tuple[float, float] | None = None
    second_pad_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class PadRoom:
    """Whether the pad serves: ``room_mm`` is the widest plate it takes after all stages."""

    room_mm: float
    probe_mm: float
    in_travel: bool | None

    @property
    def fits(self) -> bool:
        """Whether the shop's plate finds room."""
        return self.room_mm >= self.probe_mm - SAME_MM


@dataclass(frozen=True, kw_only=True)
class Card:
    """The touch-off card of a sheet: its rows, how the pad serves, and the limits they are held against.

    The bed is the second reference: zeroed there, the pad must read ``pad_above_bed_mm``, which is the stack
    that the job counts on and the tape under it.
    """

    rows: tuple[CardRow, ...]
    room: PadRoom
    rules: ShopRules
    blank_mm: float
    tape_mm: float

    @property
    def pad_above_bed_mm(self) -> float:
        """What the pad must read when zeroed on the bed."""
        return self.blank_mm + self.tape_mm


def card_of(run: DryRun, rules: ShopRules) -> Card:
    """The card of a sheet.

    Args:
        run: The sheet cut as planned.
        rules: For the limits of the last cuts.
    """
    spot = reading_spot(run)
    rows = tuple(_row(number, run, rules, spot) for number in range(1, len(run.shots) + 1))
    return Card(
        rows=rows,
        room=pad_room(run, rules),
        rules=rules,
        blank_mm=run.target.blank_mm,
        tape_mm=run.tape_mm,
    )


def pad_room(run: DryRun, rules: ShopRules) -> PadRoom:
    """Whether the shop's plate finds room on the pad after all stages, within the machine's travel.

    The travel is taken to begin at the lower left corner of the blank.
    """
    travel = rules.travel_mm
    return PadRoom(
        room_mm=probe_room_mm(run.last, run.target.pad, run.target.blank_mm),
        probe_mm=rules.probe_mm,
        in_travel=None
        if travel is None
        else within_travel(run.target.pad, (0.0, 0.0, *travel), rules.probe_mm),
    )


def reading_spot(run: DryRun) -> Spot:
    """The place of the first part nearest its middle where the surface is level all around.

    Where no place is, as on a crowned face, the one that is nearest to level.
    """
    target = run.target
    if not target.labels:
        return Spot(label="the reference pad", at_mm=_middle(target.pad))
    places = _places(target)
    levels = [_unevenness_mm(run, place) for place in places]
    level = [place for place, off in zip(places, levels, strict=True) if off <= SEEN_MM]
    best = level[0] if level else places[int(np.argmin(levels))]
    return Spot(label=target.labels[0], at_mm=best)


def _middle(pad: Box) -> tuple[float, float]:
    x0, y0, x1, y1 = pad
    return (x0 + x1) / 2, (y0 + y1) / 2


def _places(target: Target) -> list[tuple[float, float]]:
    """Places on the first part, holes left out, those nearest its middle first."""
    field = target.field
    rows, cols = np.nonzero((target.parts == 0) & target.solid)
    if not len(rows):
        rows, cols = np.nonzero(target.parts == 0)
    away = np.hypot(rows - rows.mean(), cols - cols.mean())
    order = np.argsort(away, kind="stable")
    chosen = order[:: max(1, len(order) // _TRIES)]
    return [(float(field.xs_mm[cols[k]]), float(field.ys_mm[rows[k]])) for k in chosen.tolist()]


def _unevenness_mm(run: DryRun, place: tuple[float, float]) -> float:
    window, disc = disc_mask(run.blank, place, _FLAT_OVER_MM)
    heights = run.target.field.heights_mm[window][disc]
    return float(heights.max() - heights.min()) if heights.size else np.inf


def _row(number: int, run: DryRun, rules: ShopRules, spot: Spot) -> CardRow:
    shot = run.shots[number - 1]
    blank, there = run.target.blank_mm, shot.field.at_mm(spot.at_mm)
    below = max(0.0, -shot.deepest_mm)
    full = max(0.0, -shot.deepest_mm - point_mm(shot.shape))
    limits = ""
    if full > SAME_MM and full < rules.below_least_mm - SAME_MM:
        limits = "too little"
    elif full > rules.below_most_mm + SAME_MM:
        limits = "too much"
    return CardRow(
        stage=number,
        name=shot.name,
        cutter=shot.shape.name,
        zero_at_mm=_middle(run.target.pad),
        pad_mm=_reading(shot.pad_mm - blank),
        spot=spot,
        spot_mm=_reading(there - blank) if there > SAME_MM else None,
        below_mm=below if below > SAME_MM else 0.0,
        full_below_mm=full if full > SAME_MM else 0.0,
        into_bed_mm=max(0.0, below - run.tape_mm),
        limits=limits,
        second_pad_at_mm=_middle(run.target.more_pads[0]) if run.target.more_pads else None,
        second_pad_mm=_reading(shot.more_pads_mm[0] - blank) if shot.more_pads_mm else None,
    )


def _reading(off_mm: float) -> float:
    return off_mm if abs(off_mm) > SAME_MM else 0.0
