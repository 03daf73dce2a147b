"""The jobs of a history as a table for people."""

from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.model import Lengths
from scalegen.units import bare_length, unit_word


def print_history(jobs: Sequence[Mapping[str, Any]], lengths: Lengths, out: Console) -> None:
    """Print jobs as the history keeps them, one line each."""
    table = Table(title="Jobs that were made", title_justify="left")
    measured = f"measured ({unit_word(lengths)})"
    for name in ("when", "job", "pattern", "stack", "pairs", "sheets", measured, "cost"):
        right = name in {"pairs", "sheets", "cost"}
        table.add_column(name, justify="right" if right else "left", overflow="fold")
    digits = {"mm": 2, "in": 3, "fraction": None}[lengths]
    for job in jobs:
        spares = f" + {job['spares']}" if job["spares"] else ""
        readings = ", ".join(bare_length(each, lengths, digits) for each in job["measured_mm"])
        cost = "-" if job["cost"] is None else f"{job['cost']:.2f} {job['currency']}"
        cells = (
            job["made_at"][:16].replace("T", " "),
            *(job[name] for name in ("job", "pattern", "stack")),
            f"{job['pairs']}{spares}",
            str(job["sheets"]),
            readings or "-",
            cost,
        )
        table.add_row(*map(Text, cells))
    out.print(table)
