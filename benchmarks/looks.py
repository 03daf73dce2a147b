"""The pictures of a job, beside the same triangles painted by a bare script with Pillow, as ratios.

The yardstick sorts the triangles by depth and fills each with one tone, furthest first: no shadows, no lines
of edges, no soft edges of the picture, wrong where triangles pass through one another. It paints the scene
once; preview.png shows it three times, once with its hardware, and knife.png twice.
"""

import io
import statistics
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from scalegen.looks.hardware import set_hardware
from scalegen.looks.pictures import knife_scene, pair_scene, pictures
from scalegen.looks.scene import Placed, aimed
from scalegen.model import JobSpec
from scalegen.solids.look_mesh import looks_of
from scalegen.solids.scales import scale_solids
from scalegen.study import study_pattern

SIZE_PX = (1400, 900)


def run(rounds: int) -> str:
    """Time the pair as cut and the handle of a bundled pattern; medians, and the ratio in the same run."""
    path = Path(__file__).parents[1] / "profiles" / "harrier.toml"
    study = study_pattern(path, JobSpec())
    if study.volumes is None:
        raise SystemExit("the bundled pattern cannot be built")
    looks = looks_of(study.scale, scale_solids(study.scale, study.volumes))
    draws = dict(pictures(study.scale, looks))
    scenes = {
        "preview.png": pair_scene(looks.as_cut),
        "knife.png": knife_scene(study.scale, looks, set_hardware(study.scale)),
    }
    lines = [f"{'picture':14}{'triangles':>10}{'ours ms':>9}{'bare ms':>9}{'ratio':>7}"]
    for name, placed in scenes.items():
        count = sum(len(each.shown.triangles) for each in placed)
        ours = _median_ms(draws[name], rounds)
        bare = _median_ms(lambda p=placed: _painted(p), rounds)
        lines.append(f"{name:14}{count:10}{ours:9.0f}{bare:9.0f}{ours / bare:7.2f}")
    return "\n".join(lines)


def _painted(placed: Sequence[Placed]) -> bytes:
    camera = aimed(
        np.vstack([each.points() for each in placed]), azimuth_deg=-108.0, height_deg=44.0, size_px=SIZE_PX
    )
    image = Image.new("RGB", SIZE_PX, "white")
    pen = ImageDraw.Draw(image)
    found = []
    for each in placed:
        points = each.points()
        seen, table = camera.project(points), each.table()
        a, b, c = (points[table[:, k]] for k in range(3))
        across = np.cross(b - a, c - a)
        tone = 0.4 + 0.6 * np.abs(across[:, 2]) / np.maximum(np.sqrt((across**2).sum(axis=1)), 1e-12)
        color = [int(each.shown.color[k : k + 2], 16) for k in (1, 3, 5)]
        for row, light in zip(table, tone, strict=True):
            corners = [(float(x), float(y)) for x, y in seen[row, :2]]
            found.append((float(seen[row, 2].mean()), corners, tuple(int(part * light) for part in color)))
    for _, corners, color in sorted(found, key=lambda each: -each[0]):
        pen.polygon(corners, fill=color)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def _median_ms(call: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        call()
        times.append(1000 * (time.perf_counter() - began))
    return statistics.median(times)
