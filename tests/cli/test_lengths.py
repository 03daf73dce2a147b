"""Lengths as people want to read them: mm, decimal inches or fractions."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(*words: str) -> subprocess.CompletedProcess[str]:
    """The command as users run it."""
    return subprocess.run(
        [sys.executable, "-m", "scalegen", *words], capture_output=True, text=True, check=False, cwd=ROOT
    )


@pytest.mark.parametrize(
    ("lengths", "thickness"), [("mm", "6.200 mm"), ("in", "0.2441 in"), ("fraction", "1/4 in (-0.006)")]
)
def test_a_pattern_is_shown_in_the_lengths_asked_for(lengths: str, thickness: str) -> None:
    """Siskin's scale of 6.2 mm, in each way."""
    shown = run("show", "pattern", "profiles/siskin.toml", "--lengths", lengths)
    assert shown.returncode == 0, shown.stderr
    assert thickness in shown.stdout
    headings = {"mm": "sizes in mm", "in": "sizes in in", "fraction": "sizes in in"}
    assert headings[lengths] in shown.stdout


def test_a_word_that_is_none_is_refused_with_what_was_meant() -> None:
    """The message names the option and the words."""
    shown = run("show", "pattern", "profiles/siskin.toml", "--lengths", "fractions")
    assert shown.returncode == 2
    assert "--lengths" in shown.stderr
    assert "mm, in, fraction" in shown.stderr
    assert "Traceback" not in shown.stderr


def test_check_has_its_blank_in_fractions() -> None:
    """What facing takes off is read in fractions too."""
    shown = run("check", "profiles/siskin.toml", "--lengths", "fraction")
    assert shown.returncode == 0, shown.stderr
    assert "1/64 in" in shown.stdout
