"""ISO tolerance grades for the sizes that pins come in.

Source: ISO 286-1, standard tolerance grades IT6 to IT12 up to 18 mm (read in public copies of the 1988 text).
The printed values are rounded by hand from the standard's formula, so they are a table here, not a formula.
"""

import re
from itertools import pairwise
from typing import Final

from scalegen.units import LengthError, describe

GRADES: Final = (6, 7, 8, 9, 10, 11, 12)

# "Over .. up to and including" in mm; below, IT6 to IT12 of each step in um.
_STEP_BORDERS_MM: Final = (0.0, 3.0, 6.0, 10.0, 18.0)
_TOLERANCES_UM: Final = (
    (6, 10, 14, 25, 40, 60, 100),
    (8, 12, 18, 30, 48, 75, 120),
    (9, 15, 22, 36, 58, 90, 150),
    (11, 18, 27, 43, 70, 110, 180),
)


def tolerance_um(nominal_mm: float, grade: int) -> int:
    """Width of a tolerance zone.

    Args:
        nominal_mm: Nominal size, over 0 and up to 18 mm.
        grade: 6 to 12, for IT6 to IT12.

    Returns:
        The tolerance in um.

    Raises:
        LengthError: The size or grade is not in the table.
    """
    if grade not in GRADES:
        raise LengthError(
            f"grade IT{grade} is not in the table", f"grades IT{GRADES[0]} to IT{GRADES[-1]} are"
        )
    for (over, up_to), row in zip(pairwise(_STEP_BORDERS_MM), _TOLERANCES_UM, strict=True):
        if over < nominal_mm <= up_to:
            return row[GRADES.index(grade)]
    raise LengthError(
        f"{nominal_mm:g} mm is not in the tolerance table",
        f"sizes over {_STEP_BORDERS_MM[0]:g} and up to {_STEP_BORDERS_MM[-1]:g} mm are",
    )


def hole_limits_mm(nominal_mm: float, fit: str) -> tuple[float, float]:
    """Smallest and largest diameter of an H hole, which never goes under its nominal size.

    Args:
        nominal_mm: Nominal size, over 0 and up to 18 mm.
        fit: ``"H6"`` to ``"H12"``.

    Returns:
        Smallest and largest diameter in mm.

    Raises:
        LengthError: The size or the fit is not in the table.
    """
    match = re.fullmatch(r"H([0-9]{1,2})", fit.strip())
    if match is None:
        raise LengthError(f"{describe(fit)} is not a hole tolerance known here", 'give "H6" to "H12"')
    return nominal_mm, nominal_mm + tolerance_um(nominal_mm, int(match[1])) / 1000.0
