"""The finishing plan as data, as findings and as tables for people."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.model import Finding, Lengths, Units
from scalegen.report.finishing import FinishingPlan, SurfacePlan
from scalegen.units import format_area, format_length

_SLACK_MM = 1e-9
_THROUGH_REMEDY = "end on a finer grade, leave a larger allowance, or take a thicker sheet"
_ALLOWANCE_REMEDY = "leave a larger allowance, or let the cutter leave lower ridges"


def finishing_record(plan: FinishingPlan) -> dict[str, Any]:
    """The plan as data: lengths in mm, areas in mm2; what is not known is None."""
    return {
        "surfaces": [{**asdict(each), "minutes": each.minutes} for each in plan.surfaces],
        "papers": [asdict(each) for each in plan.papers],
        "sources": list(plan.sources),
    }


def finishing_findings(plan: FinishingPlan, units: Units) -> tuple[Finding, ...]:
    """What of a plan could spoil a scale: layers sanded through, allowances that do not suffice."""
    return tuple(_findings(plan, units))


def _findings(plan: FinishingPlan, units: Units) -> Iterator[Finding]:
    for each in plan.surfaces:
        if each.through:
            yield _finding("sanded-through", each, _through_words(each, units), _THROUGH_REMEDY)
        elif each.allowance_mm > 0 and each.below_mm > _SLACK_MM:
            takes, there = (format_length(size, units) for size in (each.takes_mm, each.allowance_mm))
            words = f"sanding takes {takes} at least, and {there} is there"
            yield _finding("sanding-allowance", each, words, _ALLOWANCE_REMEDY)


def _through_words(plan: SurfacePlan, units: Units) -> str:
    """How a layer is gone through."""
    below = format_length(plan.below_mm, units)
    scratches = format_length(plan.steps[-1].grain_um / 1000 if plan.steps else 0.0, units)
    last = plan.steps[-1].grade if plan.steps else "sanding"
    return (
        f"sanding can go through {plan.layer}: {below} comes off it, and the scratches of {last} go"
        f" {scratches} deep"
    )


def _finding(code: str, plan: SurfacePlan, message: str, remedy: str) -> Finding:
    return Finding(code=code, level="warning", about=plan.surface, where="", message=message, remedy=remedy)


def print_finishing(record: Mapping[str, Any], units: Lengths, out: Console) -> None:
    """Print a plan as :func:`finishing_record` has it, with the sources of its figures."""
    table = Table(title="Finishing", title_justify="left")
    for name, right in (("surface", False), ("grit", False), ("takes off", True), ("minutes", True)):
        table.add_column(name, justify="right" if right else "left", no_wrap=right)
    table.add_column("how", overflow="fold", ratio=1)
    for plan in record["surfaces"]:
        table.add_section()
        steps = plan["steps"]
        told = [_budget_words(plan, units), f"{plan['when']}: {plan['how']}", *plan["notes"]]
        table.add_row(
            Text(f"{plan['surface']}\n{format_area(plan['area_mm2'], units)}"),
            Text("\n".join(step["grade"] for step in steps) or "-"),
            Text("\n".join(format_length(step["removes_mm"], units, 3 + (units == "in")) for step in steps)),
            Text("\n".join(_minutes(step["minutes"]) for step in steps)),
            Text("\n".join(told)),
        )
    out.print(table)
    papers = [
        f"{paper['grade']} " + (_sheets(paper["sheets"]) or format_area(paper["paper_mm2"], units))
        for paper in record["papers"]
    ]
    if papers:
        out.print(Text(f"paper: {', '.join(papers)}"))
    out.print(Text("where the figures are from:"))
    for source in record["sources"]:
        out.print(Text(f"  - {source}"))


def _budget_words(plan: Mapping[str, Any], units: Lengths) -> str:
    """What is there to take off, and what sanding takes."""

    def size(key: str) -> str:
        return format_length(plan[key], units)

    takes = f"sanding takes {size('takes_mm')} at least"
    if plan["ridge_mm"] > 0:
        takes += f", ridges of {size('ridge_mm')} among it"
    if plan["allowance_mm"] > 0:
        enough = "enough" if plan["below_mm"] <= _SLACK_MM else f"{size('below_mm')} too little"
        words = f"{size('allowance_mm')} is there, {takes}: {enough}"
    else:
        words = f"no allowance; {takes}"
    if plan["layer_left_mm"] is not None:
        left = max(0.0, plan["layer_left_mm"])
        words += f"; below the last scratches {format_length(left, units)} of {plan['layer']} is left"
    return words


def _minutes(minutes: float | None) -> str:
    return "-" if minutes is None else f"{minutes:.0f}"


def _sheets(count: int | None) -> str:
    if count is None:
        return ""
    return f"{count} sheet" if count == 1 else f"{count} sheets"
