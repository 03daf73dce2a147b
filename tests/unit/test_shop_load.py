"""Loading the shop tables: the bundled ones, a shop's own, and faulty ones."""

import math
import shutil
import tomllib
from pathlib import Path

import pytest

import scalegen
from scalegen.errors import Fault, PatternError
from scalegen.shop.load import REMNANTS_FILE, STAGES_FILE, TABLE_FILES, find_shared, load_shop
from scalegen.shop.stacks import resolve_stack

BUNDLED = Path(scalegen.__file__).parent / "data" / "shared"
CHECKOUT = Path(__file__).parents[2]


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    """A shop's own copy of the bundled tables, to be spoilt."""
    return shutil.copytree(BUNDLED, tmp_path / "shared")


def _change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def _faults(shared: Path) -> tuple[Fault, ...]:
    with pytest.raises(PatternError) as caught:
        load_shop(shared)
    return caught.value.faults


# --------------------------------------------------------------------------------------- bundled


def test_bundled_tables_load() -> None:
    """The tables in the package are sound and have stock for every demo."""
    shop = load_shop(None)
    assert shop.folder is None
    layers = sorted(len(recipe.sheets) for recipe in shop.stacks.values())
    assert layers[0] == 2
    assert layers[-1] == 3
    assert {"flat 1/8in", "flat 3mm", "flat 6mm", "ball 3mm", "ball 1/4in"} <= shop.cutters.keys()
    assert {"pin 1/8in", "pin 3mm", "tube 6mm", "tube 1/4in"} <= shop.hardware.keys()
    assert all(resolve_stack(shop, name).used_mm > 5 for name in shop.stacks)


def test_lengths_in_tables_come_out_in_mm() -> None:
    """Text with its own unit and bare numbers in the table's unit both end up in mm."""
    shop = load_shop(None)
    assert shop.hardware["pin 3/32in"].nominal_mm == 2.38125
    assert shop.hardware["pin 3mm"].nominal_mm == 3.0
    assert shop.sheets["linen face 1/4in"].thickness_mm == 6.35


def test_measured_diameter_stands_apart_from_nominal() -> None:
    """A rod that measures other than its name keeps both sizes; one not measured has its nominal size."""
    shop = load_shop(None)
    assert shop.hardware["pin 4mm"].diameter_mm < shop.hardware["pin 4mm"].nominal_mm
    assert shop.hardware["pin 1/8in"].diameter_mm == shop.hardware["pin 1/8in"].nominal_mm


def test_every_bundled_row_names_its_source() -> None:
    """No figure comes with the program without a word on where it is from."""
    for name in TABLE_FILES:
        content = tomllib.loads((BUNDLED / name).read_text(encoding="utf-8"))
        rows = [row for value in content.values() if isinstance(value, list) for row in value]
        for row in [each for each in rows if isinstance(each, dict)] or [content]:
            assert row["source"]


def test_grains_follow_the_published_scale() -> None:
    """Mean grains by FEPA 43 / ISO 6344 as public tables print them: each grade finer than the one before."""
    grains = [each.grain_um for each in load_shop(None).abrasives.values()]
    assert grains == sorted(set(grains), reverse=True)
    abrasives = load_shop(None).abrasives
    assert [abrasives[grade].grain_um for grade in ("P80", "P120", "P240", "P1200")] == [201, 125, 58.5, 15.3]


def test_copies_in_the_checkout_are_the_same() -> None:
    """The tables shown in the repository are byte for byte those in the package."""
    for name in (*TABLE_FILES, REMNANTS_FILE, STAGES_FILE):
        assert (CHECKOUT / "shared" / name).read_bytes() == (BUNDLED / name).read_bytes()


def test_a_folder_of_its_own_is_used(shared: Path) -> None:
    """A shop's own tables are the ones that count, in inches if they say so."""
    _change(shared / "shop.toml", 'units = "mm"', 'units = "in"')
    _change(shared / "shop.toml", "slip_fit = 0.05", "slip_fit = 0.002")
    _change(shared / "shop.toml", "saw_kerf = 1.0", 'saw_kerf = "1 mm"')
    shop = load_shop(shared)
    assert shop.folder == shared
    assert shop.rules.slip_fit_mm == pytest.approx(0.0508)  # 0.002 x 25.4


def test_shared_is_found_from_below(tmp_path: Path, shared: Path) -> None:
    """The nearest folder above that has shared/shop.toml is the shop."""
    pattern = tmp_path / "profiles" / "deep" / "demo.toml"
    pattern.parent.mkdir(parents=True)
    pattern.touch()
    assert find_shared(pattern) == shared.resolve()
    assert find_shared(tmp_path) == shared.resolve()
    (tmp_path / "profiles" / "shared").mkdir()
    assert find_shared(pattern) == shared.resolve()
    shutil.copy(shared / "shop.toml", tmp_path / "profiles" / "shared")
    assert find_shared(pattern) == (tmp_path / "profiles" / "shared").resolve()


def test_no_shared_is_found_where_there_is_none(tmp_path: Path) -> None:
    """Without such a folder there is nothing, and the bundled tables are used."""
    assert find_shared(tmp_path) is None


# ---------------------------------------------------------------------------------------- faulty


@pytest.mark.parametrize(
    ("name", "old", "new", "field", "saying"),
    [
        ("stock.toml", "thickness = 0.8", 'thickness = "0,8"', "sheet[1].thickness", "use a point"),
        ("stock.toml", "thickness = 0.8", "thickness = -0.8", "sheet[1].thickness", "too small"),
        ("stock.toml", "thickness = 0.8", "thickness = true", "sheet[1].thickness", "true is not a length"),
        ("stock.toml", "thickness = 0.8", "thickness = nan", "sheet[1].thickness", "not a finite number"),
        ("stock.toml", "thickness = 0.8", "thicknes = 0.8", "sheet[1].thicknes", 'did you mean "thickness"?'),
        ("stock.toml", "thickness = 0.8", "", "sheet[1].thickness", "missing"),
        ("stock.toml", 'tolerance = "0.0065in"', "tolerance = 0.8", "sheet[1].tolerance", "as much as"),
        ("stock.toml", 'kind = "liner"', 'kind = "linen"', "sheet[1].kind", 'did you mean "liner"?'),
        ("stock.toml", 'color = "#2f6b57"', 'color = "green"', "sheet[1].color", "#rrggbb"),
        ("stock.toml", "density = 1.83", "density = inf", "sheet[1].density", "out of range"),
        ("stock.toml", "price = 7.5", "price = inf", "sheet[1].price", "out of range"),
        ("stock.toml", "price = 7.5", 'price = "7.5"', "sheet[1].price", "not a number"),
        ("stock.toml", 'name = "glass liner 0.8mm"', "name = 3", "sheet[1].name", "not text"),
        ("stock.toml", 'name = "glass liner 0.8mm"', 'name = " x"', "sheet[1].name", "without blanks"),
        ("stock.toml", "waste = 2.0", "waste = 0.5", "adhesive[1].waste", "at least 1"),
        ("stock.toml", '"paper face 6mm"]', '"paper face 6m"]', "stack[1].sheets[2]", "paper face 6mm"),
        (
            "stock.toml",
            '"paper face 6mm"]',
            '"paper spacer 0.5mm"]',
            "stack[1].sheets[2]",
            "last one is a face",
        ),
        (
            "stock.toml",
            'glue_up = "slow epoxy"',
            'glue_up = "slow"',
            "stack[1].glue_up",
            "there is no adhesive",
        ),
        ("stock.toml", 'sheets = ["glass', 'sheets = [] # ["glass', "stack[1].sheets", "an empty list"),
        ("stock.toml", "[[sheet]]", "[[sheets]]", "sheets", 'did you mean "sheet"?'),
        ("stock.toml", 'units = "mm"', 'units = "cm"', "units", 'give "mm" or "in"'),
        ("shop.toml", "slip_fit", "slipfit", "slipfit", 'did you mean "slip_fit"?'),
        ("shop.toml", '["number", ', '["numbers", ', "drill_series", 'did you mean "number"?'),
        ("shop.toml", '["number", ', '["metric", ', "drill_series", "twice"),
        ("shop.toml", '"EUR"', '"euro"', "currency", "three capital letters"),
        ("hardware.toml", "bore = 5.0\n", "", "hardware[15].bore", "needs its inner diameter"),
        ("hardware.toml", "bore = 5.0", "bore = 6.0", "hardware[15].bore", "leaves no wall"),
        ("hardware.toml", "diameter = 3.98", "diameter = 3.98\nbore = 1", "hardware[10].bore", "no bore"),
        ("cutters.toml", "flute = 10.0", "flute = 13.0", "cutter[2].flute", "longer than"),
        ("cutters.toml", "tip_radius = 0.5", "tip_radius = 4", "cutter[6].tip_radius", "half the diameter"),
        ("cutters.toml", 'kind = "ball"', 'kind = "ball"\ntip_radius = 1', "cutter[4].tip_radius", "ball"),
        ("cutters.toml", "flutes = 2", "flutes = 2.5", "cutter[1].flutes", "whole number"),
        ("abrasives.toml", '"P80"', '"80"', "abrasive[1].grade", 'write "P80"'),
        ("abrasives.toml", "grain_um = 201", "grain_um = 0", "abrasive[1].grain_um", "above 0"),
    ],
)
def test_a_fault_is_named_with_its_field(
    *, shared: Path, name: str, old: str, new: str, field: str, saying: str
) -> None:
    """One fault in a table is reported with the file, the field, what is wrong and what to do."""
    _change(shared / name, old, new)
    faults = [fault for fault in _faults(shared) if fault.field == field]
    assert len(faults) == 1
    assert faults[0].file == str(shared / name)
    assert saying in str(faults[0])
    assert "\n" not in str(faults[0])


def test_all_faults_of_all_tables_come_at_once(shared: Path) -> None:
    """Faults in four files are reported together, file by file, with the row's own name."""
    _change(shared / "abrasives.toml", "grain_um = 201", 'grain_um = "x"')
    _change(shared / "cutters.toml", 'name = "flat 3mm"', 'name = "flat 1/8in"')
    _change(shared / "stock.toml", "thickness = 6.0", "thickness = 0")
    _change(shared / "shop.toml", "saw_kerf = 1.0", "saw_kerf = -1")
    with pytest.raises(PatternError, match="4 faults") as caught:
        load_shop(shared)
    assert [fault.field for fault in caught.value.faults] == [
        "saw_kerf",
        "sheet[4].thickness",
        "cutter[2].name",
        "abrasive[1].grain_um",
    ]
    assert 'in "paper face 6mm"' in caught.value.faults[1].hint
    assert "cutter[1]" in caught.value.faults[2].found
    assert caught.value.exit_code == 3


def test_a_fault_names_its_line(shared: Path) -> None:
    """A fault in a table must be told with its line, also one in how names hang together."""
    path = shared / "stock.toml"
    _change(path, "thickness = 0.8", "thickness = 0")
    _change(path, 'glue_up = "slow epoxy"', 'glue_up = "slow"')
    lines = path.read_text(encoding="utf-8").split("\n")
    numbers = [lines.index("thickness = 0") + 1, lines.index('glue_up = "slow"') + 1]
    for fault, number in zip(_faults(shared), numbers, strict=True):
        assert str(fault).startswith(f"{path}, line {number}: ")


def test_a_misspelt_row_head_is_one_fault(shared: Path) -> None:
    """Rows under a misspelt head are not missed again by every stack that names them."""
    _change(shared / "stock.toml", "[[sheet]]", "[[sheets]]")
    assert [fault.field for fault in _faults(shared)] == ["sheets"]


def test_a_faulty_sheet_does_not_make_its_stacks_faulty(shared: Path) -> None:
    """A stack that names a sheet with a fault is not reported as naming a sheet that is not there."""
    _change(shared / "stock.toml", "thickness = 6.0", "thickness = 0")
    assert [fault.field for fault in _faults(shared)] == ["sheet[4].thickness"]


@pytest.mark.parametrize(
    ("content", "saying"),
    [
        (b"units = ", "not a TOML file"),
        (b"\xff\xfe", "not UTF-8"),
        (b"sheet = 3", "where rows belong"),
        (b"sheet = [3]", "where a row belongs"),
        (b"[sheet]\nname = 'x'", r"start each row with \[\[sheet\]\]"),
        (b"x = " + b"[" * 20000, "not a TOML file"),
        (b"x = " + b"9" * 20000, "too long"),
        (b'"a\\nb" = 1', "not a field known here"),
    ],
)
def test_files_that_are_no_tables_are_refused(shared: Path, content: bytes, saying: str) -> None:
    """Whatever the bytes are, the answer is a fault of that file and not a traceback."""
    (shared / "stock.toml").write_bytes(content)
    with pytest.raises(PatternError, match=saying) as caught:
        load_shop(shared)
    assert {fault.file for fault in caught.value.faults} == {str(shared / "stock.toml")}


def test_a_missing_table_is_one_fault(shared: Path) -> None:
    """A table that is not there is reported once, with the way to get one."""
    (shared / "shop.toml").unlink()
    (fault,) = _faults(shared)
    assert "no such file" in str(fault)
    assert "scalegen init" in str(fault)


def test_an_empty_rules_table_lists_what_it_needs(shared: Path) -> None:
    """An empty shop.toml is told every rule that it lacks."""
    (shared / "shop.toml").write_bytes(b"")
    assert {fault.field for fault in _faults(shared)} == {
        "slip_fit",
        "drill_series",
        "clearance",
        "saw_kerf",
        "tape_waste",
        "currency",
    }


def test_a_table_that_is_a_folder_is_a_fault(shared: Path) -> None:
    """A folder where a table belongs is a fault like any other."""
    (shared / "cutters.toml").unlink()
    (shared / "cutters.toml").mkdir()
    (fault,) = _faults(shared)
    assert "cannot be read" in str(fault)


def test_a_folder_that_is_not_there_is_one_fault(tmp_path: Path) -> None:
    """A shop folder that does not exist is said once, not table by table."""
    with pytest.raises(PatternError, match="no such folder"):
        load_shop(tmp_path / "nowhere")


def test_what_is_said_about_the_last_cut_and_the_probe_is_kept(shared: Path) -> None:
    """Plate, travel, tape, limits and angles come out in mm and rad; a taper in rad too."""
    path = shared / "shop.toml"
    _change(path, "probe = 0", 'probe = "1/2in"\ntravel = [300, 180]')
    _change(path, "drill_point = 118", "drill_point = 135")
    _change(shared / "cutters.toml", "tip_radius = 0.5", "tip_radius = 0.5\ntaper = 7.5")
    shop = load_shop(shared)
    rules = shop.rules
    assert (rules.probe_mm, rules.travel_mm, rules.tape_mm) == (12.7, (300.0, 180.0), 0.3)
    assert (rules.below_least_mm, rules.below_most_mm) == (0.1, 0.5)
    assert math.degrees(rules.drill_point_rad) == pytest.approx(135)
    assert math.degrees(shop.cutters["taper 6mm"].side_rad or 0) == pytest.approx(7.5)


def test_a_table_without_them_is_as_good_as_before(shared: Path) -> None:
    """Tables of old say nothing of the last cut: no plate, no tape, no travel known."""
    path = shared / "shop.toml"
    new = ("probe", "tape =", "below_", "drill_point", "tab")
    kept = [line for line in path.read_text(encoding="utf-8").split("\n") if not line.startswith(new)]
    path.write_text("\n".join(kept), encoding="utf-8")
    rules = load_shop(shared).rules
    assert (rules.probe_mm, rules.travel_mm, rules.tape_mm) == (0.0, None, 0.0)
    assert rules.below_least_mm < 0.2 < rules.below_most_mm
    assert rules.tabs == 0


def test_tabs_are_counted_and_sized_in_the_tables(shared: Path) -> None:
    """How many, how wide and how high, in mm; not more than twenty."""
    path = shared / "shop.toml"
    _change(path, "tabs = 0", "tabs = 3")
    _change(path, 'tab_width = "3 mm"', 'tab_width = "1/8in"')
    rules = load_shop(shared).rules
    assert (rules.tabs, rules.tab_width_mm, rules.tab_height_mm) == (3, 3.175, 0.8)
    _change(path, "tabs = 3", "tabs = 21")
    with pytest.raises(PatternError, match="from 0 to 20"):
        load_shop(shared)


def test_limits_that_cross_and_a_taper_of_a_straight_cutter_are_faults(shared: Path) -> None:
    """The least must not be above the most, and only a tapered cutter has a taper."""
    _change(shared / "shop.toml", 'below_least = "0.1 mm"', 'below_least = "0.6 mm"')
    _change(shared / "cutters.toml", 'name = "flat 3mm"', 'name = "flat 3mm"\ntaper = 5')
    faults = _faults(shared)
    assert [fault.field for fault in faults] == ["below_least", "cutter[2].taper"]
    assert "at most 0.5 mm" in str(faults[0])
