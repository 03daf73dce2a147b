"""Every finding is provoked by a handle of its own, and goes away when its remedy is followed.

The plain handle is a rectangle: what is left of it behind the front is 100 mm by 30 mm, so every distance
and girth below is worked out by hand.
"""

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.checks import GRIP_MM, check_scale, check_tang_holes, grip_diameter_mm
from scalegen.design import Scale, design, edge_distance_mm
from scalegen.errors import ScalegenError
from scalegen.model import (
    Edge,
    EdgeTreatment,
    Finding,
    Front,
    Layer,
    Liner,
    OutlineSource,
    Pattern,
    PinSpec,
    Stack,
    Treatment,
    Units,
)
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop

SHOP = load_shop(None)
EIGHTH = 3.175  # 1/8 in
RECTANGLE = Ring.from_rows([[0, -15], [120, -15], [120, 15], [0, 15]])
STACK = Stack(
    name="test stack",
    layers=(
        Layer(name="liner", kind="liner", thickness_mm=0.8, density_g_cm3=1.8, color="#112233"),
        Layer(name="bond", kind="bond", thickness_mm=0.1, density_g_cm3=1.1, color="#223344"),
        Layer(name="face", kind="face", thickness_mm=6.0, density_g_cm3=1.3, color="#334455"),
    ),
    nominal_mm=6.9,
    measured_mm=(6.9,),
    tolerance_mm=0.47,
    adhesive="glue",
    glue_up="glue",
)
PATTERN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(rows=((0, -15, 0), (120, -15, 0), (120, 15, 0), (0, 15, 0))),
    tang_mm=8.0,  # so that the girth is within the published grips
    front=Front(at_mm=20.0, angle_rad=math.pi / 2),
    thickness_mm=6.2,
    edge=Edge(),
    trim_mm=0.8,
    back_allowance_mm=0.0,
    pins=(PinSpec(at_mm=(45.0, 0.0), hardware="pin 1/8in"), PinSpec(at_mm=(95.0, 0.0), hardware="pin 1/8in")),
)


def scale_of(pattern: Pattern = PATTERN, stack: Stack = STACK, tang: Ring = RECTANGLE) -> Scale:
    """A scale of records built here."""
    return design(pattern, tang, stack, SHOP)


def findings(scale: Scale) -> dict[str, Finding]:
    """Findings by code; a code that comes twice fails."""
    found = check_scale(scale, SHOP)
    by_code = {finding.code: finding for finding in found}
    assert len(by_code) == len(found)
    return by_code


def bare_pin(x: float, y: float, hole: float = EIGHTH, pin: float = EIGHTH - 0.1) -> PinSpec:
    """A pin that is not in the tables, with a hole of a stated size."""
    return PinSpec(at_mm=(x, y), diameter_mm=pin, hole_mm=hole)


def measured(*readings: float) -> Stack:
    """The plain stack with readings, whose face takes up the difference."""
    face = replace(STACK.layers[-1], thickness_mm=min(readings) - 0.9)
    return replace(STACK, measured_mm=readings, layers=(*STACK.layers[:-1], face))


def test_a_sound_handle_has_no_findings() -> None:
    """A handle that is measured, roomy and of a common size leaves nothing to say."""
    assert check_scale(scale_of(), SHOP) == ()


def test_stops_come_first_and_notes_last() -> None:
    """Findings are in the order in which a maker must look at them."""
    pins = (bare_pin(45, 14.5), bare_pin(70, 8.0), *PATTERN.pins[1:])
    found = check_scale(scale_of(replace(PATTERN, tang_mm=3.0, pins=pins)), SHOP)
    levels = [finding.level for finding in found]
    assert levels == sorted(levels, key=["stop", "warning", "note"].index)
    assert {"stop", "warning", "note"} == set(levels)


# ---------------------------------------------------------------------------------------------- stack


def test_a_stack_that_was_not_measured_is_noted_with_its_tolerance() -> None:
    """Without readings the thickness is a sum, and the sheets' worst case is named."""
    found = findings(scale_of(stack=replace(STACK, measured_mm=())))
    assert found.keys() == {"stack-not-measured"}
    finding = found["stack-not-measured"]
    assert (finding.level, finding.about, finding.where) == ("note", "stack", "test stack")
    assert "6.900 mm ± 0.470 mm" in finding.message
    assert "--measured" in finding.remedy


@pytest.mark.parametrize(
    ("readings", "level"),
    [((6.9, 7.0), None), ((6.9, 7.01), "warning"), ((6.9, 8.25), "warning"), ((6.9, 8.3), "stop")],
)
def test_readings_that_differ(readings: tuple[float, ...], level: str | None) -> None:
    """More than 0.1 mm between readings is warned of; more than a fifth of the stack can only be a slip."""
    found = findings(scale_of(stack=measured(*readings)))
    if level is None:
        assert not found
        return
    assert found.keys() == {"stack-uneven"}
    assert found["stack-uneven"].level == level
    assert f"differ by {readings[1] - readings[0]:.3f} mm" in found["stack-uneven"].message
    assert "6.900 mm, is counted on" in found["stack-uneven"].message


@pytest.mark.parametrize("reading", [270.0, 13.9, 3.4])
def test_a_reading_in_the_wrong_unit_stops(reading: float) -> None:
    """Thousandths of an inch typed as mm, or twice the stack, must not reach the machine."""
    found = findings(scale_of(replace(PATTERN, thickness_mm=2.0), stack=measured(reading)))
    assert found["stack-misread"].level == "stop"
    assert f"{reading:.3f} mm" in found["stack-misread"].message
    assert "stack-uneven" not in found


def test_a_stack_that_tolerances_do_not_explain_is_warned_of() -> None:
    """Within the sheets' tolerance and a bond line's range nothing is said; beyond it the user is asked."""
    most = 6.9 + 0.47 + 0.15
    assert findings(scale_of(stack=measured(most))) == {}
    found = findings(scale_of(stack=measured(most + 0.01)))
    assert found.keys() == {"stack-unlike-tables"}
    assert found["stack-unlike-tables"].level == "warning"


def test_a_stack_that_is_too_thin_stops_with_what_is_missing() -> None:
    """What is faced off must be there: the finding counts both allowance and thickness."""
    pattern = replace(PATTERN, thickness_mm=6.9, back_allowance_mm=0.25)
    found = findings(scale_of(pattern))
    assert found["stack-too-thin"].level == "stop"
    assert "needs 7.150 mm and the stack has 6.900 mm: 0.250 mm short" in found["stack-too-thin"].message
    assert findings(scale_of(replace(pattern, thickness_mm=6.65))) == {}


def test_a_liner_cut_away_stops_and_a_thin_one_warns() -> None:
    """A back allowance takes the liner first: all of it, nearly all of it, or a harmless part."""
    cut = {
        mm: findings(scale_of(replace(PATTERN, tang_mm=20.0, thickness_mm=5.0, back_allowance_mm=mm)))
        for mm in (0.8, 0.51, 0.5)
    }
    assert cut[0.8]["liner-cut-away"].level == "stop"
    assert cut[0.8]["liner-cut-away"].about == 'layer "liner"'
    assert cut[0.51].keys() == {"liner-thin"}
    assert (cut[0.51]["liner-thin"].level, "0.290 mm" in cut[0.51]["liner-thin"].message) == ("warning", True)
    assert cut[0.5] == {}


def test_a_face_faced_away_stops_and_a_thin_one_warns() -> None:
    """Liner and glue reach 0.9 mm: a scale of that thickness has no face left, and one of 1.8 mm little."""
    faced = {
        mm: findings(scale_of(replace(PATTERN, thickness_mm=mm, tang_mm=20.0))) for mm in (0.9, 1.8, 1.9)
    }
    assert faced[0.9]["face-cut-away"].level == "stop"
    assert "0.900 mm" in faced[0.9]["face-cut-away"].message
    assert faced[1.8]["face-thin"].level == "warning"
    assert "only 0.900 mm" in faced[1.8]["face-thin"].message
    assert faced[1.9] == {}


def test_the_face_is_counted_from_what_was_measured_and_flattened() -> None:
    """A back allowance of 0.2 mm lowers the glue line to 0.7 mm; a thicker reading does not."""
    pattern = replace(PATTERN, tang_mm=20.0, back_allowance_mm=0.2)
    for stack in (STACK, measured(7.3)):
        assert findings(scale_of(replace(pattern, thickness_mm=1.7), stack=stack)) == {}
        found = findings(scale_of(replace(pattern, thickness_mm=1.69), stack=stack))
        assert "only 0.990 mm" in found["face-thin"].message


def test_without_trim_allowance_the_user_is_warned() -> None:
    """A scale that is no larger than the tang leaves nothing to sand flush."""
    assert findings(scale_of(replace(PATTERN, trim_mm=0.0)))["trim-thin"].level == "warning"
    assert findings(scale_of(replace(PATTERN, trim_mm=0.3))) == {}


@pytest.mark.parametrize(
    ("step_mm", "code", "words"),
    [
        (0.5, "liner-stands-proud", "stands 0.50 mm beyond tang and face"),
        (-0.5, "liner-cut-before-bonding", "ends 0.50 mm inside the outline"),
    ],
)
def test_a_stepped_liner_is_told_how_it_is_made(step_mm: float, code: str, words: str) -> None:
    """Either way the maker must be told what can't be done as usual."""
    found = findings(scale_of(replace(PATTERN, liner=Liner(step_mm=step_mm))))
    assert found.keys() == {code}
    assert found[code].level == "note"
    assert words in found[code].message


def test_a_stepped_liner_that_does_not_fit_stops() -> None:
    """A bevel that begins below the step must stop the job, and a land as high as the step lets it go."""
    front = Front(at_mm=20.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=0.7, land_mm=0.7)
    pattern = replace(PATTERN, front=front, liner=Liner(step_mm=0.5))
    stop = findings(scale_of(pattern))["liner-step-does-not-fit"]
    assert stop.level == "stop"
    assert "a land of 0.80 mm or more" in stop.remedy
    found = findings(scale_of(replace(pattern, front=replace(front, land_mm=0.8))))
    assert found.keys() == {"liner-stands-proud"}


def test_a_pin_near_the_edge_of_a_liner_set_in_is_warned_of() -> None:
    """A hole with less than 1.5 diameters of liner beside it must be named; moved inwards it is fine."""
    liner = Liner(step_mm=-6.0)
    near = replace(PATTERN, pins=(bare_pin(60.0, 4.5),), liner=liner)
    found = findings(scale_of(near))
    assert found.keys() == {"liner-cut-before-bonding", "liner-thin-at-pin"}
    assert found["liner-thin-at-pin"].level == "warning"
    assert "only 4.50 mm inside the liner" in found["liner-thin-at-pin"].message
    inner = replace(near, pins=(bare_pin(60.0, 15 - 6 - 1.5 * EIGHTH),))
    assert findings(scale_of(inner)).keys() == {"liner-cut-before-bonding"}


# -------------------------------------------------------------------------------------- front and edge


def bevel(land: float, slope_deg: float = 45.0) -> Front:
    """A bevelled front at x = 20."""
    return Front(
        at_mm=20.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(slope_deg), land_mm=land
    )


@pytest.mark.parametrize(
    ("land", "code", "level"), [(0.4, "front-feather", "warning"), (6.2, "front-no-bevel", "stop")]
)
def test_lands_under_a_bevel(land: float, code: str, level: str) -> None:
    """A land that is too low chips; one as high as the scale leaves no bevel."""
    found = findings(scale_of(replace(PATTERN, front=bevel(land))))
    assert found.keys() == {code}
    assert found[code].level == level
    assert found[code].where == "x = 20.00 mm"
    assert f"{land:.2f} mm" in found[code].message
    assert findings(scale_of(replace(PATTERN, front=bevel(0.5)))) == {}


@pytest.mark.parametrize(
    ("radius", "code", "level"), [(5.8, "front-feather", "warning"), (6.3, "front-too-round", "stop")]
)
def test_rounds_at_the_front(radius: float, code: str, level: str) -> None:
    """A rounded front needs something upright under it, and can't be rounder than the scale is thick."""
    front = replace(PATTERN.front, treatment="round", radius_mm=radius)
    found = findings(scale_of(replace(PATTERN, front=front)))
    assert found.keys() == {code}
    assert found[code].level == level
    assert findings(scale_of(replace(PATTERN, front=replace(front, radius_mm=5.7)))) == {}


def test_a_bevel_longer_than_the_handle_stops() -> None:
    """A bevel that runs back over the whole handle leaves no face: its run is height over tangent."""
    found = findings(scale_of(replace(PATTERN, front=bevel(0.5, slope_deg=3.0), pins=())))
    assert found["front-too-long"].level == "stop"
    assert f"{5.7 / math.tan(math.radians(3)):.2f} mm" in found["front-too-long"].message


@pytest.mark.parametrize(
    ("edge", "words"),
    [
        (Edge(treatment="round", size_mm=6.3), "thickness"),
        (Edge(treatment="chamfer", size_mm=5.5), "trim allowance"),
    ],
)
def test_edges_that_go_through_the_thickness_stop(edge: Edge, words: str) -> None:
    """An edge treatment must end above the back, a chamfer with the trim flange it runs down through."""
    found = findings(scale_of(replace(PATTERN, edge=edge, pins=())))
    assert found["edge-does-not-fit"].level == "stop"
    assert words in found["edge-does-not-fit"].message
    assert found["edge-does-not-fit"].about == ("round-over" if edge.treatment == "round" else "chamfer")


def test_an_edge_too_wide_for_the_outline_stops_with_the_place() -> None:
    """A neck narrower than twice the round-over is named by where it is."""
    neck = Ring.from_rows(
        [[0, -15], [60, -15], [60, -2], [80, -2], [80, -15], [120, -15], [120, 15], [0, 15]]
    )
    narrow = Ring.from_rows(
        [*neck.rows[:6].tolist(), [120, 15, 0], [80, 15, 0], [80, 2, 0], [60, 2, 0], [60, 15, 0], [0, 15, 0]]
    )
    pattern = replace(PATTERN, pins=(), edge=Edge(treatment="round", size_mm=3.0))
    found = findings(scale_of(pattern, tang=narrow))
    assert found["edge-does-not-fit"].level == "stop"
    assert "narrower than twice the round-over of 3 mm between x = 6" in found["edge-does-not-fit"].message
    assert "edge-does-not-fit" not in findings(
        scale_of(replace(pattern, edge=Edge(treatment="round", size_mm=1.5)), tang=narrow)
    )


def test_an_edge_that_shows_the_liner_is_noted() -> None:
    """A round-over that starts below the liner's top shows it all round, which may be meant."""
    wide = replace(PATTERN, edge=Edge(treatment="round", size_mm=5.5))
    found = findings(scale_of(wide))
    assert found["edge-shows-layer"].level == "note"
    assert '0.70 mm above the back and cuts into layer "liner"' in found["edge-shows-layer"].message
    assert "edge-shows-layer" not in findings(
        scale_of(replace(wide, edge=Edge(treatment="round", size_mm=5.3)))
    )


# ----------------------------------------------------------------------------------------------- pins


@pytest.mark.parametrize(
    ("gap", "code", "level"),
    [
        (-1.0, "pin-breaks-out", "stop"),
        (EIGHTH / 2 - 0.01, "pin-breaks-out", "stop"),
        (EIGHTH / 2 + 0.01, "pin-edge-distance", "stop"),
        (4.75, "pin-edge-distance", "stop"),
        (4.7625, "pin-edge-distance", "warning"),
        (7.93, "pin-edge-distance", "warning"),
        (7.9375, "", ""),
        (9.525, "", ""),
    ],
)
@pytest.mark.parametrize("place", ["spine", "butt", "front"])
def test_edge_distance(gap: float, code: str, level: str, place: str) -> None:
    """A 1/8 in hole stops under 1.5 d = 4.7625 mm, warns under 2.5 d = 7.9375 mm, is fine at 3 d.

    The limits are measured from the finished outline, its front edge included, not from the trim allowance.
    Values: hand calculation with d = 3.175 mm; rules as named in the module under test.
    """
    x, y = {"spine": (70.0, 15.0 - gap), "butt": (120.0 - gap, 0.0), "front": (20.0 + gap, 0.0)}[place]
    scale = scale_of(replace(PATTERN, pins=(bare_pin(x, y),)))
    assert edge_distance_mm(scale, scale.holes[0]) == pytest.approx(gap, abs=1e-9)
    found = findings(scale)
    edge = {key: finding for key, finding in found.items() if key != "pin-in-slope"}
    assert edge.keys() == ({code} if code else set())
    if code:
        assert edge[code].level == level
        assert edge[code].about == "pin 1"
        assert edge[code].where == f"x = {x:.2f} mm, y = {y:.2f} mm"
        assert "7.94 mm from the outline or more" in edge[code].remedy


@pytest.mark.parametrize(("units", "unit_mm"), [("mm", 1.0), ("in", 25.4)])
@pytest.mark.parametrize("hole", [2.0, 2.7181, 3.1726, 3.2639, 5.0546])
def test_a_pin_moved_as_told_is_silent(units: Units, unit_mm: float, hole: float) -> None:
    """The distance that the remedy names is enough: it is rounded up, never down."""
    pattern = replace(PATTERN, units=units)
    pins = (bare_pin(70.0, 15.0 - 2 * hole, hole=hole, pin=hole - 0.1),)
    remedy = findings(scale_of(replace(pattern, pins=pins)))["pin-edge-distance"].remedy
    told = re.search(rf"move it to ([0-9.]+) {units} ", remedy)
    assert told is not None
    gap = float(told[1]) * unit_mm
    assert gap < 2.5 * hole + 0.03
    moved = (bare_pin(70.0, 15.0 - gap, hole=hole, pin=hole - 0.1),)
    assert "pin-edge-distance" not in findings(scale_of(replace(pattern, pins=moved)))


def test_a_pin_in_the_bevel_is_warned_of() -> None:
    """A hole that comes out in the bevel is warned of until it is clear of it by its own radius."""
    run = 6.2 - 1.2  # at 45 degrees
    for step, warned in ((-0.01, True), (0.01, False)):
        x = 20 + run + EIGHTH / 2 + step
        found = findings(scale_of(replace(PATTERN, front=bevel(1.2), pins=(bare_pin(x, 0.0, hole=EIGHTH),))))
        assert ("pin-in-slope" in found) is warned
        assert not warned or found["pin-in-slope"].level == "warning"


def test_a_pin_in_the_round_over_is_warned_of() -> None:
    """The flat of the face ends one radius inside the outline."""
    edge = Edge(treatment="round", size_mm=4.0)
    for gap, warned in ((4.0 + 1.0 - 0.01, True), (4.0 + 1.0 + 0.01, False)):
        pins = (bare_pin(70.0, 15.0 - gap, hole=2.0, pin=1.9),)
        found = findings(scale_of(replace(PATTERN, edge=edge, pins=pins)))
        assert ("pin-in-slope" in found) is warned


@pytest.mark.parametrize(
    ("slip", "code", "level"),
    [
        (-0.01, "pin-too-tight", "stop"),
        (0.04, "pin-too-tight", "warning"),
        (0.05, "", ""),
        (0.25, "", ""),
        (0.26, "pin-loose", "warning"),
    ],
)
def test_slip_between_pin_and_hole(slip: float, code: str, level: str) -> None:
    """The slip fit of 0.05 mm is the least; a pin larger than its hole stops, a loose one is warned of."""
    pins = (PinSpec(at_mm=(70.0, 0.0), diameter_mm=3.3 - slip, drill="3.3 mm"),)
    found = findings(scale_of(replace(PATTERN, pins=pins)))
    assert found.keys() == ({code} if code else set())
    assert not code or found[code].level == level


def test_a_hole_that_no_drill_makes_is_noted() -> None:
    """A stated size between two drills must be milled, and the note says so."""
    found = findings(scale_of(replace(PATTERN, pins=(bare_pin(70.0, 0.0, hole=3.22, pin=3.1),))))
    assert found.keys() == {"pin-no-drill"}
    assert (found["pin-no-drill"].level, "3.220 mm" in found["pin-no-drill"].message) == ("note", True)


def _with_hardware(**changes: Any) -> Callable[[str], Scale]:
    """A scale whose first pin has changed hardware."""

    def build(name: str) -> Scale:
        row = replace(SHOP.hardware["pin 1/8in"], name=name, **changes)
        shop = replace(SHOP, hardware={**SHOP.hardware, name: row})
        pins = (PinSpec(at_mm=(70.0, 0.0), hardware=name),)
        return design(replace(PATTERN, pins=pins), RECTANGLE, STACK, shop)

    return build


def test_a_pin_too_short_stops() -> None:
    """A piece must reach through both scales and the tang with an allowance at each end."""
    through = 8.0 + 2 * 6.2 + 2 * 25.4 / 32
    short = _with_hardware(length_mm=through - 0.1)("short pin")
    found = findings(short)
    assert found.keys() == {"pin-too-short"}
    assert found["pin-too-short"].level == "stop"
    assert f"{through:.2f} mm long" in found["pin-too-short"].message
    assert findings(_with_hardware(length_mm=through)("long pin")) == {}
    assert findings(_with_hardware(length_mm=0.0)("single pieces")) == {}


def _with_bolt(pin: dict[str, Any] | None = None, **changes: Any) -> Scale:
    """A scale 6.2 mm thick, on a tang of 8 mm, whose one pin is a stepped fastener."""
    row = replace(
        SHOP.hardware["pin 1/8in"],
        name="bolt",
        kind="stepped",
        length_mm=0.0,
        head_mm=8.0,
        head_height_mm=2.0,
    )
    shop = replace(SHOP, hardware={**SHOP.hardware, "bolt": replace(row, **changes)})
    pins = (PinSpec(at_mm=(70.0, 0.0), hardware="bolt", **(pin or {})),)
    return design(replace(PATTERN, pins=pins), RECTANGLE, STACK, shop)


def test_a_stepped_fastener_sits_flush_unless_told_otherwise() -> None:
    """Its seat must lie its own head's height below the face, or as deep as the pattern says."""
    assert _with_bolt().holes[0].seat_mm == pytest.approx(4.2)
    assert _with_bolt({"head_depth_mm": 2.5}).holes[0].seat_mm == pytest.approx(3.7)
    assert findings(_with_bolt()) == {}


@pytest.mark.parametrize(("depth_mm", "level"), [(4.6, None), (4.8, "warning"), (5.4, "stop"), (6.5, "stop")])
def test_heads_sunk_too_deep(depth_mm: float, level: str | None) -> None:
    """With under 1.5 mm left under it a head is warned of; down in the liner it stops the job."""
    found = findings(_with_bolt({"head_depth_mm": depth_mm}))
    assert [f.level for code, f in found.items() if code == "head-too-deep"] == ([level] if level else [])


def test_a_fastener_must_close() -> None:
    """The distance between the seats, tang and twice the seat's height, must be in the fastener's range."""
    assert findings(_with_bolt(grip_mm=(16.0, 17.0))) == {}
    found = findings(_with_bolt(grip_mm=(17.0, 19.0)))
    assert found.keys() == {"fastener-grip"}
    assert found["fastener-grip"].level == "stop"
    assert "16.40 mm apart" in found["fastener-grip"].message


def test_a_head_that_breaks_out_stops() -> None:
    """A head wider than the room around its hole must stop the job, though the shank has room enough."""
    assert "head-breaks-out" in findings(_with_bolt(head_mm=31.0))


def test_a_head_must_not_fall_through_nor_stand_proud_unnoticed() -> None:
    """A shank hole as wide as the head stops the job; a head that stands out of the face is noted."""
    found = findings(_with_bolt({"hole_mm": 8.0}))
    assert found["head-falls-through"].level == "stop"
    proud = findings(_with_bolt({"head_depth_mm": 0.5}))
    assert proud["head-stands-proud"].level == "note"
    assert "1.50 mm above the face" in proud["head-stands-proud"].message


def test_the_thickest_piece_must_go_in() -> None:
    """A hole that suits the size but not the tolerance must be warned of; the chosen drill suits both."""
    assert findings(_with_bolt(tolerance_mm=0.1)) == {}
    tight = findings(_with_bolt({"hole_mm": 3.175 + 0.11}, tolerance_mm=0.1))
    assert tight["pin-too-tight"].level == "warning"
    stuck = findings(_with_bolt({"hole_mm": 3.175 + 0.06}, tolerance_mm=0.1))
    assert stuck["pin-too-tight"].level == "stop"


def test_a_blind_pin_takes_no_finding_from_the_next() -> None:
    """Whether a pin comes out in the edge must not depend on a blind one being listed before it."""
    blind = PinSpec(at_mm=(60.0, 0.0), hardware="pin 1/8in", cover_mm=1.5)
    late = PinSpec(at_mm=(90.0, 10.5), hardware="pin 1/16in")
    edge = Edge(treatment="round", size_mm=5.0)
    for pins in ((blind, late), (late, blind)):
        scale = design(replace(PATTERN, pins=pins, edge=edge), RECTANGLE, STACK, SHOP)
        assert "pin-in-slope" in findings(scale)


@pytest.mark.parametrize(
    ("cover_mm", "codes"),
    [(1.5, set()), (0.9, {"blind-cover-thin"}), (3.5, {"blind-shallow"}), (6.2, {"blind-no-hole"})],
)
def test_blind_pins(cover_mm: float, codes: set[str]) -> None:
    """Too little cover, too little hold and no hole at all must be told apart; 1.5 mm of cover is fine."""
    pins = (PinSpec(at_mm=(70.0, 0.0), hardware="pin 1/8in", cover_mm=cover_mm),)
    scale = design(replace(PATTERN, pins=pins), RECTANGLE, STACK, SHOP)
    assert set(findings(scale)) == codes
    # Rule: as long as both holes and the tang, less half a millimetre of play.
    assert scale.holes[0].cut_length_mm == pytest.approx(8.0 + 2 * (6.2 - cover_mm) - 0.5)


@pytest.mark.parametrize(
    ("pitch", "level"),
    [(2.0, "stop"), (1.49 * EIGHTH, "stop"), (1.51 * EIGHTH, "warning"), (3 * EIGHTH, None)],
)
def test_pins_close_together(pitch: float, level: str | None) -> None:
    """Under 3 d two holes are warned of; with less than half a hole between them they stop the job."""
    pins = (bare_pin(60.0, 0.0), bare_pin(60.0 + pitch, 0.0))
    found = check_scale(scale_of(replace(PATTERN, pins=pins)), SHOP)
    assert [f.code for f in found] == ([] if level is None else ["pins-too-close"])
    for finding in found:
        assert (finding.level, finding.about) == (level, "pins 1 and 2")
        assert "9.53 mm apart or more" in finding.remedy
        assert ("run into each other" in finding.message) is (pitch < EIGHTH)


def test_pins_that_miss_the_holes_of_the_drawing_are_warned_of() -> None:
    """A pin must pass the tang: its hole may be off by half of what it is larger than the pin."""
    scale = scale_of()
    pin = scale.holes[0].hardware.diameter_mm
    assert check_tang_holes(scale, ()) == ()
    assert check_tang_holes(scale, ((45.0, 0.0, pin), (95.0, 0.0, 4.0))) == ()
    assert check_tang_holes(scale, ((45.0, 0.1, pin + 0.2), (95.0, 0.0, 4.0))) == ()
    found = check_tang_holes(scale, ((45.0, 0.11, pin + 0.2), (95.0, 0.0, 4.0)))
    assert [(f.code, f.level, f.about) for f in found] == [("pin-off-tang-hole", "warning", "pin 1")]
    assert "0.11 mm off" in found[0].message
    assert len(check_tang_holes(scale, ((70.0, 0.0, 6.0),))) == 2


# ----------------------------------------------------------------------------------------------- grip


def test_power_grip_figures_are_the_published_ones() -> None:
    """1 1/4 to 2 in. Source: NIOSH publication 2004-164, as read in a public copy."""
    assert pytest.approx((1.25 * 25.4, 2 * 25.4)) == GRIP_MM


def test_girth_of_a_stadium_and_of_an_octagon() -> None:
    """With full round-overs the section is a stadium, with square edges a rectangle: plain geometry."""
    base = replace(PATTERN, tang_mm=6.0, thickness_mm=6.0, pins=())
    scale = scale_of(base)
    plain = grip_diameter_mm(scale)
    assert plain == pytest.approx(2 * (30 + 18) / math.pi)
    stadium = replace(scale, pattern=replace(base, edge=Edge(treatment="round", size_mm=9.0)))
    assert grip_diameter_mm(stadium) == pytest.approx((2 * (30 - 18) + math.pi * 18) / math.pi)
    cut = replace(scale, pattern=replace(base, edge=Edge(treatment="chamfer", size_mm=3.0)))
    assert grip_diameter_mm(cut) == pytest.approx((2 * (24 + 12) + 4 * 3 * math.sqrt(2)) / math.pi)


def test_an_oval_of_the_same_size_is_a_little_slimmer_than_the_stadium() -> None:
    """An oval of 30 x 18 mm has the girth of 24.4 mm round, so the tool's stadium is on the full side by 5 %.

    Source: Ramanujan's second approximation to the perimeter of an ellipse (1914), from memory.
    """
    a, b = 15.0, 9.0
    h = ((a - b) / (a + b)) ** 2
    oval = math.pi * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert oval / math.pi == pytest.approx(24.4, abs=0.05)
    base = replace(PATTERN, tang_mm=6.0, thickness_mm=6.0, pins=())
    stadium = replace(scale_of(base), pattern=replace(base, edge=Edge(treatment="round", size_mm=9.0)))
    assert 1.0 < grip_diameter_mm(stadium) * math.pi / oval < 1.06


@pytest.mark.parametrize(("tang", "word"), [(2.0, "slimmer"), (40.0, "fuller")])
def test_a_handle_outside_the_published_grips_is_only_noted(tang: float, word: str) -> None:
    """Thickness in all and girth are told beside the published sizes, as advice."""
    found = findings(scale_of(replace(PATTERN, tang_mm=tang)))
    assert found.keys() == {"grip-size"}
    finding = found["grip-size"]
    assert finding.level == "note"
    assert f"{tang + 12.4:.1f} mm thick in all" in finding.message
    assert f"{2 * (30 + tang + 12.4) / math.pi:.1f} mm; {word}" in finding.message
    assert "31.75 mm to 50.8 mm" in finding.message


# -------------------------------------------------------------------------------------------- in all


def test_inch_patterns_are_spoken_to_in_inches() -> None:
    """No mm creeps into what an inch user reads."""
    pins = (bare_pin(45, 12.0), bare_pin(46.0, 12.0))
    pattern = replace(PATTERN, units="in", front=bevel(0.2), pins=pins, tang_mm=2.0, trim_mm=0.0)
    found = check_scale(scale_of(pattern, stack=measured(6.3, 6.5)), SHOP)
    assert len({f.code for f in found}) >= 6
    for finding in found:
        assert " mm" not in f"{finding.where} {finding.message} {finding.remedy}"


millimetres = st.floats(0.0, 12.0, allow_nan=False)


@settings(max_examples=40, deadline=None)
@given(
    thickness=st.one_of(st.none(), st.floats(0.05, 12.0)),
    back=st.floats(0.0, 2.0),
    trim=st.floats(0.0, 3.0),
    land=millimetres,
    slope=st.floats(0.5, 89.5),
    radius=st.floats(0.01, 12.0),
    treatment=st.sampled_from(["bevel", "round", "square"]),
    edge=st.sampled_from(["square", "round", "chamfer"]),
    size=st.floats(0.01, 16.0),
    at=st.floats(1.0, 119.0),
    angle=st.floats(30.0, 150.0),
    pins=st.lists(st.tuples(st.floats(-20, 140), st.floats(-30, 30), st.floats(0.5, 20.0)), max_size=3),
    reading=st.one_of(st.none(), st.floats(1.0, 30.0)),
)
def test_findings_never_raise(
    *,
    thickness: float | None,
    back: float,
    trim: float,
    land: float,
    slope: float,
    radius: float,
    treatment: Treatment,
    edge: EdgeTreatment,
    size: float,
    at: float,
    angle: float,
    pins: list[tuple[float, float, float]],
    reading: float | None,
) -> None:
    """Whatever can be designed can be checked; every finding has all its words and a level of three."""
    front = Front(
        at_mm=at,
        angle_rad=math.radians(angle),
        treatment=treatment,
        slope_rad=math.radians(slope),
        land_mm=land,
        radius_mm=radius,
    )
    pattern = replace(
        PATTERN,
        thickness_mm=thickness,
        back_allowance_mm=back,
        trim_mm=trim,
        front=front,
        edge=Edge(treatment=edge, size_mm=0.0 if edge == "square" else size),
        pins=tuple(bare_pin(x, y, hole=d, pin=d - 0.1) for x, y, d in pins),
    )
    try:
        scale = scale_of(pattern, stack=STACK if reading is None else measured(reading))
    except ScalegenError:
        return
    for finding in check_scale(scale, SHOP):
        assert finding.level in {"stop", "warning", "note"}
        assert finding.code
        assert finding.about
        assert finding.message
        assert finding.remedy
        assert "nan" not in finding.message
