"""Rows as CSV, as data, and as tables on the terminal."""

import csv
import io
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.model import BomRow, Finding, Lengths, Level, Units

_HEAD = ("section", "item", "quantity", "unit", "note", "cost", "on_hand", "short")
_INCH = {"mm": ("in", 25.4), "cm2": ("in2", 6.4516)}
_RISKY = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_LEVELS: tuple[Level, ...] = ("stop", "warning", "note")
_STYLES: dict[Level, str] = {"stop": "bold red", "warning": "yellow", "note": "cyan"}


def bom_csv(rows: Sequence[BomRow], units: Units = "mm") -> str:
    """Write a bill of materials as comma-separated values.

    A text that a spreadsheet could take for a formula gets an apostrophe in front.

    Args:
        rows: The bill.
        units: Unit of the lengths and areas in the quantity column.

    Returns:
        Text with a heading and CR LF line ends, the same on every system; keep them when writing
        (``newline=""``).

    Source: RFC 4180 for quoting and line ends.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_HEAD)
    for row in rows:
        quantity, unit = _shown(row, units)
        cost = "" if row.cost is None else f"{row.cost:.2f}"
        texts = [_harmless(text) for text in (row.section, row.item, unit, row.note)]
        stock = ["" if each is None else _number(each) for each in (row.on_hand, row.short)]
        writer.writerow([*texts[:2], _number(quantity), *texts[2:], cost, *stock])
    return out.getvalue()


def bom_json_rows(rows: Sequence[BomRow]) -> list[dict[str, object]]:
    """Turn a bill of materials into plain data.

    Args:
        rows: The bill.

    Returns:
        One mapping for each row with all its fields, for ``json.dumps``; areas stay in cm2.
    """
    return [
        {
            "section": row.section,
            "item": row.item,
            "quantity": row.quantity,
            "unit": row.unit,
            "note": row.note,
            "cost": row.cost,
            "on_hand": row.on_hand,
            "short": row.short,
            "details": dict(row.details),
        }
        for row in rows
    ]


def print_bom(rows: Sequence[BomRow], console: Console, units: Lengths = "mm") -> None:
    """Print a bill of materials.

    Args:
        rows: The bill.
        console: Where to.
        units: Unit of the lengths and areas in the quantity column.
    """
    table = Table(title="Bill of materials", title_justify="left")
    table.add_column("section")
    table.add_column("item", overflow="fold")
    table.add_column("quantity", justify="right")
    table.add_column("unit")
    table.add_column("note", overflow="fold", ratio=1)
    table.add_column("cost", justify="right")
    counted = any(row.short is not None for row in rows)
    if counted:
        table.add_column("short", justify="right")
    section = ""
    for row in rows:
        heading = row.section if row.section != section else ""
        if section and heading:
            table.add_section()
        section = row.section
        quantity, unit = _shown(row, units)
        cost = "" if row.cost is None else f"{row.cost:.2f}"
        cells = [heading, row.item, _number(quantity), unit, row.note, cost]
        if counted:
            cells.append("" if row.short is None else _number(row.short) if row.short > 0 else "-")
        table.add_row(*map(Text, cells), style="bold" if row.section == "total" else "")
    console.print(table)


def print_findings(findings: Sequence[Finding], console: Console) -> None:
    """Print what the checks have to say, stops first.

    Args:
        findings: In any order; those of one level keep theirs.
        console: Where to.
    """
    if not findings:
        console.print("No findings: the checks have nothing to say.")
        return
    table = Table(title="Findings", title_justify="left")
    for name in ("level", "about", "what and where", "what to do"):
        table.add_column(name, overflow="fold")
    for finding in sorted(findings, key=lambda finding: _LEVELS.index(finding.level)):
        what = f"{finding.message} ({finding.where})" if finding.where else finding.message
        style = _STYLES[finding.level]
        table.add_row(Text(finding.level, style=style), Text(finding.about), Text(what), Text(finding.remedy))
    console.print(table)
    counts = [(level, sum(finding.level == level for finding in findings)) for level in _LEVELS]
    console.print(", ".join(f"{count} {level}{'s' if count > 1 else ''}" for level, count in counts if count))


def bom_amount(row: BomRow, units: Lengths) -> str:
    """Quantity and unit of a row as people read them, such as "20.7 g" or "2 sheets"."""
    quantity, unit = _shown(row, units)
    many = unit in {"sheet", "rod", "piece", "blank", "pair"} and quantity != 1
    return f"{_number(quantity)} {unit}{'s' if many else ''}"


def _shown(row: BomRow, units: Lengths) -> tuple[float, str]:
    """Quantity and unit in the user's units."""
    if units != "mm" and row.unit in _INCH:
        unit, size = _INCH[row.unit]
        return row.quantity / size, unit
    return row.quantity, row.unit


def _number(value: float) -> str:
    """A number with up to three decimals, none that are zero."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    bare = text.lstrip()
    return f"'{text}" if bare.startswith(_RISKY) or text.startswith(("\t", "\r", "\n")) else text
