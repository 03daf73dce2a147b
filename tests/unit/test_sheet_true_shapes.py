"""The engine on one blank: every turn and pairing, stopped early, the same every time."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scalegen.errors import SheetError
from scalegen.model import Pad, Side
from scalegen.model.job import TURNS, Pairing
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import SheetLayout
from scalegen.sheet.rows import Arranged, arranged
from scalegen.sheet.true_shapes import How
from scalegen.sheet.verify import verify

ROWS: list[list[float]] = [[0, -6, 0], [70, -11, 0.414], [78, -3, 0], [78, 3, 0.414], [70, 11, 0], [0, 6, 0]]
LEFT = Ring.from_rows(ROWS)
SHAPES: dict[Side, Ring] = {"left": LEFT, "right": Ring.from_rows(LEFT.rows * np.array([1.0, -1.0, -1.0]))}
USUAL: dict[str, Any] = {
    "pattern": "wren",
    "pairs": None,
    "length_mm": 200.0,
    "width_mm": 100.0,
    "margin_mm": 3.0,
    "spacing_mm": 4.5,
    "pad": Pad(width_mm=15.0, height_mm=15.0),
    "origin": "lower-left",
    "keep_clear_mm": 6.0,
}


def lay(how: How, **changes: Any) -> Arranged:
    """Arrange with the usual sizes but for some."""
    return arranged(SHAPES, **(USUAL | changes), how=how)


def faults(layouts: tuple[SheetLayout, ...], **changes: Any) -> tuple[str, ...]:
    """What the second look finds."""
    return verify(layouts, SHAPES, spacing_mm=4.5, margin_mm=3.0, keep_clear_mm=6.0, **changes)


@pytest.mark.parametrize(
    ("turns", "pairing"),
    [("quarter", "adjacent"), ("free", "free"), ("grain", "mirrored"), ("grain", "free")],
)
def test_every_turn_and_pairing_passes_the_check(turns: str, pairing: Pairing) -> None:
    """Distances, ring, labels, allowed turns and mirror images hold, and the limit is not exceeded."""
    found = lay(How(turns_rad=TURNS[turns], pairing=pairing))
    (layout,) = found.layouts
    assert faults(found.layouts, turns_rad=TURNS[turns], mirrored=pairing == "mirrored") == ()
    assert layout.claim is not None
    assert 1 <= len(layout.placements) / 2 <= layout.claim.bound_pairs
    assert [place.label for place in layout.placements] == [
        f"{number}{letter}" for number in range(1, len(layout.placements) // 2 + 1) for letter in "LR"
    ]


def test_a_quarter_turn_finds_room_where_the_grain_does_not() -> None:
    """On a blank 70 mm long and 90 mm wide no scale of 78 mm lies along it; turned by a quarter, two do."""
    size = {"length_mm": 70.0, "width_mm": 90.0, "pad": Pad(width_mm=5.0, height_mm=5.0)}
    with pytest.raises(SheetError, match="too short"):
        lay(How(), **size)
    (layout,) = lay(How(turns_rad=TURNS["quarter"]), **size).layouts
    assert layout.placements
    assert {place.angle_rad for place in layout.placements} <= {math.pi / 2, 1.5 * math.pi}


def test_a_stopped_search_keeps_what_it_has() -> None:
    """Asked to stop at once, it still hands over a sound layout and says that it was stopped."""
    found = lay(How(pairing="mirrored", stop=lambda: True))
    assert found.stopped
    assert found.layouts[0].placements
    assert faults(found.layouts, mirrored=True) == ()


def test_the_same_seed_gives_the_same_layout() -> None:
    """Two searches with one seed place everything at the same numbers."""
    how = How(turns_rad=TURNS["quarter"], pairing="free", seed=5)
    assert lay(how) == lay(how)


def test_progress_tells_pairs_and_the_limit() -> None:
    """Whoever waits hears how many were found and how many there can be at most."""
    told: list[tuple[int, int, str]] = []
    found = lay(How(pairing="free", progress=lambda *words: told.append(words)))
    claim = found.layouts[0].claim
    assert claim is not None
    assert told
    assert all(0 < count < most == claim.bound_pairs for count, most, _ in told)


def test_more_pairs_than_the_plain_ways_hold_share_a_blank() -> None:
    """Plain ways hold 8 pairs on 305 x 152 mm; nine asked for go on one blank, and one is proven fewest."""
    size = {"length_mm": 305.0, "width_mm": 152.0, "pad": Pad(), "keep_clear_mm": 4.5}
    plain = lay(How(), pairs=8, **size)
    (layout,) = lay(How(), pairs=9, **size).layouts
    assert len(plain.layouts) == 1
    assert len(layout.placements) == 18
    assert layout.claim is not None
    assert layout.claim.proven
    assert verify([layout], SHAPES, spacing_mm=4.5, margin_mm=3.0, pairs=9, turns_rad=TURNS["grain"]) == ()


def test_few_pairs_are_laid_as_plainly_as_ever() -> None:
    """Where one blank holds all pairs anyway, effort and seed change nothing about where they lie."""
    here = lay(How(), pairs=2).layouts[0]
    there = lay(How(effort="thorough", seed=9), pairs=2).layouts[0]
    assert here.placements == there.placements
    assert replace(here, claim=None) == replace(there, claim=None)
