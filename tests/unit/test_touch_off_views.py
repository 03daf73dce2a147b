"""Touch-off and dry run in words and as data."""

import io
import json
import math
from dataclasses import replace

from rich.console import Console

from scalegen.machining.card import Card, CardRow, PadRoom, Spot
from scalegen.machining.summary import StageRow
from scalegen.machining.thin import ThinLayer
from scalegen.machining.touch_off import TouchOff
from scalegen.model import ShopRules
from scalegen.report.record import to_json
from scalegen.report.touch_off_views import (
    card_record,
    dry_run_record,
    print_card,
    print_dry_run,
    touch_off_record,
)
from scalegen.sheet.layout import PadBox, SheetLayout

LAYOUT = SheetLayout(
    name="sheet-1",
    length_mm=100.0,
    width_mm=50.0,
    margin_mm=3.0,
    spacing_mm=4.0,
    pad=PadBox(x_mm=3.0, y_mm=3.0, w_mm=20.0, h_mm=20.0),
    origin="lower-right",
    placements=(),
)
RULES = ShopRules(
    slip_fit_mm=0.05, drill_series=(), clearance_mm=1, saw_kerf_mm=1, tape_waste=1, currency="EUR"
)
ROW = CardRow(
    stage=4,
    name="outlines",
    cutter="flat 3mm",
    zero_at_mm=(13.0, 13.0),
    pad_mm=0.0,
    spot=Spot(label="1L", at_mm=(60.0, 20.0)),
    spot_mm=-0.7,
    below_mm=0.6,
    full_below_mm=0.6,
    into_bed_mm=0.6,
    limits="too much",
)
STAGE = StageRow(
    stage=1,
    name="face off",
    cutter="flat 3mm",
    removed_mm3=1234.0,
    deepest_mm=6.2,
    deepest_at_mm=(90.0, 40.0),
    pad_untouched=False,
    pad_ring_mm=0.0,
    pad_held=True,
    held=("1L", "1R"),
    loosened=("1L",),
    offcuts=1,
    rest_mm=2.0,
    rest_mm3=50.0,
)


def shown(*args: object, show: object) -> str:
    """What a view prints, its line breaks gone."""
    out = Console(file=io.StringIO(), width=200)
    assert callable(show)
    show(*args, out)
    assert isinstance(out.file, io.StringIO)
    return " ".join(out.file.getvalue().split())


def test_layers_of_one_name_are_kept_apart() -> None:
    """Two sheets of the same name are both told, numbered from the back."""
    layer = ThinLayer(name="black", kind="liner", left_mm=0.8, planned_mm=0.8)
    found = TouchOff(
        stage=2,
        name="x",
        at_mm=(90.0, 20.0),
        height_mm=1.0,
        below_top_mm=0.0,
        depth_error_mm=0.0,
        thinnest_left_mm=(layer, replace(layer, left_mm=0.1), replace(layer, name="face")),
        into_bed_mm=0.0,
        planned_into_bed_mm=0.0,
        verdict="right",
    )
    record = touch_off_record(found, LAYOUT)
    assert record["thinnest_left_mm"] == {"black (1)": 0.8, "black (2)": 0.1, "face": 0.8}
    assert record["at_mm"] == [-10.0, 20.0]


def test_a_card_says_what_does_not_hold() -> None:
    """A cut beyond the limit and a plate without room are said in words; places count from the origin."""
    room = PadRoom(room_mm=20.0, probe_mm=25.0, in_travel=False)
    card = Card(rows=(ROW,), room=room, rules=RULES, blank_mm=6.9, tape_mm=0.3)
    text = shown(card, LAYOUT, "mm", show=print_card)
    for words in ("x = -87.00 mm, y = 13.00 mm", "too much: at most 0.50 mm", "which does not fit", "travel"):
        assert words in text
    assert card_record(card, LAYOUT)["stages"][0]["second_at_mm"] == [-40.0, 20.0]


def test_a_touched_pad_is_said_loudly() -> None:
    """A stage that cut the pad says NO; what comes loose is named."""
    text = shown((STAGE,), LAYOUT, "mm", show=print_dry_run)
    assert "NO" in text
    assert "1L; 1 off-cut" in text
    loose = shown((replace(STAGE, pad_untouched=True, pad_held=False),), LAYOUT, "mm", show=print_dry_run)
    assert "yes, but loose" in loose
    assert dry_run_record((STAGE,), LAYOUT)["stages"][0]["deepest_at_mm"] == [-10.0, 40.0]


def test_a_stage_without_work_on_a_sheet_is_told_so() -> None:
    """A cutter that never comes down has no deepest place: data that any reader takes, and words."""
    idle = replace(STAGE, deepest_mm=math.inf, deepest_at_mm=(math.inf, math.inf), removed_mm3=0.0)
    (stage,) = json.loads(to_json(dry_run_record((idle,), LAYOUT)))["stages"]
    assert (stage["deepest_mm"], stage["deepest_at_mm"]) == (None, None)
    assert "not here" in shown((idle,), LAYOUT, "mm", show=print_dry_run)
