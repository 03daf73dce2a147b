"""Tables and a progress display for people at a terminal."""

import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.model import BomRow, Finding, Units
from scalegen.report.tables import print_bom, print_findings
from scalegen.units import format_length

_PIPE_COLUMNS = 120

CAUTION = (
    "Dust, epoxy and fast cutters can harm you: extract and wear a mask, gloves for epoxy and none near a cutter, eye "
    "and hearing protection. Local law, your safety data sheets and machine manual come first."
)


def console() -> Console:
    """A console on standard output; a fixed width where that is not a terminal."""
    if sys.stdout.isatty() or os.environ.get("COLUMNS"):
        return Console(highlight=False)
    return Console(width=_PIPE_COLUMNS, highlight=False)


@contextmanager
def step_display(name: str, *, quiet: bool) -> Iterator[Callable[[str], None]]:
    """A line on standard error that says what is being done; nothing when quiet or not at a terminal."""
    if quiet or not sys.stderr.isatty():
        yield lambda step: None
        return
    status = Console(stderr=True, highlight=False).status(f"{name}: starting")
    with status:
        yield lambda step: status.update(Text(f"{name}: {step}"))


def print_job(record: Mapping[str, Any], folder: Path, out: Console) -> None:
    """Print the essentials of a job record."""
    units: Units = record["pattern"]["units"]
    pairs, spares = record["pairs"], record["spares"]
    spare_text = f" and {spares} spare" if spares else ""
    out.print(Text(f"{record['pattern']['title']}: {_plural(pairs, 'pair')}{spare_text} in {folder}", style="bold"))
    out.print(_sizes_table(record, units))
    out.print(_pins_table(record, units))
    out.print(_sheets_table(record, units))
    print_findings([Finding(**finding) for finding in record["findings"]], out)
    print_bom([BomRow(**row) for row in record["bom"]], out, units)
    files = record["files"]
    out.print(f"{_plural(len(files) + 1, 'file')}, {sum(f['bytes'] for f in files) / 1e6:.1f} MB:")
    out.print(Text("  " + ", ".join([*(f["path"] for f in files), "job.json"])))
    out.print(Text(CAUTION, style="italic"))


def print_study(record: Mapping[str, Any], findings: Sequence[Finding], out: Console) -> None:
    """Print every number of a pattern."""
    units: Units = record["pattern"]["units"]
    out.print(Text(record["pattern"]["title"], style="bold"))
    out.print(_sizes_table(record, units))
    out.print(_pins_table(record, units))
    print_findings(findings, out)


def _sizes_table(record: Mapping[str, Any], units: Units) -> Table:
    pattern, scale, stack = record["pattern"], record["scale"], record["stack"]
    front = pattern["front"]
    table = Table(title="Scale", title_justify="left", show_header=False)
    table.add_column("what")
    table.add_column("value", overflow="fold")

    def row(what: str, value: str) -> None:
        table.add_row(Text(what), Text(value))

    def size(mm: float, digits: int = 3) -> str:
        return format_length(mm, units, digits)

    layers = ", ".join(f"{layer['name']} {size(layer['thickness_mm'])}" for layer in stack["layers"])
    row("stack, back to face", layers)
    measured = ", ".join(size(value) for value in stack["measured_mm"]) or "not measured"
    row("stack thickness", f"{size(stack['used_mm'])} used; nominal {size(stack['nominal_mm'])}; readings: {measured}")
    row("finished thickness", f"{size(scale['thickness_mm'])}; back allowance {size(pattern['back_allowance_mm'])}")
    treatment = {
        "bevel": f"bevel of {front['slope_deg']:g}°, land {size(front['land_mm'], 2)},"
        f" runs back {size(scale['bevel_run_mm'], 2)}",
        "round": f"rounded, radius {size(front['radius_mm'], 2)}",
        "square": "square",
    }[front["treatment"]]
    curve = f", {front['arc_shape']} arc of {size(front['arc_mm'], 2)}" if front["arc_mm"] else ""
    row("front", f"at {size(front['at_mm'], 2)}, {front['angle_deg']:g}°{curve}; {treatment}")
    if scale["reveals_mm"]:
        row("layers show behind the front at", ", ".join(size(value, 2) for value in scale["reveals_mm"]))
    edge = pattern["edge"]
    row("edge", edge["treatment"] if edge["treatment"] == "square" else f"{edge['treatment']} {size(edge['size_mm'], 2)}")
    row("trim allowance", size(pattern["trim_mm"], 2))
    row("area", f"finished {scale['finished_area_mm2'] / 100:.2f} cm2, as cut {scale['as_cut_area_mm2'] / 100:.2f} cm2")
    if scale["finished_volume_mm3"] is not None:
        row(
            "volume of one scale",
            f"finished {scale['finished_volume_mm3'] / 1000:.3f} cm3, as cut {scale['as_cut_volume_mm3'] / 1000:.3f} cm3",
        )
    return table


def _pins_table(record: Mapping[str, Any], units: Units) -> Table:
    table = Table(title="Pins", title_justify="left")
    for name in ("pin", "hardware", "at", "hole", "drill", "to the edge", "cut length"):
        table.add_column(name)
    for number, pin in enumerate(record["pins"], start=1):
        x, y = (format_length(value, units, 2 if units == "mm" else 3) for value in pin["at_mm"])
        table.add_row(
            str(number),
            Text(pin["hardware"]),
            Text(f"{x}, {y}"),
            format_length(pin["hole_mm"], units, 3 if units == "mm" else 4),
            Text(pin["drill"] or "mill it"),
            format_length(pin["edge_distance_mm"], units, 2),
            format_length(pin["cut_length_mm"], units, 2),
        )
    return table


def _sheets_table(record: Mapping[str, Any], units: Units) -> Table:
    table = Table(title="Sheets", title_justify="left")
    for name in ("sheet", "size", "pad at", "scales", "used"):
        table.add_column(name, overflow="fold")
    for sheet in record["sheets"]:
        xs, ys = zip(*sheet["outline_mm"], strict=True)
        pad = sheet["pad"]
        table.add_row(
            sheet["name"],
            f"{format_length(max(xs) - min(xs), units)} x {format_length(max(ys) - min(ys), units)}",
            f"{format_length(pad['x_mm'], units)}, {format_length(pad['y_mm'], units)}",
            " ".join(place["label"] for place in sheet["placements"]),
            f"{100 * sheet['utilisation']:.0f} %",
        )
    return table


def _plural(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
