"""What a drawing holds, as tables for people at a terminal. Lengths in mm."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.fields.words import listed, printable
from scalegen.report.outline_record import AMBIGUOUS, GAP

Data = Mapping[str, Any]

_ROWS = 30
_NAMED = 12
_ROLES = {"candidate": "could be it"}
_PLACES = (
    ("crossings", "crosses or touches itself"),
    ("branches", "more than two ends meet"),
    ("open_ends", "open end"),
    ("gaps", "closed gap"),
)


def print_outline(record: Data, file: str, out: Console) -> None:
    """Print what a drawing holds, and first of all whether it can be used as it is.

    Args:
        record: As ``outline_record`` or ``refused_record`` makes it.
        file: The drawing as the user named it.
        out: Where to.
    """
    out.print(Text(printable(f"{file}: {headline(record)}"), style="bold"))
    for finding in _of_level(record, "stop"):
        for line in _stop_lines(finding):
            out.print(Text(printable(line)))
    if record["contours"]:
        _print_rows(out, _contours_table(), record["contours"], _contour_cells, _first_contours(record))
    if record["holes"]:
        _print_rows(out, _holes_table(), [*enumerate(record["holes"], start=1)], _hole_cells)
    places = [(what, item) for key, what in _PLACES for item in _worst_first(record[key])]
    if places:
        _print_rows(out, _places_table(), places, _place_cells)
    notes = [note for note in record["findings"] if note["level"] != "stop" and note["code"] != GAP]
    if notes:
        out.print(Text("notes"))
        for note in notes[:_ROWS]:
            out.print(Text(printable(f"  {note['message']}")))
        _print_more(out, len(notes))


def headline(record: Data) -> str:
    """Whether a drawing can be used, or what to do; its size, its unit and how that is known; on one line."""
    units = f"read in {record['units']}" if record["units"] else "not read"
    stop = next(_of_level(record, "stop"), None)
    if stop is None and record["chosen"] is not None:
        chosen = record["contours"][record["chosen"] - 1]
        size = " x ".join(_sizes(chosen))
        notes = " (see the notes)" if record["findings"] else ""
        return f"can be used as it is{notes}; the outline is contour {chosen['number']}, {size} mm, {units}"
    if stop is not None and stop["code"] == AMBIGUOUS:
        numbers = [str(number) for number in record["choices"]]
        more = len(numbers) - _NAMED
        named = f"{', '.join(numbers[:_NAMED])} or {more} more" if more > 0 else _either(numbers)
        return f"say which contour is the outline: --contour {named}; {units}"
    return f"cannot be used as it is; {units}"


def _of_level(record: Data, level: str) -> Iterator[Any]:
    return (finding for finding in record["findings"] if finding["level"] == level)


def _either(numbers: Sequence[str]) -> str:
    return listed(numbers).replace(" and ", " or ")


def _stop_lines(finding: Data) -> list[str]:
    """What is the matter and what to do; contours to choose from are in the table already."""
    if finding["code"] == AMBIGUOUS:
        return ["  why: more than one contour could be the outline", f"  what to do: {finding['remedy']}"]
    where = f"{finding['where']}: " if finding["code"].endswith("refused") and finding["where"] else ""
    remedy = [f"  what to do: {finding['remedy']}"] if finding["remedy"] else []
    return [f"  why: {where}{finding['message']}", *remedy]


# -------------------------------------------------------------------------------------------- tables


def _print_rows(
    out: Console,
    table: Table,
    rows: Sequence[Any],
    cells: Callable[[Any], Iterable[str]],
    shown: Sequence[Any] | None = None,
) -> None:
    """Print a table, and how many rows there are beyond those shown."""
    for row in rows[:_ROWS] if shown is None else shown:
        table.add_row(*(Text(printable(cell)) for cell in cells(row)))
    out.print(table)
    _print_more(out, len(rows))


def _print_more(out: Console, count: int) -> None:
    if count > _ROWS:
        out.print(Text(f"  and {count - _ROWS} more"))


def _bare_table(title: str, columns: Sequence[tuple[str, bool]]) -> Table:
    """A table without a frame; columns by heading, and whether they hold numbers."""
    table = Table(
        title=title,
        title_justify="left",
        title_style="",
        box=SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 2, 0, 0),
    )
    for heading, numeric in columns:
        table.add_column(heading, justify="right" if numeric else "left", overflow="fold", no_wrap=numeric)
    return table


def _contours_table() -> Table:
    numbers = (("length", True), ("width", True), ("area", True), ("around", True), ("segments", True))
    return _bare_table(
        "contours, largest first (mm, mm2)",
        (("number", True), ("what it is", False), *numbers, ("lies in", True)),
    )


def _first_contours(record: Data) -> list[Any]:
    """The largest contours, and before them those that matter however small they are."""
    contours = record["contours"]
    wanted = [c for c in contours if c["role"] in {"outline", "candidate"}][:_ROWS]
    rest = [c for c in contours if c["role"] not in {"outline", "candidate"}][: _ROWS - len(wanted)]
    return sorted([*wanted, *rest], key=lambda contour: int(contour["number"]))


def _contour_cells(contour: Data) -> tuple[str, ...]:
    return (
        str(contour["number"]),
        _ROLES.get(contour["role"], str(contour["role"])),
        *_sizes(contour),
        f"{contour['area_mm2']:.2f}",
        f"{contour['perimeter_mm']:.2f}",
        str(contour["segments"]),
        str(contour["inside_of"] or "-"),
    )


def _sizes(contour: Data) -> tuple[str, str]:
    """Longer and shorter side of a contour's box."""
    x0, y0, x1, y1 = contour["bounds_mm"]
    return f"{max(x1 - x0, y1 - y0):.3f}", f"{min(x1 - x0, y1 - y0):.3f}"


def _holes_table() -> Table:
    numbers = (("hole", True), ("x", True), ("y", True), ("across", True))
    return _bare_table("holes in the outline (mm)", (*numbers, ("hardware that fits", False)))


def _hole_cells(numbered: tuple[int, Data]) -> tuple[str, ...]:
    number, hole = numbered
    x, y = hole["at_mm"]
    fits = ", ".join(hole["hardware"]) or "none in the tables"
    return str(number), _coordinate(x), _coordinate(y), f"{hole['diameter_mm']:.3f}", fits


def _places_table() -> Table:
    return _bare_table("places to look at (mm)", (("what", False), ("x", True), ("y", True), ("size", True)))


def _worst_first(places: Sequence[Any]) -> Sequence[Any]:
    """Gaps from the widest down; other places as they come."""
    if places and isinstance(places[0], Mapping):
        return sorted(places, key=lambda gap: -float(gap["size_mm"]))
    return places


def _place_cells(place: tuple[str, Any]) -> tuple[str, ...]:
    what, item = place
    if isinstance(item, Mapping):
        x, y = item["at_mm"]
        return what, _coordinate(x), _coordinate(y), f"{item['size_mm']:.6f}"
    return what, _coordinate(item[0]), _coordinate(item[1]), "-"


def _coordinate(value: float) -> str:
    """Three decimals, and no minus before a zero."""
    return f"{round(value, 3) + 0.0:.3f}"
