"""The blank under each scale, and places that are too thin."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest
import shapely

from scalegen.model import Adhesive, Finding, Reading, SheetStock
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import Placement
from scalegen.shop.blank import BlankReport, blank_report
from scalegen.shop.local import Local, under_ring, under_scales

GLUE = Adhesive(name="glue", density_g_cm3=1.15, bond_mm=0.1, waste=2.0, color="#ffffff", price_per_g=None)
SHEET = SheetStock(
    name="face",
    kind="face",
    material="test",
    thickness_mm=7.0,
    tolerance_mm=0.3,
    length_mm=300.0,
    width_mm=150.0,
    density_g_cm3=1.35,
    color="#808080",
    price=None,
)
PLATE = Ring.from_rows([[0, -10, 0], [100, -10, 0], [100, 10, 0], [0, 10, 0]])
RINGS = {"left": PLATE, "right": PLATE}


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A blank with scales on it."""

    placements: tuple[Placement, ...] = field(default=())
    length_mm: float = 300.0
    width_mm: float = 150.0


def put(label: str, x: float, y: float, angle_rad: float = 0.0) -> Placement:
    """A scale at a place."""
    side = "left" if label.endswith("L") else "right"
    return Placement(label=label, pattern="test", side=side, x_mm=x, y_mm=y, angle_rad=angle_rad)


def tapered(base_mm: float = 6.5, off_x: float = 0.0) -> list[Reading]:
    """Readings of a blank that gains 0.2 mm over 100 mm along and loses 0.1 mm over 100 mm across."""
    return [
        Reading(x_mm=x + off_x, y_mm=y, thickness_mm=base_mm + 0.002 * x - 0.001 * y)
        for x in (10.0, 150.0, 290.0)
        for y in (10.0, 140.0)
    ]


def report_of(readings: Sequence[Reading]) -> BlankReport:
    """The report on some readings."""
    return blank_report([SHEET], GLUE, readings)


def found(
    readings: Sequence[Reading], *blanks: Bench, need_mm: float
) -> tuple[dict[str, Local], tuple[Finding, ...]]:
    """What is under the scales, and what is said about it."""
    return under_scales(report_of(readings), readings, RINGS, blanks, need_mm=need_mm)


def test_a_plate_by_hand() -> None:
    """A plate of 100 mm x 20 mm from x = 20, about y = 50: 6.48 to 6.70 mm, mean 6.59 mm in its middle."""
    local, _ = found(tapered(), Bench(placements=(put("1L", 20, 50),)), need_mm=6.0)
    under = local["1L"]
    assert (under.least_mm, under.mean_mm, under.most_mm) == pytest.approx((6.48, 6.59, 6.70))
    assert under.thinnest_mm == pytest.approx((20.0, 60.0))


@pytest.mark.parametrize("angle_deg", [0, 33, 90, 180, 251])
def test_a_turned_outline_with_arcs_against_an_independent_plane(angle_deg: float) -> None:
    """Extremes and mean over a stadium are those of numpy's plane over shapely's buffer of a line.

    Source: numpy.linalg.lstsq on rows 1, x, y; shapely's buffer, turned and moved by rows of our own.
    """
    stadium = Ring.from_rows([[0, -10, 0], [80, -10, 1], [80, 10, 0], [0, 10, 1]])
    rng = np.random.default_rng(5)
    rows = np.column_stack([rng.uniform(0, 300, 12), rng.uniform(0, 150, 12)])
    thicknesses = 6.9 + 0.0004 * rows[:, 0] - 0.0007 * rows[:, 1] + rng.uniform(-0.01, 0.01, 12)
    readings = [
        Reading(x_mm=float(x), y_mm=float(y), thickness_mm=float(t))
        for (x, y), t in zip(rows, thicknesses, strict=True)
    ]
    plane = report_of(readings).plane
    assert plane is not None
    fit = np.linalg.lstsq(np.column_stack([np.ones(12), rows]), thicknesses, rcond=None)[0]
    shape = shapely.LineString([(0, 0), (80, 0)]).buffer(10, quad_segs=400)
    turn = math.radians(angle_deg)
    xs, ys = np.array(shape.exterior.coords).T
    placed = np.column_stack(
        [
            150 + xs * math.cos(turn) - ys * math.sin(turn),
            75 + xs * math.sin(turn) + ys * math.cos(turn),
        ]
    )
    heights = fit[0] + placed @ fit[1:]
    middle = shapely.Polygon(placed).centroid
    under = under_ring(plane, stadium, put("1L", 150, 75, turn))
    assert (under.least_mm, under.most_mm) == pytest.approx((heights.min(), heights.max()), abs=1e-5)
    assert under.mean_mm == pytest.approx(fit[0] + fit[1] * middle.x + fit[2] * middle.y, abs=1e-6)


def test_without_a_plane_the_smallest_reading_counts() -> None:
    """Readings without places tell nothing of places; without readings nothing is known."""
    bench = Bench(placements=(put("1L", 20, 50), put("1R", 150, 100)))
    local, findings = found([Reading(thickness_mm=6.9), Reading(thickness_mm=6.8)], bench, need_mm=6.0)
    assert local == {label: Local(least_mm=6.8, mean_mm=6.8, most_mm=6.8) for label in ("1L", "1R")}
    assert findings == ()
    assert under_scales(None, (), RINGS, [bench], need_mm=6.0) == ({}, ())


def test_a_thin_spot_is_named_with_place_and_lack() -> None:
    """Of two scales only the one at the thin end stops the job: 6.48 mm where 6.5 mm is needed."""
    bench = Bench(placements=(put("3L", 180, 50), put("3R", 20, 50)))
    local, (finding,) = found(tapered(), bench, need_mm=6.5)
    assert local["3L"].least_mm > 6.5
    assert (finding.code, finding.level, finding.about) == ("scale-thin-spot", "stop", "scale 3R")
    assert finding.where.startswith("x = 20.0 mm, y = 60.0 mm")
    assert "6.480 mm" in finding.message
    assert "0.020 mm short" in finding.message


def test_too_thin_all_over_is_a_stop() -> None:
    """Where even 6.70 mm, its thickest, is under the 6.8 mm needed, the scale can't be cut there."""
    _, (finding,) = found(tapered(), Bench(placements=(put("1L", 20, 50),)), need_mm=6.8)
    assert (finding.code, finding.level) == ("scale-thin-spot", "stop")
    assert "0.100 mm short" in finding.message


def test_put_where_it_is_thicker_the_finding_goes() -> None:
    """The remedy works: moved 40 mm along, the blank has 6.56 mm under the scale and nothing is said."""
    assert found(tapered(), Bench(placements=(put("1L", 60, 50),)), need_mm=6.5)[1] == ()


def test_readings_off_the_blank_are_told() -> None:
    """Readings counted from another corner lie off the blank and are told of, the first by its place."""
    _, findings = found(tapered(off_x=-300.0), Bench(placements=(put("1L", 20, 50),)), need_mm=5.0)
    (finding,) = findings
    assert finding.code == "reading-off-blank"
    assert finding.where == "x = -290.0 mm, y = 10.0 mm"
    assert "6 readings, the first of them 1" in finding.message


def test_readings_tell_of_the_first_blank_only() -> None:
    """On a second blank the smallest reading counts, and that is said."""
    readings = tapered()
    benches = (Bench(placements=(put("1L", 20, 50),)), Bench(placements=(put("2L", 20, 50),)))
    local, (note,) = found(readings, *benches, need_mm=6.0)
    smallest = min(each.thickness_mm for each in readings)
    assert local["2L"] == Local(least_mm=smallest, mean_mm=smallest, most_mm=smallest)
    assert local["1L"].most_mm > local["1L"].least_mm
    assert (note.code, note.level) == ("readings-of-one-blank", "note")
