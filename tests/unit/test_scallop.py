"""Scallops, corners and passes: what is refused, and how the parts fit together."""

import math
from dataclasses import replace

import pytest

from scalegen.errors import UsageError
from scalegen.machining.scallop import (
    COMMON_PRACTICE,
    corner_rest_mm,
    first_grit,
    flute_shortage_mm,
    pass_depth,
    passes,
    scallop_mm,
    stair_mm,
    stepover_mm,
    stickout_share,
)
from scalegen.shop import load_shop

SHOP = load_shop(None)
CUTTER = SHOP.cutters["flat 1/8in"]


@pytest.mark.parametrize("slope_deg", [0, 20, 60])
@pytest.mark.parametrize("height", [0.0, 0.005, 0.1, 3.0])
def test_stepover_and_scallop_are_inverse(height: float, slope_deg: float) -> None:
    """A ridge of a height comes from the stepover that is given for it, on any slope."""
    slope = math.radians(slope_deg)
    step = stepover_mm(3.0, height, slope)
    assert scallop_mm(3.0, step, slope) == pytest.approx(height, abs=1e-12)


def test_a_slope_makes_a_ridge_worse() -> None:
    """The same stepover seen from above leaves more on a slope."""
    assert scallop_mm(3.0, 0.5, math.radians(45)) > 1.9 * scallop_mm(3.0, 0.5)


@pytest.mark.parametrize(
    ("radius", "step", "slope"),
    [(3.0, 6.1, 0.0), (3.0, -0.1, 0.0), (0.0, 0.0, 0.0), (3.0, 5.0, 1.2), (3.0, 0.1, math.pi / 2)],
)
def test_impossible_steps_are_refused(radius: float, step: float, slope: float) -> None:
    """Further apart than the ball is wide, backwards, no ball, or up a wall."""
    with pytest.raises(UsageError):
        scallop_mm(radius, step, slope)


def test_no_ridge_is_higher_than_the_radius() -> None:
    """Such a height is refused."""
    with pytest.raises(UsageError, match="cannot leave"):
        stepover_mm(3.0, 3.1)


def test_a_flat_cutter_leaves_stairs() -> None:
    """On 45 degrees a step of 1 leaves a triangle of height 1 / sqrt 2; on the level nothing."""
    assert stair_mm(1.0, math.pi / 4) == pytest.approx(math.sqrt(0.5))
    assert stair_mm(1.0, 0.0) == 0


def test_depths_per_pass_are_ranges_and_say_so() -> None:
    """Half to one diameter (common practice, no source), and never more than the flutes."""
    found = pass_depth(CUTTER)
    assert (found.least_mm, found.most_mm) == pytest.approx((1.5875, 3.175))
    assert found.source == COMMON_PRACTICE
    assert pass_depth(replace(CUTTER, flute_mm=2.0)).most_mm == 2.0


@pytest.mark.parametrize(
    ("depth", "wanted"), [(3.175, (1, 2)), (3.2, (2, 3)), (9.525, (3, 6)), (0.1, (1, 1))]
)
def test_passes_are_whole(depth: float, wanted: tuple[int, int]) -> None:
    """A hair more than a full pass takes another one."""
    assert passes(depth, pass_depth(CUTTER)) == wanted


def test_the_first_grit_fits_into_what_is_left() -> None:
    """Scallop and one grain of the first grit come to the allowance; with none left, no grit fits."""
    found = first_grit(SHOP.abrasives.values(), 0.016, 0.141)
    assert found is not None
    assert found.grade == "P120"
    assert first_grit(SHOP.abrasives.values(), 0.016, 0.017) is None


def test_a_wall_deeper_than_the_flutes_is_short_by_the_rest() -> None:
    """7/16 in of flutes reach 11.1125 mm down."""
    assert flute_shortage_mm(CUTTER, 12.0) == pytest.approx(0.8875)
    assert flute_shortage_mm(CUTTER, 11.0) == 0


def test_four_diameters_stick_out() -> None:
    """1/2 in of a 1/8 in cutter is just at the limit."""
    assert stickout_share(CUTTER) == pytest.approx(1.0)


def test_a_straight_line_is_no_corner() -> None:
    """Nothing stays at 180 degrees; more than that is refused."""
    assert corner_rest_mm(2.0, math.pi) == pytest.approx(0.0)
    with pytest.raises(UsageError):
        corner_rest_mm(2.0, 3.5)
