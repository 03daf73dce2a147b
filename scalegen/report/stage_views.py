"""The plan of stages as a table for people."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.model import Lengths
from scalegen.units import format_length

RANGES = (
    "depths of passes and steps aside: common practice; the cutter maker's data come first. Heights are above"
    " the underside of the blank."
)


def print_stages(stages: Sequence[Mapping[str, Any]], units: Lengths, out: Console) -> None:
    """Print the stages of a job record, in order."""
    table = Table(title="Stages", title_justify="left")
    for name in ("stage", "cutter"):
        table.add_column(name, overflow="fold")
    for name in ("from", "to", "passes"):
        table.add_column(name, justify="right")
    for name in ("how", "zero on"):
        table.add_column(name, overflow="fold")
    for number, stage in enumerate(stages, 1):
        table.add_row(
            Text(f"{number} {stage['name']}"),
            Text(stage["cutter"] if stage["at_hand"] else f"{stage['cutter']}: not at hand"),
            _size(stage["from_mm"], units),
            _size(stage["to_mm"], units),
            str(stage["passes"]),
            Text("; ".join(_how(stage, units))),
            Text(stage["touch_off"]),
        )
    out.print(table)
    out.print(Text(RANGES))


def _how(stage: Mapping[str, Any], units: Lengths) -> Iterator[str]:
    """How a stage is gone through, in a few words."""
    if stage["passes"] > 1:
        word = "lifted after" if stage["kind"] == "drill" else "down by"
        yield f"{word} {format_length(stage['depth_per_pass_mm'], units)}"
    if stage["stepover_mm"] is not None:
        yield f"aside by {format_length(stage['stepover_mm'], units)}"
    if stage["scallop_mm"] is not None:
        yield f"ridges of {format_length(stage['scallop_mm'], units)}"
    if stage["allowance_mm"]:
        yield f"leaves {format_length(stage['allowance_mm'], units)}"
    point = stage["to_mm"] - stage["deepest_mm"]
    if point > 0:
        yield f"point {format_length(point, units)} further"


def _size(mm: float, units: Lengths) -> str:
    return format_length(mm, units, 3 if units == "in" else 2)
