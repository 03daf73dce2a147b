"""Drill sizes against the published series.

Source of the rows: ASME B94.11M for number, letter and fraction drills, BS 328 / ISO 235 for metric steps,
both as an encyclopaedia's page on drill sizes and a public table print them; the standards were not opened.
"""

import pytest

from scalegen.shop.drills import DRILLS, choose_drill, find_drill

IN = 25.4  # mm, NBS Circular 572
GAUGES = ("number", "letter")


def _next(above_mm: float, *series: str) -> tuple[str, float]:
    """The next drill larger than a diameter, by at least a thousandth of a mm: name and size."""
    drill = choose_drill(above_mm + 0.001, series)
    assert drill is not None
    return drill.designation, drill.diameter_mm


@pytest.mark.parametrize(
    ("pin_mm", "gauge", "gauge_mm", "metric", "fraction"),
    [
        (IN / 16, "#52", 1.6129, "1.6 mm", "5/64in"),
        (IN * 3 / 32, "#41", 2.4384, "2.4 mm", "7/64in"),
        (IN / 8, "#30", 3.2639, "3.2 mm", "9/64in"),
        (IN * 5 / 32, "#22", 3.9878, "4.0 mm", "11/64in"),
        (IN * 3 / 16, "#12", 4.8006, "4.8 mm", "13/64in"),
        (IN / 4, "F", 6.5278, "6.4 mm", "17/64in"),
        (2.0, "#46", 2.0574, "2.05 mm", "3/32in"),
        (3.0, "#31", 3.0480, "3.1 mm", "1/8in"),
        (4.0, "#21", 4.0386, "4.1 mm", "11/64in"),
        (5.0, "#8", 5.0546, "5.1 mm", "13/64in"),
        (6.0, "B", 6.0452, "6.1 mm", "1/4in"),
    ],
)
def test_next_drill_above_each_pin(
    pin_mm: float, gauge: str, gauge_mm: float, metric: str, fraction: str
) -> None:
    """The next gauge, metric and 1/64 in drill above each usual pin are those of the published tables."""
    name, size_mm = _next(pin_mm, *GAUGES)
    assert name == gauge
    assert size_mm == pytest.approx(gauge_mm, abs=0.00005)
    assert _next(pin_mm, "metric")[0] == metric
    assert _next(pin_mm, "fraction")[0] == fraction


@pytest.mark.parametrize(
    ("pin_mm", "series", "gap_mm"),
    [
        (IN / 16, GAUGES, 0.025),
        (IN * 3 / 32, GAUGES, 0.057),
        (IN / 8, GAUGES, 0.089),
        (IN * 5 / 32, GAUGES, 0.019),
        (IN * 3 / 16, GAUGES, 0.038),
        (IN / 4, GAUGES, 0.178),
        (2.0, GAUGES, 0.057),
        (3.0, GAUGES, 0.048),
        (4.0, GAUGES, 0.039),
        (5.0, GAUGES, 0.055),
        (6.0, GAUGES, 0.045),
        (IN / 16, ("metric",), 0.013),
        (IN * 3 / 32, ("metric",), 0.019),
        (IN / 8, ("metric",), 0.025),
        (IN * 5 / 32, ("metric",), 0.031),
        (IN * 3 / 16, ("metric",), 0.038),
        (IN / 4, ("metric",), 0.050),
        (2.0, ("metric",), 0.050),
        (3.0, ("metric",), 0.100),
        (4.0, ("metric",), 0.100),
        (5.0, ("metric",), 0.100),
        (6.0, ("metric",), 0.100),
        (IN / 16, ("fraction",), 0.397),
        (IN / 4, ("fraction",), 0.397),
        (2.0, ("fraction",), 0.381),
        (3.0, ("fraction",), 0.175),
        (4.0, ("fraction",), 0.366),
        (5.0, ("fraction",), 0.159),
        (6.0, ("fraction",), 0.350),
    ],
)
def test_gap_to_the_next_drill(pin_mm: float, series: tuple[str, ...], gap_mm: float) -> None:
    """The room around each pin is the difference of the published sizes, to half a thousandth of a mm."""
    assert _next(pin_mm, *series)[1] - pin_mm == pytest.approx(gap_mm, abs=0.00055)


@pytest.mark.parametrize(
    ("designation", "size_in"),
    [
        *(("#1", 0.2280), ("#80", 0.0135), ("A", 0.234), ("E", 0.250), ("F", 0.257), ("Z", 0.413)),
        *(("#51", 0.0670), ("#42", 0.0935), ("#31", 0.1200), ("#21", 0.1590), ("#11", 0.1910)),
        *(("#47", 1.9939 / IN), ("#9", 4.9784 / IN), ("A", 5.9436 / IN)),
    ],
)
def test_single_sizes(designation: str, size_in: float) -> None:
    """Sizes printed in the published table come out to the last printed digit."""
    assert find_drill(designation).diameter_mm == pytest.approx(size_in * IN, abs=1e-9)


def test_a_drill_of_the_pins_own_size_leaves_no_gap() -> None:
    """E is 0.250 in, the size of a 1/4 in pin: it is the smallest drill that is not under it."""
    drill = choose_drill(6.35, GAUGES)
    assert drill is not None
    assert (drill.designation, drill.diameter_mm) == ("E", 6.35)


def test_number_and_letter_series_run_as_published() -> None:
    """80 numbers shrink from #1 to #80, 26 letters grow from A to Z, and A is larger than #1."""
    numbers = [drill.diameter_mm for drill in DRILLS["number"]]
    letters = [drill.diameter_mm for drill in DRILLS["letter"]]
    assert (len(numbers), len(letters)) == (80, 26)
    assert numbers == sorted(set(numbers), reverse=True)
    assert letters == sorted(set(letters))
    assert letters[0] > numbers[0]


def test_fraction_series_steps_by_64ths() -> None:
    """Fractions go up by 1/64 in (ANSI B94.11M), each named in lowest terms."""
    sizes = [drill.diameter_mm for drill in DRILLS["fraction"]]
    assert sizes == pytest.approx([count * IN / 64 for count in range(1, 65)], abs=1e-9)
    assert DRILLS["fraction"][31].designation == "1/2in"


def test_metric_series_steps_as_published() -> None:
    """Metric drills: 1.00 to 2.95 by 0.05 mm and 3.0 to 13.9 by 0.1 mm (BS 328): 40 and 110 of them."""
    sizes = [drill.diameter_mm for drill in DRILLS["metric"]]
    small = [size for size in sizes if size < 3]
    large = sizes[len(small) :]
    assert (small[0], small[-1], len(small)) == (1.0, 2.95, 40)
    assert (large[0], large[-1], len(large)) == (3.0, 13.9, 110)
    assert sizes == sorted(set(sizes))
