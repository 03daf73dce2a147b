"""Old against new, side by side, for people at a terminal."""

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.model import Units
from scalegen.units import format_length


def print_comparison(
    record: Mapping[str, Any], rules: Mapping[str, str], units: Units, title: str, out: Console
) -> None:
    """Print every number before and after, its rule, and findings that appear or go.

    Args:
        record: Keys ``before``, ``after`` and ``changed``.
        rules: Rule of every number, by its field.
        units: Unit for lengths.
        title: Heading.
        out: Where to.
    """
    before, after = record["before"], record["after"]
    changed = {each["field"] for each in record["changed"]}
    table = Table(title=title, title_justify="left")
    for name in ("what", "before", "after", "", "rule"):
        table.add_column(name, overflow="fold", justify="right" if name in ("before", "after") else "left")
    for field, rule in rules.items():
        values = [_shown(side.get(field), field, units) for side in (before, after)]
        table.add_row(Text(named(field)), *values, "changes" if field in changed else "", Text(rule))
    out.print(table)
    old, new = (
        {(f["code"], f["about"]): f for f in side["findings"] if f["level"] != "note"}
        for side in (before, after)
    )
    for words, found in (
        ("goes away", [old[key] for key in old if key not in new]),
        ("appears", [new[key] for key in new if key not in old]),
    ):
        for each in found:
            out.print(Text(f"{each['level']} {words}: {each['about']}: {each['message']}; {each['remedy']}"))


def named(field: str) -> str:
    """A field in words."""
    bare = field.removesuffix("_mm").removesuffix("_deg").removesuffix("_g")
    return bare.replace("_", " ")


def _shown(value: float | str | None, field: str, units: Units) -> str:
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    if field.endswith("_deg"):
        return f"{value:.2f}°"
    if field.endswith("_g"):
        return f"{value:.2f} g"
    return format_length(value, units, 4 if units == "in" else 3)
