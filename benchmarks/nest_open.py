"""Open strip-packing instances: how dense, beside what was published. Files are read, never copied."""

import json
import math
import sys
import time
from pathlib import Path

import numpy as np

from scalegen.nest.records import Body, Part, Shape
from scalegen.nest.smallest import smallest_board

# Published averages in per cent: 1200 s on 16 cores; from the readme that comes with the files.
PUBLISHED = {
    "swim": 78.30,
    "shirts": 89.72,
    "trousers": 91.79,
    "dagli": 89.23,
    "mao": 86.10,
    "marques": 90.91,
}
STRIP_MM = 150.0
LIMIT_S = 55.0


def run(words: list[str]) -> str:
    """Work every file of a folder, or one file.

    Args:
        words: The path; then names of instances, when not the three usual ones.

    Returns:
        A table.
    """
    path = Path(words[0])
    names = words[1:] or ["swim", "shirts", "trousers"]
    files = [path] if path.is_file() else [path / f"{name}.json" for name in names]
    lines = ["instance   density %  published %  ratio    cpu s   moves"]
    for file in files:
        lines.append(line(file))
        print(lines[-1], file=sys.stderr)
    return "\n".join(lines)


def line(file: Path) -> str:
    """One row of the table."""
    data = json.loads(file.read_text(encoding="utf-8"))
    scale = STRIP_MM / data["strip_height"]
    shapes, bodies, area = [], [], 0.0
    for item in data["items"]:
        points = np.asarray(item["shape"]["data"], dtype=np.float64) * scale
        points = points[:-1] if (points[0] == points[-1]).all() else points
        key = str(item["id"])
        shapes.append(Shape(key=key, points_mm=points))
        angles = tuple(math.radians(angle) for angle in item["allowed_orientations"])
        bodies.append(
            Body(key=key, group=key, parts=(Part(shape=key),), angles_rad=angles, count=item["demand"])
        )
        x, y = points.T
        area += item["demand"] * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2
    begin = time.process_time()
    best = smallest_board(
        bodies,
        shapes=shapes,
        spacing_mm=0.0,
        width_mm=STRIP_MM,
        effort="thorough",
        stop=lambda: time.process_time() - begin > LIMIT_S,
    )
    seconds = time.process_time() - begin
    density = 100 * area / (STRIP_MM * best.length_mm)
    known = PUBLISHED.get(data["name"], math.nan)
    ratio = density / known
    return f"{data['name']:<9} {density:9.2f} {known:12.2f} {ratio:7.3f} {seconds:8.1f} {best.moves:7d}"
