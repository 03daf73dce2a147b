"""A job that was made, on the terminal: all of it in parts, or what matters on one screen."""

import shlex
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.model import BomRow, Finding, Lengths
from scalegen.report.stage_views import print_stages
from scalegen.report.tables import bom_amount, print_bom, print_findings
from scalegen.report.views import CAUTION, pins_table, sizes_table
from scalegen.units import format_length, unit_word

PARTS = ("scale", "sheets", "stages", "findings", "bom", "files")
_SHEETS_SHOWN = 4


def parts_of(text: str | None) -> tuple[str, ...]:
    """Parts of a job as typed, separated by commas; all of them where nothing is typed.

    Raises:
        UsageError: There is no such part.
    """
    if text is None:
        return PARTS
    asked = [word.strip().lower() for word in text.split(",")]
    for word in asked:
        if word not in PARTS:
            raise UsageError(
                f'there is no part "{word}" of a job' if word else "no part is named",
                where="--part",
                remedy=f"{suggest(word, PARTS)} the parts are: {', '.join(PARTS)}".strip(),
            )
    return tuple(part for part in PARTS if part in asked)


def print_job(
    record: Mapping[str, Any],
    folder: Path,
    out: Console,
    lengths: Lengths | None = None,
    parts: Sequence[str] = PARTS,
) -> None:
    """Print a job record, or parts of it, with lengths as asked for, else in the pattern's unit."""
    units: Lengths = lengths or record["pattern"]["units"]
    _print_titles(record, folder, out)
    if "scale" in parts:
        _print_scales(record, units, out)
    if "sheets" in parts:
        out.print(_sheets_table(record, units))
        out.print(Text(count_words(record["sheets"])))
    if "stages" in parts:
        print_stages(record["stages"], units, out)
    if "findings" in parts:
        print_findings([Finding(**finding) for finding in record["findings"]], out)
    if "bom" in parts:
        print_bom([BomRow(**row) for row in record["bom"]], out, units)
        if record.get("finishing"):
            out.print(Text(f'how to sand it, grit by grit: "scalegen show finishing {folder}"'))
    if "files" in parts:
        files = record["files"]
        out.print(f"{plural(len(files) + 1, 'file')}, {sum(f['bytes'] for f in files) / 1e6:.1f} MB:")
        out.print(Text("  " + ", ".join([*(f["path"] for f in files), "job.json"])))
    out.print(Text(CAUTION, style="italic"))


def print_made(record: Mapping[str, Any], folder: Path, out: Console, lengths: Lengths | None = None) -> None:
    """Print what matters of a job that was just made, on one screen where it has few sheets and findings."""
    units: Lengths = lengths or record["pattern"]["units"]
    _print_titles(record, folder, out)
    out.print(Text(_blank_words(record, units)))
    _heading("Sheets", out)
    out.print(_rows(_sheet_lines(record["sheets"], units)))
    out.print(Text(count_words(record["sheets"])))
    _heading("Stages (each cutter zeroed on the reference pad; heights above the underside)", out)
    out.print(_rows(_stage_lines(record["stages"], units)))
    _print_told(record["findings"], out)
    _heading("To buy", out)
    out.print(_rows(_goods_lines([BomRow(**row) for row in record["bom"]], units), right=2))
    out.print()
    out.print(Text("\n".join(_where_more(record, folder))))
    out.print(Text(CAUTION, style="italic"))


def _lots(record: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """What is said of each pattern; of a single one the record itself says it."""
    lots = record.get("lots") or []
    return lots if len(lots) > 1 else [record]


def _print_titles(record: Mapping[str, Any], folder: Path, out: Console) -> None:
    """What was made, how many, and where it is."""
    lots = _lots(record)
    many = [
        f"{lot['pattern']['title']}: {plural(lot['pairs'], 'pair')}"
        + (f" and {lot['spares']} spare" if lot["spares"] else "")
        for lot in lots
    ]
    for line in [*many[:-1], f"{many[-1]} in {folder}"]:
        out.print(Text(line, style="bold"))


def _print_scales(record: Mapping[str, Any], units: Lengths, out: Console) -> None:
    """Sizes and pins of every pattern of the job."""
    lots = _lots(record)
    for lot in lots:
        if len(lots) > 1:
            out.print(Text(lot["pattern"]["title"], style="bold"))
        shown = {**record, **lot}
        out.print(sizes_table(shown, units))
        if shown["pins"]:
            out.print(pins_table(shown, units))


# ---------------------------------------------------------------------------------- on one screen


def _blank_words(record: Mapping[str, Any], units: Lengths) -> str:
    """How thick the blank is and how that is known; how thick the scales become."""
    stack, digits = record["stack"], 4 if units == "in" else 3
    readings = len(stack["measured_mm"])
    known = f"the least of {readings} readings" if readings > 1 else "as measured"
    lots = _lots(record)
    each = dict.fromkeys(format_length(lot["scale"]["thickness_mm"], units, digits) for lot in lots)
    blank = format_length(stack["used_mm"], units, digits)
    by = known if readings else "by the tables, not measured"
    return f"blank {blank} thick ({by}); scales finished to {' and '.join(each)}"


def _heading(text: str, out: Console) -> None:
    out.print()
    out.print(Text(text, style="bold"))


def _rows(lines: Sequence[Sequence[str]], right: int = -1) -> Table:
    """Lines whose columns stand below each other, without a frame; one of them may be set to the right."""
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for index in range(len(lines[0]) if lines else 0):
        table.add_column(overflow="fold", justify="right" if index == right else "left")
    for line in lines:
        table.add_row(*map(Text, line))
    return table


def _sheet_lines(sheets: Sequence[Mapping[str, Any]], units: Lengths) -> list[list[str]]:
    """Size, zero, scales and use of the first sheets; how many more there are."""
    lines = []
    for sheet in sheets[:_SHEETS_SHOWN]:
        labels = " ".join(place["label"] for place in sheet["placements"])
        lines.append(
            [f"  {sheet['name']}", f"{_size(sheet, units)}, X0 Y0 {sheet['origin']}", labels, _used(sheet)]
        )
    more = len(sheets) - _SHEETS_SHOWN
    return [*lines, [f"  and {more} more", "", "", ""]] if more > 0 else lines


def _stage_lines(stages: Sequence[Mapping[str, Any]], units: Lengths) -> list[list[str]]:
    """Number, name, cutter and heights of every stage, and where it is zeroed if not on the pad."""
    digits = 3 if units == "in" else 2
    lines = []
    for number, stage in enumerate(stages, 1):
        cutter = stage["cutter"] if stage["at_hand"] else f"{stage['cutter']}: not at hand"
        ends = [format_length(stage[key], units, digits) for key in ("from_mm", "to_mm")]
        other = "" if stage["touch_off"] == "reference pad" else f"zero on {stage['touch_off']}"
        lines.append([f"  {number} {stage['name']}", cutter, " to ".join(ends), other])
    return lines


def _print_told(findings: Sequence[Mapping[str, Any]], out: Console) -> None:
    """Stops and warnings, each with what to do; notes are counted."""
    levels = [
        (level, sum(each["level"] == level for each in findings)) for level in ("stop", "warning", "note")
    ]
    counts = ", ".join(plural(count, level) for level, count in levels if count)
    _heading(f"Findings: {counts or 'none'}", out)
    told = [each for each in findings if each["level"] != "note"]
    for finding in sorted(told, key=lambda each: each["level"] != "stop"):
        where = f" ({finding['where']})" if finding["where"] else ""
        style = "bold red" if finding["level"] == "stop" else "yellow"
        line = Text("  ").append(finding["level"], style=style)
        out.print(line.append(f", {finding['about']}: {finding['message']}{where}; {finding['remedy']}"))


def _goods_lines(rows: Sequence[BomRow], units: Lengths) -> list[list[str]]:
    """A line for each thing to buy, abrasives in one, and the total."""
    goods = [row for row in rows if row.section in {"sheets", "adhesive", "hardware", "tape"}]
    lines = [[f"  {bom_amount(row, units)}", row.item, _cost(row.cost), _short(row)] for row in goods]
    papers = [row for row in rows if row.section == "abrasives"]
    if papers:
        costs = [row.cost for row in papers if row.cost is not None]
        grades = ", ".join(row.item for row in papers)
        lines.append(["  abrasives", grades, _cost(sum(costs) if costs else None), ""])
    totals = [["  total", row.note, _cost(row.cost), ""] for row in rows if row.section == "total"]
    return [*lines, *totals]


def _cost(cost: float | None) -> str:
    return "no price" if cost is None else f"{cost:.2f}"


def _short(row: BomRow) -> str:
    """How much of it is missing, where the shop keeps count."""
    if row.short is None:
        return ""
    return f"short {row.short:g}" if row.short > 0 else "on hand"


def _where_more(record: Mapping[str, Any], folder: Path) -> Iterator[str]:
    """Where the rest is told: the papers that were written, and the command."""
    names = {each["path"] for each in record["files"]}
    yield f"{plural(len(names) + 1, 'file')}, {sum(f['bytes'] for f in record['files']) / 1e6:.1f} MB. More:"
    for name, what in (("shop-sheet.pdf", "paper for machine and bench"), ("view.html", "the job in 3D")):
        if name in names:
            yield f"  {folder / name}  {what}"
    yield f"  scalegen show job {shlex.quote(str(folder))}  all numbers, findings, bill and files"


# ---------------------------------------------------------------------------------- sheets


def _size(sheet: Mapping[str, Any], units: Lengths) -> str:
    xs, ys = zip(*sheet["outline_mm"], strict=True)
    return f"{format_length(max(xs) - min(xs), units)} x {format_length(max(ys) - min(ys), units)}"


def _used(sheet: Mapping[str, Any]) -> str:
    return f"{100 * sheet['utilisation']:.0f} % used"


def _sheets_table(record: Mapping[str, Any], units: Lengths) -> Table:
    table = Table(title="Sheets", title_justify="left")
    local = any(place.get("local_mm") for sheet in record["sheets"] for place in sheet["placements"])
    scales = f"scales, and the blank there in {unit_word(units)}" if local else "scales"
    for name in ("sheet", "size", "X0 Y0", "pad from", scales, "used"):
        table.add_column(name, overflow="fold")
    for sheet in record["sheets"]:
        pad = sheet["pad"]
        table.add_row(
            Text(sheet["name"]),
            _size(sheet, units),
            Text(sheet["origin"]),
            f"{format_length(pad['x_mm'], units)}, {format_length(pad['y_mm'], units)}",
            Text("\n".join(_local_lines(sheet["placements"], units))),
            f"{100 * sheet['utilisation']:.0f} %",
        )
    return table


def count_words(sheets: Sequence[Mapping[str, Any]]) -> str:
    """How many pairs lie on the sheets, and what is proven about it."""
    counts = [len(sheet["placements"]) // 2 for sheet in sheets]
    limits, proven = [sheet.get("bound_pairs") for sheet in sheets], sheets[0].get("proven")
    if len(sheets) == 1:
        said = f"{plural(counts[0], 'pair')} on this sheet"
        return said if limits[0] is None else f"{said}; no more than {limits[0]} can go"
    if len({_blank_of(sheet) for sheet in sheets}) > 1:
        each = [
            f"{sheet['name']} {count}" + ("" if limit is None else f" of {limit} at most")
            for sheet, count, limit in zip(sheets, counts, limits, strict=True)
        ]
        return f"{plural(sum(counts), 'pair')} on {len(sheets)} sheets: {', '.join(each)}"
    said = f"{plural(sum(counts), 'pair')} on {len(sheets)} sheets, {max(counts)} on a full one"
    if limits[0] is None:
        return said
    end = ", so fewer sheets cannot hold them" if proven else ""
    return f"{said}; no more than {limits[0]} can go on one{end}"


def _blank_of(sheet: Mapping[str, Any]) -> str:
    """What tells one kind of blank from another."""
    return f"{sheet.get('remnant')} {sheet.get('outline_mm')}"


def _local_lines(placements: Sequence[Mapping[str, Any]], units: Lengths) -> list[str]:
    """Labels; behind each of those that stand on a tapered blank its least, mean and greatest thickness.

    Where the blank is the same everywhere, so far as is known, one line has all labels and that thickness.
    """

    def bare(mm: float) -> str:
        return f"{mm:.3f}" if units == "mm" else f"{mm / 25.4:.4f}"

    labels = " ".join(place["label"] for place in placements)
    found = [local for place in placements if (local := place.get("local_mm"))]
    if len(found) < len(placements):
        return [labels]
    if len({(each["least"], each["most"]) for each in found}) == 1 and found[0]["least"] == found[0]["most"]:
        return [f"{labels}: {bare(found[0]['least'])}"]
    return [
        f"{place['label']}: {bare(each['least'])} to {bare(each['most'])}, mean {bare(each['mean'])}"
        for place, each in zip(placements, found, strict=True)
    ]


def plural(count: int, word: str) -> str:
    """A number with its word, such as "2 pairs"."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
