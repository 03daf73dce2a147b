"""Volumes of bodies without the kernel, against closed forms and plain numerical integration.

Closed forms, worked out from Steiner's A(d) = A - P d + pi d^2 and Cavalieri's principle, for a body of
thickness t on a smooth outline of area A and perimeter P:
    round-over r:          V = A t - P r^2 (1 - pi/4) + pi r^3 (5/3 - pi/2)
    45 degree chamfer c:   V = A t - P c^2 / 2 + pi c^3 / 3
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scalegen.form.body import BodyPlan, circle, section_area_mm2, volumes_mm3
from scalegen.form.bores import straight
from scalegen.model import Edge, Front
from scalegen.outline.front import front_curve
from scalegen.outline.ring import FloatArray, Ring

TOP_MM = 6.0
BOX = Ring.from_rows([[-30, -10], [80, -10], [80, 10], [-30, 10]])
STADIUM = Ring.from_rows([[0, -8, 0], [60, -8, 1], [60, 8, 0], [0, 8, 1]])
AHEAD = Front(at_mm=-500, angle_rad=math.pi / 2)
Holes = tuple[tuple[float, float, float], ...]


def body(base: Ring, edge: Edge, front: Front = AHEAD, holes: Holes = ()) -> BodyPlan:
    """A finished body on a ring that is its own lip."""
    square = edge.treatment == "square"
    return BodyPlan(
        bottom_mm=0.0,
        seat_mm=TOP_MM if square else TOP_MM - edge.size_mm,
        top_mm=TOP_MM,
        base=base,
        lip=None if square else base,
        edge=edge,
        front=front,
        curve=front_curve(front),
        allowance_mm=0.0,
        bores=straight(*holes),
    )


def volume(plan: BodyPlan, *between: float) -> float:
    """The whole volume, summed over layers."""
    return sum(volumes_mm3(plan, (plan.bottom_mm, *between, plan.top_mm)))


@pytest.mark.parametrize("size", [0.5, 1.5, 3.0])
def test_a_round_over(size: float) -> None:
    """A rounded stadium has the closed form's volume, in one layer or three."""
    a, p = STADIUM.area_mm2, STADIUM.perimeter_mm
    want = a * TOP_MM - p * size**2 * (1 - math.pi / 4) + math.pi * size**3 * (5 / 3 - math.pi / 2)
    plan = body(STADIUM, Edge(treatment="round", size_mm=size))
    assert volume(plan) == pytest.approx(want, rel=1e-12)
    assert volume(plan, 2.0, TOP_MM - size / 3) == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("size", [0.5, 1.5, 3.0])
def test_a_chamfer(size: float) -> None:
    """A chamfered stadium has the closed form's volume."""
    a, p = STADIUM.area_mm2, STADIUM.perimeter_mm
    want = a * TOP_MM - p * size**2 / 2 + math.pi * size**3 / 3
    assert volume(body(STADIUM, Edge(treatment="chamfer", size_mm=size))) == pytest.approx(want, rel=1e-12)


def test_a_disc_with_a_round_over() -> None:
    """A rounded disc: a cylinder and a torus' inner quarter, by Pappus (from memory)."""
    big, r = 10.0, 2.0
    plan = body(circle(0, 0, 2 * big), Edge(treatment="round", size_mm=r))
    core = math.pi * big**2 * (TOP_MM - r) + math.pi * (big - r) ** 2 * r
    quarter = math.pi * r * r / 4 * 2 * math.pi * (big - r + 4 * r / (3 * math.pi))
    assert volume(plan) == pytest.approx(core + quarter, rel=1e-12)


@settings(max_examples=12, deadline=None)
@given(st.floats(20, 70), st.floats(0.3, 3), st.floats(65, 115))
def test_a_bevelled_front(slope: float, land: float, lean: float) -> None:
    """A bevel takes a prism: half of (t - land)^2 / tan slope, along the front's length of 20 / sin lean."""
    front = Front(
        at_mm=0,
        angle_rad=math.radians(lean),
        treatment="bevel",
        slope_rad=math.radians(slope),
        land_mm=land,
    )
    run = (TOP_MM - land) / math.tan(math.radians(slope))
    want = 80 * 20 * TOP_MM - 20 / math.sin(math.radians(lean)) * run * (TOP_MM - land) / 2
    assert volume(body(BOX, Edge(), front)) == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("lean", [70, 90, 100])
def test_a_rounded_front(lean: float) -> None:
    """A rounded front takes r^2 (1 - pi/4) for each mm of its length."""
    front = Front(at_mm=0, angle_rad=math.radians(lean), treatment="round", radius_mm=2.5)
    want = 80 * 20 * TOP_MM - 20 / math.sin(math.radians(lean)) * 2.5**2 * (1 - math.pi / 4)
    assert volume(body(BOX, Edge(), front)) == pytest.approx(want, rel=1e-12)


def arc_area(radius: FloatArray, center_x: FloatArray, sign: float) -> FloatArray:
    """Area of the box behind arcs about (center_x, 0): 80 x 20 less the strip up to the arc."""
    segment = 10 * np.sqrt(radius**2 - 100) + radius**2 * np.arcsin(10 / radius)
    area: FloatArray = 80 * 20 - (20 * center_x - sign * segment)
    return area


@pytest.mark.parametrize(("shape", "sign"), [("proud", 1.0), ("hollow", -1.0)])
def test_a_bevel_behind_an_arc(shape: str, sign: float) -> None:
    """Bevels behind proud and hollow arcs: circle segments by closed form, Simpson's rule over the height."""
    front = Front(
        at_mm=5,
        angle_rad=math.pi / 2,
        arc_mm=25,
        arc_shape="proud" if shape == "proud" else "hollow",
        treatment="bevel",
        slope_rad=math.radians(50),
        land_mm=1.0,
    )
    n = 2000
    z = np.linspace(1.0, TOP_MM, n + 1)
    setback = (z - 1.0) / math.tan(math.radians(50))
    radius = 25 - sign * setback
    area = arc_area(radius, np.full(n + 1, 5 + sign * 25), sign)
    weights = np.ones(n + 1)
    weights[1:-1:2], weights[2:-1:2] = 4, 2
    want = area[0] * 1.0 + float(weights @ area) * (TOP_MM - 1.0) / n / 3
    assert volume(body(BOX, Edge(), front)) == pytest.approx(want, rel=1e-9)


def test_holes_are_taken_out() -> None:
    """The plate of 100 x 25 x 6.35 with two holes of 3.2639 has 15768.74 mm3, by hand."""
    plate = Ring.from_rows([[0, -12.5], [100, -12.5], [100, 12.5], [0, 12.5]])
    plan = body(plate, Edge(), holes=((25, 0, 3.2639), (75, 2, 3.2639)))
    thick = volume(plan) * 6.35 / TOP_MM
    assert thick == pytest.approx(15768.74, abs=5e-3)


def test_a_hole_partly_in_the_bevel() -> None:
    """A hole that the bevel runs into: what is left of its circle at each height, by a midpoint rule.

    The front reaches the hole half way up, cuts it to a segment, and passes it further up.
    """
    slope, land, x, r = math.radians(40), 0.5, 3.0, 1.6
    front = Front(at_mm=0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=slope, land_mm=land)
    plan = body(BOX, Edge(), front, holes=((x, 2.0, 2 * r),))
    n = 200_000
    z = (np.arange(n) + 0.5) * TOP_MM / n
    setback = np.maximum(0, z - land) / math.tan(slope)
    # Circular segment beyond a chord at distance d from the centre (handbook, from memory).
    d = np.clip(setback - x, -r, r)
    hole = r**2 * np.arccos(d / r) - d * np.sqrt(r**2 - d**2)
    want = float((20 * (80 - setback) - hole).sum()) * TOP_MM / n
    assert volume(plan) == pytest.approx(want, rel=2e-6)
    for height in (0.2, 2.5, 3.3, 4.2, 5.9):
        s = max(0.0, height - land) / math.tan(slope)
        part = min(max(s - x, -r), r)
        left = r**2 * math.acos(part / r) - part * math.sqrt(r**2 - part**2)
        assert section_area_mm2(plan, height) == pytest.approx(20 * (80 - s) - left, rel=1e-9)


def test_a_hole_partly_under_the_edge() -> None:
    """A hole so near the edge that the round-over cuts it: segments by hand at each height."""
    r, size = 1.5, 2.0
    plan = body(STADIUM, Edge(treatment="round", size_mm=size), holes=((30, 6.0, 2 * r),))
    for z in (3.0, 4.5, 5.0, 5.5, 5.99):
        up = max(0.0, z - (TOP_MM - size))
        inset = size - math.sqrt(size**2 - up**2)
        section = STADIUM.area_mm2 - STADIUM.perimeter_mm * inset + math.pi * inset**2
        d = min(8 - inset - 6.0, r)
        lost = math.pi * r**2 - (r**2 * math.acos(d / r) - d * math.sqrt(r**2 - d**2))
        assert section_area_mm2(plan, z) == pytest.approx(section - lost, rel=1e-9)


def test_a_hole_outside_takes_nothing() -> None:
    """A hole ahead of the front or beside the body doesn't count."""
    front = Front(at_mm=0, angle_rad=math.pi / 2)
    plan = body(BOX, Edge(), front, holes=((-20, 0, 3), (40, 30, 3)))
    assert volume(plan) == pytest.approx(80 * 20 * TOP_MM)


def test_bevel_and_round_over_together() -> None:
    """A rounded box with a bevelled front, against plain slices of Steiner areas cut by hand.

    Behind x = s and inside by i the box keeps straight sides: (80 - i - s) by (20 - 2 i), less the two butt
    corners of radius 4 - i.
    """
    bulge = math.tan(math.pi / 8)
    ring = Ring.from_rows(
        [[-30, -10, 0], [76, -10, bulge], [80, -6, 0], [80, 6, bulge], [76, 10, 0], [-30, 10, 0]]
    )
    size, slope, land = 2.0, math.radians(45), 1.0
    front = Front(at_mm=0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=slope, land_mm=land)
    plan = body(ring, Edge(treatment="round", size_mm=size), front)
    n = 200_000
    z = (np.arange(n) + 0.5) * TOP_MM / n
    up = np.maximum(0, z - (TOP_MM - size))
    inset = size - np.sqrt(size**2 - up**2)
    setback = np.maximum(0, z - land)
    corners = 2 * (4 - inset) ** 2 * (1 - math.pi / 4)
    want = float(((80 - inset - setback) * (20 - 2 * inset) - corners).sum()) * TOP_MM / n
    assert volume(plan) == pytest.approx(want, rel=1e-7)


def test_a_front_that_passes_a_corner_is_summed_right() -> None:
    """A bevel whose upper edge sweeps across corners of the outline must give the volume of thin slices.

    Source: the midpoint rule with 6000 slices of the sections' exact areas, closed form for each.
    """
    rows = [(-9, -12.5), (100, -12.5), (100, 8), (14, 8), (13.5, 12.5), (-9, 12.5)]
    front = Front(at_mm=12, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(40), land_mm=1.2)

    def behind_mm2(x: float) -> float:
        # Rectangle up to y = 8, and what the sloping shoulder from (13.5, 12.5) to (14, 8) leaves above it.
        area = (100 - x) * 20.5
        if x < 13.5:
            return area + (13.5 - x) * 4.5 + 0.5 * 0.5 * 4.5
        return area + (0.5 * (14 - x) ** 2 * 9 if x < 14 else 0.0)

    count = 6000
    slices = ((k + 0.5) * 6 / count for k in range(count))
    exact = sum(behind_mm2(12 + max(0.0, z - 1.2) / math.tan(math.radians(40))) for z in slices) * 6 / count
    plan = BodyPlan(
        bottom_mm=0.0,
        seat_mm=6.0,
        top_mm=6.0,
        base=Ring.from_rows(rows),
        lip=None,
        edge=Edge(),
        front=front,
        curve=front_curve(front),
        allowance_mm=0.0,
        bores=(),
    )
    (volume,) = volumes_mm3(plan, (0.0, 6.0))
    assert volume == pytest.approx(exact, rel=1e-7)
