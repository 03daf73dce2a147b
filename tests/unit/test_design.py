"""A pattern and a stack become a scale in which nothing is left to choose."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.design import Scale, design, edge_distance_mm
from scalegen.errors import GeometryError, PatternError
from scalegen.model import Edge, Front, OutlineSource, Pattern, PinSpec, ShopRules
from scalegen.outline.read import read_outline
from scalegen.outline.ring import Ring
from scalegen.pattern.read import read_pattern
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
PROFILES = Path(__file__).parents[2] / "profiles"
RECTANGLE = Ring.from_rows([[0, -15], [120, -15], [120, 15], [0, 15]])
PATTERN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=20.0, angle_rad=math.pi / 2),
    thickness_mm=6.2,
    edge=Edge(),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(PinSpec(at_mm=(45.0, 0.0), hardware="pin 3mm"),),
)


def plain(
    pattern: Pattern = PATTERN,
    readings: tuple[float, ...] = (),
    stock: str = "paper-six",
    tang: Ring = RECTANGLE,
) -> Scale:
    """A scale of the plain pattern from a bundled stack."""
    return design(pattern, tang, resolve_stack(SHOP, stock, readings), SHOP)


def demo(name: str) -> Scale:
    """A demo pattern, not measured."""
    pattern = read_pattern(PROFILES / f"{name}.toml")
    stack = resolve_stack(SHOP, pattern.stock or "")
    return design(pattern, read_outline(pattern.outline).ring, stack, SHOP)


@pytest.mark.parametrize("readings", [(), (6.9,), (7.3,), (6.5,), (6.6, 6.5, 6.55)])
@pytest.mark.parametrize("thickness", [6.2, None, 3.0])
def test_spans_fill_the_scale_from_back_to_face(readings: tuple[float, ...], thickness: float | None) -> None:
    """Spans join without gaps from minus the back allowance to the thickness; liner and glue keep theirs."""
    scale = plain(replace(PATTERN, thickness_mm=thickness), readings)
    assert scale.spans[0].bottom_mm == -0.1
    assert scale.spans[-1].top_mm == scale.thickness_mm
    for below, above in zip(scale.spans[:-1], scale.spans[1:], strict=True):
        assert below.top_mm == above.bottom_mm
    sizes = [span.top_mm - span.bottom_mm for span in scale.spans]
    assert sizes[:2] == pytest.approx([0.8, 0.1])
    assert sum(sizes) == pytest.approx(scale.thickness_mm + 0.1)
    used = min(readings, default=6.9)
    assert scale.thickness_mm == pytest.approx(used - 0.1 if thickness is None else thickness)
    assert scale.faced_off_mm == pytest.approx(used - 0.1 - scale.thickness_mm)


def test_the_smallest_reading_counts() -> None:
    """Of several readings the smallest is used, and the spread is kept."""
    scale = plain(replace(PATTERN, thickness_mm=None), (6.95, 6.8, 6.87))
    assert scale.stack.used_mm == 6.8
    assert scale.stack.spread_mm == pytest.approx(0.15)
    assert scale.thickness_mm == pytest.approx(6.7)
    assert scale.faced_off_mm == 0.0


def test_a_stack_too_thin_keeps_the_shape_asked_for() -> None:
    """The shape does not shrink silently: what is missing shows as a negative facing."""
    scale = plain(readings=(6.0,))
    assert scale.thickness_mm == 6.2
    assert scale.spans[-1].top_mm == 6.2
    assert scale.faced_off_mm == pytest.approx(-0.3)


def test_a_scale_thinner_than_the_layers_under_the_face_loses_them() -> None:
    """Layers above the thickness are faced off and don't come as empty spans."""
    scale = plain(replace(PATTERN, thickness_mm=0.5))
    assert [span.kind for span in scale.spans] == ["liner"]
    assert scale.spans[0].top_mm == 0.5


def test_a_back_allowance_as_thick_as_the_stack_is_refused() -> None:
    """With nothing left above the back there is no scale, and the message has both numbers."""
    with pytest.raises(GeometryError, match=r"6\.900 mm leaves nothing above the back allowance of 7 mm"):
        plain(replace(PATTERN, thickness_mm=None, back_allowance_mm=7.0))


@pytest.mark.parametrize(
    ("name", "drill", "hole_mm"),
    [("siskin", "3.1 mm", 3.1), ("harrier", "3.1 mm", 3.1), ("curlew", "#30", 0.1285 * 25.4)],
)
def test_drills_of_the_demos(name: str, drill: str, hole_mm: float) -> None:
    """A 3 mm pin with 0.05 mm slip takes the 3.1 mm drill; curlew states #30, 0.1285 in.

    Source: drill tables as printed publicly (metric steps of 0.1 mm from 3.0 mm; #30 = 0.1285 in); #31 is
    3.048 mm, which leaves 0.048 mm.
    """
    hole = demo(name).holes[0]
    assert hole.drill is not None
    assert hole.drill.designation == drill
    assert hole.hole_mm == pytest.approx(hole_mm, abs=1e-9)


def test_the_tube_of_the_harrier() -> None:
    """A 5 mm tube takes drill #8, 0.1990 in, which leaves 0.055 mm (ASME B94.11M, public copies)."""
    hole = demo("harrier").holes[2]
    assert hole.drill is not None
    assert hole.drill.designation == "#8"
    assert hole.hole_mm == pytest.approx(0.1990 * 25.4, abs=1e-9)


@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_cut_length_is_tang_two_scales_and_two_ends(name: str) -> None:
    """A pin goes through tang and both scales and stands out at both ends."""
    scale = demo(name)
    for hole in scale.holes:
        end = SHOP.hardware[hole.hardware.name].end_allowance_mm
        assert hole.cut_length_mm == pytest.approx(scale.pattern.tang_mm + 2 * scale.thickness_mm + 2 * end)
        assert end > 0


def test_cut_length_follows_a_stack_that_is_used_whole() -> None:
    """Where all of the stack is used, a thicker reading makes a longer pin by twice as much."""
    whole = replace(PATTERN, thickness_mm=None)
    lengths = [plain(whole, (mm,)).holes[0].cut_length_mm for mm in (6.9, 7.2)]
    assert lengths[1] - lengths[0] == pytest.approx(0.6)


def test_a_stated_drill_or_hole_is_kept() -> None:
    """What the pattern states goes before what would be chosen, and a hole a drill makes gets its drill."""
    pins = (
        PinSpec(at_mm=(40.0, 0.0), hardware="pin 3mm", drill="1/8in"),
        PinSpec(at_mm=(60.0, 0.0), hardware="pin 3mm", hole_mm=3.2),
        PinSpec(at_mm=(80.0, 0.0), hardware="pin 3mm", hole_mm=3.23),
        PinSpec(at_mm=(100.0, 0.0), diameter_mm=3.0),
    )
    holes = plain(replace(PATTERN, pins=pins)).holes
    drills = [hole.drill.designation if hole.drill else None for hole in holes]
    assert drills == ["1/8in", "3.2 mm", None, "3.1 mm"]
    assert [hole.hole_mm for hole in holes] == pytest.approx([3.175, 3.2, 3.23, 3.1])
    assert holes[3].hardware.name == "pin 3 mm"


def test_a_pin_that_no_drill_suits_keeps_its_slip_fit() -> None:
    """Where the drawer ends the hole is the pin and its slip, to be milled."""
    rules = ShopRules(
        slip_fit_mm=0.05,
        drill_series=("number",),
        clearance_mm=1,
        saw_kerf_mm=1,
        tape_waste=1,
        currency="EUR",
    )
    pins = (PinSpec(at_mm=(60.0, 0.0), diameter_mm=10.0),)
    stack = resolve_stack(SHOP, "paper-six")
    hole = design(replace(PATTERN, pins=pins), RECTANGLE, stack, replace(SHOP, rules=rules)).holes[0]
    assert hole.drill is None
    assert hole.hole_mm == pytest.approx(10.05)


def test_all_unknown_hardware_is_named_at_once() -> None:
    """Every pin with a name that the tables don't have is a fault of its own, with a suggestion."""
    pins = (
        PinSpec(at_mm=(40.0, 0.0), hardware="pin 3 mm"),
        PinSpec(at_mm=(60.0, 0.0), hardware="pin 3mm"),
        PinSpec(at_mm=(80.0, 0.0), hardware="tube 6m"),
    )
    with pytest.raises(PatternError) as caught:
        plain(replace(PATTERN, pins=pins))
    faults = caught.value.faults
    assert [fault.field for fault in faults] == ["pin[1].hardware", "pin[3].hardware"]
    assert [fault.hint for fault in faults] == ['did you mean "pin 3mm"?', 'did you mean "tube 6mm"?']
    assert "pin 1/4in" in faults[0].allowed


def test_outlines_and_allowances() -> None:
    """Finished is the tang behind the front; as cut is larger by the trim, but not at the front."""
    scale = plain()
    assert scale.finished.area_mm2 == pytest.approx(100 * 30)
    # Three sides grow, two corners are rounded: closed form.
    assert scale.as_cut.area_mm2 == pytest.approx(100.8 * 31.6 - 2 * 0.8**2 * (1 - math.pi / 4))
    assert scale.as_cut.bounds_mm == pytest.approx((20.0, -15.8, 120.8, 15.8))
    ahead = plain(replace(PATTERN, front=replace(PATTERN.front, allowance_mm=0.3)))
    assert ahead.as_cut.bounds_mm == pytest.approx((19.7, -15.8, 120.8, 15.8))
    assert ahead.finished.bounds_mm == scale.finished.bounds_mm


def test_edge_distance_has_a_sign() -> None:
    """Inside it is positive, outside negative, and the front counts as an edge."""
    pins = tuple(PinSpec(at_mm=at, diameter_mm=2.0) for at in ((50.0, 12.0), (23.0, 0.0), (50.0, 17.0)))
    scale = plain(replace(PATTERN, pins=pins))
    assert [edge_distance_mm(scale, hole) for hole in scale.holes] == pytest.approx([3.0, 3.0, -2.0])


def test_a_tang_in_two_pieces_behind_the_front_is_refused_with_the_place() -> None:
    """A deep notch across the front line leaves two pieces; the smaller one is named."""
    notched = Ring.from_rows([[0, -15], [40, -15], [40, -5], [10, -5], [10, 5], [120, 5], [120, 15], [0, 15]])
    with pytest.raises(GeometryError, match=r"in 2 pieces; a second one lies around x = 30\.0, y = -10\.0"):
        plain(tang=notched)


def test_a_front_behind_the_tang_is_refused() -> None:
    """A front line past the butt leaves nothing, and the message says how far the tang goes."""
    with pytest.raises(GeometryError, match=r"x = 0\.0 to 120\.0 mm"):
        plain(replace(PATTERN, front=replace(PATTERN.front, at_mm=130.0)))


def test_an_outline_that_crosses_itself_is_refused() -> None:
    """A figure of eight is no tang; the crossing is named."""
    eight = Ring.from_rows([[0, -15], [120, 15], [120, -15], [0, 20]])
    with pytest.raises(GeometryError, match="crosses or touches itself at x = "):
        plain(tang=eight)
