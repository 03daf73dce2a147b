"""Readings of a blank against certified regressions, exact arithmetic and published rules."""

import math
import re
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest

from scalegen.model import Adhesive, Layer, LayerKind, SheetStock, Stack
from scalegen.shop.blank import blank_report
from scalegen.shop.facing import face_blank
from scalegen.shop.plane import fit_plane, modified_scores, outliers
from scalegen.shop.readings import Reading

IN = 25.4  # mm, NBS Circular 572

# NIST Statistical Reference Datasets, linear regression, "Pontius": deflection against load and its square,
# two runs at 150,000, 300,000 ... 3,000,000. Read from public copies of the data set.
DEFLECTIONS = """
 .11019 .21956 .32949 .43899 .54803 .65694 .76562 .87487 .98292 1.09146
1.20001 1.30822 1.41599 1.52399 1.63194 1.73947 1.84646 1.95392 2.06128 2.16844
 .11052 .22018 .32939 .43886 .54798 .65739 .76596 .87474 .98300 1.09150
1.20004 1.30818 1.41613 1.52408 1.63159 1.73965 1.84696 1.95445 2.06177 2.16829
"""
CERTIFIED = (0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14)
CERTIFIED_RESIDUAL_SD = 0.205177424076185e-03

Row = tuple[Fraction, Fraction, Fraction]


def pontius() -> list[Row]:
    """Rows load / 1e4, (load / 1e5) squared, deflection, exact: of a blank's size when read as mm."""
    loads = [Fraction(150_000 * k) for k in range(1, 21)] * 2
    texts = re.findall(r"[0-9.]+", DEFLECTIONS)
    return [
        (load / 10**4, (load / 10**5) ** 2, Fraction(text)) for load, text in zip(loads, texts, strict=True)
    ]


def exact_plane(rows: Sequence[Row]) -> tuple[Fraction, Fraction, Fraction]:
    """Constant and two slopes by the normal equations, solved by Cramer's rule in exact fractions."""
    columns = [[Fraction(1)] * len(rows), [row[0] for row in rows], [row[1] for row in rows]]
    seen = [row[2] for row in rows]

    def dot(first: Sequence[Fraction], second: Sequence[Fraction]) -> Fraction:
        return sum((a * b for a, b in zip(first, second, strict=True)), Fraction(0))

    def determinant(m: Sequence[Sequence[Fraction]]) -> Fraction:
        (a, b, c), (d, e, f), (g, h, i) = m
        return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)

    matrix = [[dot(first, second) for second in columns] for first in columns]
    right = [dot(column, seen) for column in columns]
    whole = determinant(matrix)

    def solved(k: int) -> Fraction:
        replaced = [[right[i] if j == k else matrix[i][j] for j in range(3)] for i in range(3)]
        return determinant(replaced) / whole

    return solved(0), solved(1), solved(2)


def readings_of(rows: Sequence[Row]) -> list[Reading]:
    """Readings from exact rows."""
    return [Reading(x_mm=float(x), y_mm=float(y), thickness_mm=float(t)) for x, y, t in rows]


def test_exact_fractions_give_the_certified_regression() -> None:
    """The normal equations in exact fractions give NIST's certified values of Pontius to 14 digits."""
    constant, first, second = exact_plane(pontius())
    found = (float(constant), float(first / 10**4), float(second / 10**10))
    assert found == pytest.approx(CERTIFIED, rel=1e-14)


def test_the_plane_gives_the_certified_regression() -> None:
    """Our plane over load and its square is NIST's certified regression, its residuals as well.

    Source: NIST StRD, Pontius: certified estimates and residual standard deviation of 40 - 3 degrees.
    """
    plane = fit_plane(readings_of(pontius()))
    assert plane is not None
    assert plane.at(0.0, 0.0) == pytest.approx(CERTIFIED[0], rel=1e-9)
    assert plane.slope_x / 1e4 == pytest.approx(CERTIFIED[1], rel=1e-11)
    assert plane.slope_y / 1e10 == pytest.approx(CERTIFIED[2], rel=1e-9)
    assert plane.rms_mm * math.sqrt(40 / 37) == pytest.approx(CERTIFIED_RESIDUAL_SD, rel=1e-9)


def test_the_plane_by_exact_fractions() -> None:
    """Seven uneven readings of a blank: our plane is that of the normal equations in exact fractions."""
    texts = (
        ("12.5", "8", "7.42"), ("150", "6.5", "7.38"), ("288", "9", "7.31"), ("14", "71", "7.47"),
        ("161", "66", "7.40"), ("290.5", "70", "7.36"), ("201", "33", "7.35"),
    )  # fmt: skip
    rows = [(Fraction(x), Fraction(y), Fraction(t)) for x, y, t in texts]
    constant, first, second = exact_plane(rows)
    residuals = [t - constant - first * x - second * y for x, y, t in rows]
    plane = fit_plane(readings_of(rows))
    assert plane is not None
    assert plane.at(0.0, 0.0) == pytest.approx(float(constant), rel=1e-13)
    assert plane.slope_x == pytest.approx(float(first), rel=1e-11)
    assert plane.slope_y == pytest.approx(float(second), rel=1e-11)
    assert plane.rms_mm == pytest.approx(math.sqrt(float(sum(r * r for r in residuals) / 7)), rel=1e-10)
    assert plane.largest_mm == pytest.approx(float(max(abs(r) for r in residuals)), rel=1e-10)


def test_scores_by_hand() -> None:
    """Modified z-scores worked by hand from their definition.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17: M = 0.6745 (x - median) / MAD, and
    more than 3.5 is a potential outlier (Iglewicz and Hoaglin 1993); definition from memory. The values are
    ours: of 7.00, 7.02, 7.03, 7.05, 7.06, 7.08, 7.40 the median is 7.05, the distances from it are 0.05,
    0.03, 0.02, 0, 0.01, 0.03, 0.35, and their median is 0.03.
    """
    values = (7.00, 7.02, 7.03, 7.05, 7.06, 7.08, 7.40)
    by_hand = (-1.12416667, -0.6745, -0.44966667, 0.0, 0.22483333, 0.6745, 7.86916667)
    assert modified_scores(values) == pytest.approx(np.array(by_hand), abs=1e-6)
    assert outliers([Reading(thickness_mm=each) for each in values], None) == (6,)


@pytest.mark.parametrize(("last_mm", "expected"), [(7.20, ()), (7.21, (6,))])
def test_the_limit_of_the_scores_by_hand(last_mm: float, expected: tuple[int, ...]) -> None:
    """With median 7.05 and MAD 0.03 the limit of 3.5 is reached at 7.05 + 3.5 x 0.03 / 0.6745 = 7.2057 mm.

    Source: as above.
    """
    values = (7.00, 7.02, 7.03, 7.05, 7.06, 7.08, last_mm)
    assert outliers([Reading(thickness_mm=each) for each in values], None) == expected


def test_tolerances_of_a_stack() -> None:
    """3/16 in CE, 0.031 in G-10 and 0.004 in of glue: 0.2225 in, 0.0190 worst case, 0.0141 likely.

    Source: the sheets' tolerances as a laminate converter prints them after NEMA LI 1 (0.0125 and 0.0065 in);
    sum and root of the sum of squares are arithmetic.
    """

    def sheet(thickness_in: float, tolerance_in: float) -> SheetStock:
        return SheetStock(
            name="sheet",
            kind="face",
            material="laminate",
            thickness_mm=thickness_in * IN,
            tolerance_mm=tolerance_in * IN,
            length_mm=300.0,
            width_mm=150.0,
            density_g_cm3=1.35,
            color="#808080",
            price=None,
        )

    glue = Adhesive(
        name="glue", density_g_cm3=1.15, bond_mm=0.004 * IN, waste=2.0, color="#ffffff", price_per_g=None
    )
    sheets = (sheet(0.031, 0.0065), sheet(0.1875, 0.0125))
    report = blank_report(sheets, glue, [Reading(thickness_mm=0.2395 * IN)])
    assert report.nominal_mm / IN == pytest.approx(0.2225, abs=1e-12)
    assert report.worst_case_mm / IN == pytest.approx(0.0190, abs=1e-12)
    assert report.root_sum_square_mm / IN == pytest.approx(0.0141, abs=0.00005)
    # 0.2395 in is 0.0170 over: inside the worst case, outside what is likely.
    assert report.share_of_worst_case == pytest.approx(17 / 19)
    assert report.share_of_root_sum_square == pytest.approx(0.0170 / math.sqrt(0.0125**2 + 0.0065**2))


def test_the_plane_against_an_independent_solver() -> None:
    """Uneven, noisy readings: our plane, fitted about its middle, is numpy's over columns 1, x and y.

    Source: numpy.linalg.lstsq; its residual sum of squares beside our root mean square.
    """
    rng = np.random.default_rng(11)
    x, y = rng.uniform(0.0, 300.0, 25), rng.uniform(0.0, 150.0, 25)
    t = 6.9 + 0.0005 * x - 0.0003 * y + rng.normal(0.0, 0.02, 25)
    solved, squares, *_ = np.linalg.lstsq(np.column_stack([np.ones(25), x, y]), t, rcond=None)
    plane = fit_plane(
        [
            Reading(x_mm=float(a), y_mm=float(b), thickness_mm=float(c))
            for a, b, c in zip(x, y, t, strict=True)
        ]
    )
    assert plane is not None
    assert plane.at(0.0, 0.0) == pytest.approx(solved[0], rel=1e-12)
    assert (plane.slope_x, plane.slope_y) == pytest.approx((solved[1], solved[2]), rel=1e-9)
    assert plane.rms_mm == pytest.approx(math.sqrt(squares[0] / 25), rel=1e-9)


def test_what_the_tolerances_leave_to_face_off() -> None:
    """A scale of 0.2000 in from a stack of 0.2225 in +-0.0190 in is faced by 0.0035 to 0.0415 in.

    Source: nominal and worst case as above; the difference is arithmetic.
    """

    def sheet(name: str, kind: LayerKind, thickness_in: float, tolerance_in: float) -> SheetStock:
        return SheetStock(
            name=name,
            kind=kind,
            material="laminate",
            thickness_mm=thickness_in * IN,
            tolerance_mm=tolerance_in * IN,
            length_mm=300.0,
            width_mm=150.0,
            density_g_cm3=1.35,
            color="#808080",
            price=None,
        )

    sheets = (sheet("G-10", "liner", 0.031, 0.0065), sheet("CE", "face", 0.1875, 0.0125))
    film = Layer(name="glue", kind="bond", thickness_mm=0.004 * IN, density_g_cm3=1.15, color="#ffffff")
    layers = [
        Layer(
            name=each.name,
            kind=each.kind,
            thickness_mm=each.thickness_mm,
            density_g_cm3=each.density_g_cm3,
            color=each.color,
        )
        for each in sheets
    ]
    stack = Stack(
        name="test",
        layers=(layers[0], film, layers[1]),
        nominal_mm=0.2225 * IN,
        measured_mm=(),
        tolerance_mm=0.0190 * IN,
        adhesive="glue",
        glue_up="glue",
    )
    facing = face_blank(
        stack, sheets, None, size_mm=(300.0, 150.0), need_mm=0.2000 * IN, back_allowance_mm=0.005 * IN
    )
    assert (facing.faced_least_mm / IN, facing.faced_most_mm / IN) == pytest.approx((0.0035, 0.0415))
    assert facing.worst_case_mm / IN == pytest.approx(0.0190)
    assert facing.root_sum_square_mm / IN == pytest.approx(0.0141, abs=0.00005)
    # The liner is flattened by 0.005 in; over it and the glue the face is what 0.2000 in leaves.
    liner, _, face = facing.layers
    assert (liner.least_left_mm / IN, liner.most_left_mm / IN) == pytest.approx((0.0195, 0.0325))
    assert (face.least_left_mm / IN, face.most_left_mm / IN) == pytest.approx((0.1585, 0.1715))
