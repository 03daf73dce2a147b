"""What the table of tolerances refuses; its values are checked in tests/validation/test_iso286.py."""

import math

import pytest

from scalegen.shop.fits import hole_limits_mm, tolerance_um
from scalegen.units import LengthError


@pytest.mark.parametrize("nominal_mm", [0.0, -1.0, 18.001, math.nan, math.inf])
def test_sizes_outside_the_table_are_refused(nominal_mm: float) -> None:
    """No tolerance is made up for a size that the table does not have."""
    with pytest.raises(LengthError, match="up to 18 mm"):
        tolerance_um(nominal_mm, 9)


@pytest.mark.parametrize("grade", [5, 13, 0])
def test_grades_outside_the_table_are_refused(grade: int) -> None:
    """No tolerance is made up for a grade that the table does not have."""
    with pytest.raises(LengthError, match="IT6 to IT12"):
        tolerance_um(6.0, grade)


@pytest.mark.parametrize("fit", ["", "11", "G7", "h7", "H", "H100", "H5"])
def test_other_fits_are_refused(fit: str) -> None:
    """Only H holes of the grades in the table are known."""
    with pytest.raises(LengthError):
        hole_limits_mm(6.0, fit)
