"""Tolerance grades against ISO 286-1 (public copies of the 1988 text and two reference tables)."""

import math

import pytest

from scalegen.shop.fits import GRADES, hole_limits_mm, tolerance_um

# Multiples of the tolerance unit i for IT6 to IT12: ISO 286-1.
MULTIPLES = dict(zip(GRADES, (10, 16, 25, 40, 64, 100, 160), strict=True))


@pytest.mark.parametrize(
    ("nominal_mm", "it11_um"), [(3.0, 60), (3.175, 75), (6.0, 75), (6.35, 90), (10.0, 90), (18.0, 110)]
)
def test_a_border_belongs_to_the_step_below(nominal_mm: float, it11_um: int) -> None:
    """Steps go from over their lower border up to and including the upper one."""
    assert tolerance_um(nominal_mm, 11) == it11_um


@pytest.mark.parametrize(
    ("low_mm", "high_mm", "unit_um", "within"),
    [(1, 3, 0.5422, 0.14), (3, 6, 0.7327, 0.09), (6, 10, 0.8981, 0.09), (10, 18, 1.0827, 0.05)],
)
def test_table_follows_the_formula_loosely(
    low_mm: float, high_mm: float, unit_um: float, within: float
) -> None:
    """The printed table is i = 0.45 D^(1/3) + 0.001 D times the grade's multiple, rounded by hand."""
    mean_mm = math.sqrt(low_mm * high_mm)
    i_um = 0.45 * mean_mm ** (1 / 3) + 0.001 * mean_mm
    assert i_um == pytest.approx(unit_um, abs=0.00005)
    for grade, multiple in MULTIPLES.items():
        assert multiple * i_um == pytest.approx(tolerance_um(high_mm, grade), rel=within)


def test_five_grades_up_is_ten_times_as_wide() -> None:
    """ISO 286-1: the tolerance grows tenfold every five grades; the table rounds by up to 7 %."""
    for nominal_mm in (2.0, 5.0, 8.0, 15.0):
        assert tolerance_um(nominal_mm, 11) == pytest.approx(10 * tolerance_um(nominal_mm, 6), rel=0.07)


@pytest.mark.parametrize(
    ("nominal_mm", "fit", "limits_mm"),
    [(6.0, "H11", (6.000, 6.075)), (3.0, "H9", (3.000, 3.025)), (6.35, "H12", (6.35, 6.50))],
)
def test_an_h_hole_starts_at_nominal(nominal_mm: float, fit: str, limits_mm: tuple[float, float]) -> None:
    """H: lower deviation 0, upper deviation the tolerance (ISO 286-1)."""
    assert hole_limits_mm(nominal_mm, fit) == pytest.approx(limits_mm, abs=1e-9)
