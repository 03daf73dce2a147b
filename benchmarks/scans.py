"""Scans drawn from known outlines, read back: how far outline and pins are off, by resolution and faults.

The pictures are drawn here, from the outline's polygon, with nothing of the reader: each row of pixels is
cut by eight scan lines, along which the covered share of every pixel is exact.
"""

import itertools
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from scalegen.outline.join import arc_rows
from scalegen.outline.read import outline_from_drawing
from scalegen.outline.read_scan import read_scan
from scalegen.outline.ring import FloatArray, Ring
from scalegen.outline.transform import moved
from scalegen.sources import ScanSettings

PINS_MM = ((22.0, 0.6, 3.2), (58.0, -1.2, 6.35), (95.0, 0.4, 4.8))

_LINES = 8


@dataclass(frozen=True, kw_only=True)
class Faults:
    """What a scanner does to a picture.

    Attributes:
        dpi: Pixels per inch.
        blur_px: Standard deviation of the blur.
        noise: Standard deviation of the noise, grey levels of 255.
        dark: Grey level of the tang.
        light: Grey level of the paper where the light is full.
        fall_off: Share of the light lost towards one corner.
        angle_rad: How the tang is turned on the glass.
        seed: For the noise.
    """

    dpi: float = 300.0
    blur_px: float = 0.8
    noise: float = 4.0
    dark: float = 45.0
    light: float = 235.0
    fall_off: float = 0.15
    angle_rad: float = 0.06
    seed: int = 1


def tang() -> Ring:
    """An invented tang, 118 mm long: straight flanks, long and short arcs, sharp corners, a notch."""
    rows = [
        [0.0, -11.0, 0.0],
        [38.0, -11.0, 0.06],
        [74.0, -8.0, -0.09],
        [104.0, -11.5, 0.35],
        [117.5, 3.0, 0.30],
        [105.0, 12.5, 0.03],
        [40.0, 13.0, 0.0],
        [12.0, 13.0, 0.0],
        [12.0, 9.5, 0.0],
        [7.0, 9.5, 0.0],
        [7.0, 13.0, 0.0],
        [0.0, 13.0, 0.0],
    ]
    return Ring.from_rows(rows)


def circle(x: float, y: float, diameter: float) -> Ring:
    """A full circle."""
    return Ring.from_rows(arc_rows((x, y), diameter / 2, 0.0, 2 * np.pi)[:-1])


def coverage(points_px: FloatArray, height: int, width: int) -> FloatArray:
    """Share (h, w) of each pixel that a polygon (n, 2) covers; pixel i, j spans i - 1/2 to i + 1/2, y up."""
    out = np.zeros((height, width))
    a, b = points_px, np.roll(points_px, -1, axis=0)
    left = np.arange(width) - 0.5
    for row in range(height):
        for line in range(_LINES):
            y = row - 0.5 + (line + 0.5) / _LINES
            hit = (a[:, 1] > y) != (b[:, 1] > y)
            if not hit.any():
                continue
            p, q = a[hit], b[hit]
            x = np.sort(p[:, 0] + (y - p[:, 1]) * (q[:, 0] - p[:, 0]) / (q[:, 1] - p[:, 1]))
            for x0, x1 in x.reshape(-1, 2):
                out[row] += ((x1 - left).clip(0, 1) - (x0 - left).clip(0, 1)) / _LINES
    return out


def blurred(table: FloatArray, sigma_px: float) -> FloatArray:
    """A table convolved with a normal distribution both ways, its border carried on."""
    if sigma_px <= 0:
        return table
    reach = int(np.ceil(4 * sigma_px))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma_px) ** 2)
    weights = weights / weights.sum()
    for axis in (0, 1):
        pad = [(reach, reach) if k == axis else (0, 0) for k in (0, 1)]
        wide = np.pad(table, pad, mode="edge")
        size = table.shape[axis]
        parts = [w * np.take(wide, range(k, k + size), axis=axis) for k, w in enumerate(weights)]
        table = np.sum(parts, axis=0)
    return table


def lit(covered: FloatArray, faults: Faults) -> "np.ndarray[tuple[int, int], np.dtype[np.uint8]]":
    """Grey levels from coverage: tones, uneven light, blur, noise, rounding."""
    height, width = covered.shape
    v, u = np.mgrid[0:height, 0:width]
    light = 1 - faults.fall_off * (u / width + v / height) / 2
    grey = blurred((faults.light + (faults.dark - faults.light) * covered) * light, faults.blur_px)
    grey = grey + np.random.default_rng(faults.seed).normal(0, faults.noise, grey.shape)
    return np.round(grey).clip(0, 255).astype(np.uint8)


@dataclass(frozen=True, kw_only=True)
class Scan:
    """A drawn scan and the truth behind it, in the picture's own mm."""

    path: Path
    outline: Ring
    pins: tuple[Ring, ...]


def draw(path: Path, faults: Faults, outline: Ring | None = None) -> Scan:
    """Draw a tang with its pins as a scan, and save it with its resolution."""
    from PIL import Image

    ring = tang() if outline is None else outline
    pins = [circle(*pin) for pin in PINS_MM]
    at = (9.137, 21.413, faults.angle_rad)
    ring, pins = moved(ring, *at), [moved(pin, *at) for pin in pins]
    per_mm = faults.dpi / 25.4
    x1, y1 = ring.bounds_mm[2:]
    width, height = int((x1 + 6) * per_mm), int((y1 + 6) * per_mm)
    covered = coverage(ring.flatten(1e-4) * per_mm - 0.5, height, width)
    for pin in pins:
        covered = covered - coverage(pin.flatten(1e-4) * per_mm - 0.5, height, width)
    Image.fromarray(lit(covered, faults)[::-1]).save(path, dpi=(faults.dpi, faults.dpi))
    return Scan(path=path, outline=ring, pins=tuple(pins))


def errors_mm(scan: Scan, settings: ScanSettings | None = None) -> tuple[float, float, float, int]:
    """Largest distance of the outlines, of pin centres, of diameters; and the outline's segments.

    Distances of outlines are the Hausdorff distance of dense polygons, by shapely (GEOS).
    """
    drawing = read_scan(scan.path, settings or ScanSettings(), "scan")
    found = outline_from_drawing(drawing, where="scan")
    want, got = (shapely.LinearRing(ring.flatten(5e-4)) for ring in (scan.outline, found.ring))
    off = float(shapely.hausdorff_distance(want, got, densify=0.002))
    if len(found.holes) != len(scan.pins):
        raise ValueError(f"{len(found.holes)} holes instead of {len(scan.pins)}")
    pins, sizes = [], []
    for pin in scan.pins:
        x, y = pin.centers[0]
        near = min(found.holes, key=lambda hole: np.hypot(hole[0] - x, hole[1] - y))
        pins.append(float(np.hypot(near[0] - x, near[1] - y)))
        sizes.append(abs(near[2] - 2 * float(pin.radii[0])))
    return off, max(pins), max(sizes), len(found.ring)


def run() -> str:
    """The table: resolution, blur and noise against what is off."""
    head = (
        "| dpi | blur (px) | noise (of 255) | outline off (mm) | pin centre off (mm)"
        " | hole diameter off (mm) | segments |"
    )
    lines = [head, "| --- | --- | --- | --- | --- | --- | --- |"]
    with tempfile.TemporaryDirectory() as folder:
        for dpi, (blur, noise) in itertools.product(
            (150.0, 300.0, 600.0), ((0.0, 0.0), (0.8, 4.0), (1.5, 8.0), (1.5, 16.0))
        ):
            scan = draw(Path(folder) / "scan.png", Faults(dpi=dpi, blur_px=blur, noise=noise))
            off, pin, size, count = errors_mm(scan)
            lines.append(f"| {dpi:g} | {blur:g} | {noise:g} | {off:.3f} | {pin:.3f} | {size:.3f} | {count} |")
    return "\n".join(lines)
