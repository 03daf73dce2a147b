"""Stepped layers and what stands on them in one piece: what the gate lets through and what it refuses."""

import math
from pathlib import Path

import numpy as np
import pytest
from OCP.TopoDS import TopoDS_Shape

from scalegen.design import design
from scalegen.errors import GeometryError
from scalegen.form.storeys import Storey, storeys_of
from scalegen.model import Edge, Front, Liner, OutlineSource, Pattern, PinSpec
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack
from scalegen.solids.build import body_solid
from scalegen.solids.gate import Expected, expected_of, judge
from scalegen.solids.kernel import solids_in, volume_mm3
from scalegen.solids.steps import expected_of_stepped, stepped_solid, stepped_ways

SHOP = load_shop(None)
HANDLE = Ring(np.array([[0.0, -10, 0], [80, -10, 1], [80, 10, 0], [0, 10, 0]]))


def storeys(step_mm: float) -> tuple[Storey, Storey]:
    """Foot and body of a handle with a slanting bevel, a chamfer and two pins."""
    pattern = Pattern(
        name="stepped",
        title="Stepped",
        units="mm",
        path=Path("stepped.toml"),
        outline=OutlineSource(),
        tang_mm=3.0,
        front=Front(at_mm=16.0, angle_rad=1.4, treatment="bevel", slope_rad=math.radians(45), land_mm=1.0),
        thickness_mm=6.0,
        edge=Edge(treatment="chamfer", size_mm=1.2),
        trim_mm=0.5,
        back_allowance_mm=0.0,
        pins=tuple(PinSpec(at_mm=(x, 0.0), diameter_mm=3.0) for x in (40.0, 75.0)),
        liner=Liner(step_mm=step_mm),
    )
    scale = design(pattern, HANDLE, resolve_stack(SHOP, "paper-six"), SHOP)
    foot, above = storeys_of(scale, finished=False)
    return foot, above


def parts_of(foot: Storey, above: Storey) -> tuple[TopoDS_Shape, TopoDS_Shape]:
    """Both bodies as solids of their own."""
    low, high = (body_solid(s.plan, s.heights_mm[0], s.heights_mm[-1], 1e-5) for s in (foot, above))
    return low, high


def musts(foot: Storey, above: Storey) -> tuple[Expected, Expected]:
    """What both must measure, from their plans alone."""
    low, high = (
        expected_of(s.plan, s.heights_mm[0], s.heights_mm[-1], sum(s.volumes_mm3())) for s in (foot, above)
    )
    return low, high


@pytest.mark.parametrize("step_mm", [0.7, -0.7])
def test_every_way_gives_the_same_sound_solid(step_mm: float) -> None:
    """Cut after they were put together, or put together after they were cut: each must pass the gate."""
    foot, above = storeys(step_mm)
    must = expected_of_stepped(musts(foot, above)[0], above.plan, musts(foot, above)[1])
    ways = [*stepped_ways(foot.plan, above.plan, parts_of(foot, above), ((1e-5, False), (1e-5, True)))]
    assert len(ways) == 4
    for way in ways:
        assert judge(way(), must).faults == ()


@pytest.mark.parametrize("step_mm", [0.7, -0.7])
def test_the_gate_refuses_another_step(step_mm: float) -> None:
    """A whole with a step a hundredth of a millimetre off must be refused by its volume."""
    foot, above = storeys(step_mm)
    must = expected_of_stepped(musts(foot, above)[0], above.plan, musts(foot, above)[1])
    other, _ = storeys(step_mm + 0.01)
    faults = judge(stepped_solid(other.plan, above.plan, 1e-5), must).faults
    assert any("its volume is" in fault for fault in faults)


def test_a_proud_foot_bounds_the_box_and_one_set_in_does_not() -> None:
    """The box of both must be the union of the two boxes, from the foot's underside to the body's top."""
    for step_mm, reach in ((0.7, 10 + 0.7 + 0.5), (-0.7, 10 + 0.5)):
        foot, above = storeys(step_mm)
        must = expected_of_stepped(musts(foot, above)[0], above.plan, musts(foot, above)[1])
        assert must.box_mm[1:] == pytest.approx((-reach, 0.0, 80 + reach, reach, 6.0))
        assert must.holes == 2


def test_bodies_that_do_not_touch_are_refused() -> None:
    """Bodies that stand apart must not pass for one."""
    foot, above = storeys(0.7)
    low, high = parts_of(foot, above)
    apart = body_solid(above.plan, above.heights_mm[0] + 1.0, above.heights_mm[-1], 1e-5)
    *_, fuse = stepped_ways(foot.plan, above.plan, (low, apart), ())
    with pytest.raises(GeometryError, match="2 solids instead of one"):
        fuse()
    (whole,) = solids_in(stepped_solid(foot.plan, above.plan, 1e-5))
    assert volume_mm3(whole) == pytest.approx(volume_mm3(low) + volume_mm3(high), rel=1e-7)
