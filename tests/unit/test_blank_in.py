"""Blanks as people state them: drawings, typed rows, remnants, keep-outs, grain; and what is refused."""

import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from scalegen.errors import PatternError, SheetError, UsageError
from scalegen.laying import ground_of, laid_out
from scalegen.model import JobSpec, KeepOut, Pad, Reading, Remnant, Shop, Units
from scalegen.outline.blank import box_rows, disc_rows
from scalegen.outline.ring import Ring
from scalegen.pattern.batch import read_batch
from scalegen.sheet.layout import Ground, Zone
from scalegen.sheet.zones import check_zones
from scalegen.sheet_options import SheetTyped, on_sheet
from scalegen.shop import load_shop
from scalegen.shop.from_remnant import with_remnant
from scalegen.study import study_pattern

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
STADIUM = [(140, 20, 0), (260, 20, 1), (260, 100, 0), (140, 100, 1)]


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    """A stadium of 200 x 80 mm away from the drawing's zero, with a round hole and a square one."""
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline(STADIUM, format="xyb", close=True)
    space.add_circle((230, 60), 10)
    space.add_lwpolyline([(150, 50), (160, 50), (160, 60), (150, 60)], close=True)
    path = tmp_path / "rest.dxf"
    document.saveas(path)
    return path


def typed(**options: object) -> SheetTyped:
    """Options about the sheet."""
    if "sheet" in options:
        options["sheets"] = (options.pop("sheet"),)
    return SheetTyped(**options)  # type: ignore[arg-type]  # whatever a test types


def on(options: SheetTyped, spec: JobSpec | None = None, units: Units = "mm") -> JobSpec:
    """A job with these options."""
    return on_sheet(spec or JobSpec(), options, units)


def test_a_drawing_becomes_a_blank_with_holes(drawing: Path) -> None:
    """Outline and holes move to the corner of the box; sizes are those of the drawing (closed forms)."""
    spec = on(typed(sheet=str(drawing)), JobSpec(sheet_mm=(9.0, 9.0), remnant="R1"))
    assert spec.sheet_mm == pytest.approx((200.0, 80.0))
    assert spec.remnant is None
    ground = ground_of(spec)
    assert ground.outline is not None
    assert ground.outline.area_mm2 == pytest.approx(120 * 80 + math.pi * 1600)
    assert ground.outline.bounds_mm == pytest.approx((0, 0, 200, 80), abs=1e-9)
    assert {zone.kind for zone in ground.zones} == {"hole"}
    assert sorted(zone.ring.area_mm2 for zone in ground.zones) == pytest.approx([100.0, 100 * math.pi])
    assert ground.zones[0].ring.bounds_mm == pytest.approx((120, 30, 140, 50))


def test_a_size_typed_takes_the_place_of_a_drawing(drawing: Path) -> None:
    """The last word about the sheet is the one typed."""
    spec = on(typed(sheet="12x6in"), on(typed(sheet=str(drawing))), "in")
    assert spec.sheet_shape is None
    assert spec.sheet_mm == pytest.approx((304.8, 152.4))


def test_two_outlines_are_asked_about(tmp_path: Path) -> None:
    """A drawing of two remnants is refused with their sizes until one is named."""
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    for x in (0, 300):
        points = [(x, 0), (x + 200, 0), (x + 180 - x / 10, 100), (x, 90)]
        document.modelspace().add_lwpolyline(points, close=True)
    path = tmp_path / "two.dxf"
    document.saveas(path)
    with pytest.raises(PatternError) as caught:
        on(typed(sheet=str(path)))
    assert "--sheet-contour" in str(caught.value)
    assert "200.0 x 100.0" in str(caught.value)
    assert on(typed(sheet=str(path), contour="2")).sheet_mm == pytest.approx((200, 100))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"sheet": "none.dxf"}, "none.dxf"),
        ({"sheet": "rest.doc"}, "is not a sheet"),
        ({"sheet": "300"}, "is not a size"),
        ({"sheet": "8000x100"}, "8.0 m long"),
        ({"sheet": "300x150", "units": "mm"}, "no drawing of a sheet is named"),
        ({"contour": "1"}, "no drawing of a sheet is named"),
        ({"sheet": "remnant:"}, "has no number"),
        ({"keep_out": ("10,20",)}, "is not a place to keep out of"),
        ({"keep_out": ("10,20,30",)}, "is not a size"),
        ({"keep_out": ("ten,20,30x5",)}, "ten"),
        ({"grain": "north"}, "north"),
        ({"grain": "400"}, "400"),
    ],
)
def test_what_makes_no_sense_is_refused(options: dict[str, object], words: str) -> None:
    """Each option is refused by its own name."""
    with pytest.raises((UsageError, PatternError)) as caught:
        on(typed(**options))
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        (Zone(ring=Ring.from_rows(box_rows(300, 0, 10, 10))), "lies beside the blank"),
        (Zone(ring=Ring.from_rows(disc_rows(100, 5, 10)), kind="hole"), "reaches over the edge"),
        (Zone(ring=Ring.from_rows(disc_rows(60, 40, 10)), kind="hole"), "reaches into another"),
        (Zone(ring=Ring.from_rows([[10, 10], [30, 30], [30, 10], [10, 32]])), "crosses itself"),
    ],
)
def test_zones_without_sense_are_refused(zone: Zone, words: str) -> None:
    """Beside the blank, over its edge, into another hole, crossing itself."""
    first = Zone(ring=Ring.from_rows(disc_rows(50, 40, 10)), kind="hole")
    with pytest.raises(UsageError, match="keep-out 2") as caught:
        check_zones(Ground(zones=(first, zone)), 200.0, 80.0)
    assert words in str(caught.value)


def test_a_batch_file_may_hold_all_of_it(tmp_path: Path, drawing: Path) -> None:
    """Drawing, zones of three kinds, grain and pads of a batch file arrive in mm and radians."""
    (tmp_path / "a.toml").touch()
    path = tmp_path / "batch.toml"
    path.write_text(f"""
units = "in"
[job]
patterns = ["a.toml"]
[sheet]
outline = "{drawing.name}"
grain = 15
[[sheet.keep_out]]
at = [1, 0.5]
size = [0.5, "6 mm"]
[[sheet.keep_out]]
at = ["50 mm", 1]
radius = 0.25
kind = "hole"
[[sheet.keep_out]]
outline = [[0, 0], [1, 0], [0, 1]]
[pad]
corner = "anywhere"
second = "upper-right"
""")
    spec = read_batch(path)[1]
    assert spec.sheet_mm == pytest.approx((200.0, 80.0))
    assert spec.grain_rad == pytest.approx(math.radians(15))
    assert (spec.pad.corner, spec.pad.second) == ("anywhere", "upper-right")
    assert [zone.kind for zone in spec.keep_out] == ["flaw", "hole", "flaw"]
    areas = [Ring.from_rows(zone.rows).area_mm2 for zone in spec.keep_out]
    assert areas == pytest.approx([12.7 * 6, math.pi * 6.35**2, 25.4**2 / 2])
    assert Ring.from_rows(spec.keep_out[1].rows).bounds_mm == pytest.approx((43.65, 19.05, 56.35, 31.75))


@pytest.mark.parametrize(
    ("lines", "field"),
    [
        ("contour = 2", "sheet.contour"),
        ("[[sheet.keep_out]]\nsize = [1, 2]", "sheet.keep_out[1].at"),
        ("[[sheet.keep_out]]\nat = [1, 2]", "sheet.keep_out[1]"),
        ("[[sheet.keep_out]]\nat = [1, 2]\nradius = 0", "sheet.keep_out[1].radius"),
        ("size = [300, 150]\nremnant = 'R1'", "sheet"),
        ("grain = 500", "sheet.grain"),
        ("outline = 'gone.dxf'", "sheet.outline"),
    ],
)
def test_faults_in_a_batch_file_are_named(tmp_path: Path, lines: str, field: str) -> None:
    """Each fault has its field path."""
    (tmp_path / "a.toml").touch()
    path = tmp_path / "batch.toml"
    path.write_text(f'units = "mm"\n[job]\npatterns = ["a.toml"]\n[sheet]\n{lines}\n')
    with pytest.raises(PatternError) as caught:
        read_batch(path)
    assert any(fault.field.startswith(field) for fault in caught.value.faults), caught.value.faults


def shop_with(remnant: Remnant) -> Shop:
    """The bundled tables with one remnant."""
    return replace(load_shop(None), remnants={remnant.number: remnant})


REMNANT = Remnant(
    number="R3",
    stack="paper-six",
    outline=((10, 5, 0), (160, 5, 0), (160, 95, 0), (10, 75, 0)),
    zones=(disc_rows(150, 85, 3),),
    measured_mm=(6.9,),
    readings=(Reading(thickness_mm=6.9, x_mm=20.0, y_mm=25.0),),
)


def test_a_remnant_brings_its_outline_stack_and_readings() -> None:
    """All that the table says goes into the job, counted from the corner of the box."""
    spec = with_remnant(JobSpec(remnant="R3"), shop_with(REMNANT))
    assert spec.sheet_mm == (150, 90)
    assert spec.stock == "paper-six"
    assert spec.measured_mm == (6.9,)
    assert spec.readings == (Reading(thickness_mm=6.9, x_mm=10.0, y_mm=20.0),)
    assert spec.sheet_shape is not None
    assert len(spec.sheet_shape.holes) == 1
    own = with_remnant(JobSpec(remnant="R3", measured_mm=(7.0,)), shop_with(REMNANT))
    assert (own.measured_mm, own.readings) == ((7.0,), ())


def test_a_remnant_that_is_not_there_is_told() -> None:
    """A number that is not in the table, and a stack that is not the remnant's."""
    with pytest.raises(UsageError, match="the remnants are: R3"):
        with_remnant(JobSpec(remnant="R4"), shop_with(REMNANT))
    with pytest.raises(UsageError, match="shared/remnants"):
        with_remnant(JobSpec(remnant="R4"), load_shop(None))
    with pytest.raises(UsageError, match="was bonded as"):
        with_remnant(JobSpec(remnant="R3", stock="linen-quarter"), shop_with(REMNANT))


def test_there_is_only_one_of_a_remnant() -> None:
    """One pair lies on it, with its number kept; more than go are refused, with how many go."""
    flaw = KeepOut(rows=box_rows(20, 60, 9, 5))
    asked = JobSpec(remnant="R3", pad=Pad(width_mm=12, height_mm=12), keep_out=(flaw,))
    spec = with_remnant(asked, shop_with(REMNANT))
    study = study_pattern(SISKIN, spec)
    (layout,) = laid_out(study, spec).layouts
    assert layout.remnant == "R3"
    assert len(layout.zones) == 2
    with pytest.raises(SheetError, match="there is only one of it"):
        laid_out(study, replace(spec, pairs=9))
