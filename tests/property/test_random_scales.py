"""Random outlines, fronts and edges: what is not refused with its reason must come out sound."""

import sys
from collections.abc import Callable
from math import radians
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import HealthCheck, Phase, event, given, settings
from hypothesis import strategies as st

from scalegen.checks import check_scale
from scalegen.design import Scale, design
from scalegen.errors import GeometryError
from scalegen.form.body import body_plan, volumes_mm3
from scalegen.form.volumes import scale_volumes
from scalegen.model import Edge, Finding, Front, OutlineSource, Pattern, PinSpec, Shop
from scalegen.outline.measure import distances_mm
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack
from scalegen.solids.gate import expected_of
from scalegen.solids.mesh import mesh_shape
from scalegen.solids.scales import Body, ScaleSolids, scale_solids, sound_slab

TOLERANCE_MM = 0.05


def kinds() -> dict[str, Callable[[np.random.Generator], Ring]]:
    """The makers of random outlines, which live beside the tests in a checkout."""
    root = str(Path(__file__).parents[2])
    if root not in sys.path:
        sys.path.insert(0, root)
    from benchmarks.outlines import KINDS

    return KINDS


def hard_scale(kind: str, seed: int) -> Scale:
    """One of the random scales that the benchmark tries."""
    from benchmarks.robustness import random_scale

    return random_scale(kind, seed)


KINDS = kinds()
SHOP: Shop = load_shop(None)

fronts = st.builds(
    Front,
    at_mm=st.floats(9.0, 20.0),
    angle_rad=st.floats(radians(70), radians(110)),
    arc_mm=st.none() | st.floats(28.0, 80.0),
    arc_shape=st.sampled_from(["proud", "hollow"]),
    treatment=st.sampled_from(["bevel", "round", "square"]),
    slope_rad=st.floats(radians(30), radians(60)),
    land_mm=st.floats(0.8, 2.0),
    radius_mm=st.floats(1.0, 3.0),
    allowance_mm=st.sampled_from([0.0, 0.2]),
)
edges = st.builds(
    Edge,
    treatment=st.sampled_from(["round", "chamfer", "square"]),
    size_mm=st.floats(0.5, 3.0),
)


def scale_of(ring: Ring, front: Front, edge: Edge, trim_mm: float) -> Scale:
    """A scale on the demo stack with two pins along the middle."""
    x0, _, x1, _ = ring.bounds_mm
    pins = tuple(PinSpec(at_mm=(x0 + share * (x1 - x0), 0.0), hardware="pin 3mm") for share in (0.4, 0.75))
    pattern = Pattern(
        name="random",
        title="random",
        units="mm",
        path=Path("random.toml"),
        outline=OutlineSource(rows=tuple(map(tuple, ring.rows.tolist()))),
        tang_mm=3.0,
        front=front,
        thickness_mm=6.2,
        edge=edge,
        trim_mm=trim_mm,
        back_allowance_mm=0.1,
        pins=pins,
    )
    return design(pattern, ring, resolve_stack(SHOP, "paper-six"), SHOP)


def check_body(scale: Scale, body: Body, outline: Ring, bottom_mm: float) -> None:
    """Closed, as many holes as pins, the outline's volume, and walls on the outline, by trimesh."""
    vertices, triangles = mesh_shape(body.whole, TOLERANCE_MM)
    mesh = trimesh.Trimesh(vertices, triangles, process=False)
    assert mesh.is_watertight
    assert mesh.euler_number == 2 - 2 * len(scale.holes)
    assert abs(mesh.volume - sum(body.volumes_mm3)) < TOLERANCE_MM * mesh.area
    low = vertices[np.abs(vertices[:, 2] - bottom_mm) < 1e-6][:, :2]
    off = distances_mm(outline, low)
    for hole in scale.holes:
        off = np.minimum(off, np.abs(np.hypot(*(low - hole.at_mm).T) - hole.hole_mm / 2))
    assert off.max() < 0.005


@settings(
    max_examples=4,
    derandomize=True,
    database=None,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)
@given(
    kind=st.sampled_from(sorted(KINDS)),
    seed=st.integers(0, 10_000),
    front=fronts,
    edge=edges,
    trim_mm=st.sampled_from([0.0, 0.5, 1.5]),
)
def test_sound_or_refused(kind: str, seed: int, front: Front, edge: Edge, trim_mm: float) -> None:
    """Every random scale must be refused with a place and a remedy, or be sound as cut and finished."""
    ring = KINDS[kind](np.random.default_rng(seed))
    made = attempted(ring, front, edge, trim_mm)
    if isinstance(made, GeometryError):
        assert made.where
        assert made.remedy
        event("refused")
    elif isinstance(made, tuple):
        scale, solids = made
        event("made")
        check_body(scale, solids.as_cut_left, scale.as_cut, -scale.back_allowance_mm)
        check_body(scale, solids.finished_left, scale.finished, 0.0)
    else:
        assert made.message
        assert made.remedy
        event("stopped by a check")


def attempted(
    ring: Ring, front: Front, edge: Edge, trim_mm: float
) -> tuple[Scale, ScaleSolids] | Finding | GeometryError:
    """A scale and its solids, or what speaks against them."""
    try:
        scale = scale_of(ring, front, edge, trim_mm)
        stops = [finding for finding in check_scale(scale, SHOP) if finding.level == "stop"]
        return stops[0] if stops else (scale, scale_solids(scale, scale_volumes(scale)))
    except GeometryError as error:
        return error


@pytest.mark.parametrize(
    ("kind", "seed", "finished"),
    [
        ("traced splines", 101, False),  # two cones that cross at a low angle
        ("traced splines", 101, True),  # lip and wall that differ by rounding alone
        ("kinked arcs", 169, True),  # a sliver of a face at the foot of a chamfer
    ],
)
def test_hard_outlines_pass_the_gate(kind: str, seed: int, finished: bool) -> None:
    """Outlines that are wide enough must come out even where the kernel needs help."""
    plan = body_plan(hard_scale(kind, seed), finished=finished)
    (volume,) = volumes_mm3(plan, (plan.bottom_mm, plan.top_mm))
    made = sound_slab("the scale", plan, expected_of(plan, plan.bottom_mm, plan.top_mm, volume))
    assert made.volume_mm3 == pytest.approx(volume, rel=1e-6)
