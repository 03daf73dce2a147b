"""The plane that a blank's readings lie in, and readings that stand out from it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt

from scalegen.model import Reading

FloatArray = npt.NDArray[np.float64]

SCORE_LIMIT: Final = 3.5
"""Modified z-score above which a value stands out.

Source: B. Iglewicz and D. Hoaglin, How to Detect and Handle Outliers (1993), as cited in the NIST/SEMATECH
e-Handbook of Statistical Methods, 1.3.5.17.
"""

OFF_FLOOR_MM: Final = 0.03
"""Nothing nearer than this stands out: a calliper's step and the hand's. Common practice, no source."""

LEAST_READINGS: Final = 5
LEAST_FOR_PLANE: Final = 6

NARROWEST: Final = 0.02
"""Places whose width over their length, both root mean squares, is less lie in one line. Our choice."""

NARROWEST_MM: Final = 1.0
"""Nor does a narrower band tell a slope: a calliper's jaws are wider. Common practice, no source."""

_FREE: Final = 3
_PICKS: Final = 16
_ROUNDS: Final = 5
_DUST_MM: Final = 1e-9


@dataclass(frozen=True, kw_only=True)
class Plane:
    """A blank's thickness as a plane over its length and width.

    Attributes:
        thickness_mm: Thickness at the middle of the places it was fitted to.
        middle_mm: That middle, x and y.
        slope_x: Gain in thickness along x, mm per mm.
        slope_y: Gain across, along y.
        rms_mm: Root mean square of the residuals.
        largest_mm: Largest residual, sign left out.
    """

    thickness_mm: float
    middle_mm: tuple[float, float]
    slope_x: float
    slope_y: float
    rms_mm: float
    largest_mm: float

    def at(self, x_mm: float, y_mm: float) -> float:
        """Thickness of the plane at a place, mm; the place need not be on the blank."""
        along_mm, across_mm = x_mm - self.middle_mm[0], y_mm - self.middle_mm[1]
        return self.thickness_mm + self.slope_x * along_mm + self.slope_y * across_mm


def fit_plane(readings: Sequence[Reading]) -> Plane | None:
    """The plane nearest to the readings: least squares of the differences in thickness.

    Args:
        readings: Readings in any order; those without a place are left out.

    Returns:
        The plane; None with fewer than 3 readings at a place, or when their places lie in one line: the
        smaller singular value of the centred places is under 0.02 of the larger, or under 1 mm as a root
        mean square.
    """
    rows = _rows(readings)
    if len(rows) < _FREE:
        return None
    middle = rows[:, :2].mean(axis=0)
    offsets = rows[:, :2] - middle
    length_mm, width_mm = np.linalg.svd(offsets, compute_uv=False) / math.sqrt(len(rows))
    if width_mm < max(NARROWEST * length_mm, NARROWEST_MM):
        return None
    # Places are centred, so the thickness at the middle is the mean, and only the slopes are left to find.
    thickness_mm = float(rows[:, 2].mean())
    slopes = np.linalg.lstsq(offsets, rows[:, 2] - thickness_mm, rcond=None)[0]
    residuals = rows[:, 2] - thickness_mm - offsets @ slopes
    return Plane(
        thickness_mm=thickness_mm,
        middle_mm=(float(middle[0]), float(middle[1])),
        slope_x=float(slopes[0]),
        slope_y=float(slopes[1]),
        rms_mm=float(np.sqrt((residuals**2).mean())),
        largest_mm=float(np.abs(residuals).max()),
    )


def modified_scores(values: Sequence[float] | FloatArray, free: int = 0) -> FloatArray:
    """Modified z-scores: 0.6745 (value - median) / MAD, where MAD is the median of the distances from it.

    Args:
        values: n values, n > ``free``.
        free: How many of them something fitted can be made to pass through. So many of the smallest
            distances say nothing about the spread; they are left out, and the MAD is widened by
            sqrt(n / (n - free)).

    Returns:
        float64 (n,); infinite, with its sign, for a value off the median where the MAD is 0.

    Source: Iglewicz and Hoaglin (1993), see :data:`SCORE_LIMIT`; for ``free``, the degrees of freedom of a
        residual variance (any regression textbook), and the small samples tried here.
    """
    table = np.asarray(values, dtype=np.float64)
    off = table - np.median(table)
    mad = float(np.median(np.sort(np.abs(off))[free:])) * math.sqrt(len(table) / (len(table) - free))
    if mad > 0:
        scores: FloatArray = 0.6745 * off / mad
        return scores
    return np.where(off == 0, 0.0, np.copysign(np.inf, off))


def off_mm(readings: Sequence[Reading], plane: Plane | None) -> FloatArray:
    """How far each reading stands off: from the plane where it has a place, else from the median reading.

    Args:
        readings: n readings.
        plane: The plane, or None to judge all by the median.

    Returns:
        float64 (n,) in mm, positive where the reading is thicker.
    """
    usual_mm = float(np.median([reading.thickness_mm for reading in readings]))
    return np.array(
        [
            reading.thickness_mm
            - (usual_mm if plane is None or place is None else plane.at(place[0], place[1]))
            for reading, place in ((each, _place(each)) for each in readings)
        ]
    )


def outliers(readings: Sequence[Reading], plane: Plane | None) -> tuple[int, ...]:
    """Which readings stand out so far that they are better taken again.

    A reading stands out when its modified z-score is above 3.5 and it is more than 0.03 mm off. Six or more
    readings at places are judged by their residuals from a plane. Least squares leans towards a reading that
    is far off and so hides it, the more so the fewer there are; so the search starts at the plane with the
    least median of residuals among ``plane`` and those through any three readings, and goes on with the
    least-squares plane of the readings that do not stand out.

    Args:
        readings: Readings in any order.
        plane: Least-squares plane of all the readings, see :func:`fit_plane`; None to judge thicknesses
            alone.

    Returns:
        Indices into ``readings``, rising; none with fewer than 5 readings.

    Source: P. Rousseeuw, Least Median of Squares Regression, J. Am. Stat. Assoc. 79 (1984), for the start
        (from memory).
    """
    if len(readings) < LEAST_READINGS:
        return ()
    found = set(_standing_out(off_mm(readings, None), 0))
    placed = [k for k, reading in enumerate(readings) if _place(reading) is not None]
    if plane is not None and len(placed) >= LEAST_FOR_PLANE:
        local = _off_plane([readings[k] for k in placed], plane)
        found = (found - set(placed)) | {placed[k] for k in local}
    return tuple(sorted(found))


def _off_plane(readings: Sequence[Reading], plane: Plane) -> tuple[int, ...]:
    """Indices of readings, all with places, that stand out from the plane of the others."""
    found = _standing_out(off_mm(readings, _steady_plane(readings, plane)), _FREE)
    for _ in range(_ROUNDS):
        kept = [reading for k, reading in enumerate(readings) if k not in found]
        refit = fit_plane(kept)
        if refit is None:
            break
        again = _standing_out(off_mm(readings, refit), _FREE)
        if again == found:
            break
        found = again
    return found


def _standing_out(distances_mm: FloatArray, free: int) -> tuple[int, ...]:
    scores = np.abs(modified_scores(distances_mm, free))
    far = np.abs(distances_mm - np.median(distances_mm)) > OFF_FLOOR_MM + _DUST_MM
    return tuple(int(k) for k in np.nonzero(far & (scores > SCORE_LIMIT))[0])


def _steady_plane(readings: Sequence[Reading], plane: Plane) -> Plane:
    """Of this plane and those through three readings, the one with the least median of residuals.

    Three are taken of all readings up to 16, else of 16 evenly spread over the thicknesses.
    """
    rows = _rows(readings)
    count = len(rows)
    ranked = rows[np.argsort(rows[:, 2], kind="stable")]
    picks = ranked[np.unique(np.linspace(0, count - 1, min(count, _PICKS)).round().astype(int))]
    best, least_mm = plane, _middle_residual_mm(rows, plane)
    for three in combinations(picks, _FREE):
        through = _through(np.array(three))
        if through is not None and (residual_mm := _middle_residual_mm(rows, through)) < least_mm:
            best, least_mm = through, residual_mm
    return best


def _middle_residual_mm(rows: FloatArray, plane: Plane) -> float:
    """The residual (n // 2 + 2)th in size, which three fitted ones and a half of the others don't exceed."""
    flat = plane.thickness_mm + (rows[:, :2] - plane.middle_mm) @ (plane.slope_x, plane.slope_y)
    residuals = np.abs(rows[:, 2] - flat)
    return float(np.partition(residuals, len(rows) // 2 + 1)[len(rows) // 2 + 1])


def _through(three: FloatArray) -> Plane | None:
    """The plane through three rows x, y, thickness; None when their places lie in one line."""
    first, second = three[1] - three[0], three[2] - three[0]
    across = np.cross(first, second)
    reach = float(np.hypot(*first[:2]) * np.hypot(*second[:2]))
    if abs(across[2]) <= NARROWEST * reach:
        return None
    return Plane(
        thickness_mm=float(three[0, 2]),
        middle_mm=(float(three[0, 0]), float(three[0, 1])),
        slope_x=float(-across[0] / across[2]),
        slope_y=float(-across[1] / across[2]),
        rms_mm=0.0,
        largest_mm=0.0,
    )


def _place(reading: Reading) -> tuple[float, float] | None:
    if reading.x_mm is None or reading.y_mm is None:
        return None
    return reading.x_mm, reading.y_mm


def _rows(readings: Sequence[Reading]) -> FloatArray:
    """float64 (n, 3) x, y, thickness of the readings with places, in an order of their own."""
    rows = sorted(
        (*place, reading.thickness_mm) for reading in readings if (place := _place(reading)) is not None
    )
    return np.array(rows, dtype=np.float64).reshape(-1, 3)
