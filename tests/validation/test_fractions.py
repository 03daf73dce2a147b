"""Lengths in inch fractions against a published table of equivalents."""

import random
import re
from fractions import Fraction

import pytest

from scalegen.units import bare_length, format_fraction, format_length, parse_length

# Fraction of an inch, decimal inches, mm: every 64th, as a public chart for machinists prints them.
# Source: "Fraction to Decimal Chart", utilitiesbunker.com/kb/fraction-to-decimal-chart; a second chart
# (machinecalcs.com/decimal-to-fraction-chart) has the same figures, with two of its last digits rounded up.
CHART = """
1/64 .015625 0.3969 | 1/32 .031250 0.7937 | 3/64 .046875 1.1906 | 1/16 .062500 1.5875
5/64 .078125 1.9844 | 3/32 .093750 2.3812 | 7/64 .109375 2.7781 | 1/8 .125000 3.1750
9/64 .140625 3.5719 | 5/32 .156250 3.9688 | 11/64 .171875 4.3656 | 3/16 .187500 4.7625
13/64 .203125 5.1594 | 7/32 .218750 5.5562 | 15/64 .234375 5.9531 | 1/4 .250000 6.3500
17/64 .265625 6.7469 | 9/32 .281250 7.1437 | 19/64 .296875 7.5406 | 5/16 .312500 7.9375
21/64 .328125 8.3344 | 11/32 .343750 8.7312 | 23/64 .359375 9.1281 | 3/8 .375000 9.5250
25/64 .390625 9.9219 | 13/32 .406250 10.3187 | 27/64 .421875 10.7156 | 7/16 .437500 11.1125
29/64 .453125 11.5094 | 15/32 .468750 11.9062 | 31/64 .484375 12.3031 | 1/2 .500000 12.7000
33/64 .515625 13.0969 | 17/32 .531250 13.4937 | 35/64 .546875 13.8906 | 9/16 .562500 14.2875
37/64 .578125 14.6844 | 19/32 .593750 15.0812 | 39/64 .609375 15.4781 | 5/8 .625000 15.8750
41/64 .640625 16.2719 | 21/32 .656250 16.6687 | 43/64 .671875 17.0656 | 11/16 .687500 17.4625
45/64 .703125 17.8594 | 23/32 .718750 18.2562 | 47/64 .734375 18.6531 | 3/4 .750000 19.0500
49/64 .765625 19.4469 | 25/32 .781250 19.8438 | 51/64 .796875 20.2406 | 13/16 .812500 20.6375
53/64 .828125 21.0344 | 27/32 .843750 21.4312 | 55/64 .859375 21.8281 | 7/8 .875000 22.2250
57/64 .890625 22.6219 | 29/32 .906250 23.0187 | 59/64 .921875 23.4156 | 15/16 .937500 23.8125
61/64 .953125 24.2094 | 31/32 .968750 24.6062 | 63/64 .984375 25.0031 | 1 1.000000 25.4000
"""
ROWS = [tuple(row.split()) for row in CHART.replace("\n", "|").split("|") if row.strip()]


def test_the_chart_is_whole() -> None:
    """Sixty-four rows, each with a different fraction."""
    assert len({row[0] for row in ROWS}) == 64


@pytest.mark.parametrize(("fraction", "inches", "mm"), ROWS)
def test_every_64th_as_the_chart_has_it(fraction: str, inches: str, mm: str) -> None:
    """The chart's mm give its fraction; its decimal inches give it without a rest."""
    assert format_fraction(float(mm)) == f"{fraction} in"
    assert format_fraction(float(inches) * 25.4) == f"{fraction} in"
    assert format_length(float(inches) * 25.4, "fraction") == f"{fraction} in"
    assert parse_length(f"{fraction} in", "mm") == pytest.approx(float(mm), abs=5.1e-5)
    assert parse_length(f"{fraction} in", "mm") == float(Fraction(inches) * Fraction(254, 10))


def test_the_rest_is_said() -> None:
    """By hand: 6.03 mm are 0.2374 in, 0.003 more than 15/64; 35.0 mm are 1.378 in, 0.003 more than 1 3/8."""
    assert format_fraction(6.03) == "15/64 in (+0.003)"
    assert format_fraction(35.0) == "1 3/8 in (+0.003)"
    assert format_fraction(3.0) == "1/8 in (-0.007)"
    assert format_fraction(6.2) == "1/4 in (-0.006)"
    # 9.53 mm are 0.37520 in: 0.0002 in more than 3/8.
    assert format_fraction(9.53) == "3/8 in (+0.0002)"
    assert format_fraction(0.0) == "0 in"
    assert format_fraction(0.016) == "0 in (+0.0006)"
    assert format_fraction(-9.525) == "-3/8 in"
    assert format_fraction(-6.03) == "-15/64 in (-0.003)"
    assert bare_length(6.03, "fraction") == "15/64 (+0.003)"
    assert bare_length(6.03, "mm", 2) == "6.03"
    assert bare_length(25.4, "in") == "1"


def test_fraction_and_rest_make_the_length() -> None:
    """What is shown adds up to the length again, and the rest is never more than half of 1/64."""
    generator = random.Random(7)  # noqa: S311 - lengths to try, nothing secret
    for _ in range(2000):
        mm = generator.uniform(-300, 300)
        match = re.fullmatch(r"(-?)(?:(\d+) )?(?:(\d+)/(\d+) )?in(?: \(([+-][\d.]+)\))?", format_fraction(mm))
        assert match is not None
        sign, whole, top, bottom, rest = match.groups()
        size = int(whole or 0) + (Fraction(int(top), int(bottom)) if top else 0)
        shown = (-1 if sign else 1) * float(size) + float(rest or 0)
        assert shown * 25.4 == pytest.approx(mm, abs=0.0005 * 25.4 + 1e-9)
        assert abs(float(rest or 0)) <= 1 / 128 + 0.0005
        if bottom:
            assert int(bottom) in {2, 4, 8, 16, 32, 64}
            assert int(top) % 2 == 1
