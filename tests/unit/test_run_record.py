"""What a run went by, in its record: everything that decides, and no clock."""

import hashlib
import json
import shutil
from dataclasses import replace
from pathlib import Path

from scalegen.model import JobSpec, Reading
from scalegen.pattern.read import read_pattern
from scalegen.report.record import to_json
from scalegen.report.run_record import run_record

ROOT = Path(__file__).parents[2]
HARRIER = read_pattern(ROOT / "profiles" / "harrier.toml")
SHARED = ROOT / "shared"


def test_files_are_summed_up() -> None:
    """Pattern, outline and every table, each with the checksum of its bytes."""
    files = run_record(JobSpec(), HARRIER, SHARED)["files"]
    for name, path in (
        ("harrier.toml", ROOT / "profiles" / "harrier.toml"),
        ("harrier.dxf", ROOT / "profiles" / "harrier.dxf"),
        ("shared/stock.toml", SHARED / "stock.toml"),
    ):
        assert files[name] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert {"shared/shop.toml", "shared/hardware.toml", "shared/cutters.toml"} <= files.keys()
    # The bundled tables are the same bytes as those of the repository.
    assert run_record(JobSpec(), HARRIER, None)["files"]["shared/stock.toml"] == files["shared/stock.toml"]


def test_a_changed_table_changes_the_sum_of_that_table_alone(tmp_path: Path) -> None:
    """One comment more in one table."""
    shared = shutil.copytree(SHARED, tmp_path / "shared")
    with (shared / "cutters.toml").open("a", encoding="utf-8") as table:
        table.write("# mine\n")
    before, after = (run_record(JobSpec(), HARRIER, folder)["files"] for folder in (SHARED, shared))
    assert {name for name in before if before[name] != after[name]} == {"shared/cutters.toml"}


def test_a_file_that_is_gone_is_none(tmp_path: Path) -> None:
    """A pattern that was moved away while it was made is no crash."""
    gone = replace(HARRIER, path=tmp_path / "gone.toml")
    assert run_record(JobSpec(), gone, SHARED)["files"]["gone.toml"] is None


def test_options_readings_and_versions_are_there() -> None:
    """Options as resolved, angles in degrees; readings apart; the folder it goes into is left out."""
    spec = JobSpec(
        pairs=3,
        measured_mm=(6.8, 6.9),
        readings=(
            Reading(thickness_mm=6.8, x_mm=1.0, y_mm=2.0),
            Reading(thickness_mm=6.9, x_mm=3.0, y_mm=4.0),
        ),
        out=Path("/somewhere/else"),
    )
    record = run_record(spec, HARRIER, SHARED)
    assert record["options"]["pairs"] == 3
    assert record["options"]["turns_deg"] == [0.0, 180.0]
    assert record["options"]["pad"]["width_mm"] == 20.0
    assert not {"out", "measured_mm", "readings", "turns_rad"} & record["options"].keys()
    assert record["readings"]["measured_mm"] == [6.8, 6.9]
    assert record["readings"]["places"] == [[1.0, 2.0, 6.8], [3.0, 4.0, 6.9]]
    assert set(record["versions"]) == {"scalegen", "python", "kernel"}
    assert all(record["versions"].values())


def test_the_same_run_is_the_same_text_wherever_it_goes() -> None:
    """No clock, no folder, no name for it: two runs into different places are told alike."""
    first, second = (
        to_json(run_record(JobSpec(out=Path(out), job=job), HARRIER, SHARED))
        for out, job in (("a", None), ("b/c", "other"))
    )
    assert first == second
    assert "/" not in json.dumps(json.loads(first)["options"]).replace("1/8in", "")
