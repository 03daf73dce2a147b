"""The job record keeps its contract: these keys, these units."""

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from scalegen.checks import check_scale
from scalegen.errors import Fault, PatternError, StopError, UsageError
from scalegen.export.drawings import footprints
from scalegen.export.files import WrittenFile
from scalegen.machining.stages import plan_stages
from scalegen.model import JobSpec, Liner
from scalegen.pipeline import Study, lay_out, study_pattern, study_record
from scalegen.pipeline import study as look
from scalegen.report.bom import bill
from scalegen.report.record import (
    error_record,
    job_record,
    read_job,
    to_json,
)
from scalegen.report.record_scale import pin_records, reveals_mm, scale_record

PROFILES = Path(__file__).parents[2] / "profiles"
SPEC = JobSpec(pairs=2, spares=1, measured_mm=(6.9, 6.95))


@cache
def looked_at(name: str, measured_mm: tuple[float, ...]) -> Study:
    """A demo pattern, looked at once for all tests."""
    return study_pattern(PROFILES / f"{name}.toml", JobSpec(measured_mm=measured_mm))


def build(name: str = "harrier", spec: JobSpec = SPEC) -> dict[str, Any]:
    """A whole record, made without the kernel and without files."""
    study = looked_at(name, spec.measured_mm)
    layouts = lay_out(study, spec)
    volumes = study.volumes
    assert volumes is not None
    record = job_record(
        scale=study.scale,
        blank=study.blank,
        facing=study.facing,
        spec=spec,
        layouts=layouts,
        volumes=volumes,
        stages=plan_stages(study.scale, spec, study.shop),
        findings=study.findings,
        bom=bill(study.scale, spec, study.shop, layouts, volumes.finished_mm3),
        files=(WrittenFile(path="a.dxf", sha256="0" * 64, bytes=7),),
    )
    loaded: dict[str, Any] = json.loads(to_json(record))
    return loaded


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    """The harrier's record as a program would read it."""
    return build()


KEYS = {
    "": "scalegen lots pattern pairs spares asked stack blank scale pins sheets stages findings bom files",
    "asked": "cutter spacing_mm readings_mm accept",
    "pattern": "name title units file tang front thickness face relief liner edge trim_mm back_allowance_mm"
    " stock",
    "pattern.tang": "thickness_mm outline",
    "pattern.front": "at_mm angle_deg arc_mm arc_shape treatment slope_deg land_mm top_radius_mm"
    " radius_mm allowance_mm",
    "pattern.edge": "treatment size_mm spine_mm belly_mm",
    "pattern.face": "crown swell_mm",
    "stack": "layers nominal_mm measured_mm used_mm spread_mm",
    "stack.layers": "name thickness_mm",
    "scale.layers": "name kind from_mm to_mm step_mm",
    "scale": "thickness_mm finished_area_mm2 as_cut_area_mm2 finished_perimeter_mm finished_volume_mm3"
    " as_cut_volume_mm3 layers layer_volumes_mm3 bevel_run_mm reveals_mm reveals",
    "pins": "at_mm hardware hole_mm drill edge_distance_mm cut_length_mm thickness_mm head_hole_mm seat_mm"
    " blind_end_mm",
    "sheets": "name remnant outline_mm outline_rows zones grain_deg origin pad pads placements left_over"
    " utilisation bound_pairs bound_reason proven effort seed",
    "sheets.pad": "x_mm y_mm w_mm h_mm",
    "sheets.placements": "label pattern side x_mm y_mm angle_deg local_mm tabs",
    "blank": "readings mean_mm outliers used_without_outliers_mm off_nominal_mm worst_case_mm"
    " root_sum_square_mm plane bond_mm film_mm faced_mm enough_everywhere layers_left",
    "blank.faced_mm": "least most",
    "blank.layers_left": "name kind bonded_mm least_left_mm most_left_mm",
    "stages": "name does cutter kind at_hand touch_off z_zero_mm from_mm to_mm deepest_mm allowance_mm"
    " depth_per_pass_mm stepover_mm scallop_mm passes reason surface_error_if_zeroed_elsewhere_mm",
    "findings": "code level about where message remedy",
    "bom": "section item quantity unit note cost on_hand short details",
    "files": "path sha256 bytes",
}


@pytest.mark.parametrize("place", KEYS)
def test_keys_are_those_of_the_contract(record: dict[str, Any], place: str) -> None:
    """Programs that read the record find every key, at every depth, and no other."""
    found: list[Any] = [record]
    for step in filter(None, place.split(".")):
        values = [item[step] for item in found]
        found = [item for value in values for item in (value if isinstance(value, list) else [value])]
    assert found
    for item in found:
        assert set(item) == set(KEYS[place].split())


def test_numbers_of_the_record(record: dict[str, Any]) -> None:
    """Counts, thicknesses and sums are what they say."""
    assert (record["pairs"], record["spares"]) == (2, 1)
    stack = record["stack"]
    assert (stack["measured_mm"], stack["used_mm"]) == ([6.9, 6.95], 6.9)
    assert stack["spread_mm"] == pytest.approx(0.05)
    assert math.fsum(layer["thickness_mm"] for layer in stack["layers"]) == pytest.approx(6.9)
    scale = record["scale"]
    assert sum(scale["layer_volumes_mm3"].values()) == pytest.approx(scale["finished_volume_mm3"])
    assert scale["as_cut_volume_mm3"] > scale["finished_volume_mm3"]
    labels = [place["label"] for sheet in record["sheets"] for place in sheet["placements"]]
    assert labels == ["1L", "1R", "2L", "2R", "3L", "3R"]
    assert record["pattern"]["front"]["slope_deg"] == pytest.approx(40.0)
    assert record["findings"] == sorted(
        record["findings"], key=lambda f: ["stop", "warning", "note"].index(f["level"])
    )


def test_lengths_are_mm_even_for_inch_patterns() -> None:
    """An inch pattern's record is in mm: a #30 hole, a front at 0.65 in, a sheet of 12 x 6 in."""
    record = build("curlew", JobSpec())
    assert record["pattern"]["units"] == "in"
    assert record["pins"][0]["hole_mm"] == pytest.approx(0.1285 * 25.4)
    assert record["pattern"]["front"]["at_mm"] == pytest.approx(0.65 * 25.4)
    assert record["pattern"]["tang"]["thickness_mm"] == pytest.approx(3 / 32 * 25.4)
    assert record["sheets"][0]["outline_mm"][2] == pytest.approx([12 * 25.4, 6 * 25.4])
    assert record["scale"]["thickness_mm"] == pytest.approx(0.26 * 25.4)


@pytest.mark.parametrize(
    ("origin", "corner"),
    [
        ("lower-left", (0, 0)),
        ("lower-right", (-300, 0)),
        ("upper-left", (0, -150)),
        ("upper-right", (-300, -150)),
    ],
)
def test_sheets_count_from_the_origin_asked_for(origin: Any, corner: tuple[float, float]) -> None:
    """Blank, pad and placements are all told from the corner that is X0 Y0."""
    here = build(spec=replace(SPEC, origin=origin))["sheets"][0]
    there = build()["sheets"][0]
    x, y = corner
    assert here["outline_mm"][0] == pytest.approx([x, y])
    assert (here["pad"]["x_mm"], here["pad"]["y_mm"]) == pytest.approx((4.175 + x, 4.175 + y))
    for one, other in zip(here["placements"], there["placements"], strict=True):
        assert (one["x_mm"], one["y_mm"]) == pytest.approx((other["x_mm"] + x, other["y_mm"] + y))


def test_utilisation_is_scale_area_over_blank_area(record: dict[str, Any]) -> None:
    """What is cut out of the blank, as a share of it."""
    for sheet in record["sheets"]:
        parts = len(sheet["placements"]) * record["scale"]["as_cut_area_mm2"]
        assert sheet["utilisation"] == pytest.approx(parts / (300 * 150))


def _study(tmp_path: Path, **front: float | str) -> Study:
    """The siskin with another front, from a three-layer stack."""
    text = (PROFILES / "siskin.toml").read_text(encoding="utf-8")
    head, rest = text.split("[front]")
    lines = "\n".join(f"{key} = {json.dumps(value)}" for key, value in front.items())
    pattern = tmp_path / "own.toml"
    pattern.write_text(f"{head}[front]\n{lines}\n[scale]{rest.split('[scale]')[1]}", encoding="utf-8")
    return study_pattern(pattern, JobSpec(stock="maple-spacer"))


def test_reveals_of_a_bevel(tmp_path: Path) -> None:
    """A bevel of 40 degrees over a land of 0.85 mm shows layers at (z - land) / tan 40 behind the front.

    Layer tops by the tables: liner 0.8, bond 0.9, spacer 1.4, bond 1.5 mm. Plain trigonometry.
    """
    study = _study(tmp_path, at=14.0, treatment="bevel", slope=40, land=0.85)
    expected = [(z - 0.85) / math.tan(math.radians(40)) for z in (0.9, 1.4, 1.5)]
    assert reveals_mm(study.scale) == pytest.approx(expected)
    record = scale_record(study.scale, None)
    assert record["bevel_run_mm"] == pytest.approx((6.2 - 0.85) / math.tan(math.radians(40)))
    assert record["finished_volume_mm3"] is None


def test_reveals_of_a_round_and_a_square_front(tmp_path: Path) -> None:
    """A radius of 5 mm starts 1.2 mm up: at z it is back by r - sqrt(r^2 - (z - 1.2)^2)."""
    rounded = _study(tmp_path, at=14.0, treatment="round", radius=5.0)
    expected = [5 - math.sqrt(25 - (z - 1.2) ** 2) for z in (1.4, 1.5)]
    assert reveals_mm(rounded.scale) == pytest.approx(expected)
    assert scale_record(rounded.scale, None)["bevel_run_mm"] == 0.0
    assert reveals_mm(_study(tmp_path, at=14.0, treatment="square").scale) == []


def test_pins_have_null_where_no_drill_fits(tmp_path: Path) -> None:
    """A milled hole has no drill: null, not a missing key."""
    text = (PROFILES / "siskin.toml").read_text(encoding="utf-8")
    path = tmp_path / "siskin.toml"
    path.write_text(text.replace('hardware = "pin 3mm"', "diameter = 3.0\nhole = 3.07", 1), encoding="utf-8")
    pins = pin_records(study_pattern(path, JobSpec()).scale)
    assert [pin["drill"] for pin in pins] == [None, "3.1 mm"]


def test_a_study_has_the_same_parts_as_a_job(record: dict[str, Any]) -> None:
    """What is known before building is told in the same words as after."""
    study = looked_at("harrier", SPEC.measured_mm)
    told = json.loads(to_json(study_record(study)))
    assert set(told) == {"pattern", "stack", "blank", "scale", "pins", "findings"}
    assert all(told[key] == record[key] for key in told)
    assert check_scale(study.scale, study.shop)
    assert footprints(study.scale)["left"].area_mm2 == pytest.approx(told["scale"]["as_cut_area_mm2"])


def test_equal_jobs_give_equal_text() -> None:
    """The same input gives the same bytes."""
    first = to_json(build())
    looked_at.cache_clear()
    assert to_json(build()) == first


def test_numbers_are_written_to_a_nanometre_and_never_as_minus_zero() -> None:
    """Float dust and the sign of zero don't reach the file; numbers that are none are refused."""
    assert json.loads(to_json({"a": 0.1 + 0.2, "b": [-1e-12, (1,)]})) == {"a": 0.3, "b": [0.0, [1]]}
    assert "-0" not in to_json([-1e-12])
    with pytest.raises(ValueError, match="JSON"):
        to_json([math.nan])


def test_errors_as_data() -> None:
    """An error has the same five keys whatever its kind, and every fault of a file apart."""
    fault = Fault(file="a.toml", field="pin[1].at", found="nothing", allowed="a point", hint="look")
    told = error_record(PatternError("1 fault", faults=[fault], where="a.toml"))
    assert set(told) == {"exit_code", "message", "where", "remedy", "faults"}
    assert told["exit_code"] == 3
    assert {"file", "field", "found", "allowed", "hint"} <= set(told["faults"][0])
    assert error_record(StopError("no"))["faults"] == []


# ----------------------------------------------------------------------------------------- reading back


def _write(folder: Path, text: str) -> Path:
    folder.mkdir()
    (folder / "job.json").write_text(text, encoding="utf-8")
    return folder


def test_a_job_is_read_by_its_folder_or_its_file(tmp_path: Path, record: dict[str, Any]) -> None:
    """Both ways of naming a job work."""
    folder = _write(tmp_path / "harrier", to_json(record))
    assert read_job(folder) == record
    assert read_job(folder / "job.json") == record


def test_what_is_no_job_is_refused(tmp_path: Path, record: dict[str, Any]) -> None:
    """Nothing there, a file, damage, and other JSON each get their own words."""
    for folder, words in (
        (tmp_path / "nowhere", "there is no job here"),
        (_write(tmp_path / "cut", to_json(record)[:900]), "damaged"),
        (_write(tmp_path / "deep", "[" * 100_000), "damaged"),
        (_write(tmp_path / "list", "[1, 2]"), "not a job record"),
        (_write(tmp_path / "other", '{"pattern": 1}'), "not a job record"),
    ):
        with pytest.raises(UsageError, match=words):
            read_job(folder)
    (tmp_path / "list" / "plain.txt").write_text("x", encoding="utf-8")
    with pytest.raises(UsageError, match="there is no job here"):
        read_job(tmp_path / "list" / "plain.txt")


def test_the_folder_of_all_jobs_names_them(tmp_path: Path) -> None:
    """Who gives the folder above is told what lies in it."""
    _write(tmp_path / "one", "{}")
    _write(tmp_path / "two", "{}")
    with pytest.raises(UsageError) as caught:
        read_job(tmp_path)
    assert str(tmp_path / "one") in caught.value.remedy
    assert str(tmp_path / "two") in caught.value.remedy


def test_the_record_has_each_layers_step() -> None:
    """A stepped liner is told with its outline, and each layer with its place and step."""
    study = looked_at("siskin", ())
    pattern = replace(study.scale.pattern, liner=Liner(step_mm=-0.5))
    stepped = look(pattern, study.outline, SPEC, study.shop)
    record = study_record(stepped)
    layers = record["scale"]["layers"]
    assert [layer["step_mm"] for layer in layers] == [-0.5, 0.0, 0.0]
    assert [layer["kind"] for layer in layers] == ["liner", "bond", "face"]
    assert [layer["to_mm"] for layer in layers] == pytest.approx([0.8, 0.9, 6.2])
    liner = record["pattern"]["liner"]
    assert set(liner) == {"step_mm", "sheets", "up_to_mm", "finished_area_mm2", "as_cut_area_mm2"}
    assert (liner["step_mm"], liner["sheets"], liner["up_to_mm"]) == (-0.5, None, pytest.approx(0.8))
    assert liner["finished_area_mm2"] < record["scale"]["finished_area_mm2"] - 30
    assert study_record(study)["pattern"]["liner"] is None
