"""Scans drawn from known shapes come back within what the README promises.

The pictures come from ``benchmarks.scans``, which cuts polygons into pixels by itself; distances of outlines
are Hausdorff distances by shapely (GEOS), an independent library.
"""

from pathlib import Path

import numpy as np
import pytest
import shapely

from benchmarks.scans import PINS_MM, Faults, Scan, blurred, circle, coverage, draw, errors_mm, lit, tang
from scalegen.outline.measure import sampled
from scalegen.outline.read import outline_from_drawing
from scalegen.outline.read_scan import read_scan
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.scan_circle import fit_circle
from scalegen.outline.scan_regions import otsu
from scalegen.outline.scan_scale import homography
from scalegen.outline.transform import moved
from scalegen.sources import Marks, ScanSettings


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Scan:
    """One scan at 300 dpi with a little of every fault."""
    return draw(tmp_path_factory.mktemp("scan") / "scan.png", Faults())


def test_coverage_adds_up_to_the_area() -> None:
    """The drawn pixels of a circle add up to pi r^2, so the pictures themselves can be trusted."""
    ring = moved(circle(0.0, 0.0, 60.0), 40.3, 39.8)
    assert coverage(ring.flatten(1e-5), 80, 80).sum() == pytest.approx(np.pi * 30**2, rel=2e-4)


@pytest.mark.parametrize(
    "faults",
    [
        Faults(blur_px=1.2, noise=8.0, fall_off=0.3, angle_rad=-0.04, seed=5),
        Faults(dark=220.0, light=40.0, angle_rad=0.0, seed=6),
        Faults(blur_px=1.5, noise=16.0),
    ],
    ids=["blurred, noisy, unevenly lit", "light on dark", "very noisy"],
)
def test_a_scan_at_300_dpi_comes_back(tmp_path: Path, faults: Faults) -> None:
    """Outline within 0.05 mm, pin centres within 0.03 mm, diameters within 0.02 mm, few segments."""
    outline, pins, diameters, segments = errors_mm(draw(tmp_path / "scan.png", faults))
    assert outline < 0.05
    assert pins < 0.03
    assert diameters < 0.02
    assert segments < 80


def test_corners_and_straight_runs_are_kept(scan: Scan) -> None:
    """The corners of the drawn tang come back as corners, and its longest straight flank as one line."""
    ring = outline_from_drawing(read_scan(scan.path, ScanSettings(), "scan"), where="scan").ring
    for index in (0, *range(7, 12)):
        corner = scan.outline.starts[index]
        assert np.hypot(*(ring.starts - corner).T).min() < 0.03
    assert ring.lengths[ring.bulges == 0].max() > 30.0


def test_two_marks_give_the_scale(scan: Scan) -> None:
    """Two pin centres and their true distance do as well as a resolution."""
    top, per_mm = int((scan.outline.bounds_mm[3] + 6) * 300 / 25.4) - 1, 300 / 25.4
    first, second = (pin.centers[0] for pin in (scan.pins[0], scan.pins[2]))
    places = [(p[0] * per_mm - 0.5, top - (p[1] * per_mm - 0.5)) for p in (first, second)]
    marks = Marks(first_px=places[0], second_px=places[1], distance_mm=PINS_MM[2][0] - PINS_MM[0][0])
    # The pins' y differ by 0.2 mm, which adds under 0.001 mm to their distance.
    assert errors_mm(scan, ScanSettings(marks=marks))[0] < 0.05


def card() -> Ring:
    """A card: 85.60 x 53.98 mm, corner radius 3.18 mm (ISO/IEC 7810 ID-1, from memory)."""
    w, h, r, b = 85.60, 53.98, 3.18, float(np.tan(np.pi / 8))
    rows = [[r, 0, 0], [w - r, 0, b], [w, r, 0], [w, h - r, b], [w - r, h, 0], [r, h, b], [0, h - r, 0]]
    return Ring.from_rows([*rows, [0, r, b]])


def projected(matrix: FloatArray, ring: Ring) -> FloatArray:
    """Dense points of a ring after a projective map."""
    full = np.column_stack([sampled(ring, 0.1), np.ones(len(sampled(ring, 0.1)))]) @ matrix.T
    out: FloatArray = full[:, :2] / full[:, 2:]
    return out


def test_a_slanted_photo_is_straightened_by_the_card(tmp_path: Path) -> None:
    """Outline within 0.05 mm and pins within 0.03 mm on a photo at a slant, in the card's frame."""
    from PIL import Image

    height, width = 1500, 2300
    corners_mm = np.array([[0.0, 0.0], [150.0, 0.0], [150.0, 100.0], [0.0, 100.0]])
    corners_px = np.array([[70.0, 60.0], [2230.0, 20.0], [2080.0, 1400.0], [180.0, 1450.0]])
    view = homography(corners_mm, corners_px)
    ring, pins = moved(tang(), 15, 72, 0.05), [moved(circle(*pin), 15, 72, 0.05) for pin in PINS_MM]
    covered = coverage(projected(view, ring), height, width)
    covered = covered + coverage(projected(view, moved(card(), 30, 1, 0.03)), height, width)
    for pin in pins:
        covered = covered - coverage(projected(view, pin), height, width)
    path = tmp_path / "photo.jpg"
    Image.fromarray(lit(covered, Faults())[::-1]).save(path, quality=92)
    found = outline_from_drawing(read_scan(path, ScanSettings(card=True), "photo"), where="photo")
    truth = moved(moved(ring, -30, -1), 0, 0, -0.03)
    want, got = (shapely.LinearRing(r.flatten(5e-4)) for r in (truth, found.ring))
    assert shapely.hausdorff_distance(want, got, densify=0.002) < 0.05
    centers = [moved(moved(pin, -30, -1), 0, 0, -0.03).centers[0] for pin in pins]
    assert len(found.holes) == 3
    assert max(np.hypot(*(c - h[:2])) for c, h in zip(centers, found.holes, strict=True)) < 0.03


def test_homography_of_a_pinhole_view() -> None:
    """The map found from four corners takes every other point where a pinhole camera sees it.

    Source: the pinhole projection x' = f X / Z, y' = f Y / Z (any textbook).
    """
    c, s = np.cos(0.3), np.sin(0.3)

    def seen(p: FloatArray) -> FloatArray:
        depth = 500.0 + s * p[:, 1]
        return np.column_stack([3000.0 * p[:, 0] / depth, 3000.0 * c * p[:, 1] / depth])

    corners = np.array([[0.0, 0.0], [85.6, 0.0], [85.6, 53.98], [0.0, 53.98]])
    matrix = homography(seen(corners), corners)
    points = np.array([[12.0, 7.0], [-30.0, 80.0], [120.0, -10.0]])
    back = np.column_stack([seen(points), np.ones(3)]) @ matrix.T
    assert back[:, :2] / back[:, 2:] == pytest.approx(points, abs=1e-9)


def test_circle_through_points_of_half_an_arc() -> None:
    """Half a circle with a burr is enough to find centre and radius."""
    t = np.linspace(0, np.pi, 60)
    points = np.column_stack([3.0 + 1.6 * np.cos(t), -2.0 + 1.6 * np.sin(t)])
    points[10:14] *= 1.08
    found = fit_circle(points)
    assert found is not None
    assert (found.x, found.y, found.radius) == pytest.approx((3.0, -2.0, 1.6), abs=1e-6)
    assert found.kept == pytest.approx(56 / 60)


def test_otsu_halves_differ_most() -> None:
    """The level found is the best of all 255, each tried by the definition of between-class variance."""
    random = np.random.default_rng(3)
    grey = (
        np.concatenate([random.normal(70, 20, 3000), random.normal(190, 15, 1000)]).clip(0, 255).astype(int)
    )

    def between(level: int) -> float:
        low, high = grey[grey <= level], grey[grey > level]
        if not len(low) or not len(high):
            return 0.0
        return float(len(low) * len(high) * (low.mean() - high.mean()) ** 2 / len(grey) ** 2)

    best = max(range(255), key=between)
    level, low, high, share = otsu(np.bincount(grey, minlength=256).astype(float))
    assert (low, high) == pytest.approx((grey[grey <= best].mean(), grey[grey > best].mean()))
    assert level == (low + high) / 2
    assert share == pytest.approx(between(best) / grey.var())


def test_blur_draws_an_edge_out_as_the_normal_distribution() -> None:
    """A blurred step passes 16 and 84 hundredths one standard deviation to either side."""
    step = np.repeat([[0.0] * 20 + [1.0] * 20], 3, axis=0)
    row = blurred(step, 2.0)[1]
    low, high = np.interp([0.1587, 0.8413], row, np.arange(40))
    assert (high - low) / 2 == pytest.approx(2.0, abs=0.05)
