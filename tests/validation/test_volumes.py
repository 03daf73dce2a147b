"""Volumes of solids against formulas worked by hand, and against each other.

Sources, all from memory: Steiner's formula for the area of a parallel curve, A(d) = A - P d + pi d^2 for a
smooth closed curve set in by d; a quarter-round of radius r leaves out r^2 (1 - pi/4) of its corner; the
area between a chord and its arc; a prism keeps its volume when it is sheared.
"""

import json
import subprocess
import sys
from math import asin, pi, radians, sin, sqrt, tan
from pathlib import Path

import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

from scalegen.design import Scale, design
from scalegen.export import WRITERS
from scalegen.export.outputs import outputs
from scalegen.form.body import BodyPlan
from scalegen.form.volumes import scale_volumes
from scalegen.model import (
    Edge,
    EdgeTreatment,
    Front,
    FrontArc,
    JobSpec,
    Layer,
    OutlineSource,
    Pattern,
    PinSpec,
    Shop,
    ShopRules,
    Stack,
)
from scalegen.outline.front import front_curve
from scalegen.outline.ring import Ring
from scalegen.pipeline import study_pattern
from scalegen.solids.build import uncut_slab
from scalegen.solids.gate import Expected, faults_of
from scalegen.solids.kernel import volume_mm3
from scalegen.solids.scales import scale_solids

PROFILES = Path(__file__).parents[2] / "profiles"
SQUARE = Front(at_mm=0.0, angle_rad=pi / 2)
LENGTH, WIDTH, THICK = 100.0, 25.0, 6.35
HOLE_MM = 3.2639  # drill #30, 0.1285 in: ASME B94.11M, by a public table

RULES = ShopRules(
    slip_fit_mm=0.05,
    drill_series=("number",),
    clearance_mm=1.0,
    saw_kerf_mm=1.0,
    tape_waste=1.1,
    currency="EUR",
)
SHOP = Shop(
    folder=None, rules=RULES, sheets={}, adhesives={}, stacks={}, hardware={}, cutters={}, abrasives={}
)


def plate(front: Front = SQUARE, layers: tuple[float, ...] = (THICK,), pins: int = 0) -> Scale:
    """A scale with a square edge on a tang 25 mm high that ends at x = 100 mm."""
    outline = (
        (-9.0, -WIDTH / 2, 0.0),
        (LENGTH, -WIDTH / 2, 0.0),
        (LENGTH, WIDTH / 2, 0.0),
        (-9.0, WIDTH / 2, 0.0),
    )
    stack = Stack(
        name="plate",
        layers=tuple(
            Layer(name=f"layer {k}", kind="face", thickness_mm=t, density_g_cm3=1.35, color="#336699")
            for k, t in enumerate(layers)
        ),
        nominal_mm=sum(layers),
        measured_mm=(),
        tolerance_mm=0.0,
        adhesive="none",
        glue_up="none",
    )
    pattern = Pattern(
        name="plate",
        title="Plate",
        units="mm",
        path=Path("plate.toml"),
        outline=OutlineSource(rows=outline),
        tang_mm=3.0,
        front=front,
        thickness_mm=None,
        edge=Edge(),
        trim_mm=0.0,
        back_allowance_mm=0.0,
        pins=tuple(PinSpec(at_mm=(x, 0.0), diameter_mm=3.175, drill="#30") for x in (30.0, 70.0)[:pins]),
    )
    return design(pattern, Ring.from_rows(outline), stack, SHOP)


READ = """
import json, sys
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer

found = {}
for path in sys.argv[1:]:
    reader = STEPControl_Reader()
    reader.ReadFile(path)
    reader.TransferRoots()
    walk, volumes = TopExp_Explorer(reader.OneShape(), TopAbs_SOLID), []
    while walk.More():
        props = GProp_GProps()
        BRepGProp.VolumePropertiesGK_s(walk.Current(), props, 1e-12, True, False, False, False, False)
        volumes.append(props.Mass())
        walk.Next()
    found[path] = volumes
print(json.dumps(found))
"""


@pytest.mark.parametrize("layers", [(THICK,), (1.0, 0.1, 5.25)])
def test_plate_through_the_whole_chain(tmp_path: Path, layers: tuple[float, ...]) -> None:
    """A drilled plate must come out of the STEP file with the volume and weight worked by hand.

    Closed form: (100 x 25 - 2 pi (3.2639 / 2)^2) x 6.35 = 15768.74 mm3, 21.29 g at 1.35 g/cm3 (canvas
    laminate, grade CE, by two converters' tables).
    """
    scale = plate(layers=layers, pins=2)
    solids = scale_solids(scale, scale_volumes(scale))
    paths = {}
    for output in outputs(scale, solids, (), JobSpec(formats=("step",))):
        paths[output.name] = tmp_path / output.name
        WRITERS[output.format](paths[output.name], output.content)
    done = subprocess.run(
        [sys.executable, "-c", READ, *map(str, paths.values())], capture_output=True, text=True, check=True
    )
    found = json.loads(done.stdout)
    flat = LENGTH * WIDTH - 2 * pi * (HOLE_MM / 2) ** 2
    assert flat * THICK == pytest.approx(15768.74, abs=0.005)
    for side in ("left", "right"):
        volumes = found[str(paths[f"plate-{side}.step"])]
        assert volumes == pytest.approx([flat * t for t in layers], rel=1e-10)
        grams = sum(v * span.density_g_cm3 / 1000 for v, span in zip(volumes, scale.spans, strict=True))
        assert grams == pytest.approx(21.29, abs=0.005)
    assert sum(found[str(paths["plate-pair.step"])]) == pytest.approx(2 * flat * THICK, rel=1e-10)
    tang = found[str(paths["plate-finished.step"])][-1]
    assert tang == pytest.approx(((LENGTH + 9) * WIDTH - 2 * pi * (HOLE_MM / 2) ** 2) * 3.0, rel=1e-10)


# --------------------------------------------------------------------------------- edges all the way round


ROWS = {
    "circle": [(10.0, 0.0, 1.0), (-10.0, 0.0, 1.0)],
    "stadium": [(0.0, -9.0, 0.0), (60.0, -9.0, 1.0), (60.0, 9.0, 0.0), (0.0, 9.0, 1.0)],
    "rounded box": [
        *[(-30.0, -10.0, 0.0), (30.0, -10.0, tan(pi / 8)), (34.0, -6.0, 0.0), (34.0, 6.0, tan(pi / 8))],
        *[(30.0, 10.0, 0.0), (-30.0, 10.0, tan(pi / 8)), (-34.0, 6.0, 0.0), (-34.0, -6.0, tan(pi / 8))],
    ],
    # Two round ends, and a hollow between them on both sides that leaves a waist of 9.6 mm.
    "waisted": [
        *[(0.0, -10.0, tan(pi / 16)), (10 * sin(pi / 4), -10 * sin(pi / 4), -tan(pi / 8))],
        *[(25.0 - 10 * sin(pi / 4), -10 * sin(pi / 4), tan(pi / 16)), (25.0, -10.0, 1.0)],
        *[(25.0, 10.0, tan(pi / 16)), (25.0 - 10 * sin(pi / 4), 10 * sin(pi / 4), -tan(pi / 8))],
        *[(10 * sin(pi / 4), 10 * sin(pi / 4), tan(pi / 16)), (0.0, 10.0, 1.0)],
    ],
}


def edged(ring: Ring, treatment: EdgeTreatment, size_mm: float) -> BodyPlan:
    """A body with an edge treatment on a smooth ring, without front and holes."""
    return BodyPlan(
        bottom_mm=0.0,
        seat_mm=THICK - size_mm,
        top_mm=THICK,
        base=ring,
        lip=ring,
        edge=Edge(treatment=treatment, size_mm=size_mm),
        front=SQUARE,
        curve=front_curve(SQUARE),
        allowance_mm=0.0,
        bores=(),
    )


@pytest.mark.parametrize("size_mm", [0.5, 2.0, 3.5])
@pytest.mark.parametrize("name", ROWS)
def test_round_over_of_smooth_outlines(name: str, size_mm: float) -> None:
    """V = A t - P r^2 (1 - pi/4) + pi r^3 (5/3 - pi/2) for any smooth outline.

    By Steiner's formula with inset d(z) = r - sqrt(r^2 - z^2), integrated over the height of the round.
    """
    ring, r = Ring.from_rows(ROWS[name]), size_mm
    want = ring.area_mm2 * THICK - ring.perimeter_mm * r**2 * (1 - pi / 4) + pi * r**3 * (5 / 3 - pi / 2)
    solid = uncut_slab(edged(ring, "round", r), 0.0, THICK)
    assert volume_mm3(solid) == pytest.approx(want, rel=1e-8)
    box = (ring.bounds_mm[0], ring.bounds_mm[1], 0.0, ring.bounds_mm[2], ring.bounds_mm[3], THICK)
    assert faults_of(solid, Expected(volume_mm3=want, box_mm=box, holes=0)) == ()


@pytest.mark.parametrize("size_mm", [0.5, 2.0, 3.5])
@pytest.mark.parametrize("name", ROWS)
def test_chamfer_of_smooth_outlines(name: str, size_mm: float) -> None:
    """V = A t - P c^2/2 + pi c^3/3 for any smooth outline, by Steiner's formula with inset z."""
    ring, c = Ring.from_rows(ROWS[name]), size_mm
    want = ring.area_mm2 * THICK - ring.perimeter_mm * c**2 / 2 + pi * c**3 / 3
    solid = uncut_slab(edged(ring, "chamfer", c), 0.0, THICK)
    assert volume_mm3(solid) == pytest.approx(want, rel=1e-8)


def test_cylinder_with_round_over_is_the_handbook_solid() -> None:
    """A disc with a round-over of its whole radius and height is half a ball: 2/3 pi r^3."""
    ring = Ring.from_rows(ROWS["circle"])
    plan = edged(ring, "round", 6.349)
    half_ball = 2 / 3 * pi * 6.349**3
    # Around the half ball stands a quarter-round ring whose section is r^2 pi/4, 4 r / (3 pi) off its wall.
    wide = 10.0 - 6.349
    ring_part = pi * wide**2 * 6.349 + 2 * pi * wide * pi / 4 * 6.349**2
    base = pi * 100.0 * 0.001
    assert volume_mm3(uncut_slab(plan, 0.0, THICK)) == pytest.approx(half_ball + ring_part + base, rel=1e-8)


# ------------------------------------------------------------------------------------------------ fronts


@pytest.mark.parametrize("angle_deg", [90.0, 78.0, 105.0])
def test_bevel_takes_a_wedge(angle_deg: float) -> None:
    """A bevel must take a wedge of section (t - land)^2 / (2 tan slope) all along the front.

    The front of a 25 mm handle is 25 / sin(angle) long; its slanted ends are a shear and change nothing.
    """
    slope, land = radians(40.0), 1.2
    front = Front(at_mm=12.0, angle_rad=radians(angle_deg), treatment="bevel", slope_rad=slope, land_mm=land)
    wedge = (THICK - land) ** 2 / (2 * tan(slope)) * WIDTH / sin(radians(angle_deg))
    want = (LENGTH - 12.0) * WIDTH * THICK - wedge
    assert whole_mm3(plate(front, (1.0, THICK - 1.0))) == pytest.approx(want, rel=1e-8)


@pytest.mark.parametrize("angle_deg", [90.0, 70.0])
def test_rounded_front_takes_a_spandrel(angle_deg: float) -> None:
    """A rounded front must take r^2 (1 - pi/4) all along the front."""
    front = Front(at_mm=12.0, angle_rad=radians(angle_deg), treatment="round", radius_mm=2.5)
    taken = 2.5**2 * (1 - pi / 4) * WIDTH / sin(radians(angle_deg))
    want = (LENGTH - 12.0) * WIDTH * THICK - taken
    assert whole_mm3(plate(front, (1.0, THICK - 1.0))) == pytest.approx(want, rel=1e-8)


@pytest.mark.parametrize(("shape", "sign"), [("proud", -1), ("hollow", 1)])
def test_front_arc_takes_or_leaves_what_lies_beside_it(shape: FrontArc, sign: int) -> None:
    """An arc parts from its tangent by 2 R h - h sqrt(R^2 - h^2) - R^2 asin(h / R), h half the height."""
    radius, h = 30.0, WIDTH / 2
    beside = 2 * radius * h - h * sqrt(radius**2 - h**2) - radius**2 * asin(h / radius)
    front = Front(at_mm=12.0, angle_rad=pi / 2, arc_mm=radius, arc_shape=shape)
    want = ((LENGTH - 12.0) * WIDTH + sign * beside) * THICK
    assert whole_mm3(plate(front)) == pytest.approx(want, rel=1e-8)


def test_bevel_on_a_front_arc() -> None:
    """A bevel on a proud arc is a cone: its volume follows from the arc's area at every height.

    Simpson's rule over 200 strips, on the closed form of a front arc of radius R - s with its foot moved
    back by s = z / tan(slope).
    """
    radius, h, slope, land = 40.0, WIDTH / 2, radians(45.0), 1.2
    front = Front(
        at_mm=12.0, angle_rad=pi / 2, arc_mm=radius, treatment="bevel", slope_rad=slope, land_mm=land
    )

    def area(z: float) -> float:
        s = max(0.0, z - land) / tan(slope)
        r = radius - s
        beside = 2 * r * h - h * sqrt(r**2 - h**2) - r**2 * asin(h / r)
        return (LENGTH - 12.0 - s) * WIDTH - beside

    step = (THICK - land) / 200
    inner = sum((4 if k % 2 else 2) * area(land + k * step) for k in range(1, 200))
    want = area(0.0) * land + step / 3 * (area(land) + inner + area(THICK))
    assert whole_mm3(plate(front)) == pytest.approx(want, rel=1e-8)


def whole_mm3(scale: Scale) -> float:
    """The kernel's volume of the finished left scale, after the layers were held against it."""
    solids = scale_solids(scale, scale_volumes(scale))
    body = solids.finished_left
    whole = volume_mm3(body.whole)
    assert sum(volume_mm3(layer.shape) for layer in body.layers) == pytest.approx(whole, rel=1e-7)
    return whole


# ------------------------------------------------------------------------------------------ demo patterns


@pytest.mark.parametrize("name", ["siskin", "curlew", "harrier"])
def test_finished_scale_lies_in_the_one_as_cut(name: str) -> None:
    """What the knife keeps must lie wholly in what the machine leaves: the common is the finished solid."""
    study = study_pattern(PROFILES / f"{name}.toml", JobSpec())
    assert study.volumes is not None
    solids = scale_solids(study.scale, study.volumes)
    for body in (solids.as_cut_left, solids.finished_left):
        parts = [volume_mm3(layer.shape) for layer in body.layers]
        assert sum(parts) == pytest.approx(volume_mm3(body.whole), rel=1e-6)
        assert parts == pytest.approx(list(body.volumes_mm3), rel=1e-6)
    finished = solids.finished_left.whole
    common = BRepAlgoAPI_Common(solids.as_cut_left.whole, finished).Shape()
    assert volume_mm3(common) == pytest.approx(volume_mm3(finished), rel=1e-6)
    assert volume_mm3(solids.as_cut_left.whole) > volume_mm3(finished)
