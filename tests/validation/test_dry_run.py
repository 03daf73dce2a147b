"""The dry run against closed forms, hand arithmetic and the definition worked out cell by cell.

Sources: plane geometry for corner, ridge, cone and slot; volumes from exact sections, worked out without any
grid; mis-zero errors by hand.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.design import Scale, design
from scalegen.export.drawings import footprints
from scalegen.form.plans import plan_of, volumes_of
from scalegen.machining.cuts import grown, plan_cuts, rehearse
from scalegen.machining.cutter_shape import CutterShape, ball, drill, flat, point_mm
from scalegen.machining.dry_run import Cut, DryRun, Plunge, pad_untouched, run_stages
from scalegen.machining.field import BoolGrid, FloatGrid, HeightField, blank_field, box_mask, volume_mm3
from scalegen.machining.reach import swept_mm, tips_mm
from scalegen.machining.stages import plan_stages
from scalegen.machining.target import Target, target_of
from scalegen.machining.touch_off import lowest_mm, touch_off, touch_off_map
from scalegen.machining.wrong_thickness import on_blank
from scalegen.model import Edge, Front, JobSpec, Layer, OutlineSource, Pad, Pattern, PinSpec
from scalegen.outline.ring import FloatArray, Ring
from scalegen.sheet.rows import arrange
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
NO_PAD = (-10.0, -10.0, -5.0, -5.0)
FLOOR = -0.2
BODY = Layer(name="all", kind="face", thickness_mm=20.0, density_g_cm3=1.3, color="#000000")


def around(field: HeightField, part: BoolGrid, shape: CutterShape, height_mm: float) -> Cut:
    """A cutter that goes everywhere outside a part, down to the floor."""
    surface = np.where(part, np.float32(height_mm), np.float32(FLOOR))
    return Cut(name="around", shape=shape, surface_mm=surface, where=np.ones(field.shape, dtype=np.bool_))


@pytest.mark.parametrize("radius", [1.5875, 3.175])
def test_a_flat_cutter_leaves_its_corner(radius: float) -> None:
    """In a square inside corner r^2 (1 - pi/4) stays in area, and r (sqrt 2 - 1) on the diagonal."""
    cell = 0.025
    field = blank_field(2 * radius + 2, 2 * radius + 2, 5.0, cell)
    middle = 1.0
    x, y = field.xs_mm[None], field.ys_mm[:, None]
    part = (x < middle) | (y < middle)
    (shot,) = run_stages(field, (around(field, part, flat(2 * radius), 5.0),), NO_PAD)
    rest = ~part & (shot.field.heights_mm > 0)
    # What the sides of the grid keep off is no part of the corner.
    assert rest.sum() * field.cell_mm2 == pytest.approx(radius**2 * (1 - math.pi / 4), rel=0.06)
    diagonal = np.array([rest[k, k] for k in range(min(field.shape))])
    left = diagonal.sum() * cell * math.sqrt(2)
    assert left == pytest.approx(radius * (math.sqrt(2) - 1), abs=2 * cell)


def test_the_corner_converges_with_the_cells() -> None:
    """Four times finer cells bring the area at least twice as close."""
    radius, errors = 1.5, []
    for cell in (0.1, 0.025):
        field = blank_field(5.0, 5.0, 5.0, cell)
        part = (field.xs_mm[None] < 1.0) | (field.ys_mm[:, None] < 1.0)
        (shot,) = run_stages(field, (around(field, part, flat(2 * radius), 5.0),), NO_PAD)
        area = (~part & (shot.field.heights_mm > 0)).sum() * field.cell_mm2
        errors.append(abs(area - radius**2 * (1 - math.pi / 4)))
    assert errors[1] < errors[0] / 2


@pytest.mark.parametrize("slope_deg", [0.0, 20.0, 35.0])
def test_a_ball_leaves_its_scallops(slope_deg: float) -> None:
    """Passes along a plane leave ridges of R - sqrt(R^2 - (s / (2 cos a))^2) square to it."""
    radius, step, slope, cell = 1.5, 0.6, math.radians(slope_deg), 0.02
    field = blank_field(0.2, 8.0, 20.0, cell)
    plane = (2.0 + field.ys_mm * math.tan(slope)).astype(np.float32)
    surface = np.repeat(plane[:, None], field.shape[1], axis=1)
    where = np.zeros(field.shape, dtype=np.bool_)
    where[:: round(step / cell)] = True
    left = swept_mm(tips_mm(surface, ball(2 * radius), cell, where), ball(2 * radius), cell)
    inner = slice(round(3 / cell), round(5 / cell))
    ridge = float((left[inner] - surface[inner]).max()) * math.cos(slope)
    height = radius - math.sqrt(radius**2 - (step / 2 / math.cos(slope)) ** 2)
    # A ridge may stand between the middles of two cells, and a ball may touch between them.
    assert ridge == pytest.approx(height, rel=0.08)


def test_a_drilled_hole_has_its_cone() -> None:
    """A blind hole takes pi r^2 (depth - point) a third of that for the point; finer cells come closer."""
    shape = drill(4.0)
    point = 2.0 / math.tan(math.radians(59))
    assert point_mm(shape) == pytest.approx(point)
    exact = math.pi * 4 * (5.0 - point) + math.pi * 4 * point / 3
    errors = []
    for cell in (0.2, 0.05):
        field = blank_field(6.0, 6.0, 8.0, cell)
        cut = Cut(name="hole", shape=shape, plunges=(Plunge(x_mm=3.03, y_mm=2.96, tip_mm=3.0),))
        (shot,) = run_stages(field, (cut,), NO_PAD)
        errors.append(abs(shot.removed_mm3 - exact))
        assert (shot.deepest_mm, shot.deepest_at_mm) == (3.0, (3.03, 2.96))
    assert errors[1] < min(errors[0], 0.004 * exact)


def test_a_slot_is_as_wide_as_its_cutter() -> None:
    """Around a box the cut takes P d + pi d^2 in area (Steiner), d the cutter's diameter."""
    field = blank_field(30.0, 24.0, 5.0, 0.05)
    part = box_mask(field, (9.0, 9.0, 21.0, 15.0))
    path = grown(part, 1.5 + 0.075, 0.05) & ~grown(part, 1.5, 0.05)
    surface = np.where(part, np.float32(5.0), np.float32(FLOOR))
    (shot,) = run_stages(field, (Cut(name="o", shape=flat(3.0), surface_mm=surface, where=path),), NO_PAD)
    open_mm2 = (shot.field.heights_mm < 0).sum() * field.cell_mm2
    assert open_mm2 == pytest.approx(36 * 3 + math.pi * 9, rel=0.02)
    assert (shot.field.heights_mm[part] == 5.0).all()


# ------------------------------------------------------------------------------ a whole scale

PATTERN = Pattern(
    name="plain",
    title="Plain",
    units="mm",
    path=Path("plain.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=8.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(40), land_mm=1.2),
    thickness_mm=6.2,
    edge=Edge(treatment="round", size_mm=2.0),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(PinSpec(at_mm=(24.0, 1.0), hardware="pin 3mm"),),
)
TANG = Ring.from_rows([[0, -9, 0], [50, -8, 0.5], [50, 8, 0], [0, 9, 0]])


def scale_of() -> Scale:
    """A small scale from the bundled six-millimetre stack, 0.6 mm of it faced off."""
    return design(PATTERN, TANG, resolve_stack(SHOP, "paper-six", (6.9,)), SHOP)


def whole_job(cell_mm: float) -> tuple[Scale, DryRun]:
    """One pair on a small blank, cut with a flat cutter of 3 mm."""
    scale = scale_of()
    (layout,) = arrange(
        footprints(scale),
        pattern="plain",
        pairs=1,
        length_mm=130.0,
        width_mm=60.0,
        margin_mm=5.0,
        spacing_mm=4.2,
        pad=Pad(width_mm=12.0, height_mm=12.0),
        origin="lower-left",
        keep_clear_mm=4.2,
    )
    target = target_of(scale, layout, cell_mm=cell_mm)
    shop = replace(SHOP, cutters={"flat 3mm": SHOP.cutters["flat 3mm"]})
    cuts = plan_cuts(scale, layout, target, plan_stages(scale, JobSpec(cutter="flat 3mm"), shop))
    return scale, rehearse(target, cuts, scale.stack.layers)


def test_volumes_come_to_those_of_the_solids() -> None:
    """Each part as it was cut has the volume of its exact sections, the closer the finer the cells."""
    errors = []
    for cell in (0.4, 0.1):
        scale, run = whole_job(cell)
        plan = plan_of(scale, finished=False)
        (exact,) = volumes_of(plan, (plan.bottom_mm, plan.top_mm))
        parts = [volume_mm3(run.last, run.target.parts == number) for number in (0, 1)]
        errors.append(max(abs(part / exact - 1) for part in parts))
        taken = sum(shot.removed_mm3 for shot in run.shots)
        assert taken == pytest.approx(volume_mm3(run.blank) - volume_mm3(run.last), rel=1e-6)
    assert errors[1] < min(errors[0], 2e-3)


def test_a_whole_job_leaves_the_pad_and_makes_the_parts() -> None:
    """The pad keeps its height through all stages; the parts come out as wanted, and none is cut into."""
    _, run = whole_job(0.2)
    assert [shot.name for shot in run.shots] == ["face off", "fronts and edges", "pin holes", "outlines"]
    assert all(pad_untouched(shot, 6.9) and shot.pad_ring_mm > 0.3 for shot in run.shots)
    off = (run.last.heights_mm - run.target.field.heights_mm)[run.target.solid]
    assert off.min() > -1e-5
    assert off.max() < 1e-5


# --------------------------------------------------------------------------------- wrong zeros


def box_job(blank_mm: float, part_mm: float, floor_mm: float) -> DryRun:
    """A box, faced off where it is lower than the blank, and cut out."""
    field = blank_field(30.0, 24.0, blank_mm, 0.5)
    part, pad = box_mask(field, (12.0, 8.0, 24.0, 18.0)), (1.0, 1.0, 6.0, 6.0)
    whole = np.where(part, np.float32(part_mm), np.float32(-floor_mm))
    whole[field.window(pad)] = blank_mm
    target = Target(
        field=field.changed(whole),
        whole_mm=whole.copy(),
        blank_mm=blank_mm,
        floor_mm=floor_mm,
        blank=field,
        parts=np.where(part, 0, -1).astype(np.int16),
        solid=part.copy(),
        labels=("1L",),
        pad=pad,
    )
    faced = np.maximum(whole, np.float32(part_mm))
    path = grown(part, 2.25, 0.5) & ~grown(part, 1.5, 0.5)
    cuts = (
        Cut(name="face off", shape=flat(3.0), surface_mm=faced, where=np.ones_like(part)),
        Cut(name="outlines", shape=flat(3.0), surface_mm=whole, where=path),
    )
    layer = replace(BODY, thickness_mm=blank_mm)
    return DryRun(target=target, shots=run_stages(field, cuts, pad), layers=(layer,))


def test_a_thin_stack_zeroed_on_top_is_cut_into_the_bed() -> None:
    """Planned 9.525, measured 8.56: 0.965 into the bed, by hand."""
    found = on_blank(box_job(9.525, 9.525, 0.0), 8.56)
    assert found.into_bed_mm == pytest.approx(0.965, abs=1e-5)
    assert "the bed is cut 0.965 mm" in found.verdict


def test_a_zero_on_the_faced_surface_is_too_deep_everywhere() -> None:
    """Facing takes 1.5; zeroed on what it left, every place off the pad is 1.5 too deep."""
    run = box_job(9.525, 8.025, 0.0)
    errors = touch_off_map(2, run)
    faced = run.shots[0].field.heights_mm < 9.5
    assert np.allclose(errors[faced], 1.5, atol=1e-5)
    assert (errors[~faced] == 0).all()
    found = touch_off((18.0, 12.0), 2, run)
    assert found.depth_error_mm == pytest.approx(1.5, abs=1e-5)
    assert found.into_bed_mm == pytest.approx(1.5, abs=1e-5)


# ------------------------------------------------------------------------------ random little jobs


def by_hand(surface: FloatGrid, shape: CutterShape, cell: float, where: BoolGrid) -> FloatArray:
    """What a cutter leaves, straight from the definition."""
    rows, cols = surface.shape
    r = int(shape.radius_mm / cell + 1e-9)
    k = np.arange(-r, r + 1)
    rise = shape.rise_mm(cell * np.hypot(k[:, None], k[None]))
    left = np.full((rows, cols), np.inf)
    padded = np.pad(surface.astype(np.float64), r, constant_values=-1e9)
    for y, x in np.argwhere(where):
        tip = float((padded[y : y + 2 * r + 1, x : x + 2 * r + 1] - rise).max())
        top, low = max(0, y - r), max(0, x - r)
        seen = left[top : y + r + 1, low : x + r + 1]
        part = rise[top - y + r : top - y + r + seen.shape[0], low - x + r : low - x + r + seen.shape[1]]
        np.minimum(seen, tip + part, out=seen)
    return left


@given(st.integers(0, 10**6), st.sampled_from([flat(2.0), flat(3.2), ball(2.4)]))
@settings(max_examples=20, deadline=None)
def test_random_jobs_spare_the_pad_and_the_map_tells_the_truth(seed: int, shape: CutterShape) -> None:
    """The pad is never touched, and a wrong zero does what cutting with a sunk program does."""
    random = np.random.default_rng(seed)
    field = blank_field(float(random.integers(12, 18)), float(random.integers(10, 14)), 6.0, 0.4)
    pad = (0.4, 0.4, 3.6, 3.6)
    keep = box_mask(field, pad)
    x0, y0 = random.uniform(4, 8), random.uniform(1, 5)
    part = box_mask(field, (x0, y0, x0 + random.uniform(1, 6), y0 + random.uniform(1, 6))) & ~keep
    cuts = []
    for number in range(int(random.integers(1, 4))):
        surface = np.full(field.shape, random.uniform(-0.4, 5.5), dtype=np.float32)
        surface[part] = random.uniform(3.0, 6.0)
        surface[part & (random.random(field.shape) < 0.3)] = 5.0
        surface[keep] = 6.0
        where = random.random(field.shape) < random.uniform(0.1, 1.0)
        cuts.append(Cut(name=f"stage {number}", shape=shape, surface_mm=surface, where=where))
    target = Target(
        field=field,
        whole_mm=field.heights_mm.copy(),
        blank_mm=6.0,
        floor_mm=0.4,
        blank=field,
        parts=np.where(part, 0, -1).astype(np.int16),
        solid=part.copy(),
        labels=("1L",),
        pad=pad,
    )
    layer = replace(BODY, thickness_mm=6.0)
    run = DryRun(target=target, shots=run_stages(field, cuts, pad), layers=(layer,))
    assert all(pad_untouched(shot, 6.0) for shot in run.shots)
    stage = int(random.integers(1, len(cuts) + 1))
    row, col = (int(random.integers(0, n)) for n in field.shape)
    error = float(touch_off_map(stage, run)[row, col])
    before, cut = run.before(stage), cuts[stage - 1]
    assert error == pytest.approx(6.0 - max(0.0, float(before.heights_mm[row, col])), abs=1e-4)
    assert cut.surface_mm is not None
    assert cut.where is not None
    sunk = np.minimum(before.heights_mm, by_hand(cut.surface_mm - error, shape, 0.4, cut.where))
    assert lowest_mm(before, run.shots[stage - 1].swept_mm, part, error) == pytest.approx(
        float(sunk[part].min()) if part.any() else float(before.heights_mm.max()), abs=1e-4
    )
