"""The plan of a body: its heights, rings and sections, finished and as cut."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import scalegen
from scalegen.design import Scale, design
from scalegen.errors import GeometryError
from scalegen.form.body import (
    body_plan,
    circle,
    edge_lip,
    edge_name,
    section_area_mm2,
    volumes_mm3,
)
from scalegen.form.bores import open_at
from scalegen.model import Edge
from scalegen.outline.measure import distances_mm, inside, sampled
from scalegen.outline.read import read_outline
from scalegen.pattern.read import read_pattern
from scalegen.shop import load_shop, resolve_stack

DATA = Path(scalegen.__file__).parent / "data"
NAMES = ("siskin", "harrier", "curlew")


def scale_of(name: str, edge: Edge | None = None) -> Scale:
    """The scale of a pattern that comes with the tool."""
    shop = load_shop(DATA / "shared")
    pattern = read_pattern(DATA / "profiles" / f"{name}.toml")
    if edge is not None:
        pattern = replace(pattern, edge=edge)
    stack = resolve_stack(shop, pattern.stock or next(iter(shop.stacks)))
    return design(pattern, read_outline(pattern.outline).ring, stack, shop)


@pytest.fixture(scope="module", params=NAMES)
def scale(request: pytest.FixtureRequest) -> Scale:
    """Each of the patterns that come with the tool."""
    return scale_of(request.param)


def test_heights_follow_from_the_scale(scale: Scale) -> None:
    """As cut begins at minus the back allowance, finished at 0; both end at the thickness."""
    finished, as_cut = body_plan(scale, finished=True), body_plan(scale, finished=False)
    assert (finished.bottom_mm, as_cut.bottom_mm) == (0, -scale.back_allowance_mm)
    assert finished.top_mm == as_cut.top_mm == scale.thickness_mm
    size = scale.pattern.edge.size_mm
    assert finished.seat_mm == pytest.approx(scale.thickness_mm - size)
    lower = scale.pattern.trim_mm if scale.pattern.edge.treatment == "chamfer" else 0
    assert as_cut.seat_mm == pytest.approx(scale.thickness_mm - size - lower)
    assert finished.inset_mm == pytest.approx(size)


def test_sections_at_the_back_are_the_outlines(scale: Scale) -> None:
    """At the back the finished section is the finished outline, the as-cut one that of the machine."""
    for finished, ring in ((True, scale.finished), (False, scale.as_cut)):
        (section,) = body_plan(scale, finished=finished).section_at(0.0)
        assert section.area_mm2 == pytest.approx(ring.area_mm2, rel=1e-9)
        assert distances_mm(ring, sampled(section, 1.0)).max() < 1e-6


def test_as_cut_holds_finished_at_every_height(scale: Scale) -> None:
    """After sanding nothing is missing: the finished section lies in the as-cut one all the way up."""
    finished, as_cut = body_plan(scale, finished=True), body_plan(scale, finished=False)
    for z in np.linspace(0.05, scale.thickness_mm - 0.05, 7):
        outer = as_cut.section_at(z)[0]
        for part in finished.section_at(z):
            points = sampled(part, 1.0)
            assert (inside(outer, points) | (distances_mm(outer, points) < 1e-6)).all()


def test_sections_shrink_towards_the_top(scale: Scale) -> None:
    """No section is larger than one below it."""
    plan = body_plan(scale, finished=True)
    areas = [section_area_mm2(plan, z) for z in np.linspace(0, scale.thickness_mm - 1e-9, 30)]
    assert (np.diff(areas) <= 1e-9).all()


def test_the_edge_is_where_it_was_asked_for(scale: Scale) -> None:
    """Sanded flush, the edge starts at the finished outline: the as-cut surface passes through it there."""
    finished, as_cut = body_plan(scale, finished=True), body_plan(scale, finished=False)
    z = scale.thickness_mm - scale.pattern.edge.size_mm / 3
    a, b = finished.region_at(z), as_cut.region_at(z)
    assert distances_mm(a, sampled(b, 1.0)).max() < 1e-9


def test_volumes_add_up_whatever_the_layers(scale: Scale) -> None:
    """Splitting a body at other heights must not change its volume."""
    plan = body_plan(scale, finished=False)
    (whole,) = volumes_mm3(plan, (plan.bottom_mm, plan.top_mm))
    heights = (plan.bottom_mm, 0.7, plan.seat_mm + 0.3, plan.top_mm)
    assert sum(volumes_mm3(plan, heights)) == pytest.approx(whole, rel=2e-9)


def test_volumes_against_plain_slices(scale: Scale) -> None:
    """The volume must be that of many thin slices of the traced sections, by the midpoint rule."""
    plan = body_plan(scale, finished=True)
    (whole,) = volumes_mm3(plan, (0.0, plan.top_mm))
    n = 40
    heights = (np.arange(n) + 0.5) * plan.top_mm / n
    cut = sum(
        part.area_mm2
        - sum(
            math.pi * d * d / 4 for x, y, d in open_at(plan.bores, 1.0) if inside(part, np.array([[x, y]]))[0]
        )
        for z in heights
        for part in plan.section_at(z)
    )
    assert whole == pytest.approx(cut * plan.top_mm / n, rel=2e-3)


def test_an_edge_through_the_thickness_is_refused() -> None:
    """A round-over as deep as the scale is thick must be refused, with the field."""
    with pytest.raises(
        GeometryError, match="round-over of 9 mm goes through the scale's thickness"
    ) as caught:
        body_plan(scale_of("siskin", Edge(treatment="round", size_mm=9.0)), finished=True)
    assert caught.value.where == "scale.edge"


def test_a_chamfer_through_the_flange_is_refused_as_cut() -> None:
    """A chamfer goes on down through the trim allowance; when that is too deep, the message says so."""
    scale = scale_of("siskin", Edge(treatment="chamfer", size_mm=5.6))
    body_deep = replace(scale, pattern=replace(scale.pattern, trim_mm=0.7))
    with pytest.raises(GeometryError, match=r"chamfer of 5\.6 mm and the trim allowance of 0\.7 mm"):
        body_plan(body_deep, finished=False)


def test_a_square_edge_has_no_lip() -> None:
    """A square edge leaves the walls upright to the top."""
    scale = scale_of("siskin", Edge())
    plan = body_plan(scale, finished=True)
    assert plan.lip is None
    assert (plan.seat_mm, plan.inset_mm, plan.inset_at_mm(plan.top_mm)) == (plan.top_mm, 0, 0)
    assert plan.is_steady(0.1, 1.0)
    assert edge_name(Edge(treatment="chamfer")) == "chamfer"


def test_the_lip_lies_on_the_finished_outline(scale: Scale) -> None:
    """Behind the front the lip keeps within what rounding the corners takes."""
    lip = edge_lip(scale)
    inner = sampled(lip, 1.0)
    assert (inside(scale.carried, inner) | (distances_mm(scale.carried, inner) < 0.05)).all()


def test_a_circle_is_two_half_circles() -> None:
    """Area and centre of a hole's ring."""
    assert circle(3, 4, 2).area_mm2 == pytest.approx(math.pi)
    assert circle(3, 4, 2).bounds_mm == pytest.approx((2, 3, 4, 5))
