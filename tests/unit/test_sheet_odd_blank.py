"""Blanks of any outline, with holes, flaws and several pads: room, second look, dry run, drawing, record.

Areas are closed forms: Steiner's formula for parallel curves (Santalo, Integral Geometry and Geometric
Probability, sec. 1.1), circle segments from any handbook.
"""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from scalegen.model import JobSpec, Side
from scalegen.outline.ring import Ring
from scalegen.pipeline import study_pattern
from scalegen.rehearsal import layouts_of
from scalegen.report.record import _sheet_record
from scalegen.sheet.layout import PadBox, Placement, SheetLayout, Zone
from scalegen.sheet.room import region_of, sound_region
from scalegen.sheet.verify import verify

ROOT = Path(__file__).parents[2]
LEFT = Ring.from_rows([[0, -5, 0], [40, -5, 0.3], [40, 8, 0], [0, 5, 0]])
RIGHT = Ring.from_rows([[0, -5, 0], [40, -8, 0.3], [40, 5, 0], [0, 5, 0]])
SHAPES: dict[Side, Ring] = {"left": LEFT, "right": RIGHT}
STADIUM = Ring.from_rows([[40, 0, 0], [160, 0, 1], [160, 80, 0], [40, 80, 1]])
HOLE = Zone(ring=Ring.from_rows([[120, 40, 1], [140, 40, 1]]), kind="hole")
FLAW = Zone(ring=Ring.from_rows([[40, 50], [60, 50], [60, 60], [40, 60]]))


def at(label: str, x_mm: float, y_mm: float) -> Placement:
    """A scale of the side its label says, not turned."""
    side: Side = "left" if label.endswith("L") else "right"
    return Placement(label=label, pattern="wren", side=side, x_mm=x_mm, y_mm=y_mm, angle_rad=0.0)


BLANK = SheetLayout(
    name="sheet-1",
    length_mm=200.0,
    width_mm=80.0,
    margin_mm=3.0,
    spacing_mm=4.0,
    pad=PadBox(x_mm=30.0, y_mm=25.0, w_mm=20.0, h_mm=20.0),
    more_pads=(PadBox(x_mm=170.0, y_mm=35.0, w_mm=10.0, h_mm=10.0),),
    origin="lower-right",
    placements=(at("1L", 60.0, 12.0), at("1R", 63.0, 33.0)),
    keep_clear_mm=5.0,
    outline=STADIUM,
    zones=(HOLE, FLAW),
)


def faults(layout: SheetLayout) -> str:
    """All faults of one blank with its own margin, spacing and ring."""
    found = verify([layout], SHAPES, spacing_mm=4.0, margin_mm=3.0, keep_clear_mm=5.0, pairs=1)
    return "\n".join(found)


def test_the_room_on_a_stadium_lies_on_either_side_of_the_truth() -> None:
    """The stadium 3 mm smaller, less the hole 3 mm larger, the flaw, and both pads with their rings."""
    inner = 120 * 74 + math.pi * 37**2
    taken = math.pi * 13**2 + 20 * 10
    rings = 20 * 20 + 80 * 5 + math.pi * 25 + 10 * 10 + 40 * 5 + math.pi * 25
    # The first pad's ring ends at y = 45 + 5, where the flaw begins.
    truth = inner - taken - rings
    # Every edge of the room may be off by three rounding steps of 0.001 mm.
    off = 0.003 * (240 + 2 * math.pi * (37 + 13 + 5 + 5) + 60 + 80 + 40)
    less, more = region_of(BLANK), region_of(BLANK, larger=True)
    assert truth - off < less.area < truth < more.area < truth + off
    assert more.buffer(1e-9).contains(less)
    assert sound_region(BLANK).area == pytest.approx(inner - taken, abs=off)


def test_a_rectangle_given_as_an_outline_has_the_room_of_a_plain_one() -> None:
    """Typed corners and a size come to the same."""
    plain = replace(BLANK, outline=None, zones=())
    typed = replace(plain, outline=Ring.from_rows([[0, 0], [200, 0], [200, 80], [0, 80]]))
    assert region_of(typed).area == pytest.approx(region_of(plain).area, rel=1e-4)


def test_area_and_holes_are_those_of_the_outline() -> None:
    """A stadium of 200 x 80 mm with a hole of 20 mm (closed form)."""
    assert BLANK.area_mm2 == pytest.approx(120 * 80 + math.pi * 1600 - math.pi * 100)
    assert len(BLANK.holes) == 1


def test_a_good_layout_on_an_odd_blank_has_no_faults() -> None:
    """Nothing is found where edge, hole, flaw and pads are kept."""
    assert faults(BLANK) == ""


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"placements": (at("1L", 60, 12), at("1R", 2, 60))}, "1R reaches into the margin"),
        ({"placements": (at("1L", 60, 7.99), at("1R", 63, 33))}, "1L reaches into the margin"),
        ({"placements": (at("1L", 60, 12), at("1R", 120, 40))}, "1R lies on the hole that is keep-out 1"),
        (
            {"placements": (at("1L", 60, 12), at("1R", 78, 40))},
            "1R is 0.1014 mm from the hole that is keep-out 1, 3.0000 mm are due",
        ),
        ({"placements": (at("1L", 60, 12), at("1R", 50, 58))}, "1R lies on the flaw that is keep-out 2"),
        ({"pad": PadBox(x_mm=3, y_mm=3, w_mm=20, h_mm=20)}, "the pad reaches into the margin"),
        ({"pad": PadBox(x_mm=42, y_mm=48, w_mm=20, h_mm=20)}, "the pad lies on the flaw"),
        ({"more_pads": (PadBox(x_mm=140, y_mm=40, w_mm=9, h_mm=9),)}, "the pad 2 is 0.0"),
        ({"more_pads": (PadBox(x_mm=45, y_mm=30, w_mm=9, h_mm=9),)}, "the pad and the pad 2 overlap"),
        (
            {"more_pads": (PadBox(x_mm=60, y_mm=22.5, w_mm=2, h_mm=2),)},
            "mm from the pad 2, 5.0000 mm are due",
        ),
    ],
)
def test_a_planted_fault_is_found_on_an_odd_blank(change: dict[str, object], words: str) -> None:
    """Edge, hole, flaw and every pad are looked at."""
    assert words in faults(replace(BLANK, **change))  # type: ignore[arg-type]  # one dict, many fields


@pytest.mark.parametrize("off_mm", [0.0, 0.003])
def test_distance_from_a_round_edge_is_measured_to_the_micron(off_mm: float) -> None:
    """A disc of 10 mm in the round end of 40 mm keeps 3 mm when its centre is 27 mm from the end's."""
    disc = Ring.from_rows([[-10, 0, 1], [10, 0, 1]])
    far = 27.0 + off_mm
    place = at("1L", 160 + far * math.cos(0.3), 40 + far * math.sin(0.3))
    layout = replace(BLANK, more_pads=(), placements=(place, at("1R", 90.0, 20.0)))
    found = verify([layout], {"left": disc, "right": disc}, spacing_mm=4.0, margin_mm=3.0)
    assert ("sheet-1: 1L reaches into the margin" in found) == (off_mm > 0)


def test_a_record_brings_the_blank_back() -> None:
    """Outline, zones, pads and grain come back from the record as they were, from any origin corner."""
    layout = replace(BLANK, grain_rad=math.radians(30))
    record = json.loads(json.dumps({"sheets": [_sheet_record(layout, {"wren": 1.0}, {})]}))
    (back,) = layouts_of(record, Path("out"))
    assert back.pads == layout.pads
    assert back.grain_rad == pytest.approx(layout.grain_rad)
    assert back.outline is not None
    assert back.outline.rows == pytest.approx(STADIUM.rows)
    assert [zone.kind for zone in back.zones] == ["hole", "flaw"]
    assert back.zones[0].ring.rows == pytest.approx(HOLE.ring.rows)
    shown = shapely.Polygon(record["sheets"][0]["outline_mm"])
    assert shown.area == pytest.approx(STADIUM.area_mm2, rel=1e-3)
    assert shown.bounds == pytest.approx((-200, 0, 0, 80), abs=0.02)


def test_the_dry_run_has_no_material_beside_the_blank() -> None:
    """Before anything is cut the field holds the volume of the plate with its hole, and both pads stand."""
    from scalegen.machining.field import volume_mm3
    from scalegen.machining.target import target_of

    study = study_pattern(ROOT / "profiles" / "siskin.toml", JobSpec(measured_mm=(6.9,)))
    blank = replace(BLANK, placements=())
    target = target_of(study.scale, blank, cell_mm=0.2)
    assert volume_mm3(target.blank) == pytest.approx(blank.area_mm2 * 6.9, rel=1e-3)
    assert target.blank.at_mm((2.0, 2.0)) == 0.0
    assert target.blank.at_mm((130.0, 40.0)) == 0.0
    assert len(target.pads) == 2
    tops = [target.field.heights_mm[target.field.window(pad)] for pad in target.pads]
    assert all(np.all(top == np.float32(6.9)) for top in tops)
