"""Layers at the back with an outline of their own: which they are, what they need, and what is refused."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Scale, design
from scalegen.errors import GeometryError
from scalegen.form.storeys import storeys_of
from scalegen.form.volumes import scale_volumes
from scalegen.model import Crown, Edge, Face, Front, Liner, OutlineSource, Pattern, PinSpec
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
BOX = Ring.from_rows([[0, -12], [110, -12], [110, 12], [0, 12]])
BEVEL = Front(at_mm=20.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(45), land_mm=1.2)
PATTERN = Pattern(
    name="stepped",
    title="Stepped",
    units="mm",
    path=Path("stepped.toml"),
    outline=OutlineSource(rows=tuple(map(tuple, BOX.rows.tolist()))),
    tang_mm=3.0,
    front=BEVEL,
    thickness_mm=6.2,
    edge=Edge(treatment="round", size_mm=1.5),
    trim_mm=0.8,
    back_allowance_mm=0.1,
    pins=(PinSpec(at_mm=(60.0, 0.0), hardware="pin 3mm"),),
    liner=Liner(step_mm=0.5),
)


def scale_of(pattern: Pattern = PATTERN, stack: str = "paper-six") -> Scale:
    """The box as a scale."""
    return design(pattern, BOX, resolve_stack(SHOP, stack), SHOP)


def refused(pattern: Pattern, finished: bool = False) -> GeometryError:
    """What is said against it."""
    with pytest.raises(GeometryError) as caught:
        storeys_of(scale_of(pattern), finished=finished)
    return caught.value


# --------------------------------------------------------------------------------------- which layers


def test_without_a_liner_a_scale_is_one_body() -> None:
    """A pattern that asks for no step must be built as before: one body of all layers."""
    scale = scale_of(replace(PATTERN, liner=None))
    (only,) = storeys_of(scale, finished=True)
    assert only.spans == scale.spans
    assert (scale.footprint, scale.glued) == (scale.as_cut, scale.finished)


@pytest.mark.parametrize(
    ("stack", "sheets", "count"),
    [("paper-six", None, 1), ("maple-spacer", None, 1), ("maple-spacer", 1, 1), ("maple-spacer", 2, 3)],
)
def test_films_between_stepped_sheets_go_with_them(stack: str, sheets: int | None, count: int) -> None:
    """Liners and the films between them are stepped; the film over the topmost one is not."""
    front = replace(BEVEL, land_mm=2.0)
    pattern = replace(PATTERN, front=front, liner=Liner(step_mm=0.5, sheets=sheets))
    scale = scale_of(pattern, stack)
    found = scale.stepped
    assert found is not None
    assert found.count == count
    assert found.top_mm == scale.spans[count - 1].top_mm
    assert [scale.step_mm(k) for k in range(len(scale.spans))] == [0.5] * count + [0.0] * (
        len(scale.spans) - count
    )
    low, high = storeys_of(scale, finished=False)
    assert (low.spans, high.spans) == (scale.spans[:count], scale.spans[count:])
    assert low.heights_mm[0] == -0.1
    assert low.heights_mm[-1] == high.heights_mm[0] == found.top_mm


def test_a_stack_without_a_liner_needs_a_number() -> None:
    """Where the sheet at the back is no liner nothing is guessed; with the number said it goes."""
    shop, stack = SHOP, resolve_stack(SHOP, "paper-six")
    layers = (replace(stack.layers[0], kind="spacer"), *stack.layers[1:])
    other = replace(stack, layers=layers)
    with pytest.raises(GeometryError, match="is no liner") as caught:
        design(PATTERN, BOX, other, shop)
    assert "sheets = 1" in caught.value.remedy
    scale = design(replace(PATTERN, liner=Liner(step_mm=0.5, sheets=1)), BOX, other, shop)
    assert scale.step_mm(0) == 0.5


@pytest.mark.parametrize("sheets", [2, 3])
def test_the_face_itself_cannot_be_stepped(sheets: int) -> None:
    """A step over all sheets must be refused: there is nothing left to step against."""
    with pytest.raises(GeometryError, match=f"over {sheets} of the scale's 2 sheets leaves none"):
        scale_of(replace(PATTERN, liner=Liner(step_mm=0.5, sheets=sheets)))


# ------------------------------------------------------------------------------------------- outlines


@pytest.mark.parametrize("step_mm", [0.5, -0.5])
def test_outlines_nest_and_end_together_at_the_front(step_mm: float) -> None:
    """Everywhere but at the front one outline must lie inside the other by the step."""
    scale = scale_of(replace(PATTERN, liner=Liner(step_mm=step_mm)))
    found = scale.stepped
    assert found is not None
    inner, outer = (scale.finished, found.finished) if step_mm > 0 else (found.finished, scale.finished)
    corners = inner.starts[inner.starts[:, 0] > 21.0]
    assert inside(outer, corners).all()
    assert distances_mm(outer, corners) == pytest.approx(np.full(len(corners), 0.5))
    assert inner.bounds_mm[0] == outer.bounds_mm[0] == 20.0


def test_a_proud_liner_has_the_trim_allowance_outside_its_own_outline() -> None:
    """The footprint must reach step and trim beyond the tang; no more than the tang has is glued."""
    scale = scale_of()
    assert scale.footprint.bounds_mm == pytest.approx((20.0, -13.3, 111.3, 13.3))
    assert scale.as_cut.bounds_mm == pytest.approx((20.0, -12.8, 110.8, 12.8))
    assert scale.glued is scale.finished


def test_a_liner_set_in_has_none() -> None:
    """What stands in a step can't be sanded off: as cut it must be as finished, and it alone is glued."""
    pattern = replace(PATTERN, liner=Liner(step_mm=-0.5))
    scale = scale_of(pattern)
    found = scale.stepped
    assert found is not None
    assert found.as_cut.bounds_mm == found.finished.bounds_mm == pytest.approx((20.0, -11.5, 109.5, 11.5))
    assert scale.footprint is scale.as_cut
    assert scale.glued is found.finished


# -------------------------------------------------------------------------------------------- refusals


@pytest.mark.parametrize("finished", [True, False])
def test_an_edge_that_comes_down_to_the_step_is_refused(finished: bool) -> None:
    """From the remedy's 0.05 mm of upright wall on it must go, and with less be refused with both heights."""
    deep = replace(PATTERN, edge=Edge(treatment="round", size_mm=5.46), pins=())
    error = refused(deep, finished)
    assert "reach 0.70 mm up" in error.message
    assert "the round-over, trim flange included, comes down to 0.74 mm" in error.message
    assert "leave 0.05 mm" in error.remedy
    storeys_of(scale_of(replace(deep, edge=Edge(treatment="round", size_mm=5.45))), finished=finished)


def test_the_flange_of_a_chamfer_counts_with_the_trim() -> None:
    """A chamfer goes on down through the flange: size and trim together must stay above the step."""
    pattern = replace(PATTERN, edge=Edge(treatment="chamfer", size_mm=4.66), pins=())
    assert "comes down to 0.74 mm" in refused(pattern).message
    storeys_of(scale_of(replace(pattern, edge=Edge(treatment="chamfer", size_mm=4.65))), finished=False)


def test_a_crown_that_comes_down_to_the_step_is_refused() -> None:
    """On a crown the sides count: 6.2 less the cylinder's sagitta at the walls, by trigonometry."""
    crowned = replace(PATTERN, edge=Edge(), face=Face(crown=Crown(radius_mm=17.5)), pins=())
    low = 6.2 - (17.5 - math.sqrt(17.5**2 - 12.8**2))
    error = refused(replace(crowned, front=replace(BEVEL, treatment="square")))
    assert f"the face comes down to {low:.2f} mm" in error.message
    milder = replace(crowned, face=Face(crown=Crown(radius_mm=40.0)))
    storeys_of(scale_of(milder), finished=False)


@pytest.mark.parametrize("face", [Face(), Face(crown=Crown(radius_mm=60.0))], ids=["flat", "crowned"])
def test_a_bevel_must_begin_at_the_step_or_above(face: Face) -> None:
    """A land as high as the stepped layers goes; a lower one must be refused with the land it takes."""
    pattern = replace(PATTERN, face=face, front=replace(BEVEL, land_mm=0.65))
    error = refused(pattern)
    assert "the front's bevel begins 0.65 mm up" in error.message
    assert "a land of 0.70 mm or more" in error.remedy
    storeys_of(scale_of(replace(pattern, front=replace(BEVEL, land_mm=0.7))), finished=False)


def test_a_hole_that_breaks_out_of_a_liner_set_in_is_refused() -> None:
    """A hole within the finished outline may lie across the liner's: it must be named with its place."""
    pattern = replace(PATTERN, liner=Liner(step_mm=-3.0), pins=(PinSpec(at_mm=(60.0, 8.0), diameter_mm=3.0),))
    assert "pin 1 at x = 60.00, y = 8.00 mm breaks out" in refused(pattern, finished=True).message
    moved = replace(pattern, pins=(PinSpec(at_mm=(60.0, 6.0), diameter_mm=3.0),))
    storeys_of(scale_of(moved), finished=True)


def test_a_back_allowance_that_takes_the_liner_is_refused() -> None:
    """When flattening the back leaves nothing of what is stepped, it must be said."""
    error = refused(replace(PATTERN, back_allowance_mm=0.8))
    assert "takes all that is stepped" in error.message


# --------------------------------------------------------------------------------------------- volumes


def test_blind_holes_that_end_in_the_liner_count_in_it() -> None:
    """A blind hole that ends within the stepped layers must take out only what it reaches. Closed form."""
    pin = PinSpec(at_mm=(60.0, 0.0), diameter_mm=3.0, hole_mm=3.0)
    bare, blind = (
        scale_volumes(scale_of(replace(PATTERN, pins=pins))).finished_mm3
        for pins in ((), (replace(pin, cover_mm=5.8),))
    )
    taken = {name: bare[name] - blind[name] for name in bare}
    assert list(taken.values()) == pytest.approx([math.pi * 1.5**2 * 0.4, 0.0, 0.0], abs=1e-6)
