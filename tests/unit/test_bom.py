"""The bill of materials, its cutting lists and its tables."""

import csv
import io
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from scalegen.design import Hole, Scale, Span, Stepped
from scalegen.errors import ScalegenError
from scalegen.face import flat_face
from scalegen.model import (
    Adhesive,
    BomRow,
    Cutter,
    Drill,
    Edge,
    Finding,
    Front,
    Hardware,
    JobSpec,
    Layer,
    OutlineSource,
    Pattern,
    SheetStock,
    Shop,
    ShopRules,
    Stack,
    StackRecipe,
)
from scalegen.outline.ring import Ring
from scalegen.report.bom import BOUGHT, bill, finished_weight_g, rod_weight_g
from scalegen.report.cutting import blanks_per_sheet, share_out
from scalegen.report.tables import bom_csv, bom_json_rows, print_bom, print_findings
from scalegen.sheet.layout import PadBox, SheetLayout

PIN = Hardware(
    name="pin 4mm",
    kind="pin",
    material="brass",
    nominal_mm=4.0,
    diameter_mm=4.0,
    bore_mm=0.0,
    length_mm=100.0,
    end_allowance_mm=1.0,
    density_g_cm3=8.5,
    color="#c9a227",
    price=3.0,
)
TUBE = replace(PIN, name="tube 6mm", kind="tube", diameter_mm=6.0, bore_mm=4.0, price=None)
BOLT = replace(PIN, name="bolt 5mm", kind="stepped", length_mm=0.0, end_allowance_mm=0.0, price=1.25)
FACE = SheetStock(
    name="paper face",
    kind="face",
    material="paper",
    thickness_mm=6.0,
    tolerance_mm=0.3,
    length_mm=610.0,
    width_mm=305.0,
    density_g_cm3=1.34,
    color="#6b4a32",
    price=40.0,
)
LINER = replace(
    FACE, name="glass liner", kind="liner", thickness_mm=0.8, length_mm=305.0, width_mm=152.0, price=6.0
)
GLUE = Adhesive(
    name="slow epoxy", density_g_cm3=1.15, bond_mm=0.10, waste=2.0, color="#e2d7b0", price_per_g=0.05
)
SHOP = Shop(
    folder=None,
    rules=ShopRules(
        slip_fit_mm=0.05,
        drill_series=("metric",),
        clearance_mm=1.0,
        saw_kerf_mm=1.0,
        tape_waste=1.1,
        currency="EUR",
    ),
    sheets={"paper face": FACE, "glass liner": LINER},
    adhesives={"slow epoxy": GLUE},
    stacks={
        "paper": StackRecipe(
            name="paper", sheets=("glass liner", "paper face"), adhesive="slow epoxy", glue_up="slow epoxy"
        )
    },
    hardware={"pin 4mm": PIN},
    cutters={
        "flat 1/8in": Cutter(
            name="flat 1/8in",
            kind="flat",
            diameter_mm=3.175,
            flute_mm=11.0,
            stickout_mm=12.7,
            tip_radius_mm=0.0,
            flutes=2,
            price=16.0,
        )
    },
    abrasives={},
)
BOND = Layer(name="bond line 1", kind="bond", thickness_mm=0.10, density_g_cm3=1.15, color="#e2d7b0")
STACK = Stack(
    name="paper",
    layers=(
        Layer(name="glass liner", kind="liner", thickness_mm=0.8, density_g_cm3=1.83, color="#2f6b57"),
        BOND,
        Layer(name="paper face", kind="face", thickness_mm=6.0, density_g_cm3=1.34, color="#6b4a32"),
    ),
    nominal_mm=6.9,
    measured_mm=(),
    tolerance_mm=0.5,
    adhesive="slow epoxy",
    glue_up="slow epoxy",
)
PATTERN = Pattern(
    name="wren",
    title="Wren",
    units="mm",
    path=Path("wren.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=0.0, angle_rad=math.pi / 2),
    thickness_mm=6.0,
    edge=Edge(),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(),
)
DRILL = Drill(designation="4.1", series="metric", diameter_mm=4.1)


def hole(hardware: Hardware, cut_length_mm: float = 17.0, drill: Drill | None = DRILL) -> Hole:
    """A hole of 4.1 mm."""
    return Hole(
        at_mm=(20.0, 0.0),
        hole_mm=4.1,
        drill=drill,
        hardware=hardware,
        thickness_mm=6.0,
        cut_length_mm=cut_length_mm,
    )


def scale(*holes: Hole, **changes: Any) -> Scale:
    """A scale of 100 x 20 mm, 6 mm thick."""
    ring = Ring.from_rows([[0, -10], [100, -10], [100, 10], [0, 10]])
    whole = Scale(
        pattern=PATTERN,
        stack=STACK,
        tang=ring,
        carried=ring,
        finished=ring,
        as_cut=ring,
        face=flat_face(6.0),
        thickness_mm=6.0,
        back_allowance_mm=0.1,
        spans=(
            Span(
                name="glass liner",
                kind="liner",
                bottom_mm=-0.1,
                top_mm=0.7,
                density_g_cm3=1.83,
                color="#2f6b57",
            ),
            Span(
                name="bond line 1",
                kind="bond",
                bottom_mm=0.7,
                top_mm=0.8,
                density_g_cm3=1.15,
                color="#e2d7b0",
            ),
            Span(
                name="paper face", kind="face", bottom_mm=0.8, top_mm=6.0, density_g_cm3=1.34, color="#6b4a32"
            ),
        ),
        holes=holes,
        faced_off_mm=0.8,
    )
    return replace(whole, **changes)


def blanks(number: int = 1, length_mm: float = 305.0, width_mm: float = 152.0) -> list[SheetLayout]:
    """Blanks with nothing on them: the bill counts pairs from the job."""
    return [
        SheetLayout(
            name=f"sheet-{i + 1}",
            length_mm=length_mm,
            width_mm=width_mm,
            margin_mm=3.0,
            spacing_mm=4.5,
            pad=PadBox(x_mm=3.0, y_mm=3.0, w_mm=20.0, h_mm=20.0),
            origin="lower-left",
            placements=(),
        )
        for i in range(number)
    ]


def find(rows: tuple[BomRow, ...], section: str, item: str = "") -> BomRow:
    """The only row of a section whose item holds a text."""
    (row,) = (row for row in rows if row.section == section and item in row.item)
    return row


# ------------------------------------------------------------------------------------------- cutting


@pytest.mark.parametrize(
    ("length_mm", "width_mm", "kerf_mm", "expected"),
    [
        (305.0, 152.0, 1.0, 2),  # twice 305 and a saw cut are more than 610: one along, two across
        (304.5, 152.0, 1.0, 4),
        (610.0, 305.0, 1.0, 1),
        (610.1, 305.0, 1.0, 0),
        (305.0, 305.1, 0.0, 0),
        (100.0, 50.0, 0.0, 36),
        (100.0, 50.0, 3.0, 25),
    ],
)
def test_blanks_are_counted_with_saw_cuts_between(
    length_mm: float, width_mm: float, kerf_mm: float, expected: int
) -> None:
    """Counted by hand on a sheet of 610 x 305 mm: n blanks need n sizes and n - 1 saw cuts."""
    assert blanks_per_sheet(FACE, length_mm, width_mm, kerf_mm) == expected


@pytest.mark.parametrize(
    ("number", "length_mm", "rods"),
    [(5, 19.2, 1), (5, 19.3, 2), (1, 100.0, 1), (10, 19.2, 2), (11, 19.2, 3), (0, 10.0, 0)],
)
def test_rods_hold_their_pieces_and_the_cuts_between(number: int, length_mm: float, rods: int) -> None:
    """Five pieces of 19.2 mm and four cuts of 1 mm are just 100 mm."""
    shared = share_out([length_mm] * number, 100.0, 1.0)
    assert len(shared) == rods
    assert sum(len(rod) for rod in shared) == number


def test_mixed_lengths_share_rods() -> None:
    """Long pieces take short ones along: 60 + 39 and 70 + 29 fill two rods of 100 mm with 1 mm cuts."""
    assert share_out([29.0, 60.0, 39.0, 70.0], 100.0, 1.0) == ((70.0, 29.0), (60.0, 39.0))


def test_a_piece_longer_than_the_rod_is_refused() -> None:
    """Nothing is cut from a rod that is too short."""
    with pytest.raises(ValueError, match=r"100\.1 mm is longer"):
        share_out([100.1], 100.0, 1.0)


# ---------------------------------------------------------------------------------------------- bill


def test_whole_sheets_are_bought() -> None:
    """Three blanks of 300 x 152 mm: one large sheet gives all the faces, each liner sheet gives one."""
    rows = bill(scale(), JobSpec(), SHOP, blanks(3, 300.0), {})
    face, liner = find(rows, "sheets", "face"), find(rows, "sheets", "liner")
    assert (face.quantity, face.unit, face.cost) == (1.0, "sheet", 40.0)
    assert (liner.quantity, liner.unit, liner.cost) == (3.0, "sheet", 18.0)
    # By hand: 1 - 3 * 300 * 152 / (610 * 305) = 0.26.
    assert "3 × cut to 300 mm × 152 mm, 4 from each sheet" in face.note
    assert "left over 0.26 sheet" in face.note


def test_a_sheet_used_twice_in_the_stack_is_counted_twice() -> None:
    """A stack of two liners and a face takes two liner sheets for each blank."""
    twice = replace(SHOP.stacks["paper"], sheets=("glass liner", "glass liner", "paper face"))
    rows = bill(scale(), JobSpec(), replace(SHOP, stacks={"paper": twice}), blanks(2), {})
    assert find(rows, "sheets", "liner").quantity == 4.0


def test_a_sheet_too_small_for_the_blank_is_said() -> None:
    """The row tells that no such blank can be cut, and its price is missing from the total."""
    rows = bill(scale(), JobSpec(), SHOP, blanks(1, 306.0), {})
    liner = find(rows, "sheets", "liner")
    assert (liner.quantity, liner.unit, liner.cost) == (1.0, "blank", None)
    assert "too small" in liner.note
    assert "liner: glass liner" in find(rows, "total").note


def test_glue_goes_by_blanks_and_by_joints() -> None:
    """Two blanks of 305 x 152 mm, and 2 x 3 joints of 100 x 20 mm, at 115 g/m2 twice over, by hand."""
    rows = bill(scale(), JobSpec(pairs=2, spares=1), SHOP, blanks(2), {})
    stack, tang = find(rows, "adhesive", "lamination"), find(rows, "adhesive", "glue-up")
    assert stack.quantity == pytest.approx(2 * 0.305 * 0.152 * 115 * 2)
    assert tang.quantity == pytest.approx(6 * 0.100 * 0.020 * 115 * 2)
    assert tang.cost == pytest.approx(2.76 * 0.05)
    assert "1.38 g stay, mix 2 times that" in tang.note


@pytest.mark.parametrize(("step_mm", "glued_mm2"), [(-1.0, 99.0 * 18.0), (1.0, 100.0 * 20.0)])
def test_glue_on_the_tang_goes_by_what_lies_on_it(step_mm: float, glued_mm2: float) -> None:
    """A liner set in is glued with less than the scale's area, a proud one with no more than the tang's."""
    ring = Ring.from_rows([[0, -9], [99, -9], [99, 9], [0, 9]])
    if step_mm > 0:
        ring = Ring.from_rows([[0, -11], [101, -11], [101, 11], [0, 11]])
    stepped = Stepped(
        step_mm=step_mm, count=1, top_mm=0.7, carried=ring, carried_as_cut=ring, finished=ring, as_cut=ring
    )
    rows = bill(scale(stepped=stepped), JobSpec(pairs=3), SHOP, blanks(2), {})
    assert find(rows, "adhesive", "glue-up").quantity == pytest.approx(6 * glued_mm2 * 1e-6 * 115 * 2)


def test_a_stack_of_one_sheet_needs_no_lamination() -> None:
    """Without a bond line there is no glue for the stack."""
    single = replace(STACK, name="single", layers=STACK.layers[2:])
    rows = bill(scale(stack=single), JobSpec(), SHOP, blanks(), {})
    assert [row.item for row in rows if row.section == "adhesive"] == ["glue-up: slow epoxy"]
    assert [row.item for row in rows if row.section == "sheets"] == ["face: paper face"]


def test_pins_are_cut_from_rods() -> None:
    """Two pins of 17 mm in each of 4 pairs: 8 pieces, five to a rod of 100 mm, so two rods."""
    rows = bill(scale(hole(PIN), hole(PIN)), JobSpec(pairs=3, spares=1), SHOP, blanks(), {})
    rods, pieces = find(rows, "hardware"), find(rows, "cut list")
    assert (rods.quantity, rods.unit, rods.cost) == (2.0, "rod", 6.0)
    assert (pieces.quantity, pieces.unit) == (8.0, "piece")
    assert "cut each to 17 mm, with 1 mm at each end" in pieces.note
    # 8 x 17 and, with five and three in a rod, 4 + 2 cuts: 142 mm of 200.
    assert "142.00 mm with saw cuts of 1 mm between pieces, 58.00 mm left over" in rods.note


def test_single_pieces_and_rods_too_short() -> None:
    """Stepped fasteners are bought by the piece and not cut; a rod that is too short is said to be."""
    rows = bill(scale(hole(BOLT), hole(TUBE, 120.0)), JobSpec(pairs=2), SHOP, blanks(), {})
    bolt, tube = find(rows, "hardware", "bolt"), find(rows, "hardware", "tube")
    assert (bolt.quantity, bolt.unit, bolt.cost) == (2.0, "piece", 2.5)
    assert tube.cost is None
    assert "a rod of 100 mm is too short" in tube.note
    assert [row.item for row in rows if row.section == "cut list"] == ["tube 6mm"]


def test_tools_are_listed_and_not_charged() -> None:
    """Cutter and drill appear with what they do; a hole without a drill is milled."""
    rows = bill(scale(hole(PIN), hole(PIN, drill=None)), JobSpec(pairs=2), SHOP, blanks(), {})
    assert "3.175 mm" in find(rows, "tools", "cutter").note
    assert find(rows, "tools", "drill: 4.1 (4.1 mm)").note.startswith("4 holes")
    assert find(rows, "tools", "milled hole").note.startswith("4 holes")
    assert all(row.cost is None for row in rows if row.section == "tools")
    missing = find(bill(scale(), JobSpec(cutter="flat 9mm"), SHOP, blanks(), {}), "tools")
    assert "not in the cutter table" in missing.note


def test_total_adds_what_is_priced_and_names_what_is_not() -> None:
    """The total is the sum of the cost column, and unpriced things are named beside it."""
    rows = bill(scale(hole(PIN), hole(TUBE)), JobSpec(), SHOP, blanks(), {})
    total = find(rows, "total")
    assert total.cost == pytest.approx(sum(row.cost for row in rows[:-1] if row.cost is not None))
    assert total.note.endswith("for want of a price: tube 6mm, double-sided tape")
    assert "EUR" in total.note
    assert {row.section for row in rows[:-1] if row.cost is not None} <= set(BOUGHT)


def test_no_price_at_all_gives_no_total() -> None:
    """Where nothing has a price, the total is unknown, not nothing."""
    sheets = {name: replace(sheet, price=None) for name, sheet in SHOP.sheets.items()}
    bare = replace(SHOP, sheets=sheets, adhesives={"slow epoxy": replace(GLUE, price_per_g=None)})
    assert find(bill(scale(), JobSpec(), bare, blanks(), {}), "total").cost is None


def test_things_missing_from_the_tables_do_not_break_the_bill() -> None:
    """Unknown sheets and glues are listed as such."""
    empty = replace(SHOP, sheets={}, adhesives={}, stacks={}, cutters={})
    rows = bill(scale(), JobSpec(), empty, blanks(), {})
    assert "not in the sheet table" in find(rows, "sheets", "paper face").note
    assert "not in the adhesive table" in find(rows, "adhesive", "glue-up").note


def test_tape_covers_the_blanks() -> None:
    """Two blanks of 305 x 152 mm with a tenth more: 1019.92 cm2, by hand."""
    assert find(bill(scale(), JobSpec(), SHOP, blanks(2), {}), "tape").quantity == pytest.approx(1019.92)


def test_notes_speak_the_users_unit() -> None:
    """A pattern in inches gets its lengths in inches."""
    inches = scale(hole(PIN, 25.4), pattern=replace(PATTERN, units="in"))
    assert "cut each to 1 in" in find(bill(inches, JobSpec(), SHOP, blanks(), {}), "cut list").note


# -------------------------------------------------------------------------------------------- weight


def test_weight_adds_layers_and_pins() -> None:
    """Two scales of 9000 mm3 at 1.34 and 1000 mm3 at 1.83, and a 4 mm brass pin through 15 mm, by hand."""
    pin_g = math.pi * 2.0**2 * 15.0 * 8.5 / 1000
    weight_g = finished_weight_g(scale(hole(PIN)), {"paper face": 9000.0, "glass liner": 1000.0})
    assert weight_g == pytest.approx(2 * (12.06 + 1.83) + pin_g)


def test_a_tube_weighs_its_wall() -> None:
    """6 mm outside, 4 mm inside: five quarters of a 4 mm pin's section."""
    assert rod_weight_g(TUBE, 10.0) == pytest.approx(rod_weight_g(PIN, 10.0) * 20 / 16)


def test_weight_row_only_with_volumes() -> None:
    """Without volumes no weight is made up; with a wrong layer's volume it is refused."""
    assert not [row for row in bill(scale(), JobSpec(), SHOP, blanks(), {}) if row.section == "weight"]
    rows = bill(scale(), JobSpec(), SHOP, blanks(), {"paper face": 10000.0})
    assert find(rows, "weight").quantity == pytest.approx(26.8)
    with pytest.raises(ScalegenError, match="'oak', which is no layer"):
        finished_weight_g(scale(), {"oak": 1.0})


# -------------------------------------------------------------------------------------------- tables

AWKWARD = (
    BomRow(
        section="sheets",
        item='=1+1;"face", 6 mm',
        quantity=2.0,
        unit="sheet",
        note="a\nb",
        cost=1.5,
        on_hand=0.5,
        short=1.5,
        details={"left_mm2": 12.5, "sizes": [1.0, 2.0]},
    ),
    BomRow(section="tape", item="tape", quantity=645.16, unit="cm2", note=" @home"),
    BomRow(
        section="cut list", item="[red]pin[/red]", quantity=0.12345, unit="g", note="Ø 3 mm × 2", cost=0.0
    ),
)


def test_csv_reads_back_as_it_was() -> None:
    """Python's own reader gets quotes, commas, line breaks and all columns back."""
    table = list(csv.reader(io.StringIO(bom_csv(AWKWARD), newline=""), strict=True))
    assert table[0] == ["section", "item", "quantity", "unit", "note", "cost", "on_hand", "short"]
    assert table[1] == ["sheets", '\'=1+1;"face", 6 mm', "2", "sheet", "a\nb", "1.50", "0.5", "1.5"]
    assert table[3] == ["cut list", "[red]pin[/red]", "0.123", "g", "Ø 3 mm × 2", "0.00", "", ""]


def test_csv_lines_end_as_the_standard_says() -> None:
    """Every record ends with CR LF (RFC 4180, section 2, rule 1), on every system."""
    text = bom_csv(AWKWARD[1:])
    assert text.count("\r\n") == 3
    assert text.replace("\r\n", "").count("\n") == 0
    assert text.endswith("\r\n")


@pytest.mark.parametrize("text", ["=A1", "+1", "-1", "@x", "\t=A1", "\r=A1", "  =A1", "＝A1"])
def test_csv_texts_are_never_formulas(text: str) -> None:
    """Whatever a name starts with, the cell starts with an apostrophe or harmlessly."""
    row = BomRow(section="sheets", item=text, quantity=1.0, unit="sheet", note=text)
    cells = list(csv.reader(io.StringIO(bom_csv([row]), newline="")))[1]
    assert cells[1] == cells[4] == f"'{text}"


def test_csv_in_inches() -> None:
    """645.16 cm2 are 100 square inches; pieces and grams stay what they are."""
    cells = list(csv.reader(io.StringIO(bom_csv(AWKWARD, "in"), newline="")))
    assert cells[2][2:4] == ["100", "in2"]
    assert cells[3][2:4] == ["0.123", "g"]


def test_json_rows_keep_every_field() -> None:
    """Rows go through JSON and come back as the same records."""
    assert tuple(BomRow(**row) for row in json.loads(json.dumps(bom_json_rows(AWKWARD)))) == AWKWARD


def printed(width: int = 120) -> Console:
    """A console that keeps what is printed."""
    return Console(file=io.StringIO(), width=width, color_system=None)


def shown(console: Console) -> str:
    """What was printed."""
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def test_bill_is_printed_as_it_stands() -> None:
    """Names in square brackets are text, and every row is there."""
    console = printed()
    print_bom(AWKWARD, console, "in")
    assert "[red]pin[/red]" in shown(console)
    assert "in2" in shown(console)


def test_findings_are_printed_stops_first() -> None:
    """A stop comes before a warning, with what to do, and the counts below."""
    warning = Finding(
        code="edge", level="warning", about="pin 2", where="x = 3", message="close", remedy="move it"
    )
    stop = replace(warning, code="thin", level="stop", about="stack [b]", where="", message="too thin")
    console = printed()
    print_findings([warning, stop, warning], console)
    text = shown(console)
    assert text.index("too thin") < text.index("close (x = 3)")
    assert "stack [b]" in text
    assert "1 stop, 2 warnings" in text


def test_no_findings_is_said() -> None:
    """Silence would look like a check that did not run."""
    console = printed()
    print_findings([], console)
    assert "No findings" in shown(console)
