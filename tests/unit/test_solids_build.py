"""Slabs of a scale: edge, front, holes, layers and the pieces that a front may leave."""

from dataclasses import replace
from math import pi, radians, tan

import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

from scalegen.errors import GeometryError
from scalegen.form.body import BodyPlan, volumes_mm3
from scalegen.form.bores import straight
from scalegen.model import Edge, Front
from scalegen.outline.front import front_curve
from scalegen.outline.offset import opened
from scalegen.outline.ring import Ring
from scalegen.solids.build import body_solid, holes_of, slab_of, uncut_slab
from scalegen.solids.fronts import front_tool
from scalegen.solids.gate import expected_of, faults_of
from scalegen.solids.kernel import volume_mm3

BOX = Ring.from_rows([(-8.0, -10.0), (60.0, -10.0), (60.0, 10.0), (-8.0, 10.0)])
FRONTS = {
    "square": Front(at_mm=5.0, angle_rad=radians(80)),
    "bevel": Front(at_mm=5.0, angle_rad=radians(80), treatment="bevel", slope_rad=radians(45), land_mm=1.2),
    "round": Front(at_mm=5.0, angle_rad=radians(80), treatment="round", radius_mm=2.0),
    "proud bevel": Front(
        at_mm=5.0, angle_rad=pi / 2, arc_mm=25.0, treatment="bevel", slope_rad=radians(50), land_mm=1.2
    ),
    "hollow round": Front(
        at_mm=5.0, angle_rad=pi / 2, arc_mm=25.0, arc_shape="hollow", treatment="round", radius_mm=2.0
    ),
}


def plan(front: Front = FRONTS["bevel"], edge: Edge | None = None) -> BodyPlan:
    """A box-shaped handle 20 mm high and 6 mm thick with a round-over on rounded corners and two holes."""
    edge = edge or Edge(treatment="round", size_mm=1.5)
    (lip,) = opened(BOX, 2.5)
    return BodyPlan(
        bottom_mm=-0.1,
        seat_mm=6.0 if edge.treatment == "square" else 6.0 - edge.size_mm,
        top_mm=6.0,
        base=BOX,
        lip=None if edge.treatment == "square" else lip,
        edge=edge,
        front=front,
        curve=front_curve(front),
        allowance_mm=0.2,
        bores=straight((25.0, 0.0, 3.2), (45.0, 1.0, 3.2)),
    )


EDGES = [Edge(), Edge(treatment="round", size_mm=1.5), Edge(treatment="chamfer", size_mm=1.0)]


@pytest.mark.parametrize("edge", EDGES, ids=lambda edge: edge.treatment)
@pytest.mark.parametrize("front", FRONTS.values(), ids=FRONTS)
def test_every_front_with_every_edge_passes_the_gate(front: Front, edge: Edge) -> None:
    """Whole scales of all kinds must come out as their outline says."""
    body = plan(front, edge)
    (volume,) = volumes_mm3(body, (-0.1, 6.0))
    assert faults_of(body_solid(body, -0.1, 6.0, 1e-5), expected_of(body, -0.1, 6.0, volume)) == ()


@pytest.mark.parametrize("name", ["proud bevel", "hollow round"])
def test_freeform_front_passes_the_same_gate(name: str) -> None:
    """The other way of cutting an arc front must give the same solid."""
    body = plan(FRONTS[name])
    (volume,) = volumes_mm3(body, (-0.1, 6.0))
    solid = body_solid(body, -0.1, 6.0, 1e-5, freeform_front=True)
    assert faults_of(solid, expected_of(body, -0.1, 6.0, volume)) == ()


@pytest.mark.parametrize(
    "cuts", [(-0.1, 1.0, 6.0), (-0.1, 1.2, 6.0), (-0.1, 4.5, 6.0), (-0.1, 2.0, 5.0, 6.0)]
)
def test_layers_cut_off_or_built_are_the_same(cuts: tuple[float, ...]) -> None:
    """A layer cut off the whole must pass the same gate as one built on its own, wherever the cut lies.

    Among the heights are the land of the bevel (1.2) and the foot of the round-over (4.5).
    """
    body = plan()
    whole = body_solid(body, -0.1, 6.0, 1e-5)
    volumes = volumes_mm3(body, cuts)
    for low, high, volume in zip(cuts[:-1], cuts[1:], volumes, strict=True):
        expected = expected_of(body, low, high, volume)
        assert faults_of(body_solid(body, low, high, 1e-5), expected) == ()
        assert faults_of(slab_of(whole, body, low, high), expected) == ()
    assert sum(volumes) == pytest.approx(volume_mm3(whole), rel=1e-7)


def test_uncut_slab_of_a_square_edge_is_a_prism() -> None:
    """Without an edge treatment the slab is outline times height: 68 x 20 x 2."""
    assert volume_mm3(uncut_slab(plan(edge=EDGES[0]), 1.0, 3.0)) == pytest.approx(68 * 20 * 2, rel=1e-12)


def test_corners_stay_square_at_the_back() -> None:
    """Below the round-over the wall must keep the corners that the rounded lip leaves out."""
    body = plan()
    assert volume_mm3(uncut_slab(body, 0.0, body.seat_mm)) == pytest.approx(68 * 20 * 4.5, rel=1e-10)


def test_holes_are_bored_from_beyond_to_beyond() -> None:
    """Hole tools must stick out by a millimetre at both faces, so that nothing is left standing."""
    body = plan()
    assert [volume_mm3(tool) for tool in holes_of(body)] == pytest.approx([8.1 * pi * 1.6**2] * 2)


def test_hole_that_breaks_out_is_cut_all_the_same() -> None:
    """A hole through the edge of the outline must give a notch: half a circle less."""
    body = replace(plan(FRONTS["square"], EDGES[0]), bores=straight((30.0, 10.0, 4.0)))
    solid = body_solid(body, 0.0, 2.0, 1e-5)
    whole = body_solid(replace(body, bores=()), 0.0, 2.0, 1e-5)
    assert volume_mm3(whole) - volume_mm3(solid) == pytest.approx(2.0 * 2 * pi, rel=1e-9)


def test_front_that_leaves_two_pieces_is_refused() -> None:
    """A front behind a notch that goes right through must be refused, and say where to look."""
    body = replace(plan(FRONTS["bevel"], EDGES[0]), bores=straight((30.0, 0.0, 21.0)))
    with pytest.raises(GeometryError, match="leaves 2 pieces instead of one") as caught:
        body_solid(body, -0.1, 6.0, 1e-5)
    assert caught.value.where == "front"


def test_layer_that_the_whole_does_not_reach_is_refused() -> None:
    """Splitting off a layer where there is nothing must be refused, not give an empty solid."""
    body = plan()
    low = body_solid(body, -0.1, 1.0, 1e-5)
    with pytest.raises(GeometryError, match="leaves 0 pieces"):
        slab_of(low, body, 2.0, 6.0)


@pytest.mark.parametrize("name", FRONTS)
def test_front_tool_takes_nothing_behind_the_front(name: str) -> None:
    """The part of the handle that the tool covers must be what the treatment sets back, and no more.

    Straight fronts only have closed forms for all: area ahead of the line times thickness, and the wedge or
    spandrel behind it; for arcs the volumes of the plan are compared.
    """
    front = FRONTS[name]
    body = replace(plan(front, EDGES[0]), bores=(), allowance_mm=0.0, bottom_mm=0.0)
    slab = uncut_slab(body, 0.0, 6.0)
    taken = volume_mm3(BRepAlgoAPI_Common(slab, front_tool(body)).Shape())
    if front.arc_mm is None:
        length = 20.0 / abs(body.curve.along[1])
        behind = {
            "square": 0.0,
            "bevel": (6.0 - front.land_mm) ** 2 / 2 / tan(radians(45)),
            "round": front.radius_mm**2 * (1 - pi / 4),
        }[front.treatment]
        want = 13.0 * 20 * 6 + behind * length
    else:
        want = 68 * 20 * 6 - volumes_mm3(body, (0.0, 6.0))[0]
    assert taken == pytest.approx(want, rel=1e-6)
