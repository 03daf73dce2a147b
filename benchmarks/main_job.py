"""The main job as a whole process beside a bare kernel script: time, processor time and memory, as ratios."""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PATTERN = Path(__file__).parents[1] / "profiles" / "siskin.toml"
PAIRS = 6


def run(rounds: int) -> str:
    """Alternate both commands ``rounds`` times after one warm-up each and compare medians."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        source = folder / "rows.json"
        ours = [
            sys.executable,
            "-m",
            "scalegen",
            "make",
            str(PATTERN),
            "--pairs",
            str(PAIRS),
            "--out",
            str(folder),
            "-q",
        ]
        bare = [sys.executable, "-m", "benchmarks.bare", str(folder / "bare"), str(source)]
        _measure(ours)
        source.write_text(json.dumps(_bare_input(folder / "siskin" / "job.json")))
        _measure(bare)
        readings = [(_measure(ours), _measure(bare)) for _ in range(rounds)]
    lines = [
        f"six pairs of {PATTERN.stem}, whole processes, medians of {rounds} rounds",
        f"{'':18}{'scalegen':>10}{'bare':>10}{'ratio':>8}",
    ]
    for index, name in enumerate(("wall s", "processor s", "memory MiB")):
        a = statistics.median(pair[0][index] for pair in readings)
        b = statistics.median(pair[1][index] for pair in readings)
        lines.append(f"{name:18}{a:10.2f}{b:10.2f}{a / b:8.2f}")
    return "\n".join(lines)


def _bare_input(record_path: Path) -> dict[str, object]:
    """Outlines, holes and places for the bare script, so that it draws the same things."""
    from scalegen.model import JobSpec
    from scalegen.outline.offset import grow
    from scalegen.pipeline import study_pattern

    record = json.loads(record_path.read_text())
    scale = study_pattern(PATTERN, JobSpec()).scale
    return {
        "as_cut": grow(scale.carried, scale.pattern.trim_mm).rows.tolist(),
        "finished": scale.carried.rows.tolist(),
        "holes": [[*hole.at_mm, hole.hole_mm] for hole in scale.holes],
        "sheets": [
            [
                [int(p["side"] == "right"), p["x_mm"], p["y_mm"], p["angle_deg"] / 57.29577951308232]
                for p in sheet["placements"]
            ]
            for sheet in record["sheets"]
        ],
    }


def _measure(command: list[str]) -> tuple[float, float, float]:
    """Wall seconds, processor seconds and peak memory in MiB of one run."""
    start = time.perf_counter()
    child = subprocess.Popen(command, cwd=Path(__file__).parents[1], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    wall = time.perf_counter() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(f"{' '.join(command)} ended with {child.returncode}")
    scale = 1024 * 1024 if sys.platform == "darwin" else 1024
    return wall, used.ru_utime + used.ru_stime, used.ru_maxrss / scale
