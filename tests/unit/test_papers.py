"""What the papers say: this job's numbers, in the user's units, and what must not be overlooked."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.papers.document import (
    Block,
    Cautions,
    Columns,
    Document,
    Drawing,
    Group,
    Heading,
    Numbers,
    Steps,
    Table,
    Text,
)
from scalegen.papers.fitted import LEAST_TEXT_MM, fitted
from scalegen.papers.html import document_html
from scalegen.papers.pdf import document_pdf
from scalegen.papers.pdf_shapes import load_fonts, shown
from scalegen.papers.shop_sheet import paper_of, shop_sheet
from scalegen.papers.stack_picture import spread, stack_picture
from scalegen.papers.template import OVERLAP_MM, tiles_of
from scalegen.report.made import Made
from scalegen.report.picture_shapes import Curve, Label
from scalegen.report.sheet_picture import draw_sheet

PROFILES = Path(__file__).parents[2] / "profiles"

Jobs = Callable[..., Made]


def flat(blocks: tuple[Block, ...]) -> Iterator[Block]:
    """All blocks of a paper, those in groups too."""
    for block in blocks:
        if isinstance(block, Group):
            yield from flat(block.blocks)
        elif isinstance(block, Columns):
            for column in block.columns:
                yield from flat(column)
        else:
            yield block


def tables(paper: Document) -> list[Table]:
    """Its tables."""
    return [block for block in flat(paper.blocks) if isinstance(block, Table)]


def table_with(paper: Document, head: str) -> Table:
    """The one table that has such a head."""
    (found,) = (table for table in tables(paper) if head in table.heads)
    return found


def words(paper: Document) -> str:
    """All paragraphs and steps in one text."""
    said = []
    for block in flat(paper.blocks):
        if isinstance(block, Text):
            said.append(block.text)
        elif isinstance(block, Steps):
            said += [line for step in block.steps for line in (step.title, *step.details)]
        elif isinstance(block, Cautions):
            said += [word for each in block.cautions for word in (each.title, each.text)]
            said.append(block.last)
    return "\n".join(said)


def test_depths_count_from_the_zero_on_the_pad(paper_job: Jobs) -> None:
    """Lowest Z is height of the move less height of the pad: 6.84 mm measured, scales 6.3 mm as cut.

    By hand: facing 6.30 - 6.84 = -0.54; through cuts, 0.2 below the bed: -0.20 - 6.84 = -7.04.
    """
    table = table_with(shop_sheet(paper_job("harrier")), "lowest Z, mm")
    depths = {row[0].split(" ", 1)[1]: row[3] for row in table.rows}
    assert depths["face off"] == "-0.54"
    assert depths["outlines"] == "-7.04"
    assert [row[0].split()[0] for row in table.rows] == [str(k + 1) for k in range(len(table.rows))]


def test_the_second_spot_is_told_with_what_it_must_show(paper_job: Jobs) -> None:
    """After facing, the faced scale lies 6.84 - 6.30 = 0.54 mm below the pad; a box waits for the reading."""
    paper = shop_sheet(paper_job("harrier"))
    table = table_with(paper, "1L must show")
    assert table.write_in
    assert table.heads[4:] == ("pad read", "1L must show", "1L read")
    assert table.rows[0][4:] == ("", "-0.54", "")
    assert "the pad must show 0.00" in words(paper)
    assert "1L at X " in words(paper)
    assert "0.54 mm too deep" in words(paper)


def test_every_sheet_of_a_job_has_its_own_boxes(job_of: Jobs) -> None:
    """Seven pairs of the harrier lie on two sheets: each has its picture, pad column and spot.

    From the sixth column on there are two for each sheet.
    """
    paper = shop_sheet(job_of(PROFILES / "harrier.toml", (6.84,), pairs=6, spares=1))
    table = table_with(paper, "sheet 2: pad")
    assert table is table_with(paper, "cutter")
    assert table.heads[5::2] == ("sheet 1: pad", "sheet 2: pad")
    assert table.heads[6::2] == ("sheet 1: 1L", "sheet 2: 5L")
    assert table.heads[4] == "1L and 5L must show"
    # 6.84 - 6.30, as by hand above.
    assert table.rows[0][4] == "-0.54"
    sheets = [block for block in flat(paper.blocks) if isinstance(block, Drawing) and "sheet-" in block.alt]
    assert len(sheets) == 2


def test_without_a_dry_run_there_are_boxes_all_the_same(paper_job: Jobs) -> None:
    """A job that was not cut in thought still gets a row for every stage."""
    made = paper_job("harrier", cut=False)
    table = table_with(shop_sheet(made), "pad read")
    assert len(table.rows) == len(made.record["stages"])


def test_a_blank_that_was_not_measured_is_told_in_strong_words(paper_job: Jobs) -> None:
    """Whoever reads page 1 sees that thickness is only added up, and what each place needs."""
    paper = shop_sheet(paper_job("siskin"))
    strong = [block.text for block in flat(paper.blocks) if isinstance(block, Text) and block.strong]
    assert any("Not measured" in text and "--measured" in text for text in strong)
    # Finished 6.2 mm, nothing left at the back.
    assert "6.20 mm or more" in words(paper)
    measured = words(shop_sheet(paper_job("harrier")))
    assert "Measured: 6.84 mm, 6.90 mm, 6.87 mm. The job counts on 6.84 mm" in measured


def test_everything_is_in_the_users_unit(paper_job: Jobs) -> None:
    """The curlew's papers are in inches: no table, box or step speaks of mm outside of sources."""
    paper = shop_sheet(paper_job("curlew"))
    heads = " ".join(head for table in tables(paper) for head in table.heads)
    assert ", in" in heads
    assert "mm" not in heads
    assert "0.260 in" in " ".join(
        cell for table in tables(paper) for row in table.rows for cell in row
    ) + words(paper)


def test_rods_are_cut_by_fractions_where_one_reads_these(paper_job: Jobs) -> None:
    """In inches with fractions, the length of a rod stands there both ways; 16 mm are 40.31 64ths."""
    made = paper_job("siskin")
    made = replace(made, spec=replace(made.spec, paper_units="fraction"))
    table = table_with(shop_sheet(made), "cut to, in")
    cut = {row[table.heads.index("cut to, in")] for row in table.rows}
    # 16 mm / 25.4 mm = 0.62992 in; 40/64 in = 0.625 in, and 0.0049 in more.
    assert cut == {"0.630 = 5/8 (+0.005)"}


def test_papers_may_be_read_in_another_unit(paper_job: Jobs) -> None:
    """The harrier, drawn in mm, on papers in inches: 6.2 mm finished are 6.2 / 25.4 in."""
    made = paper_job("harrier")
    made = replace(made, spec=replace(made.spec, paper_units="in"))
    assert paper_of(made) == "letter"
    (numbers,) = (block for block in shop_sheet(made).blocks if isinstance(block, Numbers))
    assert numbers.numbers[3].value == f"{6.2 / 25.4:.3f} in"


def test_work_by_hand_comes_in_its_order(paper_job: Jobs) -> None:
    """Bond, press, measure, tape, cut, free, backs, fronts, glue up, flush: numbered through."""
    steps = [
        step
        for block in flat(shop_sheet(paper_job("harrier")).blocks)
        if isinstance(block, Steps)
        for step in block.steps
    ]
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    titles = " | ".join(step.title for step in steps)
    order = ["Key", "Bond", "Press", "Measure", "Tape", "Cut", "Free", "backs", "fronts", "Glue up", "flush"]
    places = [titles.index(word) for word in order]
    assert places == sorted(places)


def test_how_much_may_come_off_the_back(paper_job: Jobs) -> None:
    """The limit is what the liner has at its thinnest less 0.3 mm: 0.8 mm less tolerance 0.0065 in, less 0.3.

    Tolerance of 1/32 in glass sheet: NEMA LI 1, as a converter prints it.
    """
    want = 0.8 - 0.0065 * 25.4 - 0.3
    assert f"STOP at {want:.2f} mm in all" in words(shop_sheet(paper_job("harrier")))


def test_pins_have_their_length_and_number(paper_job: Jobs) -> None:
    """Tang 4, twice 6.2 and twice 0.8 to take off make 18 mm; 3 pairs take 3 of each."""
    table = table_with(shop_sheet(paper_job("harrier")), "cut to, mm")
    assert table.rows[0][1:4] == ("pin 3mm", "3", "18.00")


def test_accepted_findings_carry_their_reason(paper_job: Jobs) -> None:
    """What a finding says is printed whole, and with it the words it was accepted with."""
    made = paper_job("siskin")
    first, *rest = made.record["findings"]
    words_mm = 'the liner is thin; accepted: "measured with a worn gauge"'
    record = {**made.record, "findings": [{**first, "level": "warning", "message": words_mm}, *rest]}
    table = table_with(shop_sheet(replace(made, record=record)), "what, and what to do")
    assert words_mm in table.rows[0][1]


def test_what_comes_of_a_blank_not_measured_is_one_warning(paper_job: Jobs) -> None:
    """Thinner and thicker by the tables' tolerance is one row and one warning on page 1; readings keep both.

    0.47 mm is what the tables' sheets may be off, 6 mm paper sheet by 0.305 and 0.8 mm glass by 0.165 mm:
    NEMA LI 1, as a converter prints it (0.0120 and 0.0065 in).
    """
    note = paper_job("siskin").record["findings"][0]
    both = [
        {**note, "level": "warning", "code": f"blank-{word}", "message": word}
        for word in ("thinner", "thicker")
    ]
    for name, rows, count in (("siskin", 1, "1 warning: read it"), ("harrier", 2, "2 warnings: read them")):
        made = paper_job(name)
        paper = shop_sheet(replace(made, record={**made.record, "findings": [*both, note]}))
        table = table_with(paper, "what, and what to do")
        assert len(table.rows) == rows
        assert count in words(paper)
        assert "1 note:" in words(paper)
        assert (f"{0.305 + 0.165:.2f} mm thinner" in table.rows[0][1]) == (rows == 1)


def test_passes_share_the_depth_evenly(paper_job: Jobs) -> None:
    """Facing takes all in one pass, 6.84 - 6.30; a drill of 3.1 mm goes its 6.5 mm in three lifts of 2.17.

    A lift after each diameter: common practice, no source. ceil(6.5 / 3.1) = 3. Passes under 0.1 mm are
    counted only, and one that follows the surface has no depth of its own.
    """
    made = paper_job("harrier")
    table = table_with(shop_sheet(made), "passes × mm")
    said = {row[0].split(" ", 1)[1]: row[2] for row in table.rows[:5]}
    assert said["face off"] == "1 × 0.54"
    assert said["fronts and edges"] == "1, all over"
    assert said["pin holes"] == f"3 × {(6.3 + 0.2) / 3:.2f}"
    (feet,) = (stage for stage in made.record["stages"] if stage["name"] == "feet of the edges")
    assert said["feet of the edges"] == f"{feet['passes']} light"
    for stage, row in zip(made.record["stages"], table.rows, strict=True):
        if "×" in row[2]:
            count, deep = row[2].split(" × ")
            assert int(count) * float(deep) == pytest.approx(
                stage["from_mm"] - stage["to_mm"], abs=0.005 * int(count)
            )


@pytest.mark.parametrize(("pairs", "tables_of"), [(4, [4]), (5, [3, 2]), (6, [3, 3])])
def test_more_than_four_pairs_have_their_boxes_in_two_columns(
    pairs: int, tables_of: list[int], job_of: Jobs
) -> None:
    """Each pair has one row, in order, however they are set."""
    paper = shop_sheet(job_of(PROFILES / "siskin.toml", pairs=pairs, spares=0))
    found = [table for table in tables(paper) if table.heads[-1] == "done"]
    assert [len(table.rows) for table in found] == tables_of
    assert [row[0] for table in found for row in table.rows] == [str(k + 1) for k in range(pairs)]


def test_cautions_go_by_the_materials_and_end_with_local_law(paper_job: Jobs) -> None:
    """Phenolic and glass in the stack are told of, carbon is not; law, data sheets and manual come first."""
    text = words(shop_sheet(paper_job("siskin")))
    assert "0.75 ppm" in text
    assert "glass fibre" in text
    assert "Carbon" not in text
    assert "machine's manual come first" in text


@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_letters_in_pictures_can_be_read(name: str, paper_job: Jobs) -> None:
    """No letter in a picture of the shop sheet is smaller than 10 points, 3.53 mm."""
    for block in flat(shop_sheet(paper_job(name)).blocks):
        if isinstance(block, Drawing):
            shapes = (*block.picture.drawn, *block.picture.over)
            assert min(each.size_mm for each in shapes if isinstance(each, Label)) >= 10 * 25.4 / 72


def test_the_sheet_is_drawn_in_proportion(paper_job: Jobs) -> None:
    """A blank of 300 x 150 mm is twice as wide as high on paper, and nothing of it is cut off."""
    made = paper_job("siskin")
    picture = fitted(draw_sheet(made.lots[0].scale, made.layouts[0]), 180.0)
    blank = next(each for each in picture.drawn if isinstance(each, Curve))
    wide, high = np.ptp(blank.rows[:, :2], axis=0)
    assert wide / high == pytest.approx(2.0)
    assert blank.rows[:, 0].min() >= 0
    assert blank.rows[:, 0].max() <= picture.width_mm == 180.0
    assert LEAST_TEXT_MM > 3.5


def test_the_stack_is_drawn_to_scale(paper_job: Jobs) -> None:
    """Heights of the boxes stand to each other as liner, glue and face: 0.8, 0.1 and 5.94 mm of 6.84."""
    drawing = stack_picture(paper_job("harrier").lots[0].scale, "mm")
    boxes = [each for each in drawing.picture.over if isinstance(each, Curve) and each.closed]
    left = min(box.rows[:, 0].min() for box in boxes)
    high = [np.ptp(box.rows[:, 1]) for box in boxes if box.rows[:, 0].min() == left]
    assert np.array(high) / sum(high) == pytest.approx(np.array([0.8, 0.1, 5.94]) / 6.84)
    assert "5.94 mm" in drawing.alt


def test_names_are_spread_apart() -> None:
    """Names of thin layers are moved apart, and no further than needed."""
    found = spread([50.0, 49.0, 48.9, 20.0], 5.0)
    gaps = -np.diff(found)
    assert (gaps > 4.99).all()
    assert found[3] == 20.0


def test_tiles_cover_the_box_and_overlap() -> None:
    """Pages cover all of a box, neighbours share the overlap, none is larger than the room."""
    box, room = (0.0, 0.0, 500.0, 300.0), (277.0, 136.0)
    tiles = tiles_of(box, room)
    assert len(tiles) == 2 * 3
    by_place = {(tile.row, tile.column): tile.box for tile in tiles}
    assert by_place[1, 1][2] - by_place[1, 2][0] == pytest.approx(OVERLAP_MM)
    assert by_place[2, 1][3] - by_place[1, 1][1] == pytest.approx(OVERLAP_MM)
    assert max(tile.box[2] for tile in tiles) >= 500
    assert min(tile.box[1] for tile in tiles) <= 0
    assert len(tiles_of((0.0, 0.0, 277.0, 136.0), room)) == 1


def test_signs_the_font_lacks_become_plain_ones() -> None:
    """Accents that the font lacks are dropped; a sign without a plain form becomes a question mark."""
    load_fonts()
    assert shown("Größe ± 1") == "Größe ± 1"
    assert shown("\u0105\u5b57\n") == "a??"


def test_text_cannot_break_out_of_the_page(paper_job: Jobs) -> None:
    """Angle brackets, ampersands and control signs of a title are shown, not obeyed, in both files."""
    paper = replace(shop_sheet(paper_job("siskin")), title="<script>alert(1)</script> & \x07 <b>")
    html = document_html(paper)
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    assert "\x07" not in html
    assert document_pdf(paper).startswith(b"%PDF")


def test_an_empty_heading_of_findings_is_no_table(paper_job: Jobs) -> None:
    """A job without findings says so."""
    made = paper_job("siskin")
    paper = shop_sheet(replace(made, record={**made.record, "findings": []}))
    assert "The checks found nothing to say." in words(paper)
    assert any(isinstance(block, Heading) and "checks" in block.text for block in flat(paper.blocks))


def test_paper_asked_for_comes_first(paper_job: Jobs) -> None:
    """A size that was asked for wins over the unit."""
    assert paper_of(paper_job("curlew", "a4")) == "a4"
    assert paper_of(paper_job("siskin", "letter")) == "letter"
    assert paper_of(paper_job("curlew")) == "letter"


def test_layers_of_the_drawing_tell_their_depth_from_the_pad(paper_job: Jobs) -> None:
    """Pin holes of the harrier run from the faced surface, 0.54 below the pad, to 0.2 below the blank.

    By hand: 6.84 - 6.30 = 0.54 and 6.84 + 0.20 = 7.04. What no stage cuts is named apart.
    """
    made = paper_job("harrier")
    whose = {"patterns": ["harrier"]}
    holes = {"layer": "pin-holes", "what": "through holes", "stages": ["pin holes", "pin holes"], **whose}
    depths = {"from_below_top_mm": 0.54, "to_below_top_mm": 7.04}
    pad = {"layer": "reference-pad", "what": "never cut", "stages": [], "from_below_top_mm": 0.0, **whose}
    layers = [{**holes, **depths}, {**pad, "to_below_top_mm": 6.84}]
    paper = shop_sheet(replace(made, record={**made.record, "dxf_layers": layers}))
    table = table_with(paper, "to Z, mm")
    # The two stages called "pin holes" are the fifth and the sixth.
    assert table.rows == (("pin-holes", "-0.54", "-7.04", "5, 6"),)
    assert "Never cut along: reference-pad." in words(paper)


def test_warnings_are_pointed_to_on_the_first_page(paper_job: Jobs) -> None:
    """Whoever has findings beyond notes is told on page 1; whoever has none is not."""
    made = paper_job("harrier")
    note, *_ = made.record["findings"]
    for level, told in (("warning", True), ("note", False)):
        record = {**made.record, "findings": [{**note, "level": level}]}
        text = words(shop_sheet(replace(made, record=record)))
        assert ("The checks gave 1 warning" in text) == told
