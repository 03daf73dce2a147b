"""The papers say what is so: command lines, examples, commands, files."""

import json
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from scalegen.export.dxf import LAYERS
from scalegen.pattern.batch import read_batch
from scalegen.pattern.read import parse_pattern

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def _blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def test_ci_runs_the_two_command_lines_of_the_readme() -> None:
    """What CI runs is what a newcomer is told to run, letter for letter."""
    first, second = (block.strip() for block in _blocks("sh")[:2])
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert first in lines
    assert second in lines
    assert lines.index(first) < lines.index(second)


def test_the_example_pattern_reads(tmp_path: Path) -> None:
    """The pattern in the README is a pattern that the tool takes as it stands."""
    text = _blocks("toml")[0]
    shutil.copy(ROOT / "profiles" / "harrier.dxf", tmp_path / "robin.dxf")
    pattern = parse_pattern(text, tmp_path / "robin.toml")
    assert pattern.name == "robin"
    assert pattern.front.treatment == "bevel"


def test_the_example_batch_reads(tmp_path: Path) -> None:
    """The batch file in the README is one that the tool takes as it stands."""
    batch = tmp_path / "batch.toml"
    batch.write_text(_blocks("toml")[1], encoding="utf-8")
    for name in ("siskin.toml", "harrier.toml"):
        shutil.copy(ROOT / "profiles" / name, tmp_path)
    paths, spec = read_batch(batch)
    assert [path.name for path in paths] == ["siskin.toml", "harrier.toml"]
    assert spec.pairs == 6
    assert spec.pad.corner == "upper-left"


def test_the_library_example_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The lines shown for the library make a job."""
    shutil.copytree(ROOT / "profiles", tmp_path / "profiles")
    monkeypatch.chdir(tmp_path)
    exec(compile(_blocks("python")[0], "README.md", "exec"), {})  # noqa: S102 - the README is ours
    record = json.loads((tmp_path / "out" / "siskin" / "job.json").read_text(encoding="utf-8"))
    assert record["pairs"] == 6


@pytest.mark.parametrize(
    "command",
    [
        *("init", "new", "check", "make", "show outline", "show pattern", "show job", "show tables"),
        *("show touch-off", "show dry-run", "show finishing", "show history"),
    ],
)
def test_every_command_has_help_and_is_in_the_readme(command: str) -> None:
    """Each command explains itself and is mentioned where users look first."""
    run = subprocess.run(
        [sys.executable, "-m", "scalegen", *command.split(), "--help"],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert len(run.stdout.splitlines()) > 5
    assert command.rsplit(maxsplit=1)[-1] in README


@pytest.mark.parametrize("command", ["make", "new", "show outline", "show touch-off", "show dry-run"])
def test_every_option_is_in_the_readme(command: str) -> None:
    """No option of a command is left out of the manual."""
    run = subprocess.run(
        [sys.executable, "-m", "scalegen", *command.split(), "--help"],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    for option in set(re.findall(r"--[a-z][a-z-]+", run.stdout)) - {"--help"}:
        assert option in README, option


def test_layers_of_the_readme_are_those_written() -> None:
    """The DXF layers in the README are the ones in the files."""
    text = README.split("DXF layers:")[1].split(". Arcs")[0]
    assert set(re.findall(r"`([a-z-]+)`", text)) == set(LAYERS)


def test_bundled_starter_files_are_the_ones_in_the_repository() -> None:
    """The wheel carries the same tables and patterns that a reader of the repository sees."""
    for name in ("shared", "profiles"):
        ours = {path.name: path.read_bytes() for path in (ROOT / name).iterdir()}
        bundled = {path.name: path.read_bytes() for path in (ROOT / "scalegen" / "data" / name).iterdir()}
        assert ours == bundled


def test_version_is_said_once() -> None:
    """The package and its metadata agree on the version, and the changelog has it."""
    from scalegen import __version__

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == __version__
    assert f"## {__version__}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
