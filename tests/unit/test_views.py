"""Tables for people: every number in the user's unit, nothing cut off, at 80 and at 120 columns."""

import io
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from scalegen.machining.stages import plan_stages
from scalegen.model import JobSpec
from scalegen.pipeline import Study, lay_out, study_pattern, study_record
from scalegen.report.bom import bill
from scalegen.report.job_views import count_words, print_job, print_made
from scalegen.report.record import job_record, to_json
from scalegen.report.views import CAUTION, console, print_study, step_display

PROFILES = Path(__file__).parents[2] / "profiles"
DEMOS = ("siskin", "harrier", "curlew")


@cache
def looked_at(name: str) -> Study:
    """A demo pattern, looked at once."""
    measured = (6.9, 6.95) if name == "harrier" else ()
    return study_pattern(PROFILES / f"{name}.toml", JobSpec(measured_mm=measured))


@cache
def job_of(name: str) -> str:
    """The record of a job as text, made without the kernel."""
    study, spec = looked_at(name), JobSpec(pairs=2, spares=1)
    layouts = lay_out(study, spec)
    assert study.volumes is not None
    return to_json(
        job_record(
            scale=study.scale,
            blank=study.blank,
            facing=study.facing,
            spec=spec,
            layouts=layouts,
            volumes=study.volumes,
            stages=plan_stages(study.scale, spec, study.shop),
            findings=study.findings,
            bom=bill(study.scale, spec, study.shop, layouts, study.volumes.finished_mm3),
            files=(),
        )
    )


def printed(name: str, width: int, *, whole_job: bool = False) -> str:
    """What a person sees of a demo on a terminal so wide."""
    out = io.StringIO()
    terminal = Console(file=out, width=width)
    if whole_job:
        record: dict[str, Any] = json.loads(job_of(name))
        print_job(record, Path("out") / name, terminal)
    else:
        study = looked_at(name)
        print_study(study_record(study), study.findings, terminal)
    return out.getvalue()


def on_a_screen(record: dict[str, Any], width: int) -> str:
    """What a person sees of a job that was just made."""
    out = io.StringIO()
    print_made(record, Path("out") / "job", Console(file=out, width=width))
    return out.getvalue()


def flat(text: str) -> str:
    """Text without the lines of tables and without line breaks."""
    return " ".join("".join(" " if sign in "│┃─━" else sign for sign in text).split())


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("whole_job", [False, True])
def test_nothing_runs_over_and_nothing_is_cut_off(name: str, width: int, *, whole_job: bool) -> None:
    """Lines stay within the terminal, and no cell ends in an ellipsis."""
    text = printed(name, width, whole_job=whole_job)
    assert max(map(len, text.splitlines())) <= width
    assert "…" not in text


@pytest.mark.parametrize("name", DEMOS)
def test_a_job_just_made_fits_on_a_screen(name: str) -> None:
    """What was made, sheets and limit, stages, findings, goods and one caution: 45 lines at 100 columns."""
    record = json.loads(job_of(name))
    lines = on_a_screen(record, 100).splitlines()
    assert len(lines) <= 45
    assert max(map(len, lines)) <= 100
    text = flat("\n".join(lines))
    assert f"2 pairs and 1 spare in {Path('out') / 'job'}" in text
    assert "no more than" in text
    for stage in record["stages"]:
        assert f"{stage['name']} {stage['cutter']}" in text
    for row in record["bom"]:
        if row["section"] in {"sheets", "adhesive", "hardware", "total"}:
            assert f"{row['cost']:.2f}" in text
        if row["section"] in {"sheets", "adhesive", "hardware", "tape", "abrasives"}:
            assert row["item"] in text
    assert "…" not in text
    assert "half mask" not in text
    assert "kept, not counted" not in text
    assert text.count("Dust, epoxy and fast cutters") == 1


def test_goods_on_a_screen_add_up() -> None:
    """The costs of the lines above the total add up to it."""
    text = on_a_screen(json.loads(job_of("harrier")), 120).split("To buy")[1]
    costs = [float(each) for each in re.findall(r"\s(\d+\.\d\d)\s*$", text, flags=re.MULTILINE)]
    assert len(costs) > 4
    assert sum(costs[:-1]) == pytest.approx(costs[-1], abs=0.005)


def test_stops_and_warnings_are_told_and_notes_counted() -> None:
    """Of a warning the screen says what, where and what to do; of notes only how many."""
    record = json.loads(job_of("siskin"))
    rest = {"code": "x", "about": "pin 1", "where": "x = 3"}
    record["findings"] = [
        {**rest, "level": "note", "message": "a small thing", "remedy": "none"},
        {**rest, "level": "warning", "message": "[red]thin[/red]", "remedy": "move it"},
        {**rest, "level": "note", "message": "a small thing", "remedy": "none"},
    ]
    text = flat(on_a_screen(record, 120))
    assert "Findings: 1 warning, 2 notes" in text
    assert "warning, pin 1: [red]thin[/red] (x = 3); move it" in text
    assert "a small thing" not in text
    record["findings"] = []
    assert "Findings: none" in on_a_screen(record, 120)


def test_many_sheets_are_counted() -> None:
    """Of many sheets the first are shown and the others counted, so that the rest stays in sight."""
    record = json.loads(job_of("siskin"))
    record["sheets"] = [{**record["sheets"][0], "name": f"sheet-{k}"} for k in range(1, 13)]
    text = on_a_screen(record, 120)
    assert "sheet-4" in text
    assert "sheet-5" not in text
    assert "and 8 more" in text


def test_how_the_blank_is_known() -> None:
    """A blank that nobody measured is said to be so."""
    assert "blank 6.900 mm thick (the least of 2 readings)" in on_a_screen(json.loads(job_of("harrier")), 120)
    assert "by the tables, not measured" in on_a_screen(json.loads(job_of("siskin")), 120)


def test_the_sizes_of_a_metric_pattern() -> None:
    """What a maker looks for is there, in mm."""
    text = flat(printed("harrier", 120))
    for words in (
        "Harrier camp knife",
        "glass liner 0.8mm (0.800 mm), bond line 1 (0.100 mm), paper face 6mm (6.000 mm)",
        "6.900 mm, the smallest of 6.90 mm, 6.95 mm; by the tables 6.900 mm",
        "finished thickness 6.200 mm",
        "1.00 mm outside the outline, 0.10 mm at the back",
        "at x = 16.00 mm, 78°, 0.20 mm left ahead of it; bevel of 40°, land 1.20 mm, runs back 5.96 mm",
        "edge round, 2.50 mm",
        "3 tube 5mm 116.00 -2.00 5.055 #8",
    ):
        assert words in text


def test_an_inch_pattern_is_shown_in_inches() -> None:
    """Sizes, areas and volumes are in inches; a 1/16 in radius is not rounded to 0.06."""
    text = flat(printed("curlew", 120)).replace("6mm", "")
    assert " mm" not in text.split("Findings")[0]
    assert "cm2" not in text
    for words in (
        "proud arc of 0.900 in; round, 0.062 in",
        "edge chamfer, 0.050 in",
        "0.1285 #30",
        " in2",
        " in3",
    ):
        assert words in text


def test_reveals_are_shown_where_there_are_any(tmp_path: Path) -> None:
    """Layers that a bevel crosses are told with their distance behind the front."""
    text = (PROFILES / "siskin.toml").read_text(encoding="utf-8")
    path = tmp_path / "own.toml"
    path.write_text(
        text.replace(
            'treatment = "round"              # "bevel", "round" or "square"\nradius = 2.0  ',
            'treatment = "bevel"\nslope = 45\nland = 0.5  ',
        ),
        encoding="utf-8",
    )
    study = study_pattern(path, JobSpec())
    out = io.StringIO()
    print_study(study_record(study), study.findings, Console(file=out, width=120))
    assert "shows 0.30 mm behind the front" in flat(out.getvalue())
    assert "shows 0.40 mm behind the front" in flat(out.getvalue())


def test_a_job_tells_pairs_sheets_and_cautions() -> None:
    """Pairs and spares, where each scale lies, what it costs and what can hurt."""
    text = flat(printed("siskin", 120, whole_job=True))
    assert f"Siskin paring knife: 2 pairs and 1 spare in {Path('out') / 'siskin'}" in text
    assert "sheet-1 300 mm x 150 mm lower-left 4.175 mm, 4.175 mm 1L 1R 2L 2R 3L 3R" in text
    assert "Bill of materials" in text
    assert "1 file, 0.0 MB: job.json" in text
    assert CAUTION in text


def test_brackets_in_titles_are_shown_as_they_are() -> None:
    """A title is text, not markup for the table library."""
    record = json.loads(job_of("siskin"))
    record["pattern"]["title"] = "[bold]Knife[/bold] [1]"
    out = io.StringIO()
    print_job(record, Path("out"), Console(file=out, width=100))
    assert "[bold]Knife[/bold] [1]" in out.getvalue()


def test_a_pattern_without_pins_has_no_empty_table() -> None:
    """No pins, no table of pins."""
    record = json.loads(job_of("siskin"))
    record["pins"] = []
    out = io.StringIO()
    print_job(record, Path("out"), Console(file=out, width=100))
    assert "Pins" not in out.getvalue()


def test_a_pipe_gets_a_fixed_width(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no terminal says otherwise, tables are 120 wide; COLUMNS has the last word."""
    monkeypatch.delenv("COLUMNS", raising=False)
    assert console().width == 120
    monkeypatch.setenv("COLUMNS", "80")
    assert console().width == 80


def test_steps_are_silent_away_from_a_terminal(capfd: pytest.CaptureFixture[str]) -> None:
    """Progress never gets into a log or a pipe."""
    with step_display("siskin", quiet=False) as progress:
        progress("building")
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("counts", "limit", "proven", "words"),
    [
        ([1], 12, True, "1 pair on this sheet; no more than 12 can go"),
        ([9], 12, False, "9 pairs on this sheet; no more than 12 can go"),
        ([9], None, None, "9 pairs on this sheet"),
        (
            [9, 4],
            12,
            True,
            "13 pairs on 2 sheets, 9 on a full one; no more than 12 can go on one, so fewer sheets",
        ),
        ([9, 1], 12, False, "10 pairs on 2 sheets, 9 on a full one; no more than 12 can go on one"),
        ([9, 1], None, None, "10 pairs on 2 sheets, 9 on a full one"),
    ],
)
def test_the_count_is_told_beside_its_limit(
    counts: list[int], limit: int | None, proven: bool | None, words: str
) -> None:
    """Pairs, sheets and the proven limit stand in one sentence; no word claims more than is proven."""
    sheets = [{"placements": [{}] * (2 * count), "bound_pairs": limit, "proven": proven} for count in counts]
    said = count_words(sheets)
    assert said.startswith(words)
    assert ("cannot hold" in said) == (bool(proven) and len(counts) > 1)
    assert "max" not in said
