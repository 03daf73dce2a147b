"""Glue by the label's ratio, and how many mixes its working time allows."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.errors import PatternError
from scalegen.model import Adhesive, JobSpec, Shop
from scalegen.pipeline import lay_out
from scalegen.report.adhesive import glue_jobs, glue_records, lot_words, mix_words, mixed, share_lots
from scalegen.shop import load_shop
from scalegen.study import study_pattern

SHOP = load_shop(None)
GLUE = Adhesive(
    name="quick epoxy",
    density_g_cm3=1.15,
    bond_mm=0.1,
    waste=2.0,
    color="#e2d7b0",
    price_per_g=None,
    resin=100.0,
    hardener=45.0,
    working_min=5.0,
)
SISKIN = study_pattern(Path(__file__).parents[2] / "profiles" / "siskin.toml", JobSpec())


def shop(spread_cm2_min: float = 40.0, closing_min: float = 0.0, glue: Adhesive = GLUE) -> Shop:
    """A shop whose siskins are glued with one glue."""
    rules = replace(SHOP.rules, spread_cm2_min=spread_cm2_min, closing_min=closing_min)
    return replace(SHOP, rules=rules, adhesives={"slow epoxy": glue})


def test_parts_by_weight() -> None:
    """100 : 45 by weight of 29 g: 20 g and 9 g, by hand."""
    mix = mixed(GLUE, 29.0)
    assert (mix.resin_g, mix.hardener_g) == (pytest.approx(20.0), pytest.approx(9.0))
    assert mix.resin_ml is None
    assert mix_words(mix, GLUE) == "20.0 g resin + 9.0 g hardener (100 : 45 by weight)"


def test_parts_by_volume_are_weighed_by_their_densities() -> None:
    """2 : 1 by volume at 1.2 and 0.9 g/cm3: 3 ml weigh 3.3 g, 2.4 g and 0.9 g, by hand."""
    label = replace(GLUE, mix_by="volume", resin=2.0, hardener=1.0)
    dense = replace(label, resin_density_g_cm3=1.2, hardener_density_g_cm3=0.9)
    mix = mixed(dense, 3.3)
    assert (mix.resin_g, mix.hardener_g) == (pytest.approx(2.4), pytest.approx(0.9))
    assert (mix.resin_ml, mix.hardener_ml) == (pytest.approx(2.0), pytest.approx(1.0))
    # Without them volumes alone are given: 3.45 g at 1.15 g/cm3 are 3 ml.
    bare = mixed(label, 3.45)
    assert (bare.resin_g, bare.resin_ml, bare.hardener_ml) == (None, pytest.approx(2.0), pytest.approx(1.0))
    assert mix_words(bare, label) == "2.0 ml resin + 1.0 ml hardener (2 : 1 by volume)"


def test_without_a_ratio_nothing_is_made_up() -> None:
    """A glue of one part, or one whose label is not in the table, is told in grams alone."""
    plain = replace(GLUE, resin=None, hardener=None)
    assert mixed(plain, 5.0).resin_g is None
    assert mix_words(mixed(plain, 5.0), plain) == ""


@pytest.mark.parametrize(
    ("pieces", "piece_cm2", "count", "each"),
    [
        (7, 30.0, 2, 4),  # 210 cm2 at 40 cm2/min in 5 min: 200 cm2, so 6 pairs fit; lots of 4 and 3
        (6, 30.0, 1, 6),
        (6, 33.4, 2, 3),  # 200 / 33.4 = 5.99: five fit
        (5, 40.0, 1, 5),  # exactly 200 cm2
        (3, 200.0, 3, 1),
        (11, 50.0, 3, 4),  # four fit: lots of 4, 4, 3
    ],
)
def test_lots_are_whole_pairs_spread_in_time(pieces: int, piece_cm2: float, count: int, each: int) -> None:
    """By hand, at 40 cm2 a minute and 5 minutes."""
    lots = share_lots(GLUE, shop(), pieces=pieces, piece_mm2=piece_cm2 * 100, piece_g=1.0)
    assert (lots.count, lots.each, lots.in_time) == (count, each, True)
    assert lots.lot_min <= 5.0 + 1e-6
    assert lots.mix.mixed_g == pytest.approx(each)
    assert (count - 1) * each < pieces <= count * each


def test_closing_takes_its_part_of_the_working_time() -> None:
    """Of 5 minutes 2 go into mixing and closing: 120 cm2 are left, not 200."""
    lots = share_lots(GLUE, shop(closing_min=2.0), pieces=4, piece_mm2=6000.0, piece_g=1.0)
    assert (lots.spreading_min, lots.each, lots.count) == (3.0, 2, 2)


def test_a_pair_that_takes_longer_than_the_glue_works_is_told() -> None:
    """One piece that does not go into one mix: no number of lots helps."""
    lots = share_lots(GLUE, shop(spread_cm2_min=1.0), pieces=2, piece_mm2=6000.0, piece_g=1.0)
    assert (lots.in_time, lots.each, lots.count) == (False, 1, 2)
    quick = shop(spread_cm2_min=1.0)
    tang = glue_jobs(SISKIN.scale, quick, lay_out(SISKIN, JobSpec(pairs=2)), 2)[-1]
    assert "take a slower glue" in lot_words(tang, "mm")
    with pytest.raises(ValueError, match="no working time"):
        share_lots(replace(GLUE, working_min=None), quick, pieces=1, piece_mm2=1.0, piece_g=1.0)


def test_a_job_has_glue_for_its_blanks_and_for_its_tangs() -> None:
    """Areas: one film over each blank, two joints of the glued outline for each pair; grams as the bill's."""
    layouts = lay_out(SISKIN, JobSpec(pairs=7))
    stack, tang = glue_jobs(SISKIN.scale, shop(), layouts, 7)
    assert stack.area_mm2 == pytest.approx(len(layouts) * 300 * 150)
    assert tang.area_mm2 == pytest.approx(14 * SISKIN.scale.glued.area_mm2)
    assert tang.net_g == pytest.approx(tang.area_mm2 * 0.1 * 1.15 / 1000)
    assert tang.mix.mixed_g == pytest.approx(2 * tang.net_g)
    assert tang.lots is not None
    words = lot_words(tang, "mm")
    # 14 x 16.6 cm2 = 232 cm2, 200 of them in one mix.
    assert words.startswith(
        "232 cm2 in 5 min, 5 of them for spreading: mix in 2 lots of at most 4 pairs each"
    )
    assert tang.lots.count == math.ceil(tang.area_mm2 / 100 / 200)
    record = glue_records([stack, tang])
    assert record[1]["ratio"] == {"resin": 100.0, "hardener": 45.0, "by": "weight"}
    assert record[1]["lots"]["count"] == 2


def test_an_unknown_glue_and_a_glue_without_working_time() -> None:
    """Nothing is made up for what the tables do not have."""
    layouts = lay_out(SISKIN, JobSpec(pairs=1))
    unknown = glue_jobs(SISKIN.scale, replace(SHOP, adhesives={}), layouts, 1)[-1]
    assert unknown.glue is None
    assert lot_words(unknown, "mm") == ""
    slow = glue_jobs(SISKIN.scale, shop(glue=replace(GLUE, working_min=None)), layouts, 1)[-1]
    assert slow.lots is None
    assert glue_records([slow])[0]["lots"] is None


def test_half_a_ratio_is_a_fault(tmp_path: Path) -> None:
    """Resin without hardener is named, with what to do."""
    source = Path(__file__).parents[2] / "shared"
    for path in source.iterdir():
        text = path.read_text(encoding="utf-8")
        if path.name == "stock.toml":
            text = text.replace("hardener = 45\n", "")
        (tmp_path / path.name).write_text(text, encoding="utf-8")
    with pytest.raises(PatternError) as caught:
        load_shop(tmp_path)
    (fault,) = caught.value.faults
    assert (fault.field, fault.found) == ("adhesive[2].hardener", "is missing")
