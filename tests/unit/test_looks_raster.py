"""Triangles into pixels: every sample shows the nearest triangle over it, whatever the order."""

import io

import numpy as np
import pytest
from PIL import Image

from scalegen.looks.png import png_bytes
from scalegen.looks.raster import NONE, rasterise

SIZE = (37, 23)


def triangles(seed: int, count: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """Random triangles that reach beyond the picture, with depths at their corners."""
    rng = np.random.default_rng(seed)
    middles = rng.uniform((-5, -5), (42, 28), (count, 1, 2))
    return middles + rng.normal(0, 7, (count, 3, 2)), rng.uniform(1, 9, (count, 3))


def brute_force(corners: np.ndarray, depths: np.ndarray) -> np.ndarray:
    """Nearest counter-clockwise triangle at each sample by barycentric coordinates, one by one."""
    found = np.full(SIZE[::-1], -1)
    best = np.full(SIZE[::-1], np.inf)
    for y in range(SIZE[1]):
        for x in range(SIZE[0]):
            p = np.array([x + 0.5, y + 0.5])
            for name, (a, b, c) in enumerate(corners):
                table = np.array([b - a, c - a]).T
                if np.linalg.det(table) <= 0:
                    continue
                u, v = np.linalg.solve(table, p - a)
                if u < 0 or v < 0 or u + v > 1:
                    continue
                depth = float(np.dot([1 - u - v, u, v], depths[name]))
                if depth < best[y, x]:
                    best[y, x], found[y, x] = depth, name
    return found


@pytest.mark.parametrize("seed", range(5))
def test_each_sample_shows_the_nearest_triangle(seed: int) -> None:
    """Rows of samples find the same triangle as barycentric coordinates at every sample do."""
    corners, depths = triangles(seed)
    seen = rasterise(corners, depths, SIZE, 1)
    names = np.where(seen.triangles == NONE, -1, seen.triangles.astype(np.int64))
    assert (names == brute_force(corners, depths)).all()


def test_depths_come_back() -> None:
    """The depth kept for a sample is that of its triangle's plane there."""
    corners, depths = triangles(3)
    seen = rasterise(corners, depths, SIZE, 1)
    y, x = np.nonzero(seen.triangles != NONE)
    for name, px, py in zip(seen.triangles[y, x].tolist(), x.tolist(), y.tolist(), strict=True):
        a, b, c = corners[name]
        u, v = np.linalg.solve(np.array([b - a, c - a]).T, np.array([px + 0.5, py + 0.5]) - a)
        want = float(np.dot([1 - u - v, u, v], depths[name]))
        assert seen.depths_of(seen.steps[py, px]) == pytest.approx(want, abs=1e-7)


def test_order_does_not_matter() -> None:
    """Turning the table of triangles round leaves every sample's depth as it was."""
    corners, depths = triangles(8)
    one = rasterise(corners, depths, SIZE, 1)
    other = rasterise(corners[::-1], depths[::-1], SIZE, 1)
    assert (one.steps == other.steps).all()
    assert (
        np.where(one.triangles == NONE, 0, len(corners) - 1 - one.triangles.astype(np.int64))
        == np.where(other.triangles == NONE, 0, other.triangles)
    ).all()


def test_neighbours_leave_no_gap_and_share_no_sample() -> None:
    """A square cut into a fan covers each of its samples exactly once."""
    rim = np.array([[3, 2], [31, 4], [33, 20], [2, 19]], dtype=float)
    corners = np.array([[rim[k], rim[(k + 1) % 4], [17.3, 11.7]] for k in range(4)])
    parts = [rasterise(corners[k : k + 1], np.ones((1, 3)), SIZE, 1).triangles != NONE for k in range(4)]
    whole = rasterise(np.array([rim[[0, 1, 2]], rim[[0, 2, 3]]]), np.ones((2, 3)), SIZE, 1).triangles != NONE
    assert (np.sum(parts, axis=0) == whole).all()


def test_a_png_reads_back_as_it_was() -> None:
    """Another reader finds the very pixels, for noise, a slope and one colour (each takes other filters)."""
    rng = np.random.default_rng(1)
    noise = rng.integers(0, 256, (31, 45, 3)).astype(np.uint8)
    slope = np.add.outer(np.arange(31) * 3, np.arange(45) * 2)[..., None] + np.array([0, 50, 90])
    for pixels in (noise, (slope % 256).astype(np.uint8), np.full((31, 45, 3), 77, dtype=np.uint8)):
        with Image.open(io.BytesIO(png_bytes(pixels))) as image:
            image.load()
            assert image.mode == "RGB"
            assert (np.asarray(image) == pixels).all()
